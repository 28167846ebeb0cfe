"""How much the damage of two jobs is alike: a stated rule, from 0 (nothing in common) to 1 (the same damage).

1. *Damage* is a component, its condition, and the side and axle where they are known. Each weighs as much as it is rare:
   `w = (idf(component) + idf(component, condition)) / 2` with `idf = ln(1 + N / (n + 1))`, where `n` of `N` jobs with any
   damage have it (inverse document frequency: Sparck Jones, J. Documentation 28 (1972) 11).
2. *Two damages* are alike by `relation x condition x place`:
   relation is 1 for the same component, 0.6 for a whole and its part, 0.4 over one more step, 0.3 for parts of one whole, 0.2
   for the same system at the same corner, else 0; condition is `0.4 + 0.6 x kinship` (`lexicon/condition_kin.csv`); place is 1
   where axle and side agree, times 0.9 for each that one of them does not say, 0.3 for another axle, 0.4 for another side.
3. *Left and right are mirror images*: all sides of one job are taken as they are and turned round, and the better counts.
4. *A job found* is as like as the share of the weight here that it has (each damage by its best match there), and the share
   of the weight there that is here: `here^0.65 x there^0.35`, so that what is missing there tells more than what is more there.
5. *The vehicle is a mild weight*: times 0.9 where both classes are known and differ.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from notelog.archive.vocabulary import Vocabulary

OTHER_CLASS = 0.9
SHARED = 0.25
"""From how much alike on two damages count as shared."""

_OTHER_SIDE = {"left": "right", "right": "left"}
_HERE, _THERE = 0.65, 0.35


class Damage(NamedTuple):
    """A component (its lexicon id) with what is wrong with it, and where; side and axle are None where nobody said."""

    component: str
    condition: str
    side: str | None = None
    axle: str | None = None

    def turned(self) -> Damage:
        """The same on the other side.

        >>> Damage("strut", "bent", "left", "front").turned().side
        'right'
        """
        return self._replace(side=_OTHER_SIDE.get(self.side, self.side))


@dataclass(frozen=True, slots=True)
class Shared:
    """Damage here and what is like it there, and how much (0 to 1)."""

    here: Damage
    there: Damage
    alike: float


@dataclass(frozen=True, slots=True)
class Likeness:
    """How much two jobs are `alike`; `covered` is the share of the damage here that is there, `mirrored` whether the sides
    were turned round. `here_only` and `there_only` are what differs."""

    alike: float
    covered: float
    mirrored: bool
    shared: list[Shared] = field(default_factory=list)
    here_only: list[Damage] = field(default_factory=list)
    there_only: list[Damage] = field(default_factory=list)


class Comparer:
    """Compares jobs by the rule above; `weight` gives the weight of a damage. What was worked out is kept.

    >>> from notelog.archive.vocabulary import vocabulary
    >>> comparer = Comparer(vocabulary(), lambda damage: 1.0)
    >>> one = [Damage("strut", "bent", "left", "front")]
    >>> comparer.compare(one, [Damage("strut", "bent", "right", "front")]).mirrored
    True
    >>> round(comparer.compare(one, [Damage("strut", "buckled", "left", "front")]).alike, 2)
    0.82
    """

    def __init__(self, known: Vocabulary, weight: Callable[[Damage], float]) -> None:
        self.known, self.weight = known, weight
        self._relations: dict[tuple[str, str], float] = {}
        self._wholes: dict[str, list[str]] = {}
        self._pairs: dict[tuple[Damage, Damage], float] = {}

    def compare(self, here: Sequence[Damage], there: Sequence[Damage], *, same_class: bool | None = None) -> Likeness:
        """How alike two jobs are; `same_class` is whether the vehicles are of one class, None where that is not known."""
        best = max((self._compared(here, there, turned) for turned in (False, True)), key=lambda one: one[0])
        alike, covered, mirrored, pairs, back = best
        shared = [Shared(one, there[at], much) for one, (much, at) in zip(here, pairs, strict=True) if much >= SHARED]
        return Likeness(
            round(alike * (OTHER_CLASS if same_class is False else 1.0), 4),
            round(covered, 4),
            mirrored,
            sorted(shared, key=lambda one: -one.alike * self.weight(one.here)),
            [one for one, (much, _) in zip(here, pairs, strict=True) if much < SHARED],
            [one for one, much in zip(there, back, strict=True) if much < SHARED],
        )

    def much(self, here: Sequence[Damage], there: Sequence[Damage]) -> tuple[float, float]:
        """How alike two jobs are, and the share of the damage here that is there: `compare` without saying what."""
        return max((self._compared(here, there, turned)[:2] for turned in (False, True)))

    def _compared(self, here: Sequence[Damage], there: Sequence[Damage], turned: bool) -> tuple:
        if not here or not there:
            return 0.0, 0.0, False, [(0.0, 0)] * len(here), [0.0] * len(there)
        sided = [one.turned() for one in here] if turned else here
        table = [[self._pair(one, other) for other in there] for one in sided]
        pairs = [max((much, -at) for at, much in enumerate(row)) for row in table]
        back = [max(row[at] for row in table) for at in range(len(there))]
        covered = self._share(here, [much for much, _ in pairs])
        alike = covered**_HERE * self._share(there, back) ** _THERE
        return alike, covered, turned, [(much, -at) for much, at in pairs], back

    def _share(self, damage: Sequence[Damage], alike: Sequence[float]) -> float:
        weights = [self.weight(one) for one in damage]
        return sum(weight * much for weight, much in zip(weights, alike, strict=True)) / (sum(weights) or 1.0)

    def _pair(self, one: Damage, other: Damage) -> float:
        key = one, other
        if key not in self._pairs:
            self._pairs[key] = self._worked_out(one, other)
        return self._pairs[key]

    def _worked_out(self, one: Damage, other: Damage) -> float:
        relation = self._relation(one.component, other.component)
        same_corner = None not in (one.axle, one.side) and (one.axle, one.side) == (other.axle, other.side)
        if not relation and same_corner:
            parts = self.known.parts
            if one.component in parts and other.component in parts:
                relation = 0.2 * (parts[one.component].system == parts[other.component].system)
        if not relation:
            return 0.0
        condition = 0.4 + 0.6 * self.known.kinship(one.condition, other.condition)
        return relation * condition * _same(one.axle, other.axle, 0.3) * _same(one.side, other.side, 0.4)

    def _relation(self, one: str, other: str) -> float:
        if one == other:
            return 1.0
        if (one, other) not in self._relations:
            above, above_other = self._above(one), self._above(other)
            steps = [line.index(to) for line, to in ((above, other), (above_other, one)) if to in line]
            if steps:
                value = {0: 0.6, 1: 0.4}.get(min(steps), 0.0)
            else:
                value = 0.3 if above and above_other and above[0] == above_other[0] and self._is_a_part(above[0]) else 0.0
            self._relations[one, other] = self._relations[other, one] = value
        return self._relations[one, other]

    def _above(self, component: str) -> list[str]:
        if component not in self._wholes:
            self._wholes[component] = self.known.wholes(component)
        return self._wholes[component]

    def _is_a_part(self, component: str) -> bool:
        """Whether it is a part and no whole system, whose parts are no near relatives."""
        known = self.known.parts.get(component)
        return known is not None and bool(known.part_of)


def idf(jobs: int, of: int) -> float:
    """The inverse document frequency of what `jobs` of `of` jobs have.

    >>> idf(0, 99) > idf(10, 99) > idf(99, 99) > 0
    True
    """
    return math.log1p(of / (jobs + 1))


def _same(one: str | None, other: str | None, differing: float) -> float:
    if one == other or "both" in (one, other):
        return 1.0
    return 0.9 if None in (one, other) else differing
