"""What the archive answers, as tables for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rich.text import Text

from notelog.out.terminal import counted, file_name, heading, plain, table
from notelog.out.words import decision, describe, number, place, vehicle

if TYPE_CHECKING:
    from notelog.archive.asking import Found, FoundEntry
    from notelog.archive.figures import Figures
    from notelog.archive.likeness import Damage
    from notelog.archive.look_too import LookToo
    from notelog.archive.similar import Case, SimilarJob

MOST_TOLD = 8
"""The most damages of a job that are told one by one."""


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


def similar_sheet(found: Sequence[SimilarJob], label: Callable[[str], str]) -> list[Any]:
    """Past jobs that are alike, with what is shared and what differs."""
    if not found:
        return ["No job of the archive has such damage."]
    lines: list[Any] = []
    for one in found:
        like = one.likeness
        about = (one.day, vehicle(one.vehicle.known()), f"{like.alike:.0%} alike" + (", the other way round" if like.mirrored else ""))
        lines.append(heading(f"Job {one.job}", *about))
        shared = [
            damage_told(pair.here, label) + ("" if pair.alike > 0.99 else f" ~ {damage_told(pair.there, label)}") for pair in like.shared
        ]
        differing = ([damage_told(damage, label) for damage in damages] for damages in (like.here_only, like.there_only))
        for what, told in zip(("shared", "only here", "only there"), (shared, *differing), strict=True):
            if told:
                more = f"; and {len(told) - MOST_TOLD} more" if len(told) > MOST_TOLD else ""
                lines.append(f"  {what}: {'; '.join(told[:MOST_TOLD])}{more}")
        lines.append("")
    return lines[:-1]


def damage_told(damage: Damage, label: Callable[[str], str]) -> str:
    """A damage in a few words.

    >>> from notelog.archive.likeness import Damage
    >>> damage_told(Damage("strut", "bent", "left", "front"), str)
    'strut bent, front left'
    """
    where = " ".join(filter(None, (damage.axle, damage.side)))
    return f"{label(damage.component)} {damage.condition}" + (f", {where}" if where else "")


def look_too_sheet(found: Sequence[LookToo]) -> list[Any]:
    """What to look at besides: the question to ask, and below it the figures that it stands on."""
    lines: list[Any] = []
    for one in found:
        lines.append(Text(plain(one.question)))
        about = [f"share {one.share:.0%}, 95 % interval {one.low:.0%} to {one.high:.0%}; {one.everywhere:.0%} of all jobs"]
        if one.hours is not None:
            about.append(f"median {number(one.hours)} h ({counted(one.hours_jobs, 'job', 'jobs')})")
        if one.cost is not None:
            about.append(f"median {one.cost:f} {one.currency} ({counted(one.cost_jobs, 'job', 'jobs')})")
        lines.append(Text(f"  {'; '.join(about)}", style="dim"))
    return lines


def allowance_sheet(found: Sequence[LookToo]) -> list[Any]:
    """What to look at besides, as an allowance under an estimate: it is in none of its sums."""
    if not found:
        return ["", "Allowance: past jobs give no cause for one."]
    return ["", heading("Allowance, in no sum above: what such damage came with on past jobs"), *look_too_sheet(found)]


def figures_sheet(figures: Figures) -> list[Any]:
    """The figures of the archive, a table for each count and each spread."""
    span = " ".join(filter(None, (figures.since and f"since {figures.since}", figures.until and f"until {figures.until}")))
    lines: list[Any] = [heading(f"{counted(figures.jobs, 'job', 'jobs')} with damage", span)]
    for name, counts in figures.counts.items():
        if counts:
            rows = [(one.name, one.jobs, one.entries, one.last_year, one.year_before) for one in counts]
            headings = (name.capitalize(), "Jobs", "Entries", "Last year", "Year before")
            lines += ["", table(headings, rows, right=headings[1:])]
    for name, spreads in figures.spreads.items():
        if spreads:
            rows = [(one.component, one.operation, one.count, *(f"{value:f}" for value in (one.low, one.median, one.high)), one.unit) for one in spreads]
            headings = (f"{name.capitalize()} of", "Operation", "Jobs", "Quartile", "Median", "Quartile", "Unit")
            lines += ["", table(headings, rows, right=headings[2:6])]
    if figures.priced < figures.priced_of:
        lines += ["", f"Hours and prices are from the newest {figures.priced} of {figures.priced_of} jobs that say any."]
    return lines


def similar_plain(case: Case, found: Sequence[SimilarJob], besides: Sequence[LookToo]) -> dict[str, Any]:
    """Similar jobs and what to look at besides, for JSON."""
    return {
        "damage": [one._asdict() for one in case.damage],
        "jobs": [
            {
                "job": one.job, "day": one.day, "vehicle": one.vehicle, "alike": one.likeness.alike,
                "covered": one.likeness.covered, "mirrored": one.likeness.mirrored,
                "shared": [
                    {"here": pair.here._asdict(), "there": pair.there._asdict(), "alike": round(pair.alike, 4)} for pair in one.likeness.shared
                ],
                "here_only": [damage._asdict() for damage in one.likeness.here_only],
                "there_only": [damage._asdict() for damage in one.likeness.there_only],
            }
            for one in found
        ],
        "look_here_too": look_too_plain(besides),
    }  # fmt: skip


def look_too_plain(found: Sequence[LookToo]) -> list[dict[str, Any]]:
    """What to look at besides, for JSON; prices as numbers."""
    return [
        asdict(one) | {"cost": float(one.cost) if one.cost is not None else None, "question": one.question} for one in found
    ]


def figures_plain(figures: Figures) -> dict[str, Any]:
    """The figures of the archive, for JSON; hours and prices as numbers."""
    spreads = {
        name: [
            {field: float(value) if field in ("low", "median", "high") else value for field, value in asdict(one).items()} for one in rows
        ]
        for name, rows in figures.spreads.items()
    }
    return asdict(figures) | {"spreads": spreads}
