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


DAMAGE = "kind = 'finding' AND status = 'present' AND condition <> 'good' AND standing <> 'rejected'"
"""The condition, in SQL, that a row of `facts` is damage: found, not denied, not only suspected, not rejected."""


def facts(db: Database) -> None:
    """What searching asks of an entry, in one narrow row, and in how many jobs each damage is.

    `facts` has the entries that are not gone, the rejected ones too; `damage_counts` counts jobs: by component and condition, by
    component (condition ''), and all that have any damage (both ''). Triggers keep them true within the transaction of
    every change, whoever makes it. `jobs_fts` holds the words of the vehicles.
    """
    db.execute("""
        CREATE TABLE facts (
            entry_id INTEGER PRIMARY KEY, note_id INTEGER NOT NULL, job_id INTEGER NOT NULL, day TEXT NOT NULL,
            kind TEXT NOT NULL, component_id TEXT, condition TEXT, action TEXT, status TEXT, state TEXT,
            side TEXT, axle TEXT, level TEXT, depth TEXT, standing TEXT NOT NULL
        )""")
    db.execute("CREATE TABLE damage_counts (component_id TEXT, condition TEXT, jobs INTEGER NOT NULL, PRIMARY KEY (component_id, condition)) WITHOUT ROWID")
    db.execute("CREATE INDEX facts_job ON facts(job_id, kind, component_id, condition, status, side, axle, standing)")
    db.execute("CREATE INDEX facts_component ON facts(component_id, kind, condition, status, side, axle, standing, job_id, day)")
    db.execute("CREATE INDEX facts_condition ON facts(condition, status, side, axle, standing, job_id, day) WHERE condition IS NOT NULL")
    db.execute("CREATE INDEX facts_action ON facts(action, component_id, job_id) WHERE action IS NOT NULL")
    db.execute("CREATE INDEX facts_money ON facts(kind, job_id) WHERE kind IN ('cost', 'labour')")
    db.execute("CREATE INDEX notes_day ON notes(coalesce(dictated, added))")
    keep = f"INSERT INTO facts {_FACTS_OF.format(entry='new')} AND new.standing <> 'gone';"
    db.execute(f"CREATE TRIGGER entries_facts_insert AFTER INSERT ON entries BEGIN {keep} END")
    db.execute(f"""
        CREATE TRIGGER entries_facts_update AFTER UPDATE OF payload, standing, note_id ON entries
        BEGIN DELETE FROM facts WHERE entry_id = old.id; {keep} END""")
    db.execute("CREATE TRIGGER entries_facts_delete AFTER DELETE ON entries BEGIN DELETE FROM facts WHERE entry_id = old.id; END")
    for verb, row, by in (("INSERT", "new", 1), ("DELETE", "old", -1)):
        db.execute(f"""
            CREATE TRIGGER facts_count_{verb.lower()} AFTER {verb} ON facts WHEN {_of(row)}
            BEGIN {" ".join(_count(row, by, *level) for level in _LEVELS)} END""")
    db["jobs"].enable_fts(["make", "model", "registration"], create_triggers=True, tokenize="unicode61")
    for statement in REFILL_FACTS:
        db.execute(statement)


_FACTS_OF = """
    SELECT {entry}.id, notes.id, notes.job_id, substr(coalesce(notes.dictated, notes.added), 1, 10), {entry}.kind,
           {entry}.component_id, {entry}.condition, {entry}.action, {entry}.status, {entry}.state,
           {entry}.side, {entry}.axle, {entry}.level, {entry}.depth, {entry}.standing
    FROM notes WHERE notes.id = {entry}.note_id"""

FACTS_AS_THEY_SHOULD_BE = _FACTS_OF.format(entry="entries").replace("FROM notes", "FROM notes JOIN entries") + " AND entries.standing <> 'gone'"
"""What `facts` has to hold, as a query over entries and notes."""

COUNTS_AS_THEY_SHOULD_BE = f"""
    SELECT component_id, condition, count(DISTINCT job_id) FROM facts
    WHERE {DAMAGE} AND component_id IS NOT NULL GROUP BY component_id, condition
    UNION ALL SELECT component_id, '', count(DISTINCT job_id) FROM facts
    WHERE {DAMAGE} AND component_id IS NOT NULL GROUP BY component_id
    UNION ALL SELECT '', '', count(DISTINCT job_id) FROM facts WHERE {DAMAGE} AND component_id IS NOT NULL
    HAVING count(*) > 0"""
"""What `damage_counts` has to hold, as a query over `facts`; it may hold rows of 0 jobs besides."""

REFILL_FACTS = (
    "DELETE FROM facts",
    "DELETE FROM damage_counts",
    f"INSERT INTO facts {FACTS_AS_THEY_SHOULD_BE} ORDER BY entries.id",
)
"""Makes `facts` and `damage_counts` anew; the triggers count what is put in."""

_LEVELS = (
    ("{row}.component_id", "{row}.condition", "AND component_id = {row}.component_id AND condition = {row}.condition"),
    ("{row}.component_id", "''", "AND component_id = {row}.component_id"),
    ("''", "''", ""),
)


def _of(row: str) -> str:
    names = ("kind", "status", "condition", "standing")
    condition = DAMAGE
    for name in names:
        condition = condition.replace(f"{name} ", f"{row}.{name} ")
    return f"{condition} AND {row}.component_id IS NOT NULL"


def _count(row: str, by: int, component: str, condition: str, same: str) -> str:
    component, condition, same = (one.format(row=row) for one in (component, condition, same))
    return f"""
        INSERT INTO damage_counts SELECT {component}, {condition}, {by} WHERE NOT EXISTS (
            SELECT 1 FROM facts WHERE job_id = {row}.job_id AND component_id IS NOT NULL AND {DAMAGE} {same}
            AND entry_id <> {row}.entry_id)
        ON CONFLICT(component_id, condition) DO UPDATE SET jobs = jobs + {by};"""


STEPS: tuple[Callable[[Database], None], ...] = (jobs_notes_entries, full_text, corrections, answers, facts)


def applied(connection: sqlite3.Connection) -> list[str]:
    """The names of the steps that the archive has had, in order; none for a new file."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'migrations'").fetchone():
        return []
    return [name for (name,) in connection.execute("SELECT name FROM migrations ORDER BY id")]


def pending(connection: sqlite3.Connection) -> list[Callable[[Database], None]]:
    """The steps still to be applied, in order.

    >>> [step.__name__ for step in pending(sqlite3.connect(":memory:"))]
    ['jobs_notes_entries', 'full_text', 'corrections', 'answers', 'facts']
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
