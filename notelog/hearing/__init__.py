"""Hearing: the spoken text with its mishearings put right and its numbers written as one token each.

In comes the spoken text of a note (`MappedText`, from reading); out goes `Heard`: the same text with known
mishearings replaced (`mishearings.py`), numbers, sizes and quantities written as "17mm" or "1-1.5deg"
(`quantities.py`, which reads them by `numbers.py` and `units.py`), and every character mapped to the verbatim text.
The vocabulary is `lexicon/mishearings.csv`, `number_words.csv` and `units.csv`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from notelog.hearing.mishearings import Mishearings, load_mishearings, put_right
from notelog.hearing.numbers import NumberWords, load_number_words
from notelog.hearing.quantities import Phrase, QuantityReader, starting_words
from notelog.hearing.tokens import rewrite, tokenise
from notelog.hearing.units import Units, load_units
from notelog.models import Heard, MappedText, Quantity, Repair

__all__ = ["Mishearings", "hear", "load_mishearings"]


def hear(
    spoken: MappedText, driver_side: str = "right", mishearings: Mapping[tuple[str, ...], str] | None = None
) -> Heard:
    """What was meant by what was said; takes time and memory in proportion to the length of the text.

    `driver_side` decides whose money "pounds" and "grand" are. `mishearings` maps misheard words, lower case, to
    what was meant; without it the lexicon's own are used. Repairs and quantities are in order, and their spans are
    spans of the heard text. Values are in the units of `Quantity`, rounded to six decimals; the lower end of a range
    is `low`. Never fails on a text; raises InputError when a table of the lexicon cannot be read.

    >>> text = "camber minus um two point one degrees, drop blink nut seventeen mil"
    >>> spoken = MappedText(text, list(range(len(text))), list(range(1, len(text) + 1)))
    >>> heard = hear(spoken, mishearings={("drop", "blink"): "drop link"})
    >>> heard.mapped.text
    'camber -2.1deg, drop link nut 17mm'
    >>> text[slice(*heard.mapped.source_span(heard.quantities[0].start, heard.quantities[0].end))]
    'minus um two point one degrees'
    """
    if mishearings is None:
        mishearings = load_mishearings()
    elif not isinstance(mishearings, Mishearings):
        mishearings = Mishearings(mishearings)
    tokens = tokenise(spoken.text)
    righted, repairs = put_right(spoken, mishearings, tokens)
    if repairs:
        tokens = tokenise(righted.text)
    phrases = QuantityReader(tokens, *_vocabulary(driver_side)).phrases()
    if not phrases:
        return Heard(righted, [], repairs)

    changes = []
    for phrase in phrases:
        start, end = tokens.starts[phrase.first], tokens.ends[phrase.stop - 1] - phrase.keep
        new = phrase.canonical()
        said = righted.text[start:end]
        # A typed bare number may be a name ("007"), so it stays as it is typed.
        changes.append((start, end, said if not phrase.unit and said.isascii() and said.isdigit() else new))
    mapped, places = rewrite(righted, changes)
    quantities = [
        Quantity(place, place + len(new), phrase.low, phrase.high, phrase.unit, phrase.pitch)
        for phrase, place, (_, _, new) in zip(phrases, places, changes)
    ]
    return Heard(mapped, quantities, _repairs_in(righted.text, repairs, phrases, changes, places, mapped.text))


@lru_cache(maxsize=2)
def _vocabulary(driver_side: str) -> tuple[NumberWords, Units, frozenset[str]]:
    number_words, units = load_number_words(), load_units(driver_side=driver_side)
    return number_words, units, starting_words(number_words, units)


def _repairs_in(
    text: str,
    repairs: list[Repair],
    phrases: list[Phrase],
    changes: list[tuple[int, int, str]],
    places: list[int],
    heard: str,
) -> list[Repair]:
    """All repairs with their spans in the heard text: those of words, moved along, and misheard sizes ("tea thirty")."""
    moved, at, shift = [], 0, 0
    for repair in repairs:
        while at < len(changes) and changes[at][1] <= repair.start:
            shift = places[at] + len(changes[at][2]) - changes[at][1]
            at += 1
        start, end = repair.start + shift, repair.end + shift
        if at < len(changes) and changes[at][0] < repair.end:
            # Part of it went into a quantity, which is then what was meant.
            start = min(start, places[at])
            last = at
            while last + 1 < len(changes) and changes[last + 1][0] < repair.end:
                last += 1
            behind = places[last] + len(changes[last][2]) - changes[last][1]
            end = max(places[last] + len(changes[last][2]), repair.end + behind)
        moved.append(Repair(start, end, repair.said, heard[start:end], repair.why))
    for phrase, place, (start, end, new) in zip(phrases, places, changes):
        if phrase.misheard:
            moved.append(Repair(place, place + len(new), text[start:end], new, "letter of a size misheard"))
    return sorted(moved, key=lambda repair: repair.start)
