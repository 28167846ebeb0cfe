"""The rules of the estimate, read from the lexicon's CSV files, so that the shop can change them.

`repair_or_replace.csv`: what a condition calls for (replace, repair, none: no labour, ask) and the outside work that goes
with it. Of the rows that mean a component the narrowest counts, of two that are as narrow the earlier one.
`estimate_work.csv`: which operations and follow-ups stand on the estimate, as labour or as outside work; what no row
names (taking off, fitting, measuring) is within the work that it is done for. `price_words.csv`: whether a price that was
said is for each, for the pair or for all.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from dataclasses import dataclass
from typing import get_args

from notelog.errors import InputError
from notelog.job.rules import Selector
from notelog.job.things import Things
from notelog.lexicon.check import SYSTEMS
from notelog.lexicon.load import Lexicon, read_rows
from notelog.lexicon.words import normal
from notelog.models import Action, Condition

REPLACE, REPAIR = "replace", "repair"
THEN = (REPLACE, REPAIR, "none", "ask")
_ORDER = {name: rank for rank, name in enumerate((REPLACE, "ask", REPAIR, "none"))}


@dataclass(frozen=True, slots=True)
class Work:
    """A row of estimate_work.csv."""

    id: str
    label: str
    kind: str
    per: str
    actions: frozenset[str]
    applies: Selector
    excepted: Selector
    follow_ups: frozenset[str]
    with_new_part: bool


@dataclass(frozen=True, slots=True)
class ByCondition:
    """A row of repair_or_replace.csv; `line` is where it stands."""

    conditions: frozenset[str]
    applies: Selector
    excepted: Selector
    then: str
    outside: frozenset[str]
    why: str
    line: int


@dataclass(frozen=True, slots=True)
class Decision:
    """What is to be done with a damaged thing, which outside work goes with it, and the rows that say so."""

    then: str
    outside: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class EstimateRules:
    """All rule files of the estimate."""

    works: dict[str, Work]
    by_condition: tuple[ByCondition, ...]
    price_words: tuple[tuple[str, str], ...]

    def decide(self, things: Things, key: str, conditions: Iterable[str]) -> Decision:
        """What the conditions of a component call for; the most thorough of what each of them does.

        >>> from notelog.lexicon import load
        >>> rules, things = estimate_rules(load()), Things(load())
        >>> rules.decide(things, "lower_arm", ["bent"]).then, rules.decide(things, "wheel", ["buckled"]).outside
        ('replace', ('wheel_repair',))
        """
        rows = []
        for condition in conditions:
            ranked = [
                (rank, row)
                for row in self.by_condition
                if condition in row.conditions
                and (rank := things.rank(row.applies, key)) is not None
                and things.rank(row.excepted, key) is None
            ]
            if ranked:
                rows.append((condition, max(ranked, key=lambda pair: pair[0])[1]))
        if not rows:
            return Decision("ask", (), "no rule says what is to be done")
        then = min((row.then for _, row in rows), key=_ORDER.__getitem__)
        works = [self.works[name] for _, row in rows for name in sorted(row.outside)]
        outside = dict.fromkeys(work.id for work in works if then != REPLACE or work.with_new_part)
        named: dict[ByCondition, list[str]] = {}
        for condition, row in rows:
            named.setdefault(row, []).append(condition)
        why = "; ".join(
            f"{', '.join(conditions)}: {row.why} (repair_or_replace.csv, line {row.line})"
            for row, conditions in named.items()
        )
        return Decision(then, tuple(outside), why)

    def work_of(self, things: Things, action: str, key: str) -> Work | None:
        """The work that an operation on a component stands for on the estimate, None when it has no line."""
        ranked = [
            (rank, work)
            for work in self.works.values()
            if action in work.actions
            and (rank := things.rank(work.applies, key)) is not None
            and things.rank(work.excepted, key) is None
        ]
        return max(ranked, key=lambda pair: pair[0])[1] if ranked else None


@functools.lru_cache(maxsize=8)
def estimate_rules(lexicon: Lexicon) -> EstimateRules:
    """The rules that lie beside the lexicon. Raises InputError (file, line, reason) for a row that cannot be used."""
    files = _Files(lexicon)
    works = files.works()
    return EstimateRules(works, files.by_condition(works), files.price_words())


class _Files:
    def __init__(self, lexicon: Lexicon):
        self.folder, self.components = lexicon.folder, lexicon.terms["component"]

    def rows(self, name: str, columns: list[str]):
        path = self.folder / name
        for line, row in read_rows(path, columns):
            if "why" in row and not row["why"]:
                raise InputError(f"{path}, line {line}: the column why is empty; say it.")
            yield path, line, row

    def works(self) -> dict[str, Work]:
        columns = [
            "id", "label", "kind", "per", "actions", "applies_to", "except", "follow_ups", "with_new_part", "why", "source"
        ]  # fmt: skip
        works: dict[str, Work] = {}
        path = self.folder / "estimate_work.csv"
        for path, line, row in self.rows("estimate_work.csv", columns):
            if not row["id"] or row["id"] in works:
                raise InputError(f"{path}, line {line}: the id {row['id']!r} is empty or stands twice; give another.")
            _one_of(path, line, "kind", row["kind"], ("labour", "outside"))
            _one_of(path, line, "per", row["per"], ("component", "job"))
            _one_of(path, line, "with_new_part", row["with_new_part"], ("yes", "no"))
            works[row["id"]] = Work(
                id=row["id"],
                label=row["label"] or row["id"],
                kind=row["kind"],
                per=row["per"],
                actions=_all_of(path, line, "actions", row["actions"], get_args(Action)),
                applies=self.selector(path, line, row["applies_to"]),
                excepted=self.selector(path, line, row["except"]),
                follow_ups=frozenset(_listed(row["follow_ups"])),
                with_new_part=row["with_new_part"] == "yes",
            )
        for needed in (REPLACE, REPAIR):
            if needed not in works or works[needed].kind != "labour":
                raise InputError(f"{path}: there is no row of labour with the id {needed!r}; put it back.")
        return works

    def by_condition(self, works: dict[str, Work]) -> tuple[ByCondition, ...]:
        columns = ["conditions", "applies_to", "except", "then", "outside", "why", "source"]
        outside = tuple(work.id for work in works.values() if work.kind == "outside")
        found = []
        for path, line, row in self.rows("repair_or_replace.csv", columns):
            _one_of(path, line, "then", row["then"], THEN)
            conditions = _all_of(path, line, "conditions", row["conditions"], get_args(Condition))
            if not conditions:
                raise InputError(f"{path}, line {line}: no condition is named; name one, such as bent.")
            found.append(
                ByCondition(
                    conditions=conditions,
                    applies=self.selector(path, line, row["applies_to"]),
                    excepted=self.selector(path, line, row["except"]),
                    then=row["then"],
                    outside=_all_of(path, line, "outside", row["outside"], outside),
                    why=row["why"],
                    line=line,
                )
            )
        return tuple(found)

    def price_words(self) -> tuple[tuple[str, str], ...]:
        found = []
        for path, line, row in self.rows("price_words.csv", ["said", "means", "note"]):
            _one_of(path, line, "means", row["means"], ("each", "pair", "all"))
            if not normal(row["said"]):
                raise InputError(f"{path}, line {line}: no words are given; fill in what is said.")
            found.append((normal(row["said"]), row["means"]))
        # "for the pair" is looked for before "the pair".
        return tuple(sorted(found, key=lambda pair: -len(pair[0])))

    def selector(self, path, line: int, cell: str) -> Selector:
        ids, systems, words = set(), set(), []
        for token in _listed(cell):
            kind, colon, name = token.partition(":")
            if not colon and token not in ("any", "none"):
                if token not in self.components:
                    raise InputError(f"{path}, line {line}: {token!r} is no component of the lexicon; use an id that is.")
                ids.add(token)
            elif colon and kind == "system" and name in SYSTEMS:
                systems.add(name)
            elif colon and kind == "word" and name:
                words.append(name)
            elif colon:
                raise InputError(
                    f"{path}, line {line}: {token!r} is neither a component's id, nor system:NAME, word:TEXT, none or any."
                )
        tokens = _listed(cell)
        return Selector(frozenset(ids), frozenset(systems), tuple(words), "none" in tokens, "any" in tokens)


def _listed(cell: str) -> list[str]:
    return [item.strip() for item in cell.split(";") if item.strip()]


def _one_of(path, line: int, column: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise InputError(f"{path}, line {line}: {column} is {value!r}; use one of {', '.join(allowed)}.")


def _all_of(path, line: int, column: str, cell: str, allowed: tuple[str, ...]) -> frozenset[str]:
    for value in _listed(cell):
        _one_of(path, line, column, value, allowed)
    return frozenset(_listed(cell))
