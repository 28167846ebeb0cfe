"""Ten people at one archive: readers who ask and writers who add, each a process of its own."""

import multiprocessing
import random
import statistics
import time

from handmade import TEXT, full_log, note

from notelog.archive import Archive
from notelog.archive.asking import ask, find_jobs
from notelog.archive.vocabulary import vocabulary


def percentile(times, of):
    """A percentile, in milliseconds."""
    return statistics.quantiles(times, n=100, method="inclusive")[of - 1] * 1000


def reader(path, questions, until, results):
    """Asks and asks: how long it waits for a first row, how long for a whole answer."""
    known, dice, waits, answers = vocabulary(), random.Random(), [], []
    try:
        with Archive(path) as archive:
            while time.time() < until:
                start = time.perf_counter()
                with archive.reading() as connection:
                    connection.execute("SELECT id FROM jobs ORDER BY id DESC LIMIT 1").fetchone()
                    waits.append(time.perf_counter() - start)
                text = dice.choice(questions)
                start = time.perf_counter()
                find_jobs(archive, ask(archive, text, known), known, limit=10)
                answers.append(time.perf_counter() - start)
                time.sleep(0.02)
        results.put(("read", waits, answers, ""))
    except Exception as error:
        results.put(("read", waits, answers, repr(error)))


def writer(path, name, until, results):
    """Adds notes, one after the other, and says which."""
    stored = []
    try:
        with Archive(path, wait=30) as archive:
            while time.time() < until:
                of = note(f"Note {len(stored)} of {name}. " + TEXT)
                archive.add(f"{name} {len(stored)}", [(of, full_log(of))])
                stored.append(f"{name} {len(stored)}")
                time.sleep(0.02)
        results.put(("write", stored, [], ""))
    except Exception as error:
        results.put(("write", stored, [], repr(error)))


def ten_at_once(path, questions, seconds, readers=8, writers=2):
    """Readers and writers on one archive for some seconds: the errors, the notes lost, and what readers waited, in ms."""
    context = multiprocessing.get_context("spawn")
    results, until = context.Queue(), time.time() + seconds + 3
    people = [context.Process(target=reader, args=(path, questions, until, results)) for _ in range(readers)]
    people += [context.Process(target=writer, args=(path, f"writer {number}", until, results)) for number in range(writers)]
    for one in people:
        one.start()
    told = [results.get(timeout=seconds + 120) for _ in people]
    for one in people:
        one.join()
    with Archive(path) as archive:
        there = {reference for (reference,) in archive.connection.execute("SELECT reference FROM jobs")}
    stored = [reference for kind, refs, _, _ in told if kind == "write" for reference in refs]
    waits = [wait for kind, waits, _, _ in told if kind == "read" for wait in waits]
    answers = [one for kind, _, answers, _ in told if kind == "read" for one in answers]
    return {
        "errors": [error for *_, error in told if error], "stored": len(stored), "lost": len(set(stored) - there),
        "answers": len(answers), "wait_99": percentile(waits, 99), "answer_99": percentile(answers, 99),
    }  # fmt: skip
