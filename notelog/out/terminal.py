"""Tables for a terminal, no wider than it is; into a pipe they go without colour."""

from __future__ import annotations

import sys
import threading
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from notelog.out.words import KINDS, clock, decision, describe, place, vehicle

if TYPE_CHECKING:
    from notelog.archive import Job

PROGRESS_AFTER = 1.0
"""Seconds of work before progress is shown."""


def console(*, stderr: bool = False) -> Console:
    """A console that takes nothing in a note for markup: "[0:42]" is printed as it stands."""
    return Console(stderr=stderr, markup=False, emoji=False, highlight=False)


def plain(value: Any) -> str:
    """Text for one cell: white space squeezed, and no control or direction character that a note might carry.

    >>> plain("ball\\njoint\\x1b[31m"), plain(None)
    ('ball joint[31m', '')
    """
    text = " ".join(str(value).split()) if value is not None else ""
    return "".join(letter for letter in text if unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co"))


def table(headings: Sequence[str], rows: Iterable[Sequence[Any]], *, right: Sequence[str] = ()) -> Table:
    """A table of plain cells; the columns named in `right` are set to the right."""
    made = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading in headings:
        made.add_column(heading, justify="right" if heading in right else "left", overflow="fold")
    for row in rows:
        made.add_row(*(cell if isinstance(cell, Text) else Text(plain(cell)) for cell in row))
    return made


def entries_table(entries: Sequence[tuple[dict[str, Any], Any]], *, mark: str = "") -> Table:
    """Entries by kind, each with the words that it came from.

    `entries` are pairs of an entry and what stands in the first column under the heading `mark`, such as the
    number of its note; without a heading that column is left out. Entries of the archive have their number beside it.
    """
    made = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, expand=False)
    numbered = any("id" in entry for entry, _ in entries)
    before = [*([mark] if mark else []), *(["Id"] if numbered else [])]
    for beside in before:
        made.add_column(beside, justify="right")
    made.add_column("Entry", ratio=5, overflow="fold")
    made.add_column("Where", ratio=2, overflow="fold")
    made.add_column("Sure", justify="right", no_wrap=True)
    made.add_column("Words it came from", ratio=6, overflow="fold")
    for kind, heading in KINDS.items():
        of_kind = [pair for pair in entries if pair[0]["kind"] == kind]
        for number, (entry, beside) in enumerate(of_kind):
            if not number:
                made.add_row(*("" for _ in before), Text(heading, style="bold"))
            front = [*([beside] if mark else []), *([entry.get("id")] if numbered else [])]
            cells = [_told(entry), place(entry), f"{entry['confidence']:.0%}", _quote(entry["evidence"])]
            made.add_row(*(Text(plain(cell)) for cell in front + cells), end_section=False)
    return made


def why_sheet(entries: Sequence[dict[str, Any]], why: Sequence[Sequence[str]]) -> list[Any]:
    """Entries by kind, each with what is behind it: lines "head: text", the heads in a column of their own."""
    lines: list[Any] = []
    for kind, title in KINDS.items():
        of_kind = [(entry, reasons) for entry, reasons in zip(entries, why, strict=True) if entry["kind"] == kind]
        if of_kind:
            lines.append(Text(title, style="bold"))
        for entry, reasons in of_kind:
            lines.append(Text(", ".join(filter(None, (_told(entry), place(entry), f"{entry['confidence']:.0%} sure")))))
            behind = Table(box=None, show_header=False, pad_edge=False, padding=(0, 1))
            behind.add_column(no_wrap=True)
            behind.add_column(overflow="fold")
            for head, text in [("words", _quote(entry["evidence"])), *(one.split(": ", 1) for one in map(plain, reasons))]:
                behind.add_row(Text(f"  {head}"), Text(text))
            lines.append(behind)
    return lines


def _told(entry: dict[str, Any]) -> str:
    """An entry in a few words, with what a person decided about it."""
    decided = decision(entry)
    return f"{describe(entry)} [{decided}]" if decided else describe(entry)


def heading(source: str, *about: str) -> Text:
    """The line over a note's table."""
    return Text.assemble((plain(source), "bold"), *(f"  {plain(one)}" for one in about if one))


def excerpt(text: str, letters: int = 600) -> Text:
    """The beginning of a note's text, cut at a word."""
    line = plain(text)
    return Text(line if len(line) <= letters else line[:letters].rsplit(" ", 1)[0] + " …", style="italic")


def called(source: str) -> str:
    """A note's source as people call it.

    >>> called("monday/bay2.txt"), called("-")
    ('monday/bay2.txt', 'standard input')
    """
    return "standard input" if source == "-" else source


def file_name(source: str) -> str:
    """A note's source without its folders, which would take the room of the words.

    >>> file_name("monday/bay2.txt")
    'bay2.txt'
    """
    return called(PurePath(source).name or source)


def counted(count: int, singular: str, plural: str) -> str:
    """A number with its noun.

    >>> counted(1, "entry", "entries"), counted(0, "entry", "entries")
    ('1 entry', '0 entries')
    """
    return f"{count} {singular if count == 1 else plural}"


def job_sheet(job: Job, *, shop: str = "", text: bool = False, between: Sequence[Any] = ()) -> list[Any]:
    """Everything known of a job, to be printed one after the other; `between` its notes and their entries."""
    lines: list[Any] = [heading(f"{plain(shop)}: job {job.reference}" if shop else f"Job {job.reference}")]
    lines += [vehicle(job.vehicle.known()) or "nothing known of its vehicle", ""]
    headings = ("Note", "Source", "Author", "Dictated", "Added", "Entries")
    rows = [(n.id, file_name(n.source), n.author, _minute(n.dictated), n.added[:10], len(n.entries)) for n in job.notes]
    lines += [table(headings, rows, right=("Note", "Entries")), "", *between]
    entries = [(entry, note.id) for note in job.notes for entry in note.entries]
    lines += [entries_table(entries, mark="Note")] if entries else ["No entries."]
    for note in job.notes:
        lines += [f"Note {note.id}: warning: {plain(warning)}" for warning in note.warnings]
        if text:
            lines += ["", heading(f"Note {note.id}, as it was dictated"), *map(plain, note.text.splitlines())]
    return lines


def _minute(time: str | None) -> str:
    """A date and time to the minute: seconds of a dictation tell nobody anything."""
    return (time or "")[:16].replace("T", " ")


def _quote(evidence: dict[str, Any]) -> str:
    if not evidence["text"]:
        return ""
    start = evidence.get("t_start")
    return f"“{plain(evidence['text'])}”" + (f" at {clock(start)}" if start is not None else "")


def say(*lines: Any) -> None:
    """Print lines or tables on standard output."""
    out = console()
    for one in lines:
        out.print(Text(one) if isinstance(one, str) else one)


def warn(message: str) -> None:
    """Print a warning on standard error."""
    print(f"notelog: warning: {plain(message)}", file=sys.stderr)


@contextmanager
def progress(what: str, total: int) -> Iterator[Callable[[], None]]:
    """A bar on standard error, shown to a person and only when the work takes longer than a second.

    Gives a function to be called after each of the `total` steps.
    """
    shown = console(stderr=True)
    if not shown.is_terminal:
        yield lambda: None
        return
    from rich.progress import Progress

    bar = Progress(console=shown, transient=True)
    task = bar.add_task(what, total=total)
    timer = threading.Timer(PROGRESS_AFTER, bar.start)
    timer.daemon = True
    timer.start()
    try:
        yield lambda: bar.advance(task)
    finally:
        timer.cancel()
        timer.join()
        bar.stop()
