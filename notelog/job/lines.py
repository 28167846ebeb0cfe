"""What the lines of every section have in common: their ids, and left and right drawn together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from notelog.job.places import place_key
from notelog.job.sections import Placed
from notelog.job.story import distinct
from notelog.models import Position

PlacedLine = TypeVar("PlacedLine", bound=Placed)
_APART = ("id", "position", "quotes")


def line_id(section: str, key: str, position: Position, *more: object) -> str:
    """The stable id of a line.

    >>> line_id("part", "lower_arm", Position(side="left"))
    'part/lower_arm/left'
    """
    pieces = [section, key, place_key(position), *map(str, more)]
    return "/".join(piece.replace("/", " ") for piece in pieces)


def by_sides(
    lines: Sequence[PlacedLine], together: Callable[[PlacedLine, PlacedLine], dict[str, Any]] | None = None
) -> list[PlacedLine]:
    """The lines, with a left and a right one that rest on the very same entries, and say the same, made one of both
    sides. `together` gives the fields that the two may differ in, put together (a count is added up)."""
    drawn: list[PlacedLine] = []
    alike: dict[tuple, list[int]] = {}
    for line in lines:
        # Only lines that rest on the same entries can be a pair, so only these are compared.
        numbers = alike.setdefault((line.component.id, *(quote.entry for quote in line.quotes)), [])
        at = next((number for number in numbers if _pair(drawn[number], line, together)), None)
        if at is None:
            numbers.append(len(drawn))
            drawn.append(line)
            continue
        first = drawn[at]
        changed = together(first, line) if together else {}
        position = first.position.model_copy(update={"side": "both"})
        section, key, _, *more = first.id.split("/")
        drawn[at] = first.model_copy(
            update={
                "id": line_id(section, key, position, *more),
                "position": position,
                "quotes": distinct([*first.quotes, *line.quotes]),
                **changed,
            }
        )
    return drawn


def _pair(one: PlacedLine, other: PlacedLine, together: Callable | None) -> bool:
    if {one.position.side, other.position.side} != {"left", "right"}:
        return False
    if one.position.model_copy(update={"side": None}) != other.position.model_copy(update={"side": None}):
        return False
    if [quote.entry for quote in one.quotes] != [quote.entry for quote in other.quotes]:
        return False
    changed = together(one, other) if together else {}
    apart = {*_APART, *changed}
    return one.model_dump(exclude=apart) == other.model_dump(exclude=apart)
