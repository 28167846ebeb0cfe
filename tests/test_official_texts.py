"""The official defect texts of the UK's periodic test, each of which states one finding.

Source: Driver and Vehicle Standards Agency, MOT inspection manual and MOT history texts (`tests/external`); contains
public sector information licensed under the Open Government Licence v3.0.
"""

from collections import Counter
from pathlib import Path

import pytest

from notelog import lexicon
from notelog.log import log_note
from notelog.reading import read_text
from notelog.scoring import Names, described, score_folder

TEXTS = Path(__file__).parent / "external" / "mot_defects_dev.json"
ENOUGH = 24


@pytest.fixture(scope="module")
def scored():
    texts, entries = {}, {}

    def predict(gold):
        texts[gold.id] = gold
        entries[gold.id] = log_note(read_text(gold.text, gold.id), gold.driver_side).entries
        return entries[gold.id]

    notes = score_folder(TEXTS, predict, Names(lexicon.load().entries())).notes
    return [(texts[note.id], note, entries[note.id]) for note in notes]


def test_there_are_26_texts_with_one_finding_each(scored):
    assert len(scored) == 26
    assert all([entry.kind for entry in gold.entries] == ["finding"] for gold, _, _ in scored)
    assert len({gold.text for gold, _, _ in scored}) == 26


def test_at_least_24_are_right(scored):
    """Right is core: the component, the condition and the status of the one finding, and no other entry of any kind."""
    wrong = []
    for gold, note, entries in scored:
        if (note.core["finding"].tp, note.core["finding"].fn) != (1, 0) or len(entries) != 1:
            found = "; ".join(described(entry) for entry in entries) or "nothing"
            wrong.append(f"{gold.id} {gold.text!r}: wanted {described(gold.entries[0])}; found {found}")
    print(f"{len(scored) - len(wrong)} of {len(scored)} are right (core); not right:", *wrong, sep="\n  ")
    assert len(scored) - len(wrong) >= ENOUGH


def test_left_and_right_of_the_texts_that_are_right(scored):
    """Where the finding is right, nearside and offside are put on the right side of the car for a right-hand drive."""
    sides = Counter()
    for gold, note, entries in scored:
        said = gold.text.lower()
        if note.core["finding"].tp and ("nearside" in said) != ("offside" in said):
            finding = next(entry for entry in entries if entry.kind == "finding")
            sides[finding.position.side == ("left" if "nearside" in said else "right")] += 1
    assert sides[True] >= 10
    assert sides[False] <= 1
