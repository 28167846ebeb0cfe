"""Look here too: what was damaged along with such damage on past jobs, and is not mentioned yet.

Such jobs are those that have at least half of the damage here, by weight (`covered` of `notelog.archive.likeness`), whatever
else they have, so that what else they have can be counted. Of `n` such jobs `k` have the component damaged: the share is k / n with
Wilson's score interval (Wilson, J. Am. Stat. Assoc. 22 (1927) 209). For deciding, the share is smoothed towards the share in
the whole archive, `(k + 4 b) / (n + 4)`, so that few jobs never shout. A component is proposed when there are at least
`LEAST_JOBS` such jobs, its smoothed share is at least `LEAST_SHARE`, and the interval lies above the archive's share.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from statistics import NormalDist
from typing import TYPE_CHECKING

from notelog.archive.similar import Case, Compared, case_of_job, compared
from notelog.archive.vocabulary import Vocabulary
from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive.store import Archive

COVERED = 0.5
LEAST_JOBS = 5
LEAST_SHARE = 0.2
SMOOTHING = 4.0
MOST_PRICED = 40
"""The most jobs whose notes are looked at for hours and prices, the most alike first."""


@dataclass(frozen=True, slots=True)
class LookToo:
    """A component to look at: damaged on `jobs` of `of` such jobs (95 % interval `low` to `high`), mostly `condition`.

    `everywhere` is its share in the whole archive, `smoothed` what it is ranked by. `hours` and `cost` are medians of what such
    jobs say, each with the number of jobs that say it; None where none does.
    """

    component: str
    label: str
    condition: str
    jobs: int
    of: int
    share: float
    low: float
    high: float
    everywhere: float
    smoothed: float
    hours: float | None = None
    hours_jobs: int = 0
    cost: Decimal | None = None
    currency: str = ""
    cost_jobs: int = 0

    @property
    def question(self) -> str:
        """The question to ask.

        >>> LookToo("inner_tie_rod", "inner tie rod", "bent", 7, 9, 7 / 9, 0.45, 0.94, 0.1, 0.57).question
        'inner tie rod: damaged on 7 of 9 such jobs, mostly bent; not mentioned here'
        """
        return f"{self.label}: damaged on {self.jobs} of {self.of} such jobs, mostly {self.condition}; not mentioned here"


def wilson(successes: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Wilson's score interval of a share; (0, 1) where nothing was counted.

    >>> [round(bound, 3) for bound in wilson(15, 50)]
    [0.191, 0.438]
    """
    if of == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share, denominator = successes / of, 1 + z * z / of
    middle = (share + z * z / (2 * of)) / denominator
    half = z / denominator * (share * (1 - share) / of + z * z / (4 * of * of)) ** 0.5
    low = 0.0 if successes == 0 else max(0.0, middle - half)
    return low, 1.0 if successes == of else min(1.0, middle + half)


def look_too(archive: Archive, case: Case, known: Vocabulary, *, limit: int = 8) -> list[LookToo]:
    """What to look at besides, the likeliest first. Raises InputError when the archive cannot be read."""
    with archive.reading() as connection:
        return proposals(connection, case, compared(connection, case, known), known)[:limit]


def allowance(archive: Archive, reference: str, known: Vocabulary, *, limit: int = 8) -> list[LookToo]:
    """What to look at besides on a stored job, with hours and prices; none for a job without damage.

    Raises InputError for an unknown job.
    """
    archive.job_id(reference)
    try:
        case = case_of_job(archive, reference, known)
    except InputError:
        return []
    with archive.reading() as connection:
        among = compared(connection, case, known)
        found = proposals(connection, case, among, known)[:limit]
    return with_numbers(archive, found, among) if found else []


def proposals(connection: sqlite3.Connection, case: Case, among: Iterable[Compared], known: Vocabulary) -> list[LookToo]:
    """What to look at besides, by candidates that were compared already."""
    such = such_jobs(among)
    counts: Counter[str] = Counter()
    conditions: dict[str, Counter[str]] = {}
    for one in such:
        for component in {damage.component for damage in one.damage}:
            counts[component] += 1
        for damage in one.damage:
            conditions.setdefault(damage.component, Counter())[damage.condition] += 1
    everywhere = dict(connection.execute("SELECT component_id, jobs FROM damage_counts WHERE condition = ''").fetchall())
    total = everywhere.get("", 0)
    found = [
        _proposal(component, jobs, len(such), everywhere.get(component, 0) / max(1, total), conditions[component], known)
        for component, jobs in counts.items()
        if not _mentioned(component, case, known)
    ]
    wanted = [one for one in found if one.of >= LEAST_JOBS and one.smoothed >= LEAST_SHARE and one.low > one.everywhere]
    return sorted(wanted, key=lambda one: (-one.smoothed, one.component))


def such_jobs(among: Iterable[Compared]) -> list[Compared]:
    """The jobs that have at least half of the damage, by weight."""
    return [one for one in among if one.covered >= COVERED]


def with_numbers(archive: Archive, found: Sequence[LookToo], among: Iterable[Compared]) -> list[LookToo]:
    """The proposals with the medians of hours and prices that the notes of such jobs say of these components."""
    from notelog.archive.figures import numbers_of_jobs

    of = {one.component for one in found}
    jobs = [one.job_id for one in such_jobs(among) if of & {damage.component for damage in one.damage}]
    numbers = numbers_of_jobs(archive, jobs[:MOST_PRICED])
    made = []
    for one in found:
        hours = numbers.hours.get(one.component, [])
        prices: Mapping[str, list[Decimal]] = numbers.prices.get(one.component, {})
        currency = max(prices, key=lambda code: (len(prices[code]), code), default="")
        made.append(replace(
            one, hours=float(_median(hours)) if hours else None, hours_jobs=len(hours), currency=currency,
            cost=_median(prices[currency]) if currency else None, cost_jobs=len(prices.get(currency, [])),
        ))  # fmt: skip
    return made


def _proposal(
    component: str, jobs: int, of: int, everywhere: float, conditions: Counter[str], known: Vocabulary
) -> LookToo:
    low, high = wilson(jobs, of)
    condition = max(conditions.items(), key=lambda one: (one[1], one[0]))[0]
    smoothed = (jobs + SMOOTHING * everywhere) / (of + SMOOTHING)
    share = jobs / of
    rounded = (round(value, 4) for value in (share, low, high, everywhere, smoothed))
    return LookToo(component, known.label(component), condition, jobs, of, *rounded)


def _mentioned(component: str, case: Case, known: Vocabulary) -> bool:
    """Whether it was mentioned in any way; what is part of something that was said to be good is good as well."""
    return component in case.mentioned or any(whole in case.good for whole in known.wholes(component))


def _median(values: Sequence[Decimal]) -> Decimal:
    from notelog.estimate.money import quartiles

    return quartiles(values)[1]
