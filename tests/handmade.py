"""Notes and logs made by hand, for tests of what comes after understanding."""

import hashlib

from notelog.models import Log, MappedText, Note

TEXT = (
    "Offside front now. The lower arm is bent and it wants a new one. [0:42] No play in the wheel bearing. "
    "Undid the two 18 mil bolts with the breaker bar. Camber reads minus 1.5. Thread lock on. "
    "Half an hour so far. The arm was 85 quid."
)


def note(text=TEXT, source="bay2.txt"):
    at = list(range(len(text)))
    mapped = MappedText(text, at, [place + 1 for place in at])
    return Note(text=text, spoken=mapped, source=source, sha256=hashlib.sha256(text.encode()).hexdigest())


def named(label, said=None, id=None):
    return {"id": id or label.replace(" ", "_"), "label": label, "said": said or label}


def evidence(text, quote, seconds=None):
    start = text.index(quote)
    return {"start": start, "end": start + len(quote), "text": quote, "t_start": seconds}


def log(of, entries, warnings=()):
    return Log.model_validate(
        {
            "schema": "notelog/1",
            "note": {"source": of.source, "sha256": of.sha256, "driver_side": "right"},
            "entries": [{"confidence": 0.9, **entry} for entry in entries],
            "mentions": [{"kind": "component", "id": "lower_arm", "start": 23, "end": 32}],
            "warnings": list(warnings),
        }
    )


def full_log(of=None):
    """A log with an entry of every kind."""
    of = of or note()
    front_right = {"side": "right", "axle": "front"}
    arm = named("lower arm")

    def quote(words, seconds=None):
        return evidence(of.text, words, seconds)

    return log(
        of,
        [
            {"kind": "finding", "component": arm, "position": front_right | {"level": "lower"}, "condition": "bent",
             "status": "present", "evidence": quote("The lower arm is bent")},
            {"kind": "part", "component": arm, "position": front_right, "state": "needed",
             "evidence": quote("it wants a new one")},
            {"kind": "finding", "component": named("wheel bearing"), "position": front_right, "condition": "play",
             "status": "absent", "evidence": quote("No play in the wheel bearing", 42.0)},
            {"kind": "operation", "component": arm, "position": front_right, "action": "loosen", "status": "done",
             "evidence": quote("Undid the two 18 mil bolts")},
            {"kind": "fastener", "type": "bolt", "size": {"value": 18, "unit": "mm"}, "count": 2, "component": arm,
             "evidence": quote("two 18 mil bolts")},
            {"kind": "tool", "tool": named("breaker bar"), "evidence": quote("breaker bar")},
            {"kind": "measurement", "quantity": "camber", "low": -1.5, "high": -1.5, "unit": "deg",
             "position": front_right, "evidence": quote("Camber reads minus 1.5")},
            {"kind": "material", "material": named("thread lock"), "evidence": quote("Thread lock on")},
            {"kind": "labour", "hours": 0.5, "evidence": quote("Half an hour")},
            {"kind": "cost", "amount": 85.0, "currency": "GBP", "component": arm,
             "evidence": quote("The arm was 85 quid")},
        ],
    )  # fmt: skip


def finding(of, label, condition, quote, **more):
    return {"kind": "finding", "component": named(label), "condition": condition,
            "evidence": evidence(of.text, quote), **more}  # fmt: skip


def rows(archive):
    """How many rows each table holds, the full-text tables too: the whole state of an archive, in short."""
    tables = ("jobs", "notes", "entries", "notes_fts", "entries_fts")
    return {name: archive.connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables}
