"""What follows from the work: follow-ups, said and by rule, and cautions by what was touched. The rules are data."""

from __future__ import annotations

from notelog.job.places import at_place
from notelog.job.rules import PART_ASKED, Rule
from notelog.job.sections import Caution, FollowUp, Thing
from notelog.job.story import Statement, Story, quotes_of
from notelog.job.work import work_lines
from notelog.models import EntryBase


def _touched(story: Story, rule: Rule, not_done_too: bool) -> list[Statement]:
    """The statements that a rule fires on."""
    return [
        told
        for told in story.statements
        if told.key is not None
        and _fires(rule, told.entry, not_done_too)
        and story.things.meant(rule.applies, rule.excepted, told.key)
    ]


def _fires(rule: Rule, entry: EntryBase, not_done_too: bool) -> bool:
    if entry.kind == "operation":
        return entry.action in rule.actions and (not_done_too or entry.status != "not_done")
    if entry.kind == "finding":
        return entry.condition in rule.conditions and entry.status in ("present", "suspected")
    return entry.kind == "part" and PART_ASKED in rule.actions


def _components(story: Story, found: list[Statement]) -> list[Thing]:
    return [story.things.thing(key) for key in dict.fromkeys(told.key for told in found)]


def follow_ups(story: Story) -> list[FollowUp]:
    """By rule first, what is open before what is planned and done; then what else the notes say is still to do."""
    lines = [line for rule in story.things.rules.followups if (line := _by_rule(story, rule))]
    told_already = {quote.entry for line in lines for quote in line.settled_quotes}
    settled = _torqued_since(story)
    said = [
        FollowUp(
            id=f"follow-up/{line.id.removeprefix('work/')}",
            origin="said",
            state="planned" if line.status == "planned" else "open",
            text=f"{at_place(line.position, line.component.label)}: {line.action}",
            components=[line.component],
            why="still to do" if line.status == "planned" else "said to be not done",
            source="the note",
            settled_quotes=[],
            quotes=line.quotes,
        )
        for line in work_lines(story)
        if line.status != "done" and not {quote.entry for quote in line.quotes} & (told_already | settled)
    ]
    order = {"open": 0, "planned": 1, "done": 2}
    return sorted(lines, key=lambda line: order[line.state]) + said


def _torqued_since(story: Story) -> set[str]:
    """The entries of torques still to do that were done later, under the name of a nut or bolt."""
    done = story.operations("torque")
    return {
        told.id
        for told in story.operations("torque", status=None)
        if told.entry.status != "done"
        and any(
            later.order > told.order
            and any(later.at(spot) for spot in told.spots)
            and story.things.torque_covers(later.key, told.key)
            for later in done
        )
    }


def _by_rule(story: Story, rule: Rule) -> FollowUp | None:
    found = _touched(story, rule, not_done_too=False)
    if not found:
        return None
    settling = [
        told
        for told in story.operations(*rule.settled_by, status=None)
        if rule.settled_by and story.things.rank(rule.settled_on, told.key) is not None
    ]
    done = [told for told in found if told.entry.kind == "operation" and told.entry.status == "done"]
    last = max(done, key=lambda told: told.order, default=None)
    settled = [
        told
        for told in settling
        if told.entry.status == "done" and last is not None and (told.order > last.order or told.note > last.note)
    ]
    planned = [told for told in settling if told.entry.status != "done" and (last is None or told.note >= last.note)]
    state, by = ("done", settled) if settled else ("planned", planned) if planned else ("open", [])
    return FollowUp(
        id=f"follow-up/{rule.id}",
        origin="rule",
        state=state,
        text=rule.text,
        components=_components(story, found),
        why=rule.why,
        source=rule.source,
        settled_quotes=quotes_of(by),
        quotes=quotes_of(found),
    )


def cautions(story: Story) -> list[Caution]:
    """One for each rule of `cautions.csv` that something in the notes touches, in the file's order."""
    lines = []
    for rule in story.things.rules.cautions:
        found = _touched(story, rule, not_done_too=True)
        if found:
            lines.append(
                Caution(
                    id=f"caution/{rule.id}",
                    text=rule.text,
                    components=_components(story, found),
                    why=rule.why,
                    source=rule.source,
                    quotes=quotes_of(found),
                )
            )
    return lines
