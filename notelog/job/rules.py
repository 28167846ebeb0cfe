"""The rules of the ledger, read from the lexicon's CSV files. Every row says why it is there and where it comes from.

What a rule applies to is a list, separated by `;`, of

- the id of a component (`brake_hose`),
- `system:NAME`, every component of a system (`system:brakes`),
- `word:TEXT`, every component whose label holds these words (`word:sensor`),
- `none`, work of which no component is said ("road tested it"),
- `any`.

A thing that the `except` column names is left out. A name that is no component of the lexicon means nothing; `rules_of`
collects it among the problems, and the ledger warns of it.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from notelog.errors import InputError
from notelog.lexicon.check import SYSTEMS, Problem
from notelog.lexicon.load import Lexicon, read_rows
from notelog.models import Action, Condition

_ACTIONS, _CONDITIONS = frozenset(get_args(Action)), frozenset(get_args(Condition))
PART_ASKED = "part"
"""In a column of actions: a part was needed, ordered or on hand."""


@dataclass(frozen=True, slots=True)
class Selector:
    """Which components a rule applies to; `rank` tells how narrowly: 3 by id, 2 by word, 1 by system, 0 any or none."""

    ids: frozenset[str] = frozenset()
    systems: frozenset[str] = frozenset()
    words: tuple[str, ...] = ()
    none: bool = False
    any: bool = False

    def rank(self, key: str, label: str, system: str) -> int | None:
        """How narrowly the component is meant, None when it is not."""
        if key in self.ids or (self.none and key.startswith("unnamed:")):
            return 3
        if any(f" {word} " in f" {label} " for word in self.words):
            return 2
        if system and system in self.systems:
            return 1
        return 0 if self.any else None


@dataclass(frozen=True, slots=True)
class Rule:
    """A row of followups.csv, cautions.csv or used_once.csv: fires on these actions or conditions of these components.

    Hardware that is `shared` is proposed once at a place, whichever of the components was worked on.
    """

    id: str
    applies: Selector
    excepted: Selector
    actions: frozenset[str]
    conditions: frozenset[str]
    text: str
    why: str
    source: str
    settled_by: frozenset[str] = frozenset()
    settled_on: Selector = Selector()
    count: int = 1
    shared: bool = False


@dataclass(frozen=True, slots=True)
class Opening:
    """A row of loose_ends.csv: `action` leaves a thing open as `left`, until one of `closed_by` is done.

    `left_undone` are actions that, said to be not done, leave it open too.
    """

    action: str
    applies: Selector
    excepted: Selector
    left: str
    closed_by: frozenset[str]
    left_undone: frozenset[str]


@dataclass(frozen=True, slots=True)
class Torque:
    """A row of torque.csv: whether a torque is wanted; of the rows that name a component the narrowest counts."""

    applies: Selector
    wanted: bool


@dataclass(frozen=True, slots=True)
class Damage:
    """A row of damage.csv: whether the condition calls for a part, and the work that mends it."""

    part_usual: bool
    mended_by: frozenset[str]


@dataclass(frozen=True, slots=True)
class OneASide:
    """A row of one_a_side.csv: the component has one on each side, of the vehicle or (`corner`) of each axle.

    Of what may have `twins` two can be at one place.
    """

    corner: bool
    twins: bool


@dataclass(frozen=True, slots=True)
class Rules:
    """All rule files of a lexicon folder."""

    openings: tuple[Opening, ...]
    torque: tuple[Torque, ...]
    damage: dict[str, Damage]
    same_thing: dict[str, str]
    whole_systems: frozenset[str]
    axle_sets: frozenset[str]
    one_a_side: dict[str, OneASide]
    circuits: tuple[tuple[str, Selector], ...]
    followups: tuple[Rule, ...]
    cautions: tuple[Rule, ...]
    used_once: tuple[Rule, ...]
    signs: dict[str, tuple[str, str, str]]
    problems: tuple[Problem, ...]


@functools.lru_cache(maxsize=8)
def rules_of(lexicon: Lexicon) -> Rules:
    """The rules that lie beside the lexicon. Raises InputError (file, line, reason) for a row that cannot be used.

    >>> from notelog.lexicon import load
    >>> rules_of(load()).damage["bent"].part_usual
    True
    """
    files = _Files(lexicon)
    return Rules(
        openings=tuple(files.openings()),
        torque=tuple(files.torque()),
        damage=files.damage(),
        same_thing=files.same_thing(),
        whole_systems=frozenset(
            files.component(path, line, row["component"])
            for path, line, row in files.rows("whole_systems.csv", ["component", "why"])
        ),
        axle_sets=frozenset(
            files.component(path, line, row["component"])
            for path, line, row in files.rows("axle_sets.csv", ["component", "why", "source"])
        ),
        one_a_side=files.one_a_side(),
        circuits=tuple(
            (row["circuit"], files.selector(path, line, row["applies_to"]))
            for path, line, row in files.rows("fluid_circuits.csv", ["circuit", "applies_to", "why", "source"])
        ),
        followups=tuple(files.followups()),
        cautions=tuple(files.cautions()),
        used_once=tuple(files.used_once()),
        signs={
            row["quantity"]: (row["positive"], row["negative"], row["source"])
            for _, _, row in files.rows("reading_signs.csv", ["quantity", "positive", "negative", "source"])
        },
        problems=tuple(files.problems),
    )


class _Files:
    def __init__(self, lexicon: Lexicon):
        self.folder = lexicon.folder
        self.components = lexicon.terms["component"]
        self.problems: list[Problem] = []

    def rows(self, name: str, columns: list[str]):
        path = self.folder / name
        for line, row in read_rows(path, columns):
            for column in ("why", "source"):
                if column in row and not row[column]:
                    raise InputError(
                        f"{path}, line {line}: the column {column} is empty; say it, or write common practice."
                    )
            yield path, line, row

    def component(self, path: Path, line: int, id: str) -> str:
        if id not in self.components:
            self.problems.append(Problem(path.name, line, f"{id!r} is no component of the lexicon; use an id that is."))
        return id

    def selector(self, path: Path, line: int, cell: str) -> Selector:
        ids, systems, words = set(), set(), []
        tokens = _listed(cell)
        for token in tokens:
            kind, colon, name = token.partition(":")
            if token in ("any", "none"):
                continue
            if not colon:
                ids.add(self.component(path, line, token))
            elif kind == "system" and name in SYSTEMS:
                systems.add(name)
            elif kind == "word" and name:
                words.append(name)
            else:
                raise InputError(
                    f"{path}, line {line}: {token!r} is neither a component's id, nor system:NAME, word:TEXT, none or any."
                )
        return Selector(frozenset(ids), frozenset(systems), tuple(words), "none" in tokens, "any" in tokens)

    def chosen(self, path: Path, line: int, cell: str, allowed: frozenset[str], what: str) -> frozenset[str]:
        chosen = frozenset(_listed(cell))
        if wrong := sorted(chosen - allowed):
            raise InputError(
                f"{path}, line {line}: {wrong[0]!r} is no {what}; use one of {', '.join(sorted(allowed))}."
            )
        return chosen

    def openings(self):
        columns = ["action", "applies_to", "except", "left", "closed_by", "left_undone", "why", "source"]
        allowed = frozenset(["removed", "disconnected", "not_plugged_in", "loosened", "drained", "compressed"])
        for path, line, row in self.rows("loose_ends.csv", columns):
            (action,) = self.chosen(path, line, row["action"], _ACTIONS, "action") or {""}
            if not action or row["left"] not in allowed:
                raise InputError(
                    f"{path}, line {line}: it needs one action, and in left one of {', '.join(sorted(allowed))}."
                )
            yield Opening(
                action=action,
                applies=self.selector(path, line, row["applies_to"]),
                excepted=self.selector(path, line, row["except"]),
                left=row["left"],
                closed_by=self.chosen(path, line, row["closed_by"], _ACTIONS, "action"),
                left_undone=self.chosen(path, line, row["left_undone"], _ACTIONS, "action"),
            )

    def torque(self):
        for path, line, row in self.rows("torque.csv", ["applies_to", "wanted", "why", "source"]):
            yield Torque(self.selector(path, line, row["applies_to"]), _yes(path, line, row["wanted"]))

    def damage(self) -> dict[str, Damage]:
        table: dict[str, Damage] = {}
        path = self.folder / "damage.csv"
        for path, line, row in self.rows("damage.csv", ["condition", "part_usual", "mended_by", "why"]):
            (condition,) = self.chosen(path, line, row["condition"], _CONDITIONS, "condition") or {""}
            mended_by = self.chosen(path, line, row["mended_by"], _ACTIONS, "action")
            table[condition] = Damage(_yes(path, line, row["part_usual"]), mended_by)
        if lacking := sorted(_CONDITIONS - table.keys() - {"good"}):
            raise InputError(f"{path}: there is no row for the condition {lacking[0]!r}; add one.")
        return table

    def same_thing(self) -> dict[str, str]:
        table = {}
        for path, line, row in self.rows("same_thing.csv", ["component", "stands_for", "why"]):
            component = self.component(path, line, row["component"])
            table[component] = self.component(path, line, row["stands_for"])
        if chained := sorted(set(table.values()) & table.keys()):
            raise InputError(
                f"{self.folder / 'same_thing.csv'}: {chained[0]!r} stands on both sides; name the last one."
            )
        return table

    def one_a_side(self) -> dict[str, OneASide]:
        table = {}
        for path, line, row in self.rows("one_a_side.csv", ["component", "of", "twins", "why", "source"]):
            if row["of"] not in ("corner", "side") or row["twins"] not in ("yes", ""):
                raise InputError(f"{path}, line {line}: in of write corner or side, and in twins yes or nothing.")
            component = self.component(path, line, row["component"])
            table[component] = OneASide(row["of"] == "corner", row["twins"] == "yes")
        return table

    def followups(self):
        columns = [
            "id", "applies_to", "except", "actions", "conditions", "then", "settled_by", "settled_on", "why", "source"
        ]  # fmt: skip
        for path, line, row in self._with_ids("followups.csv", columns):
            yield self._rule(
                path,
                line,
                row,
                row["then"],
                settled_by=self.chosen(path, line, row["settled_by"], _ACTIONS, "action"),
                settled_on=self.selector(path, line, row["settled_on"]),
            )

    def cautions(self):
        columns = ["id", "applies_to", "except", "actions", "conditions", "text", "why", "source"]
        for path, line, row in self._with_ids("cautions.csv", columns):
            yield self._rule(path, line, row, row["text"])

    def used_once(self):
        columns = ["id", "applies_to", "except", "actions", "hardware", "count", "shared", "why", "source"]
        for path, line, row in self._with_ids("used_once.csv", columns):
            if not row["count"].isdecimal() or int(row["count"]) < 1:
                raise InputError(f"{path}, line {line}: the count is {row['count']!r}; write a whole number from 1 up.")
            more = {"count": int(row["count"]), "shared": _yes(path, line, row["shared"])}
            yield self._rule(path, line, {**row, "conditions": ""}, row["hardware"], **more)

    def _with_ids(self, name: str, columns: list[str]):
        seen: dict[str, int] = {}
        for path, line, row in self.rows(name, columns):
            if bool(row.get("settled_by")) and not row.get("settled_on"):
                raise InputError(
                    f"{path}, line {line}: settled_on is empty; say on what {row['settled_by']} settles it."
                )
            if not row["id"] or row["id"] in seen:
                raise InputError(f"{path}, line {line}: the id {row['id']!r} is empty or stands in line "
                                 f"{seen.get(row['id'], line)} too; give every rule an id of its own.")  # fmt: skip
            seen[row["id"]] = line
            yield path, line, row

    def _rule(self, path: Path, line: int, row: dict[str, str], text: str, **more) -> Rule:
        if not text:
            raise InputError(f"{path}, line {line}: the rule {row['id']} says nothing; fill in what it is to say.")
        actions = self.chosen(path, line, row["actions"], _ACTIONS | {PART_ASKED}, "action")
        conditions = self.chosen(path, line, row["conditions"], _CONDITIONS, "condition")
        if not actions and not conditions:
            raise InputError(f"{path}, line {line}: the rule {row['id']} has no action and no condition to fire on.")
        return Rule(
            id=row["id"],
            applies=self.selector(path, line, row["applies_to"]),
            excepted=self.selector(path, line, row["except"]),
            actions=actions,
            conditions=conditions,
            text=text,
            why=row["why"],
            source=row["source"],
            **more,
        )


def _listed(cell: str) -> list[str]:
    return [item.strip() for item in cell.split(";") if item.strip()]


def _yes(path: Path, line: int, cell: str) -> bool:
    if cell not in ("yes", "no"):
        raise InputError(f"{path}, line {line}: {cell!r} must be yes or no.")
    return cell == "yes"
