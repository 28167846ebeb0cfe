"""What the answer to a question of the ledger means for the entry that the question is about.

A question's id is its kind and the number of its entry (`side_missing:17`). An answer that says something else than the
entry does is a correction of one field; one that says the same, or that it is not known, changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from notelog.job.questions import FIELDS, NO_PART, SOMETHING_ELSE
from notelog.lexicon import normal

NOT_KNOWN = "not known"
"""The answer that nobody can tell: the question is not asked again, and the entry stays as it is."""

_STAND_ALONE = ("cost", "measurement", "fastener")
_ID = re.compile(r"(?P<kind>[a-z_]+):(?P<entry>[1-9]\d{0,18})")
_SIZE_FIRST = re.compile(r"[MT]\s*\d+(?:\.\d+)?|\d+(?:\.\d+)?(?:/\d+)?\s*(?:mm|in)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Meant:
    """What an answer means: `values` to be changed, as `notelog.archive.corrections.change` takes them, or `rejected`."""

    values: Mapping[str, str] = field(default_factory=dict)
    rejected: bool = False


def asked_about(question: str) -> tuple[str, int] | None:
    """The field and the number of the entry that a question asks about; None when its id is of no such form.

    >>> asked_about("side_missing:17"), asked_about("how many")
    (('side', 17), None)
    """
    found = _ID.fullmatch(question)
    if found is None or found["kind"] not in FIELDS:
        return None
    return FIELDS[found["kind"]].rpartition(".")[2], int(found["entry"])


def meant(question: str, value: str, entry: Mapping[str, Any]) -> Meant:
    """What an answer means for the entry that its question is about, which stands as `entry`.

    >>> arm = {"kind": "finding", "component": {"id": "lower_arm", "label": "lower arm", "said": "it"}}
    >>> meant("unclear_it:17", "hub", arm).values, meant("unclear_it:17", "Lower arm", arm).values
    ({'component': 'hub'}, {})
    >>> meant("odd_size:17", "M10 across flats, ISO 272", arm).values
    {'size': 'M10'}
    """
    name, _ = asked_about(question)
    if normal(value) == NOT_KNOWN:
        return Meant()
    if name == "component":
        if normal(value) == NO_PART:
            # A price or a figure is one, whatever it is of.
            return Meant({name: ""}) if entry["kind"] in _STAND_ALONE else Meant(rejected=True)
        if normal(value) == SOMETHING_ELSE:
            return Meant({name: ""})
        now = entry.get("component")
        return Meant() if now and normal(now["label"]) == normal(value) else Meant({name: value})
    if name == "size" and (size := _SIZE_FIRST.match(value)):
        value = size[0]  # what the ledger offers tells after the size what it is used for
    return Meant({name: value})

