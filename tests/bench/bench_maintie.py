"""Mentions of conditions and actions against the annotations of real maintenance texts, by overlap of spans.

    python tests/bench/bench_maintie.py

Prints precision, recall and F1 over all texts, over those that the vocabulary was worked on with and over those that
were held out, and what was missed and falsely found. Ends with exit code 1 when F1 is below 0.80 (conditions) or 0.90
(actions).
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import maintie

from notelog.scoring import score_spans

LEAST = {"condition": 0.80, "action": 0.90}


def main() -> int:
    worked_on, held_out = maintie.halves()
    low = False
    for kind, least in LEAST.items():
        for name, only in (("all", None), ("worked on", worked_on), ("held out", held_out)):
            for strict in (False, True) if maintie.NEITHER[kind] else (False,):
                score = score_spans(maintie.compared(kind, strict, only))
                label = f"{kind}, {name}{', supporting activities count as wrong' if strict else ''}"
                print(f"{label:62} P {score.precision:.3f}  R {score.recall:.3f}  F1 {score.f1:.3f}  ({score.found} found, {score.wanted} wanted)")
        score = score_spans(maintie.compared(kind))
        low = low or score.f1 < least
        for title, table in (("missed", score.missed), ("falsely found", score.made_up)):
            print(f"{kind}, {title}:")
            for said, (count, example) in sorted(table.items(), key=lambda row: (-row[1][0], row[0])):
                print(f"  {count:3} {said:28} {example[:90]}")
    return int(low)


if __name__ == "__main__":
    sys.exit(main())
