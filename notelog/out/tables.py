"""The tables of an export: lines, totals, damage, parts, readings, evidence. CSV, XLSX and HTML are made from these very
cells, so that one fact has one number in all of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

from notelog.out.as_csv import COLUMNS, entry_row
from notelog.out.words import number

if TYPE_CHECKING:
    from notelog.archive import Job
    from notelog.estimate import Estimate
    from notelog.job import Ledger
    from notelog.job.sections import Quote
    from notelog.models import Position

Kind = Literal["text", "whole", "figure", "money", "moment"]
Cell = str | int | float | Decimal | datetime | None

NAMES = ("lines", "totals", "damage", "parts", "readings", "evidence")
"""The tables, in the order in which they are shown."""

_WHOLE = {"note", "entry", "year", "mileage", "count", "quote_start", "quote_end"}
_FIGURE = {"size", "low", "high", "hours", "amount", "confidence", "time_start", "time_end"}


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its `name` in CSV, its `heading` for people, and what kind of cell it holds."""

    name: str
    kind: Kind = "text"

    @property
    def heading(self) -> str:
        return self.name.replace("_", " ").capitalize()


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A table of typed cells. A cell is None, or what its column's kind says: a str, int, float, Decimal or datetime."""

    name: str
    columns: tuple[Column, ...]
    rows: list[tuple[Cell, ...]]


def export_tables(job: Job, ledger: Ledger, estimate: Estimate) -> dict[str, SheetTable]:
    """All tables of a job by name."""
    made = (
        _lines(estimate), _totals(estimate), _damage(ledger), _parts(ledger), _readings(ledger), _evidence(job)
    )  # fmt: skip
    return {table.name: table for table in made}


def place(position: Position) -> str:
    """A place in words.

    >>> from notelog.models import Position
    >>> place(Position(side="left", axle="front"))
    'front left'
    """
    return " ".join(word for word in (position.axle, position.side, position.level, position.depth) if word)


def quoted(quotes: Iterable[Quote]) -> str:
    """Quotes in one cell, each with its note; what was added on somebody's word quotes nothing."""
    told = [f"“{' '.join(quote.text.split())}” (note {quote.note})" if quote.text else f"by hand (note {quote.note})"
            for quote in quotes]  # fmt: skip
    return "; ".join(dict.fromkeys(told))


def _lines(estimate: Estimate) -> SheetTable:
    columns = (
        Column("line", "whole"), Column("kind"), Column("text"), Column("component"), Column("place"), Column("work"),
        Column("basis"), Column("count", "whole"), Column("unit_price", "money"), Column("hours", "figure"),
        Column("rate", "money"), Column("currency"), Column("amount", "money"), Column("amount_low", "money"),
        Column("amount_high", "money"), Column("price_from"), Column("hours_from"), Column("rate_from"),
        Column("to_be_asked"), Column("why"), Column("quotes"), Column("id"),
    )  # fmt: skip
    rows = []
    for at, line in enumerate(estimate.lines, start=1):
        price, hours, rate = line.unit_price, line.hours, line.rate
        rows.append((
            at, line.kind, line.text, line.component.label if line.component else None, place(line.position) or None,
            line.work or None, line.basis, line.count,
            price.value if price else None, hours.value if hours else None, rate.value if rate else None,
            line.currency, line.amount, line.amount_low, line.amount_high,
            *(one.origin.text if one else None for one in (price, hours, rate)),
            "; ".join(line.to_ask) or None, line.why, quoted(line.quotes) or None, line.id,
        ))  # fmt: skip
    return SheetTable("lines", columns, rows)


def _totals(estimate: Estimate) -> SheetTable:
    columns = (
        Column("currency"), Column("what"), Column("percent", "figure"), Column("amount", "money"),
        Column("amount_low", "money"), Column("amount_high", "money"),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for total in estimate.totals:
        name = total.currency
        rows += [(name, one.kind, None, one.amount, one.amount_low, one.amount_high) for one in total.kinds]
        rows.append((name, "net", None, total.net, total.net_low, total.net_high))
        rows += [(name, one.name, one.percent, one.tax, one.tax_low, one.tax_high) for one in total.taxes]
        rows.append((name, "total", None, total.gross, total.gross_low, total.gross_high))
    return SheetTable("totals", columns, rows)


def _damage(ledger: Ledger) -> SheetTable:
    columns = (
        Column("component"), Column("place"), Column("now"), Column("condition"), Column("status"), Column("mended_by"),
        Column("contradictions"), Column("quotes"), Column("id"),
    )  # fmt: skip
    rows = []
    for line in ledger.damage:
        against = "; ".join(
            f"{one.before} {quoted([one.before_quote])} against {one.after} {quoted([one.after_quote])}"
            for one in line.contradictions
        )
        rows += [
            (
                line.component.label, place(line.position) or None, line.now, one.condition, one.status,
                quoted(one.mended) or None, against or None, quoted(one.quotes) or None, line.id,
            )
            for one in line.conditions
        ]  # fmt: skip
    return SheetTable("damage", columns, rows)


def _parts(ledger: Ledger) -> SheetTable:
    columns = (
        Column("component"), Column("place"), Column("count", "whole"), Column("fitted", "whole"), Column("state"),
        Column("basis"), Column("behind_it"), Column("quotes"), Column("id"),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = [
        (
            line.component.label or "not named", place(line.position) or None, line.count, line.fitted,
            line.state.replace("_", " "), line.basis,
            "; ".join(line.findings) or "no damage said", quoted(line.quotes) or None, line.id,
        )
        for line in ledger.parts_to_buy
    ]  # fmt: skip
    rows += [
        (
            line.component.label, place(line.position) or None, None, None, "nothing ordered", "damage",
            ", ".join(line.conditions), quoted(line.quotes) or None, line.id,
        )
        for line in ledger.nothing_ordered
    ]  # fmt: skip
    rows += [
        (
            line.hardware.label, place(line.position) or None, line.count, None, "proposal", "used once",
            f"{line.component.label}: {line.why} ({line.source})", quoted(line.quotes) or None, line.id,
        )
        for line in ledger.used_once
    ]  # fmt: skip
    return SheetTable("parts", columns, rows)


def _readings(ledger: Ledger) -> SheetTable:
    columns = (
        Column("kind"), Column("component"), Column("place"), Column("quantity"), Column("low", "figure"),
        Column("high", "figure"), Column("unit"), Column("says"), Column("quotes"), Column("id"),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = [
        (
            "reading", line.component.label if line.component else None, place(line.position) or None, line.quantity,
            line.low, line.high, line.unit,
            "; ".join(
                ([line.sign] if line.sign else [])
                + [f"{one.limit}: {one.within.replace('_', ' ')}" for one in line.limits]
            ) or None,
            quoted(line.quotes) or None, line.id,
        )
        for line in ledger.readings
    ]  # fmt: skip
    rows += [
        (
            line.kind.replace("_", " "), line.component.label if line.component else None, place(line.position) or None,
            line.quantity, line.at_least, line.at_most, line.unit, line.text, quoted(line.quotes) or None, line.id,
        )
        for line in ledger.comparisons
    ]  # fmt: skip
    return SheetTable("readings", columns, rows)


def _evidence(job: Job) -> SheetTable:
    columns = tuple(
        Column(name, "whole" if name in _WHOLE else "figure" if name in _FIGURE else "text") for name in COLUMNS
    )
    rows = [
        tuple(row.get(name) for name in COLUMNS)
        for note in job.notes
        for entry in note.entries
        for row in [entry_row(job, note, entry)]
    ]
    return SheetTable("evidence", columns, rows)


def shown(cell: Any) -> str:
    """A cell as people read it: money as it stands, other numbers without needless zeros.

    >>> shown(Decimal("85.00")), shown(1.5), shown(None), shown(3)
    ('85.00', '1.5', '', '3')
    """
    if cell is None:
        return ""
    if isinstance(cell, Decimal):
        return format(cell, "f")
    if isinstance(cell, float):
        return number(cell)
    return str(cell)


__all__: Sequence[str] = ["NAMES", "Cell", "Column", "SheetTable", "export_tables", "place", "quoted", "shown"]
