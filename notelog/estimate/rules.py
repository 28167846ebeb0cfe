"""The rules of the estimate, read from the lexicon's CSV files, so that the shop can change them.

`repair_or_replace.csv`: what a condition calls for (replace, repair, none: no labour, ask) and the outside work that goes
with it. Of the rows that mean a component the narrowest counts, of two that are as narrow the earlier one; the rows of
a file of the shop's own (`read_rules`) go before all that ship.
`estimate_work.csv`: which operations and follow-ups stand on the estimate, as labour or as outside work; what no row
names (taking off, fitting, measuring) is within the work that it is done for. `price_words.csv`: whether a price that was
said is for each, for the pair or for all.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from notelog.errors import InputError
from notelog.job.rules import Selector
from notelog.job.things import Things
from notelog.lexicon.check import SYSTEMS
from notelog.lexicon.load import Lexicon, load, read_rows
from notelog.lexicon.words import normal
from notelog.models import Action, Condition

REPLACE, REPAIR = "replace", "repair"
COLUMNS = ("conditions", "applies_to", "except", "then", "outside", "why", "source")
"""The columns of repair_or_replace.csv and of the shop's own file."""
_BY_CONDITION = "repair_or_replace.csv"
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
    """A row of repair_or_replace.csv or of the shop's own file; `file` and `line` are where it stands."""

    conditions: frozenset[str]
    applies: Selector
    excepted: Selector
    then: str
    outside: frozenset[str]
    why: str
    file: str
    line: int
    own: bool = False


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
                ((row.own, rank), row)
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
            f"{', '.join(conditions)}: {row.why} ({row.file}, line {row.line})"
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
    return EstimateRules(works, files.by_condition(works, files.folder / _BY_CONDITION), files.price_words())


def read_rules(path: Path, lexicon: Lexicon | None = None) -> EstimateRules:
    """The rules with those of the shop's own file, of the columns of `repair_or_replace.csv`, before them.

    Raises InputError with file, line and reason when the file cannot be read or a row of it cannot be used.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "ours.csv"
    ...     _ = file.write_text(",".join(COLUMNS) + "\\ndented,any,,ask,,we look at it first,our own\\n")
    ...     read_rules(file).by_condition[0].why
    'we look at it first'
    """
    if not path.is_file():
        raise InputError(f"{path} {'is no file' if path.exists() else 'does not exist'}: give the shop's rules file.")
    lexicon = lexicon or load()
    shipped = estimate_rules(lexicon)
    own = _Files(lexicon).by_condition(shipped.works, path, own=True)
    return replace(shipped, by_condition=own + shipped.by_condition)


class _Files:
    def __init__(self, lexicon: Lexicon):
        self.folder, self.components = lexicon.folder, lexicon.terms["component"]

    def rows(self, path: Path, columns: Sequence[str]):
        for line, row in read_rows(path, list(columns)):
            if "why" in row and not row["why"]:
                raise InputError(f"{path}, line {line}: the column why is empty; say it.")
            yield line, row

    def works(self) -> dict[str, Work]:
        columns = [
            "id", "label", "kind", "per", "actions", "applies_to", "except", "follow_ups", "with_new_part", "why", "source"
        ]  # fmt: skip
        works: dict[str, Work] = {}
        path = self.folder / "estimate_work.csv"
        for line, row in self.rows(path, columns):
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

    def by_condition(self, works: dict[str, Work], path: Path, own: bool = False) -> tuple[ByCondition, ...]:
        outside = tuple(work.id for work in works.values() if work.kind == "outside")
        found = []
        for line, row in self.rows(path, COLUMNS):
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
                    file=path.name,
                    line=line,
                    own=own,
                )
            )
        return tuple(found)

    def price_words(self) -> tuple[tuple[str, str], ...]:
        found = []
        path = self.folder / "price_words.csv"
        for line, row in self.rows(path, ["said", "means", "note"]):
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
