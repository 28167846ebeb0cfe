"""A question put to the archive: which jobs and entries match it, how well, and why.

Each thing that is wanted is looked for in the narrow rows of `facts`, by an index. A job that has all of them matches;
one that lacks some, or has what is nearly it (a kindred condition, a place that nobody said), is near and comes behind.
Matching jobs are put in order by the weight of what they have (rare damage weighs more), then by how well their notes
match the words that only rank (BM25 of FTS5), then the newest first.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from notelog.archive import search, standing
from notelog.archive.question import Question, Wanted, read_question, told, wanted_told
from notelog.archive.vehicle import FIELDS, Vehicle
from notelog.archive.vocabulary import Vocabulary

if TYPE_CHECKING:
    from notelog.archive.store import Archive

MOST_ENTRIES = 6
"""The most entries that are shown for each thing that a job was found by."""

_LEAST_KIN = 0.5
_NEARLY = 0.4
_BY_WORDS = 2_000
_NOT_FOUND = ("absent", "suspected", "not_done")


@dataclass(frozen=True, slots=True)
class FoundEntry:
    """An entry (or, where `entry` is None, words of a note) that a job was found by, and `why`."""

    note: int
    source: str
    author: str | None
    words: str
    why: list[str]
    entry: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class FoundJob:
    """A job that was found, with the newest `day` of its notes that matched.

    `missing` is what was asked for and is not there, or only nearly; a job without such is a match. `score` is comparable
    within one answer only.
    """

    job: str
    day: str
    vehicle: Vehicle
    score: float
    missing: list[str] = field(default_factory=list)
    entries: list[FoundEntry] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Found:
    """`jobs` is one page of what was found, the best first; `total` counts all that match, `near` all that are near."""

    total: int
    near: int
    jobs: list[FoundJob] = field(default_factory=list)


def in_use(connection: sqlite3.Connection) -> Callable[[str], str]:
    """Tells of a word whether the archive's vehicles ("vehicle") or notes ("note") have it, as `read_question` asks."""

    def where(word: str) -> str:
        asked = search.quoted(word)
        for table, name in (("jobs_fts", "vehicle"), ("notes_fts", "note")):
            if asked and connection.execute(f"SELECT 1 FROM {table} WHERE {table} MATCH ? LIMIT 1", (asked,)).fetchone():
                return name
        return ""

    return where


def ask(archive: Archive, text: str, known: Vocabulary, *, driver_side: str = "right", today: date | None = None) -> Question:
    """What a question asks for, its words looked up in the lexicon and in the archive. Raises InputError as `read_question`."""
    with archive.reading() as connection:
        return read_question(text, known, driver_side=driver_side, today=today, in_use=in_use(connection))


def find_jobs(
    archive: Archive, asked: Question, known: Vocabulary, *, limit: int = 20, offset: int = 0, exact: bool = False
) -> Found:
    """The jobs that match a question, the best first, from the `offset`-th on; `exact` leaves out those that are near.

    Raises InputError when the archive cannot be read.
    """
    with archive.reading() as connection:
        if not asked.is_understood() and not asked.phrases:
            return _by_words(connection, asked, limit, offset)
        exactly = _Search(connection, asked, known)
        rows = exactly.jobs(limit, offset, all_of_it=True)
        total = rows[0]["total"] if rows else exactly.count() if offset else 0
        found = [exactly.found(row) for row in rows]
        near = 0
        if not exact and asked.wanted and len(found) < limit:
            loosely = _Search(connection, asked, known, loose=True)
            nearly = loosely.jobs(limit - len(found), max(0, offset - total), all_of_it=False, without=exactly)
            near = nearly[0]["total"] if nearly else 0
            found += [loosely.found(row) for row in nearly]
        return Found(total, near, found)


class _Search:
    """The SQL of one question, with the values for it; `loose` takes what is nearly wanted as well."""

    def __init__(self, connection: sqlite3.Connection, asked: Question, known: Vocabulary, loose: bool = False) -> None:
        self.connection, self.asked, self.known, self.loose = connection, asked, known, loose
        self.wanted = [loosened(one, known) for one in asked.wanted] if loose else list(asked.wanted)
        self.weights = [_weight(connection, one, known) for one in asked.wanted]

    def jobs(self, limit: int, offset: int, *, all_of_it: bool, without: _Search | None = None) -> list[sqlite3.Row]:
        """Rows of job_id, day, parts, score and total, the best first."""
        sql, values = self._matching(all_of_it)
        if without is not None:
            other, more = without._matching(True)
            sql, values = f"{sql} AND job_id NOT IN (SELECT job_id FROM ({other}))", values + more
        rest, words = self._rest()
        return self.connection.execute(
            f"""WITH found AS ({sql}){rest}
                SELECT found.job_id, day, parts, weight, {'coalesce(rest.score, 0)' if rest else '0'} AS by_words,
                       count(*) OVER () AS total
                FROM found {'LEFT JOIN rest ON rest.job_id = found.job_id' if rest else ''}
                ORDER BY weight DESC, by_words DESC, day DESC, found.job_id DESC LIMIT ? OFFSET ?""",
            (*values, *words, limit, offset),
        ).fetchall()

    def count(self) -> int:
        sql, values = self._matching(True)
        return self.connection.execute(f"SELECT count(*) FROM ({sql})", values).fetchone()[0]

    def _matching(self, all_of_it: bool) -> tuple[str, list[Any]]:
        values: list[Any] = []
        if not self.wanted:
            days, values = _between("coalesce(dictated, added)", self.asked)
            of = f"SELECT job_id, max(substr(coalesce(dictated, added), 1, 10)) AS day, 0 AS parts, 0.0 AS weight FROM notes WHERE {days} GROUP BY job_id"
        else:
            parts = []
            for one, weight in zip(self.wanted, self.weights, strict=True):
                where, more = _where(one, self.known, self.asked, self.loose)
                much = f"{weight:.6f}"
                if self.loose:  # what is only nearly wanted counts less
                    exactly, before = _where(self.asked.wanted[len(parts)], self.known, self.asked, False)
                    much = f"{much} * max(CASE WHEN {exactly} THEN 1.0 ELSE {_NEARLY} END)"
                    values += before
                parts.append(f"SELECT job_id, max(day) AS day, {much} AS weight FROM facts WHERE {where} GROUP BY job_id")
                values += more
            if len(parts) == 1:
                of = parts[0].replace(" AS weight", " AS weight, 1 AS parts")
            else:
                having = f"HAVING count(*) = {len(parts)}" if all_of_it else ""
                of = (
                    "SELECT job_id, max(day) AS day, sum(weight) AS weight, count(*) AS parts FROM "
                    f"({' UNION ALL '.join(parts)}) GROUP BY job_id {having}"
                )
        only, more = self._of_the_job()
        return f"SELECT job_id, day, weight, parts FROM ({of}) WHERE {only}", values + more

    def _of_the_job(self) -> tuple[str, list[Any]]:
        asked, clauses, values = self.asked, ["1"], []
        groups = [[name for one in asked.classes for name in self.known.classes[one]], *([word] for word in asked.vehicle_words)]
        for names in groups:
            if names:
                clauses.append("job_id IN (SELECT rowid FROM jobs_fts WHERE jobs_fts MATCH ?)")
                values.append(" OR ".join(filter(None, map(search.quoted, names))))
        if asked.model_years:
            clauses.append(f"job_id IN (SELECT id FROM jobs WHERE year IN ({_marks(asked.model_years)}))")
            values += asked.model_years
        for phrase in asked.phrases:
            clauses.append("job_id IN (SELECT job_id FROM notes_fts JOIN notes ON notes.id = notes_fts.rowid WHERE notes_fts MATCH ?)")
            values.append(search.quoted(phrase))
        return " AND ".join(clauses), values

    def _rest(self) -> tuple[str, list[Any]]:
        words = " OR ".join(filter(None, map(search.quoted, [*self.asked.rest, *self.asked.phrases])))
        if not words:
            return "", []
        return (
            f""", rest AS (SELECT notes.job_id, max(score) AS score FROM
                    (SELECT rowid, -rank AS score FROM notes_fts WHERE notes_fts MATCH ? ORDER BY rank LIMIT {_BY_WORDS}) AS ranked
                    JOIN notes ON notes.id = ranked.rowid GROUP BY notes.job_id)""",
            [words],
        )

    def found(self, row: sqlite3.Row) -> FoundJob:
        """The job of a row, with the entries that it was found by."""
        job = self.connection.execute("SELECT * FROM jobs WHERE id = ?", (row["job_id"],)).fetchone()
        entries, missing, seen = [], [], set()
        for asked, one in zip(self.asked.wanted, self.wanted, strict=True):
            exactly = self._entries(asked, row["job_id"], False)
            nearly = [] if exactly or not self.loose else self._entries(one, row["job_id"], True)
            if not exactly:
                missing.append(wanted_told(asked, self.known))
            for entry in exactly or nearly:
                if entry["id"] not in seen:
                    seen.add(entry["id"])
                    entries.append(self._entry(entry, asked))
        if not self.asked.wanted or self.asked.phrases:
            entries += self._words(row["job_id"])
        vehicle = Vehicle(**{name: job[name] for name in FIELDS})
        return FoundJob(job["reference"], row["day"], vehicle, round(row["weight"] + row["by_words"], 3), missing, entries)

    def _entries(self, wanted: Wanted, job_id: int, loose: bool) -> list[sqlite3.Row]:
        where, values = _where(wanted, self.known, self.asked, loose)
        return self.connection.execute(
            f"""SELECT entries.*, notes.source, notes.author FROM entries JOIN notes ON notes.id = entries.note_id
                WHERE entries.id IN (SELECT entry_id FROM facts INDEXED BY facts_job WHERE job_id = ? AND {where})
                ORDER BY entries.id LIMIT {MOST_ENTRIES}""",
            (job_id, *values),
        ).fetchall()

    def _entry(self, row: sqlite3.Row, wanted: Wanted) -> FoundEntry:
        entry = standing.marked(self.connection, row)
        return FoundEntry(row["note_id"], row["source"], row["author"], row["quote"], why(entry, wanted, self.known), entry)

    def _words(self, job_id: int) -> list[FoundEntry]:
        words = [search.quoted(one) for one in self.asked.phrases or self.asked.rest]
        if not (words := list(filter(None, words))):
            return []
        rows = self.connection.execute(
            """SELECT notes.id, notes.source, notes.author, snippet(notes_fts, 0, '', '', '…', 24) AS words FROM notes_fts
               JOIN notes ON notes.id = notes_fts.rowid WHERE notes_fts MATCH ? AND notes_fts.rowid IN
               (SELECT id FROM notes WHERE job_id = ?) ORDER BY rank LIMIT 2""",
            (" OR ".join(words), job_id),
        ).fetchall()
        return [FoundEntry(row["id"], row["source"], row["author"], row["words"], ["words of the note"]) for row in rows]


def loosened(wanted: Wanted, known: Vocabulary) -> Wanted:
    """What is nearly wanted: of a component, the conditions with those that are kindred to them.

    >>> from notelog.archive.vocabulary import vocabulary
    >>> "buckled" in loosened(Wanted(("wheel",), ("bent",)), vocabulary()).conditions
    True
    """
    if not wanted.components:
        return wanted
    kindred = [other for one in wanted.conditions for (this, other), kin in known.kin.items() if this == one and kin >= _LEAST_KIN]
    return wanted._replace(conditions=tuple(dict.fromkeys([*wanted.conditions, *kindred])))


def why(entry: dict[str, Any], wanted: Wanted, known: Vocabulary) -> list[str]:
    """Why an entry matches what is wanted, in a few words each."""
    reasons = []
    component = entry.get("component") or {}
    if wanted.components and component:
        if component["id"] in wanted.components:
            said = component["said"].lower()
            reasons.append(component["label"] + (f", said as {said}" if said != component["label"] else ""))
        else:
            whole = next((one for one in wanted.components if component["id"] in known.with_parts(one)), wanted.components[0])
            reasons.append(f"{component['label']} is part of {known.label(whole)}")
    for name, values in (("condition", wanted.conditions), ("action", wanted.actions)):
        if values and (value := entry.get(name)):
            exactly = value in values or (name == "condition" and "damaged" in values)
            reasons.append(value if exactly else f"{value} is nearly {' or '.join(values)}")
    position = entry.get("position") or {}
    for name, values in wanted.places:
        value = position.get(name)
        reasons.append(value if value else f"{name} not said")
    if wanted.status:
        reasons.append({"absent": "denied"}.get(wanted.status, wanted.status.replace("_", " ")))
    if wanted.state and entry.get("state"):
        reasons.append(entry["state"].replace("_", " "))
    return reasons


def _where(wanted: Wanted, known: Vocabulary, asked: Question, loose: bool) -> tuple[str, list[Any]]:
    """The condition of a row of `facts`, with its values."""
    clauses, values = [], []
    if wanted.components:
        components = sorted(set().union(*(known.with_parts(one) for one in wanted.components)))
        clauses.append(f"component_id IN ({_marks(components)})")
        values += components
    what = []
    only_a_place = not wanted.names_a_thing()
    if wanted.conditions or only_a_place:
        any_damage = "damaged" in wanted.conditions or only_a_place
        conditions = known.damage if any_damage else wanted.conditions
        what.append(f"(kind = 'finding' AND condition IN ({_marks(conditions)}){_status(wanted, ('present', 'past'))})")
        values += conditions
    if wanted.actions:
        what.append(f"(kind = 'operation' AND action IN ({_marks(wanted.actions)}){_status(wanted, ('done', 'planned'))})")
        values += wanted.actions
    if wanted.state:
        what.append("(kind = 'part' AND state = ?)")
        values.append(wanted.state)
    if len(what) == 1:
        clauses.append(what[0][1:-1])  # bare, so that its index is taken
    elif what:
        clauses.append(f"({' OR '.join(what)})")
    for name, wants in wanted.places:
        wants = (*wants, "both") if name == "side" else wants
        clauses.append(f"({name} IN ({_marks(wants)}){f' OR {name} IS NULL' if loose else ''})")
        values += wants
    if not what:
        nothing_denied = f"(status IS NULL OR status NOT IN ({', '.join(map(repr, _NOT_FOUND))}))"
        clauses.append(_status(wanted, ()).removeprefix(" AND ") if wanted.status else nothing_denied)
    if not asked.rejected:
        clauses.append("standing <> 'rejected'")
    days, more = _between("day", asked)
    return " AND ".join([*clauses, days]), values + more


def _status(wanted: Wanted, usual: tuple[str, ...]) -> str:
    """The condition of the status: what was asked for, else the `usual` ones of what was found or done."""
    asked = {"absent": ("absent", "not_done"), "": usual}.get(wanted.status, (wanted.status,))
    return f" AND status IN ({', '.join(map(repr, asked))})"


def _between(column: str, asked: Question) -> tuple[str, list[Any]]:
    clauses, values = ["1"], []
    if asked.since:
        clauses.append(f"{column} >= ?")
        values.append(asked.since)
    if asked.until:
        clauses.append(f"{column} < ?")
        values.append(f"{asked.until}~")  # behind every time of that day
    return " AND ".join(clauses), values


def _weight(connection: sqlite3.Connection, wanted: Wanted, known: Vocabulary) -> float:
    """How much it tells that a job has what is wanted: the inverse document frequency of the damage, else 1."""
    if not wanted.components:
        return 1.0
    components = sorted(set().union(*(known.with_parts(one) for one in wanted.components)))
    conditions = wanted.conditions if wanted.conditions and "damaged" not in wanted.conditions else ("",)
    (jobs,) = connection.execute(
        f"SELECT coalesce(sum(jobs), 0) FROM damage_counts WHERE component_id IN ({_marks(components)}) AND condition IN ({_marks(conditions)})",
        (*components, *conditions),
    ).fetchone()
    row = connection.execute("SELECT jobs FROM damage_counts WHERE component_id = '' AND condition = ''").fetchone()
    return 1.0 + math.log1p((row[0] if row else 0) / (jobs + 1))


def _marks(values: Sequence[Any]) -> str:
    return ", ".join("?" * len(values))


def _by_words(connection: sqlite3.Connection, asked: Question, limit: int, offset: int) -> Found:
    """Jobs by words that mean nothing to the lexicon: all of the words, or, where nothing has all, any of them."""
    for joined in (" ", " OR "):
        words = joined.join(filter(None, map(search.quoted, asked.rest)))
        hits = search.matching(connection, words, _BY_WORDS, asked.rejected) if words else []
        if hits:
            break
    else:
        return Found(0, 0)
    grouped: dict[str, list[search.Hit]] = {}
    for hit in hits:
        grouped.setdefault(hit.job, []).append(hit)
    page = list(grouped.items())[offset : offset + limit]
    jobs = []
    for place, (job, of) in enumerate(page):
        row = connection.execute("SELECT * FROM jobs WHERE reference = ?", (job,)).fetchone()
        entries = [
            FoundEntry(one.note, one.source, one.author, one.words, ["words of the entry" if one.entry else "words of the note"], one.entry)
            for one in of[:MOST_ENTRIES]
        ]
        day = max((one.dictated or one.added)[:10] for one in of)
        jobs.append(FoundJob(job, day, Vehicle(**{name: row[name] for name in FIELDS}), round(1 / (1 + offset + place), 3), [], entries))
    return Found(len(grouped), 0, jobs)


def understood(asked: Question, known: Vocabulary) -> dict[str, Any]:
    """How a question was understood, for JSON."""
    return {
        "question": asked.text,
        "told": [": ".join(line) for line in told(asked, known)],
        "taken": [{"said": said, "meant": meant} for said, meant in asked.taken],
        "wanted": [
            {
                "components": list(one.components), "conditions": list(one.conditions), "actions": list(one.actions),
                "places": {name: list(values) for name, values in one.places}, "status": one.status, "state": one.state,
            }
            for one in asked.wanted
        ],
        "vehicle": {"classes": list(asked.classes), "words": list(asked.vehicle_words), "model_years": list(asked.model_years)},
        "since": asked.since, "until": asked.until, "ranked_by": list(asked.rest), "phrases": list(asked.phrases),
        "rejected": asked.rejected,
    }  # fmt: skip
