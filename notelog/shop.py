"""The shop's own lexicon: components and names of its own, in a CSV file beside the archive that a person can edit.

The file has the columns of `lexicon/components/*.csv`. A row with an id that ships gives that entry more names; any other
row is a component of the shop's. What goes in here is looked at first, so that no name ever means two things.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from notelog.errors import InputError
from notelog.hearing import hear
from notelog.lexicon import Form, Lexicon, Term, forms_of, load, normal
from notelog.lexicon.check import SYSTEMS
from notelog.lexicon.inflect import plural
from notelog.lexicon.load import COMPONENT_COLUMNS
from notelog.lexicon.near import nearest
from notelog.lexicon.words import words_of
from notelog.models import MappedText
from notelog.out.files import write_safely

LONGEST = 60
"""The most letters of a name."""

_NAME = re.compile(r"[^\W_](?:[^\W_]|[ /'.-])*")
_UNKNOWN = "unknown"


def add_component(
    file: Path,
    label: str,
    *,
    also: Sequence[str] = (),
    short: Sequence[str] = (),
    system: str | None = None,
    part_of: str | None = None,
    sides: bool = False,
) -> Term:
    """Put a component into the shop's lexicon `file`, which is made when it is not there. Gives the new entry.

    `also` are further names, `short` abbreviations; `system` is one of `notelog.lexicon.check.SYSTEMS`, and that of what
    it is `part_of` (a name or an id) unless given; `sides` says that there is a left and a right one.

    Raises InputError when a name is empty, is given twice, cannot be found in talk, or means something already; for an
    unknown system or whole; and when the file is damaged or cannot be written. The file then stays as it was.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     added = add_component(Path(folder) / "jobs.lexicon.csv", "Pipe cradle", system="body", short=["p/cradle"])
    ...     load(None, Path(folder) / "jobs.lexicon.csv").find("p/cradle").label
    'pipe cradle'
    """
    lexicon = _lexicon(file)
    whole = _component(lexicon, part_of, "--part-of") if part_of is not None else None
    if system is None and whole is not None:
        system = whole.system
    if system is None:
        raise InputError(f"Say which system {label!r} belongs to, with --system: one of {', '.join(SYSTEMS)}.")
    if system.strip().lower().replace(" ", "_") not in SYSTEMS:
        raise InputError(f"There is no system {system!r}: it is one of {', '.join(SYSTEMS)}.")
    named, *names = _checked(lexicon, [label, *also, *short])
    row = dict.fromkeys(COMPONENT_COLUMNS, "") | {
        "id": _new_id(lexicon, named),
        "label": named,
        "also": "; ".join(names[: len(also)]),
        "short": "; ".join(names[len(also) :]),
        "system": system.strip().lower().replace(" ", "_"),
        "part_of": whole.id if whole else "",
        "sides": "yes" if sides else "",
    }
    return _written(file, row)


def add_names(file: Path, entry: str, names: Sequence[str], *, short: Sequence[str] = ()) -> Term:
    """Give a component (by a name or its id), of the shop's or of those that ship, further names. Gives the entry.

    `short` are abbreviations. Raises InputError as `add_component` does, and when there is no such component.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     add_names(Path(folder) / "jobs.lexicon.csv", "drop link", ["stabby link"]).id
    'anti_roll_bar_link'
    """
    lexicon = _lexicon(file)
    term = _component(lexicon, entry, "--to")
    checked = _checked(lexicon, [*names, *short], term)
    row = _rows(file).get(term.id) or dict.fromkeys(COMPONENT_COLUMNS, "") | {"id": term.id, "label": term.label}
    for column, new in (("also", checked[: len(names)]), ("short", checked[len(names) :])):
        row[column] = "; ".join([*([row[column]] if row[column] else []), *new])
    return _written(file, row)


def _lexicon(file: Path) -> Lexicon:
    return load(None, file if file.exists() else None)


def _component(lexicon: Lexicon, name: str, option: str) -> Term:
    term = lexicon.terms["component"].get(name) or lexicon.find(name)
    if term is None:
        near = [one.name for one in nearest(name, lexicon)]
        hint = f"near it are {', '.join(near)}" if near else "`notelog lexicon export` lists what is"
        raise InputError(f"There is no component {name!r} for {option}: {hint}.")
    return term


def _checked(lexicon: Lexicon, names: Iterable[str], of: Term | None = None) -> list[str]:
    """The names in lower case with single spaces, each one found to be sayable and free."""
    checked: list[str] = []
    for name in names:
        name = " ".join(name.split()).lower()
        _sayable(lexicon, name)
        if normal(name) in map(normal, checked):
            raise InputError(f"The name {name!r} is given twice: give it once.")
        _free(lexicon, name, of)
        checked.append(name)
    return checked


def _sayable(lexicon: Lexicon, name: str) -> None:
    if not name:
        raise InputError("A name is empty: give the words that are said for the part.")
    if len(name) > LONGEST:
        raise InputError(f"The name {name!r} has {len(name)} characters and may have {LONGEST}: give a shorter one.")
    if not _NAME.fullmatch(name) or not any(letter.isalpha() for letter in name):
        raise InputError(f"The name {name!r} cannot be one: use letters, digits, spaces and - / ' . only, a letter among them.")
    words, groups = words_of(name), lexicon.words
    if passed_over := [word for word in words if word in groups["filler"]]:
        raise InputError(f"The name {name!r} has {passed_over[0]!r}, which is passed over in talk: leave it out.")
    if all(word not in lexicon.part_words and any(word in group for group in groups.values()) for word in words):
        raise InputError(f"The name {name!r} is plain English and would be found everywhere: give a longer one.")
    at = range(len(name))
    heard = hear(MappedText(name, list(at), [place + 1 for place in at]))
    if heard.quantities:
        raise InputError(f"The name {name!r} has a figure, which a note's reader takes for a count or a size: leave it out.")
    if normal(heard.mapped.text) != normal(name):
        raise InputError(f"The name {name!r} is heard as {heard.mapped.text!r}, a known mishearing: give that instead.")


def _free(lexicon: Lexicon, name: str, of: Term | None) -> None:
    whole = forms_of(lexicon).whole
    for said in (name, plural(name)):
        words = tuple(lexicon.abbreviations.get(word, word) for word in words_of(said))
        for form in whole.get(words, ()):
            if form.kind == "component":
                term = lexicon.terms["component"][form.id]
                where = term.shop.get(name, term.source)
                if of is not None and term.id == of.id:
                    raise InputError(f"{name!r} is a name of {term.label} already ({where}): nothing was added.")
                raise InputError(f"{name!r} is a name of {term.label} already ({term.id}, {where}): give another one.")
            raise InputError(f"{name!r} {_meaning(lexicon, form)} already: give a longer name, which is the part's alone.")


def _meaning(lexicon: Lexicon, form: Form) -> str:
    if form.kind in lexicon.terms:
        return f"says the {form.kind} {lexicon.terms[form.kind][form.id].label}"
    if form.kind == "part_word":
        return "alone is a word that many parts have"
    return "says a place" if form.kind == "place" else "is a word with a meaning of its own (cues.csv, quantity_words.csv)"


def _new_id(lexicon: Lexicon, label: str) -> str:
    stem = re.sub(r"\W+", "_", normal(label)).strip("_")
    taken, number, made = {_UNKNOWN, *lexicon.terms["component"]}, 1, stem
    while made in taken:
        number += 1
        made = f"{stem}_{number}"
    return made


def _rows(file: Path) -> dict[str, dict[str, str]]:
    """The rows of the file by id; it was loaded before, so that it is known to be sound."""
    if not file.exists():
        return {}
    lines = file.read_text(encoding="utf-8-sig").splitlines()[1:]
    cells = [row for row in csv.reader(lines) if row and not row[0].startswith("#")]
    return {row[0].strip(): dict(zip(COMPONENT_COLUMNS, (cell.strip() for cell in row), strict=True)) for row in cells}


def _line(cells: Iterable[str]) -> str:
    made = io.StringIO()
    csv.writer(made, lineterminator="").writerow(cells)
    return made.getvalue()


def _written(file: Path, row: dict[str, str]) -> Term:
    """Write the file with the row in the place of the one with its id, or at its end; its other lines stay as they are."""
    mark, end, lines = "", "\n", [_line(COMPONENT_COLUMNS)]
    if file.exists():
        text = file.read_bytes().decode("utf-8")
        mark, text = ("\ufeff", text[1:]) if text.startswith("\ufeff") else ("", text)
        end = "\r\n" if "\r\n" in text else "\n"
        lines = text.splitlines()
    line = _line(row[column] for column in COMPONENT_COLUMNS)
    for number, old in enumerate(lines[1:], start=1):
        if next(csv.reader([old]), [""])[0].strip() == row["id"]:
            lines[number] = line
            break
    else:
        lines.append(line)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"The folder {file.parent} for the shop's lexicon cannot be made: {error.strerror}.") from error
    write_safely(file, mark + "".join(one + end for one in lines))
    return load(None, file).terms["component"][row["id"]]
