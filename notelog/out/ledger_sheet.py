"""The ledger of a job for a terminal: a table for each section, every line with the words that it came from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from notelog.out.tables import place, quoted
from notelog.out.terminal import heading, plain, table
from notelog.out.words import number, size

if TYPE_CHECKING:
    from notelog.job import Ledger
    from notelog.job.sections import Quote

MOST_QUOTES = 3
"""Quotes that are shown of one line; JSON has all."""

WORDS = "Words it came from"


def ledger_sheet(ledger: Ledger) -> list[Any]:
    """All sections, to be printed one after the other; those that are empty are named at the end."""
    lines: list[Any] = []
    empty = []
    for title, attribute, columns in SECTIONS:
        rows = getattr(ledger, attribute)
        if not rows:
            empty.append(title.lower())
            continue
        lines += [heading(title), table([*(name for name, _ in columns), WORDS],
                  [[*(cell(row) for _, cell in columns), few_quotes(row.quotes)] for row in rows]), ""]  # fmt: skip
    if ledger.hours:
        lines += [f"Hours said in all: {number(ledger.hours_total)}", ""]
    if empty:
        lines += [f"Nothing of: {', '.join(empty)}.", ""]
    return lines + [f"Warning: {plain(warning)}" for warning in ledger.warnings]


def few_quotes(quotes: Sequence[Quote]) -> str:
    """The first quotes, and how many more there are."""
    more = len(quotes) - MOST_QUOTES
    return quoted(quotes[:MOST_QUOTES]) + (f"; and {more} more" if more > 0 else "")


def _component(line: Any) -> str:
    return (line.component.label or "not named") if line.component else ""


def _place(line: Any) -> str:
    return place(line.position)


def _conditions(line: Any) -> str:
    told = "; ".join(
        one.condition
        + ("" if one.status == "present" else f" ({one.status})")
        + (f", mended: {few_quotes(one.mended)}" if one.mended else "")
        for one in line.conditions
    )
    return "; ".join([told, *_against(line)])


def _against(line: Any) -> list[str]:
    return [
        f"contradiction: {one.before} {quoted([one.before_quote])}, then {one.after} {quoted([one.after_quote])}"
        for one in line.contradictions
    ]


def _behind(line: Any) -> str:
    return "; ".join(line.findings) or "no damage said"


def _interval(low: float, high: float, unit: str) -> str:
    return f"{number(low)} {unit}" if low == high else f"{number(low)} to {number(high)} {unit}"


def fastener_words(line: Any) -> str:
    """A fastener of the ledger: "2 x bolt 18 mm"."""
    count = f"{line.count} x " if line.count else ""
    told = " ".join(
        word
        for word in (line.type or "fastening", size(line.size.model_dump() if line.size else None), line.drive or "")
        if word
    )
    return count + told


def standard_words(line: Any) -> str:
    """What the tables say of its size, and that it is odd when it is in none."""
    odd = f"odd size, likely {', '.join(line.likely)}" if line.odd and line.likely else "odd size" if line.odd else ""
    return "; ".join(word for word in (line.standard, odd) if word)


def _says(line: Any) -> str:
    limits = [f"{one.limit}: {one.within.replace('_', ' ')}" for one in line.limits]
    return "; ".join([*([line.sign] if line.sign else []), *limits])


def _things(line: Any) -> str:
    return ", ".join(thing.label for thing in line.components)


Columns = tuple[tuple[str, Callable[[Any], Any]], ...]

SECTIONS: tuple[tuple[str, str, Columns], ...] = (
    ("Damage", "damage", (("Component", _component), ("Where", _place), ("Now", lambda line: line.now),
                          ("Condition", _conditions))),
    ("Seen and sound", "seen_and_sound", (("Component", _component), ("Where", _place),
                                          ("Sound", lambda line: "; ".join([", ".join(line.sound), *_against(line)])))),
    ("Parts to buy", "parts_to_buy", (("Part", _component), ("Where", _place), ("Count", lambda line: line.count),
                                      ("Fitted", lambda line: line.fitted),
                                      ("State", lambda line: line.state.replace("_", " ")), ("Behind it", _behind))),
    ("Damaged, nothing ordered", "nothing_ordered", (("Component", _component), ("Where", _place),
                                                     ("What", lambda line: line.text))),
    ("Used once: proposals", "used_once", (("Hardware", lambda line: line.hardware.label), ("For", _component),
                                           ("Where", _place), ("Count", lambda line: line.count),
                                           ("Why", lambda line: f"{line.why} ({line.source})"))),
    ("Loose ends", "loose_ends", (("Component", _component), ("Where", _place),
                                  ("What", lambda line: "; ".join([line.text, *line.also])))),
    ("Removed", "removed", (("Component", _component), ("Where", _place),
                            ("Now", lambda line: line.fate.replace("_", " ")),
                            ("Words for it", lambda line: few_quotes(line.back_quotes)))),
    ("Fasteners", "fasteners", (("Holds", _component), ("Where", _place), ("Fastener", fastener_words),
                                ("Tools", lambda line: ", ".join(line.tools)),
                                ("Torque", lambda line: line.torque_text), ("Tables say", standard_words))),
    ("Readings", "readings", (("Of", _component), ("Where", _place), ("Quantity", lambda line: line.quantity),
                              ("Reading", lambda line: _interval(line.low, line.high, line.unit)), ("Says", _says))),
    ("Readings compared", "comparisons", (("What", lambda line: line.kind.replace("_", " ")),
                                          ("Statement", lambda line: line.text))),
    ("Work", "work", (("Component", _component), ("Where", _place), ("Work", lambda line: line.action),
                      ("Status", lambda line: line.status.replace("_", " ")),
                      ("When", lambda line: f"{line.when:%Y-%m-%d %H:%M}" if line.when else ""))),
    ("Hours", "hours", (("Hours", lambda line: number(line.hours)),)),
    ("Follow-ups", "follow_ups", (("State", lambda line: line.state), ("What", lambda line: line.text),
                                  ("Why", lambda line: f"{line.why} ({line.source})"))),
    ("Cautions", "cautions", (("For", _things), ("Caution", lambda line: line.text),
                              ("Why", lambda line: f"{line.why} ({line.source})"))),
    ("Open questions", "questions", (("Id", lambda line: line.id), ("Question", lambda line: line.text),
                                     ("Answers", lambda line: ", ".join(line.options)))),
)  # fmt: skip
"""The sections in their order: heading, field of the ledger, and the columns before the quotes."""
