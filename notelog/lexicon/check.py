"""Checking the lexicon: surfaces in two entries, orphans, entries that no words reach."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from notelog.lexicon.inflect import plural
from notelog.lexicon.load import Lexicon, Term, load
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
    problems += _orphans(lexicon)
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
    for fluid, component in lexicon.fluid_systems.items():
        if component not in components:
            problems.append(Problem("fluid_systems.csv", 1, f"{fluid} belongs to {component}, which no entry is."))
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
