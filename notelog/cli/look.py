"""Commands that read the archive: jobs, job, estimate, export."""

from __future__ import annotations

import sys
from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from notelog.cli.common import STDIN, ArchiveFile, AsJson, Reference, open_archive, print_bytes, print_json
from notelog.cli.quick import QuickCommand
from notelog.errors import InputError

Rejected = Annotated[bool, typer.Option("--rejected", help="Show the entries that people rejected as well.")]


class Form(str, Enum):
    """The form of an exported job."""

    csv = "csv"
    json = "json"
    xlsx = "xlsx"
    html = "html"


class TableName(str, Enum):
    """The tables of an export (`notelog.out.tables.NAMES`)."""

    lines = "lines"
    totals = "totals"
    damage = "damage"
    parts = "parts"
    readings = "readings"
    evidence = "evidence"


LimitsFile = Annotated[
    Path | None, typer.Option("--limits", metavar="FILE.toml", help="The shop's limits for readings; none are built in.")
]
PricesFile = Annotated[
    Path | None, typer.Option("--prices", metavar="FILE.csv", help="The shop's prices and standard hours.")
]
RatesFile = Annotated[
    Path | None, typer.Option("--rates", metavar="FILE.toml", help="The shop's labour rates, rounding and taxes.")
]
RulesFile = Annotated[
    Path | None,
    typer.Option("--rules", metavar="FILE.csv", help="The shop's own rules of repair or replace, before those that ship."),
]


def register(app: typer.Typer) -> None:
    for command in (jobs, job, estimate, export):
        app.command(cls=QuickCommand)(command)


def jobs(archive: ArchiveFile = None, as_json: AsJson = False) -> None:
    """List the jobs, the one with the newest note first."""
    from notelog.out import as_json as json_out

    with open_archive(archive) as store:
        found = store.jobs()
    if as_json:
        print_json(json_out.array(found))
        return
    from notelog.out import terminal, words

    rows = [
        (
            one.reference,
            words.vehicle(one.vehicle.known()),
            one.notes,
            one.entries,
            (one.last_added or one.created)[:10],
        )
        for one in found
    ]
    headings = ("Job", "Vehicle", "Notes", "Entries", "Last note")
    terminal.say(terminal.table(headings, rows, right=("Notes", "Entries")))


def job(
    reference: Reference,
    text: Annotated[bool, typer.Option("--text", help="Print the text of the notes as well.")] = False,
    limits: LimitsFile = None,
    rejected: Rejected = False,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show everything known of a job: its ledger, its notes and their entries.

    The ledger has damage, parts to buy, loose ends, fasteners, readings, work, follow-ups, cautions and open questions. Each entry has its number, the words that it came from, and what a person decided about it.
    """
    from notelog.cli.estimator import ledger_of
    from notelog.out import as_json as json_out
    from notelog.out.job_form import job_with_ledger

    with open_archive(archive) as store:
        found = store.job(reference, rejected=rejected)
        made = ledger_of(store, found, limits)
    if as_json:
        print_json(json_out.line(job_with_ledger(found, made)))
        return
    from notelog.out import terminal
    from notelog.out.ledger_sheet import ledger_sheet
    from notelog.settings import load

    terminal.say(*terminal.job_sheet(found, shop=load().shop, text=text, between=ledger_sheet(made)))


def estimate(
    reference: Reference,
    prices: PricesFile = None,
    rates: RatesFile = None,
    rules: RulesFile = None,
    allowance: Annotated[bool, typer.Option("--allowance", help="Show what was damaged along with such damage on past jobs, apart from the sums.")] = False,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show what a job costs: parts, labour, materials and outside work.

    Each number says where it came from: words of a note, a row of the price file, or the median of past jobs with its quartiles. What has no number is to be asked, and counted.
    """
    from notelog.cli.estimator import allowance_of, estimate_of
    from notelog.out import as_json as json_out
    from notelog.out.estimate_sheet import estimate_sheet

    with open_archive(archive) as store:
        found = store.job(reference)
        _, made = estimate_of(store, found, prices, rates, rules=rules)
        besides = allowance_of(store, found) if allowance else []
    if as_json:
        from notelog.out.found import look_too_plain

        more = {"allowance": look_too_plain(besides)} if allowance else {}
        print_json(json_out.line(made.model_dump(mode="json", by_alias=True) | more))
        return
    from notelog.out import terminal, words
    from notelog.out.found import allowance_sheet
    from notelog.settings import load

    shop = load().shop
    title = terminal.plain(f"{shop}: estimate for job {found.reference}" if shop else f"Estimate for job {found.reference}")
    vehicle = words.vehicle(found.vehicle.known()) or "nothing known of its vehicle"
    terminal.say(terminal.heading(title), vehicle, "", *estimate_sheet(made), *(allowance_sheet(besides) if allowance else []))


def export(
    reference: Reference,
    form: Annotated[
        Form,
        typer.Option("--to", help="csv is one table, json has everything, xlsx a sheet for each table, html prints."),
    ],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write this file instead of standard output.")
    ] = None,
    table: Annotated[
        TableName | None,
        typer.Option(
            "--table",
            help="The table that csv has; evidence has a line for each entry. Else lines, those of the estimate, with "
            "--prices or --rates, and evidence without.",
        ),
    ] = None,
    prices: PricesFile = None,
    rates: RatesFile = None,
    rules: RulesFile = None,
    limits: LimitsFile = None,
    rejected: Rejected = False,
    archive: ArchiveFile = None,
) -> None:
    """Write a job out for other programs and people, with its ledger and its estimate.

    It goes to standard output, or to a file. The file is written whole or not at all. In CSV, text that a spreadsheet would take for a formula begins
    with an apostrophe.
    """
    from notelog.cli.estimator import estimate_of, exported
    from notelog.out import files

    with open_archive(archive) as store:
        found = store.job(reference, rejected=rejected)
        made, estimated = estimate_of(store, found, prices, rates, limits, rules)
    table = table or (TableName.lines if prices or rates else TableName.evidence)
    data = exported(found, made, estimated, form.value, table.value)
    if out is None or str(out) == STDIN:
        if form is Form.xlsx and sys.stdout.isatty():
            raise InputError("A workbook cannot be shown on a terminal: name a file with --out.")
        print_bytes(data)
    else:
        files.write_safely(out, data)
