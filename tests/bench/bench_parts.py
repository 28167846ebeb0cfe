"""What each component of the pipeline gives: core F1 with it left out, and how far confidence can be trusted.

    python tests/bench/bench_parts.py [FOLDER ...]

Prints, for the gold notes and the fresh notes that are only scored, the core F1 of the whole pipeline, the same with one
component left out at a time, each status (denied, doubted ...) by itself, and the share of right entries by confidence.
"""

from __future__ import annotations

import collections
import sys
from pathlib import Path

from notelog.lexicon import load
from notelog.log import log_note
from notelog.reading import read_text
from notelog.scoring import Names, _compare, load_gold, score_folder

TESTS = Path(__file__).resolve().parents[1]
REMOVABLE = ("notelog_judge", "notelog_qualifiers", "notelog_places", "notelog_references")


def entries(gold, without=()):
    return log_note(read_text(gold.text), gold.driver_side, tuple(without)).entries


def main() -> None:
    folders = [Path(name) for name in sys.argv[1:]] or [TESTS / "gold", TESTS / "fresh" / "scored"]
    names = Names(load().entries())
    for folder in folders:
        print(folder)
        for without in ((), *((name,) for name in REMOVABLE), ("notelog_judge", "notelog_qualifiers"), ("notelog_judge", "notelog_references")):
            score = score_folder(folder, lambda gold: entries(gold, without), names)  # noqa: B023
            core, full = score.core["all"], score.full["all"]
            print(f"  without {', '.join(without) or 'nothing':42} core F1 {core.f1:.3f} (P {core.precision:.3f} R {core.recall:.3f}) full F1 {full.f1:.3f}")
        status = collections.defaultdict(lambda: [0, 0, 0])
        bins = collections.defaultdict(lambda: [0, 0])
        for gold in load_gold(folder):
            found = [entry.model_dump() for entry in entries(gold)]
            for kind, of_gold, predicted, matching in _compare(gold, found, names, False):
                right = set(matching.values())
                for at, entry in enumerate(predicted):
                    bins[min(9, int(entry["confidence"] * 10))][at in right] += 1
                    if kind in ("finding", "operation"):
                        status[entry["status"]][0 if at in right else 1] += 1
                if kind in ("finding", "operation"):
                    for number, entry in enumerate(of_gold):
                        if number not in matching:
                            status[entry.status[0]][2] += 1
        for name, (right, false, missing) in sorted(status.items()):
            print(f"  {name:10} F1 {2 * right / max(1, 2 * right + false + missing):.3f} (right {right}, false {false}, missing {missing})")
        for step in sorted(bins):
            false, right = bins[step]
            print(f"  confidence {step / 10:.1f}-{(step + 1) / 10:.1f}: {right} of {right + false} right ({right / (right + false):.2f})")


if __name__ == "__main__":
    main()
