"""JSON as RFC 8259 asks for it: UTF-8, whatever the terminal speaks."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from notelog.models import Log


def tidy(entry: dict[str, Any]) -> dict[str, Any]:
    """An entry with its kind first and its evidence last, and only what is known left in its position and evidence.

    Its other fields stay, null or not.

    >>> tidy({"evidence": {"text": "x", "t_end": None}, "kind": "part", "component": None, "position": {"side": "left"}})
    {'kind': 'part', 'component': None, 'position': {'side': 'left'}, 'evidence': {'text': 'x'}}
    """
    known = {
        field: {name: inner for name, inner in value.items() if inner is not None}
        if field in ("position", "evidence")
        else value
        for field, value in entry.items()
    }
    last = {field: known.pop(field) for field in ("evidence", "confidence") if field in known}
    return {"kind": known.pop("kind")} | known | last


def log(log: Log, *, why: bool = False) -> dict[str, Any]:
    """A log as the extraction contract writes it; with `why` each entry has the lines of what is behind it as well."""
    plain = log.model_dump(mode="json", by_alias=True)
    entries = [tidy(entry) for entry in plain["entries"]]
    if why:
        entries = [told | {"why": entry.why} for told, entry in zip(entries, log.entries, strict=True)]
    return plain | {"entries": entries}


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a log as it is printed.

    >>> schema()["required"]
    ['note', 'entries', 'mentions', 'warnings']
    """
    from notelog.models import Log

    made = Log.model_json_schema(by_alias=True)
    for definition in made["$defs"].values():
        # What an entry was made from is kept for explaining it, and never printed.
        definition["properties"].pop("why", None)
    return made


def plain(value: Any) -> Any:
    """Dataclasses, and lists of them, as dictionaries with tidy entries.

    >>> from notelog.archive.vehicle import Vehicle
    >>> plain([Vehicle(year=2016)])[0]["year"]
    2016
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, dict):
        return tidy(value) if "evidence" in value else {key: plain(one) for key, one in value.items()}
    return value


def line(value: Any) -> str:
    """One value on one line."""
    return json.dumps(plain(value), ensure_ascii=False, allow_nan=False)


def array(values: Iterable[Any]) -> str:
    """An array with one value on each line, so that line tools can work on it as well.

    >>> print(array([1, "a"]))
    [1,
     "a"]
    """
    return "[" + ",\n ".join(line(value) for value in values) + "]"
