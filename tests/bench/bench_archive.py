"""How fast the archive answers with 1,000, 10,000 and 100,000 jobs of 10 entries each, and with ten people at once.

Run it by itself: `python tests/bench/bench_archive.py` (sizes may be given: `bench_archive.py 1000 10000`). The archives are
generated first, apart from what is measured; each is measured by a process of its own. The columns are 95th percentiles in
milliseconds. "bare FTS5" is a query for the same words over the entries of the same archive: those that have all of the words, the
best 20 by BM25, with their jobs; it and `find` take turns. It ends with exit code 1 when, at the largest size,

- `find` takes more than 4 times the bare query, or `like` more than 150 ms;
- one `add` takes more than 1.5 times as long as at the smallest size;
- the measuring process takes 400 MB or more;

or when bulk `add` of entries is slower than 0.3 of bare `executemany` of the same rows into the same tables of a twin archive, or
when, with 8 readers and 2 writers for a minute, there is an error, a note is lost, or the 99th percentile of what readers wait for
their first row is more than 100 ms.
"""

import json
import random
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from accidents import NAMES, accidents
from crowd import ten_at_once
from handmade import finding, log, note

from notelog.archive import Archive, search, similar
from notelog.archive.asking import ask, find_jobs
from notelog.archive.vocabulary import vocabulary
from notelog.lexicon import load

SIZES = (1_000, 10_000, 100_000)
ENTRIES = 10
MINUTE = 60
MOST_FIND, MOST_LIKE, MOST_ADD, MOST_MEMORY, LEAST_BULK, MOST_WAIT = 4.0, 150.0, 1.5, 400.0, 0.3, 100.0
QUESTIONS = [
    "bent lower arm", "buckled wheel front", "rear bumper cracked", "bonnet dented", "radiator leaking", "strut leaking right front",
    "door dented left", "torn cv boot", "sump cracked", "burnt wiring loom",
]  # fmt: skip


def generate(path: Path, jobs: int) -> None:
    """An archive with generated jobs, written without extraction: the entries are the truth of the generator."""
    lexicon, dice = load(), random.Random(jobs)
    ids = {part: lexicon.find(names[0]) for part, names in NAMES.items()}
    parts = sorted(NAMES)
    with Archive(path, create=True) as archive, archive.writing():
        run = archive.connection
        run.execute("PRAGMA cache_size = -200000")
        entry, rows = 0, []
        for number, made in enumerate(accidents(jobs, seed=jobs), start=1):
            day = f"{2020 + number * 6 // (jobs + 1)}-{dice.randint(1, 12):02}-{dice.randint(1, 28):02}"
            run.execute("INSERT INTO jobs(id, reference, model, created) VALUES (?, ?, ?, ?)", (number, made.reference, made.vehicle, day))
            run.execute(
                """INSERT INTO notes(id, job_id, text, sha256, source, format, encoding, driver_side, dictated, mentions, warnings, added)
                   VALUES (?, ?, ?, ?, 'note.txt', 'text', 'utf-8', 'right', ?, '[]', '[]', ?)""",
                (number, number, made.text, f"{number:064x}", day, f"{day}T10:00:00+00:00"),
            )
            for place in range(ENTRIES):
                real = place < len(made.damage)
                part, condition = made.damage[place] if real else (dice.choice(parts), "good")
                term = ids[part]
                position = {"side": made.side or None, "axle": made.kind.axle or None, "level": None, "depth": None}
                payload = {
                    "kind": "finding", "component": {"id": term.id, "label": term.label, "said": term.label}, "position": position,
                    "condition": condition, "status": "present", "confidence": 0.9,
                    "evidence": {"start": 0, "end": 9, "text": f"{term.label} {condition}", "t_start": None, "t_end": None},
                }  # fmt: skip
                entry += 1
                rows.append({"id": entry, "note_id": number, "number": place, "payload": json.dumps(payload)})
            if number % 1_000 == 0 or number == jobs:  # many rows in one statement: full text is much sooner so
                archive.db["entries"].insert_all(rows, batch_size=200)
                run.execute(
                    """INSERT INTO readings(entry_id, revision, payload, at) SELECT id, 1, payload, ? FROM entries WHERE id BETWEEN ? AND ?""",
                    (day, rows[0]["id"], rows[-1]["id"]),
                )
                rows.clear()
        run.execute("PRAGMA cache_size = -2000")


def percentile(times: list[float], of: int = 95) -> float:
    """A percentile, in milliseconds."""
    return statistics.quantiles(times, n=100, method="inclusive")[of - 1] * 1000


def timed(run, *arguments):
    start = time.perf_counter()
    run(*arguments)
    return time.perf_counter() - start


def bare(connection: sqlite3.Connection, text: str) -> list[sqlite3.Row]:
    words = " ".join(search.quoted(word) for word in text.split())
    return connection.execute(
        """SELECT entries.id, entries.quote, notes.job_id FROM entries_fts JOIN entries ON entries.id = entries_fts.rowid
           JOIN notes ON notes.id = entries.note_id WHERE entries_fts MATCH ? ORDER BY entries_fts.rank LIMIT 20""",
        (words,),
    ).fetchall()


def measure(path: str) -> dict[str, float]:
    """The times of one archive, and the memory of the process that measured them."""
    known, dice = vocabulary(), random.Random(3)
    with Archive(path) as archive:
        (jobs,) = archive.connection.execute("SELECT count(*) FROM jobs").fetchone()
        references = [f"J{dice.randint(1, jobs):05}" for _ in range(60)]

        def find(text):
            return find_jobs(archive, ask(archive, text, known), known, limit=20)

        def like(reference):
            return similar.similar(archive, similar.case_of_job(archive, reference, known), known)

        def add(number):
            of = note(f"Note {number}. " + "It is so. " * 20)
            made = [finding(of, "hub", "bent", "It is so", position={"side": "left"}) for _ in range(ENTRIES)]
            ready = log(of, made)
            return timed(archive.add, f"new {number}", [(of, ready)])

        for text in QUESTIONS:
            assert find(text).total and bare(archive.connection, text), text
        found, plain = [], []
        for _ in range(6):
            for text in QUESTIONS:
                plain.append(timed(bare, archive.connection, text))
                found.append(timed(find, text))
        like(references[0])
        return {
            "find": percentile(found), "bare FTS5": percentile(plain), "like": percentile([timed(like, one) for one in references]),
            "job": percentile([timed(archive.job, one) for one in references]), "add": percentile([add(number) for number in range(60)]),
            "MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        }  # fmt: skip


def bulk(folder: Path, entries: int = 5_000) -> tuple[float, float]:
    """How fast one `add` of many entries is, as a share of bare `executemany` of the same rows into the same tables; and, as a share
    of `executemany` into tables that have neither index nor full text nor checks."""
    shares, bare_shares = [], []
    for turn in range(3):
        of = note("It is so. " * 50 + str(turn))
        ready = log(of, [finding(of, "hub", "bent", "It is so", position={"side": "left"}) for _ in range(entries)])
        with Archive(folder / f"bulk {turn}.sqlite", create=True) as archive, Archive(folder / f"twin {turn}.sqlite", create=True) as twin:
            twin.add("1", [(note("first"), log(note("first"), []))])
            archive.add("1", [(note("first"), log(note("first"), []))])
            with_entries = timed(archive.add, "2", [(of, ready)])
            rows = [tuple(row) for row in archive.connection.execute("SELECT id, 1, number, payload FROM entries")]
            read = [tuple(row) for row in archive.connection.execute("SELECT entry_id, revision, payload, at FROM readings")]

            def plainly(into=twin.connection, rows=rows, read=read):
                into.execute("BEGIN IMMEDIATE")
                into.executemany("INSERT INTO entries(id, note_id, number, payload) VALUES (?, ?, ?, ?)", rows)
                into.executemany("INSERT INTO readings(entry_id, revision, payload, at) VALUES (?, ?, ?, ?)", read)
                into.execute("COMMIT")

            shares.append(timed(plainly) / with_entries)
            with sqlite3.connect(folder / f"bare {turn}.sqlite", isolation_level=None) as plain:
                plain.execute("PRAGMA journal_mode = WAL")
                plain.execute("CREATE TABLE entries (id INTEGER PRIMARY KEY, note_id, number, payload)")
                plain.execute("CREATE TABLE readings (id INTEGER PRIMARY KEY, entry_id, revision, payload, at)")
                bare_shares.append(timed(plainly, plain) / with_entries)
    return max(shares), max(bare_shares)


def main(sizes: list[int]) -> int:
    failed = []
    with tempfile.TemporaryDirectory() as name:
        folder, rows = Path(name), {}
        print(f"{'jobs':>8}{'find':>9}{'bare FTS5':>11}{'ratio':>7}{'like':>9}{'job':>9}{'add':>9}{'MB':>7}   95th percentiles in ms")
        for size in sizes:
            start = time.perf_counter()
            # In a process of its own: one that is started counts the memory of the one that starts it as its own.
            subprocess.run([sys.executable, __file__, "--generate", str(folder / f"{size}.sqlite"), str(size)], check=True)
            took = time.perf_counter() - start
            done = subprocess.run([sys.executable, __file__, "--measure", str(folder / f"{size}.sqlite")], check=True, capture_output=True, text=True)
            rows[size] = one = json.loads(done.stdout)
            one["ratio"] = one["find"] / one["bare FTS5"]
            print(f"{size:>8}{one['find']:>9.1f}{one['bare FTS5']:>11.1f}{one['ratio']:>7.2f}{one['like']:>9.1f}{one['job']:>9.1f}{one['add']:>9.1f}"
                  f"{one['MB']:>7.0f}   generated in {took:.0f} s, {(folder / f'{size}.sqlite').stat().st_size / 1e6:.0f} MB", flush=True)  # fmt: skip
        first, last = rows[sizes[0]], rows[sizes[-1]]
        limits = [
            ("find, in bare FTS5 queries", last["ratio"], MOST_FIND), ("like, ms", last["like"], MOST_LIKE),
            (f"add, in times at {sizes[0]} jobs", last["add"] / first["add"], MOST_ADD), ("memory, MB", last["MB"], MOST_MEMORY),
        ]  # fmt: skip
        share, bare_share = bulk(folder)
        print(f"bulk add: {share:.2f} of executemany into the same tables (at least {LEAST_BULK}), {bare_share:.2f} of that into plain ones")
        limits.append(("bulk add, in times of executemany", 1 / share, 1 / LEAST_BULK))
        told = ten_at_once(str(folder / f"{sizes[0]}.sqlite"), QUESTIONS, MINUTE)
        print(f"ten at once for a minute: {told}")
        limits += [("errors and lost notes", len(told["errors"]) + told["lost"], 0), ("readers' wait, 99th percentile, ms", told["wait_99"], MOST_WAIT)]
        for what, value, most in limits:
            print(f"{what:<44}{value:>9.2f}   at most {most:g}{'' if value <= most else '   NOT KEPT'}")
            failed += [what] * (value > most)
    return int(bool(failed))


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        print(json.dumps(measure(sys.argv[2])))
    elif sys.argv[1:2] == ["--generate"]:
        generate(Path(sys.argv[2]), int(sys.argv[3]))
    else:
        sys.exit(main([int(size) for size in sys.argv[1:]] or list(SIZES)))
