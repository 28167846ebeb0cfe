"""Checking the lexicon: surfaces in two entries, orphans, parts of themselves, entries that no words reach.

A surface that has two meanings on purpose ("split": a condition, and what was done to a joint) stands in `two_meanings.csv`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from notelog.lexicon.inflect import plural
from notelog.lexicon.load import Lexicon, Term, load, read_rows
from notelog.lexicon.words import normal, words_of

SYSTEMS = (
    "chassis", "steering", "suspension", "brakes", "wheels", "driveline", "engine", "cooling", "air_conditioning", "exhaust",
    "fuel", "body", "structure", "doors", "glass", "lamps", "mirrors", "interior", "restraints", "electrics", "sensors",
    "high_voltage", "trailer",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with the lexicon: in which file and line."""

    file: str
    line: int
    message: str


def check(folder: str | Path | None = None, shop_file: str | Path | None = None) -> list[Problem]:
    """Every problem of the lexicon in `folder` (the shipped one when None), in the order of files and lines.

    Raises InputError when a file cannot be read at all.

    >>> check()
    []
    """
    lexicon = load(folder, shop_file)
    problems: list[Problem] = []
    for kind in ("component", "tool", "material", "fastener", "drive"):
        problems += _clashes(lexicon, kind)
    problems += _two_meanings(lexicon)
    problems += _orphans(lexicon)
    problems += _loops(lexicon)
    problems += _unreachable(lexicon)
    return sorted(problems, key=lambda problem: (problem.file, problem.line, problem.message))


def _problem(term: Term, message: str, name: str = "") -> Problem:
    file, _, line = term.shop.get(name, term.source).rpartition(":")
    return Problem(file, int(line), message)


def _clashes(lexicon: Lexicon, kind: str) -> list[Problem]:
    """One surface in two entries of a kind: which of them would be meant?"""
    problems = []
    owner: dict[str, Term] = {}
    for term in lexicon.terms[kind].values():
        for name in term.names:
            other = owner.setdefault(normal(name), term)
            if other is not term:
                problems.append(_problem(term, f"{name!r} stands in {term.id} and in {other.id} ({other.source}).", name))
    for term in lexicon.terms[kind].values():
        for name in term.names:
            other = owner.get(normal(plural(name)))
            if other is not None and other is not term:
                problems.append(_problem(term, f"the plural of {name!r} ({term.id}) is a name of {other.id} ({other.source}).", name))
    return problems


def _orphans(lexicon: Lexicon) -> list[Problem]:
    components = lexicon.terms["component"]
    problems = []
    for term in components.values():
        if term.part_of and term.part_of not in components:
            problems.append(_problem(term, f"{term.id} is part of {term.part_of}, which no entry is."))
        if term.part_of == term.id:
            problems.append(_problem(term, f"{term.id} is said to be part of itself."))
        if term.system not in SYSTEMS:
            problems.append(_problem(term, f"{term.id} has the system {term.system!r}; use one of {', '.join(SYSTEMS)}."))
    for file, columns in (("fluid_systems.csv", ["fluid", "component"]), ("short_senses.csv", ["short", "conditions", "component"])):
        for line, row in read_rows(lexicon.folder / file, columns):
            if row["component"] not in components:
                problems.append(Problem(file, line, f"{row[columns[0]]} belongs to {row['component']}, which no entry is."))
    return problems


def _loops(lexicon: Lexicon) -> list[Problem]:
    """Parts that are, over others, parts of themselves; told once, at the entry of the loop that stands first."""
    components = lexicon.terms["component"]
    problems, seen = [], set()
    for term in components.values():
        way = [term.id]
        while (above := components[way[-1]].part_of) in components and above not in way and above not in seen:
            way.append(above)
        if above in way and above != way[-1]:
            loop = way[way.index(above) :]
            problems.append(_problem(components[above], f"{' is part of '.join([*loop, above])}: a part of itself."))
        seen.update(way)
    return problems


def _two_meanings(lexicon: Lexicon) -> list[Problem]:
    """One surface in two of the conditions, actions and cues, or twice in one, that is not known to have two meanings."""
    meanings: dict[str, dict[str, tuple[str, int]]] = {}
    problems = []
    for kind, columns in (("condition", ("predicates", "nouns", "verbs")), ("action", ("verbs", "states", "nouns", "abbreviations"))):
        for term in lexicon.terms[kind].values():
            file, _, line = term.source.rpartition(":")
            for name in (name for column in columns for name in term.fields[column]):
                meanings.setdefault(normal(name), {}).setdefault(f"{kind} {term.id}", (file, int(line)))
    rows: dict[tuple[str, str, str], int] = {}
    for line, row in read_rows(lexicon.folder / "cues.csv", ["cue", "kind", "note"]):
        key = (normal(row["cue"]), row["kind"], row["note"])
        if key in rows:
            problems.append(Problem("cues.csv", line, f"{row['cue']!r} stands in line {rows[key]} already."))
        rows.setdefault(key, line)
        meanings.setdefault(key[0], {}).setdefault(f"cue {row['kind']}", ("cues.csv", line))
    known = {normal(row["surface"]): (line, row["meanings"]) for line, row in read_rows(lexicon.folder / "two_meanings.csv", ["surface", "meanings"])}
    for surface, found in meanings.items():
        line, listed = known.pop(surface, (0, ""))
        if len(found) > 1 and {name.strip() for name in listed.split(";")} != set(found):
            file, at = list(found.values())[-1]
            others = ", ".join(f"{name} ({where}:{number})" for name, (where, number) in list(found.items())[:-1])
            problems.append(Problem(file, at, f"{surface!r} of {list(found)[-1]} stands in {others} too; list it in two_meanings.csv if both are meant."))
        elif len(found) == 1 and line:
            problems.append(Problem("two_meanings.csv", line, f"{surface!r} has one meaning only; take the row out."))
    problems += [Problem("two_meanings.csv", line, f"{surface!r} is in no condition, action or cue.") for surface, (line, _) in known.items()]
    return problems


def _unreachable(lexicon: Lexicon) -> list[Problem]:
    """Names that no talk can say: no word in them, or capital letters in what is compared in lower case."""
    problems = []
    for term in lexicon.entries():
        for name in term.names:
            words = words_of(name)
            if not any(character.isalnum() for word in words for character in word):
                problems.append(_problem(term, f"{name!r} of {term.id} holds no word.", name))
    return problems
