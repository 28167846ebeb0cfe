"""Figures of the archive: how often what is damaged, where, on which vehicles and when; hours and prices by operation.

Damage is counted in the narrow rows that the archive keeps, jobs apart from entries. A trend is the number of jobs of the
last 365 days beside that of the 365 days before. Hours and prices are those that notes say of work on one component, by
the rules of `notelog.estimate.said`, with quartiles by definition 7 of Hyndman and Fan.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from notelog.archive.migrations import DAMAGE
from notelog.archive.similar import vehicle_class
from notelog.archive.vocabulary import Vocabulary

if TYPE_CHECKING:
    from notelog.archive.store import Archive

MOST_PRICED = 1_000
"""The most jobs whose notes are read for hours and prices, the newest first."""

_YEAR = timedelta(365)


@dataclass(frozen=True, slots=True)
class Count:
    """How many jobs and entries have something, and how many jobs of the last year and of the year before."""

    name: str
    jobs: int
    entries: int
    last_year: int
    year_before: int


@dataclass(frozen=True, slots=True)
class Spread:
    """The quartiles of what `count` jobs say of an operation on a component; `unit` is "h" or a currency."""

    component: str
    operation: str
    unit: str
    count: int
    low: Decimal
    median: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Figures:
    """`jobs` have damage; `counts` are by what they count ("component", "condition", "place", "vehicle", "month"), `spreads` by
    "hours" and "prices". `priced` jobs were read for them, of `priced_of` that say a time or a price."""

    jobs: int
    since: str | None
    until: str | None
    counts: dict[str, list[Count]]
    spreads: dict[str, list[Spread]]
    priced: int = 0
    priced_of: int = 0


@dataclass(frozen=True, slots=True)
class Numbers:
    """Hours by component, and prices by component and currency; and both by operation, one value for a job."""

    hours: dict[str, list[Decimal]] = field(default_factory=dict)
    prices: dict[str, dict[str, list[Decimal]]] = field(default_factory=dict)
    by_operation: dict[tuple[str, str, str, str], list[Decimal]] = field(default_factory=dict)


def figures(
    archive: Archive,
    known: Vocabulary,
    *,
    components: Sequence[str] = (),
    since: str | None = None,
    until: str | None = None,
    most: int = 15,
    today: date | None = None,
) -> Figures:
    """The figures of damage of the `components` with what is part of them (of all when none is given), since a day and until one.

    `most` is the most rows of each count; months are all there. Raises InputError when the archive cannot be read.
    """
    wanted = sorted(set().union(*(known.with_parts(one) for one in components))) if components else []
    clauses, values = [DAMAGE, "component_id IS NOT NULL"], []
    if wanted:
        clauses.append(f"component_id IN ({', '.join('?' * len(wanted))})")
        values += wanted
    for day, sign in ((since, ">="), (until, "<=")):
        if day:
            clauses.append(f"day {sign} ?")
            values.append(day)
    where = " AND ".join(clauses)
    last = min(until or "9", (today or date.today()).isoformat())
    year = (date.fromisoformat(last) - _YEAR).isoformat()
    before = (date.fromisoformat(year) - _YEAR).isoformat()

    def count(by: str, limit: int) -> list[Count]:
        rows = connection.execute(
            f"""SELECT {by} AS name, count(DISTINCT job_id) AS jobs, count(*) AS entries,
                       count(DISTINCT CASE WHEN day > ? AND day <= ? THEN job_id END) AS last_year,
                       count(DISTINCT CASE WHEN day > ? AND day <= ? THEN job_id END) AS year_before
                FROM facts WHERE {where} GROUP BY 1 ORDER BY jobs DESC, name LIMIT ?""",
            (year, last, before, year, *values, limit),
        )
        return [Count(*row) for row in rows]

    with archive.reading() as connection:
        (jobs,) = connection.execute(f"SELECT count(DISTINCT job_id) FROM facts WHERE {where}", values).fetchone()
        by_component = [Count(known.label(one.name), *_rest(one)) for one in count("component_id", most)]
        counts = {
            "component": by_component,
            "condition": count("condition", most),
            "place": count("coalesce(nullif(trim(coalesce(axle, '') || ' ' || coalesce(side, '')), ''), 'not said')", most),
            "vehicle": _vehicles(connection, where, values, (year, last, before, year), known)[:most],
            "month": sorted(count("substr(day, 1, 7)", 10_000), key=lambda one: one.name),
        }
        asked = connection.execute(
            f"""SELECT DISTINCT job_id FROM facts WHERE kind IN ('cost', 'labour') AND standing <> 'rejected'
                AND job_id IN (SELECT job_id FROM facts WHERE {where}) ORDER BY job_id DESC""",
            values,
        ).fetchall()
    read = [row[0] for row in asked[:MOST_PRICED]]
    numbers = numbers_of_jobs(archive, read)
    chosen = {key: said for key, said in numbers.by_operation.items() if not wanted or key[1] in wanted}
    spreads: dict[str, list[Spread]] = {"hours": [], "prices": []}
    for (kind, component, operation, unit), said in chosen.items():
        spreads[kind].append(_spread(known.label(component), operation, unit, said))
    for rows in spreads.values():
        rows.sort(key=lambda one: (-one.count, one.component, one.operation, one.unit))
        del rows[most:]
    return Figures(jobs, since, until, counts, spreads, len(read), len(asked))


def numbers_of_jobs(archive: Archive, jobs: Iterable[int]) -> Numbers:
    """What the notes of these jobs (by their numbers in the archive) say of hours and prices for components of the lexicon."""
    from notelog.archive.ledgers import has_money_or_time, job_notes, note_texts
    from notelog.estimate import estimate, past_job

    numbers = Numbers()
    lexicon = None
    for job_id in jobs:
        with archive.reading() as connection:
            (reference,) = connection.execute("SELECT reference FROM jobs WHERE id = ?", (job_id,)).fetchone()
            job = archive.job(reference)
        if not has_money_or_time(job):
            continue
        lexicon = lexicon or archive.lexicon()
        told = past_job(reference, estimate(job_notes(job), texts=note_texts(job), lexicon=lexicon))
        for (component, work), hours in told.hours.items():
            numbers.hours.setdefault(component, []).append(hours)
            numbers.by_operation.setdefault(("hours", component, work, "h"), []).append(hours)
        for (kind, component, work, currency), price in told.prices.items():
            numbers.prices.setdefault(component, {}).setdefault(currency, []).append(price)
            numbers.by_operation.setdefault(("prices", component, work or kind, currency), []).append(price)
    return numbers


def _vehicles(connection: sqlite3.Connection, where: str, values: Sequence[str], days: Sequence[str], known: Vocabulary) -> list[Count]:
    """Counts by the class of the vehicle that make and model tell."""
    rows = connection.execute(
        f"""SELECT make, model, count(*) AS jobs, sum(entries), sum(last > ? AND last <= ?), sum(last > ? AND last <= ?) FROM
                (SELECT job_id, count(*) AS entries, max(day) AS last FROM facts WHERE {where} GROUP BY job_id) AS damaged
            JOIN jobs ON jobs.id = damaged.job_id GROUP BY make, model""",
        (*days, *values),
    ).fetchall()
    found: dict[str, list[int]] = {}
    for make, model, *numbers in rows:
        name = vehicle_class(known, make, model) or " ".join(filter(None, (make, model))) or "not said"
        before = found.setdefault(name, [0, 0, 0, 0])
        found[name] = [one + more for one, more in zip(before, numbers, strict=True)]
    return sorted((Count(name, *numbers) for name, numbers in found.items()), key=lambda one: (-one.jobs, one.name))


def _rest(count: Count) -> tuple[int, int, int, int]:
    return count.jobs, count.entries, count.last_year, count.year_before


def _spread(component: str, operation: str, unit: str, said: Sequence[Decimal]) -> Spread:
    from notelog.estimate.money import quartiles

    return Spread(component, operation, unit, len(said), *quartiles(said))
