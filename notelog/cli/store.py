"""Commands that write the archive: add, vehicle."""

from __future__ import annotations

from typing import Annotated

import typer

from notelog.cli.common import (
    ArchiveFile,
    AsJson,
    DriverSide,
    Files,
    JobOption,
    Reference,
    driver_side,
    log_notes,
    open_archive,
    print_json,
    read_notes,
    shop_lexicon,
)

Make = Annotated[str | None, typer.Option(help="The vehicle's make.")]
Model = Annotated[str | None, typer.Option(help="The vehicle's model.")]
Year = Annotated[int | None, typer.Option(help="The vehicle's model year.")]
Vin = Annotated[str | None, typer.Option(help="The vehicle's identification number; its check digit is looked at.")]
Registration = Annotated[str | None, typer.Option(help="The vehicle's registration.")]
Mileage = Annotated[int | None, typer.Option(help="The figure on the vehicle's odometer.")]


def register(app: typer.Typer) -> None:
    app.command()(add)
    app.command()(vehicle)


def add(
    files: Files,
    job: JobOption,
    author: Annotated[str | None, typer.Option(help="Who dictated the notes.")] = None,
    dictated: Annotated[str | None, typer.Option(metavar="DATE", help="When: 2025-03-31 or 2025-03-31T16:05.")] = None,
    side: DriverSide = None,
    make: Make = None,
    model: Model = None,
    year: Year = None,
    vin: Vin = None,
    registration: Registration = None,
    mileage: Mileage = None,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Store notes and what is understood of them.

    All of the files are stored, or none of them. The job is made when it is new. A note that the job already has is recognised and not stored again.
    """
    from notelog.archive import Vehicle
    from notelog.archive.again import reader

    known = Vehicle.given(make, model, year, vin, registration, mileage)
    notes = read_notes(files)
    lexicon = shop_lexicon(archive)
    logs = log_notes(notes, driver_side(side), lexicon)
    with open_archive(archive, create=True) as store:
        stored = store.add(
            job, zip(notes, logs, strict=True), vehicle=known, author=author, dictated=dictated, read_with=reader(lexicon.shop_file)
        )
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    if as_json:
        print_json(json_out.array(stored))
    for note, log in zip(stored, logs, strict=True):
        for warning in log.warnings:
            terminal.warn(f"{terminal.called(note.source)}: {warning}")
        if note.also_in:
            terminal.warn(f"{terminal.called(note.source)}: the same note is in {'; '.join(note.also_in)}.")
        if as_json:
            continue
        if note.already_added:
            terminal.say(
                f"{terminal.called(note.source)}: already in job {note.job}, added on {note.added[:10]}; not stored again"
            )
        else:
            entries = terminal.counted(note.entries, "entry", "entries")
            terminal.say(f"{terminal.called(note.source)}: stored in job {note.job}, {entries}")


def vehicle(
    reference: Reference,
    make: Make = None,
    model: Model = None,
    year: Year = None,
    vin: Vin = None,
    registration: Registration = None,
    mileage: Mileage = None,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show a job's vehicle, or put right what is known of it."""
    from notelog.archive import Vehicle
    from notelog.out import as_json as json_out
    from notelog.out import terminal, words

    given = Vehicle.given(make, model, year, vin, registration, mileage)
    with open_archive(archive) as store:
        if given.known():
            store.set_vehicle(reference, given)
        found = store.job(reference)
    if as_json:
        print_json(json_out.line(found.vehicle))
    else:
        terminal.say(f"Job {found.reference}: {words.vehicle(found.vehicle.known()) or 'nothing known of its vehicle'}")
