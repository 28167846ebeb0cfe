"""Past jobs by similar damage: candidates through the indexes, the best of them compared by `notelog.archive.likeness`.

Candidates are jobs with damage of the same components, what is part of them and what they are part of, the rarest first, until
`MOST_ROWS` rows of the index are read; the `MOST_COMPARED` of them that have the most weight in common are compared.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from notelog.archive.likeness import Comparer, Damage, Likeness, idf
from notelog.archive.migrations import DAMAGE
from notelog.archive.vehicle import FIELDS, Vehicle
from notelog.archive.vocabulary import Vocabulary
from notelog.errors import InputError
from notelog.wording import normal

if TYPE_CHECKING:
    from notelog.archive.store import Archive

MOST_ROWS = 30_000
MOST_COMPARED = 250
MOST_DAMAGE = 60
"""The most damages of a job that are compared, the rarest of them."""

LEAST_ALIKE = 0.1


@dataclass(frozen=True, slots=True)
class Case:
    """What is compared with the archive: a job's or a note's `damage`, the components that were mentioned in any way, those
    that were said to be good, and the vehicle's class. `job_id` is the job's own number, which is left out of the answer."""

    damage: list[Damage]
    mentioned: frozenset[str] = frozenset()
    good: frozenset[str] = frozenset()
    vehicle_class: str = ""
    job_id: int | None = None


@dataclass(frozen=True, slots=True)
class SimilarJob:
    """A past job with how it is alike, its vehicle, and the newest day of its notes."""

    job: str
    day: str
    vehicle: Vehicle
    likeness: Likeness


@dataclass(frozen=True, slots=True)
class Compared:
    """A candidate as it was compared: how much alike, and the share of the case's damage that it has."""

    job_id: int
    alike: float
    covered: float
    damage: tuple[Damage, ...] = field(default=(), repr=False)


def case_of_job(archive: Archive, reference: str, known: Vocabulary) -> Case:
    """The case of a stored job. Raises InputError for an unknown job, and for one without damage."""
    with archive.reading() as connection:
        job_id = archive.job_id(reference)
        rows = connection.execute("SELECT * FROM facts WHERE job_id = ? AND standing <> 'rejected'", (job_id,)).fetchall()
        job = connection.execute("SELECT make, model FROM jobs WHERE id = ?", (job_id,)).fetchone()
    made = _case(rows, vehicle_class(known, job["make"], job["model"]), job_id)
    if not made.damage:
        raise InputError(f"Job {reference} has no damage to look for: its notes tell of no component that anything is wrong with.")
    return made


def case_of_entries(entries: Iterable[Mapping[str, Any]], of_class: str = "") -> Case:
    """The case of entries that are stored nowhere, as plain dictionaries. Raises InputError when they tell of no damage."""
    rows = []
    for entry in entries:
        position = entry.get("position") or {}
        rows.append({
            "kind": entry["kind"], "component_id": (entry.get("component") or {}).get("id"), "condition": entry.get("condition"),
            "status": entry.get("status"), "side": position.get("side"), "axle": position.get("axle"),
        })  # fmt: skip
    made = _case(rows, of_class, None)
    if not made.damage:
        raise InputError("The note has no damage to look for: it tells of no component that anything is wrong with.")
    return made


def similar(archive: Archive, case: Case, known: Vocabulary, *, limit: int = 10) -> list[SimilarJob]:
    """The past jobs whose damage is most alike, the best first."""
    with archive.reading() as connection:
        return told(connection, case, compared(connection, case, known), known, limit)


def told(connection: sqlite3.Connection, case: Case, among: Sequence[Compared], known: Vocabulary, limit: int) -> list[SimilarJob]:
    """The best of what was compared, with what is shared and what differs."""
    comparer = Comparer(known, weights(connection))
    found = []
    for one in among[:limit]:
        job = connection.execute("SELECT * FROM jobs WHERE id = ?", (one.job_id,)).fetchone()
        (day,) = connection.execute("SELECT max(substr(coalesce(dictated, added), 1, 10)) FROM notes WHERE job_id = ?", (one.job_id,)).fetchone()
        same = _same_class(case.vehicle_class, vehicle_class(known, job["make"], job["model"]))
        likeness = comparer.compare(case.damage, one.damage, same_class=same)
        found.append(SimilarJob(job["reference"], day, Vehicle(**{name: job[name] for name in FIELDS}), likeness))
    return found


def compared(connection: sqlite3.Connection, case: Case, known: Vocabulary) -> list[Compared]:
    """The candidates of a case, compared, the most alike first; of two that are equally alike the newer one."""
    weight = weights(connection)
    damage = sorted(dict.fromkeys(case.damage), key=weight, reverse=True)[:MOST_DAMAGE]
    candidates = _candidates(connection, damage, weight, known, case.job_id)
    comparer = Comparer(known, weight)
    classes = _classes(connection, list(candidates), known) if case.vehicle_class else {}
    found, worked_out = [], {}
    for job_id, there in _damage_of(connection, list(candidates)).items():
        key = tuple(sorted(there, key=repr))  # many jobs have the same damage
        if key not in worked_out:
            worked_out[key] = comparer.much(damage, key)
        alike, covered = worked_out[key]
        if _same_class(case.vehicle_class, classes.get(job_id, "")) is False:
            alike *= 0.9
        if alike >= LEAST_ALIKE:
            found.append(Compared(job_id, alike, covered, tuple(there)))
    return sorted(found, key=lambda one: (-round(one.alike, 6), -one.job_id))


def weights(connection: sqlite3.Connection) -> Any:
    """The function that gives the weight of a damage in this archive."""
    (of,) = connection.execute("SELECT coalesce(max(jobs), 0) FROM damage_counts WHERE component_id = '' AND condition = ''").fetchone()
    kept: dict[tuple[str, str], float] = {}

    def weight(damage: Damage) -> float:
        key = damage[:2]
        if key not in kept:
            rows = connection.execute(
                "SELECT condition, jobs FROM damage_counts WHERE component_id = ? AND condition IN ('', ?)", key
            ).fetchall()
            jobs = {condition: count for condition, count in rows}
            kept[key] = (idf(jobs.get("", 0), of) + idf(jobs.get(damage.condition, 0), of)) / 2
        return kept[key]

    return weight


def vehicle_class(known: Vocabulary, *words: str | None) -> str:
    """The class of a vehicle that its make and model tell; "" where they tell none.

    >>> from notelog.archive.vocabulary import vocabulary
    >>> vehicle_class(vocabulary(), None, "Type 5 sedan")
    'saloon'
    """
    text = f" {normal(' '.join(filter(None, words)))} "
    found = [(len(name), id) for id, names in known.classes.items() for name in names if f" {name} " in text]
    return max(found)[1] if found else ""


def _same_class(one: str, other: str) -> bool | None:
    return one == other if one and other else None


def _case(rows: Iterable[Mapping[str, Any]], of_class: str, job_id: int | None) -> Case:
    damage, mentioned, good = {}, set(), set()
    for row in rows:
        component = row["component_id"]
        if component is None or component == "unknown":
            continue
        mentioned.add(component)
        if row["kind"] != "finding":
            continue
        if row["status"] == "present" and row["condition"] != "good":
            damage[Damage(component, row["condition"], row["side"], row["axle"])] = None
        elif row["status"] in ("absent", "present"):
            good.add(component)
    bad = {one.component for one in damage}
    return Case(list(damage), frozenset(mentioned), frozenset(good - bad), of_class, job_id)


def _candidates(
    connection: sqlite3.Connection, damage: Sequence[Damage], weight: Any, known: Vocabulary, without: int | None
) -> dict[int, float]:
    """Jobs that have damage of the same or of near components, with the weight in common."""
    wanted: dict[str, float] = {}
    for one in damage:
        wholes = known.wholes(one.component)[:1]
        near = [*wholes, *(part for part in known.with_parts(one.component) if part != one.component)]
        for component, share in ((one.component, 1.0), *((part, 0.5) for part in near)):
            wanted[component] = max(wanted.get(component, 0.0), share * weight(one))
    counts = dict(connection.execute(
        f"SELECT component_id, jobs FROM damage_counts WHERE condition = '' AND jobs > 0 AND component_id IN ({', '.join('?' * len(wanted))})",
        list(wanted),
    ).fetchall())  # fmt: skip
    chosen, rows = [], 0
    for component, jobs in sorted(counts.items(), key=lambda one: (-wanted[one[0]], one[0])):
        if chosen and rows + jobs > MOST_ROWS:
            continue
        chosen.append(component)
        rows += jobs
    if not chosen:
        return {}
    each = " UNION ALL ".join(
        f"SELECT job_id, {wanted[component]:.6f} AS weight FROM facts WHERE component_id = ? AND {DAMAGE}" for component in chosen
    )
    found = connection.execute(
        f"SELECT job_id, sum(weight) AS weight FROM ({each}) WHERE job_id IS NOT ? GROUP BY job_id ORDER BY weight DESC, job_id DESC LIMIT ?",
        (*chosen, without, MOST_COMPARED),
    )
    return {row[0]: row[1] for row in found}


def _damage_of(connection: sqlite3.Connection, jobs: Sequence[int]) -> dict[int, list[Damage]]:
    found: dict[int, dict[Damage, None]] = {}
    rows = connection.execute(
        f"""SELECT job_id, component_id, condition, side, axle FROM facts
            WHERE job_id IN ({', '.join('?' * len(jobs))}) AND {DAMAGE} AND component_id IS NOT NULL AND component_id <> 'unknown'""",
        jobs,
    )
    for job_id, *damage in rows:
        found.setdefault(job_id, {})[Damage(*damage)] = None
    return {job_id: list(damage)[:MOST_DAMAGE] for job_id, damage in found.items()}


def _classes(connection: sqlite3.Connection, jobs: Sequence[int], known: Vocabulary) -> dict[int, str]:
    rows = connection.execute(f"SELECT id, make, model FROM jobs WHERE id IN ({', '.join('?' * len(jobs))})", jobs)
    kept: dict[tuple[str | None, str | None], str] = {}
    made = {}
    for id, make, model in rows:
        if (make, model) not in kept:
            kept[make, model] = vehicle_class(known, make, model)
        made[id] = kept[make, model]
    return made
