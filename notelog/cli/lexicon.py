"""Commands on the trade's vocabulary: lexicon check, export, show, unknown, add."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from notelog.cli.common import ArchiveFile, AsJson, LexiconArchive, open_archive, print_json
from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.lexicon import Lexicon, Term
    from notelog.lexicon.near import Near

app = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, help="Look at the trade's vocabulary, check it, and add to it."
)

Folder = Annotated[Path | None, typer.Option("--folder", metavar="DIR", help="A lexicon other than the one shipped.")]


@app.command()
def check(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[DIR]", help="The lexicon's folder; else the shipped one.")
    ] = None,
    archive: LexiconArchive = None,
    as_json: AsJson = False,
) -> None:
    """Find what is wrong in the lexicon's files, the shop's own too: clashes, orphans, damage, what nothing can reach."""
    from notelog.archive import archive_path, shop_lexicon
    from notelog.lexicon.check import check as find_problems
    from notelog.out import as_json as json_out
    from notelog.out.terminal import counted, say
    from notelog.paths import data_folder

    place, own = folder or data_folder("lexicon"), shop_lexicon(archive_path(archive))
    problems = find_problems(place, own)
    if as_json:
        found = [{"file": str(one.file), "line": one.line, "message": one.message} for one in problems]
        print_json(json_out.array(found))
    elif problems:
        say(*(f"{one.file}:{one.line}: {one.message}" for one in problems))
    else:
        say("The lexicon is sound.")
    if problems:
        where = f"{place} with {own}" if own else str(place)
        raise InputError(
            f"The lexicon in {where} has {counted(len(problems), 'problem', 'problems')}: mend the lines named."
        )


@app.command()
def export(folder: Folder = None, archive: LexiconArchive = None, as_json: AsJson = False) -> None:
    """Print every entry of the lexicon, the shop's own too: id, kind, label and synonyms."""
    from notelog.out import as_json as json_out
    from notelog.out.terminal import say, table

    entries = _load(folder, archive).entries()
    if as_json:
        print_json(
            json_out.array(
                {"id": one.id, "kind": one.kind, "label": one.label, "synonyms": list(one.synonyms)} for one in entries
            )
        )
    else:
        rows = [(one.kind, one.id, one.label, "; ".join(one.synonyms)) for one in entries]
        say(table(("Kind", "Id", "Label", "Synonyms"), rows))


@app.command()
def show(
    term: Annotated[str, typer.Argument(metavar="TERM", help="A name, an abbreviation or an id.")],
    folder: Folder = None,
    archive: LexiconArchive = None,
    as_json: AsJson = False,
) -> None:
    """Show what the lexicon knows of a term."""
    from notelog.out import as_json as json_out
    from notelog.out.terminal import say

    lexicon = _load(folder, archive)
    found = [one for kind in lexicon.terms if (one := lexicon.terms[kind].get(term) or lexicon.find(term, kind))]
    if not found:
        import difflib

        names = [name for one in lexicon.entries() for name in one.names]
        near = difflib.get_close_matches(term.lower(), names, n=3)
        hint = f"near it are {', '.join(near)}" if near else "`notelog lexicon export` lists what is"
        raise InputError(f"{term!r} is not in the lexicon: {hint}.")
    about = [_about(one, lexicon) for one in found]
    if as_json:
        print_json(json_out.array(about))
    else:
        say(*(_sheet(one) for one in about))


@app.command()
def unknown(archive: ArchiveFile = None, as_json: AsJson = False) -> None:
    """List the parts that stored notes name and that no lexicon holds, the most frequent first.

    Each with how often and in how many notes and jobs it stands, with one or two quotes, and the entries that are nearest: it may be one of them by a further name (`notelog lexicon add NAME --to ENTRY`), or a part of its own.
    """
    from notelog.archive.unknown import asked_for
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    with open_archive(archive) as store:
        asked = asked_for(store)
    if as_json:
        plain = [
            json_out.plain(one)
            | {"nearest": [{"id": n.term.id, "label": n.term.label, "name": n.name, "alike": n.alike} for n in one.nearest]}
            for one in asked.unknown
        ]
        print_json(json_out.line({"unknown": plain, "learnt": asked.learnt}))
        return
    rows = [
        (
            one.words,
            one.entries,
            one.notes,
            one.jobs,
            "; ".join(_near(near) for near in one.nearest),
            "; ".join(f"“{terminal.plain(q.text)}” {terminal.file_name(q.source)}, job {q.job}" for q in one.quotes),
        )
        for one in asked.unknown
    ]
    headings = ("Words", "Times", "Notes", "Jobs", "Nearest entries", "Words they came from")
    if rows:
        terminal.say(terminal.table(headings, rows, right=headings[1:4]))
        terminal.say("Put one into the shop's lexicon with: notelog lexicon add NAME")
    else:
        terminal.say("The lexicon holds every part that the notes name.")
    if asked.learnt:
        counted = terminal.counted(asked.learnt, "entry has a name", "entries have names")
        terminal.say(f"{counted} that the lexicon has learnt since: notelog again --all")


@app.command()
def add(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the part is called.")],
    also: Annotated[list[str] | None, typer.Option("--also", metavar="NAME", help="A further name; often.")] = None,
    short: Annotated[list[str] | None, typer.Option("--short", metavar="NAME", help="An abbreviation; often.")] = None,
    system: Annotated[
        str | None, typer.Option("--system", help="The system it belongs to; else that of what it is part of.")
    ] = None,
    part_of: Annotated[
        str | None, typer.Option("--part-of", metavar="ENTRY", help="The component that it is part of.")
    ] = None,
    sides: Annotated[bool, typer.Option("--sides", help="There is a left and a right one.")] = False,
    to: Annotated[
        str | None, typer.Option("--to", metavar="ENTRY", help="It is a further name of this component, and no new one.")
    ] = None,
    archive: LexiconArchive = None,
    as_json: AsJson = False,
) -> None:
    """Put a part into the shop's own lexicon, or give one that is known a further name with --to.

    The lexicon is a CSV file beside the archive, with the columns of the shipped one. All commands know the part from then on; notes that are stored already are read with it by `notelog again --all`.
    """
    from notelog import shop
    from notelog.archive import archive_path, lexicon_path
    from notelog.lexicon import load
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    place = archive_path(archive)
    file = lexicon_path(place)
    if to is None:
        made = shop.add_component(
            file, name, also=also or (), short=short or (), system=system, part_of=part_of, sides=sides
        )
    elif system is not None or part_of is not None or sides:
        raise InputError("With --to only names are added: leave --system, --part-of and --sides out.")
    else:
        made = shop.add_names(file, to, [name, *(also or ())], short=short or ())
    about = _about(made, load(None, file)) | {"file": str(file)}
    if as_json:
        print_json(json_out.line(about))
        return
    said = [name, *(also or ()), *(short or ())]
    terminal.say(_sheet(about) if to is None else f"{made.label} is called {', '.join(said).lower()} as well")
    terminal.say(f"Kept in {terminal.file_name(str(file))}, beside the archive")
    if place.exists():
        terminal.say("Notes that are stored already are read with it by: notelog again --all")


def _near(near: Near) -> str:
    from notelog.lexicon import normal

    return near.term.label if normal(near.term.label) == near.name else f"{near.term.label} ({near.name})"


def _load(folder: Path | None, archive: str | None) -> Lexicon:
    from notelog.archive import archive_path, shop_lexicon
    from notelog.lexicon import load

    return load(folder, shop_lexicon(archive_path(archive)))


def _about(term: Term, lexicon: Lexicon) -> dict[str, Any]:
    entries = lexicon.entries()
    parts = [other.label for other in entries if term.kind == "component" and other.part_of == term.id]
    whole = next((other.label for other in entries if term.part_of and other.id == term.part_of), "")
    about = {"id": term.id, "kind": term.kind, "label": term.label, "synonyms": list(term.synonyms), **term.fields}
    about |= {"system": term.system, "part_of": whole, "parts": parts, "sides": term.sides, "source": term.source}
    return about | ({"shop": sorted(set(term.shop.values()))} if term.shop else {})


def _sheet(about: dict[str, Any]) -> Any:
    from notelog.out.terminal import table

    cells = [
        (name.replace("_", " "), "; ".join(value) if isinstance(value, list) else "yes" if value is True else value)
        for name, value in about.items()
        if value and name not in ("synonyms", "file")
    ]
    return table(("Term", about["label"]), cells)
