"""Commands that understand notes and store nothing: extract, schema."""

from __future__ import annotations

from enum import Enum
from typing import Annotated

import typer

from notelog.cli.common import (
    AsJson,
    DriverSide,
    Files,
    LexiconArchive,
    driver_side,
    log_notes,
    print_json,
    read_notes,
    shop_lexicon,
)


class Described(str, Enum):
    """What a JSON Schema can be printed of."""

    log = "log"
    job = "job"


def register(app: typer.Typer) -> None:
    app.command()(extract)
    app.command()(schema)


def extract(
    files: Files,
    side: DriverSide = None,
    why: Annotated[
        bool, typer.Option("--why", help="Tell of each entry the words, cues, rules, places and repairs behind it.")
    ] = False,
    archive: LexiconArchive = None,
    as_json: AsJson = False,
) -> None:
    """Show what is understood of notes; nothing is stored.

    With --json each note is one line, of the form that `notelog schema` prints; with --why as well, each entry has a list `why` more.
    """
    from notelog.out import as_json as json_out

    notes = read_notes(files)
    logs = log_notes(notes, driver_side(side), shop_lexicon(archive))
    if as_json:
        for log in logs:
            print_json(json_out.line(json_out.log(log, why=why)))
        return
    from notelog.out import terminal

    for number, (note, log) in enumerate(zip(notes, logs, strict=True)):
        if number:
            terminal.say("")
        for warning in log.warnings:
            terminal.warn(f"{terminal.called(note.source)}: {warning}")
        entries = [entry.model_dump(mode="json") for entry in log.entries]
        counted = terminal.counted(len(entries), "entry", "entries")
        terminal.say(terminal.heading(terminal.called(note.source), f"driver on the {log.note.driver_side}", counted))
        if why:
            terminal.say(*terminal.why_sheet(entries, [entry.why for entry in log.entries]))
        elif entries:
            terminal.say(terminal.entries_table([(entry, None) for entry in entries]))


def schema(
    of: Annotated[
        Described, typer.Option("--of", help="log is what extract --json prints, job what export --to json writes.")
    ] = Described.log,
) -> None:
    """Print the JSON Schema of what extract --json prints, or of an exported job."""
    import json

    from notelog.out import as_json as json_out
    from notelog.out import job_form

    print_json(json.dumps(json_out.schema() if of is Described.log else job_form.job_schema(), indent=2))
