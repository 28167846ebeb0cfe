"""What the notes of the job themselves say of prices and hours, and on which line it stands. Nothing is guessed.

A price stands on the line of the part that it was said with; where several lines are for the same component, on the one
whose words stand nearest before it in the same note, unless it was said for each or for the pair. Whether it is for each,
for the pair or for all is looked for right behind it; where several are wanted and nothing is said, it stands on none. A
time stands on a line when it was said in one breath with work on one component, and with nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from notelog.estimate.rules import REPLACE, EstimateRules
from notelog.job.sections import PartLine, Quote
from notelog.job.story import Statement, Story
from notelog.lexicon.words import normal

_BEHIND = 30
"""Characters behind a price in which "each" or "for the pair" belong to it."""

_ONE_BREATH = 60
"""Characters between a time and the work that it was spent on."""

_STAMP = re.compile(r"[\[(]?\d{1,2}(?::\d\d){1,2}(?:[.,]\d+)?[\])]?")
_STOP = re.compile(r"[.!?;,](?=\s|$)|\n\s*\n")
_SENTENCE_END = re.compile(r"[.!?;](?=[\s\"<]|$)|\n\s*\n|[\"}]\s*[,}]")
_MONEY_PLACES = 4


@dataclass(frozen=True, slots=True)
class Price:
    """A price that was said: `each` for one of the line, or why it cannot be told (`problem`)."""

    told: Statement
    amount: Decimal
    currency: str
    each: Decimal | None
    problem: str = ""


def decimal_of(amount: float) -> Decimal:
    """The shortest decimal that is this float: what was said.

    >>> decimal_of(96.4), decimal_of(340.0)
    (Decimal('96.4'), Decimal('340'))
    """
    return Decimal(repr(amount).removesuffix(".0"))


def prices_said(
    story: Story, parts: Sequence[PartLine], texts: Mapping[str, str], rules: EstimateRules
) -> tuple[dict[str, Price], list[tuple[Statement, str]]]:
    """The newest price that was said for each part, by the line's id; and those that stand on no line, with why."""
    found: dict[str, Price] = {}
    homeless = []
    for told in story.of_kind("cost"):
        lines = [line for line in parts if told.key is not None and part_key(line) == told.key]
        amount = decimal_of(told.entry.amount)
        if not lines:
            homeless.append((told, "it is for nothing that stands on the estimate as a part"))
            continue
        means = _means(told, texts, rules)
        wanted = sum(line.count for line in lines)
        if means == "each":
            found |= {line.id: Price(told, amount, told.entry.currency, amount) for line in lines}
            continue
        if means == "pair" and wanted == 2:
            found |= {line.id: Price(told, amount, told.entry.currency, amount / 2) for line in lines}
            continue
        nearest = lines if len(lines) == 1 else _nearest(told.quote, lines)
        if not nearest:
            homeless.append((told, f"it is not said for which of {len(lines)} lines it is"))
            continue
        line = nearest[0]
        each, problem = _each(amount, means, line.count)
        found[line.id] = Price(told, amount, told.entry.currency, each, problem)
    return found, homeless


def part_key(line: PartLine) -> str:
    """The key of a part's component, as the story has it."""
    return line.component.id if line.component.id != "unknown" else f"unknown:{normal(line.component.label)}"


def _each(amount: Decimal, means: str, count: int) -> tuple[Decimal | None, str]:
    said = f"{amount:f}"
    if means == "pair":
        return (amount / 2, "") if count == 2 else (None, f"{said} was said for a pair and {count} is wanted")
    if count == 1:
        return amount, ""
    if means == "all":
        each = amount / count
        whole = round(each, _MONEY_PLACES)
        return (whole, "") if whole * count == amount else (None, f"{said} for all {count} does not go up evenly")
    return None, f"{said} was said: is it for one or for all {count}?"


def _means(told: Statement, texts: Mapping[str, str], rules: EstimateRules) -> str:
    """Whether the price is for "each", the "pair" or "all"; "" when nothing is said."""
    quote = told.quote
    behind = texts.get(quote.note, "")[quote.end : quote.end + _BEHIND]
    behind = _STAMP.sub(" ", behind)
    if stop := _STOP.search(behind):
        behind = behind[: stop.start()]
    words = f" {normal(_STAMP.sub(' ', quote.text))} {normal(behind)} "
    return next((means for said, means in rules.price_words if f" {said} " in words), "")


def _nearest(quote: Quote, lines: Sequence[PartLine]) -> list[PartLine]:
    """The line whose words stand nearest before the price in its note, alone; none when there is no such line."""
    reach = []
    for line in lines:
        starts = [said.start for said in line.quotes if said.note == quote.note and said.start <= quote.end]
        if starts:
            reach.append((max(starts), line))
    if not reach:
        return []
    last = max(start for start, _ in reach)
    nearest = [line for start, line in reach if start == last]
    return nearest if len(nearest) == 1 else []


def hours_said(
    story: Story, texts: Mapping[str, str], rules: EstimateRules
) -> tuple[dict[tuple[str, str], list[Statement]], list[Statement]]:
    """The times by the component and the work that they were said with; and those that were said with none, or several."""
    found: dict[tuple[str, str], list[Statement]] = {}
    homeless = []
    operations = story.operations(status=None)
    for told in story.of_kind("labour"):
        near = {
            (other.key, work)
            for other in operations
            if other.note == told.note
            and _in_one_breath(texts.get(told.quote.note, ""), told.quote, other.quote)
            and (work := _hours_for(story, rules, other))
        }
        if len(near) == 1:
            found.setdefault(near.pop(), []).append(told)
        else:
            homeless.append(told)
    return found, homeless


def _hours_for(story: Story, rules: EstimateRules, told: Statement) -> str:
    work = rules.work_of(story.things, told.entry.action, told.key)
    if work is not None:
        return work.id if work.kind == "labour" else ""
    return REPLACE if told.entry.action in ("fit", "remove") else ""


def _in_one_breath(text: str, one: Quote, other: Quote) -> bool:
    first, second = sorted((one, other), key=lambda quote: (quote.start, quote.end))
    if second.start <= first.end:
        return True
    between = text[first.end : second.start]
    return bool(text) and len(between) <= _ONE_BREATH and not _SENTENCE_END.search(between)
