"""Places: which ones can be the same, and what the rest of the job tells about one that was said in part."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from notelog.models import Position


class Spot(NamedTuple):
    """One place on the vehicle; "both" sides are two spots. None is not said."""

    side: str | None = None
    axle: str | None = None
    level: str | None = None
    depth: str | None = None

    def fits(self, other: Spot) -> bool:
        """Whether both can be the same place: nothing that both say differs.

        >>> Spot("left").fits(Spot(axle="front")), Spot("left").fits(Spot("right"))
        (True, False)
        """
        return all(mine is None or its is None or mine == its for mine, its in zip(self, other))

    def within(self, other: Spot) -> bool:
        """Whether this spot says all that the other says, and more."""
        return self != other and all(its is None or mine == its for mine, its in zip(self, other))

    def joined(self, other: Spot) -> Spot:
        """What both say together."""
        return Spot(*(mine or its for mine, its in zip(self, other)))

    def position(self) -> Position:
        return Position(**{name: value for name, value in self._asdict().items() if value})


NOWHERE = Spot()
SIDES = ("left", "right")


def spots_of(position: Position | None) -> tuple[Spot, ...]:
    """The spots of a position: two for both sides.

    >>> [spot.side for spot in spots_of(Position(side="both", axle="rear"))]
    ['left', 'right']
    """
    if position is None:
        return (NOWHERE,)
    sides = SIDES if position.side == "both" else (position.side,)
    return tuple(Spot(side, position.axle, position.level, position.depth) for side in sides)


def filled_in(spot: Spot, known: Iterable[Spot]) -> Spot:
    """The spot with what the known ones add, when all that fit it also fit each other; else the spot as it is.

    >>> filled_in(Spot(axle="front"), [Spot("left", "front"), Spot("right", "rear")]).side
    'left'
    >>> filled_in(Spot(axle="front"), [Spot("left", "front"), Spot("right", "front")]).side is None
    True
    """
    fitting = [other for other in known if other.fits(spot)]
    whole = spot
    for other in fitting:
        if not other.fits(whole):
            return spot
        whole = whole.joined(other)
    return whole


def place_key(position: Position) -> str:
    """A place for ids.

    >>> place_key(Position(side="left", axle="front")), place_key(Position())
    ('left-front', 'anywhere')
    """
    said = [value for value in (position.side, position.axle, position.level, position.depth) if value]
    return "-".join(said) or "anywhere"


def place_words(position: Position) -> str:
    """A place in words.

    >>> place_words(Position(side="left", axle="front")), place_words(Position())
    ('left front', '')
    """
    return " ".join(value for value in (position.side, position.axle, position.level, position.depth) if value)


def at_place(position: Position, label: str) -> str:
    """A component with its place, no word twice.

    >>> at_place(Position(side="left", level="lower"), "lower arm"), at_place(Position(), "radiator")
    ('left lower arm', 'radiator')
    >>> at_place(Position(side="both", axle="front"), "strut")
    'front strut, left and right'
    """
    named = label.split()
    both = position.side == "both"
    where = place_words(position.model_copy(update={"side": None}) if both else position)
    text = " ".join([*(word for word in where.split() if word not in named), label])
    return f"{text}, left and right" if both else text
