"""The gold notes: what is understood of them, against what careful people wrote down."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from notelog.scoring import ALL, KINDS, load_gold

GOLD = Path(__file__).parent / "gold"
ENOUGH, PLACED = 0.82, 0.69  # 0.844 and 0.723 when measured on 2026-11-25


@pytest.fixture(scope="module")
def score():
    """What `notelog score tests/gold` prints: the JSON, and the table."""
    command = [sys.executable, "-m", "notelog.cli", "score", str(GOLD)]
    environment = {**os.environ, "COLUMNS": "100", "PYTHONUTF8": "1"}
    printed = [
        subprocess.run(
            [*command, *form],
            cwd=GOLD.parents[1],
            env=environment,
            check=True,
            stdout=subprocess.PIPE,
            encoding="utf-8",
        ).stdout
        for form in (["--json"], [])
    ]
    return json.loads(printed[0]), printed[1]


def test_there_are_20_notes_and_every_kind_is_in_them():
    notes = load_gold(GOLD)
    assert len(notes) == 20
    assert {entry.kind for note in notes for entry in note.entries} == set(KINDS)
    assert {note.driver_side for note in notes} == {"left", "right"}


def test_the_core_score_is_enough(score):
    scored, table = score
    print(table)
    assert scored["notes"] == 20
    assert scored["core"][ALL]["f1"] >= ENOUGH
    assert scored["full"][ALL]["f1"] >= PLACED


def test_the_shares_are_those_of_the_counts(score):
    """Precision, recall and F1 by their definitions (van Rijsbergen, Information Retrieval, 2nd ed., 1979, ch. 7)."""
    scored, _ = score
    for key in ("core", "full"):
        for kind, counts in scored[key].items():
            tp, fp, fn = counts["tp"], counts["fp"], counts["fn"]
            assert counts["precision"] == pytest.approx(tp / (tp + fp) if tp else 0), (key, kind)
            assert counts["recall"] == pytest.approx(tp / (tp + fn) if tp else 0), (key, kind)
            assert counts["f1"] == pytest.approx(2 * tp / (2 * tp + fp + fn) if tp else 0), (key, kind)


def test_something_of_every_kind_is_understood(score):
    scored, _ = score
    assert [kind for kind in KINDS if not scored["core"][kind]["tp"]] == []


def test_the_full_score_is_never_above_the_core_score(score):
    scored, _ = score
    for kind, counts in scored["core"].items():
        assert scored["full"][kind]["tp"] <= counts["tp"], kind


def test_the_table_has_a_row_for_each_kind(score):
    scored, table = score
    rows = {line.split()[0]: line.split()[1:] for line in table.splitlines() if line.strip() and line[0].isalpha()}
    for kind in (*KINDS, ALL):
        shares = [scored[key][kind][share] for key in ("core", "full") for share in ("precision", "recall", "f1")]
        gold = scored["core"][kind]["tp"] + scored["core"][kind]["fn"]
        assert rows[kind] == [str(gold), *(f"{share:.3f}" for share in shares)], kind
