"""Where the archive lies, how it is opened, and what is said when SQLite refuses."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from notelog.archive import migrations
from notelog.errors import InputError

ENVIRONMENT = "NOTELOG_ARCHIVE"

OLDEST_SQLITE = (3, 31)
"""The first SQLite with columns read out of others (https://sqlite.org/gencol.html)."""

_TOLD = {
    "SQLITE_BUSY": "The archive {path} is being written by another program: try again when that has finished.",
    "SQLITE_LOCKED": "The archive {path} is being written by another program: try again when that has finished.",
    "SQLITE_READONLY": "The archive {path} can only be read: make the file and its folder writable, or name another "
    "one with --archive.",
    "SQLITE_FULL": "There is no room left to write the archive {path}: nothing was stored; free some space and try "
    "again.",
    "SQLITE_IOERR": "The archive {path} could not be read or written ({error}): nothing was stored; look at the disk.",
    "SQLITE_CANTOPEN": "The archive {path} cannot be opened: look whether its folder exists and may be read and "
    "written.",
    "SQLITE_NOTADB": "The file {path} is no archive, nor any SQLite file: name another one with --archive.",
    "SQLITE_CORRUPT": "The archive {path} is damaged ({error}): restore it from a copy.",
    "SQLITE_PERM": "The archive {path} may not be opened by you: ask for the right to read and write it.",
    "SQLITE_TOOBIG": "The note is too long for the archive {path}: split it.",
}


def archive_path(named: str | os.PathLike[str] | None = None) -> Path:
    """The archive's file: the one named, else that of NOTELOG_ARCHIVE, else one in the user's data folder.

    >>> archive_path("jobs.sqlite").name
    'jobs.sqlite'
    """
    if named or (named := os.environ.get(ENVIRONMENT)):
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("notelog", appauthor=False)) / "archive.sqlite"


def lexicon_path(archive: Path) -> Path:
    """The file of the shop's own lexicon, which lies beside its archive.

    >>> lexicon_path(Path("jobs.sqlite")).name
    'jobs.lexicon.csv'
    """
    return archive.with_name(f"{archive.stem}.lexicon.csv")


def shop_lexicon(archive: Path) -> Path | None:
    """The file of the shop's own lexicon where there is one, else None.

    >>> shop_lexicon(Path("no-such-folder") / "jobs.sqlite")
    """
    file = lexicon_path(archive)
    return file if file.is_file() else None


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn SQLite's complaints about the file into one sentence (InputError); others stay what they are."""
    try:
        yield
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", "") or ""
        for start, sentence in _TOLD.items():
            if name.startswith(start):
                raise InputError(sentence.format(path=path, error=error)) from error
        raise


def connect(path: Path, *, create: bool, wait: float) -> sqlite3.Connection:
    """A connection to the archive, found to be one: ours, and of a version that this program knows.

    `create` allows a file that does not exist yet or is still empty; `wait` is how many seconds to wait for
    another program that is writing. Raises InputError.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise InputError(f"This Python has SQLite {sqlite3.sqlite_version}, which is too old: use a newer Python.")
    if path.is_dir():
        raise InputError(f"The archive {path} is a folder: name a file with --archive.")
    if not create and not path.exists():
        raise InputError(f"There is no archive at {path} yet: store a first note with `notelog add FILE --job REF`.")
    if create:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(f"The folder {path.parent} for the archive cannot be made: {error.strerror}.") from error
    with plain_errors(path):
        connection = _open(path, "rwc" if create else "rw", wait)
        try:
            try:
                _check(connection, path, create)
            except sqlite3.OperationalError as error:
                # A write-ahead log needs a writable folder; without a log beside it the file is whole by itself.
                if create or error.sqlite_errorname != "SQLITE_CANTOPEN" or Path(f"{path}-wal").exists():
                    raise
                connection.close()
                connection = _open(path, "ro&immutable=1", wait)
                _check(connection, path, create)
        except BaseException:
            connection.close()
            raise
    return connection


def _open(path: Path, mode: str, wait: float) -> sqlite3.Connection:
    uri = f"{path.resolve().as_uri()}?mode={mode}"
    # Transactions are begun and ended by the store alone, so the driver must begin none of its own.
    connection = sqlite3.connect(uri, uri=True, timeout=wait, isolation_level=None)
    connection.row_factory = sqlite3.Row
    return connection


def _check(connection: sqlite3.Connection, path: Path, create: bool) -> None:
    connection.execute("PRAGMA foreign_keys = ON")
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    if mark != migrations.APPLICATION_ID:
        (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        if tables or mark:
            raise InputError(f"The file {path} belongs to another program: it was left alone; name another one.")
        if not create:
            raise InputError(f"The archive {path} is empty: store a first note with `notelog add FILE --job REF`.")
        return
    known = {step.__name__ for step in migrations.STEPS}
    if newer := [name for name in migrations.applied(connection) if name not in known]:
        raise InputError(f"The archive {path} was written by a newer version ({newer[0]}): update this program.")
