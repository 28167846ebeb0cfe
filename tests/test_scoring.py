"""Scoring: gold notes, names, the matching, core and full keys, micro averages, near misses."""

from __future__ import annotations

import json
import random
from pathlib import Path
from types import SimpleNamespace

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from sklearn.metrics import precision_recall_fscore_support
from sklearn.preprocessing import MultiLabelBinarizer

from notelog.errors import InputError
from notelog.models import Evidence, Finding, Named, Part, Position
from notelog.scoring import (
    ALL,
    KINDS,
    Counts,
    GoldNote,
    Names,
    described,
    load_gold,
    maximum_matching,
    misses,
    score_folder,
    score_note,
)

GOLD = Path(__file__).parent / "gold"
EXTERNAL = Path(__file__).parent / "external"

LEXICON = [
    SimpleNamespace(id="lower_arm", kind="component", label="lower arm", synonyms=["bottom arm", "wishbone"]),
    SimpleNamespace(id="hub_carrier", kind="component", label="hub carrier", synonyms=["upright", "knuckle"]),
    SimpleNamespace(id="anti_roll_bar", kind="component", label="anti-roll bar", synonyms=["sway bar"]),
    SimpleNamespace(id="bolt", kind="fastener", label="bolt", synonyms=[]),
    SimpleNamespace(id="bar", kind="tool", label="breaker bar", synonyms=["power bar"]),
    SimpleNamespace(id="bar", kind="component", label="bar", synonyms=[]),
    SimpleNamespace(id="grease", kind="material", label="copper grease", synonyms=["anti-seize"]),
]
NAMES = Names(LEXICON)


def named(identity: str, label: str = "", said: str = "it") -> dict:
    label = label or next((entry.label for entry in LEXICON if entry.id == identity), identity)
    return {"id": identity, "label": label, "said": said}


def gold_note(*entries: dict) -> GoldNote:
    return GoldNote(id="t", driver_side="right", text="words", entries=list(entries))


def finding(component, condition="bent", status="present", **position) -> dict:
    return {"kind": "finding", "component": component, "position": position, "condition": condition, "status": status}


def counts(gold: GoldNote, entries: list, kind: str, full: bool = False) -> tuple[int, int, int]:
    count = score_note(gold, entries, NAMES, full)[kind]
    return count.tp, count.fp, count.fn


# --- gold files ------------------------------------------------------------------------------------


def test_all_gold_notes_load():
    notes = load_gold(GOLD)
    assert [note.id for note in notes] == [f"dev-{number:02}" for number in range(1, 21)]
    assert sum(len(note.entries) for note in notes) == 583


def test_a_file_may_hold_many_notes():
    """Defect texts of the MOT inspection manual, Driver and Vehicle Standards Agency, Open Government Licence v3.0."""
    notes = load_gold(EXTERNAL / "mot_defects_dev.json")
    assert len(notes) == 26 and all(len(note.entries) >= 1 for note in notes)


def test_a_gold_field_may_be_a_list_with_null_and_so_may_a_position():
    note = gold_note(
        finding(["hub", None], ["bent", "damaged"])
        | {"position": [{"side": ["left", None]}, {"side": "right", "axle": "rear"}]}
    )
    entry = note.entries[0]
    assert entry.component == ("hub", None) and entry.condition == ("bent", "damaged") and entry.status == ("present",)
    assert entry.position[0].side == ("left", None) and entry.position[0].axle == (None,)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        ("{", "line 1, column 2"),
        ('{"id": "x"}', "driver_side"),
        (json.dumps({"id": "x", "driver_side": "left", "text": "", "entries": [finding("hub", "wonky")]}), "condition"),
        (json.dumps({"id": "x", "driver_side": "left", "text": "", "entries": [finding([])]}), "empty list"),
        (json.dumps({"id": "x", "driver_side": "left", "text": "", "entries": [{"kind": "joke"}]}), "joke"),
    ],
)
def test_a_bad_gold_file_is_named_with_its_fault(tmp_path, content, what):
    file = tmp_path / "bad.json"
    file.write_text(content)
    with pytest.raises(InputError, match=what) as caught:
        load_gold(tmp_path)
    assert str(file) in str(caught.value) and "\n" not in str(caught.value)


def test_folders_without_gold(tmp_path):
    with pytest.raises(InputError, match="has no .json file"):
        load_gold(tmp_path)
    (tmp_path / "bytes.json").write_bytes(b"\xff\xfe\xff")
    with pytest.raises(InputError, match="save it"):
        load_gold(tmp_path)


# --- names -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "predicted", "gold", "same"),
    [
        ("component", named("lower_arm"), "lower arm", True),
        ("component", named("lower_arm"), "Bottom  Arm", True),
        ("component", named("anti_roll_bar"), "anti roll bar", True),
        ("component", named("anti_roll_bar"), "sway-bar", True),
        (
            "component",
            named("lower_arm", said="track control arm"),
            "track control arm",
            False,
        ),  # `said` does not count
        ("component", named("lower_arm"), "arm", False),
        ("component", named("unknown", "Heat-Shield"), "heat shield", True),
        ("component", named("unknown", "lower arm"), "bottom arm", False),
        ("component", named("from_another_version", "undertray"), "undertray", True),
        ("component", named("bolt"), "bolt", True),  # the component of an operation on a fastener
        ("component", named("bar", "bar"), "breaker bar", False),
        ("tool", named("bar", "breaker bar"), "power bar", True),
        ("material", named("grease"), "anti seize", True),
        ("component", None, None, True),
        ("component", None, "lower arm", False),
        ("component", named("lower_arm"), None, False),
    ],
)
def test_names(kind, predicted, gold, same):
    assert NAMES.same(kind, predicted, gold) is same
    assert NAMES.same(kind, predicted and Named(**predicted), gold) is same


# --- matching --------------------------------------------------------------------------------------


@given(st.integers(0, 9), st.integers(0, 9), st.floats(0, 1), st.randoms(use_true_random=False))
def test_the_matching_is_as_large_as_the_optimal_assignment(rows, columns, density, rng):
    """Reference: scipy.optimize.linear_sum_assignment on the 0/1 matrix of pairs that may match."""
    pairs = numpy.array([[rng.random() < density for _ in range(columns)] for _ in range(rows)], bool).reshape(
        rows, columns
    )
    matching = maximum_matching([list(numpy.flatnonzero(row)) for row in pairs])
    assert all(pairs[left, right] for left, right in matching.items())
    assert len(set(matching.values())) == len(matching)
    best = linear_sum_assignment(pairs, maximize=True)
    assert len(matching) == pairs[best].sum()


def test_a_long_chain_of_alternatives_is_matched():
    """Each left node but the last wants its own and the next right node; the last one wants the first."""
    size = 2000
    assert len(maximum_matching([[at, at + 1] for at in range(size - 1)] + [[0]])) == size


def test_alternatives_are_matched_so_that_most_fit():
    gold = gold_note(finding(["lower arm", "hub carrier"]), finding("lower arm"))
    entries = [finding(named("lower_arm")), finding(named("hub_carrier"))]
    assert counts(gold, entries, "finding") == counts(gold, entries[::-1], "finding") == (2, 0, 0)


# --- keys ------------------------------------------------------------------------------------------

SIZE = {"value": 16, "unit": "mm"}
NO_ARM = named("hub_carrier")
ARM = named("lower_arm")
KEY_FIELDS = [
    # kind, gold, predicted with all right, core fields made wrong, fields of the full key made wrong, fields of no key
    (
        "finding",
        finding("bottom arm", side="left", axle="front", level="lower"),
        finding(ARM, side="left", axle="front"),
        {"component": NO_ARM, "condition": "cracked", "status": "suspected"},
        {"position": {"side": "right", "axle": "front"}},
        {"position": {"side": "left", "axle": "front", "level": "upper", "depth": "inner"}},
    ),
    (
        "operation",
        {"kind": "operation", "component": "wishbone", "position": {"axle": "rear"}, "action": "remove",
         "status": "done"},
        {"kind": "operation", "component": ARM, "position": {"axle": "rear"}, "action": "remove", "status": "done"},
        {"component": None, "action": "fit", "status": "planned"},
        {"position": {"axle": "rear", "side": "both"}},
        {"position": {"axle": "rear", "side": None}},
    ),
    (
        "fastener",
        {"kind": "fastener", "type": "bolt", "drive": None, "size": SIZE, "component": "lower arm"},
        {"kind": "fastener", "type": "bolt", "drive": None, "size": SIZE, "component": ARM, "position": {}},
        {"type": "nut", "size": {"value": 16, "unit": "M"}},
        {"component": NO_ARM},
        {"drive": "hex", "count": 4, "position": {"side": "left"}},
    ),
    (
        "tool",
        {"kind": "tool", "tool": ["breaker bar", "long bar"], "size": {"value": 0.375, "unit": "in"}},
        {"kind": "tool", "tool": named("bar", "breaker bar"), "size": {"value": 3 / 8, "unit": "in"}},
        {"tool": named("unknown", "jemmy"), "size": None},
        {},
        {},
    ),
    (
        "measurement",
        {"kind": "measurement", "quantity": ["camber", "angle"], "low": -1.5, "high": -1, "unit": "deg",
         "component": [None, "hub carrier"], "position": {"side": "left"}},
        {"kind": "measurement", "quantity": "camber", "low": -1.5, "high": -1, "unit": "deg", "component": NO_ARM,
         "position": {"side": "left"}},
        {"quantity": "toe", "low": -1.4, "high": 1, "unit": "arcmin"},
        {"component": ARM, "position": {}},
        {"component": None},
    ),
    (
        "part",
        {"kind": "part", "component": "lower arm", "position": {"side": "left"}, "count": 1, "state": "needed"},
        {"kind": "part", "component": ARM, "position": {"side": "left"}, "count": 1, "state": "needed"},
        {"component": NO_ARM, "state": "ordered"},
        {"position": {"side": "left", "axle": "front"}},
        {"count": 2},
    ),
    (
        "material",
        {"kind": "material", "material": "anti-seize"},
        {"kind": "material", "material": named("grease")},
        {"material": named("unknown", "grease")},
        {},
        {},
    ),
    ("labour", {"kind": "labour", "hours": 0.33}, {"kind": "labour", "hours": 1 / 3}, {"hours": 0.34}, {}, {}),
    (
        "cost",
        {"kind": "cost", "amount": 84.5, "currency": "GBP", "component": "lower arm"},
        {"kind": "cost", "amount": 84.5, "currency": "GBP", "component": ARM},
        {"amount": 84.51, "currency": "USD"},
        {"component": None},
        {},
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "gold", "right", "core", "full", "free"), KEY_FIELDS, ids=[row[0] for row in KEY_FIELDS]
)
def test_which_fields_count(kind, gold, right, core, full, free):
    """The keys are those of the annotation guide's chapter "The score"."""
    note = gold_note(gold)
    assert counts(note, [right], kind) == counts(note, [right], kind, full=True) == (1, 0, 0)
    for field, wrong in core.items():
        for wants_full in (False, True):
            assert counts(note, [right | {field: wrong}], kind, wants_full) == (0, 1, 1), field
    for field, wrong in full.items():
        assert counts(note, [right | {field: wrong}], kind) == (1, 0, 0), field
        assert counts(note, [right | {field: wrong}], kind, full=True) == (0, 1, 1), field
    for field, other in free.items():
        assert counts(note, [right | {field: other}], kind, full=True) == (1, 0, 0), field


def test_positions_match_as_one_of_the_acceptable_places():
    places = [{"side": "left", "axle": "front"}, {"side": "right", "axle": ["rear", None]}]
    note = gold_note(finding("lower arm") | {"position": places})
    for side, axle, same in (
        ("left", "front", 1),
        ("right", "rear", 1),
        ("right", None, 1),
        ("left", "rear", 0),
        (None, None, 0),
    ):
        entry = finding(ARM, side=side, axle=axle)
        assert counts(note, [entry], "finding", full=True)[0] == same


def test_sizes_and_numbers_have_their_tolerances():
    inch = gold_note({"kind": "tool", "tool": "breaker bar", "size": {"value": 0.4375, "unit": "in"}})
    bar = named("bar", "breaker bar")
    for value, same in ((7 / 16, 1), (0.4375 * (1 + 5e-7), 1), (0.4375 * (1 + 5e-6), 0)):
        assert counts(inch, [{"kind": "tool", "tool": bar, "size": {"value": value, "unit": "in"}}], "tool")[0] == same
    labour = gold_note({"kind": "labour", "hours": 1.75})
    for hours, same in ((1.755, 1), (1.745, 1), (1.756, 0)):
        assert counts(labour, [{"kind": "labour", "hours": hours}], "labour")[0] == same


def test_each_key_counts_once():
    note = gold_note(finding("lower arm"))
    twice = [finding(ARM, side="left"), finding(ARM, side="right"), finding(named("lower_arm", said="wishbone"))]
    assert counts(note, twice, "finding") == (1, 0, 0)
    assert counts(note, twice, "finding", full=True) == (1, 2, 0)  # unset, left and right are three places
    unknown = [finding(named("unknown", "heat-shield")), finding(named("unknown", "Heat shield"))]
    assert counts(note, unknown, "finding") == (0, 1, 1)


def test_gold_keys_count_once_too():
    both = gold_note(finding(["lower arm", "wishbone"], side="left"), finding(["wishbone", "Lower-arm"], side="right"))
    entries = [finding(ARM, side="left"), finding(ARM, side="right")]
    assert counts(both, entries, "finding") == (1, 0, 0)
    assert counts(both, entries, "finding", full=True) == (2, 0, 0)


def test_log_entries_score_as_their_json_does():
    evidence = Evidence(start=0, end=5, text="words")
    arm = Named(id="lower_arm", label="lower arm", said="bottom arm")
    entries = [
        Finding(component=arm, position=Position(side="left"), condition="bent", evidence=evidence, confidence=0.9),
        Part(component=arm, state="needed", evidence=evidence, confidence=0.9),
    ]
    note = gold_note(
        finding("wishbone", side="left"), {"kind": "part", "component": "lower arm", "position": {}, "state": "needed"}
    )
    score = score_note(note, entries, NAMES, full=True)
    assert score == score_note(note, [json.loads(entry.model_dump_json()) for entry in entries], NAMES, full=True)
    assert score["finding"] == score["part"] == Counts(1, 0, 0)
    assert set(score) == set(KINDS)


# --- shares ----------------------------------------------------------------------------------------


def perfect(note: GoldNote) -> list[dict]:
    """The log that takes the first acceptable value of every gold field, its names as unknown ones."""
    entries = []
    for gold in note.entries:
        entry = {"kind": gold.kind}
        for field, values in gold.model_dump().items():
            value = values[0] if isinstance(values, tuple) else values
            if field == "position":
                value = {part: places[0] for part, places in value.items()}
            if field in ("component", "tool", "material") and value is not None:
                value = named("unknown", value)
            entry[field] = value
        entries.append(entry)
    return entries


def test_a_perfect_log_scores_one_and_an_empty_one_nothing():
    score = score_folder(GOLD, perfect, NAMES)
    for counted in (score.core, score.full):
        assert {kind: count.f1 for kind, count in counted.items()} == dict.fromkeys((*KINDS, ALL), 1.0)
        assert counted[ALL].fp == counted[ALL].fn == 0
    assert all(note.misses == [] for note in score.notes)
    assert score.full[ALL].tp == 583 and score.core[ALL].tp == 582  # one drum off on both sides is one core key
    nothing = score_folder(GOLD, lambda note: [], NAMES)
    assert nothing.core[ALL] == Counts(0, 0, 582)
    assert (nothing.core[ALL].precision, nothing.core[ALL].recall, nothing.core[ALL].f1) == (0, 0, 0)
    assert sum(len(note.misses) for note in nothing.notes) == 582
    shown = score.to_dict()
    assert shown["notes"] == 20 and shown["core"]["tool"]["f1"] == 1 and json.dumps(shown)


@pytest.mark.parametrize("seed", range(20))
def test_micro_averages_agree_with_scikit_learn(seed, tmp_path):
    """Reference: sklearn.metrics.precision_recall_fscore_support, average="micro", over notes as sets of keys."""
    rng = random.Random(seed)
    universe = [(arm, condition) for arm in "abc" for condition in ("bent", "cracked", "worn")]
    hours = [0.5, 1.0, 2.0]
    truth, guess, predictions = [], [], {}
    for number in range(12):
        gold_keys, keys = rng.sample(universe, rng.randint(0, 6)), rng.sample(universe, rng.randint(0, 6))
        gold_hours, hours_said = rng.sample(hours, rng.randint(0, 2)), rng.sample(hours, rng.randint(0, 2))
        entries = [finding(arm, condition) for arm, condition in gold_keys]
        entries += [{"kind": "labour", "hours": value} for value in gold_hours]
        note = {"id": str(number), "driver_side": "left", "text": "words", "entries": entries}
        (tmp_path / f"{number}.json").write_text(json.dumps(note))
        predictions[str(number)] = [finding(named("unknown", arm), condition) for arm, condition in keys]
        predictions[str(number)] += [{"kind": "labour", "hours": value} for value in hours_said]
        truth.append([*gold_keys, *gold_hours])
        guess.append([*keys, *hours_said])
    score = score_folder(tmp_path, lambda note: predictions[note.id], NAMES)
    for kind, labels in (("finding", universe), ("labour", hours), (ALL, universe + hours)):
        binarizer = MultiLabelBinarizer(classes=labels).fit([labels])
        expected = precision_recall_fscore_support(
            binarizer.transform([[key for key in keys if key in labels] for keys in truth]),
            binarizer.transform([[key for key in keys if key in labels] for keys in guess]),
            average="micro",
            zero_division=0,
        )
        counted = score.core[kind]
        assert (counted.precision, counted.recall, counted.f1) == pytest.approx(expected[:3])


# --- misses ----------------------------------------------------------------------------------------


def test_misses_pair_what_differs_in_one_field():
    note = gold_note(
        finding("lower arm"),
        finding("hub carrier", "cracked"),
        {"kind": "labour", "hours": 2},
        {"kind": "tool", "tool": "mallet", "size": None},
        {"kind": "cost", "amount": 60, "currency": "GBP"},
    )
    entries = [
        finding(ARM, "bent", "suspected"),
        finding(named("anti_roll_bar"), "worn"),
        {"kind": "labour", "hours": 3},
        {"kind": "tool", "tool": named("bar", "breaker bar"), "size": None},
        {"kind": "cost", "amount": 60, "currency": "USD"},
    ]
    found = misses(note, entries, NAMES)
    assert [(miss.kind, miss.what, miss.field) for miss in found] == [
        ("finding", "wrong field", "status"),
        ("finding", "missing", ""),
        ("finding", "false", ""),
        ("tool", "missing", ""),  # two tools without a size have nothing in common
        ("tool", "false", ""),
        ("labour", "missing", ""),
        ("labour", "false", ""),
        ("cost", "wrong field", "currency"),
    ]
    assert found[0].gold is note.entries[0] and found[0].predicted == entries[0]
    assert found[1].gold is note.entries[1] and found[1].predicted is None
    assert found[2].gold is None and found[2].predicted == entries[1]


def test_misses_of_the_full_keys():
    note = gold_note(finding("lower arm", side="left"))
    entries = [finding(ARM, side="right")]
    assert misses(note, entries, NAMES) == []
    [miss] = misses(note, entries, NAMES, full=True)
    assert (miss.what, miss.field) == ("wrong field", "position")


def test_entries_are_described_in_a_line():
    note = gold_note(
        finding(["lower arm", "wishbone"], side="left", axle="front"),
        {"kind": "fastener", "type": "nut", "size": SIZE, "component": None},
        {"kind": "measurement", "quantity": "camber", "low": -1.5, "high": -1, "unit": "deg"},
    )
    assert [described(entry) for entry in note.entries] == [
        "lower arm, bent, present (left front)",
        "nut, 16 mm, -",
        "camber, -1.5, -1, deg, -",
    ]
    assert described(finding(ARM)) == "lower arm, bent, present"
