"""Loose ends: what was opened and never said to be whole again, and what became of every thing that was removed.

For each component and place the operations are walked through in the order of time. A row of `loose_ends.csv` opens
it; one of the actions of that row closes it. A thing that is closed on steering, suspension, brakes, wheels or
restraints (`torque.csv`) still wants its torque stated.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from notelog.job.lines import by_sides, line_id
from notelog.job.places import NOWHERE, Spot
from notelog.job.rules import Opening
from notelog.job.sections import LooseEnd, Removed
from notelog.job.story import ASSEMBLING, Statement, Story, narrowest, quotes_of

REMOVED, DRAINED = "removed", "drained"
TORQUE = "torque_not_stated"
TAPPED = "fluid:"

# A thing that is off needs no word about its plug or its bolts.
_HIDDEN_BY_REMOVAL = ("loosened", "disconnected", "not_plugged_in")
_UNDOES_TORQUE = ("remove", "cut", "loosen", "separate")
_TEXTS = {
    "removed": "removed, not said to be back",
    "disconnected": "disconnected, not said to be joined again",
    "not_plugged_in": "unplugged, not said to be plugged in",
    "loosened": "loosened, not said to be tight",
    "drained": "drained, not said to be refilled",
    "compressed": "compressed, not said to be let go",
    TORQUE: "put together, its torque not stated",
}
_TORQUE_TO_DO = "its torque is still to do"


@dataclass(slots=True)
class Unit:
    """One component at one place and what is open on it.

    `open` holds for each kind of opening (`left` of the rules) the statements that opened it, `closers` the actions that
    close it. `removals` and `back` are what took it off and what last brought it back; `assembled` is what put it
    together since, `torqued_in` the number of the note that stated its torque since, None if none did.
    """

    key: str
    spot: Spot
    open: dict[str, list[Statement]] = field(default_factory=dict)
    closers: dict[str, frozenset[str]] = field(default_factory=dict)
    removals: list[Statement] = field(default_factory=list)
    back: Statement | None = None
    assembled: list[Statement] = field(default_factory=list)
    torque_to_do: list[Statement] = field(default_factory=list)
    torqued_in: int | None = None

    def wants_torque(self, story: Story) -> bool:
        if REMOVED in self.open or "loosened" in self.open or self.torqued_in is not None:
            return False
        return bool(self.torque_to_do) or (bool(self.assembled) and story.things.torque_wanted(self.key))


def walked(story: Story) -> list[Unit]:
    """Every component and place that was worked on, as the last note leaves it."""
    units = _units(story)
    torques = _torques(story)
    for told in story.statements:
        if told.entry.kind == "operation":
            for unit in units:
                if unit.key.startswith(TAPPED):
                    _fluid(story, unit, told)
                elif told.at(unit.spot):
                    _own(story, unit, told)
        if told in torques:
            for unit in units:
                if told.at(unit.spot) and story.things.torque_covers(told.key, unit.key):
                    unit.torqued_in, unit.torque_to_do = told.note, []
    return units


def _units(story: Story) -> list[Unit]:
    """The components and places at which something was opened, or put together.

    What was put together at a place said in part is about the places that were opened, if there are any it can mean.
    """
    opened: dict[str, list[Spot]] = {}
    closed: dict[str, list[Spot]] = {}
    for told in story.operations(status=None):
        for row in _opening_rows(story, told):
            key, spots = _unit_of(story, row, told)
            opened.setdefault(key, []).extend(spots)
        if told.entry.action in (*ASSEMBLING, "tighten", "torque"):
            closed.setdefault(story.things.same(told.key), []).extend(told.spots)
    units = []
    for key in dict.fromkeys([*opened, *closed]):
        spots = list(dict.fromkeys(opened.get(key, [])))
        for spot in narrowest([*spots, *closed.get(key, [])]):
            if spot not in spots and not any(other.within(spot) for other in spots):
                spots.append(spot)
        units += [Unit(key, spot) for spot in spots]
    return units


def _unit_of(story: Story, row: Opening, told: Statement) -> tuple[str, tuple[Spot, ...]]:
    """Where the row opens something: a fluid is one for its whole circuit."""
    if row.left == DRAINED:
        circuit = story.things.circuit(told.key)
        if circuit:
            return f"{TAPPED}{circuit}", (NOWHERE,)
        return f"{TAPPED}{story.things.same(told.key)}", told.spots
    return story.things.same(told.key), told.spots


def _opening_rows(story: Story, told: Statement) -> list[Opening]:
    """The rules by which an operation leaves something open: it was done, or what would close it is said to be not done."""
    things, operation = story.things, told.entry
    means = [row for row in things.rules.openings if things.meant(row.applies, row.excepted, told.key)]
    if operation.status == "done":
        return [row for row in means if row.action == operation.action]
    if operation.status == "not_done":
        undone = [row for row in means if operation.action in row.left_undone]
        return undone[:1]
    return []


def _own(story: Story, unit: Unit, told: Statement) -> None:
    things, action, done = story.things, told.entry.action, told.entry.status == "done"
    mine = things.same(told.key) == unit.key
    # The wheel going on takes its nuts with it; a nut that is torqued tells that the wheel is on.
    holds_it = (
        things.is_fastener(unit.key) and things.belongs_to(unit.key, told.key) and action in (*ASSEMBLING, "torque")
    )
    held_by_it = things.is_fastener(told.key) and things.belongs_to(told.key, unit.key) and action == "torque"
    # The battery is connected by its cable, the lamp by its plug.
    connects_it = action == "connect" and things.belongs_to(unit.key, told.key)
    if done and (mine or holds_it or held_by_it or connects_it):
        for left in [left for left, closers in unit.closers.items() if action in closers]:
            del unit.open[left], unit.closers[left]
            if left == REMOVED:
                unit.back = told
    if not mine:
        return
    if done and action in (*ASSEMBLING, "tighten"):
        unit.assembled.append(told)
        if action in ASSEMBLING and unit.torqued_in != told.note:
            unit.torqued_in = None
    if action == "torque" and not done and unit.torqued_in is None:
        unit.torque_to_do.append(told)
    if unit.spot in told.spots:
        for row in _opening_rows(story, told):
            if row.left != DRAINED:
                _open(unit, row, told)


def _open(unit: Unit, row: Opening, told: Statement) -> None:
    unit.open.setdefault(row.left, []).append(told)
    unit.closers[row.left] = unit.closers.get(row.left, frozenset()) | row.closed_by
    if row.left == REMOVED:
        unit.back = None
        if told.entry.status == "done":
            unit.removals.append(told)
    if told.entry.action in _UNDOES_TORQUE:
        unit.torqued_in, unit.assembled, unit.torque_to_do = None, [], []


def _fluid(story: Story, unit: Unit, told: Statement) -> None:
    things, name = story.things, unit.key.removeprefix(TAPPED)
    circuit = things.circuit(told.key)
    if circuit:
        if circuit != name:
            return
    elif not things.related(told.key, name) or not told.at(unit.spot):
        return
    if told.entry.status == "done" and told.entry.action in unit.closers.get(DRAINED, ()):
        del unit.open[DRAINED], unit.closers[DRAINED]
    for row in _opening_rows(story, told):
        if row.left == DRAINED:
            _open(unit, row, told)


def _torques(story: Story) -> set[Statement]:
    """The statements that state a torque: it was torqued, or a figure was said and the torque is not still to do."""
    torques = set(story.operations("torque"))
    still = story.operations("torque", status="planned") + story.operations("torque", status="not_done")
    for told in story.of_kind("measurement"):
        to_do = any(other.key == told.key and other.note == told.note for other in still)
        if told.entry.quantity == "torque" and told.key is not None and not to_do:
            torques.add(told)
    return torques


def loose_ends(story: Story, units: list[Unit]) -> list[LooseEnd]:
    """What is still open, one line for each thing, place and kind; a nut and what it holds are one line."""
    found: list[tuple[Unit, str, list[Statement]]] = []
    for unit in units:
        hidden = _HIDDEN_BY_REMOVAL if REMOVED in unit.open else ()
        found += [(unit, left, told) for left, told in unit.open.items() if left not in hidden]
        if unit.wants_torque(story):
            found.append((unit, TORQUE, [*unit.assembled, *unit.torque_to_do]))
    found.sort(key=lambda one: one[2][0].order)
    lines = []
    for unit, left, told in found:
        others = [(other, its_left) for other, its_left, _ in found if other is not unit and other.spot.fits(unit.spot)]
        if any(_told_by(story, unit, left, other, its_left) for other, its_left in others):
            continue
        also = [
            story.things.label(other.key) for other, its_left in others if _told_by(story, other, its_left, unit, left)
        ]
        lines.append(_line(story, unit, left, told, also))
    return by_sides(lines)


def _told_by(story: Story, unit: Unit, left: str, other: Unit, its_left: str) -> bool:
    """Whether the line of `unit` is told by that of `other`: the nuts by the wheel that is off, the wheel by the nuts
    whose torque is not stated."""
    things = story.things
    if left == TORQUE:
        return its_left == TORQUE and things.is_fastener(other.key) and things.belongs_to(other.key, unit.key)
    if left not in (REMOVED, "loosened") or not things.is_fastener(unit.key):
        return False
    return its_left in (REMOVED, left) and things.belongs_to(unit.key, other.key)


def _line(story: Story, unit: Unit, left: str, told: list[Statement], also: list[str]) -> LooseEnd:
    # A line is under the name that was said when it was opened: "spring pack", though it stands for the leaf spring.
    key = told[0].key
    position = unit.spot.position()
    if left == TORQUE and unit.torque_to_do:
        text = _TORQUE_TO_DO
    elif told[0].entry.status == "not_done":
        text = f"{told[0].entry.action} said to be not done"
    else:
        text = _TEXTS[left]
    return LooseEnd(
        id=line_id("loose", key, position, left),
        component=story.things.thing(key),
        position=position,
        why=left,
        text=text,
        also=also,
        quotes=quotes_of(told),
    )


def removed_lines(story: Story, units: list[Unit]) -> list[Removed]:
    """Every thing that was removed, with what became of it: put back, replaced, or loose."""
    lines = []
    for unit in units:
        taken_off = unit.removals
        if not taken_off:
            continue
        position = unit.spot.position()
        fate = "loose"
        if unit.back is not None:
            new = unit.back.entry.action in ASSEMBLING and story.goes_on_new(unit.back, unit.spot)
            fate = "replaced" if new else "put_back"
        key = taken_off[0].key
        lines.append(
            Removed(
                id=line_id("removed", key, position),
                component=story.things.thing(key),
                position=position,
                fate=fate,
                back_quotes=quotes_of([unit.back] if unit.back else []),
                quotes=quotes_of(taken_off),
            )
        )
    return by_sides(lines)
