"""Commands that read the archive: jobs, job, find, export."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from notelog.cli.common import STDIN, ArchiveFile, AsJson, Reference, open_archive, print_json, print_utf8
from notelog.cli.quick import QuickCommand

Rejected = Annotated[bool, typer.Option("--rejected", help="Show the entries that people rejected as well.")]


class Form(str, Enum):
    """The form of an exported job."""

    csv = "csv"
    json = "json"


def register(app: typer.Typer) -> None:
    for command in (jobs, job, find, export):
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
    rejected: Rejected = False,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show everything known of a job.

    Its vehicle, its notes, and their entries by kind, each with its number, the words that it came from, and what a person decided about it.
    """
    from notelog.out import as_json as json_out

    with open_archive(archive) as store:
        found = store.job(reference, rejected=rejected)
    if as_json:
        print_json(json_out.line(found))
        return
    from notelog.out import terminal
    from notelog.settings import load

    terminal.say(*terminal.job_sheet(found, shop=load().shop, text=text))


def find(
    words: Annotated[list[str], typer.Argument(metavar="WORDS", help="What to look for.")],
    limit: Annotated[int, typer.Option(min=1, max=10_000, help="The most places to show.")] = 20,
    rejected: Rejected = False,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Find words in the entries and notes of all jobs.

    All words must be found; the best places come first. Word forms count as one (bolts finds bolt); words between double quotes stay together.
    """
    from notelog.out import as_json as json_out

    with open_archive(archive) as store:
        hits = store.find(" ".join(words), limit=limit, rejected=rejected)
    if as_json:
        print_json(json_out.array(hits))
        return
    from notelog.out import terminal

    terminal.say(terminal.hits_table(hits) if hits else "Nothing found.")


def export(
    reference: Reference,
    form: Annotated[Form, typer.Option("--to", help="csv has a line for each entry; json has everything.")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write this file instead of standard output.")
    ] = None,
    rejected: Rejected = False,
    archive: ArchiveFile = None,
) -> None:
    """Write a job out for other programs.

    It goes to standard output, or to a file. The file is written whole or not at all. In CSV, text that a spreadsheet would take for a formula begins
    with an apostrophe.
    """
    from notelog.out import as_csv, as_json, files
    from notelog.settings import load

    with open_archive(archive) as store:
        found = store.job(reference, rejected=rejected)
    if form is Form.csv:
        made = as_csv.job_csv(found)
    else:
        shop = load()
        made = as_json.line({"shop": shop.shop, "currency": shop.currency, "job": found}) + "\n"
    if out is None or str(out) == STDIN:
        print_utf8(made)
    else:
        files.write_safely(out, made)
