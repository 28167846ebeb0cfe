"""The entries that are nearest to words that no entry has, by their letters and by their sound."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from notelog.lexicon.load import Lexicon, Term
from notelog.lexicon.sounds import sound_key
from notelog.lexicon.words import normal

LEAST_ALIKE = 60
_SAME_SOUND = 15
_SHARED_WORD = 6


@dataclass(frozen=True, slots=True)
class Near:
    """An entry near to some words: by which of its names, and how much alike (0 to 100; 15 are for the same sound)."""

    term: Term
    name: str
    alike: int


@functools.lru_cache(maxsize=4)
def _names(lexicon: Lexicon) -> dict[str, tuple[Term, str]]:
    return {name: (term, sound_key(name)) for name, term in lexicon.by_name("component").items()}


def nearest(said: str, lexicon: Lexicon, most: int = 3) -> list[Near]:
    """The `most` components whose names are most like `said`, the best first, each component once; none may be.

    The letters are compared by the normalised InDel similarity (rapidfuzz `fuzz.ratio`); the same sound key
    (`notelog.lexicon.sounds`) and each word that both have count on top.

    >>> from notelog.lexicon import load
    >>> [near.term.label for near in nearest("condense her", load(), 1)]
    ['condenser']
    """
    said = normal(said)
    if not said:
        return []
    names, key, words = _names(lexicon), sound_key(said), set(said.split(" "))
    best: dict[str, Near] = {}
    for name, ratio, _ in process.extract(said, names.keys(), scorer=fuzz.ratio, limit=60, processor=None):
        term, sound = names[name]
        more = _SAME_SOUND * (bool(key) and sound == key) + _SHARED_WORD * len(words & set(name.split(" ")))
        alike = min(100, round(ratio + more))
        if alike >= LEAST_ALIKE and (term.id not in best or alike > best[term.id].alike):
            best[term.id] = Near(term, name, alike)
    return sorted(best.values(), key=lambda near: (-near.alike, near.term.label))[:most]
