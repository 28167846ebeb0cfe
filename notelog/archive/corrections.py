"""What people decide about entries and answer to questions; who and when, kept for ever.

Every function takes the archive and, for what it writes, `who` decides. It stores all of a decision or nothing, and
raises InputError with one sentence for what cannot be. `seen` is the `revision` of the entry that the person looked
at: when somebody, or an extraction, has changed the entry since, the decision is refused and the person is told.

An entry that a person decided about stands as the person left it, whatever later extractions make of its words
(`notelog.archive.again`), until a person decides anew.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from notelog.archive import fields, matching, standing
from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive.store import Archive, StoredNote

LARGEST_ID = 2**63 - 1


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened to an entry.

    `what` is "read" (extraction gave `new`), "dropped" (a later extraction gave it no more), "added", "accepted",
    "changed" (`field` from `old` to `new`) or "rejected". `who` is None for extraction, whose lexicon and program
    `read_with` tells, where it is known. `at` is UTC, in ISO 8601.
    """

    revision: int
    at: str
    what: str
    who: str | None = None
    field: str | None = None
    old: Any = None
    new: Any = None
    why: str | None = None
    read_with: str | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer to a question of a job's ledger; `id` counts up, and `value` is None where an answer was taken back.

    Of an answer that was just given, `entry` is the entry that its question is about, as it stands after it, `changed` what
    the answer changed in it, and `left` why the answer changed nothing although it says something else.
    """

    id: int
    question: str
    value: str | None
    who: str
    at: str
    entry: dict[str, Any] | None = None
    changed: list[Event] = field(default_factory=list)
    left: str = ""


# --- deciding --------------------------------------------------------------------------------------


def accept(archive: Archive, entry_id: int, who: str, *, why: str | None = None, seen: int | None = None) -> dict:
    """Say that an entry is right as it stands; a rejected or gone one stands again. Gives the entry.

    Raises InputError for an entry that is not there, that this person has accepted already, or that changed since
    it was `seen`.
    """
    who, why = _person(who), _reason(why)
    with archive.writing():
        row = _row(archive, entry_id, seen)
        last = _last(archive, entry_id)
        untouched = last and last["revision"] == row["revision"]
        if untouched and (last["act"], last["who"]) == ("accepted", who):
            raise InputError(
                f"Entry {entry_id} was already accepted by {who} on {last['at'][:10]}: nothing was stored."
            )
        payload = json.loads(row["payload"])
        _keep(archive, row, "accepted", who, why, [(None, payload, payload)], payload, "decided")
        return entry(archive, entry_id)


def change(
    archive: Archive,
    entry_id: int,
    values: Mapping[str, Any],
    who: str,
    *,
    why: str | None = None,
    seen: int | None = None,
) -> dict:
    """Put fields of an entry right; the others are thereby accepted as they stand. Gives the entry.

    `values` are by field as a person writes them (`fields.fields_of` tells which there are): {"side": "left",
    "size": "18 mm", "component": "lower arm"}; None or "" empties a field. What is the same already is left alone.

    Raises InputError for an entry that is not there, was rejected, or changed since it was `seen`; for an unknown
    field, a value that is not allowed, and when nothing would change.
    """
    who, why = _person(who), _reason(why)
    if not values:
        raise InputError(f"There is nothing to change in entry {entry_id}: give fields, such as side=left.")
    before = entry(archive, entry_id)
    wanted = fields.parsed(before["kind"], values, before, archive.lexicon)
    with archive.writing():
        row = _row(archive, entry_id, seen)
        if row["standing"] == "rejected":
            last = _last(archive, entry_id)
            raise InputError(
                f"Entry {entry_id} was rejected by {last['who']} on {last['at'][:10]}: accept it first, then change it."
            )
        payload = json.loads(row["payload"])
        made = fields.validated(fields.put(payload, wanted))
        changed = [
            (name, fields.value_of(payload, name), fields.value_of(made, name))
            for name in wanted
            if fields.value_of(payload, name) != fields.value_of(made, name)
        ]
        if not changed:
            same = " and ".join(f"{name} {fields.in_words(fields.value_of(made, name))}" for name in wanted)
            raise InputError(f"Entry {entry_id} has {same} already: accept it to say that this is right.")
        _keep(archive, row, "changed", who, why, changed, made, "decided")
        return entry(archive, entry_id)


def reject(archive: Archive, entry_id: int, who: str, *, why: str | None = None, seen: int | None = None) -> dict:
    """Say that an entry is wrong; it is no longer shown, nor when a later extraction gives it again. Gives the entry.

    Raises InputError for an entry that is not there, was rejected already, or changed since it was `seen`.
    """
    who, why = _person(who), _reason(why)
    with archive.writing():
        row = _row(archive, entry_id, seen)
        if row["standing"] == "rejected":
            last = _last(archive, entry_id)
            raise InputError(
                f"Entry {entry_id} was already rejected by {last['who']} on {last['at'][:10]}: nothing was stored."
            )
        payload = json.loads(row["payload"])
        _keep(archive, row, "rejected", who, why, [(None, payload, None)], payload, "rejected")
        return entry(archive, entry_id)


def add(
    archive: Archive,
    reference: str,
    kind: str,
    values: Mapping[str, Any],
    who: str,
    *,
    note: int | None = None,
    words: str | None = None,
    why: str | None = None,
) -> dict:
    """Add an entry by hand to a note of the job. Gives the entry.

    `values` are as in `change`. `words` are the words of the note that say so, found in it whatever their case and
    spaces; without them the entry stands on the person's word alone. The note is the one given, else the one that
    has the `words`, else the job's newest.

    Raises InputError for an unknown job, note, kind or field, a value that is not allowed, a field that is missing,
    words that are not in the note or more than once, and when an entry of the note says the same already.
    """
    who, why = _person(who), _reason(why)
    wanted = fields.put({"kind": kind, "confidence": 1.0}, fields.parsed(kind, values, None, archive.lexicon))
    job = archive.job(reference, rejected=True)
    at, evidence = _said(job.reference, _notes(job.reference, job.notes, note), words)
    made = fields.validated(wanted | {"evidence": evidence})
    with archive.writing() as db:
        for row in archive.connection.execute(
            "SELECT * FROM entries WHERE note_id = ? AND standing <> 'gone' ORDER BY number", (at.id,)
        ):
            if matching.statement(json.loads(row["payload"])) == matching.statement(made):
                last = _last(archive, row["id"])
                told = f" and was rejected by {last['who']}" if row["standing"] == "rejected" else ""
                raise InputError(f"Entry {row['id']} says the same{told}: accept that one instead of adding it.")
        payload = json.dumps(made, ensure_ascii=False)
        new = {"note_id": at.id, "number": LARGEST_ID, "payload": payload, "standing": "decided", "revision": 0}
        entry_id = db["entries"].insert(new).last_pk
        row = _row(archive, entry_id, None)
        _keep(archive, row, "added", who, why, [(None, None, made)], made, "decided")
        put_in_order(archive, at.id)
        return entry(archive, entry_id)


# --- looking ---------------------------------------------------------------------------------------


def entry(archive: Archive, entry_id: int) -> dict[str, Any]:
    """An entry as it stands, with its `id`, `revision` and what was `decided`; rejected and gone ones too.

    Raises InputError for an entry that is not there.
    """
    with archive.reading() as connection:
        return standing.marked(connection, _row(archive, entry_id, None))


def history(archive: Archive, entry_id: int) -> list[Event]:
    """All that happened to an entry, oldest first: what extractions gave and what people decided.

    Raises InputError for an entry that is not there.
    """
    with archive.reading() as connection:
        _row(archive, entry_id, None)
        readings = connection.execute("SELECT * FROM readings WHERE entry_id = ? ORDER BY id", (entry_id,)).fetchall()
        made = connection.execute("SELECT * FROM corrections WHERE entry_id = ? ORDER BY id", (entry_id,)).fetchall()
    events = [
        Event(
            one["revision"],
            one["at"],
            "read" if one["payload"] else "dropped",
            new=json.loads(one["payload"]) if one["payload"] else None,
            read_with=one["read_with"],
        )
        for one in readings
    ]
    for number, event in enumerate(events[1:], start=1):
        events[number] = replace(event, old=events[number - 1].new)
    events += [
        Event(
            one["revision"],
            one["at"],
            one["act"],
            one["who"],
            one["field"],
            json.loads(one["old"]) if one["old"] else None,
            json.loads(one["new"]) if one["new"] else None,
            one["why"],
        )
        for one in made
    ]
    # Sorting keeps the order of what has the same revision: the fields of one change.
    return sorted(events, key=lambda event: event.revision)


# --- questions of the ledger -----------------------------------------------------------------------


def answer(
    archive: Archive,
    reference: str,
    question: str,
    value: str | None,
    who: str,
    *,
    allowed: Collection[str] | None = None,
    seen: int | None = None,
) -> Answer:
    """Store the answer to a question of the job's ledger; None or "" takes an answer back. Gives the answer.

    An answer that says something else than the entry that is asked about also corrects that entry, as `change` (or, for
    words that are no part, `reject`) does; one that is taken back takes its correction back. What a person put right or
    accepted otherwise is never changed by an answer. `notelog.archive.answering` tells what an answer means.

    `question` is the id that the ledger gives it. `allowed` are the values that the ledger offers, none for free
    text. `seen` is the id of the answer that the person looked at, 0 where there was none.

    Raises InputError for an unknown job, a value that is not offered or that the entry's field cannot have, an answer
    that is given already, and one that somebody gave since; then nothing is stored.
    """
    who = _person(who)
    question = fields.cleaned(question, "The question")
    text = fields.cleaned(value or "", "The answer") or None
    if not question:
        raise InputError("The question is empty: give its id, as the ledger prints it.")
    if text and allowed and text not in allowed:
        raise InputError(f"The answer to {question!r} cannot be {text!r}: it is one of {', '.join(allowed)}.")
    with archive.writing() as db:
        job_id = archive.job_id(reference)
        now = _answers(archive, job_id, question)
        newest = now[-1] if now else None
        if seen is not None and seen != (newest.id if newest else 0):
            told = f"answered {newest.value!r}" if newest.value else "took the answer back"
            raise InputError(
                f"{newest.who} {told} on {_minute(newest.at)}, since you looked at {question!r}: look at it again."
            )
        if (newest.value if newest else None) == text:
            told = f"was answered {text!r} by {newest.who} already" if text and newest else "has no answer"
            raise InputError(f"The question {question!r} {told}: nothing was stored.")
        row = {"job_id": job_id, "question": question, "value": text, "who": who, "at": _now()}
        made = Answer(db["answers"].insert(row).last_pk, question, text, who, row["at"])
        return _applied(archive, job_id, made)


def answers(archive: Archive, reference: str) -> dict[str, Answer]:
    """The answers that count, by the id of the question: the newest of each, without those taken back.

    Raises InputError for an unknown job.
    """
    with archive.reading():
        given = {one.question: one for one in _answers(archive, archive.job_id(reference))}
    return {question: one for question, one in given.items() if one.value is not None}


def answer_history(archive: Archive, reference: str, question: str) -> list[Answer]:
    """All answers that were ever given to a question, oldest first. Raises InputError for an unknown job."""
    with archive.reading():
        return _answers(archive, archive.job_id(reference), question)


def _answers(archive: Archive, job_id: int, question: str | None = None) -> list[Answer]:
    rows = archive.connection.execute(
        """SELECT id, question, value, who, at FROM answers
           WHERE job_id = :job AND (:question IS NULL OR question = :question) ORDER BY id""",
        {"job": job_id, "question": question},
    )
    return [Answer(**dict(row)) for row in rows]


def _applied(archive: Archive, job_id: int, given: Answer) -> Answer:
    """The answer, with the entry that its question is about put right by it; within a transaction."""
    from notelog.archive import answering

    name, entry_id = answering.asked_about(given.question) or ("", 0)
    there = archive.connection.execute(
        """SELECT 1 FROM entries JOIN notes ON notes.id = entries.note_id
           WHERE entries.id = ? AND notes.job_id = ? AND standing <> 'gone'""",
        (entry_id, job_id),
    ).fetchone()
    if not there or name not in fields.fields_of((before := entry(archive, entry_id))["kind"]):
        return given
    why = standing.reason(given.question)
    decided = _decisions(archive, entry_id)
    own = [one for one in decided if one["why"] == why]
    left = _left_by(decided, name, why)
    if own and own[-1]["act"] == "rejected" and not left:
        accept(archive, entry_id, given.who, why=why)  # the words are a part after all
    wanted = answering.Meant() if given.value is None else answering.meant(given.question, given.value, before)
    if given.value is None and (changes := [one for one in own if one["field"] == name]):
        wanted = answering.Meant({name: _written(json.loads(changes[0]["old"] or "null"))})
    values = fields.parsed(before["kind"], wanted.values, before, archive.lexicon)
    if not wanted.rejected and all(fields.value_of(before, one) == value for one, value in values.items()):
        left = ""
    elif not left and wanted.rejected:
        reject(archive, entry_id, given.who, why=why)
    elif not left:
        change(archive, entry_id, wanted.values, given.who, why=why)
    changed = [event for event in history(archive, entry_id) if event.revision > before["revision"]]
    return replace(given, entry=entry(archive, entry_id), changed=changed, left=left)


def _left_by(decided: list[sqlite3.Row], name: str, why: str) -> str:
    """Who put a field right or decided about its entry by other means than answers, so that an answer leaves it; else ""."""
    for one in reversed(decided):
        about = one["field"] in (name, None)
        if about and standing.is_answer(one["why"]) and (one["act"] != "rejected" or one["why"] == why):
            return ""
        if about:
            what = f"the {name} was set" if one["field"] else f"the entry was {one['act']}"
            return f"{what} by {one['who']} on {one['at'][:10]}"
    return ""


def _decisions(archive: Archive, entry_id: int) -> list[sqlite3.Row]:
    return archive.connection.execute("SELECT * FROM corrections WHERE entry_id = ? ORDER BY id", (entry_id,)).fetchall()


def _written(value: Any) -> str:
    """A value of an entry as a person writes it in its field."""
    return "" if value is None else fields.in_words(value).removesuffix(" ?")


# --- within a transaction --------------------------------------------------------------------------


def put_in_order(archive: Archive, note_id: int) -> None:
    """Number the entries of a note in the order of their words, those without words last; within a transaction."""
    rows = archive.connection.execute("SELECT * FROM entries WHERE note_id = ? ORDER BY number", (note_id,)).fetchall()

    def place(row: sqlite3.Row) -> tuple:
        evidence = json.loads(row["payload"])["evidence"]
        return row["standing"] == "gone", not evidence["text"], evidence["start"], evidence["end"]

    wanted = {row["id"]: number for number, row in enumerate(sorted(rows, key=place))}
    moved = [row["id"] for row in rows if row["number"] != wanted[row["id"]]]
    # A number may be that of another entry until that one has moved on.
    for numbers in ({one: -one for one in moved}, wanted):
        archive.connection.executemany(
            "UPDATE entries SET number = ? WHERE id = ?", [(numbers[entry_id], entry_id) for entry_id in moved]
        )


def _keep(
    archive: Archive,
    row: sqlite3.Row,
    act: str,
    who: str,
    why: str | None,
    changed: list[tuple[str | None, Any, Any]],
    payload: dict[str, Any],
    stands: str,
) -> None:
    revision, at = row["revision"] + 1, _now()
    archive.connection.executemany(
        """INSERT INTO corrections(entry_id, revision, act, field, old, new, who, why, at)
           VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        [(row["id"], revision, act, name, _json(old), _json(new), who, why, at) for name, old, new in changed],
    )
    archive.connection.execute(
        "UPDATE entries SET payload = ?, standing = ?, revision = ? WHERE id = ?",
        (_json(payload), stands, revision, row["id"]),
    )


def _row(archive: Archive, entry_id: int, seen: int | None) -> sqlite3.Row:
    row = None
    if 0 < entry_id <= LARGEST_ID:
        row = archive.connection.execute("SELECT * FROM entries WHERE id = ?", (entry_id,)).fetchone()
    if row is None:
        raise InputError(
            f"There is no entry {entry_id} in the archive {archive.path}: `notelog job REF` shows the entries of a job "
            "with their numbers."
        )
    if seen is not None and seen != row["revision"]:
        raise InputError(_since(archive, row, seen))
    return row


def _since(archive: Archive, row: sqlite3.Row, seen: int) -> str:
    if seen > row["revision"]:
        return f"Entry {row['id']} has the revision {row['revision']} and not {seen}: look at it again."
    last = max(history(archive, row["id"]), key=lambda event: event.revision)
    what = {"read": "read again", "dropped": "no longer given"}.get(last.what, last.what)
    if last.field:
        what += f" ({last.field} from {fields.in_words(last.old)} to {fields.in_words(last.new)})"
    by = last.who or "an extraction"
    return f"Entry {row['id']} was {what} by {by} on {_minute(last.at)}, since you looked at it: look at it again."


def _last(archive: Archive, entry_id: int) -> sqlite3.Row | None:
    return archive.connection.execute(
        "SELECT * FROM corrections WHERE entry_id = ? ORDER BY id DESC LIMIT 1", (entry_id,)
    ).fetchone()


def _notes(reference: str, notes: list[StoredNote], wanted: int | None) -> list[StoredNote]:
    if not notes:
        raise InputError(
            f"Job {reference} has no note yet that an entry could be added to: add one with `notelog add`."
        )
    if wanted is None:
        return notes
    chosen = [note for note in notes if note.id == wanted]
    if not chosen:
        there = ", ".join(str(note.id) for note in notes)
        raise InputError(f"Job {reference} has no note {wanted}: it has {there}.")
    return chosen


def _said(reference: str, notes: list[StoredNote], words: str | None) -> tuple[StoredNote, dict[str, Any]]:
    """The note, and the evidence, of an entry added by hand."""
    if words is None:
        return notes[-1], {"start": 0, "end": 0, "text": "", "t_start": None, "t_end": None}
    from notelog.archive.again import read_stored

    said = fields.cleaned(words, "The quote").split()
    if not said:
        raise InputError("The quote is empty: give words of the note, or no quote.")
    pattern = re.compile(r"(?<!\w)" + r"\s+".join(map(re.escape, said)) + r"(?!\w)", re.IGNORECASE)
    found = []
    for stored in notes:
        note = read_stored(stored)
        found += [(stored, note, note.spoken.source_span(*hit.span())) for hit in pattern.finditer(note.spoken.text)]
    where = f"note {notes[0].id}" if len(notes) == 1 else f"the notes of job {reference}"
    if not found:
        raise InputError(f"The words {' '.join(said)!r} are not in {where}: give them as they stand there.")
    if len(found) > 1:
        raise InputError(f"The words {' '.join(said)!r} stand {len(found)} times in {where}: give more of them.")
    stored, note, (start, end) = found[0]
    times = [one for one in note.segments if one.start < end and start < one.end]
    return stored, {
        "start": start,
        "end": end,
        "text": stored.text[start:end],
        "t_start": times[0].t_start if times else None,
        "t_end": times[-1].t_end if times else None,
    }


def _person(who: str) -> str:
    name = fields.cleaned(who or "", "The name of who decides", 100)
    if not name:
        raise InputError("Nobody is named who decides: give a name.")
    return name


def _reason(why: str | None) -> str | None:
    return fields.cleaned(why or "", "The reason") or None


def _json(value: Any) -> str | None:
    return None if value is None else json.dumps(value, ensure_ascii=False)


def _minute(at: str) -> str:
    return at[:16].replace("T", " ")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
