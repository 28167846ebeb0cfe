"""Extraction again: the notes of the archive are read anew, with the lexicon and the program as they are now.

Each note is one transaction, and remembers with what it was read, so that a run which was interrupted goes on with the
notes that are left. Entries that a person decided about stay as the person left them; the others follow the new
extraction under the numbers that they had (`notelog.archive.matching` has the rule). What changed is reported.
"""

from __future__ import annotations

import functools
import hashlib
import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from notelog.archive import corrections, fields, matching, opening, standing
from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive.store import Archive, StoredNote
    from notelog.lexicon import Lexicon
    from notelog.models import Log, Note

_STEPS = ("reading", "hearing", "lexicon", "understanding", "log", "models.py")


@dataclass(frozen=True, slots=True)
class Changed:
    """An entry as it was and as it is read now; None where the extraction does not give it any more."""

    before: dict[str, Any]
    after: dict[str, Any] | None


@dataclass(frozen=True, slots=True)
class NoteChanges:
    """What extraction again made of a note.

    `added` are entries that are new, or there again; `gone` those that nobody had decided about and that are read no
    more; `changed` those that are understood otherwise; `kept` those that a person decided about, as they stand, each
    with the reading that now differs from the one before. `problem` tells why a note could not be read, and then it
    was left as it was.
    """

    job: str
    note: int
    source: str
    added: list[dict[str, Any]] = field(default_factory=list)
    gone: list[dict[str, Any]] = field(default_factory=list)
    changed: list[Changed] = field(default_factory=list)
    kept: list[Changed] = field(default_factory=list)
    problem: str | None = None

    def __bool__(self) -> bool:
        """Whether there is anything to tell."""
        return bool(self.added or self.gone or self.changed or self.kept or self.problem)


def reader(shop_file: Path | None = None) -> str:
    """The lexicon and program that read notes now: the version, and a digest of both as they lie on the disk.

    `shop_file` is the file of the shop's own lexicon, where there is one; without it the digest is that of before.

    >>> reader().count("+")
    1
    """
    if shop_file is None:
        return _reader()
    own = hashlib.sha256(shop_file.read_bytes()).hexdigest()
    return f"{_reader()}+{own[:12]}"


@functools.lru_cache(maxsize=1)
def _reader() -> str:
    import notelog
    from notelog.paths import data_folder

    package = Path(notelog.__file__).parent
    files = [*data_folder("lexicon").rglob("*.csv")]
    for step in _STEPS:
        files += [package / step] if step.endswith(".py") else (package / step).rglob("*.py")
    files += (package / "understanding").glob("*.npz")
    digest = hashlib.sha256()
    for file in sorted(files, key=lambda file: file.as_posix()):
        digest.update(file.name.encode() + b"\0" + hashlib.sha256(file.read_bytes()).digest())
    return f"{notelog.__version__}+{digest.hexdigest()[:12]}"


def notes_to_read(archive: Archive, reference: str | None = None, *, anyway: bool = False) -> list[int]:
    """The ids of the notes, of one job or of all, that were not read with the `reader` of now; `anyway` all of them.

    Raises InputError for an unknown job.
    """
    with archive.reading() as connection:
        job_id = None if reference is None else archive.job_id(reference)
        rows = connection.execute(
            """SELECT id FROM notes WHERE (:job IS NULL OR job_id = :job) AND (:anyway OR read_with IS NOT :reader)
               ORDER BY id""",
            {"job": job_id, "anyway": anyway, "reader": reader(opening.shop_lexicon(archive.path))},
        )
        return [row["id"] for row in rows]


def read_again(archive: Archive, note_id: int, extract: Callable[[StoredNote], Log] | None = None) -> NoteChanges:
    """Read one note again and store what changed, in one transaction.

    `extract` gives the log of a stored note; it is `log_stored` unless another one is given. Raises InputError when
    the archive has no such note or cannot be written.
    """
    with archive.reading():
        job, stored = archive.note(note_id)
    lexicon = archive.lexicon()
    try:
        log = extract(stored) if extract else log_stored(stored, lexicon)
    except InputError as problem:
        return NoteChanges(job, note_id, stored.source, problem=str(problem))
    with archive.writing():
        return _Renewal(archive, job, stored, None if extract else reader(lexicon.shop_file)).renew(log)


def log_stored(stored: StoredNote, lexicon: Lexicon | None = None) -> Log:
    """The log of a stored note, as extraction makes it now. Raises InputError when the note is no note any more."""
    from notelog.log import log_note

    return log_note(read_stored(stored), stored.driver_side, lexicon=lexicon)


def read_stored(stored: StoredNote) -> Note:
    """A stored note as it was read from its file."""
    from notelog.reading import read_bytes, read_text

    try:
        data = stored.text.encode(stored.encoding)
    except (LookupError, UnicodeEncodeError):
        data = b""
    if hashlib.sha256(data).hexdigest() == stored.sha256:
        return read_bytes(data, stored.source)
    # The file had damaged characters, so that its bytes cannot be had back from its text: what was warned of stands.
    note = read_text(stored.text, stored.source)
    note.sha256 = stored.sha256
    note.warnings = list(dict.fromkeys([*stored.warnings, *note.warnings]))
    return note


class _Renewal:
    """One note's entries put beside a new log of it, within a transaction."""

    def __init__(self, archive: Archive, job: str, stored: StoredNote, read_with: str | None) -> None:
        self.archive, self.connection, self.note_id = archive, archive.connection, stored.id
        self.read_with, self.at = read_with, datetime.now(UTC).isoformat(timespec="seconds")
        self.changes = NoteChanges(job, stored.id, stored.source)

    def renew(self, log: Log) -> NoteChanges:
        rows = self.connection.execute(
            "SELECT * FROM entries WHERE note_id = ? ORDER BY number", (self.note_id,)
        ).fetchall()
        read = [entry.model_dump(mode="json") for entry in log.entries]
        matched = matching.match([self._known(row) for row in rows], read)
        by_id = {row["id"]: row for row in rows}
        # New ones stand behind all others until they are put in order.
        behind = corrections.LARGEST_ID - len(read)
        for number, payload in enumerate(read):
            if number in matched.pairs:
                self._read(by_id.pop(matched.pairs[number]), payload)
            elif number not in matched.covered:
                self._new(behind + number, payload)
        for row in by_id.values():
            self._dropped(row)
        corrections.put_in_order(self.archive, self.note_id)
        self.connection.execute(
            "UPDATE notes SET mentions = ?, warnings = ?, read_with = ? WHERE id = ?",
            (
                json.dumps([mention.model_dump() for mention in log.mentions]),
                json.dumps(log.warnings, ensure_ascii=False),
                self.read_with,
                self.note_id,
            ),
        )
        return self.changes

    def _known(self, row: sqlite3.Row) -> matching.Known:
        faces = [json.loads(row["payload"])]
        if row["standing"] in ("decided", "rejected"):
            faces += [
                json.loads(payload)
                for (payload,) in self.connection.execute(
                    "SELECT DISTINCT payload FROM readings WHERE entry_id = ? AND payload IS NOT NULL", (row["id"],)
                )
            ]
        return matching.Known(row["id"], row["standing"], tuple(faces))

    def _read(self, row: sqlite3.Row, payload: dict[str, Any]) -> None:
        before, stands = json.loads(row["payload"]), row["standing"]
        newest = standing.newest_reading(self.connection, row["id"])
        last = json.loads(newest["payload"]) if newest and newest["payload"] else None
        if last == payload:
            return
        self._store(row, payload, before if stands in ("decided", "rejected") else payload)
        if stands == "decided":
            known = [standing.what_is_said(one) for one in (before, last) if one]
            if standing.what_is_said(payload) not in known:
                self.changes.kept.append(Changed(self._entry(row), payload))
        elif stands == "gone":
            self.changes.added.append(self._entry(row))
        elif stands == "open" and fields.differences(before, payload):
            self.changes.changed.append(Changed({"id": row["id"]} | before, self._entry(row)))

    def _new(self, number: int, payload: dict[str, Any]) -> None:
        entry_id = self.connection.execute(
            "INSERT INTO entries(note_id, number, payload) VALUES (?, ?, ?)",
            (self.note_id, number, json.dumps(payload, ensure_ascii=False)),
        ).lastrowid
        self._reading(entry_id, 1, payload)
        self.changes.added.append(corrections.entry(self.archive, entry_id))

    def _dropped(self, row: sqlite3.Row) -> None:
        newest = standing.newest_reading(self.connection, row["id"])
        if newest is None or newest["payload"] is None:
            return
        self._store(row, None, json.loads(row["payload"]))
        if row["standing"] == "decided":
            self.changes.kept.append(Changed(self._entry(row), None))
        elif row["standing"] == "open":
            self.changes.gone.append(self._entry(row))

    def _store(self, row: sqlite3.Row, reading: dict[str, Any] | None, payload: dict[str, Any]) -> None:
        decided = row["standing"] in ("decided", "rejected")
        stands = row["standing"] if decided else "open" if reading else "gone"
        self._reading(row["id"], row["revision"] + 1, reading)
        self.connection.execute(
            "UPDATE entries SET payload = ?, standing = ?, revision = revision + 1 WHERE id = ?",
            (json.dumps(payload, ensure_ascii=False), stands, row["id"]),
        )

    def _reading(self, entry_id: int, revision: int, payload: dict[str, Any] | None) -> None:
        self.connection.execute(
            "INSERT INTO readings(entry_id, revision, payload, read_with, at) VALUES (?, ?, ?, ?, ?)",
            (entry_id, revision, json.dumps(payload, ensure_ascii=False) if payload else None, self.read_with, self.at),
        )

    def _entry(self, row: sqlite3.Row) -> dict[str, Any]:
        return corrections.entry(self.archive, row["id"])
