"""Which entry of a new extraction is which entry of the archive.

The rule, step by step; every entry is paired at most once, and what is paired in one step takes no part in the next:

1. *The same statement from the same words*: kind, thing (component, tool or material), place and value agree, and the
   span of the evidence is the same.
2. *The same statement from other words of the note*, the nearest words first: a note logs a fact once, so that a
   statement is known by what it says. What then still says the same as an entry that a person decided or rejected is
   covered by that one: it is neither added beside it nor paired with another entry.
3. *The same statement as an entry that was gone*, which is there again.
4. *Another statement of the same kind from overlapping words*, the one with the most in common first:
   - an open entry is followed when the thing or the value agrees: this is one entry that is understood otherwise now;
   - an entry that a person decided is followed when the thing agrees: the person's word on it stands;
   - a rejected entry is followed only when thing and value are the same and the places do not contradict each other:
     what was rejected is that statement, and another one from the same words is new and must be seen.

What a person decided is known by all that it ever said: by the readings of earlier extractions, and by what the person
made of it.

The value is what the score compares: condition and status, action and status, type and size, the size of a tool,
quantity and interval and unit, state, hours, amount and currency. Things are the same when they are the same entry of
the lexicon, or were named with the same words while one of them is in no lexicon. They agree, in step 4, also when they
were named with the same words, and when one entry names nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

_VALUE = {
    "finding": ("condition", "status"),
    "operation": ("action", "status"),
    "fastener": ("type", "size"),
    "tool": ("size",),
    "measurement": ("quantity", "low", "high", "unit"),
    "part": ("state",),
    "material": (),
    "labour": ("hours",),
    "cost": ("amount", "currency"),
}
_PLACE = ("side", "axle", "level", "depth")


@dataclass(frozen=True, slots=True)
class Known:
    """An entry of the archive: how it stands, and all that it says or ever said (its `faces`)."""

    id: int
    standing: str
    faces: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Matched:
    """`pairs` gives the id of the archive's entry by the number of the read one; `covered` are numbers of read ones."""

    pairs: dict[int, int] = field(default_factory=dict)
    covered: set[int] = field(default_factory=set)


def statement(entry: Mapping[str, Any]) -> tuple:
    """What an entry says: kind, thing, place and value, without the words that it came from.

    >>> statement({"kind": "finding", "component": {"id": "hub", "label": "hub", "said": "hub"},
    ...            "position": {"side": "left"}, "condition": "bent", "status": "present"})
    ('finding', 'hub', ('left', None, None, None), ('bent', 'present'))
    """
    return entry["kind"], _thing_key(_thing(entry)), _place(entry), _value(entry)


def match(known: Sequence[Known], read: Sequence[Mapping[str, Any]]) -> Matched:
    """Pair the entries of the archive with those of a new extraction of the same note, by the rule above.

    >>> hub = {"kind": "finding", "component": {"id": "hub", "label": "hub", "said": "hub"}, "condition": "bent",
    ...        "status": "present", "evidence": {"start": 4, "end": 15}}
    >>> match([Known(7, "open", (hub,))], [hub | {"condition": "cracked"}]).pairs
    {0: 7}
    >>> match([Known(7, "rejected", (hub,))], [hub | {"condition": "cracked"}]).pairs
    {}
    """
    matched = Matched()
    gone = {at: one for at, one in enumerate(known) if one.standing == "gone"}
    there = {at: one for at, one in enumerate(known) if one.standing != "gone"}
    free = dict(enumerate(read))

    def pair(among: dict[int, Known], near: Callable[..., Iterable[Candidate]]) -> None:
        for _, at_known, at_read in sorted(near(among, free)):
            if at_known in among and at_read in free:
                matched.pairs[at_read] = among.pop(at_known).id
                del free[at_read]

    pair(there, _same_statement)
    decided = {statement(face) for one in known if one.standing in ("decided", "rejected") for face in one.faces}
    matched.covered.update(at for at, entry in free.items() if statement(entry) in decided)
    for at in matched.covered:
        del free[at]
    pair(gone, _same_statement)
    pair(there, _overlapping)
    return matched


Candidate = tuple[tuple, int, int]
"""How far two entries are apart (the least is paired first), and where they stand in both lists."""


def _same_statement(known: Mapping[int, Known], read: Mapping[int, Mapping[str, Any]]) -> Iterable[Candidate]:
    by_statement: dict[tuple, list[int]] = defaultdict(list)
    for at_read, entry in read.items():
        by_statement[statement(entry)].append(at_read)
    for at_known, one in known.items():
        for face in one.faces:
            for at_read in by_statement.get(statement(face), ()):
                apart = _apart(face, read[at_read])
                yield (apart, one.standing == "open"), at_known, at_read


def _overlapping(known: Mapping[int, Known], read: Mapping[int, Mapping[str, Any]]) -> Iterable[Candidate]:
    for at_known, one in known.items():
        for face in one.faces:
            for at_read, entry in read.items():
                overlap = _overlap(face, entry)
                if overlap and _follows(one.standing, face, entry):
                    same = (_same_thing(face, entry) + (_value(face) == _value(entry))) * 2
                    yield (-(same + (_place(face) == _place(entry))), -overlap), at_known, at_read


def _follows(standing: str, face: Mapping[str, Any], entry: Mapping[str, Any]) -> bool:
    if face["kind"] != entry["kind"]:
        return False
    value = _value(face) == _value(entry)
    if standing == "rejected":
        pairs = zip(_place(face), _place(entry), strict=True)
        return value and _same_thing(face, entry) and all(None in pair or pair[0] == pair[1] for pair in pairs)
    return _things_agree(face, entry) or (standing == "open" and value)


def _thing(entry: Mapping[str, Any]) -> Mapping[str, str] | None:
    return entry.get("component") or entry.get("tool") or entry.get("material")


def _thing_key(thing: Mapping[str, str] | None) -> str | None:
    if not thing:
        return None
    return thing["id"] if thing["id"] != "unknown" else f"unknown: {thing['label'].casefold()}"


def _same_thing(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    first, second = _thing(one), _thing(other)
    if not first or not second:
        return first is second
    named_alike = first["said"].casefold() == second["said"].casefold()
    return _thing_key(first) == _thing_key(second) or (named_alike and "unknown" in (first["id"], second["id"]))


def _things_agree(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    first, second = _thing(one), _thing(other)
    if not first or not second:
        return True
    return _same_thing(one, other) or first["said"].casefold() == second["said"].casefold()


def _place(entry: Mapping[str, Any]) -> tuple[str | None, ...]:
    position = entry.get("position") or {}
    return tuple(position.get(name) for name in _PLACE)


def _value(entry: Mapping[str, Any]) -> tuple:
    values = (entry.get(name) for name in _VALUE[entry["kind"]])
    return tuple((value["value"], value["unit"]) if isinstance(value, Mapping) else value for value in values)


def _apart(one: Mapping[str, Any], other: Mapping[str, Any]) -> int:
    first, second = one["evidence"], other["evidence"]
    return abs(first["start"] - second["start"]) + abs(first["end"] - second["end"])


def _overlap(one: Mapping[str, Any], other: Mapping[str, Any]) -> float:
    """The share of the words of both that both have, from 0 to 1."""
    first, second = one["evidence"], other["evidence"]
    common = min(first["end"], second["end"]) - max(first["start"], second["start"])
    return max(0, common) / max(1, max(first["end"], second["end"]) - min(first["start"], second["start"]))
