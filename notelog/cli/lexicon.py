"""Commands on the trade's vocabulary: lexicon check, export, show."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from notelog.cli.common import AsJson, print_json
from notelog.errors import InputError

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Look at the trade's vocabulary, and check it.")

Folder = Annotated[Path | None, typer.Option("--folder", metavar="DIR", help="A lexicon other than the one shipped.")]


@app.command()
def check(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[DIR]", help="The lexicon's folder; else the shipped one.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find what is wrong in the lexicon's files: clashes, orphans, entries that nothing can reach, damage."""
    from notelog.lexicon.check import check as find_problems
    from notelog.out import as_json as json_out
    from notelog.out.terminal import counted, say
    from notelog.paths import data_folder

    place = folder or data_folder("lexicon")
    problems = find_problems(place)
    if as_json:
        found = [{"file": str(one.file), "line": one.line, "message": one.message} for one in problems]
        print_json(json_out.array(found))
    elif problems:
        say(*(f"{one.file}:{one.line}: {one.message}" for one in problems))
    else:
        say("The lexicon is sound.")
    if problems:
        raise InputError(
            f"The lexicon in {place} has {counted(len(problems), 'problem', 'problems')}: mend the lines named."
        )


@app.command()
def export(folder: Folder = None, as_json: AsJson = False) -> None:
    """Print every entry of the lexicon: id, kind, label and synonyms."""
    from notelog.lexicon import load
    from notelog.out import as_json as json_out
    from notelog.out.terminal import say, table

    entries = load(folder).entries()
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
    as_json: AsJson = False,
) -> None:
    """Show what the lexicon knows of a term."""
    from notelog.lexicon import load
    from notelog.out import as_json as json_out
    from notelog.out.terminal import say, table

    lexicon = load(folder)
    entries = lexicon.entries()
    found = [one for kind in lexicon.terms if (one := lexicon.terms[kind].get(term) or lexicon.find(term, kind))]
    if not found:
        import difflib

        near = difflib.get_close_matches(term.lower(), [name for one in entries for name in one.names], n=3)
        hint = f"near it are {', '.join(near)}" if near else "`notelog lexicon export` lists what is"
        raise InputError(f"{term!r} is not in the lexicon: {hint}.")
    about = []
    for one in found:
        parts = [other.label for other in entries if one.kind == "component" and other.part_of == one.id]
        whole = next((other.label for other in entries if one.part_of and other.id == one.part_of), "")
        about.append(
            {"id": one.id, "kind": one.kind, "label": one.label, "synonyms": list(one.synonyms), **one.fields}
            | {"system": one.system, "part_of": whole, "parts": parts, "sides": one.sides, "source": one.source}
        )
    if as_json:
        print_json(json_out.array(about))
        return
    for one in about:
        cells = [
            (name.replace("_", " "), "; ".join(value) if isinstance(value, list) else "yes" if value is True else value)
            for name, value in one.items()
            if value and name != "synonyms"
        ]
        say(table(("Term", one["label"]), cells))
