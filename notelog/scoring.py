"""Scoring: the entries of a log against a gold note, by key, as the annotation guide's chapter "The score" says.

Within a note, entries of one kind are compared by key, each key once, predicted against gold, one to one. The **core**
keys are

- finding: component, condition, status; operation: component, action, status; part: component, state;
- fastener: type, size; tool: tool, size; measurement: quantity, low, high, unit;
- material: material; labour: hours; cost: amount, currency.

The **full** keys add side and axle to a finding, operation, part and measurement, and the component to a fastener,
measurement and cost. A gold field may list several acceptable values, so which entry belongs to which is a maximum
matching in a bipartite graph, found by augmenting paths (Berge 1957; Kuhn 1955).
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, Field, ValidationError

from .errors import InputError
from .models import Action, Condition, Drive, DriverSide, FastenerType, Quantities, Side, Size, Strict, Unit

KINDS = ("finding", "operation", "fastener", "tool", "measurement", "part", "material", "labour", "cost")
ALL = "all"

CORE = {
    "finding": ("component", "condition", "status"),
    "operation": ("component", "action", "status"),
    "fastener": ("type", "size"),
    "tool": ("tool", "size"),
    "measurement": ("quantity", "low", "high", "unit"),
    "part": ("component", "state"),
    "material": ("material",),
    "labour": ("hours",),
    "cost": ("amount", "currency"),
}
_FULL = {
    "finding": ("position",),
    "operation": ("position",),
    "fastener": ("component",),
    "measurement": ("position", "component"),
    "part": ("position",),
    "cost": ("component",),
}
_NAMED = ("component", "tool", "material")
_NUMBERS = ("low", "high", "amount", "hours")
_TOLERANCE = 0.005
_SIZE_TOLERANCE = 1e-6


# --- gold ------------------------------------------------------------------------------------------


def _as_alternatives(value: object) -> tuple:
    return tuple(value) if isinstance(value, (list, tuple)) else (value,)


def _not_empty(value: tuple) -> tuple:
    if not value:
        raise ValueError("an empty list accepts nothing")
    return value


T = TypeVar("T")
OneOf = Annotated[tuple[T, ...], BeforeValidator(_as_alternatives), AfterValidator(_not_empty)]
"""The acceptable values of a gold field: one value, or a list of them, `null` among them where nothing is right too."""

Name = str | None


class GoldPosition(Strict):
    """Where on the vehicle; a field left out is not said and must be unset in the prediction."""

    side: OneOf[Side | None] = (None,)
    axle: OneOf[Literal["front", "rear"] | None] = (None,)
    level: OneOf[Literal["upper", "lower"] | None] = (None,)
    depth: OneOf[Literal["inner", "outer"] | None] = (None,)


_NOWHERE = (GoldPosition(),)


class GoldFinding(Strict):
    """A finding of the gold log."""

    kind: Literal["finding"]
    component: OneOf[Name]
    position: OneOf[GoldPosition] = _NOWHERE
    condition: OneOf[Condition]
    status: OneOf[Literal["present", "absent", "suspected", "past"]]


class GoldOperation(Strict):
    """An operation of the gold log."""

    kind: Literal["operation"]
    component: OneOf[Name]
    position: OneOf[GoldPosition] = _NOWHERE
    action: OneOf[Action]
    status: OneOf[Literal["done", "planned", "not_done"]]


class GoldFastener(Strict):
    """A fastener of the gold log; its drive, count and position are kept and not scored."""

    kind: Literal["fastener"]
    type: OneOf[FastenerType]
    drive: OneOf[Drive | None] = (None,)
    size: OneOf[Size | None] = (None,)
    count: OneOf[int | None] = (None,)
    component: OneOf[Name] = (None,)
    position: OneOf[GoldPosition] = _NOWHERE


class GoldTool(Strict):
    """A tool of the gold log."""

    kind: Literal["tool"]
    tool: OneOf[str]
    size: OneOf[Size | None] = (None,)


class GoldMeasurement(Strict):
    """A reading of the gold log."""

    kind: Literal["measurement"]
    quantity: OneOf[Quantities]
    low: OneOf[float]
    high: OneOf[float]
    unit: OneOf[Unit]
    component: OneOf[Name] = (None,)
    position: OneOf[GoldPosition] = _NOWHERE


class GoldPart(Strict):
    """A part of the gold log; its count is kept and not scored."""

    kind: Literal["part"]
    component: OneOf[Name]
    position: OneOf[GoldPosition] = _NOWHERE
    count: OneOf[int] = (1,)
    state: OneOf[Literal["needed", "ordered", "on_hand"]]


class GoldMaterial(Strict):
    """A consumable of the gold log."""

    kind: Literal["material"]
    material: OneOf[str]


class GoldLabour(Strict):
    """A stretch of time of the gold log, in hours."""

    kind: Literal["labour"]
    hours: OneOf[float]


class GoldCost(Strict):
    """A price of the gold log."""

    kind: Literal["cost"]
    amount: OneOf[float]
    currency: OneOf[str]
    component: OneOf[Name] = (None,)


GoldEntry = Annotated[
    GoldFinding
    | GoldOperation
    | GoldFastener
    | GoldTool
    | GoldMeasurement
    | GoldPart
    | GoldMaterial
    | GoldLabour
    | GoldCost,
    Field(discriminator="kind"),
]


class GoldNote(Strict):
    """A note with the log that a careful colleague would write; every field is a tuple of acceptable values.

    >>> gold = GoldNote(id="x", driver_side="right", text="hub cracked", entries=[
    ...     {"kind": "finding", "component": ["hub", None], "condition": "cracked", "status": "present"}])
    >>> gold.entries[0].component
    ('hub', None)
    """

    id: str
    driver_side: DriverSide
    style: str = ""
    text: str
    entries: list[GoldEntry]


def load_gold(path: str | Path) -> list[GoldNote]:
    """The gold notes in the file `path`, one or a list of them, or in all `*.json` files of the folder `path`, by name.

    Raises InputError when there is no such file or folder, the folder has no such file, or a file is no gold note.

    >>> load_gold("no-such-folder")
    Traceback (most recent call last):
    notelog.errors.InputError: no-such-folder does not exist: give a folder of gold notes
    """
    path = Path(path)
    if not path.exists():
        raise InputError(f"{path} does not exist: give a folder of gold notes")
    files = sorted(path.glob("*.json")) if path.is_dir() else [path]
    if not files:
        raise InputError(f"{path} has no .json file: give a folder of gold notes")
    return [note for file in files for note in _load_file(file)]


def _load_file(path: Path) -> list[GoldNote]:
    try:
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}): check its permissions") from None
    except json.JSONDecodeError as error:
        raise InputError(
            f"{path} is no JSON (line {error.lineno}, column {error.colno}: {error.msg}): mend it there"
        ) from None
    except (ValueError, RecursionError):
        raise InputError(f"{path} is no JSON in UTF-8: save it as such") from None
    try:
        return [GoldNote.model_validate(note) for note in (content if isinstance(content, list) else [content])]
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(map(str, first["loc"])) or "the whole"
        raise InputError(f"{path} is no gold note ({where}: {first['msg']}): mend it as the guide says") from None


# --- names -----------------------------------------------------------------------------------------


def normalised(name: str) -> str:
    """A name as names are compared: lower case, a hyphen is a space, white space squeezed.

    >>> normalised("Anti-Roll  bar")
    'anti roll bar'
    """
    return " ".join(re.sub(r"[-\u2010-\u2013]", " ", name.casefold().replace("\u2019", "'")).split())


class Names:
    """Which names a lexicon entry answers to: its label and its synonyms.

    `entries` are the entries of a lexicon, objects with `id`, `kind`, `label` and `synonyms`.

    >>> from types import SimpleNamespace as Entry
    >>> names = Names([Entry(id="drop_link", kind="component", label="anti-roll bar link", synonyms=["drop link"])])
    >>> said = {"id": "drop_link", "label": "anti-roll bar link", "said": "link"}
    >>> names.same("component", said, "Drop-Link"), names.same("component", said, "link")
    (True, False)
    """

    def __init__(self, entries: Iterable[Any] = ()) -> None:
        self._by_kind: dict[tuple[str, str], frozenset[str]] = {}
        self._by_id: dict[str, frozenset[str]] = {}
        for entry in entries:
            names = frozenset(normalised(name) for name in (entry.label, *entry.synonyms))
            self._by_kind[entry.kind, entry.id] = names
            self._by_id[entry.id] = self._by_id.get(entry.id, frozenset()) | names

    def of(self, kind: str, named: Any) -> frozenset[str]:
        """The normalised names of the predicted `named` (a `Named` or its dict); its label if its id is in no lexicon.

        An operation may be on a fastener ("bolt"), so an id that is not of `kind` is looked up among all kinds.
        """
        named = as_dict(named)
        identity = named.get("id") or "unknown"
        known = self._by_kind.get((kind, identity)) or self._by_id.get(identity)
        return known if known and identity != "unknown" else frozenset([normalised(named.get("label") or "")])

    def same(self, kind: str, named: Any, gold: str | None) -> bool:
        """Whether the gold name is the label or a synonym of the entry predicted; `None` is the same as None only.

        `kind` is "component", "tool" or "material".
        """
        if named is None or gold is None:
            return named is None and gold is None
        return normalised(gold) in self.of(kind, named)


# --- matching --------------------------------------------------------------------------------------


def maximum_matching(neighbours: Sequence[Sequence[int]]) -> dict[int, int]:
    """The largest one-to-one matching: `neighbours[i]` are the right nodes that left node `i` may have; left to right.

    By augmenting paths (Berge 1957), one search for each left node, in O(nodes * edges).

    >>> maximum_matching([[0, 1], [0]])
    {0: 1, 1: 0}
    """
    left_of: dict[int, int] = {}
    right_of: dict[int, int] = {}
    for root in range(len(neighbours)):
        reached_from: dict[int, int] = {}
        free = None
        queue = [root]
        for left in queue:
            fresh = [right for right in neighbours[left] if right not in reached_from]
            reached_from.update(dict.fromkeys(fresh, left))
            free = next((right for right in fresh if right not in left_of), None)
            if free is not None:
                break
            queue.extend(left_of[right] for right in fresh)
        while free is not None:  # along the path back to the root, each left node takes the right node found from it
            left = reached_from[free]
            left_of[free] = left
            right_of[left], free = free, right_of.get(left)
    return dict(sorted(right_of.items()))


# --- the score -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Counts:
    """Entries found (`tp`), predicted and not in gold (`fp`), in gold and not predicted (`fn`).

    >>> Counts(3, 1, 2) + Counts(0, 0, 1)
    Counts(tp=3, fp=1, fn=3)
    >>> round(Counts(3, 1, 3).f1, 3)
    0.6
    """

    tp: int = 0
    fp: int = 0
    fn: int = 0

    def __add__(self, other: Counts) -> Counts:
        return Counts(self.tp + other.tp, self.fp + other.fp, self.fn + other.fn)

    @property
    def precision(self) -> float:
        """The share of predicted entries that are right, 0 to 1; 0 when there are none."""
        return self.tp / (self.tp + self.fp) if self.tp else 0.0

    @property
    def recall(self) -> float:
        """The share of gold entries that were found, 0 to 1; 0 when there are none."""
        return self.tp / (self.tp + self.fn) if self.tp else 0.0

    @property
    def f1(self) -> float:
        """The harmonic mean of precision and recall, 0 to 1 (van Rijsbergen 1979)."""
        return 2 * self.tp / (2 * self.tp + self.fp + self.fn) if self.tp else 0.0

    def to_dict(self) -> dict[str, float]:
        """The counts and the three shares, for JSON."""
        return {
            "tp": self.tp,
            "fp": self.fp,
            "fn": self.fn,
            "precision": self.precision,
            "recall": self.recall,
            "f1": self.f1,
        }


class Miss(NamedTuple):
    """An entry that does not match: `what` says whether it is missing, false, or right but for one key field.

    `gold` is None for "false", `predicted` is None for "missing"; `field` names the field that is wrong.
    """

    kind: str
    what: Literal["missing", "false", "wrong field"]
    gold: Any = None
    predicted: dict | None = None
    field: str = ""


@dataclass(slots=True)
class NoteScore:
    """The score of one note: counts by kind for the core and the full keys, and the core misses."""

    id: str
    core: dict[str, Counts]
    full: dict[str, Counts]
    misses: list[Miss] = field(default_factory=list)


@dataclass(slots=True)
class FolderScore:
    """The scores of many notes; `core` and `full` count over all of them together (micro), by kind and for "all"."""

    notes: list[NoteScore]

    @property
    def core(self) -> dict[str, Counts]:
        """Counts of the core keys by kind, and under "all"."""
        return with_all(note.core for note in self.notes)

    @property
    def full(self) -> dict[str, Counts]:
        """Counts of the full keys by kind, and under "all"."""
        return with_all(note.full for note in self.notes)

    def to_dict(self) -> dict[str, Any]:
        """Counts and shares by key and kind, for JSON."""
        return {
            "notes": len(self.notes),
            "core": {kind: counts.to_dict() for kind, counts in self.core.items()},
            "full": {kind: counts.to_dict() for kind, counts in self.full.items()},
        }


def with_all(counts: Iterable[dict[str, Counts]]) -> dict[str, Counts]:
    """The sum of the counts by kind, and of all kinds under "all".

    >>> with_all([{"tool": Counts(1, 0, 0)}, {"tool": Counts(0, 1, 0)}])["all"]
    Counts(tp=1, fp=1, fn=0)
    """
    total = dict.fromkeys(KINDS, Counts())
    for of_note in counts:
        for kind, count in of_note.items():
            total[kind] += count
    return {**total, ALL: sum(total.values(), Counts())}


def score_note(gold: GoldNote, entries: Iterable[Any], names: Names, full: bool) -> dict[str, Counts]:
    """Counts by kind for the predicted `entries` (log entries, or their dicts as printed in JSON) of one note.

    `full` wants the full keys instead of the core keys.

    >>> gold = GoldNote(id="x", driver_side="right", text="2 hours", entries=[{"kind": "labour", "hours": [2, 2.5]}])
    >>> score_note(gold, [{"kind": "labour", "hours": 2}, {"kind": "labour", "hours": 9}], Names(), False)["labour"]
    Counts(tp=1, fp=1, fn=0)
    """
    counts = {}
    for kind, gold_entries, predicted, matching in compare(gold, entries, names, full):
        found = len(matching)
        counts[kind] = Counts(found, len(predicted) - found, len(gold_entries) - found)
    return counts


def misses(gold: GoldNote, entries: Iterable[Any], names: Names, full: bool = False) -> list[Miss]:
    """What is missing and what is false in a log, by kind; a missing and a false entry that differ in one key field
    and agree in another are one "wrong field".

    >>> gold = GoldNote(id="x", driver_side="right", text="60 quid", entries=[
    ...     {"kind": "cost", "amount": 60, "currency": "GBP"}])
    >>> [miss] = misses(gold, [{"kind": "cost", "amount": 16, "currency": "GBP"}], Names())
    >>> miss.what, miss.field
    ('wrong field', 'amount')
    """
    found = []
    for kind, gold_entries, predicted, matching in compare(gold, entries, names, full):
        missing = [entry for number, entry in enumerate(gold_entries) if number not in matching]
        matched = set(matching.values())
        false = [entry for number, entry in enumerate(predicted) if number not in matched]
        wrong = [[_only_wrong_field(kind, of_gold, entry, names, full) for entry in false] for of_gold in missing]
        near = maximum_matching([[at for at, field_ in enumerate(row) if field_] for row in wrong])
        for number, of_gold in enumerate(missing):
            if number in near:
                at = near[number]
                found.append(Miss(kind, "wrong field", of_gold, false[at], wrong[number][at]))
            else:
                found.append(Miss(kind, "missing", of_gold))
        taken = set(near.values())
        found.extend(Miss(kind, "false", None, entry) for at, entry in enumerate(false) if at not in taken)
    return found


def score_folder(path: str | Path, predict: Callable[[GoldNote], Iterable[Any]], names: Names) -> FolderScore:
    """Score `predict(note)`, the entries of the log made from `note.text`, for every gold note of the folder `path`.

    Raises InputError as `load_gold` does.

    >>> score_folder("no-such-folder", lambda note: [], Names())
    Traceback (most recent call last):
    notelog.errors.InputError: no-such-folder does not exist: give a folder of gold notes
    """
    notes = []
    for gold in load_gold(path):
        entries = [as_dict(entry) for entry in predict(gold)]
        core, full = (score_note(gold, entries, names, full) for full in (False, True))
        notes.append(NoteScore(gold.id, core, full, misses(gold, entries, names)))
    return FolderScore(notes)


@dataclass(slots=True)
class SpanScore:
    """Found spans against wanted ones by overlap: how many of the found ones are right, how many of the wanted ones are
    covered, and what was missed or made up, with how often and one text that has it."""

    found: int = 0
    right: int = 0
    wanted: int = 0
    covered: int = 0
    missed: dict[str, tuple[int, str]] = field(default_factory=dict)
    made_up: dict[str, tuple[int, str]] = field(default_factory=dict)

    @property
    def precision(self) -> float:
        """The share of the found spans that overlap a wanted one; 0 when none is found."""
        return self.right / self.found if self.found else 0.0

    @property
    def recall(self) -> float:
        """The share of the wanted spans that a found one overlaps; 0 when none is wanted."""
        return self.covered / self.wanted if self.wanted else 0.0

    @property
    def f1(self) -> float:
        """The harmonic mean of precision and recall."""
        both = self.precision + self.recall
        return 2 * self.precision * self.recall / both if both else 0.0


Spans = Sequence[tuple[int, int]]


def score_spans(texts: Iterable[tuple[str, Spans, Spans, Spans]]) -> SpanScore:
    """Found spans against annotated ones: for each text its wanted spans, those that count neither way, and the found.

    A span is (start, end) in characters of the text. Two overlap when they share a character. A found span that overlaps
    no wanted one but one of those that count neither way is left out.

    >>> score = score_spans([("replace cracked hose", [(8, 15)], [(0, 7)], [(0, 7), (8, 15), (16, 20)])])
    >>> score.precision, score.recall, list(score.made_up)
    (0.5, 1.0, ['hose'])
    """
    score = SpanScore()
    for text, wanted, neither, found in texts:
        for span in wanted:
            score.wanted += 1
            if _overlaps(span, found):
                score.covered += 1
            else:
                _one_more(score.missed, text, span)
        for span in found:
            if _overlaps(span, wanted):
                score.right += 1
            elif _overlaps(span, neither):
                continue
            else:
                _one_more(score.made_up, text, span)
            score.found += 1
    return score


def _overlaps(span: tuple[int, int], others: Spans) -> bool:
    return any(span[0] < end and start < span[1] for start, end in others)


def _one_more(table: dict[str, tuple[int, str]], text: str, span: tuple[int, int]) -> None:
    said = text[span[0] : span[1]].lower()
    count, example = table.get(said, (0, text))
    table[said] = (count + 1, example)


def described(entry: Any) -> str:
    """A gold or a predicted entry in one short line; of several acceptable values the first.

    >>> described({"kind": "finding", "component": {"id": "hub", "label": "hub", "said": "hub"},
    ...            "position": {"side": "left"}, "condition": "cracked", "status": "present"})
    'hub, cracked, present (left)'
    """
    entry = as_dict(entry)
    values = [_shown(_first(entry.get(field_))) for field_ in CORE[entry["kind"]]]
    if "component" in _FULL.get(entry["kind"], ()):
        values.append(_shown(_first(entry.get("component"))))
    place = as_dict(_first(entry.get("position")) or {})
    shown_place = " ".join(str(_first(place.get(part))) for part in ("side", "axle") if _first(place.get(part)))
    return ", ".join(values) + (f" ({shown_place})" if shown_place else "")


def _first(value: Any) -> Any:
    return value[0] if isinstance(value, (list, tuple)) else value


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return str(value["label"]) if "label" in value else f"{value['value']:g} {value['unit']}"
    return f"{value:g}" if isinstance(value, float) else "-" if value is None else str(value)


def compare(
    gold: GoldNote, entries: Iterable[Any], names: Names, full: bool = False, without: Sequence[str] = ()
) -> Iterator[tuple[str, list[Any], list[dict], dict[int, int]]]:
    """For each kind: the gold and the predicted entries, each key once, and the matching from gold to predicted.

    `full` wants the full keys instead of the core keys; `without` names fields of the keys that do not count.

    >>> gold = GoldNote(id="x", driver_side="right", text="2 hours", entries=[{"kind": "labour", "hours": 2}])
    >>> [(kind, found) for kind, _, _, found in compare(gold, [{"kind": "labour", "hours": 2}], Names()) if found]
    [('labour', {0: 0})]
    """
    predicted_of: dict[str, dict[tuple, dict]] = {kind: {} for kind in KINDS}
    gold_of: dict[str, dict[tuple, Any]] = {kind: {} for kind in KINDS}
    for entry in map(as_dict, entries):
        kind = entry["kind"]
        key = tuple(_predicted_key(entry, field_) for field_ in key_fields(kind, full) if field_ not in without)
        predicted_of[kind].setdefault(key, entry)
    for of_gold in gold.entries:
        kind = of_gold.kind
        key = tuple(_gold_key(of_gold, field_) for field_ in key_fields(kind, full) if field_ not in without)
        gold_of[kind].setdefault(key, of_gold)
    for kind in KINDS:
        gold_entries, predicted = list(gold_of[kind].values()), list(predicted_of[kind].values())
        fields = [field_ for field_ in key_fields(kind, full) if field_ not in without]
        may_match = [
            [
                at
                for at, entry in enumerate(predicted)
                if all(is_right(of_gold, entry, field_, names) for field_ in fields)
            ]
            for of_gold in gold_entries
        ]
        yield kind, gold_entries, predicted, maximum_matching(may_match)


def key_fields(kind: str, full: bool = False) -> tuple[str, ...]:
    """The fields of a kind that are compared.

    >>> key_fields("labour"), key_fields("part", full=True)
    (('hours',), ('component', 'state', 'position'))
    """
    return CORE[kind] + (_FULL.get(kind, ()) if full else ())


def as_dict(entry: Any) -> dict:
    """A log entry as a plain dictionary.

    >>> as_dict({"kind": "labour"})
    {'kind': 'labour'}
    """
    return entry.model_dump() if isinstance(entry, BaseModel) else entry


def _place(position: dict | None) -> tuple[str | None, str | None]:
    position = position or {}
    return position.get("side"), position.get("axle")


def _predicted_key(entry: dict, field_: str) -> Any:
    """What makes a predicted field the same as that of another predicted entry."""
    value = entry.get(field_)
    if field_ == "position":
        return _place(value)
    if value is None:
        return None
    if field_ in _NAMED:
        identity = value.get("id") or "unknown"
        return identity if identity != "unknown" else ("unknown", normalised(value["label"]))
    if field_ == "size":
        return round(value["value"], 6), value["unit"]
    return round(value, 6) if field_ in _NUMBERS else value


def _gold_key(of_gold: Any, field_: str) -> frozenset:
    """The acceptable values of a gold field in a form that can be compared whatever their order."""
    values = getattr(of_gold, field_)
    if field_ == "position":
        return frozenset((frozenset(place.side), frozenset(place.axle)) for place in values)
    if field_ == "size":
        return frozenset(size and (size.value, size.unit) for size in values)
    if field_ in _NAMED:
        return frozenset(name and normalised(name) for name in values)
    return frozenset(values)


def is_right(of_gold: Any, entry: dict, field_: str, names: Names) -> bool:
    """Whether the predicted field is one of the acceptable ones of the gold entry.

    >>> of_gold = GoldLabour(kind="labour", hours=[2, 2.5])
    >>> is_right(of_gold, {"kind": "labour", "hours": 2.5}, "hours", Names())
    True
    """
    accepted, value = getattr(of_gold, field_), entry.get(field_)
    if field_ in _NAMED:
        return any(names.same(field_, value, name) for name in accepted)
    if field_ == "position":
        side, axle = _place(value)
        return any(side in place.side and axle in place.axle for place in accepted)
    if value is None:
        return None in accepted
    if field_ == "size":
        return any(
            size is not None
            and size.unit == value["unit"]
            and math.isclose(size.value, value["value"], rel_tol=_SIZE_TOLERANCE)
            for size in accepted
        )
    if field_ in _NUMBERS:
        return any(abs(number - value) <= _TOLERANCE + 1e-9 for number in accepted)
    return value in accepted


def _only_wrong_field(kind: str, of_gold: Any, entry: dict, names: Names, full: bool) -> str:
    """The one key field in which the entries differ, when another one that is set agrees; else ""."""
    fields = key_fields(kind, full)
    wrong = [field_ for field_ in fields if not is_right(of_gold, entry, field_, names)]
    agreed = [field_ for field_ in fields if field_ not in wrong and entry.get(field_) is not None]
    return wrong[0] if len(wrong) == 1 and agreed else ""
