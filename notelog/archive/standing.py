"""How entries stand: read by extraction, decided by a person, rejected, or gone; and how that is shown.

An entry is `open` until a person decides about it. Then it is `decided` (accepted, changed, added by hand) or
`rejected`, and no extraction changes it any more. An open entry that a later extraction gives no more is `gone`; its
row stays, so that its number is never used again. What is shown are the open and the decided entries.

An entry that is shown carries three fields beside those of the extraction contract: `id`, `revision` (counted up by
every change of it) and `decided`: None, or what the last decision was (`what`: "accepted", "changed", "added" or
"rejected"), `by` whom and `at` which time, which `fields` people changed, whether the entry was added `by_hand`, whether
people decided only `by_answer` to the ledger's questions, and `reading`: what the newest extraction makes of the same
words, when that came later and says something else.
"""

from __future__ import annotations

import json
import sqlite3
from typing import Any

SHOWN = "entries.standing IN ('open', 'decided')"
"""The condition, in SQL, that an entry is shown."""

_SHOWN_OR_REJECTED = "entries.standing IN ('open', 'decided', 'rejected')"
_ANSWER = "answer to "
_OWN_FIELDS = ("id", "revision", "decided")
_NOT_SAID = (*_OWN_FIELDS, "evidence", "confidence")


def seen(rejected: bool) -> str:
    """The condition, in SQL, that an entry is shown, with the rejected ones or without them."""
    return _SHOWN_OR_REJECTED if rejected else SHOWN


def reason(question: str) -> str:
    """Why an answer changed an entry, as the entry's history tells it.

    >>> reason("side_missing:17")
    'answer to side_missing:17'
    """
    return f"{_ANSWER}{question}"


def is_answer(why: str | None) -> bool:
    """Whether the reason of a correction is an answer.

    >>> is_answer("answer to side_missing:17"), is_answer(None)
    (True, False)
    """
    return (why or "").startswith(_ANSWER)


def contract(entry: dict[str, Any]) -> dict[str, Any]:
    """An entry that is shown, as the extraction contract has it.

    >>> contract({"id": 17, "revision": 2, "decided": None, "kind": "labour", "hours": 0.5})
    {'kind': 'labour', 'hours': 0.5}
    """
    return {name: value for name, value in entry.items() if name not in _OWN_FIELDS}


def what_is_said(entry: dict[str, Any]) -> dict[str, Any]:
    """What an entry says, without the words that it came from and how sure it is.

    >>> what_is_said({"tool": {"id": "ratchet", "label": "ratchet", "said": "rachet"}, "confidence": 0.9})
    {'tool': {'id': 'ratchet', 'label': 'ratchet'}}
    """
    return {
        name: {inner: one for inner, one in value.items() if inner != "said"} if isinstance(value, dict) else value
        for name, value in entry.items()
        if name not in _NOT_SAID
    }


def newest_reading(connection: sqlite3.Connection, entry_id: int) -> sqlite3.Row | None:
    """The newest row of `readings` for an entry; None when it was added by hand and never read."""
    return connection.execute(
        "SELECT * FROM readings WHERE entry_id = ? ORDER BY id DESC LIMIT 1", (entry_id,)
    ).fetchone()


def marked(connection: sqlite3.Connection, row: sqlite3.Row) -> dict[str, Any]:
    """The entry of a row of `entries`, with its `id`, its `revision` and what was `decided`."""
    payload = json.loads(row["payload"])
    decided = _decided(connection, row["id"], payload) if row["standing"] in ("decided", "rejected") else None
    return {"id": row["id"], "revision": row["revision"], "decided": decided} | payload


def _decided(connection: sqlite3.Connection, entry_id: int, payload: dict[str, Any]) -> dict[str, Any]:
    made = connection.execute("SELECT * FROM corrections WHERE entry_id = ? ORDER BY id", (entry_id,)).fetchall()
    return {
        "what": made[-1]["act"],
        "by": made[-1]["who"],
        "at": made[-1]["at"],
        "fields": list(dict.fromkeys(one["field"] for one in made if one["field"])),
        "by_hand": made[0]["act"] == "added",
        "by_answer": all(is_answer(one["why"]) for one in made),
        "reading": _otherwise(connection, entry_id, made[-1]["revision"], payload),
    }


def _otherwise(
    connection: sqlite3.Connection, entry_id: int, revision: int, payload: dict[str, Any]
) -> dict[str, Any] | None:
    """The newest reading, when it came after the decision that made `revision` and tells the person anything new."""
    newest = newest_reading(connection, entry_id)
    if newest is None or newest["payload"] is None or newest["revision"] < revision:
        return None
    known = connection.execute(
        "SELECT payload FROM readings WHERE entry_id = ? AND revision < ? AND payload IS NOT NULL", (entry_id, revision)
    )
    said = json.loads(newest["payload"])
    others = [payload, *(json.loads(before) for (before,) in known)]
    return None if what_is_said(said) in map(what_is_said, others) else said
