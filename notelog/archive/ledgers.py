"""From stored jobs to what the ledger takes: entries as they stand, with corrections, and the answered questions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import TypeAdapter

from notelog.archive import corrections, standing
from notelog.job import JobEntry, JobNote
from notelog.models import Entry

if TYPE_CHECKING:
    from notelog.archive.store import Archive, Job

_ENTRY = TypeAdapter(Entry)


def job_notes(job: Job) -> list[JobNote]:
    """The notes of a stored job as the ledger takes them, without the entries that people rejected.

    An entry that a person decided about counts as accepted, unless that was only by answers to the ledger's questions: then
    its other questions are still asked. A note's time is that of its dictation.
    """
    return [
        JobNote(
            id=note.id,
            when=note.dictated,
            author=note.author,
            source=note.source,
            driver_side=note.driver_side,
            entries=[
                JobEntry(
                    id=entry["id"],
                    entry=_ENTRY.validate_python(standing.contract(entry)),
                    accepted=entry["decided"] is not None and not entry["decided"]["by_answer"],
                    named_by_person="component" in (entry["decided"] or {}).get("fields", ()),
                )
                for entry in note.entries
                if (entry["decided"] or {}).get("what") != "rejected"
            ],
        )
        for note in job.notes
    ]


def note_texts(job: Job) -> dict[str, str]:
    """The texts of a stored job's notes by the notes' ids."""
    return {str(note.id): note.text for note in job.notes}


def answered(archive: Archive, reference: str) -> list[str]:
    """The ids of the ledger's questions that are answered. Raises InputError for an unknown job."""
    return list(corrections.answers(archive, reference))


def has_money_or_time(job: Job) -> bool:
    """Whether a note of the job says a price or a time: what an estimate can learn from."""
    return any(entry["kind"] in ("cost", "labour") for note in job.notes for entry in note.entries)
