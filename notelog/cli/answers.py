"""Commands by which the archive answers: find, like, figures."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from notelog.cli.common import (
    ArchiveFile,
    AsJson,
    DriverSide,
    complete_reference,
    driver_side,
    log_notes,
    open_archive,
    print_json,
    read_notes,
)
from notelog.cli.quick import QuickCommand
from notelog.errors import InputError

Words = Annotated[list[str] | None, typer.Argument(metavar="QUESTION", help="What to look for, in the words of the trade.")]
Limit = Annotated[int, typer.Option(min=1, max=10_000, help="The most jobs to show.")]
Page = Annotated[int, typer.Option(min=1, max=100_000, help="Which page of so many jobs to show.")]
Component = Annotated[list[str] | None, typer.Option(metavar="NAME", help="A component by any of its names; what is part of it counts as well.")]
Condition = Annotated[list[str] | None, typer.Option(metavar="WORD", help="What is wrong with it; given twice, either.")]
Action = Annotated[list[str] | None, typer.Option(metavar="WORD", help="What was done to it.")]
Place = Annotated[list[str] | None, typer.Option(metavar="WORDS", help='Where: "offside front", left, upper, ...')]
Vehicle = Annotated[list[str] | None, typer.Option(metavar="WORD", help="A kind of vehicle, or a word of its make, model or registration.")]
ModelYear = Annotated[int | None, typer.Option(metavar="YEAR", help="The vehicle's model year.")]
Since = Annotated[str | None, typer.Option(metavar="TIME", help="From when on: 2025, 2025-03, 2025-03-31, March 2025.")]
Until = Annotated[str | None, typer.Option(metavar="TIME", help="Until when, that time included.")]


def register(app: typer.Typer) -> None:
    for command in (find, like, figures):
        app.command(cls=QuickCommand)(command)


def find(
    words: Words = None,
    component: Component = None,
    condition: Condition = None,
    action: Action = None,
    place: Place = None,
    status: Annotated[str | None, typer.Option(metavar="STATUS", help="present, absent (denied), suspected, past, done, planned or not_done.")] = None,
    vehicle: Vehicle = None,
    model_year: ModelYear = None,
    since: Since = None,
    until: Until = None,
    rejected: Annotated[bool, typer.Option("--rejected", help="Look at the entries that people rejected as well.")] = False,
    exact: Annotated[bool, typer.Option("--exact", help="Only jobs that have all that is asked for, no near ones.")] = False,
    entries: Annotated[bool, typer.Option("--entries", help="Show one table of entries instead of jobs.")] = False,
    limit: Limit = 10,
    page: Page = 1,
    side: DriverSide = None,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Find jobs by a question in the words of the trade.

    "bent strut offside front, hatchback, last year" is understood as a note is: parts with what is part of them, what is wrong, places, denial ("no play"), vehicle and time. Other words only rank; words between double quotes must be there. Typing mistakes are forgiven. How it was understood is shown; each part can be given as an option instead.
    """
    from notelog.archive.asking import ask, find_jobs, understood
    from notelog.archive.question import Question, narrowed, told
    from notelog.archive.vocabulary import vocabulary

    options = [component, condition, action, place, status, vehicle, model_year, since, until]
    text = " ".join(words or [])
    with open_archive(archive) as store:
        known = vocabulary(store.shop_lexicon)
        asked = Question()
        seated = driver_side(side)
        if text.strip() or not any(options):
            asked = ask(store, text, known, driver_side=seated)
        if any(options):
            asked = narrowed(
                asked, known, component=component, condition=condition, action=action, place=place, status=status,
                vehicle=vehicle, model_year=model_year, since=since, until=until, driver_side=seated,
            )  # fmt: skip
        if rejected:
            asked = asked.with_rejected()
        found = find_jobs(store, asked, known, limit=limit, offset=(page - 1) * limit, exact=exact)
    if as_json:
        from notelog.out import as_json as json_out

        print_json(json_out.line({"understood": understood(asked, known), "total": found.total, "near": found.near, "jobs": found.jobs}))
        return
    from notelog.out import terminal
    from notelog.out.found import found_sheet, understood_lines

    terminal.say(*understood_lines(told(asked, known)), *found_sheet(found, offset=(page - 1) * limit, entries=entries))


def like(
    reference: Annotated[str | None, typer.Argument(metavar="[REF]", help="A job of the archive.", autocompletion=complete_reference)] = None,
    note: Annotated[str | None, typer.Option("--note", metavar="FILE", help='A note that is not stored; "-" reads standard input.')] = None,
    vehicle: Annotated[str | None, typer.Option(metavar="WORD", help="The vehicle of the note, such as hatchback or van.")] = None,
    limit: Annotated[int, typer.Option(min=1, max=200, help="The most jobs to show.")] = 10,
    side: DriverSide = None,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show past jobs with similar damage, and where to look too.

    Rare damage weighs more, left and right are mirror images, near relatives and kindred conditions count in part. Below stands what was damaged along with such damage on past jobs and is not mentioned yet: on how many, with the 95 % interval, and the median hours and price that their notes say.
    """
    from notelog.archive import similar
    from notelog.archive.look_too import proposals, with_numbers
    from notelog.archive.vocabulary import vocabulary

    if (reference is None) == (note is None):
        raise InputError("Name a job, or a note with --note FILE: one of both.")
    with open_archive(archive) as store:
        known = vocabulary(store.shop_lexicon)
        if reference is not None:
            case = similar.case_of_job(store, reference, known)
        else:
            (log,) = log_notes(read_notes([note]), driver_side(side), store.lexicon())
            case = similar.case_of_entries([entry.model_dump() for entry in log.entries], similar.vehicle_class(known, vehicle))
        with store.reading() as connection:
            among = similar.compared(connection, case, known)
            found = similar.told(connection, case, among, known, limit)
            besides = proposals(connection, case, among, known)[:8]
        besides = with_numbers(store, besides, among) if besides else []
    if as_json:
        from notelog.out import as_json as json_out
        from notelog.out.found import similar_plain

        print_json(json_out.line(similar_plain(case, found, besides)))
        return
    from notelog.out import terminal
    from notelog.out.found import damage_told, look_too_sheet, similar_sheet

    lines = ["; ".join(damage_told(one, known.label) for one in case.damage), ""]
    more = look_too_sheet(besides)
    terminal.say(*lines, *similar_sheet(found, known.label), *(["", terminal.heading("Look here too"), *more] if more else []))


def figures(
    component: Component = None,
    since: Since = None,
    until: Until = None,
    most: Annotated[int, typer.Option(min=1, max=1_000, help="The most rows of each table.")] = 15,
    picture: Annotated[Path | None, typer.Option(metavar="FILE", help="Draw a picture: a file that ends with .svg or .png.")] = None,
    archive: ArchiveFile = None,
    as_json: AsJson = False,
) -> None:
    """Show what is damaged how often, where, on which vehicles and when.

    With the jobs of the last 365 days beside those of the 365 days before, and the quartiles of the hours and prices that notes say, by operation.
    """
    from notelog.archive import figures as made
    from notelog.archive.question import named, time_span
    from notelog.archive.vocabulary import vocabulary

    with open_archive(archive) as store:
        known = vocabulary(store.shop_lexicon)
        found = made.figures(
            store, known, components=named(known, "component", component), since=time_span(since)[0], until=time_span(until)[1], most=most
        )
    if picture is not None:
        from notelog.out.files import write_safely
        from notelog.out.picture import drawn

        write_safely(picture, drawn(found, picture.suffix))
    if as_json:
        from notelog.out import as_json as json_out
        from notelog.out.found import figures_plain

        print_json(json_out.line(figures_plain(found)))
        return
    from notelog.out import terminal
    from notelog.out.found import figures_sheet

    terminal.say(*figures_sheet(found))
