"""What goes out: the estimate, its lines, and where each number of a line came from."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal, Optional

from pydantic import ConfigDict, Field, PlainSerializer, WithJsonSchema

from notelog.job.sections import HoursLine, Quote, Thing, UsedOnce
from notelog.models import Position, Strict

SCHEMA = "notelog.estimate/1"

Figure = Annotated[
    Decimal,
    PlainSerializer(lambda value: format(value, "f"), return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": r"^-?\d+(\.\d+)?$"}),
]
"""A decimal; in JSON a string, so that no reader makes a binary fraction of it."""

LineKind = Literal["part", "labour", "material", "outside"]
Basis = Literal["asked", "done", "planned", "rule", "follow_up", "said", "proposed", "ask"]


class Origin(Strict):
    """Where a number came from, also in words (`text`).

    A "quote" has the words of the note; a row of the price "file" or the rates file its name and line; "past_jobs"
    the references of the jobs that the median and its quartiles were taken over.
    """

    kind: Literal["quote", "price_file", "rates_file", "past_jobs"]
    text: str
    quote: Optional[Quote] = None
    file: Optional[str] = None
    line: Optional[int] = None
    jobs: list[str] = Field(default_factory=list)


class Number(Strict):
    """A number with its origin; `low` and `high` are the quartiles of past jobs, else the number itself."""

    value: Figure
    low: Figure
    high: Figure
    origin: Origin


class EstimateLine(Strict):
    """A line of the estimate. `amount` is count times price, or count times hours times rate, rounded as the rates file
    says; it is None while anything of it is `to_ask`. `why` tells why the line is there.

    `basis`: a part was "asked" for; work was said to be "done" or "planned"; by a "rule" from the condition; a
    "follow_up" of the ledger; "said" in so many words; "proposed" hardware; "ask": nobody knows yet what is to be done.
    """

    id: str
    kind: LineKind
    text: str
    component: Optional[Thing]
    position: Position
    work: str
    basis: Basis
    why: str
    count: int
    unit_price: Optional[Number] = None
    hours: Optional[Number] = None
    rate: Optional[Number] = None
    currency: Optional[str] = None
    amount: Optional[Figure] = None
    amount_low: Optional[Figure] = None
    amount_high: Optional[Figure] = None
    to_ask: list[str] = Field(default_factory=list)
    quotes: list[Quote]


class TaxTotal(Strict):
    """A tax of one currency: `percent` of the amounts `on` which it falls."""

    name: str
    percent: Figure
    on: Figure
    tax: Figure
    tax_low: Figure
    tax_high: Figure


class KindTotal(Strict):
    """The lines of one kind in one currency, before tax."""

    kind: LineKind
    amount: Figure
    amount_low: Figure
    amount_high: Figure


class CurrencyTotal(Strict):
    """The sums of one currency. `net` is the exact sum of the lines; the low and high sums take every line at its
    lower and upper quartile at once, so that they span more than the quartiles of the whole would."""

    currency: str
    lines: int
    kinds: list[KindTotal]
    net: Figure
    net_low: Figure
    net_high: Figure
    taxes: list[TaxTotal]
    gross: Figure
    gross_low: Figure
    gross_high: Figure


class SaidPrice(Strict):
    """A price that a note says and that stands on no line, with why."""

    amount: Figure
    currency: str
    component: Optional[Thing]
    why: str
    quotes: list[Quote]


class Estimate(Strict):
    """A job's estimate. `to_be_asked` counts the lines that have no amount yet; the totals are without them.

    `hours_said` are the times of the notes that stand on no line; `said_prices` the prices that stand on none.
    """

    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    schema_: Literal["notelog.estimate/1"] = Field(default=SCHEMA, alias="schema")
    lines: list[EstimateLine]
    to_be_asked: int
    totals: list[CurrencyTotal]
    proposals: list[UsedOnce]
    hours_said: list[HoursLine]
    said_prices: list[SaidPrice]
    prices_file: Optional[str]
    rates_file: Optional[str]
    warnings: list[str]
