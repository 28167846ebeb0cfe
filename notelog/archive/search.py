"""Full-text search over entries and notes."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass
from typing import Any

from notelog.archive import standing
from notelog.errors import InputError

_PHRASE_OR_WORD = re.compile(r'"([^"]*)"|(\S+)')


@dataclass(frozen=True, slots=True)
class Hit:
    """A place where the words were found: an entry, or (`entry` is None) the text of a note.

    `words` is the quote that the entry came from, or the piece of the note around the words.
    """

    job: str
    note: int
    source: str
    author: str | None
    dictated: str | None
    added: str
    words: str
    entry: dict[str, Any] | None = None


def match_expression(words: str) -> str:
    """What is asked of FTS5: every word quoted, so that none of its operators can be meant; all must be found.

    Words between double quotes stay together as a phrase. Raises InputError when no letter or digit is left.

    >>> match_expression('lower arm OR "pinch bolt" NEAR(x* -col:y')
    '"lower" "arm" "OR" "pinch bolt" "NEAR(x*" "-col:y"'
    """
    # A quote without its partner, and a NUL, would end the string that they stand in.
    found = (phrase or word for phrase, word in _PHRASE_OR_WORD.findall(words.replace("\0", " ")))
    quoted = ['"' + one.replace('"', " ").strip() + '"' for one in found if re.search(r"\w", one.replace("_", ""))]
    if not quoted:
        raise InputError(f"There is no word to look for in {words!r}: give at least one, such as a part's name.")
    return " ".join(quoted)


def quoted(word: str) -> str:
    """A word or phrase as FTS5 takes it for nothing but itself; "" where no letter or digit is in it.

    >>> quoted('in "half"'), quoted("--")
    ('"in  half"', '')
    """
    word = word.replace("\0", " ").replace('"', " ").strip()
    return f'"{word}"' if re.search(r"\w", word.replace("_", "")) else ""


def find(connection: sqlite3.Connection, words: str, limit: int, rejected: bool = False) -> list[Hit]:
    """The best `limit` hits of all of the words: entries first, then notes none of whose entries was found."""
    return matching(connection, match_expression(words), limit, rejected)


def matching(connection: sqlite3.Connection, asked: str, limit: int, rejected: bool = False) -> list[Hit]:
    """The best `limit` hits of an expression of FTS5: entries first, then notes none of whose entries was found."""
    seen = standing.seen(rejected)
    about = "jobs.reference AS job, notes.id AS note, notes.source, notes.author, notes.dictated, notes.added"
    entries = connection.execute(
        f"""SELECT {about}, entries.quote AS words, entries.id, entries.payload, entries.standing, entries.revision
            FROM entries_fts JOIN entries ON entries.id = entries_fts.rowid
            JOIN notes ON notes.id = entries.note_id JOIN jobs ON jobs.id = notes.job_id
            WHERE entries_fts MATCH ? AND {seen} ORDER BY entries_fts.rank, entries.id LIMIT ?""",
        (asked, limit),
    ).fetchall()
    notes = connection.execute(
        f"""SELECT {about}, snippet(notes_fts, 0, '', '', '…', 24) AS words
            FROM notes_fts JOIN notes ON notes.id = notes_fts.rowid JOIN jobs ON jobs.id = notes.job_id
            WHERE notes_fts MATCH :asked AND NOT EXISTS (
                SELECT 1 FROM entries_fts JOIN entries ON entries.id = entries_fts.rowid
                WHERE entries_fts MATCH :asked AND entries.note_id = notes.id AND {seen})
            ORDER BY notes_fts.rank, notes.id LIMIT :limit""",
        {"asked": asked, "limit": max(0, limit - len(entries))},
    ).fetchall()
    plain = ("job", "note", "source", "author", "dictated", "added", "words")
    return [
        *(Hit(**{name: row[name] for name in plain}, entry=standing.marked(connection, row)) for row in entries),
        *(Hit(**{name: row[name] for name in plain}) for row in notes),
    ]
