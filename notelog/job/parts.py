"""Parts to buy: their newest state, what stands behind them, what is damaged with nothing asked for, and proposals."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from notelog.job.damage import State
from notelog.job.lines import by_sides, line_id
from notelog.job.places import SIDES, Spot, place_words
from notelog.job.rules import PART_ASKED
from notelog.job.sections import NothingOrdered, PartLine, Thing, UsedOnce
from notelog.job.story import ASSEMBLING, Statement, Story, distinct, narrowest, quotes_of

_ONE = re.compile(r"\b(1|one|single|just a)\b", re.IGNORECASE)


@dataclass(slots=True)
class Wanted:
    """A part of one component at one place, as the story tells of it."""

    key: str
    spot: Spot
    basis: str
    one_a_side: bool = True
    count: int = 1
    state: str = "needed"
    told: list[Statement] = field(default_factory=list)
    fitted_at: set[Spot] = field(default_factory=set)

    @property
    def fitted(self) -> int:
        """How many of them are on: all, unless several were asked for without a side and only one side has its own."""
        if not self.fitted_at:
            return 0
        sides = {spot.side for spot in self.fitted_at}
        if not self.one_a_side or self.count < 2 or self.spot.side or None in sides or len(sides) == len(SIDES):
            return self.count
        return (self.count + 1) // 2


def wanted_parts(story: Story) -> list[Wanted]:
    """Every part asked for, and every one that follows from a replacement, with its newest state."""
    asked = story.of_kind("part")
    spots: dict[str, list[Spot]] = {}
    for told in asked:
        spots.setdefault(told.key, []).extend(told.spots)
    parts: dict[tuple[str, Spot], Wanted] = {}
    for told in story.statements:
        if told.entry.kind == "part":
            for number, spot in enumerate(told.spots):
                # "The tyres came": what was said without its place is about every place that was asked for.
                about = narrowest(other for other in spots[told.key] if other.within(spot)) or [spot]
                for place in about:
                    new = Wanted(told.key, place, "asked", not story.things.is_fastener(told.key))
                    part = parts.setdefault((told.key, place), new)
                    _ask(part, told, _share(told, number, len(told.spots), len(about)))
        elif told.entry.kind == "operation":
            _work(story, parts, told)
    return list(parts.values())


def _share(told: Statement, number: int, sides: int, places: int) -> int:
    """How many of the count are for one of the sides that it was said of, and of the places that it is about there."""
    count = told.entry.count
    if sides > 1:
        count = count // sides + (1 if number < count % sides else 0)
    return max(1, count // places)


def _ask(part: Wanted, told: Statement, count: int) -> None:
    first = not any(one.entry.kind == "part" for one in part.told)
    # A count of one is also what stands when none was said, so it counts only where it was.
    several = told.entry.count > 1 and part.spot in told.spots
    one = told.entry.state == "needed" and _ONE.search(told.entry.evidence.text)
    if first or told.accepted or several or one:
        part.count = count
    state = told.entry.state
    if not (part.state == "fitted" and state == "on_hand"):
        part.state = state
        part.fitted_at.clear()
    part.basis = "asked"
    part.told.append(told)


def _work(story: Story, parts: dict[tuple[str, Spot], Wanted], told: Statement) -> None:
    operation, things = told.entry, story.things
    if operation.action not in (*ASSEMBLING, "torque") or operation.component is None:
        return
    for spot in told.spots:
        found = [
            part for part in parts.values() if things.same(part.key) == things.same(told.key) and part.spot.fits(spot)
        ]
        if operation.status == "done":
            for part in found:
                on = part.state == "on_hand" if operation.action == "torque" else story.goes_on_new(told, spot)
                if on:
                    part.fitted_at.add(spot)
                    part.told.append(told)
                    if part.fitted >= part.count:
                        part.state = "fitted"
        if not found and operation.action == "replace" and _buys(story, told) and operation.status != "not_done":
            done = operation.status == "done"
            part = Wanted(
                told.key, spot, "done" if done else "planned", state="fitted" if done else "needed", told=[told]
            )
            if done:
                part.fitted_at.add(spot)
            parts[told.key, spot] = part


def _buys(story: Story, told: Statement) -> bool:
    """Whether replacing it buys a part: "the coolant was replaced" is said of the whole cooling system and buys none."""
    return told.key not in story.things.rules.whole_systems


def mend_fitted(story: Story, parts: list[Wanted], states: list[State]) -> None:
    """A part that is on mends what was damaged before on the thing, and on whatever is part of it."""
    for part in parts:
        on = [told for told in part.told if told.entry.kind == "operation" and told.entry.status == "done"]
        if part.state != "fitted" or not on:
            continue
        for state in states:
            if state.spot.fits(part.spot) and story.things.belongs_to(state.key, part.key):
                for condition, told in state.open.items():
                    if state.is_open(condition) and told[-1].order < on[-1].order:
                        state.mended[condition] = [on[-1]]


def part_lines(story: Story, parts: list[Wanted], states: list[State]) -> list[PartLine]:
    """The parts with the findings behind them; left and right in one line when they were said together."""
    lines = []
    for part in parts:
        behind = [
            state
            for state in states
            if state.open and state.spot.fits(part.spot) and story.things.related(state.key, part.key)
        ]
        position = part.spot.position()
        said = [told for state in behind for one in state.open.values() for told in one]
        lines.append(
            PartLine(
                id=line_id("part", part.key, position),
                component=story.things.thing(part.key),
                position=position,
                count=part.count,
                fitted=part.fitted,
                state=part.state,
                basis=part.basis,
                damage_said=bool(behind),
                findings=list(dict.fromkeys(_finding_words(story, state, part) for state in behind)),
                finding_quotes=quotes_of(said),
                quotes=quotes_of(part.told),
            )
        )
    return by_sides(lines, _together)


def _together(one: PartLine, other: PartLine) -> dict:
    return {
        "count": one.count + other.count,
        "fitted": one.fitted + other.fitted,
        "damage_said": one.damage_said or other.damage_said,
        "findings": list(dict.fromkeys(one.findings + other.findings)),
        "finding_quotes": distinct(one.finding_quotes + other.finding_quotes),
    }


def _finding_words(story: Story, state: State, part: Wanted) -> str:
    on = "" if state.key == part.key else story.things.label(state.key)
    side = place_words(Spot(side=state.spot.side).position()) if state.spot.side != part.spot.side else ""
    return " ".join(word for word in (side, on, ", ".join(state.open)) if word)


def nothing_ordered(story: Story, parts: list[Wanted], states: list[State]) -> list[NothingOrdered]:
    """What is damaged, with no part asked for it (or for what it is part of) and no work said that mends it."""
    lines, things = [], story.things
    planned = story.operations(status="planned")
    for state in states:
        conditions = [
            condition
            for condition in state.damaged()
            if things.rules.damage[condition].part_usual
            and not any(
                told.entry.action in things.rules.damage[condition].mended_by
                and told.at(state.spot)
                and things.same(told.key) == things.same(state.key)
                for told in planned
            )
        ]
        if not conditions or any(
            part.spot.fits(state.spot) and things.belongs_to(state.key, part.key) for part in parts
        ):
            continue
        position = state.spot.position()
        lines.append(
            NothingOrdered(
                id=line_id("nothing-ordered", state.key, position),
                component=things.thing(state.key),
                position=position,
                conditions=conditions,
                text=f"{', '.join(conditions)}, nothing ordered yet",
                quotes=quotes_of([told for condition in conditions for told in state.open[condition]]),
            )
        )
    return by_sides(lines)


def used_once(story: Story, parts: list[Wanted]) -> list[UsedOnce]:
    """Hardware to be used once that the work calls for, where it was not asked for already."""
    things = story.things
    lines: dict[tuple[str, Spot, str], UsedOnce] = {}
    touched = [
        (told, told.entry.action if told.entry.kind == "operation" else PART_ASKED)
        for told in story.statements
        if told.key is not None
        and (told.entry.kind == "part" or (told.entry.kind == "operation" and told.entry.status != "not_done"))
    ]
    for rule in things.rules.used_once:
        term = things.lexicon.find(rule.text)
        hardware = things.thing(term.id) if term else Thing(id="unknown", label=rule.text)
        for told, action in touched:
            if action not in rule.actions or not things.meant(rule.applies, rule.excepted, told.key):
                continue
            for spot in told.spots:
                if term and any(part.key == term.id and part.spot.fits(spot) for part in parts):
                    continue
                # The spring and the strut that it came out of call for one top nut.
                proposed = next(
                    (
                        key
                        for key in lines
                        if key[0] == rule.id and key[1].fits(spot) and (rule.shared or key[2] == told.key)
                    ),
                    None,
                )
                if proposed:
                    lines[proposed].quotes[:] = distinct([*lines[proposed].quotes, told.quote])
                    continue
                position = spot.position()
                lines[rule.id, spot, told.key] = UsedOnce(
                    id=line_id("used-once", told.key, position, rule.id),
                    component=things.thing(told.key),
                    position=position,
                    hardware=hardware,
                    count=rule.count,
                    why=rule.why,
                    source=rule.source,
                    quotes=[told.quote],
                )
    return by_sides(list(lines.values()), lambda one, other: {"count": one.count + other.count})
