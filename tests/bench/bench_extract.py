"""How fast notes are understood, how that grows with their length, and how much memory a long one takes.

Run it by itself: `python tests/bench/bench_extract.py`. All of it is measured on the texts of the gold notes, and every
time is the best of some runs. It fails when extraction is slower than 0.05 of bare spaCy tokenising of the same text in
the same run, or when 16 times the text takes more than 20 times the time.
"""

import gc
import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import spacy

import notelog

GOLD = Path(__file__).resolve().parents[1] / "gold"
RUNS = 5
LEAST_RATIO = 0.05
LONGER, MOST_TIMES = 16, 20
MEGABYTE = 1_000_000

# The peak of a process of its own, because memory that was taken once is not given back.
MEMORY = """
import resource, sys
import notelog
text = sys.stdin.read()
notelog.extract("n/s/f drop link snapped")
unit = 1 if sys.platform == "darwin" else 1024
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit
log = notelog.extract(text)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit, before, len(log.entries))
"""


def texts() -> list[str]:
    return [json.loads(file.read_text(encoding="utf-8"))["text"] for file in sorted(GOLD.glob("*.json"))]


def best(of: Callable[[], object], runs: int = RUNS) -> float:
    seconds = []
    for _ in range(runs):
        gc.collect()
        start = time.perf_counter()
        of()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def main() -> int:
    notes = texts()
    characters = sum(map(len, notes))
    tokenise = spacy.blank("en")
    for note in notes:  # what is made once and kept is made here
        notelog.extract(note)
        tokenise(note)
    extracting = characters / best(lambda: [notelog.extract(note) for note in notes])
    tokenising = characters / best(lambda: [tokenise(note) for note in notes])
    ratio = extracting / tokenising
    print(f"{len(notes)} notes, {characters} characters, best of {RUNS} runs")
    print(f"bare tokenising  {tokenising:12,.0f} characters a second")
    print(f"extraction       {extracting:12,.0f} characters a second")
    print(f"ratio            {ratio:12.3f}   (at least {LEAST_RATIO})")

    # Long notes may be understood in another way than short ones, so growth is measured over both ranges.
    together = "\n\n".join(notes)
    worst = 0.0
    for what, text in {"a note": notes[0], "all notes": together}.items():
        one = best(lambda text=text: notelog.extract(text), runs=2)
        many = best(lambda text=text: notelog.extract("\n\n".join([text] * LONGER)), runs=1)
        worst = max(worst, many / one)
        print(
            f"growth           {many / one:12.1f}   times the time for {LONGER} times {what} "
            f"({len(text)} characters, {one:.2f} s, then {many:.2f} s; at most {MOST_TIMES})"
        )

    long = ("\n\n".join([together] * (MEGABYTE // len(together) + 1)))[:MEGABYTE]
    start = time.perf_counter()
    run = subprocess.run(
        [sys.executable, "-c", MEMORY],
        input=long,
        cwd=GOLD.parents[1],
        check=True,
        stdout=subprocess.PIPE,
        encoding="utf-8",
    )
    peak, before, entries = map(int, run.stdout.split())
    print(
        f"memory           {peak / 2**20:12,.0f}   MiB at the most for a note of 1 MB ({entries} entries, "
        f"{time.perf_counter() - start:.0f} s with the start); {before / 2**20:,.0f} MiB at the most before it"
    )
    return int(ratio < LEAST_RATIO or worst > MOST_TIMES)


if __name__ == "__main__":
    sys.exit(main())
