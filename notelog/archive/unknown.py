"""What the notes asked for that no lexicon holds: the parts that were logged as unknown, counted, with quotes."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from notelog.archive import standing
from notelog.lexicon import Lexicon, forms_of, normal
from notelog.lexicon.near import Near, nearest
from notelog.lexicon.words import words_of

if TYPE_CHECKING:
    from notelog.archive.store import Archive

MOST_QUOTES = 2


@dataclass(frozen=True, slots=True)
class Quoted:
    """The words of an entry, with the note (its number and its source) and the job that they are from."""

    text: str
    note: int
    source: str
    job: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Unknown:
    """Words that stand for a part in the notes and that no lexicon holds: in how many entries, notes and jobs, with one
    or two quotes, of different notes where there are some, and the entries that are nearest to the words."""

    words: str
    entries: int
    notes: int
    jobs: int
    quotes: list[Quoted] = field(default_factory=list)
    nearest: list[Near] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Asked:
    """`unknown` are the words that no lexicon holds, the most frequent first; `learnt` counts the entries whose words the
    lexicon has learnt since their notes were read."""

    unknown: list[Unknown]
    learnt: int = 0


def asked_for(archive: Archive) -> Asked:
    """What the notes of an archive asked for that neither the shipped lexicon nor the shop's own holds.

    Entries that people rejected do not count. Raises InputError when the archive or the lexicon cannot be read.
    """
    lexicon = archive.lexicon()
    with archive.reading() as connection:
        rows = connection.execute(
            f"""SELECT entries.payload, notes.id AS note, notes.source, jobs.reference AS job
                FROM entries JOIN notes ON notes.id = entries.note_id JOIN jobs ON jobs.id = notes.job_id
                WHERE {standing.SHOWN} AND json_extract(entries.payload, '$.component.id') = 'unknown'
                ORDER BY notes.id, entries.number"""
        ).fetchall()
    groups: dict[str, list[tuple[dict[str, Any], Any]]] = {}
    learnt = 0
    for row in rows:
        entry = json.loads(row["payload"])
        label = normal(entry["component"]["label"])
        if lexicon.find(label) is not None:
            learnt += 1
        elif label and not _means_something(label, lexicon):
            groups.setdefault(label, []).append((entry, row))
    found = [_unknown(group, lexicon) for group in groups.values()]
    return Asked(sorted(found, key=lambda one: (-one.entries, -one.notes, one.words)), learnt)


def _means_something(label: str, lexicon: Lexicon) -> bool:
    """Whether the words are a fastener, a tool or the like, which an entry may have as its component too ("bolt")."""
    return words_of(label) in forms_of(lexicon).whole


def _unknown(group: list[tuple[dict[str, Any], Any]], lexicon: Lexicon) -> Unknown:
    words = group[0][0]["component"]["label"]
    return Unknown(
        words,
        len(group),
        len({row["note"] for _, row in group}),
        len({row["job"] for _, row in group}),
        list(_quotes(group)),
        nearest(words, lexicon),
    )


def _quotes(group: list[tuple[dict[str, Any], Any]]) -> Iterable[Quoted]:
    """The first quote of each note, and further ones of the same note only where there are no others."""
    seen: set[int] = set()
    first, rest = [], []
    for entry, row in group:
        if entry["evidence"]["text"]:
            (rest if row["note"] in seen else first).append((entry["evidence"], row))
            seen.add(row["note"])
    told = {}
    for evidence, row in first + rest:
        told.setdefault((row["note"], evidence["text"]), (evidence, row))
    for evidence, row in list(told.values())[:MOST_QUOTES]:
        yield Quoted(evidence["text"], row["note"], row["source"], row["job"], evidence["start"], evidence["end"])
