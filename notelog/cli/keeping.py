"""Commands that look after the archive's file: check, repair, vacuum, info."""

from __future__ import annotations

import typer

from notelog.cli.common import ArchiveFile, AsJson, open_archive, print_json

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Look after the archive's file.")


def _report(problems: list, as_json: bool, well: str) -> None:
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    if as_json:
        print_json(json_out.line({"sound": not problems, "problems": problems}))
    else:
        for one in problems:
            terminal.say(f"{one.what}" + ("; `notelog archive repair` mends it" if one.can_be_mended else "; restore the file from a copy"))
        if not problems:
            terminal.say(well)
    if problems:
        raise typer.Exit(1)


@app.command()
def check(archive: ArchiveFile = None, as_json: AsJson = False) -> None:
    """Look whether the archive is sound; the exit code is 1 when it is not."""
    from notelog.archive import upkeep

    with open_archive(archive) as store:
        problems = upkeep.check(store)
    _report(problems, as_json, "The archive is sound.")


@app.command()
def repair(archive: ArchiveFile = None, as_json: AsJson = False) -> None:
    """Make the indexes, counts and full-text tables anew; notes, entries and corrections are left as they are."""
    from notelog.archive import upkeep

    with open_archive(archive) as store:
        problems = upkeep.repair(store)
    _report(problems, as_json, "The archive is sound: what is made of notes and entries was made anew.")


@app.command()
def vacuum(archive: ArchiveFile = None, as_json: AsJson = False) -> None:
    """Give unused room of the file back."""
    from notelog.archive import upkeep
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    with open_archive(archive) as store:
        before, after = upkeep.vacuum(store)
    if as_json:
        print_json(json_out.line({"before": before, "after": after}))
    else:
        terminal.say(f"{before / 1e6:.1f} MB before, {after / 1e6:.1f} MB now")


@app.command()
def info(archive: ArchiveFile = None, as_json: AsJson = False) -> None:
    """Tell what the archive holds and how large it is."""
    from notelog.archive import upkeep
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    with open_archive(archive) as store:
        found = upkeep.info(store)
    if as_json:
        print_json(json_out.line(found))
        return
    rows = [
        ("file", found.path), ("size", f"{found.bytes / 1e6:.1f} MB, {found.free_bytes / 1e6:.1f} MB of it unused"),
        *found.rows.items(), ("jobs with damage", found.jobs_with_damage), ("components damaged", found.components),
        ("notes from", f"{found.first_day or ''} to {found.last_day or ''}"), ("steps", ", ".join(found.steps)), ("SQLite", found.sqlite),
    ]  # fmt: skip
    terminal.say(terminal.table(("Archive", ""), rows))
