"""An entry in a few words, the same in every face."""

from __future__ import annotations

from typing import Any

KINDS = {
    "finding": "Findings",
    "operation": "Operations",
    "part": "Parts",
    "fastener": "Fasteners",
    "tool": "Tools",
    "measurement": "Measurements",
    "material": "Materials",
    "labour": "Labour",
    "cost": "Costs",
}
"""The kinds of entry in the order in which they are shown, with their headings."""

_POSITION = ("axle", "side", "level", "depth")
_PLAIN_STATUS = ("present", "done")


def number(value: float) -> str:
    """A number without needless zeros.

    >>> number(18.0), number(-1.5), number(0.375)
    ('18', '-1.5', '0.375')
    """
    return f"{value:.6f}".rstrip("0").rstrip(".")


def size(value: dict[str, Any] | None) -> str:
    """A size as the trade writes it.

    >>> size({"value": 12.0, "unit": "M"}), size({"value": 18.0, "unit": "mm"}), size(None)
    ('M12', '18 mm', '')
    """
    if not value:
        return ""
    figure, unit = number(value["value"]), value["unit"]
    return f"{unit}{figure}" if unit in ("M", "T") else f"{figure} {unit}"


def place(entry: dict[str, Any]) -> str:
    """Where on the vehicle.

    >>> place({"position": {"side": "left", "axle": "front"}})
    'front left'
    """
    position = entry.get("position") or {}
    return " ".join(position[name] for name in _POSITION if position.get(name))


def name(thing: dict[str, Any] | None) -> str:
    """The label of a component, tool or material, marked with "?" when it is in no lexicon.

    >>> name({"id": "unknown", "label": "flange plate", "said": "flange plate"}), name(None)
    ('flange plate ?', '')
    """
    if not thing:
        return ""
    return f"{thing['label']} ?" if thing["id"] == "unknown" else thing["label"]


def describe(entry: dict[str, Any]) -> str:
    """What the entry says, in a few words.

    >>> describe({"kind": "finding", "component": {"id": "hub", "label": "hub"}, "condition": "bent",
    ...           "status": "suspected"})
    'hub: bent (suspected)'
    >>> describe({"kind": "fastener", "type": "bolt", "size": {"value": 8, "unit": "mm"}, "drive": "allen", "count": 2})
    '2 x bolt 8 mm allen'
    """
    on = name(entry.get("component"))
    match entry["kind"]:
        case "finding":
            what = entry["condition"] + _unless(entry["status"], _PLAIN_STATUS)
        case "operation":
            what = entry["action"] + _unless(entry["status"], _PLAIN_STATUS)
        case "part":
            count = f"{entry['count']} x " if entry.get("count", 1) != 1 else ""
            what, on = f"{count}{on or 'part'}: {entry['state'].replace('_', ' ')}", ""
        case "fastener":
            count = f"{entry['count']} x " if entry.get("count") else ""
            what = count + _joined(entry["type"], size(entry.get("size")), entry.get("drive"))
        case "tool":
            what = _joined(name(entry["tool"]), size(entry.get("size")))
        case "measurement":
            low, high = number(entry["low"]), number(entry["high"])
            what = _joined(entry["quantity"], low if low == high else f"{low} to {high}", entry["unit"])
        case "material":
            what = name(entry["material"])
        case "labour":
            what = f"{number(entry['hours'])} h"
        case "cost":
            what = f"{entry['amount']:.2f} {entry['currency']}"
        case other:
            what = other
    return f"{on}: {what}" if on else what


def decision(entry: dict[str, Any]) -> str:
    """What a person decided about an entry of the archive, and what its words are read as since; else nothing.

    >>> decision({"kind": "labour", "hours": 2.0, "decided": {
    ...     "what": "changed", "by": "Kim", "fields": ["hours"], "by_hand": False,
    ...     "reading": {"kind": "labour", "hours": 1.5}}})
    'hours changed by Kim; now read as: 1.5 h'
    >>> decision({"kind": "labour", "hours": 2.0, "decided": None})
    ''
    """
    decided = entry.get("decided")
    if not decided:
        return ""
    told = f"{decided['what']} by {decided['by']}"
    if decided["what"] == "changed":
        told = f"{', '.join(decided['fields'])} {told}"
    if decided["by_hand"] and decided["what"] != "added":
        told = f"added by hand, {told}"
    reading = decided["reading"]
    if not reading:
        return told
    where = place(reading)
    return f"{told}; now read as: {describe(reading)}" + (f", {where}" if where != place(entry) else "")


def vehicle(known: dict[str, Any]) -> str:
    """A vehicle in one line.

    >>> vehicle({"year": 2016, "registration": "Q17 ABC", "mileage": 61200})
    '2016, registration Q17 ABC, mileage 61200'
    """
    plain = _joined(*(str(known[field]) for field in ("year", "make", "model") if known.get(field)))
    rest = [f"{label} {known[field]}" for field, label in _VEHICLE_LABELS.items() if known.get(field) is not None]
    return ", ".join(([plain] if plain else []) + rest)


_VEHICLE_LABELS = {"registration": "registration", "vin": "VIN", "mileage": "mileage"}


def clock(seconds: float) -> str:
    """A time in the recording.

    >>> clock(42.4), clock(3723)
    ('0:42', '1:02:03')
    """
    minutes, second = divmod(int(seconds), 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours}:{minute:02}:{second:02}" if hours else f"{minute}:{second:02}"


def _joined(*words: str | None) -> str:
    return " ".join(word for word in words if word)


def _unless(status: str, plain: tuple[str, ...]) -> str:
    return "" if status in plain else f" ({status.replace('_', ' ')})"
