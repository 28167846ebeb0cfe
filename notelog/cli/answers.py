"""Commands by which the archive answers: find."""

from __future__ import annotations

from typing import Annotated

import typer

from notelog.cli.common import ArchiveFile, AsJson, DriverSide, driver_side, open_archive, print_json
from notelog.cli.quick import QuickCommand

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
    app.command(cls=QuickCommand)(find)


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
    from notelog.archive.question import STATUSES, Question, narrowed, told
    from notelog.archive.vocabulary import vocabulary
    from notelog.errors import InputError

    if status and status not in STATUSES:
        raise InputError(f"The status cannot be {status!r}: it is one of {', '.join(STATUSES)}.")
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
