"""How fast the commands start that load nothing heavy, as a ratio to a bare start of what they are built on.

Run it by itself: `python tests/bench/bench_start.py`. The first column is the best of the runs, in milliseconds; the
second is its ratio to `python -c "import typer, sqlite3"` in the same run, which may be at most 3. Then, without a limit,
how long a short note takes in a process of its own, beside the start of spaCy, which it cannot do without.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from handmade import full_log, note

from notelog.archive import Archive

RUNS = 15
MOST = 3.0
BASE = [sys.executable, "-c", "import typer, sqlite3"]
FIRST_RUNS = 4
FIRST = {
    'python -c "import spacy"': "import spacy",
    "the first extract of a process": "import notelog; notelog.extract('n/s/f drop link snapped')",
}
COMMANDS = {"notelog --help": ["--help"], "notelog find": ["find", "bent", "lower", "arm"], "notelog jobs": ["jobs"]}


def seconds(arguments: list[str], environment: dict[str, str]) -> float:
    start = time.perf_counter()
    subprocess.run(arguments, check=True, stdout=subprocess.DEVNULL, env=environment)
    return time.perf_counter() - start


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        archive_file = Path(folder) / "jobs.sqlite"
        with Archive(archive_file, create=True) as archive:
            archive.add("1042", [(note(), full_log())])
        environment = {**os.environ, "NOTELOG_ARCHIVE": str(archive_file)}
        programs = {'python -c "import typer, sqlite3"': BASE} | {
            name: [sys.executable, "-m", "notelog.cli", *arguments] for name, arguments in COMMANDS.items()
        }
        # The programs take turns, so that a busy moment of the machine falls on all of them.
        best = dict.fromkeys(programs, float("inf"))
        for _ in range(RUNS):
            for name, arguments in programs.items():
                best[name] = min(best[name], seconds(arguments, environment))
    base = best[next(iter(best))]
    for name, took in best.items():
        print(f"{name:<36} {took * 1000:6.0f} ms   {took / base:4.2f}")
    for name, program in FIRST.items():
        took = min(seconds([sys.executable, "-c", program], dict(os.environ)) for _ in range(FIRST_RUNS))
        print(f"{name:<36} {took * 1000:6.0f} ms")
    return int(max(best.values()) / base > MOST)


if __name__ == "__main__":
    sys.exit(main())
