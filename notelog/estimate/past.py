"""What past jobs say: the prices and hours that were said in their notes, one of each for a job, and their quartiles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from notelog.estimate.money import Rounding, quartiles
from notelog.estimate.sections import Estimate, EstimateLine, Number, Origin


@dataclass(frozen=True, slots=True)
class PastJob:
    """A past job's `reference`, what one of a thing cost in it, and the hours that one took.

    `prices` are by kind of line, component, work and currency; `hours` by component and work.
    """

    reference: str
    prices: Mapping[tuple[str, str, str, str], Decimal] = field(default_factory=dict)
    hours: Mapping[tuple[str, str], Decimal] = field(default_factory=dict)


def past_job(reference: str, made: Estimate) -> PastJob:
    """What a job's own notes say, taken from its estimate: only numbers that are quotes count, and the newest of each.

    An estimate that was made of the notes alone (no price file, no rates file, no past jobs) is enough.
    """
    prices: dict[tuple[str, str, str, str], Decimal] = {}
    hours: dict[tuple[str, str], Decimal] = {}
    for line in made.lines:
        price, time = line.unit_price, line.hours
        if price and price.origin.kind == "quote" and line.currency:
            prices[line.kind, line_key(line), line.work, line.currency] = price.value
        if time and time.origin.kind == "quote" and line.count == 1:
            hours[line_key(line), line.work] = time.value
    return PastJob(reference, prices, hours)


def line_key(line: EstimateLine) -> str:
    """The component that a line is compared by: its lexicon id, or its label when it is in no lexicon."""
    if line.component is None:
        return ""
    return line.component.id if line.component.id != "unknown" else f"unknown:{line.component.label}"


def median(
    values: Sequence[tuple[str, Decimal]], what: str, least: int, rounding: Rounding | None = None
) -> tuple[Number | None, str]:
    """The median of past jobs with its quartiles, from pairs of reference and value; or why there is none.

    Money is rounded to the currency's `rounding`. Fewer than `least` jobs make no median.
    """
    if len(values) < least:
        if not values:
            return None, ""
        told = "job has" if len(values) == 1 else "jobs have"
        return None, f"only {len(values)} past {told} it, and a median wants {least}"
    low, middle, high = quartiles([value for _, value in values])
    if rounding:
        low, middle, high = rounding.round(low), rounding.round(middle), rounding.round(high)
    jobs = [reference for reference, _ in values]
    text = f"median of {len(jobs)} past {'job' if len(jobs) == 1 else 'jobs'}, quartiles {low:f} to {high:f} {what}"
    return Number(value=middle, low=low, high=high, origin=Origin(kind="past_jobs", text=text, jobs=jobs)), ""
