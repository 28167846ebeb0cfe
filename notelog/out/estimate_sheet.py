"""The estimate for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from notelog.out.tables import quoted, shown
from notelog.out.terminal import counted, heading, plain, table

if TYPE_CHECKING:
    from notelog.estimate import Estimate
    from notelog.estimate.sections import EstimateLine

_KINDS = {"part": "Parts", "labour": "Labour", "material": "Materials", "outside": "Outside work"}


def estimate_sheet(estimate: Estimate) -> list[Any]:
    """The lines by kind, the sums of each currency, and what is still to be asked."""
    lines: list[Any] = []
    for kind, title in _KINDS.items():
        ours = [line for line in estimate.lines if line.kind == kind]
        if ours:
            rows = [(line.text, line.count, _each(line), _amount(line), _origins(line)) for line in ours]
            headings = ("What", "Count", "Each", "Amount", "Where it came from")
            lines += [heading(title), table(headings, rows, right=("Count", "Each", "Amount")), ""]
    for total in estimate.totals:
        rows = [(kind.kind, shown(kind.amount_low), shown(kind.amount), shown(kind.amount_high)) for kind in total.kinds]
        rows.append(("net", shown(total.net_low), shown(total.net), shown(total.net_high)))
        rows += [
            (f"{tax.name} {shown(tax.percent)} % of {shown(tax.on)}", shown(tax.tax_low), shown(tax.tax), shown(tax.tax_high))
            for tax in total.taxes
        ]
        rows.append(("total", shown(total.gross_low), shown(total.gross), shown(total.gross_high)))
        made = table((f"Sums in {total.currency}", "Low", "Amount", "High"), rows, right=("Low", "Amount", "High"))
        lines += [made, ""]
    lines.append(
        f"{estimate.to_be_asked} of {counted(len(estimate.lines), 'line is', 'lines are')} to be asked; the sums are "
        "without them."
    )
    if estimate.proposals:
        hardware = ", ".join(f"{one.count} x {one.hardware.label} for {one.component.label}" for one in estimate.proposals)
        lines.append(f"Proposals, common practice: {plain(hardware)}.")
    for hours in estimate.hours_said:
        lines.append(f"Said, on no line: {shown(hours.hours)} h, {plain(quoted(hours.quotes))}")
    for price in estimate.said_prices:
        on = f" for {price.component.label}" if price.component else ""
        lines.append(plain(f"Said, on no line: {shown(price.amount)} {price.currency}{on}, {quoted(price.quotes)}: {price.why}"))
    return lines + [f"Warning: {plain(warning)}" for warning in estimate.warnings]


def _each(line: EstimateLine) -> str:
    if line.kind != "labour":
        return shown(line.unit_price.value) if line.unit_price else ""
    hours = f"{shown(line.hours.value)} h" if line.hours else ""
    return " × ".join(word for word in (hours, shown(line.rate.value) if line.rate else "") if word)


def _amount(line: EstimateLine) -> str:
    if line.amount is None:
        return "to be asked"
    span = "" if line.amount_low == line.amount_high else f" ({shown(line.amount_low)} to {shown(line.amount_high)})"
    return f"{shown(line.amount)} {line.currency}{span}"


def _origins(line: EstimateLine) -> str:
    told = [f"to be asked: {one}" for one in line.to_ask]
    told += [one.origin.text for one in (line.unit_price, line.hours, line.rate) if one]
    said = quoted(line.quotes)
    # Why a part stands there that was asked for is plain from its words.
    why = [] if line.basis in ("asked", "said") else [line.why]
    return "; ".join([*told, *why, *([said] if said else [])])
