"""The ledger, put together from its sections."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import UTC, datetime

from notelog.job.damage import damage_lines, damage_states, sound_lines
from notelog.job.fasteners import fastener_lines
from notelog.job.followups import cautions, follow_ups
from notelog.job.limits import Limits
from notelog.job.loose import loose_ends, removed_lines, walked
from notelog.job.notes import JobNote
from notelog.job.parts import mend_fitted, nothing_ordered, part_lines, used_once, wanted_parts
from notelog.job.questions import questions
from notelog.job.readings import comparisons, reading_lines
from notelog.job.sections import Ledger, NoteLine
from notelog.job.story import Story
from notelog.job.work import hours_lines, work_lines
from notelog.lexicon.load import Lexicon, load


def ledger(
    notes: Iterable[JobNote],
    lexicon: Lexicon | None = None,
    limits: Limits | None = None,
    *,
    answered: Collection[str] = (),
    now: datetime | None = None,
) -> Ledger:
    """The ledger of a job: a pure function of the entries of its notes in the order of time.

    The order in which the notes are given does not matter; one without a time is taken as newer than all with one.
    `limits` are the shop's (`read_limits`); `answered` are ids of questions that are not to be asked again; with `now`,
    a note from the time after it is warned of. Raises InputError when two notes or entries have one id, or a rule file
    of the lexicon cannot be used.

    >>> import notelog
    >>> monday = JobNote.of_log(1, notelog.extract("Nearside front lower arm is bent. Took it off. Needs a lower arm."),
    ...                         datetime(2024, 3, 4))
    >>> made = ledger([monday])
    >>> [(line.component.label, line.state) for line in made.parts_to_buy]
    [('lower arm', 'needed')]
    >>> [(line.component.label, line.why) for line in made.loose_ends]
    [('lower arm', 'removed')]
    """
    story = Story(notes, lexicon or load())
    limits = limits or Limits()
    states = damage_states(story)
    parts = wanted_parts(story)
    mend_fitted(story, parts, states)
    units = walked(story)
    hours = hours_lines(story)
    return Ledger(
        notes=[
            NoteLine(id=note.id, when=note.when, author=note.author, source=note.source, entries=len(note.entries))
            for note in story.notes
        ],
        damage=damage_lines(story, states),
        seen_and_sound=sound_lines(story, states),
        parts_to_buy=part_lines(story, parts, states),
        nothing_ordered=nothing_ordered(story, parts, states),
        used_once=used_once(story, parts),
        loose_ends=loose_ends(story, units),
        removed=removed_lines(story, units),
        fasteners=fastener_lines(story),
        readings=reading_lines(story, limits),
        comparisons=comparisons(story, limits),
        work=work_lines(story),
        hours=hours,
        hours_total=round(sum(line.hours for line in hours), 4),
        follow_ups=follow_ups(story),
        cautions=cautions(story),
        questions=questions(story, parts, states, answered),
        warnings=_warnings(story, now),
    )


def _warnings(story: Story, now: datetime | None) -> list[str]:
    found = [f"{problem.file}, line {problem.line}: {problem.message}" for problem in story.things.rules.problems]
    if not story.notes:
        found.append("The job has no notes.")
    undated = [note.id for note in story.notes if note.when is None]
    if undated and len(story.notes) > 1:
        found.append(f"Without a time, and so taken as the newest: note {', '.join(undated)}.")
    if len({note.driver_side for note in story.notes}) > 1:
        found.append("The notes do not agree on which side the driver sits: nearside and offside may be exchanged.")
    if now is not None:
        now = now if now.tzinfo else now.replace(tzinfo=UTC)
        for note in story.notes:
            when = note.when and (note.when if note.when.tzinfo else note.when.replace(tzinfo=UTC))
            if when and when > now:
                found.append(f"Note {note.id} is dated {note.when:%Y-%m-%d %H:%M}, which is still to come.")
    return found
