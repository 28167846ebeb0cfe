"""The fields of each kind of entry that a person can put right, and what a person may write in them.

They are read out of the models, so that a field or a value that is new there can be corrected at once.
"""

from __future__ import annotations

import copy
import functools
import math
import re
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from notelog.archive.standing import what_is_said
from notelog.errors import InputError
from notelog.lexicon import Lexicon, load

_NOT_CORRECTED = ("kind", "evidence", "confidence", "why")
_PLACE = ("side", "axle", "level", "depth")
_NUMBER = re.compile(r"[+-]?\d{1,9}(\.\d{1,6})?")
_SIZE = re.compile(r"(?P<mark>[MT])?\s*(?P<figure>\d+(?:\.\d+)?)(?:/(?P<under>\d+))?\s*(?P<unit>mm|in)?", re.IGNORECASE)
_POSITIVE = ("count", "hours", "amount")


@dataclass(frozen=True, slots=True)
class Field:
    """A field that can be put right.

    `form` is one of "choice" (one of `allowed`), "name" (a component, tool or material by any of its names), "number",
    "whole" (a whole number), "size" (18 mm, 3/8 in, M12, T30), "currency" (three letters). `needed` is a field that an
    entry cannot be without, `blank` one that may be empty.
    """

    name: str
    form: str
    allowed: tuple[str, ...] = ()
    needed: bool = False
    blank: bool = False


@functools.lru_cache(maxsize=1)
def kinds() -> dict[str, type]:
    """The model of each kind of entry.

    >>> list(kinds())[:3]
    ['finding', 'operation', 'fastener']
    """
    from notelog.models import Entry

    union, _ = typing.get_args(Entry)
    return {model.model_fields["kind"].default: model for model in typing.get_args(union)}


@functools.lru_cache(maxsize=16)
def fields_of(kind: str) -> dict[str, Field]:
    """The fields of a kind, by name, in the order of the model. Raises InputError for a kind that there is not.

    >>> list(fields_of("finding")), fields_of("part")["state"].allowed
    (['component', 'side', 'axle', 'level', 'depth', 'condition', 'status'], ('needed', 'ordered', 'on_hand'))
    """
    from notelog.models import Position

    if kind not in kinds():
        raise InputError(f"There is no kind {kind!r} of entry: it is one of {_listed(kinds(), 'or')}.")
    found: dict[str, Field] = {}
    for name, about in kinds()[kind].model_fields.items():
        if name in _NOT_CORRECTED:
            continue
        inner = Position.model_fields.items() if about.annotation is Position else [(name, about)]
        found |= {one: _field(one, info) for one, info in inner}
    return found


def _field(name: str, about: Any) -> Field:
    from notelog.models import Named, Size

    choices = [one for one in typing.get_args(about.annotation) if one is not type(None)]
    blank = type(None) in typing.get_args(about.annotation)
    kept = choices[0] if blank else about.annotation
    if typing.get_origin(kept) is typing.Literal:
        return Field(name, "choice", typing.get_args(kept), about.is_required(), blank)
    form = {Named: "name", Size: "size", float: "number", int: "whole", str: "currency"}[kept]
    return Field(name, form, (), about.is_required(), blank)


def put(entry: Mapping[str, Any], values: Mapping[str, Any]) -> dict[str, Any]:
    """A copy of an entry (as a plain dictionary) with `values`, as `parsed` gives them, in the place of its own."""
    made = copy.deepcopy(dict(entry))
    for name, value in values.items():
        if name in _PLACE:
            made["position"] = {**(made.get("position") or {}), name: value}
        else:
            made[name] = value
    return made


def value_of(entry: Mapping[str, Any], name: str) -> Any:
    """What stands in a field of an entry.

    >>> value_of({"position": {"side": "left"}}, "side"), value_of({"kind": "tool"}, "size")
    ('left', None)
    """
    return (entry.get("position") or {}).get(name) if name in _PLACE else entry.get(name)


def differences(one: dict[str, Any], other: dict[str, Any]) -> list[tuple[str, Any, Any]]:
    """The fields in which two entries of a kind differ, each with both values; "words" is the quote.

    >>> differences({"hours": 1.0, "evidence": {"text": "an hour"}}, {"hours": 2.0, "evidence": {"text": "an hour"}})
    [('hours', 1.0, 2.0)]
    """
    said, now = what_is_said(one), what_is_said(other)
    names = [name for name in dict.fromkeys([*said, *now]) if name != "position"]
    pairs = [(name, value_of(said, name), value_of(now, name)) for name in [*names, *_PLACE]]
    pairs.append(("words", one["evidence"]["text"], other["evidence"]["text"]))
    return [(name, before, after) for name, before, after in pairs if before != after]


def parsed(
    kind: str, values: Mapping[str, Any], now: Mapping[str, Any] | None = None, lexicon: Callable[[], Lexicon] = load
) -> dict[str, Any]:
    """What a person wrote in fields, as the entry holds it; an empty text, or None, empties a field.

    A component, tool or material is looked up in what `lexicon` gives (the shipped one, or `Archive.lexicon`) by any of its
    names; one that is not there has the id "unknown". `now` is the entry that is put right, whose words stay what was said.

    Raises InputError for an unknown field and for a value that is not allowed, with those that are.

    >>> parsed("fastener", {"size": "3/8 in", "count": "2", "side": "left"})
    {'size': {'value': 0.375, 'unit': 'in'}, 'count': 2, 'side': 'left'}
    >>> parsed("measurement", {"unit": "nm"}), parsed("measurement", {"unit": "Nm"})
    ({'unit': 'Nm'}, {'unit': 'Nm'})
    >>> parsed("finding", {"status": "perhaps"})
    Traceback (most recent call last):
    ...
    notelog.errors.InputError: The status cannot be 'perhaps': it is one of present, absent, suspected or past.
    """
    fields = fields_of(kind)
    made = {}
    for name, value in values.items():
        if name not in fields:
            raise InputError(f"{_a(kind)} has no field {name!r}: its fields are {_listed(fields, 'and')}.")
        text = cleaned("" if value is None else str(value), f"The {name}")
        if not text:
            if not fields[name].blank:
                raise InputError(f"The {name} of {_a(kind).lower()} cannot be empty: {_wanted(fields[name])}.")
            made[name] = None
        else:
            if fields[name].form == "name":
                made[name] = _name(fields[name], text, now or {}, lexicon())
            else:
                made[name] = _READERS[fields[name].form](fields[name], text)
    return made


def validated(entry: Mapping[str, Any]) -> dict[str, Any]:
    """The entry through its model, as a plain dictionary. Raises InputError where its values do not go together."""
    model = kinds()[entry["kind"]]
    if missing := [field for field in fields_of(entry["kind"]).values() if field.needed and field.name not in entry]:
        raise InputError(f"{_a(entry['kind'])} needs its {missing[0].name}: {_wanted(missing[0])}.")
    if entry["kind"] == "measurement" and entry["low"] > entry["high"]:
        raise InputError(
            f"The low value {entry['low']:g} is above the high value {entry['high']:g}: give both, low first; a "
            "single value is low and high."
        )
    if entry["kind"] == "measurement" and entry["quantity"] == "torque" and entry["low"] < 0:
        raise InputError(f"A torque of {entry['low']:g} cannot be meant: it is 0 or more.")
    return model.model_validate(entry).model_dump(mode="json")


def in_words(value: Any) -> str:
    """The value of a field in a few words.

    >>> in_words({"id": "lower_arm", "label": "lower arm", "said": "arm"}), in_words({"value": 12.0, "unit": "M"})
    ('lower arm', 'M12')
    """
    if value is None or value == "":
        return "empty"
    if isinstance(value, Mapping):
        if "label" in value:
            return f"{value['label']} ?" if value["id"] == "unknown" else value["label"]
        figure, unit = in_words(value["value"]), value["unit"]
        return f"{unit}{figure}" if unit in ("M", "T") else f"{figure} {unit}"
    return f"{value:.9g}" if isinstance(value, float) else str(value).replace("_", " ")


def cleaned(text: str, what: str, most: int = 500) -> str:
    """Text that a person typed: white space squeezed. Raises InputError when it is too long or cannot be printed.

    >>> cleaned("  lower \\n arm ", "The component")
    'lower arm'
    """
    squeezed = " ".join(text.split())
    if not squeezed.isprintable():
        raise InputError(f"{what} has characters that cannot be printed: write it again.")
    if len(squeezed) > most:
        raise InputError(f"{what} has {len(squeezed)} characters and may have {most}: say it in fewer.")
    return squeezed


def _choice(field: Field, text: str) -> str:
    value = next((allowed for allowed in field.allowed if allowed.lower() == text.lower().replace(" ", "_")), None)
    if value is None:
        raise _not_allowed(field, text)
    return value


def _name(field: Field, text: str, now: Mapping[str, Any], lexicon: Lexicon) -> dict[str, str]:
    term = lexicon.terms[field.name].get(text) or lexicon.find(text, field.name)
    said = (now.get(field.name) or {}).get("said") or text
    if term is None:
        return {"id": "unknown", "label": text.lower(), "said": said}
    return {"id": term.id, "label": term.label, "said": said}


def _number(field: Field, text: str) -> float:
    if not _NUMBER.fullmatch(text):
        raise _not_allowed(field, text)
    value = float(text)
    if field.name in _POSITIVE and value < 0:
        raise InputError(f"The {field.name} cannot be {text}: it is 0 or more.")
    return value


def _whole(field: Field, text: str) -> int:
    if not re.fullmatch(r"\d{1,4}", text) or not int(text):
        raise _not_allowed(field, text)
    return int(text)


def _size(field: Field, text: str) -> dict[str, Any]:
    found = _SIZE.fullmatch(text)
    if not found or bool(found["mark"]) == bool(found["unit"]) or (found["under"] and not int(found["under"])):
        raise _not_allowed(field, text)
    value = float(found["figure"]) / int(found["under"] or 1)
    if not math.isfinite(value) or not 0 < value < 1000:
        raise _not_allowed(field, text)
    return {"value": value, "unit": found["mark"].upper() if found["mark"] else found["unit"].lower()}


def _currency(field: Field, text: str) -> str:
    if not re.fullmatch("[A-Za-z]{3}", text):
        raise _not_allowed(field, text)
    return text.upper()


_READERS = {"choice": _choice, "number": _number, "whole": _whole, "size": _size, "currency": _currency}


def _not_allowed(field: Field, text: str) -> InputError:
    return InputError(f"The {field.name} cannot be {text!r}: {_wanted(field)}.")


def _wanted(field: Field) -> str:
    if field.form == "choice":
        return f"it is one of {_listed(field.allowed, 'or')}"
    return {
        "name": f"it is the name of a {field.name}",
        "number": "it is a number such as 1.5",
        "whole": "it is a whole number from 1 to 9999",
        "size": "it is a size such as 18 mm, 3/8 in, M12 or T30",
        "currency": "it is a code such as GBP, USD or EUR",
    }[field.form]


def _listed(names: typing.Iterable[str], last: str) -> str:
    *first, end = names
    return f"{', '.join(first)} {last} {end}" if first else end


def _a(kind: str) -> str:
    return f"An {kind}" if kind[0] in "aeiou" else f"A {kind}"
