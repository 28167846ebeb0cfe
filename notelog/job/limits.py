"""Limits for readings, from a file that the shop supplies (`limits.toml`). None are built in.

```toml
[[limit]]
quantity = "thickness"
component = "brake disc"     # any name of the lexicon; left out: of whatever was measured
axle = "front"               # left out: both
low = 22.0                   # low, high or both
unit = "mm"
why = "stamped on the disc"

[[side_difference]]          # how much left and right may differ
quantity = "camber"
most = 0.5
unit = "deg"

[[gauge]]                    # how far a reading may be off, either way
quantity = "camber"
plus_minus = 0.1
unit = "deg"
```
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args

from notelog.errors import InputError
from notelog.job.quantities import FAMILY, convert
from notelog.lexicon.load import Lexicon, load
from notelog.models import Quantities, Unit

_TABLES = {
    "limit": {"quantity", "component", "axle", "low", "high", "unit", "why"},
    "side_difference": {"quantity", "component", "axle", "most", "unit", "why"},
    "gauge": {"quantity", "plus_minus", "unit", "why"},
}


@dataclass(frozen=True, slots=True)
class Limit:
    """What a reading must be: from `low` to `high` (None: no bound) in `unit`. `component` is a lexicon id or ""."""

    quantity: str
    unit: str
    low: float | None = None
    high: float | None = None
    component: str = ""
    axle: str = ""
    why: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Limits:
    """The shop's limits; empty when it has none. `differences` bound left against right by their `high`; `gauges` maps a
    quantity to how far a reading may be off, with its unit."""

    limits: tuple[Limit, ...] = ()
    differences: tuple[Limit, ...] = ()
    gauges: dict[str, tuple[float, str]] = field(default_factory=dict)

    def off_by(self, quantity: str, unit: str) -> float:
        """How far a reading of this quantity may be off, in `unit`; 0 when the shop does not say."""
        amount, its_unit = self.gauges.get(quantity, (0.0, unit))
        return convert(amount, its_unit, unit, difference=True)


def read_limits(path: str | Path, lexicon: Lexicon | None = None) -> Limits:
    """The limits of a TOML file.

    Raises InputError (file, line, reason) when the file cannot be read, is no TOML, or holds what cannot be a limit:
    an unknown table, key, quantity, unit or component, a number that is none, limits upside down.
    """
    path = Path(path)
    lexicon = lexicon or load()
    try:
        text = path.read_text(encoding="utf-8-sig")
        given = tomllib.loads(text)
    except FileNotFoundError:
        raise InputError(f"{path} does not exist: give the file with the shop's limits.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path} cannot be read as UTF-8 text ({error}): save it again.") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path} is no TOML ({error}): mend it there.") from None
    reader = _Reader(path, text, lexicon)
    for table, rows in given.items():
        if table not in _TABLES:
            raise InputError(f"{path}, line {reader.line_of_name(table)}: {table!r} is no table of a limits file; "
                             f"use {', '.join(f'[[{name}]]' for name in _TABLES)}.")  # fmt: skip
        if not isinstance(rows, list):
            raise InputError(f"{path}, line {reader.line_of_name(table)}: write [[{table}]] with two brackets.")
    limits = tuple(reader.limit(number, row) for number, row in enumerate(given.get("limit", [])))
    differences = tuple(reader.difference(number, row) for number, row in enumerate(given.get("side_difference", [])))
    gauges: dict[str, tuple[float, str]] = {}
    for number, row in enumerate(given.get("gauge", [])):
        quantity, value, unit = reader.gauge(number, row)
        if quantity in gauges:
            raise reader.error("gauge", number, "quantity", f"{quantity} stands in two [[gauge]] tables; keep one")
        gauges[quantity] = (value, unit)
    return Limits(limits, differences, gauges)


class _Reader:
    def __init__(self, path: Path, text: str, lexicon: Lexicon):
        self.path, self.lines, self.lexicon = path, text.splitlines(), lexicon

    def line_of_name(self, table: str) -> int:
        pattern = re.compile(rf"\s*(\[\[?\s*)?[\"']?{re.escape(table)}\b")
        return next((number for number, line in enumerate(self.lines, 1) if pattern.match(line)), 1)

    def line(self, table: str, number: int, key: str) -> int:
        """The line of a key in block `number` (from 0) of the table, or of the block's head."""
        head = re.compile(rf"\s*\[\[\s*{table}\s*\]\]")
        heads = [at for at, line in enumerate(self.lines, 1) if head.match(line)]
        if number >= len(heads):
            return self.line_of_name(table)
        for at in range(heads[number] + 1, len(self.lines) + 1):
            line = self.lines[at - 1]
            if re.match(r"\s*\[", line):
                break
            if re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=", line):
                return at
        return heads[number]

    def error(self, table: str, number: int, key: str, reason: str) -> InputError:
        return InputError(f"{self.path}, line {self.line(table, number, key)}: {reason}.")

    def common(self, table: str, number: int, row: Any) -> dict[str, Any]:
        if not isinstance(row, dict):
            raise self.error(table, number, "", f"write the {table} as a table of keys and values")
        for key in row:
            if key not in _TABLES[table]:
                known = ", ".join(sorted(_TABLES[table]))
                raise self.error(table, number, key, f"{key!r} is no key of [[{table}]]; use {known}")
        for key, allowed in (("quantity", get_args(Quantities)), ("unit", get_args(Unit))):
            if row.get(key) not in allowed:
                raise self.error(table, number, key, f"{key} is {row.get(key)!r}; use one of {', '.join(allowed)}")
        if row["unit"] not in FAMILY[row["quantity"]]:
            units = ", ".join(FAMILY[row["quantity"]])
            raise self.error(table, number, "unit", f"{row['quantity']} is not measured in {row['unit']}; use {units}")
        if row.get("axle", "front") not in ("front", "rear"):
            raise self.error(table, number, "axle", f"axle is {row['axle']!r}; use front or rear, or leave it out")
        component = row.get("component", "")
        term = self.lexicon.find(component) if isinstance(component, str) and component else None
        if component and term is None:
            raise self.error(
                table, number, "component", f"{component!r} is no component of the lexicon; use a name that is"
            )
        return {
            "quantity": row["quantity"],
            "unit": row["unit"],
            "component": term.id if term else "",
            "axle": row.get("axle", ""),
            "why": str(row.get("why", "")),
            "source": f"{self.path.name}:{self.line(table, number, 'quantity')}",
        }

    def figure(self, table: str, number: int, row: dict[str, Any], key: str) -> float | None:
        value = row.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise self.error(table, number, key, f"{key} is {value!r}; write a number")
        return float(value)

    def limit(self, number: int, row: Any) -> Limit:
        common = self.common("limit", number, row)
        low, high = (self.figure("limit", number, row, key) for key in ("low", "high"))
        if low is None and high is None:
            raise self.error("limit", number, "quantity", "the limit has neither low nor high; give one or both")
        if low is not None and high is not None and low > high:
            raise self.error("limit", number, "low", f"low is {low:g} and high is {high:g}, upside down; exchange them")
        return Limit(low=low, high=high, **common)

    def difference(self, number: int, row: Any) -> Limit:
        common = self.common("side_difference", number, row)
        return Limit(high=self.amount("side_difference", number, row, "most"), **common)

    def gauge(self, number: int, row: Any) -> tuple[str, float, str]:
        common = self.common("gauge", number, row)
        return common["quantity"], self.amount("gauge", number, row, "plus_minus"), common["unit"]

    def amount(self, table: str, number: int, row: dict[str, Any], key: str) -> float:
        value = self.figure(table, number, row, key)
        if value is None or value < 0:
            raise self.error(table, number, key, f"{key} is {row.get(key)!r}; write a number from nought up")
        return value
