"""Trade words by their sound: what a speech recogniser wrote, matched with names that sound alike.

The key keeps the order of consonant classes and drops vowels, after Soundex (US National Archives, "Soundex System"),
but codes the first letter too, since recognisers also mishear that, and runs over word borders ("absorb her").
"""

from __future__ import annotations

import functools

from rapidfuzz import fuzz

from notelog.lexicon.load import Lexicon, Term
from notelog.lexicon.words import normal

_CLASS = {
    **dict.fromkeys("bpfv", "1"), **dict.fromkeys("cgjkqsxz", "2"), **dict.fromkeys("dt", "3"), "l": "4",
    **dict.fromkeys("mn", "5"), "r": "6",
}  # fmt: skip
_SILENT = (("kn", "n"), ("wr", "r"), ("ph", "f"), ("gh", ""), ("mb ", "m "))
MIN_KEY = 3
MIN_ALIKE = 68


def sound_key(text: str) -> str:
    """The consonant classes of a text, neighbours of one class once.

    >>> sound_key("absorb her") == sound_key("absorber"), sound_key("raider") == sound_key("radar")
    (True, True)
    """
    text = text.lower() + " "
    for letters, instead in _SILENT:
        text = text.replace(letters, instead)
    key = ""
    for character in text:
        code = _CLASS.get(character, "")
        if code and not key.endswith(code):
            key += code
    return key


@functools.lru_cache(maxsize=4)
def _by_sound(lexicon: Lexicon) -> dict[str, list[tuple[str, Term]]]:
    table: dict[str, list[tuple[str, Term]]] = {}
    for name, term in lexicon.by_name("component").items():
        key = sound_key(name)
        if len(key) >= MIN_KEY and len(name) >= 5 and all(len(word) > 2 for word in name.split(" ")) and "/" not in name:
            table.setdefault(key, []).append((name, term))
    return table


def sounds_like(said: str, lexicon: Lexicon) -> tuple[str, Term] | None:
    """The component name that sounds like `said`, with its term; None where none does, or where it is a name itself.

    >>> from notelog.lexicon import load
    >>> sounds_like("condense her", load())[0]
    'condenser'
    """
    said = normal(said)
    best: tuple[float, str, Term] | None = None
    for name, term in _by_sound(lexicon).get(sound_key(said), ()):
        alike = fuzz.ratio(said.replace(" ", ""), name.replace(" ", ""))
        if alike >= MIN_ALIKE and _opens_alike(said, name) and (best is None or alike > best[0]):
            best = (alike, name, term)
    return (best[1], best[2]) if best is not None else None


def _opens_alike(said: str, name: str) -> bool:
    """Whether both start with a vowel or both with a consonant ("awning rail" is no "wing rail"); an h may be dropped."""
    return "h" in (said[0], name[0]) or (said[0] in "aeiou") == (name[0] in "aeiou")
