"""A job as one HTML page that prints well on A4 and Letter; nothing is fetched, and every text is escaped."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from notelog.out import words
from notelog.out.ledger_sheet import fastener_words, few_quotes, standard_words
from notelog.out.tables import place, quoted, shown
from notelog.out.terminal import plain

if TYPE_CHECKING:
    from notelog.archive import Job
    from notelog.estimate import Estimate
    from notelog.job import Ledger
    from notelog.out.tables import SheetTable

TEMPLATE = Path(__file__).with_name("job.html.j2")


def page(job: Job, ledger: Ledger, estimate: Estimate, tables: dict[str, SheetTable], *, shop: str = "") -> str:
    """The page: estimate, totals, what is to be asked, damage, parts, fasteners, readings, loose ends, cautions and evidence."""
    import jinja2

    made = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.filters.update(
        shown=shown, clean=plain, quoted=quoted, few=few_quotes, clock=words.clock, place_of=place,
        fastener=fastener_words, standard=standard_words,
    )  # fmt: skip
    return made.from_string(TEMPLATE.read_text(encoding="utf-8")).render(
        job=job,
        title=f"{shop}: job {job.reference}" if shop else f"Job {job.reference}",
        vehicle=words.vehicle(job.vehicle.known()),
        ledger=ledger,
        estimate=estimate,
        tables={name: _records(table) for name, table in tables.items()},
        describe=words.describe,
        place=words.place,
        decision=words.decision,
    )


def _records(table: SheetTable) -> list[dict[str, Any]]:
    names = [column.name for column in table.columns]
    return [dict(zip(names, row, strict=True)) for row in table.rows]
