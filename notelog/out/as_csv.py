"""Comma-separated values by RFC 4180: UTF-8, lines ended by CR LF. A job as one line for each entry, or any table."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from notelog.archive.store import Job, StoredNote
from notelog.out.words import describe

if TYPE_CHECKING:
    from notelog.out.tables import SheetTable

COLUMNS = (
    "job", "make", "model", "year", "vin", "registration", "mileage",
    "note", "source", "author", "dictated", "added",
    "entry", "kind", "summary", "component", "component_id", "component_said", "side", "axle", "level", "depth",
    "condition", "action", "status", "state", "count", "type", "drive", "size", "size_unit", "tool", "material",
    "quantity", "low", "high", "unit", "hours", "amount", "currency",
    "decision", "decided_by", "decided_at", "changed_fields", "by_hand",
    "confidence", "quote", "quote_start", "quote_end", "time_start", "time_end",
)  # fmt: skip

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe_cell(value: Any) -> Any:
    """A cell that no spreadsheet takes for a formula: text that begins like one gets an apostrophe before it.

    Numbers are left alone, so that -1.5 stays a number. Source: OWASP, "CSV Injection".

    >>> safe_cell('=HYPERLINK("x")'), safe_cell(" @sum"), safe_cell(-1.5), safe_cell("bent")
    ('\\'=HYPERLINK("x")', "' @sum", -1.5, 'bent')
    """
    if isinstance(value, str) and (value.startswith(_STARTS_FORMULA) or value.lstrip().startswith(_STARTS_FORMULA)):
        return "'" + value
    return value


def job_csv(job: Job) -> str:
    """The whole table of a job, with its header line."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for note in job.notes:
        for entry in note.entries:
            writer.writerow({name: safe_cell(value) for name, value in entry_row(job, note, entry).items()})
    return text.getvalue()


def table_csv(table: SheetTable) -> str:
    """A table of an export, with its header line; an empty cell is one that is not known."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.name for column in table.columns])
    for row in table.rows:
        writer.writerow(["" if cell is None else _plain(cell) for cell in row])
    return text.getvalue()


def _plain(cell: Any) -> Any:
    return format(cell, "f") if isinstance(cell, Decimal) else safe_cell(cell)


def entry_row(job: Job, note: StoredNote, entry: dict[str, Any]) -> dict[str, Any]:
    """An entry with what is known of its job and note, by column."""
    component, size, evidence = entry.get("component") or {}, entry.get("size") or {}, entry["evidence"]
    decided = entry.get("decided") or {}
    row = {
        "job": job.reference,
        **job.vehicle.known(),
        "note": note.id,
        "source": note.source,
        "author": note.author,
        "dictated": note.dictated,
        "added": note.added,
        "entry": entry.get("id"),
        "summary": describe(entry),
        "component": component.get("label"),
        "component_id": component.get("id"),
        "component_said": component.get("said"),
        "size": size.get("value"),
        "size_unit": size.get("unit"),
        "tool": (entry.get("tool") or {}).get("label"),
        "material": (entry.get("material") or {}).get("label"),
        "decision": decided.get("what"),
        "decided_by": decided.get("by"),
        "decided_at": decided.get("at"),
        "changed_fields": " ".join(decided.get("fields", ())),
        "by_hand": "yes" if decided.get("by_hand") else None,
        "quote": evidence["text"],
        "quote_start": evidence["start"],
        "quote_end": evidence["end"],
        "time_start": evidence.get("t_start"),
        "time_end": evidence.get("t_end"),
    }
    row |= entry.get("position") or {}
    return row | {name: entry[name] for name in COLUMNS if name in entry and name not in row}
