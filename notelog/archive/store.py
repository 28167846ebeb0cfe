"""The archive itself: storing notes with their logs, and reading jobs back."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from notelog.archive import migrations, opening, search, standing
from notelog.archive.search import Hit
from notelog.archive.vehicle import FIELDS, Vehicle
from notelog.errors import InputError

if TYPE_CHECKING:
    from sqlite_utils import Database

    from notelog.lexicon import Lexicon
    from notelog.models import Log, Note


@dataclass(frozen=True, slots=True)
class Stored:
    """What became of one note: stored now, or (`already_added`) recognised as one that this job has."""

    job: str
    note: int
    source: str
    sha256: str
    entries: int
    added: str
    already_added: bool = False
    also_in: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class JobSummary:
    """A job in the list of jobs, with how many notes and entries it has and when the last note was added."""

    reference: str
    vehicle: Vehicle
    created: str
    notes: int
    entries: int
    last_added: str | None


@dataclass(frozen=True, slots=True)
class StoredNote:
    """A note as it was stored, with its entries as they stand now, in the note's order.

    `entries` are as `notelog extract --json` prints them, each with its `id`, its `revision` and what a person
    `decided` about it (`notelog.archive.standing` tells more).
    """

    id: int
    source: str
    sha256: str
    format: str
    encoding: str
    driver_side: str
    author: str | None
    dictated: str | None
    added: str
    text: str
    warnings: list[str]
    entries: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Job:
    """Everything known of a job: its vehicle, and its notes with their entries, oldest first."""

    reference: str
    vehicle: Vehicle
    created: str
    notes: list[StoredNote]


class Archive:
    """One SQLite file of jobs, notes and entries. Times are UTC, in ISO 8601.

    `create` makes the file when a first note is added; without it a file that is not there is an InputError,
    as is one that belongs to another program or a newer version. `wait` is how many seconds to wait for
    another program that is writing. Use it as a context manager, or `close` it.

    >>> import tempfile
    >>> folder = tempfile.TemporaryDirectory()
    >>> with Archive(Path(folder.name) / "jobs.sqlite", create=True) as archive:
    ...     archive.set_vehicle("1042", Vehicle.given(year=2016), create=True)
    ...     archive.job("1042").vehicle.year
    2016
    >>> folder.cleanup()
    """

    def __init__(self, path: str | Path, *, create: bool = False, wait: float = 5.0) -> None:
        self.path = Path(path)
        self._made = not self.path.exists()
        self._in_writing = False
        self.connection = opening.connect(self.path, create=create, wait=wait)
        with opening.plain_errors(self.path):
            if not create and migrations.pending(self.connection):
                with self.writing():
                    pass

    def close(self) -> None:
        """Close the file; one that was made for this archive and that nothing was stored in is taken away again."""
        empty = self._made and self._is_empty()
        self.connection.close()
        if empty:
            self.path.unlink(missing_ok=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @cached_property
    def db(self) -> Database:
        """The file as a sqlite-utils Database; made when first asked for, since searching needs no more than SQLite."""
        from sqlite_utils import Database

        return Database(self.connection, execute_plugins=False)

    def lexicon(self) -> Lexicon:
        """The lexicon that the notes of this archive are read with: the shipped one, and the shop's own file beside the
        archive where there is one. Raises InputError when that file is damaged."""
        from notelog.lexicon import load

        return load(None, self.shop_lexicon)

    @property
    def shop_lexicon(self) -> Path | None:
        """The file of the shop's own lexicon beside the archive, where there is one."""
        return opening.shop_lexicon(self.path)

    # --- storing ----------------------------------------------------------------------------------

    def add(
        self,
        reference: str,
        logged: Iterable[tuple[Note, Log]],
        *,
        vehicle: Vehicle | None = None,
        author: str | None = None,
        dictated: str | None = None,
        read_with: str | None = None,
    ) -> list[Stored]:
        """Store notes with their logs under the job `reference`, all of them or none.

        The job is made when it is new; what is given of the vehicle fills in what was not known. A note that
        the job already has (the same SHA-256) is recognised and not stored again. `dictated` is an ISO 8601
        date or date and time. `read_with` tells the lexicon and program that made the logs (`again.reader()`).
        Raises InputError, and then nothing was stored.
        """
        with self.writing() as db:
            reference = _reference(reference)
            dictated = _iso_time(dictated)
            author = " ".join((author or "").split()) or None
            job_id = self._job_id(reference)
            if job_id is None:
                job_id = db["jobs"].insert({"reference": reference, "created": _now()}).last_pk
            self._fill_in(job_id, vehicle or Vehicle())
            return [self._add_note(job_id, note, log, author, dictated, read_with) for note, log in logged]

    def set_vehicle(self, reference: str, vehicle: Vehicle, *, create: bool = False) -> None:
        """Put what is known of `vehicle` in the place of what the job had; `create` allows a job that is new.

        Raises InputError for an unknown job.
        """
        with self.writing() as db:
            reference = _reference(reference)
            job_id = self._job_id(reference)
            if job_id is None:
                if not create:
                    raise self._unknown(reference)
                job_id = db["jobs"].insert({"reference": reference, "created": _now()}).last_pk
            if known := vehicle.known():
                db["jobs"].update(job_id, known)

    def _fill_in(self, job_id: int, vehicle: Vehicle) -> None:
        job = self.connection.execute("SELECT * FROM jobs WHERE id = ?", (job_id,)).fetchone()
        for name, value in vehicle.known().items():
            if job[name] is not None and job[name] != value:
                raise InputError(
                    f"Job {job['reference']} has the {name} {job[name]}, not {value}: nothing was stored; look at the "
                    f"reference, or change it with `notelog vehicle {job['reference']} --{name} ...`."
                )
        if known := vehicle.known():
            self.db["jobs"].update(job_id, known)

    def _add_note(
        self, job_id: int, note: Note, log: Log, author: str | None, dictated: str | None, read_with: str | None
    ) -> Stored:
        twins = self.connection.execute(
            f"""SELECT notes.id, notes.job_id, notes.source, notes.added, jobs.reference,
                      (SELECT count(*) FROM entries WHERE note_id = notes.id AND {standing.SHOWN}) AS entries
               FROM notes JOIN jobs ON jobs.id = notes.job_id WHERE sha256 = ? ORDER BY notes.id""",
            (note.sha256,),
        ).fetchall()
        (job,) = self.connection.execute("SELECT reference FROM jobs WHERE id = ?", (job_id,)).fetchone()
        others = [
            f"job {twin['reference']}, added on {twin['added'][:10]}" for twin in twins if twin["job_id"] != job_id
        ]
        for twin in twins:
            if twin["job_id"] == job_id:
                return Stored(job, twin["id"], note.source, note.sha256, twin["entries"], twin["added"], True, others)
        added = _now()
        row = {
            "job_id": job_id,
            "text": note.text,
            "sha256": note.sha256,
            "source": note.source,
            "format": note.format,
            "encoding": note.encoding,
            "driver_side": log.note.driver_side,
            "author": author,
            "dictated": dictated,
            "mentions": json.dumps([mention.model_dump() for mention in log.mentions]),
            "warnings": json.dumps(log.warnings, ensure_ascii=False),
            "added": added,
            "read_with": read_with,
        }
        note_id = self.db["notes"].insert(row).last_pk
        self.db["entries"].insert_all(
            {"note_id": note_id, "number": number, "payload": entry.model_dump_json()}
            for number, entry in enumerate(log.entries)
        )
        self.db.execute(
            """INSERT INTO readings(entry_id, revision, payload, read_with, at)
               SELECT id, revision, payload, ?, ? FROM entries WHERE note_id = ?""",
            (read_with, added, note_id),
        )
        return Stored(job, note_id, note.source, note.sha256, len(log.entries), added, False, others)

    @contextmanager
    def writing(self) -> Iterator[Database]:
        """One transaction: kept when the block ends, taken back when it raises; one within another is part of it."""
        if self._in_writing:
            yield self.db
            return
        with opening.plain_errors(self.path):
            self._in_writing = True
            try:
                if not migrations.applied(self.connection):
                    self.connection.execute("PRAGMA journal_mode = WAL")
                self.connection.execute("BEGIN IMMEDIATE")
                if migrations.pending(self.connection):
                    migrations.apply(self.db)
                yield self.db
                self.connection.execute("COMMIT")
            except BaseException:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise
            finally:
                self._in_writing = False

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """One look at the archive: all that is read within the block is of one moment, whatever others write."""
        with opening.plain_errors(self.path):
            if self.connection.in_transaction:
                yield self.connection
                return
            self.connection.execute("BEGIN")
            try:
                yield self.connection
            finally:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")

    def _is_empty(self) -> bool:
        try:
            return not self.connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        except sqlite3.Error:
            return False

    # --- reading ----------------------------------------------------------------------------------

    def jobs(self) -> list[JobSummary]:
        """Every job, the one with the newest note first."""
        with opening.plain_errors(self.path):
            rows = self.connection.execute(
                f"""SELECT jobs.*, count(DISTINCT notes.id) AS notes, count(entries.id) AS entries,
                          max(notes.added) AS last_added
                   FROM jobs LEFT JOIN notes ON notes.job_id = jobs.id
                        LEFT JOIN entries ON entries.note_id = notes.id AND {standing.SHOWN}
                   GROUP BY jobs.id ORDER BY coalesce(max(notes.added), jobs.created) DESC, jobs.id DESC"""
            ).fetchall()
        return [
            JobSummary(row["reference"], _vehicle(row), row["created"], row["notes"], row["entries"], row["last_added"])
            for row in rows
        ]

    def job(self, reference: str, *, rejected: bool = False) -> Job:
        """Everything known of one job, with the entries that people `rejected` only when they are asked for.

        Raises InputError when there is no job of this reference.
        """
        reference = _reference(reference)
        with self.reading():
            row = self._job_row(reference)
            notes = self.connection.execute("SELECT * FROM notes WHERE job_id = ? ORDER BY id", (row["id"],)).fetchall()
            return Job(row["reference"], _vehicle(row), row["created"], [self._note(note, rejected) for note in notes])

    def note(self, note_id: int) -> tuple[str, StoredNote]:
        """A note by its number, with the reference of its job. Raises InputError when there is none."""
        with self.reading() as connection:
            row = connection.execute(
                "SELECT notes.*, jobs.reference FROM notes JOIN jobs ON jobs.id = notes.job_id WHERE notes.id = ?",
                (note_id,),
            ).fetchone()
            if row is None:
                raise InputError(f"There is no note {note_id} in the archive {self.path}.")
            return row["reference"], self._note(row, rejected=False)

    def logs(self, reference: str) -> list[Log]:
        """The logs of a job's notes as they stand now, oldest note first. Raises InputError for an unknown job."""
        from notelog.models import SCHEMA, Log

        with self.reading() as connection:
            notes = self.job(reference).notes
            mentions = dict(connection.execute("SELECT id, mentions FROM notes"))
        return [
            Log.model_validate(
                {
                    "schema": SCHEMA,
                    "note": {"source": note.source, "sha256": note.sha256, "driver_side": note.driver_side},
                    "entries": [standing.contract(entry) for entry in note.entries],
                    "mentions": json.loads(mentions[note.id]),
                    "warnings": note.warnings,
                }
            )
            for note in notes
        ]

    def find(self, words: str, *, limit: int = 20, rejected: bool = False) -> list[Hit]:
        """Where all of the words are found, best first: entries, then the text of other notes.

        Word forms count as one ("bolts" finds "bolt"); words between double quotes stay together. Entries that
        people `rejected` are found only when they are asked for. Raises InputError when there is no word in `words`.
        """
        with self.reading():
            return search.find(self.connection, words, limit, rejected)

    def _note(self, row: sqlite3.Row, rejected: bool) -> StoredNote:
        entries = self.connection.execute(
            f"SELECT * FROM entries WHERE note_id = ? AND {standing.seen(rejected)} ORDER BY number", (row["id"],)
        ).fetchall()
        plain = ("id", "source", "sha256", "format", "encoding", "driver_side", "author", "dictated", "added", "text")
        return StoredNote(
            **{name: row[name] for name in plain},
            warnings=json.loads(row["warnings"]),
            entries=[standing.marked(self.connection, entry) for entry in entries],
        )

    def job_id(self, reference: str) -> int:
        """The number of a job in the archive's tables. Raises InputError for an unknown job."""
        with opening.plain_errors(self.path):
            return self._job_row(_reference(reference))["id"]

    def _job_id(self, reference: str) -> int | None:
        row = self.connection.execute("SELECT id FROM jobs WHERE reference = ?", (reference,)).fetchone()
        return row["id"] if row else None

    def _job_row(self, reference: str) -> sqlite3.Row:
        row = self.connection.execute("SELECT * FROM jobs WHERE reference = ?", (reference,)).fetchone()
        if row is None:
            raise self._unknown(reference)
        return row

    def _unknown(self, reference: str) -> InputError:
        return InputError(f"There is no job {reference!r} in the archive {self.path}: `notelog jobs` lists them.")


def _vehicle(row: sqlite3.Row) -> Vehicle:
    return Vehicle(**{name: row[name] for name in FIELDS})


def _reference(reference: str) -> str:
    squeezed = " ".join(reference.replace("\0", " ").split())
    if not squeezed:
        raise InputError("The job's reference is empty: give the number or name that the shop knows the job by.")
    return squeezed


def _iso_time(given: str | None) -> str | None:
    if given is None or not given.strip():
        return None
    given = given.strip()
    try:
        return date.fromisoformat(given).isoformat() if len(given) <= 10 else datetime.fromisoformat(given).isoformat()
    except ValueError:
        raise InputError(
            f"The time of dictation {given!r} is no date: write it as 2025-03-31 or 2025-03-31T16:05."
        ) from None


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
