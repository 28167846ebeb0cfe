"""Looking after the archive's file: whether it is sound, mending what can be made anew, giving room back, what is in it.

Notes, entries, readings, corrections and answers are what people gave; all else (full-text tables, facts, counts) is made
of them and can be made anew. `check` looks at both, `repair` makes the second anew and touches nothing of the first.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from notelog.archive import migrations, opening
from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive.store import Archive

FULL_TEXT = ("notes_fts", "entries_fts", "jobs_fts")
_MOST_TOLD = 20


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with an archive, and whether `repair` mends it."""

    what: str
    can_be_mended: bool


@dataclass(frozen=True, slots=True)
class Info:
    """What an archive holds: its file in bytes, how much of that could be given back, and rows by table."""

    path: str
    bytes: int
    free_bytes: int
    steps: list[str]
    sqlite: str
    rows: dict[str, int] = field(default_factory=dict)
    first_day: str | None = None
    last_day: str | None = None
    jobs_with_damage: int = 0
    components: int = 0


def check(archive: Archive) -> list[Problem]:
    """What is wrong with an archive; an empty list when all is well. It is only read.

    Raises InputError when it cannot be read at all.
    """
    problems: list[Problem] = []
    with archive.reading() as connection:
        told = [row[0] for row in connection.execute(f"PRAGMA integrity_check({_MOST_TOLD})")]
        problems += [Problem(f"the file is damaged: {one}", one.startswith(("row ", "wrong # of entries in index"))) for one in told if one != "ok"]
        for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check"):
            problems.append(Problem(f"row {row} of {table} belongs to a row of {parent} that is not there", False))
        problems += _payloads(connection)
        for name, wanted, there in (
            ("facts", migrations.FACTS_AS_THEY_SHOULD_BE, "SELECT * FROM facts"),
            ("damage_counts", migrations.COUNTS_AS_THEY_SHOULD_BE, "SELECT * FROM damage_counts WHERE jobs <> 0"),
        ):
            wrong = sum(
                connection.execute(f"SELECT count(*) FROM (SELECT * FROM ({one}) EXCEPT SELECT * FROM ({other}))").fetchone()[0]
                for one, other in ((wanted, there), (there, wanted))
            )
            if wrong:
                problems.append(Problem(f"{wrong} rows of {name} are not what the entries say", True))
    return problems + _full_text(archive)


def repair(archive: Archive) -> list[Problem]:
    """Make anew what is made of notes and entries, in one transaction. Gives what is wrong still.

    Raises InputError when the archive cannot be written.
    """
    with archive.writing():
        for statement in migrations.REFILL_FACTS:
            archive.connection.execute(statement)
        for table in FULL_TEXT:
            archive.connection.execute(f"INSERT INTO {table}({table}) VALUES ('rebuild')")
        archive.connection.execute("REINDEX")
    return check(archive)


def vacuum(archive: Archive) -> tuple[int, int]:
    """Give unused room back and put the full-text tables in order. Gives the size in bytes before and after.

    Raises InputError when the archive cannot be written, or another program uses it.
    """
    before = _size(archive)
    with archive.writing():
        for table in FULL_TEXT:
            archive.connection.execute(f"INSERT INTO {table}({table}) VALUES ('optimize')")
    with opening.plain_errors(archive.path):
        archive.connection.execute("VACUUM")
        archive.connection.execute("ANALYZE")
        archive.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return before, _size(archive)


def info(archive: Archive) -> Info:
    """What an archive holds. Raises InputError when it cannot be read."""
    with archive.reading() as connection:
        free, page = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("freelist_count", "page_size"))
        tables = ("jobs", "notes", "entries", "corrections", "answers")
        rows = {table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables}
        days = [
            connection.execute(f"SELECT {which}(coalesce(dictated, added)) FROM notes").fetchone()[0] for which in ("min", "max")
        ]
        (damaged,) = connection.execute("SELECT coalesce(max(jobs), 0) FROM damage_counts WHERE component_id = ''").fetchone()
        (components,) = connection.execute(
            "SELECT count(*) FROM damage_counts WHERE condition = '' AND component_id <> '' AND jobs > 0"
        ).fetchone()
        steps = migrations.applied(connection)
    return Info(
        str(archive.path), _size(archive), free * page, steps, sqlite3.sqlite_version, rows,
        *(day and day[:10] for day in days), damaged, components,
    )  # fmt: skip


def _size(archive: Archive) -> int:
    try:
        return archive.path.stat().st_size
    except OSError as error:
        raise InputError(f"The archive {archive.path} cannot be looked at: {error.strerror}.") from error


def _payloads(connection: sqlite3.Connection) -> list[Problem]:
    """Entries that are no entries of the contract any more."""
    from pydantic import TypeAdapter, ValidationError

    from notelog.models import Entry

    adapter: Any = TypeAdapter(Entry)
    problems: list[Problem] = []
    for id, payload in connection.execute("SELECT id, payload FROM entries"):
        try:
            adapter.validate_json(payload)
        except ValidationError as error:
            problems.append(Problem(f"entry {id} is none any more: {error.errors()[0]['msg']}", False))
            if len(problems) == _MOST_TOLD:
                break
    return problems


def _full_text(archive: Archive) -> list[Problem]:
    """Full-text tables that do not hold what their tables do; SQLite looks at that in a transaction of its own."""
    problems = []
    for table in FULL_TEXT:
        with opening.plain_errors(archive.path):
            try:
                archive.connection.execute("BEGIN")
                archive.connection.execute(f"INSERT INTO {table}({table}, rank) VALUES ('integrity-check', 1)")
            except sqlite3.DatabaseError as error:
                if not str(getattr(error, "sqlite_errorname", "")).startswith("SQLITE_CORRUPT"):
                    raise
                problems.append(Problem(f"{table} does not hold the words of its table", True))
            finally:
                archive.connection.execute("ROLLBACK")
    return problems
