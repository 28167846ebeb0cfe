"""Words that a recogniser gets wrong in the same way again and again, put right from a table."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from notelog.errors import InputError
from notelog.hearing.tables import read_rows
from notelog.hearing.tokens import Tokens, rewrite, tokenise
from notelog.models import MappedText, Repair
from notelog.paths import data_folder

_HEADER = ["heard", "meant"]


class Mishearings(dict[tuple[str, ...], str]):
    """Misheard words, lower case, to what was meant. Made once, used for many notes; it is not to be changed.

    >>> Mishearings({("drop", "blink"): "drop link"}).by_first["drop"]
    [('drop', 'blink')]
    """

    def __init__(self, meant_for: Mapping[tuple[str, ...], str]) -> None:
        super().__init__(meant_for)
        self.by_first: dict[str, list[tuple[str, ...]]] = {}
        for heard in sorted(self, key=lambda words: (len(words), len(words[-1])), reverse=True):
            for first in {heard[0], heard[0] + "s", heard[0] + "'s"} if len(heard) == 1 else {heard[0]}:
                self.by_first.setdefault(first, []).append(heard)


def load_mishearings(folder: Path | None = None) -> Mishearings:
    """The table `mishearings.csv` (`heard,meant`) of `folder`, or of the package's lexicon.

    Raises InputError when the file cannot be read, a cell is empty, or one `heard` has two meanings.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as name:
    ...     _ = Path(name, "mishearings.csv").write_text("heard,meant\\nDrop blink,drop link\\n", encoding="utf-8")
    ...     load_mishearings(Path(name))
    {('drop', 'blink'): 'drop link'}
    """
    return _load(Path(folder) if folder else data_folder("lexicon"))


@lru_cache(maxsize=8)
def _load(folder: Path) -> Mishearings:
    path = folder / "mishearings.csv"
    meant_for: dict[tuple[str, ...], str] = {}
    for line, row in read_rows(path, _HEADER):
        tokens = tokenise(row["heard"])
        heard = tuple(word for word in tokens.words[: tokens.count] if word != "-")
        meant = row["meant"]
        if not heard or not meant:
            raise InputError(f"{path}, line {line} has an empty cell: fill in what is heard and what is meant.")
        if meant_for.setdefault(heard, meant) != meant:
            raise InputError(f"{path}, line {line} gives {' '.join(heard)!r} a second meaning: keep one of the two.")
    return Mishearings(meant_for)


def put_right(source: MappedText, mishearings: Mishearings, tokens: Tokens) -> tuple[MappedText, list[Repair]]:
    """`source`, whose tokens are `tokens`, with known mishearings replaced, and the repairs made.

    The longest row wins. Words of a row match across white space, a line break and a hyphen. A plural "s" or a
    possessive "'s" on the last word is carried over when the row does not have it.

    >>> text = "both drop\\nblinks snapped"
    >>> source = MappedText(text, list(range(len(text))), list(range(1, len(text) + 1)))
    >>> put_right(source, Mishearings({("drop", "blink"): "drop link"}), tokenise(text))[0].text
    'both drop links snapped'
    """
    changes, repairs = [], []
    by_first, done = mishearings.by_first, 0
    for i in [i for i, word in enumerate(tokens.words) if word in by_first]:
        found = _match(tokens, i, by_first[tokens.words[i]]) if i >= done else None
        if found is None:
            continue
        heard, last, ending = found
        start, end = tokens.starts[i], tokens.ends[last]
        said = source.text[start:end]
        meant = _with_ending(mishearings[heard], ending)
        if said[0].isupper() and meant[0].islower():
            meant = meant[0].upper() + meant[1:]
        if said != meant:
            changes.append((start, end, meant))
            repairs.append(Repair(0, 0, said, meant, "known mishearing"))
        done = last + 1
    if not changes:
        return source, []
    new, places = rewrite(source, changes)
    for repair, place in zip(repairs, places):
        repair.start, repair.end = place, place + len(repair.meant)
    return new, repairs


def _match(tokens: Tokens, first: int, rows: list[tuple[str, ...]]) -> tuple[tuple[str, ...], int, str] | None:
    """The longest of `rows` that stands at `first`: the row, its last token, and the ending to carry over."""
    words, following = tokens.words, tokens.words[first + 1]
    for heard in rows:
        if len(heard) == 1:
            ending = _ending(words[first], heard[0])
            if ending is not None:
                return heard, first, ending
            continue
        if not following.startswith(heard[1]) and following != "-":
            continue
        at = first
        for word in heard[:-1]:
            if tokens.words[at] != word:
                break
            at += 1
            if tokens.words[at] == "-" and tokens.glued(at) and tokens.glued(at + 1):
                at += 1
        else:
            ending = _ending(tokens.words[at], heard[-1])
            if ending is not None:
                return heard, at, ending
    return None


def _ending(said: str, heard: str) -> str | None:
    """What `said` has more than `heard`: "", "s" or "'s"; None if they are different words."""
    if said == heard:
        return ""
    more = said[len(heard) :] if said.startswith(heard) else None
    if more == "'s" or (more == "s" and not heard.endswith("s")):
        return more
    return None


def _with_ending(meant: str, ending: str) -> str:
    if ending != "s":
        return meant + ending
    if meant.endswith(("s", "x", "z", "ch", "sh")):
        return meant + "es"
    if meant.endswith("y") and meant[-2:-1] not in tuple("aeiou"):
        return meant[:-1] + "ies"
    return meant + "s"
