"""Work: every operation with its newest status, and the hours that were said."""

from __future__ import annotations

from notelog.job.lines import by_sides, line_id
from notelog.job.places import Spot
from notelog.job.sections import HoursLine, WorkLine
from notelog.job.story import Statement, Story, quotes_of


def work_lines(story: Story) -> list[WorkLine]:
    """One line for each action on each component and place; what was planned and then done is done."""
    groups: dict[tuple[str, Spot, str], list[Statement]] = {}
    for told in story.of_kind("operation"):
        for spot in told.spots:
            groups.setdefault((told.key, spot, told.entry.action), []).append(told)
    lines = []
    for (key, spot, action), told in groups.items():
        position = spot.position()
        lines.append(
            WorkLine(
                id=line_id("work", key, position, action),
                component=story.things.thing(key),
                position=position,
                action=action,
                status=told[-1].entry.status,
                when=told[-1].quote.when,
                quotes=quotes_of(told),
            )
        )
    return by_sides(lines)


def hours_lines(story: Story) -> list[HoursLine]:
    """Every stretch of time that was said to have been spent."""
    return [
        HoursLine(id=f"hours/{told.id}", hours=told.entry.hours, quotes=[told.quote])
        for told in story.of_kind("labour")
    ]
