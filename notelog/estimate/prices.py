"""The shop's price file: prices of parts, materials and outside work, and standard hours of labour.

```csv
kind,item,axle,work,price,hours,currency,note
part,lower arm,front,,84.50,,GBP,
labour,lower arm,,replace,,1.2,,hours for one
material,thread lock,,,2.10,,GBP,what a job takes of it
outside,,,wheel_alignment,65.00,,GBP,
outside,bumper,,paint,180,,GBP,
```

`item` is any name of the lexicon, or the words under which something that is in no lexicon is logged; `axle` is front,
rear or empty for both; `work` is an id of `estimate_work.csv`. A row that names the axle goes before one that does not,
an outside row that names the item before one that does not. Of rows for the same thing the later one counts.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from pathlib import Path

from notelog.errors import InputError
from notelog.estimate.money import MOST, currencies
from notelog.estimate.rules import EstimateRules, estimate_rules
from notelog.lexicon.load import Lexicon, load
from notelog.lexicon.words import normal

COLUMNS = ("kind", "item", "axle", "work", "price", "hours", "currency", "note")
KINDS = ("part", "labour", "material", "outside")
MOST_HOURS = Decimal(500)
_MOST_BYTES = 50_000_000
_NUMBER = re.compile(r"-?\d+(\.\d+)?")


@dataclass(frozen=True, slots=True)
class PriceRow:
    """A row: `key` is the lexicon id of its item, "unknown:<words>" where it is in no lexicon, or "" for any."""

    kind: str
    key: str
    axle: str
    work: str
    value: Decimal
    currency: str
    line: int
    note: str

    @property
    def same(self) -> tuple[str, ...]:
        """What two rows for the same thing have in common."""
        return self.kind, self.key, self.axle, self.work, self.currency


@dataclass(frozen=True, slots=True)
class PriceFile:
    """The rows that count, and what was to be said of the others."""

    name: str = ""
    rows: dict[tuple[str, ...], PriceRow] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    def find(self, kind: str, key: str, work: str = "", axle: str | None = None) -> dict[str, PriceRow]:
        """The rows for a thing by currency ("" for hours): the narrowest in each.

        >>> PriceFile().find("part", "lower_arm")
        {}
        """
        found: dict[str, PriceRow] = {}
        keys = (key, "") if kind == "outside" else (key,)
        for one in keys:
            for at in dict.fromkeys((axle or "", "")):
                for currency in {row[4] for row in self.rows}:
                    row = self.rows.get((kind, one, at, work, currency))
                    if row:
                        found.setdefault(currency, row)
        return found


def read_prices(path: str | Path, lexicon: Lexicon | None = None) -> PriceFile:
    """The price file.

    Raises InputError (file, line, reason) when it cannot be read or has wrong columns, a negative or absurd number, or
    a currency that ISO 4217 does not have. A row that an later one takes the place of is warned of.
    """
    path = Path(path)
    lexicon = lexicon or load()
    reader = _Reader(path, lexicon, estimate_rules(lexicon))
    rows: dict[tuple[str, ...], PriceRow] = {}
    warnings = []
    for row in reader.rows():
        if older := rows.get(row.same):
            warnings.append(
                f"{path.name}, line {row.line}: it is for the same thing as line {older.line}; the later line counts."
            )
        rows[row.same] = row
    return PriceFile(path.name, rows, (*reader.warnings, *warnings))


class _Reader:
    def __init__(self, path: Path, lexicon: Lexicon, rules: EstimateRules):
        self.path, self.lexicon, self.rules = path, lexicon, rules
        self.currencies = currencies(lexicon)
        self.warnings: list[str] = []

    def error(self, line: int, reason: str) -> InputError:
        return InputError(f"{self.path}, line {line}: {reason}.")

    def text(self) -> str:
        try:
            if self.path.stat().st_size > _MOST_BYTES:
                raise InputError(f"{self.path} is larger than {_MOST_BYTES // 10**6} MB: that is no price file.")
            data = self.path.read_bytes()
        except FileNotFoundError:
            raise InputError(f"{self.path} does not exist: give the shop's price file.") from None
        except OSError as problem:
            raise InputError(f"{self.path} cannot be read ({problem.strerror}): give the shop's price file.") from None
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError as problem:
            raise self.error(data[: problem.start].count(b"\n") + 1, "it is no UTF-8 text; save it as UTF-8") from None

    def rows(self):
        reader = csv.reader(self.text().splitlines(keepends=True), strict=True)
        heads: list[str] | None = None
        line = 1
        try:
            for cells in reader:
                first, line = line, reader.line_num + 1
                if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
                    continue
                if heads is None:
                    heads = self.heads(first, cells)
                    continue
                if len(cells) != len(heads):
                    raise self.error(first, f"it has {len(cells)} cells and the header has {len(heads)}; put quotes "
                                            "round a cell that holds a comma")  # fmt: skip
                yield self.row(first, dict(zip(heads, (" ".join(cell.split()) for cell in cells), strict=True)))
        except csv.Error as problem:
            raise self.error(max(line, reader.line_num), f"{problem}; mend the quotes of that row") from None
        if heads is None:
            raise self.error(1, f"the file is empty; its first line is {','.join(COLUMNS)}")

    def heads(self, line: int, cells: list[str]) -> list[str]:
        heads = [cell.strip().lower() for cell in cells]
        lacking = [name for name in COLUMNS if name not in heads and name not in ("note", "axle")]
        strange = [name for name in heads if name not in COLUMNS]
        if lacking:
            raise self.error(line, f"the column {lacking[0]!r} is missing; the columns are {','.join(COLUMNS)}")
        if strange:
            raise self.error(line, f"{strange[0]!r} is no column of a price file; they are {','.join(COLUMNS)}")
        if len(set(heads)) < len(heads):
            raise self.error(line, "a column stands there twice; keep one")
        return heads

    def row(self, line: int, row: dict[str, str]) -> PriceRow:
        kind, axle, work = row["kind"].lower(), row.get("axle", "").lower(), row["work"].lower().replace(" ", "_")
        if kind not in KINDS:
            raise self.error(line, f"the kind is {row['kind']!r}; use one of {', '.join(KINDS)}")
        if axle not in ("", "front", "rear"):
            raise self.error(line, f"the axle is {row['axle']!r}; use front or rear, or leave it empty")
        works = [one.id for one in self.rules.works.values() if one.kind == kind]
        if kind in ("labour", "outside") and work not in works:
            raise self.error(line, f"the work is {row['work']!r}; for {kind} use one of {', '.join(works)}")
        if kind in ("part", "material") and work:
            raise self.error(line, f"a {kind} has no work; leave the cell empty")
        if not row["item"] and kind != "outside":
            raise self.error(line, f"the item is empty; name the {kind}")
        number, other = ("hours", "price") if kind == "labour" else ("price", "hours")
        if row[other]:
            raise self.error(line, f"a {kind} row has {number} and no {other}; leave the {other} empty")
        currency = row["currency"].upper()
        if kind == "labour":
            if currency:
                raise self.error(line, "a labour row has no currency, that is in the rates file; leave the cell empty")
        elif currency not in self.currencies:
            raise self.error(line, f"{row['currency']!r} is no currency of ISO 4217; write a code such as GBP")
        value = self.number(line, number, row[number])
        return PriceRow(kind, self.key(line, kind, row["item"]), axle, work, value, currency, line, row.get("note", ""))

    def number(self, line: int, name: str, given: str) -> Decimal:
        most = MOST_HOURS if name == "hours" else MOST
        if not _NUMBER.fullmatch(given, 0) or not given.isascii():
            hint = "leave out the commas" if "," in given else "write digits, with a point before the fraction"
            raise self.error(line, f"the {name} is {given!r}, which is no number; {hint}")
        try:
            value = Decimal(given)
        except InvalidOperation:
            raise self.error(line, f"the {name} is {given!r}, which is no number") from None
        if value < 0:
            raise self.error(line, f"the {name} is negative ({given}); write it without the minus")
        if value > most:
            raise self.error(line, f"the {name} is {given}, which is more than {most} and cannot be meant")
        if name == "hours" and not value:
            raise self.error(line, "the hours are nought; leave out the row")
        if -value.as_tuple().exponent > 4:
            raise self.error(line, f"the {name} is {given}, with more than four digits after the point; round it")
        return value

    def key(self, line: int, kind: str, item: str) -> str:
        if not item:
            return ""
        named = "material" if kind == "material" else "component"
        term = self.lexicon.terms[named].get(item) or self.lexicon.find(item, named)
        if term is None:
            self.warnings.append(
                f"{self.path.name}, line {line}: {item!r} is no {named} of the lexicon; it counts where a note says it so."
            )
            return f"unknown:{normal(item)}"
        return term.id
