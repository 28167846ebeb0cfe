"""Damage, and what was seen and is sound: the newest statement wins, and what it contradicts is shown with both quotes."""

from __future__ import annotations

from dataclasses import dataclass, field

from notelog.job.lines import by_sides, line_id
from notelog.job.places import Spot
from notelog.job.sections import ConditionNow, Contradiction, DamageLine, SoundLine
from notelog.job.story import ASSEMBLING, Statement, Story, quotes_of

GOOD = "good"
PERHAPS = "perhaps good"


@dataclass(slots=True)
class State:
    """What is known of one component at one place: conditions with the statements they rest on."""

    key: str
    spot: Spot
    open: dict[str, list[Statement]] = field(default_factory=dict)
    mended: dict[str, list[Statement]] = field(default_factory=dict)
    denied: dict[str, list[Statement]] = field(default_factory=dict)
    contradictions: list[Contradiction] = field(default_factory=list)

    def is_open(self, condition: str) -> bool:
        """Said to be so, not only past, and not mended."""
        return condition in self.open and condition not in self.mended and self.status(condition) != "past"

    def status(self, condition: str) -> str:
        return self.open[condition][-1].entry.status

    @property
    def now(self) -> str:
        standing = [self.status(condition) for condition in self.open if self.is_open(condition)]
        return "damaged" if "present" in standing else "suspected" if standing else "mended"

    def damaged(self) -> list[str]:
        """The conditions that are present and not mended."""
        return [name for name in self.open if self.is_open(name) and self.status(name) == "present"]


def damage_states(story: Story) -> list[State]:
    """The state of every component and place that a finding is about, in the order in which they came up."""
    states: dict[tuple[str, Spot], State] = {}
    for told in story.of_kind("finding"):
        for spot in told.spots:
            states.setdefault((told.key, spot), State(told.key, spot))
    for told in story.statements:
        if told.entry.kind == "finding":
            for spot in told.spots:
                _say(states[told.key, spot], told)
        elif told.entry.kind == "operation" and told.entry.status == "done":
            for state in states.values():
                # Work at a place that was said in part is work at each place that it can be.
                if told.at(state.spot) and story.things.same(told.key) == story.things.same(state.key):
                    _work(story, state, told)
    return list(states.values())


def _say(state: State, told: Statement) -> None:
    finding = told.entry
    condition = finding.condition
    if condition == GOOD and finding.status == "present":
        _said_good(state, told)
        return
    if condition == GOOD and finding.status != "absent":
        if finding.status == "suspected":
            state.denied.setdefault(PERHAPS, []).append(told)
        return
    if condition == GOOD:
        condition = "damaged"
    if finding.status == "absent":
        if state.is_open(condition):
            older = state.open[condition]
            if state.status(condition) == "present":
                _contradict(state, older[-1], told)
            if older[-1].note == told.note and state.status(condition) == "present":
                return
            del state.open[condition]
        state.denied.setdefault(condition, []).append(told)
        return
    if finding.status == "present":
        for name in (condition, GOOD):
            # "No damage on the hatch" and "the hatch is out of line" go together in one note, so both are kept.
            if name in state.denied:
                _contradict(state, state.denied[name][-1], told)
                del state.denied[name]
    elif condition in state.denied:
        _contradict(state, state.denied.pop(condition)[-1], told)
    state.mended.pop(condition, None)
    if condition in state.open and state.status(condition) != finding.status:
        state.open[condition] = []
    state.open.setdefault(condition, []).append(told)


def _said_good(state: State, told: Statement) -> None:
    for condition in [name for name in state.open if state.is_open(name)]:
        older = state.open[condition][-1]
        if state.status(condition) == "present":
            _contradict(state, older, told)
            if older.note == told.note:
                continue
        del state.open[condition]
    state.denied.setdefault(GOOD, []).append(told)


def _contradict(state: State, before: Statement, after: Statement) -> None:
    state.contradictions.append(
        Contradiction(before=_words(before), before_quote=before.quote, after=_words(after), after_quote=after.quote)
    )


def _words(told: Statement) -> str:
    finding = told.entry
    if finding.status == "absent":
        return _denied(finding.condition)
    return {"suspected": "perhaps ", "past": "was "}.get(finding.status, "") + finding.condition


def _denied(condition: str) -> str:
    return f"no {condition}" if condition == "play" else f"not {condition}"


def _work(story: Story, state: State, told: Statement) -> None:
    action = told.entry.action
    new = action in ASSEMBLING and story.goes_on_new(told, state.spot)
    for condition in state.open:
        if state.is_open(condition) and (new or action in story.things.rules.damage[condition].mended_by):
            state.mended[condition] = [told]


def damage_lines(story: Story, states: list[State]) -> list[DamageLine]:
    """One line for each component and place with a damage, open or mended."""
    lines = []
    for state in states:
        if not state.open:
            continue
        conditions = [
            ConditionNow(
                condition=name,
                status=state.status(name),
                quotes=quotes_of(told),
                mended=quotes_of(state.mended.get(name, [])),
            )
            for name, told in state.open.items()
        ]
        position = state.spot.position()
        lines.append(
            DamageLine(
                id=line_id("damage", state.key, position),
                component=story.things.thing(state.key),
                position=position,
                now=state.now,
                conditions=conditions,
                contradictions=state.contradictions,
                quotes=quotes_of([one for told in state.open.values() for one in told]),
            )
        )
    return by_sides(lines)


def sound_lines(story: Story, states: list[State]) -> list[SoundLine]:
    """What was looked at and found good, or free of a fault that was named."""
    lines = []
    for state in states:
        told = {name: said for name, said in state.denied.items() if name not in (GOOD, PERHAPS) or not state.damaged()}
        if not told:
            continue
        position = state.spot.position()
        lines.append(
            SoundLine(
                id=line_id("sound", state.key, position),
                component=story.things.thing(state.key),
                position=position,
                sound=[name if name in (GOOD, PERHAPS) else _denied(name) for name in told],
                contradictions=[] if state.open else state.contradictions,
                quotes=quotes_of([one for said in told.values() for one in said]),
            )
        )
    return by_sides(lines)
