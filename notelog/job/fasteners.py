"""Fasteners: the list to put it back together by, with the tools and the torque that were said of them."""

from __future__ import annotations

from collections.abc import Iterable

from notelog.hearing.units import factor
from notelog.job.lines import line_id
from notelog.job.places import place_key
from notelog.job.sections import FastenerLine, Quote
from notelog.job.sizes import tables_of
from notelog.job.story import Statement, Story, quotes_of
from notelog.models import Position, Size

_NEAR = 120
"""How many characters a tool of the same size may stand away from the fastener that it was used on."""

_TORQUE_UNITS = {"Nm": "newton * meter", "lbft": "foot * force_pound"}


def newton_metres(value: float, unit: str) -> float:
    """A torque in N m; a foot-pound is 1.355 818 N m (NIST SP 811, B.8, through pint).

    >>> round(newton_metres(100, "lbft"), 2), newton_metres(60, "Nm")
    (135.58, 60)
    """
    return value if unit == "Nm" else value * factor(_TORQUE_UNITS[unit], _TORQUE_UNITS["Nm"])


def fastener_lines(story: Story) -> list[FastenerLine]:
    """One line for each component, place, type, size and drive; then a line for each torque that is said of no
    fastener with a size. Everything is checked against the tables."""
    groups: dict[tuple, list[Statement]] = {}
    for told in story.of_kind("fastener"):
        fastener = told.entry
        size = fastener.size and (fastener.size.value, fastener.size.unit)
        position = fastener.position if told.key is None else _position(told)
        groups.setdefault((told.key, place_key(position), fastener.type, size), []).append(told)
    torques = [
        told
        for told in story.of_kind("measurement")
        if told.entry.quantity == "torque" and told.entry.unit in _TORQUE_UNITS
    ]
    used: set[str] = set()
    lines = []
    for (key, _, _, _), group in groups.items():
        position = group[0].entry.position if key is None else _position(group[0])
        of_it = [told for told in torques if key is not None and told.key is not None and _holds(story, told, group[0])]
        used.update(told.id for told in of_it)
        lines.append(_line(story, key, position, group, of_it))
    loose: dict[tuple, list[Statement]] = {}
    for told in torques:
        if told.id not in used:
            loose.setdefault((told.key, place_key(_position(told))), []).append(told)
    lines += [_line(story, key, _position(told[0]), [], told) for (key, _), told in loose.items()]
    return _numbered(lines)


def _position(told: Statement) -> Position:
    """The place of a statement, both sides again in one."""
    spots = told.spots
    if len(spots) == 2 and spots[0]._replace(side=None) == spots[1]._replace(side=None):
        return Position(**{**spots[0].position().model_dump(), "side": "both"})
    return spots[0].position()


def _holds(story: Story, torque: Statement, fastener: Statement) -> bool:
    """Whether a torque is that of a fastener: of the same component, or of a nut or bolt of it, at one place."""
    things = story.things
    if not any(own.fits(other) for own in torque.spots for other in fastener.spots):
        return False
    if things.same(torque.key) == things.same(fastener.key):
        return True
    return things.is_fastener(torque.key) and things.holder(torque.key) == fastener.key


def _line(
    story: Story, key: str | None, position: Position, group: list[Statement], torques: list[Statement]
) -> FastenerLine:
    things = story.things
    newest = group[-1].entry if group else None
    size: Size | None = newest.size if newest else None
    checked = tables_of(things.lexicon).check(newest) if newest else None
    drives = [told.entry.drive for told in group if told.entry.drive]
    counts = [told.entry.count for told in group if told.entry.count]
    named = key if key is not None else "unnamed:"
    torque = torques[-1].entry if torques else None
    return FastenerLine(
        id=line_id("fastener", named, position, newest.type if newest else "torque", _size_key(size)),
        component=things.thing(named),
        position=position,
        type=newest.type if newest else None,
        drive=drives[-1] if drives else None,
        size=size,
        count=counts[-1] if counts else None,
        tools=_tools(story, group),
        torque_low=round(newton_metres(torque.low, torque.unit), 1) if torque else None,
        torque_high=round(newton_metres(torque.high, torque.unit), 1) if torque else None,
        torque_text=_torque_text(torque) if torque else "",
        standard=checked.standard if checked else "",
        odd=bool(checked and checked.odd),
        likely=list(checked.likely) if checked else [],
        quotes=quotes_of([*group, *torques]),
    )


def _size_key(size: Size | None) -> str:
    return f"{size.value:g}{size.unit}" if size else "unsized"


def _torque_text(torque) -> str:
    unit = {"Nm": "N m", "lbft": "lbf ft"}[torque.unit]
    figures = f"{torque.low:g}" if torque.low == torque.high else f"{torque.low:g} to {torque.high:g}"
    return f"{figures} {unit}"


def _tools(story: Story, group: Iterable[Statement]) -> list[str]:
    """The tools of the same size that were named beside the fastener in its note."""
    found = []
    for told in group:
        for tool in story.of_kind("tool"):
            if tool.note != told.note or tool.entry.size is None or tool.entry.size != told.entry.size:
                continue
            if _apart(tool.quote, told.quote) <= _NEAR:
                found.append(tool.entry.tool.label)
    return list(dict.fromkeys(found))


def _apart(one: Quote, other: Quote) -> int:
    return max(one.start - other.end, other.start - one.end, 0)


def _numbered(lines: list[FastenerLine]) -> list[FastenerLine]:
    """Ids that would be the same get a number, in the order of the story."""
    seen: dict[str, int] = {}
    for line in lines:
        seen[line.id] = seen.get(line.id, 0) + 1
        if seen[line.id] > 1:
            line.id = f"{line.id}/{seen[line.id]}"
    return lines
