"""The command that shows the whole way on invented notes, in an archive that is thrown away."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive import Archive, JobSummary
    from notelog.models import Log, Note

_SOMETHING = 10
"""The fewest entries of a log that is worth showing."""

COLUMNS = (
    "file", "job", "author", "dictated", "driver_side", "make", "model", "year", "vin", "registration", "mileage"
)  # fmt: skip


def register(app: typer.Typer) -> None:
    app.command()(demo)


def demo() -> None:
    """Show the whole way on invented notes; nothing is kept.

    One log with its evidence, one job and one search, from an archive that is thrown away at the end.
    """
    import tempfile

    from notelog.archive import Archive
    from notelog.out import terminal
    from notelog.paths import data_folder

    folder = data_folder("demo_notes")
    rows = list(_rows(folder / "jobs.csv"))
    notes, logs = _understood(folder, rows)
    # The archive's folder goes when the block ends, also when it ends badly.
    with (
        tempfile.TemporaryDirectory(prefix="notelog-demo-") as place,
        Archive(Path(place) / "demo.sqlite", create=True) as store,
    ):
        for row, note, log in zip(rows, notes, logs, strict=True):
            store.add(row["job"], [(note, log)], vehicle=_vehicle(row), author=row["author"], dictated=row["dictated"])
        shown_job = _shortest(store.jobs())
        first = _shortest_note(rows, notes, logs, shown_job)
        words = _most_found(logs)
        terminal.say(
            f"{terminal.counted(len(rows), 'note', 'notes')} of "
            f"{terminal.counted(len(store.jobs()), 'job', 'jobs')} are in {folder}.",
            "",
            terminal.heading(f"1. One note understood: notelog extract {rows[first]['file']}"),
            "",
            terminal.excerpt(notes[first].text),
            "",
            terminal.entries_table([(entry.model_dump(mode="json"), None) for entry in logs[first].entries]),
            "",
            terminal.heading(f"2. Everything known of a job: notelog job {shown_job}"),
            "",
            *terminal.job_sheet(store.job(shown_job)),
            "",
            terminal.heading(f"3. A search over all jobs: notelog find {words}"),
            "",
            *_search(store, words),
            "",
            terminal.heading("To go on with notes of your own:"),
            "  notelog extract FILE           what is understood of a note; nothing is kept",
            "  notelog add FILE --job 1042    store it under a job",
            "  notelog job 1042               everything known of that job",
            "  notelog find bent lower arm    look through all jobs",
            "  notelog export 1042 --to csv   take a job over into a spreadsheet",
            "  notelog --help                 all commands",
        )


def _rows(table: Path) -> Iterator[dict[str, str]]:
    if not table.is_file():
        raise InputError(f"The demo's notes are missing ({table}): install the package again.")
    with open(table, encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        if missing := set(COLUMNS) - set(reader.fieldnames or ()):
            raise InputError(f"{table}, line 1: the column {min(missing)!r} is missing.")
        yield from reader


def _understood(folder: Path, rows: list[dict[str, str]]) -> tuple[list[Note], list[Log]]:
    from notelog.cli.common import read_notes
    from notelog.out.terminal import progress

    notes, logs = read_notes([str(folder / row["file"]) for row in rows]), []
    with progress("Understanding", len(rows)) as step:
        from notelog.log import log_note

        for row, note in zip(rows, notes, strict=True):
            note.source = row["file"]
            logs.append(log_note(note, row["driver_side"] or "right"))
            step()
    return notes, logs


def _vehicle(row: dict[str, str]):
    from notelog.archive import Vehicle

    figures = {name: int(row[name]) if row[name] else None for name in ("year", "mileage")}
    return Vehicle.given(**{name: row[name] for name in ("make", "model", "vin", "registration")}, **figures)


def _shortest(jobs: list[JobSummary]) -> str:
    """The job of several notes that takes the least room on a screen."""
    return min((job for job in jobs if job.notes > 1), key=lambda job: job.entries, default=jobs[0]).reference


def _shortest_note(rows: list[dict[str, str]], notes: list[Note], logs: list[Log], shown_job: str) -> int:
    """Which note of another job, spoken with times, has the shortest log that is still worth showing."""
    spoken = [
        at
        for at, row in enumerate(rows)
        if row["job"] != shown_job and notes[at].segments and len(logs[at].entries) >= _SOMETHING
    ]
    return min(spoken, key=lambda at: len(logs[at].entries), default=0)


def _most_found(logs: list[Log]) -> str:
    """The component found wanting in the most notes: the search that shows most; of equals the first by name."""
    from collections import Counter

    seen = Counter(
        label
        for log in logs
        for label in {
            entry.component.label
            for entry in log.entries
            if entry.kind == "finding" and entry.component and entry.condition != "good"
        }
    )
    return min(seen, key=lambda label: (-seen[label], label), default="bent")


def _search(store: Archive, words: str) -> list[Any]:
    """What `notelog find` prints."""
    from notelog.archive.asking import ask, find_jobs
    from notelog.archive.question import told
    from notelog.archive.vocabulary import vocabulary
    from notelog.out.found import found_sheet, understood_lines

    known = vocabulary(store.shop_lexicon)
    asked = ask(store, words, known)
    return [*understood_lines(told(asked, known)), *found_sheet(find_jobs(store, asked, known, limit=4))]
