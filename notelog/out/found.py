"""What the archive answers, as tables for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from rich.text import Text

from notelog.out.terminal import counted, file_name, heading, plain, table
from notelog.out.words import decision, describe, place, vehicle

if TYPE_CHECKING:
    from notelog.archive.asking import Found, FoundEntry


def understood_lines(told: Sequence[tuple[str, str]]) -> list[Text]:
    """How a question was understood, a line for each part of it."""
    return [Text(f"{what}: {plain(words)}", style="dim") for what, words in told]


def found_sheet(found: Found, *, offset: int = 0, entries: bool = False) -> list[Any]:
    """The jobs that were found, each with its entries, or (`entries`) one table of all entries."""
    if not found.jobs:
        return ["Nothing found." if not offset else f"Nothing more: {counted(found.total + found.near, 'job', 'jobs')} in all."]
    if entries:
        rows = [(job.job, job.day, *_cells(one)) for job in found.jobs for one in job.entries]
        headings = ("Job", "Date", "Id", "Entry", "Where", "Words", "Why")
        return [table(headings, rows, right=("Id",)), _count(found, offset)]
    lines: list[Any] = []
    for job in found.jobs:
        lines.append(heading(f"Job {job.job}", job.day, vehicle(job.vehicle.known())))
        if job.missing:
            lines.append(f"nearly: not found as asked is {'; '.join(map(plain, job.missing))}")
        if job.entries:
            lines.append(table(("Id", "Entry", "Where", "Words", "Why"), map(_cells, job.entries), right=("Id",)))
        lines.append("")
    return [*lines, _count(found, offset)]


def _cells(one: FoundEntry) -> tuple[Any, ...]:
    words = f"“{plain(one.words)}”" if one.words else ""
    if one.entry is None:
        return "", f"(text of {file_name(one.source)})", "", words, "; ".join(one.why)
    decided = decision(one.entry)
    told = describe(one.entry) + (f" [{decided}]" if decided else "")
    return one.entry["id"], told, place(one.entry), words, "; ".join(one.why)


def _count(found: Found, offset: int) -> str:
    last = offset + len(found.jobs)
    near = f", {found.near} near" if found.near else ""
    shown = f"jobs {offset + 1} to {last} shown" if last < found.total + found.near or offset else "all shown"
    return f"{counted(found.total, 'job matches', 'jobs match')}{near}; {shown}"
