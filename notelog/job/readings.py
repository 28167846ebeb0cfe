"""Readings as intervals: left against right, before against after, and against the limits of the shop.

A difference of two intervals [a, b] and [c, d] lies anywhere in [c - b, d - a] (interval subtraction, Moore 1966). It is
shown when no choice of values is without it, not shown when every choice is, and else it cannot be told.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from notelog.job.limits import Limit, Limits
from notelog.job.lines import line_id
from notelog.job.places import Spot, at_place, place_words
from notelog.job.quantities import comparable, convert
from notelog.job.sections import Comparison, LimitCheck, Reading, Verdict
from notelog.job.story import Statement, Story, quotes_of
from notelog.models import Position

_NOT_A_STATE = ("torque", "mileage")
"""Quantities whose two readings say nothing about a side or a repair."""

_ROUND = 6
_SURFACES = {"deg": "°", "arcmin": "'", "C": " °C", "F": " °F"}


@dataclass(frozen=True, slots=True)
class Difference:
    """How far two readings differ: somewhere from `at_least` to `at_most`, never negative."""

    at_least: float
    at_most: float

    def verdict(self, more_than: float = 0.0) -> Verdict:
        """Whether a difference greater than `more_than` is shown.

        >>> Difference(0.5, 1.0).verdict(), Difference(0.0, 1.0).verdict(), Difference(0.0, 0.4).verdict(0.5)
        ('shown', 'cannot_be_told', 'not_shown')
        """
        if self.at_least > more_than:
            return "shown"
        return "not_shown" if self.at_most <= more_than else "cannot_be_told"


def difference(first: tuple[float, float], second: tuple[float, float]) -> Difference:
    """The size of the difference of two intervals (low, high).

    >>> difference((1.0, 1.5), (2.0, 2.5))
    Difference(at_least=0.5, at_most=1.5)
    >>> difference((1.0, 2.0), (1.5, 2.5)).at_least
    0.0
    """
    least = max(second[0] - first[1], first[0] - second[1], 0.0)
    most = max(second[1] - first[0], first[1] - second[0])
    return Difference(round(least, _ROUND), round(most, _ROUND))


def within(low: float, high: float, limit_low: float | None, limit_high: float | None) -> str:
    """Whether an interval lies within bounds: yes, no, or it cannot be told.

    >>> within(1, 2, 0, 3), within(4, 5, 0, 3), within(2, 4, 0, 3)
    ('yes', 'no', 'cannot_be_told')
    """
    if (limit_low is not None and high < limit_low) or (limit_high is not None and low > limit_high):
        return "no"
    inside = (limit_low is None or low >= limit_low) and (limit_high is None or high <= limit_high)
    return "yes" if inside else "cannot_be_told"


def reading_lines(story: Story, limits: Limits) -> list[Reading]:
    """Every reading but torques, in the order of the story."""
    lines, seen = [], {}
    for told in story.of_kind("measurement"):
        reading = told.entry
        if reading.quantity == "torque":
            continue
        position = _position(told)
        id = line_id("reading", told.key or "vehicle", position, reading.quantity)
        seen[id] = seen.get(id, 0) + 1
        lines.append(
            Reading(
                id=id if seen[id] == 1 else f"{id}/{seen[id]}",
                component=story.things.thing(told.key) if told.key else None,
                position=position,
                quantity=reading.quantity,
                low=reading.low,
                high=reading.high,
                unit=reading.unit,
                sign=_sign(story, reading),
                limits=[
                    _checked(told, limit, limits)
                    for limit in limits.limits
                    if _about(story, told, limit) and comparable(reading.unit, limit.unit)
                ],
                quotes=[told.quote],
            )
        )
    return lines


def comparisons(story: Story, limits: Limits) -> list[Comparison]:
    """Left against right by their newest readings, and each reading against the one before it at its place."""
    groups: dict[tuple, list[Statement]] = {}
    for told in story.of_kind("measurement"):
        if told.entry.quantity not in _NOT_A_STATE and len(told.spots) == 1:
            groups.setdefault((told.entry.quantity, told.key, told.spots[0]), []).append(told)
    return [*_sides(story, groups, limits), *_befores(story, groups, limits)]


def _sides(story: Story, groups: dict[tuple, list[Statement]], limits: Limits) -> list[Comparison]:
    lines = []
    for (quantity, key, spot), told in groups.items():
        other = groups.get((quantity, key, spot._replace(side="right")))
        if spot.side != "left" or other is None or not comparable(told[-1].entry.unit, other[-1].entry.unit):
            continue
        rule = next(
            (
                limit
                for limit in limits.differences
                if _about(story, told[-1], limit) and comparable(told[-1].entry.unit, limit.unit)
            ),
            None,
        )
        lines.append(_compared(story, "left_right", told[-1], other[-1], spot._replace(side=None), limits, rule, ""))
    return lines


def _befores(story: Story, groups: dict[tuple, list[Statement]], limits: Limits) -> list[Comparison]:
    lines = []
    worked = [
        told.order for told in story.operations() if told.entry.action not in ("inspect", "measure", "mark", "test")
    ]
    for (_, _, spot), told in groups.items():
        number = 0
        for before, after in pairwise(told):
            # Two readings in a row of one note are two places on a disc, not a repair between them.
            apart = before.note != after.note or any(before.order < order < after.order for order in worked)
            if apart and comparable(before.entry.unit, after.entry.unit):
                number += 1
                more = "" if number == 1 else str(number)
                lines.append(_compared(story, "before_after", before, after, spot, limits, None, more))
    return lines


def _compared(
    story: Story,
    kind: str,
    first: Statement,
    second: Statement,
    spot: Spot,
    limits: Limits,
    rule: Limit | None,
    number: str,
) -> Comparison:
    unit = first.entry.unit
    quantity = first.entry.quantity
    found = difference(_interval(first, unit, limits), _interval(second, unit, limits))
    more_than = convert(rule.high, rule.unit, unit, difference=True) if rule else 0.0
    verdict = found.verdict(more_than)
    position = spot.position()
    return Comparison(
        id=line_id(kind.replace("_", "-"), first.key or "vehicle", position, quantity, *([number] if number else [])),
        kind=kind,
        quantity=quantity,
        component=story.things.thing(first.key) if first.key else None,
        position=position,
        first=_figures(first.entry),
        second=_figures(second.entry),
        verdict=verdict,
        at_least=found.at_least,
        at_most=found.at_most,
        more_than=more_than,
        unit=unit,
        text=_statement(story, kind, first, second, position, found, verdict, more_than, rule, limits),
        quotes=quotes_of([first, second]),
    )


def _interval(told: Statement, unit: str, limits: Limits) -> tuple[float, float]:
    """The reading in `unit`, widened by what the shop says its gauge may be off."""
    reading = told.entry
    off = limits.off_by(reading.quantity, unit) if _gauged(reading, unit, limits) else 0.0
    low, high = convert(reading.low, reading.unit, unit), convert(reading.high, reading.unit, unit)
    return low - off, high + off


def _gauged(reading, unit: str, limits: Limits) -> bool:
    _, its_unit = limits.gauges.get(reading.quantity, (0.0, unit))
    return comparable(its_unit, unit)


def _statement(story, kind, first, second, position, found, verdict, more_than, rule, limits) -> str:
    unit = first.entry.unit
    names = ("left", "right") if kind == "left_right" else ("before", "after")
    on = (
        f" of the {at_place(position, story.things.label(first.key))}"
        if first.key
        else f" {place_words(position)}".rstrip()
    )
    head = f"{first.entry.quantity}{on}, {names[0]} {_figures(first.entry)}, {names[1]} {_figures(second.entry)}"
    what = f"a difference of more than {_figure(more_than, unit)}" if rule else "a difference"
    told = {"shown": "is shown", "not_shown": "is not shown", "cannot_be_told": "cannot be told"}[verdict]
    if found.at_least == found.at_most:
        size = f"it is {_figure(found.at_most, unit)}"
    else:
        size = f"it is at least {_figure(found.at_least, unit)} and at most {_figure(found.at_most, unit)}"
    because = f" ({rule.why or rule.source})" if rule else ""
    off = limits.off_by(first.entry.quantity, unit) if _gauged(first.entry, unit, limits) else 0.0
    gauge = f", each reading taken as {_figure(off, unit)} either way" if off else ""
    return f"{head}: {what} {told}{because}; {size}{gauge}."


def _about(story: Story, told: Statement, limit: Limit) -> bool:
    if limit.quantity != told.entry.quantity:
        return False
    if limit.component and (told.key is None or story.things.same(told.key) != story.things.same(limit.component)):
        return False
    return not limit.axle or all(spot.axle == limit.axle for spot in told.spots)


def _checked(told: Statement, limit: Limit, limits: Limits) -> LimitCheck:
    low, high = _interval(told, told.entry.unit, limits)
    bounds = [
        None if bound is None else convert(bound, limit.unit, told.entry.unit) for bound in (limit.low, limit.high)
    ]
    words = [
        *([f"at least {_figure(limit.low, limit.unit)}"] if limit.low is not None else []),
        *([f"at most {_figure(limit.high, limit.unit)}"] if limit.high is not None else []),
    ]
    return LimitCheck(
        within=within(round(low, _ROUND), round(high, _ROUND), *bounds),
        limit=", ".join(words),
        why=limit.why,
        source=limit.source,
    )


def _sign(story: Story, reading) -> str:
    """Which way a reading points, by `reading_signs.csv`."""
    words = story.things.rules.signs.get(reading.quantity)
    if words is None or (reading.low < 0 < reading.high):
        return ""
    positive, negative, source = words
    if reading.low >= 0 and reading.high > 0:
        return f"positive: {positive} ({source})"
    return f"negative: {negative} ({source})" if reading.low < 0 else ""


def _position(told: Statement) -> Position:
    position = told.spots[0].position()
    return position.model_copy(update={"side": "both"}) if len(told.spots) == 2 else position


def _figures(reading) -> str:
    if reading.low == reading.high:
        return _figure(reading.low, reading.unit)
    return f"{reading.low:g} to {_figure(reading.high, reading.unit)}"


def _figure(value: float, unit: str) -> str:
    return f"{value:g}{_SURFACES.get(unit, ' ' + unit)}"
