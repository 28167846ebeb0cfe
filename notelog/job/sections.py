"""What goes out: the ledger and the lines of its sections. Every line carries the quotes that it rests on."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import ConfigDict, Field

from notelog.models import Action, Condition, Drive, FastenerType, Position, Quantities, Size, Strict, Unit

SCHEMA = "notelog.ledger/1"

PartState = Literal["needed", "ordered", "on_hand", "fitted"]
LooseWhy = Literal[
    "removed", "disconnected", "not_plugged_in", "loosened", "drained", "compressed", "torque_not_stated"
]
Verdict = Literal["shown", "not_shown", "cannot_be_told"]


class Quote(Strict):
    """The words behind a line: the note and the entry, when and by whom, and the span of the note's text."""

    note: str
    entry: str
    when: datetime | None
    author: str | None
    source: str
    text: str
    start: int
    end: int
    t_start: float | None = None


class Thing(Strict):
    """A component: its lexicon id ("unknown" when it is in no lexicon) and its label."""

    id: str
    label: str


class Line(Strict):
    """A line of the ledger. `id` is made of its section, component and place, and stays the same from one ledger of
    the job to the next as long as these do."""

    id: str
    quotes: list[Quote]


class Placed(Line):
    """A line about a component and its place."""

    component: Thing
    position: Position


class NoteLine(Strict):
    """A note of the job, in the order in which the ledger took them."""

    id: str
    when: datetime | None
    author: str | None
    source: str
    entries: int


class ConditionNow(Strict):
    """A condition as it was last said; `mended` quotes the work that put it right."""

    condition: Condition
    status: Literal["present", "suspected", "past"]
    quotes: list[Quote]
    mended: list[Quote] = Field(default_factory=list)


class Contradiction(Strict):
    """Two statements that cannot both hold. The newer one was taken, unless they are of one note: then the damage."""

    before: str
    before_quote: Quote
    after: str
    after_quote: Quote


class DamageLine(Placed):
    """All that is damaged on one component at one place. `now` is "mended" when every condition is."""

    now: Literal["damaged", "suspected", "mended"]
    conditions: list[ConditionNow]
    contradictions: list[Contradiction]


class SoundLine(Placed):
    """Something that was looked at: `sound` ("good", "no play", "not bent"), with what was said against it before."""

    sound: list[str]
    contradictions: list[Contradiction]


class PartLine(Placed):
    """A part to buy or bought. `basis`: it was "asked" for, or follows from a replacement "done" or "planned".

    `count` is how many are wanted, `fitted` how many of them are on the vehicle; `findings` are the damages behind it
    and `damage_said` is False when there are none.
    """

    count: int
    fitted: int
    state: PartState
    basis: Literal["asked", "done", "planned"]
    damage_said: bool
    findings: list[str]
    finding_quotes: list[Quote]


class NothingOrdered(Placed):
    """Something damaged for which no part was asked and no repair was said: "bent, nothing ordered yet"."""

    conditions: list[Condition]
    text: str


class UsedOnce(Placed):
    """A proposal: hardware that is used once and that the work on `component` calls for. Not a statement of a note."""

    hardware: Thing
    count: int
    why: str
    source: str


class LooseEnd(Placed):
    """Something that was opened and never said to be whole again. `also` names what hangs on it (nuts, a plug)."""

    why: LooseWhy
    text: str
    also: list[str]


class Removed(Placed):
    """What became of a thing that was removed: exactly one of three."""

    fate: Literal["put_back", "replaced", "loose"]
    back_quotes: list[Quote]


class FastenerLine(Placed):
    """What to put it back together with. `type` is None when only a torque was said. Torque in N m, as an interval.

    `standard` says what the size is in the tables; `odd` when it is in none, and `likely` what was then likely meant.
    """

    type: FastenerType | None
    drive: Drive | None
    size: Size | None
    count: int | None
    tools: list[str]
    torque_low: float | None
    torque_high: float | None
    torque_text: str
    standard: str
    odd: bool
    likely: list[str]


class LimitCheck(Strict):
    """A reading against a limit of the shop: is it within? `limit` is the limit in words, `why` the shop's own."""

    within: Literal["yes", "no", "cannot_be_told"]
    limit: str
    why: str
    source: str


class Reading(Line):
    """A reading as an interval, in the unit that was said. `sign` says in words which way it points (ISO 8855)."""

    component: Thing | None
    position: Position
    quantity: Quantities
    low: float
    high: float
    unit: Unit
    sign: str
    limits: list[LimitCheck]


class Comparison(Line):
    """Two readings of the same thing, left against right or before against after.

    `verdict` tells whether a difference (or, with a limit of the shop, one greater than `more_than`) is shown;
    `at_least` and `at_most` bound its size in `unit`. `text` says it in words.
    """

    kind: Literal["left_right", "before_after"]
    quantity: Quantities
    component: Thing | None
    position: Position
    first: str
    second: str
    verdict: Verdict
    at_least: float
    at_most: float
    more_than: float
    unit: Unit
    text: str


class WorkLine(Placed):
    """An operation, with its newest status and the time of the note that said it."""

    action: Action
    status: Literal["done", "planned", "not_done"]
    when: datetime | None


class HoursLine(Line):
    """A stretch of time said to have been spent, in hours."""

    hours: float


class FollowUp(Line):
    """Something to be done after the work: said in a note, or by a rule of `followups.csv`."""

    origin: Literal["said", "rule"]
    state: Literal["open", "planned", "done"]
    text: str
    components: list[Thing]
    why: str
    source: str
    settled_quotes: list[Quote]


class Caution(Line):
    """A warning that what was touched calls for. It defers to the maker's procedure, local rules and licensed practice."""

    text: str
    components: list[Thing]
    why: str
    source: str


class Question(Line):
    """Something to ask the technician; its `id` is that of the entry and what is asked, so that it can be answered."""

    kind: Literal["side_missing", "count_missing", "unclear_it", "mishearing", "unknown_part", "odd_size"]
    entry: str
    field: str
    text: str
    options: list[str]


class Ledger(Strict):
    """What three people act on, from all notes of a job. `model_dump(mode="json")` gives its stable JSON form."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    schema_: Literal["notelog.ledger/1"] = Field(default=SCHEMA, alias="schema")
    notes: list[NoteLine]
    damage: list[DamageLine]
    seen_and_sound: list[SoundLine]
    parts_to_buy: list[PartLine]
    nothing_ordered: list[NothingOrdered]
    used_once: list[UsedOnce]
    loose_ends: list[LooseEnd]
    removed: list[Removed]
    fasteners: list[FastenerLine]
    readings: list[Reading]
    comparisons: list[Comparison]
    work: list[WorkLine]
    hours: list[HoursLine]
    hours_total: float
    follow_ups: list[FollowUp]
    cautions: list[Caution]
    questions: list[Question]
    warnings: list[str]
