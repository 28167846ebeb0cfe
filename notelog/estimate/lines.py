"""Which lines stand on the estimate: parts, labour, materials and outside work, and why. The numbers come later."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from notelog.estimate.rules import REPLACE, EstimateRules, Work
from notelog.estimate.said import part_key
from notelog.job.lines import line_id
from notelog.job.places import at_place, spots_of
from notelog.job.sections import DamageLine, Ledger, PartLine, Quote, Thing, UsedOnce, WorkLine
from notelog.job.story import Story, distinct
from notelog.lexicon.words import normal
from notelog.models import Position

ASK = "ask"


@dataclass(slots=True)
class Wanted:
    """A line before its numbers. `part` is the ledger's line behind a part, `key` the component as the story has it."""

    kind: str
    key: str
    component: Thing | None
    position: Position
    work: str
    label: str
    basis: str
    why: str
    count: int = 1
    quotes: list[Quote] = field(default_factory=list)
    part: PartLine | None = None

    @property
    def id(self) -> str:
        named = self.key or (self.label if self.kind == "material" else "job")
        return line_id(f"estimate-{self.kind}", named, self.position, *([self.work] if self.work else []))

    @property
    def text(self) -> str:
        thing = at_place(self.position, self.component.label or "a part not named") if self.component else ""
        if self.kind in ("part", "material") or not self.work:
            return thing or self.label
        return f"{thing}: {self.label}" if thing else self.label


def wanted_lines(story: Story, made: Ledger, rules: EstimateRules, *, count_used_once: bool) -> list[Wanted]:
    """All lines of a job in the order: parts, labour, materials, outside work."""
    return _Lines(story, made, rules).all(count_used_once)


class _Lines:
    def __init__(self, story: Story, made: Ledger, rules: EstimateRules):
        self.story, self.things, self.made, self.rules = story, story.things, made, rules
        self.lines: dict[str, Wanted] = {}

    def all(self, count_used_once: bool) -> list[Wanted]:
        parts = [(part_key(line), line) for line in self.made.parts_to_buy]
        for key, line in parts:
            self._part(key, line)
        self._damage(parts)
        for work in self.made.work:
            self._operation(work)
        self._follow_ups()
        self._materials()
        if count_used_once:
            for proposal in self.made.used_once:
                self._proposal(proposal)
        order = {kind: rank for rank, kind in enumerate(("part", "labour", "material", "outside"))}
        return sorted(self.lines.values(), key=lambda line: order[line.kind])

    def _put(self, line: Wanted) -> None:
        """A line once for all; what else is said for it adds its quotes."""
        known = self.lines.setdefault(line.id, line)
        if known is not line:
            known.quotes = distinct([*known.quotes, *line.quotes])

    def _part(self, key: str, part: PartLine) -> None:
        label = part.component.label
        why = {"asked": "a part was asked for", "done": "it was replaced", "planned": "it is to be replaced"}[part.basis]
        told = {
            "key": key, "component": part.component, "position": part.position, "count": part.count, "quotes": part.quotes
        }  # fmt: skip
        self._put(Wanted("part", work="", label=label, basis=part.basis, why=why, part=part, **told))
        if not self.things.is_fastener(key):
            self._put(Wanted("labour", work=REPLACE, label=REPLACE, basis=part.basis, why=why, **told))

    def _damage(self, parts: list[tuple[str, PartLine]]) -> None:
        """What the conditions call for by rule, the whole before what is part of it."""
        bought = [(key, part.position) for key, part in parts]
        for line in sorted(self.made.damage, key=lambda line: len(self.things.wholes(_key(line)))):
            key = _key(line)
            standing = [one for one in line.conditions if not one.mended and one.status != "past"]
            present = [one.condition for one in standing if one.status == "present"]
            if not standing:
                continue
            quotes = distinct([quote for one in standing for quote in one.quotes])
            told = {
                "key": key, "component": line.component, "position": line.position, "quotes": quotes,
                "count": _sides(line.position),
            }  # fmt: skip
            if not present:
                conditions = ", ".join(one.condition for one in standing)
                self._ask(f"only suspected: {conditions}", told)
                continue
            decision = self.rules.decide(self.things, key, present)
            covered = any(self._covers(line, key, other, at) for other, at in bought)
            said = None if covered else self._said_to_mend(line, key)
            if not (covered or said) and (perhaps := self._perhaps(line, key, parts)):
                self._ask(f"a part was asked for as “{perhaps}”: is it this one?", told)
                continue
            for name in decision.outside:
                work = self.rules.works[name]
                if work.with_new_part or not (covered or said):
                    self._put(Wanted("outside", work=work.id, label=work.label, basis="rule", why=decision.why, **told))
            if covered or said or decision.then == "none":
                continue
            if decision.then == ASK:
                self._ask(decision.why, told)
                continue
            self._put(Wanted("labour", work=decision.then, label=decision.then, basis="rule", why=decision.why, **told))
            if decision.then == REPLACE:
                self._put(Wanted("part", work="", label=line.component.label, basis="rule", why=decision.why, **told))
                bought.append((key, line.position))

    def _ask(self, why: str, told: dict[str, Any]) -> None:
        self._put(Wanted("labour", work=ASK, label="repair or replace?", basis="ask", why=why, **told))

    def _covers(self, line: DamageLine, key: str, other: str, at: Position) -> bool:
        """Whether a part that is bought is the damaged thing, or what it is part of, at every place of the damage."""
        if not self.things.belongs_to(key, other):
            return False
        return all(any(spot.fits(bought) for bought in spots_of(at)) for spot in spots_of(line.position))

    def _perhaps(self, line: DamageLine, key: str, parts: list[tuple[str, PartLine]]) -> str:
        """The short name, known to no lexicon, of a part that may be this thing ("the arm" for a lower arm); else ""."""
        names = [normal(name) for term in [self.things.term(key)] if term for name in term.names]
        for other, part in parts:
            short = other.removeprefix("unknown:") if other.startswith("unknown:") else ""
            ends = short and any(name.endswith(f" {short}") for name in names)
            if ends and any(one.fits(at) for one in spots_of(line.position) for at in spots_of(part.position)):
                return short
        return ""

    def _said_to_mend(self, line: DamageLine, key: str) -> WorkLine | None:
        """The work that a note says, done or planned, that repairs the thing or has it repaired."""
        for work in self.made.work:
            if work.status == "not_done" or self.things.same(_key(work)) != self.things.same(key):
                continue
            means = self.rules.work_of(self.things, work.action, _key(work))
            repairs = means is not None and means.id != REPLACE and means.per == "component"
            if repairs and any(one.fits(other) for one in spots_of(work.position) for other in spots_of(line.position)):
                return work
        return None

    def _operation(self, line: WorkLine) -> None:
        key = _key(line)
        work = self.rules.work_of(self.things, line.action, key)
        if work is None or line.status == "not_done":
            return
        if work.id == REPLACE and any(
            wanted.kind == "part"
            and self.things.belongs_to(key, wanted.key)
            and any(one.fits(other) for one in spots_of(line.position) for other in spots_of(wanted.position))
            for wanted in self.lines.values()
        ):
            return
        self._put(self._of_work(work, line.status, f"{line.action}: {line.status}", line.quotes, key, line))

    def _of_work(
        self, work: Work, basis: str, why: str, quotes: list[Quote], key: str = "", line: WorkLine | None = None
    ) -> Wanted:
        whole = work.per == "job" or line is None
        return Wanted(
            work.kind,
            key="" if whole else key,
            component=None if whole else line.component,
            position=Position() if whole else line.position,
            work=work.id,
            label=work.label,
            basis=basis,
            why=why,
            count=1 if whole else _sides(line.position),
            quotes=list(quotes),
        )

    def _follow_ups(self) -> None:
        for follow_up in self.made.follow_ups:
            rule = follow_up.id.removeprefix("follow-up/")
            for work in self.rules.works.values():
                if rule not in work.follow_ups or follow_up.origin != "rule":
                    continue
                why = f"{follow_up.text} {follow_up.why} ({follow_up.source})"
                self._put(self._of_work(work, "follow_up", why, follow_up.settled_quotes or follow_up.quotes))

    def _materials(self) -> None:
        for told in self.story.of_kind("material"):
            material = told.entry.material
            known = material.id in self.things.lexicon.terms["material"]
            key = material.id if known else f"unknown:{normal(material.label)}"
            thing = Thing(id=material.id if known else "unknown", label=material.label)
            self._put(
                Wanted("material", key, thing, Position(), "", material.label, "said", "used or wanted", quotes=[told.quote])
            )

    def _proposal(self, proposal: UsedOnce) -> None:
        key = proposal.hardware.id if proposal.hardware.id != "unknown" else f"unknown:{normal(proposal.hardware.label)}"
        why = f"{proposal.why} ({proposal.source})"
        line = Wanted(
            "part", key, proposal.hardware, proposal.position, "", proposal.hardware.label, "proposed", why,
            proposal.count, list(proposal.quotes),
        )  # fmt: skip
        if known := self.lines.get(line.id):
            # Two components at one place may each call for the same hardware.
            if known.basis == "proposed":
                known.count += line.count
            return
        self._put(line)


def _key(line: DamageLine | WorkLine) -> str:
    if line.component.id != "unknown":
        return line.component.id
    return f"unknown:{normal(line.component.label)}"


def _sides(position: Position) -> int:
    return 2 if position.side == "both" else 1


__all__: Sequence[str] = ["ASK", "Wanted", "wanted_lines"]
