"""The tables of the archive, built in small named steps that are each applied once, in order.

A step is never changed once it was released: a change of the tables is a new step at the end. The table
`migrations` of the archive remembers which steps it has had. `STEPS` can be read without sqlite-utils.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlite_utils import Database

APPLICATION_ID = 0x6E6C6F67
"""Marks an SQLite file as an archive of this program (`PRAGMA application_id`): "nlog" in ASCII."""


def jobs_notes_entries(db: Database) -> None:
    """Jobs, notes and entries. The columns of an entry are read out of its payload, so that they cannot disagree."""
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute("""
        CREATE TABLE jobs (
            id INTEGER PRIMARY KEY,
            reference TEXT NOT NULL UNIQUE COLLATE NOCASE,
            make TEXT, model TEXT, year INTEGER, vin TEXT, registration TEXT, mileage INTEGER,
            created TEXT NOT NULL
        )""")
    db.execute("""
        CREATE TABLE notes (
            id INTEGER PRIMARY KEY,
            job_id INTEGER NOT NULL REFERENCES jobs(id),
            text TEXT NOT NULL,
            sha256 TEXT NOT NULL,
            source TEXT NOT NULL,
            format TEXT NOT NULL,
            encoding TEXT NOT NULL,
            driver_side TEXT NOT NULL CHECK (driver_side IN ('left', 'right')),
            author TEXT,
            dictated TEXT,
            mentions TEXT NOT NULL CHECK (json_valid(mentions)),
            warnings TEXT NOT NULL CHECK (json_valid(warnings)),
            added TEXT NOT NULL,
            UNIQUE (job_id, sha256)
        )""")
    db.execute("CREATE INDEX notes_sha256 ON notes(sha256)")
    read_out = {
        "kind": ("TEXT", "$.kind"),
        "component_id": ("TEXT", "$.component.id"),
        "component_label": ("TEXT", "$.component.label"),
        "component_said": ("TEXT", "$.component.said"),
        "tool_label": ("TEXT", "$.tool.label"),
        "material_label": ("TEXT", "$.material.label"),
        "condition": ("TEXT", "$.condition"),
        "action": ("TEXT", "$.action"),
        "status": ("TEXT", "$.status"),
        "state": ("TEXT", "$.state"),
        "quantity": ("TEXT", "$.quantity"),
        "side": ("TEXT", "$.position.side"),
        "axle": ("TEXT", "$.position.axle"),
        "level": ("TEXT", "$.position.level"),
        "depth": ("TEXT", "$.position.depth"),
        "quote": ("TEXT", "$.evidence.text"),
        "quote_start": ("INTEGER", "$.evidence.start"),
        "confidence": ("REAL", "$.confidence"),
    }
    columns = ",\n".join(
        f"{name} {affinity} GENERATED ALWAYS AS (json_extract(payload, '{where}')) VIRTUAL"
        for name, (affinity, where) in read_out.items()
    )
    db.execute(f"""
        CREATE TABLE entries (
            id INTEGER PRIMARY KEY,
            note_id INTEGER NOT NULL REFERENCES notes(id),
            number INTEGER NOT NULL,
            payload TEXT NOT NULL CHECK (json_valid(payload)),
            {columns},
            UNIQUE (note_id, number)
        )""")
    db.execute("CREATE INDEX entries_kind ON entries(kind)")
    db.execute("CREATE INDEX entries_component ON entries(component_id, condition)")


def full_text(db: Database) -> None:
    """Full-text tables over notes and entries; triggers keep them true within the same transaction."""
    db["notes"].enable_fts(["text"], create_triggers=True, tokenize="porter unicode61")
    db["entries"].enable_fts(
        [
            "component_label", "component_said", "tool_label", "material_label", "condition", "action", "quantity",
            "side", "axle", "level", "depth", "quote",
        ],
        create_triggers=True,
        tokenize="porter unicode61",
    )  # fmt: skip


def corrections(db: Database) -> None:
    """What extraction read for each entry, what people decided about it, and how it stands after both.

    `entries.payload` is the entry as it is shown: the newest reading, or what a person made of it. `readings` has what
    each extraction gave (no payload: it gave nothing any more), `corrections` what people decided, each with the old
    and the new value and the revision of the entry that it made, so that both together are the entry's history.
    """
    db.execute("""
        ALTER TABLE entries ADD COLUMN standing TEXT NOT NULL DEFAULT 'open'
            CHECK (standing IN ('open', 'decided', 'rejected', 'gone'))""")
    db.execute("ALTER TABLE entries ADD COLUMN revision INTEGER NOT NULL DEFAULT 1")
    db.execute("ALTER TABLE notes ADD COLUMN read_with TEXT")
    db.execute("""
        CREATE TABLE readings (
            id INTEGER PRIMARY KEY,
            entry_id INTEGER NOT NULL REFERENCES entries(id) ON DELETE CASCADE,
            revision INTEGER NOT NULL,
            payload TEXT CHECK (payload IS NULL OR json_valid(payload)),
            read_with TEXT,
            at TEXT NOT NULL
        )""")
    db.execute("CREATE INDEX readings_entry ON readings(entry_id)")
    db.execute("""
        INSERT INTO readings(entry_id, revision, payload, at)
        SELECT entries.id, 1, entries.payload, notes.added FROM entries JOIN notes ON notes.id = entries.note_id""")
    db.execute("""
        CREATE TABLE corrections (
            id INTEGER PRIMARY KEY,
            entry_id INTEGER NOT NULL REFERENCES entries(id),
            revision INTEGER NOT NULL,
            act TEXT NOT NULL CHECK (act IN ('added', 'accepted', 'changed', 'rejected')),
            field TEXT CHECK ((field IS NOT NULL) = (act = 'changed')),
            old TEXT CHECK (old IS NULL OR json_valid(old)),
            new TEXT CHECK (new IS NULL OR json_valid(new)),
            who TEXT NOT NULL CHECK (who <> ''),
            why TEXT,
            at TEXT NOT NULL
        )""")
    db.execute("CREATE INDEX corrections_entry ON corrections(entry_id)")
    _never_overwritten(db, "corrections")


def answers(db: Database) -> None:
    """Answers to the questions that the ledger asks; the newest answer of a question counts, none takes it back."""
    db.execute("""
        CREATE TABLE answers (
            id INTEGER PRIMARY KEY,
            job_id INTEGER NOT NULL REFERENCES jobs(id),
            question TEXT NOT NULL CHECK (question <> ''),
            value TEXT,
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL
        )""")
    db.execute("CREATE INDEX answers_question ON answers(job_id, question)")
    _never_overwritten(db, "answers")


def _never_overwritten(db: Database, table: str) -> None:
    for verb in ("UPDATE", "DELETE"):
        db.execute(f"""
            CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table}
            BEGIN SELECT RAISE(ABORT, '{table} are kept for ever'); END""")


STEPS: tuple[Callable[[Database], None], ...] = (jobs_notes_entries, full_text, corrections, answers)


def applied(connection: sqlite3.Connection) -> list[str]:
    """The names of the steps that the archive has had, in order; none for a new file."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'migrations'").fetchone():
        return []
    return [name for (name,) in connection.execute("SELECT name FROM migrations ORDER BY id")]


def pending(connection: sqlite3.Connection) -> list[Callable[[Database], None]]:
    """The steps still to be applied, in order.

    >>> [step.__name__ for step in pending(sqlite3.connect(":memory:"))]
    ['jobs_notes_entries', 'full_text', 'corrections', 'answers']
    """
    done = set(applied(connection))
    return [step for step in STEPS if step.__name__ not in done]


def apply(db: Database) -> None:
    """Apply the pending steps within the transaction that the caller has begun."""
    db.execute(
        "CREATE TABLE IF NOT EXISTS migrations (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, applied TEXT)"
    )
    for step in pending(db.conn):
        step(db)
        db["migrations"].insert({"name": step.__name__, "applied": datetime.now(UTC).isoformat(timespec="seconds")})
