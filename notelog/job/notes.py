"""What comes in: the notes of a job with their entries, each entry under an id of its own."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime

from pydantic import ConfigDict, Field

from notelog.errors import InputError
from notelog.models import DriverSide, Entry, Log, Strict


class JobEntry(Strict):
    """An entry under its id; `accepted` when a person has looked at it, so that nothing about it is asked again;
    `named_by_person` when a person said which component it is, so that the job knows what the words for it mean."""

    model_config = ConfigDict(extra="forbid", coerce_numbers_to_str=True)

    id: str
    entry: Entry
    accepted: bool = False
    named_by_person: bool = False


class JobNote(Strict):
    """A note of a job: `when` it was dictated (None when not known), by whom, and its entries as they are valid now
    (corrected where a person corrected them, without the rejected ones). A time without a zone is taken as UTC."""

    model_config = ConfigDict(extra="forbid", coerce_numbers_to_str=True)

    id: str
    when: datetime | None = None
    author: str | None = None
    source: str = ""
    driver_side: DriverSide = "right"
    entries: list[JobEntry] = Field(default_factory=list)

    @classmethod
    def of_log(cls, id: str | int, log: Log, when: datetime | None = None, author: str | None = None) -> JobNote:
        """A note from what `notelog.extract` gave; its entries get the ids "<note>-<number>".

        >>> import notelog
        >>> note = JobNote.of_log(7, notelog.extract("n/s/f lower arm bent"))
        >>> note.entries[0].id
        '7-0'
        """
        entries = [JobEntry(id=f"{id}-{number}", entry=entry) for number, entry in enumerate(log.entries)]
        return cls(
            id=str(id),
            when=when,
            author=author,
            source=log.note.source,
            driver_side=log.note.driver_side,
            entries=entries,
        )


def in_order(notes: Iterable[JobNote]) -> list[JobNote]:
    """The notes by time, the ones without a time last, those of one time by id ("2" before "10").

    Raises InputError when two notes, or two entries, have the same id.

    >>> [note.id for note in in_order([JobNote(id="10"), JobNote(id="2"), JobNote(id="3", when="2024-03-01")])]
    ['3', '2', '10']
    """
    ordered = sorted(notes, key=lambda note: (note.when is None, _moment(note.when), _natural(note.id), note.id))
    _unique("note", [note.id for note in ordered])
    _unique("entry", [entry.id for note in ordered for entry in note.entries])
    return ordered


def _moment(when: datetime | None) -> datetime:
    if when is None:
        return datetime.max.replace(tzinfo=UTC)
    return when if when.tzinfo else when.replace(tzinfo=UTC)


def _natural(id: str) -> list[tuple[int, int, str]]:
    pieces = re.findall(r"\d+|\D+", id)
    return [(0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces]


def _unique(what: str, ids: list[str]) -> None:
    seen: set[str] = set()
    for id in ids:
        if id in seen:
            raise InputError(f"The {what} id {id!r} stands twice in the job: give every {what} an id of its own.")
        seen.add(id)
