"""The shop's rates file: what an hour costs, how money is rounded, and which taxes fall on what.

```toml
currency = "GBP"             # which prices to take where there are several
hours = "operations"         # or "said": the times that the notes say, in place of hours for each operation
tax_rounded = "total"        # or "line"
used_once = "list"           # or "count": the proposed hardware stands on lines of its own
past_jobs_at_least = 3       # fewer past jobs make no median

[[labour]]
name = "mechanical"
rate = 58.00
currency = "GBP"
systems = ["steering", "suspension"]     # left out: whatever no other table names

[[rounding]]
currency = "GBP"
step = 0.01
how = "half_up"              # or half_even, up, down

[[tax]]
name = "VAT"
percent = 20
currency = "GBP"
on = ["part", "labour", "material", "outside"]    # left out: all of these
```
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from notelog.errors import InputError
from notelog.estimate.money import HOW, MOST, Rounding, currencies, usual_rounding
from notelog.estimate.prices import KINDS
from notelog.lexicon.check import SYSTEMS
from notelog.lexicon.load import Lexicon, load

_CHOICES = {"hours": ("operations", "said"), "tax_rounded": ("total", "line"), "used_once": ("list", "count")}
_TOP = ("currency", *_CHOICES, "past_jobs_at_least")
_TABLES = {
    "labour": ("name", "rate", "currency", "systems"),
    "rounding": ("currency", "step", "how"),
    "tax": ("name", "percent", "currency", "on"),
}
_MOST_RATE = Decimal(100_000)


@dataclass(frozen=True, slots=True)
class LabourRate:
    """What an hour costs on these systems; on all that no other rate names when there are none."""

    name: str
    rate: Decimal
    currency: str
    systems: frozenset[str] = frozenset()
    line: int = 0


@dataclass(frozen=True, slots=True)
class Tax:
    """`percent` of the lines of these kinds in this currency."""

    name: str
    percent: Decimal
    currency: str
    on: frozenset[str] = frozenset(KINDS)


@dataclass(frozen=True, slots=True)
class Rates:
    """What the rates file says; as it stands here when there is none: no rate, no tax, the smallest coin."""

    name: str = ""
    currency: str = ""
    hours: str = "operations"
    tax_rounded: str = "total"
    used_once: str = "list"
    past_jobs_at_least: int = 3
    labour: tuple[LabourRate, ...] = ()
    roundings: dict[str, Rounding] = field(default_factory=dict)
    taxes: tuple[Tax, ...] = ()

    def rate(self, system: str) -> LabourRate | None:
        """The rate for work on a system ("" for none known): its own, else the one that names no system."""
        own = [one for one in self.labour if system in one.systems]
        rest = [one for one in self.labour if not one.systems]
        return next(iter(own + rest), None)

    def rounding(self, currency: str, lexicon: Lexicon) -> Rounding:
        return self.roundings.get(currency) or usual_rounding(currency, lexicon)


def read_rates(path: str | Path, lexicon: Lexicon | None = None) -> Rates:
    """The rates file.

    Raises InputError (file, line, reason) when it cannot be read, is no TOML, or holds what cannot be: an unknown
    table, key or currency, a negative or absurd number, two tables for the same thing.
    """
    path = Path(path)
    lexicon = lexicon or load()
    try:
        text = path.read_text(encoding="utf-8-sig")
        given = tomllib.loads(text, parse_float=Decimal)
    except FileNotFoundError:
        raise InputError(f"{path} does not exist: give the shop's rates file.") from None
    except (OSError, UnicodeDecodeError) as problem:
        raise InputError(f"{path} cannot be read as UTF-8 text ({problem}): save it again.") from None
    except (tomllib.TOMLDecodeError, InvalidOperation, RecursionError) as problem:
        raise InputError(f"{path} is no TOML ({problem}): mend it there.") from None
    return _Reader(path, text, lexicon).rates(given)


class _Reader:
    def __init__(self, path: Path, text: str, lexicon: Lexicon):
        self.path, self.lines, self.lexicon = path, text.splitlines(), lexicon
        self.currencies = currencies(lexicon)

    def line(self, table: str, number: int, key: str = "") -> int:
        """The line of a key in the block `number` (from 0) of a table, or of the block's head; "" is the top."""
        heads = [0]
        if table:
            pattern = re.compile(rf"\s*\[?\[?\s*[\"']?{re.escape(table)}\b")
            heads = [at for at, line in enumerate(self.lines, 1) if pattern.match(line)] or [1]
        head = heads[min(number, len(heads) - 1)]
        for at in range(head + 1, len(self.lines) + 1):
            line = self.lines[at - 1]
            if re.match(r"\s*\[\[?\s*\w", line):
                break
            if key and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=", line):
                return at
        return max(head, 1)

    def error(self, table: str, number: int, key: str, reason: str) -> InputError:
        return InputError(f"{self.path}, line {self.line(table, number, key)}: {reason}.")

    def rates(self, given: dict[str, Any]) -> Rates:
        for key, value in given.items():
            if key not in _TOP and key not in _TABLES:
                known = ", ".join([*_TOP, *(f"[[{one}]]" for one in _TABLES)])
                where = key if isinstance(value, (dict, list)) else ""
                raise self.error(where, 0, key, f"{key!r} is nothing of a rates file; use {known}")
        for key, allowed in _CHOICES.items():
            if given.get(key, allowed[0]) not in allowed:
                raise self.error("", 0, key, f"{key} is {given[key]!r}; use {' or '.join(allowed)}")
        least = given.get("past_jobs_at_least", 3)
        if isinstance(least, bool) or not isinstance(least, int) or not 1 <= least <= 1000:
            raise self.error("", 0, "past_jobs_at_least", f"past_jobs_at_least is {least!r}; write a number from 1 up")
        currency = self.currency("", 0, given["currency"]) if "currency" in given else ""
        blocks = {table: self.blocks(table, given.get(table, [])) for table in _TABLES}
        return Rates(
            name=self.path.name,
            currency=currency,
            **{key: given.get(key, allowed[0]) for key, allowed in _CHOICES.items()},
            past_jobs_at_least=least,
            labour=self.labour(blocks["labour"]),
            roundings=self.roundings(blocks["rounding"]),
            taxes=self.taxes(blocks["tax"]),
        )

    def blocks(self, table: str, blocks: Any) -> list[dict[str, Any]]:
        if not isinstance(blocks, list) or not all(isinstance(block, dict) for block in blocks):
            raise self.error(table, 0, "", f"write [[{table}]] with two brackets, and keys and values below it")
        for number, block in enumerate(blocks):
            for key in block:
                if key not in _TABLES[table]:
                    raise self.error(
                        table, number, key, f"{key!r} is no key of [[{table}]]; use {', '.join(_TABLES[table])}"
                    )
        return blocks

    def labour(self, blocks: list[dict[str, Any]]) -> tuple[LabourRate, ...]:
        rates: list[LabourRate] = []
        owner: dict[str, str] = {}
        for number, block in enumerate(blocks):
            name = self.name("labour", number, block)
            systems = self.names("labour", number, block, "systems", SYSTEMS)
            for system in systems or ("",):
                if system in owner:
                    what = f"the system {system}" if system else "all that no other table names"
                    raise self.error(
                        "labour", number, "systems", f"{name} and {owner[system]} are both for {what}; keep one"
                    )
                owner[system] = name
            rate = self.number("labour", number, block, "rate", _MOST_RATE, more_than_nought=True)
            currency = self.currency("labour", number, block.get("currency"))
            rates.append(LabourRate(name, rate, currency, frozenset(systems), self.line("labour", number, "rate")))
        return tuple(rates)

    def roundings(self, blocks: list[dict[str, Any]]) -> dict[str, Rounding]:
        found: dict[str, Rounding] = {}
        for number, block in enumerate(blocks):
            currency = self.currency("rounding", number, block.get("currency"))
            if currency in found:
                raise self.error("rounding", number, "currency", f"{currency} has two [[rounding]] tables; keep one")
            step = self.number("rounding", number, block, "step", Decimal(1000), more_than_nought=True)
            how = block.get("how", "half_up")
            if how not in HOW:
                raise self.error("rounding", number, "how", f"how is {how!r}; use one of {', '.join(HOW)}")
            found[currency] = Rounding(step, how)
        return found

    def taxes(self, blocks: list[dict[str, Any]]) -> tuple[Tax, ...]:
        taxes: list[Tax] = []
        for number, block in enumerate(blocks):
            name = self.name("tax", number, block)
            currency = self.currency("tax", number, block.get("currency"))
            if any((one.name, one.currency) == (name, currency) for one in taxes):
                raise self.error("tax", number, "name", f"{name} in {currency} stands in two [[tax]] tables; keep one")
            percent = self.number("tax", number, block, "percent", Decimal(100))
            on = self.names("tax", number, block, "on", KINDS) or KINDS
            taxes.append(Tax(name, percent, currency, frozenset(on)))
        return tuple(taxes)

    def name(self, table: str, number: int, block: dict[str, Any]) -> str:
        name = block.get("name")
        if not isinstance(name, str) or not name.strip() or not name.isprintable():
            raise self.error(table, number, "name", f"the name is {name!r}; give the {table} a name in quotes")
        return name.strip()

    def names(self, table: str, number: int, block: dict[str, Any], key: str, allowed: tuple[str, ...]) -> list[str]:
        names = block.get(key, [])
        if not isinstance(names, list):
            raise self.error(table, number, key, f"{key} is {names!r}; write a list in square brackets")
        for name in names:
            if name not in allowed:
                raise self.error(table, number, key, f"{name!r} cannot be in {key}; use some of {', '.join(allowed)}")
        return list(dict.fromkeys(names))

    def currency(self, table: str, number: int, code: Any) -> str:
        if not isinstance(code, str) or code.upper() not in self.currencies:
            raise self.error(
                table, number, "currency", f"the currency is {code!r}; write a code of ISO 4217 such as GBP"
            )
        return code.upper()

    def number(
        self, table: str, number: int, block: dict[str, Any], key: str, most: Decimal, *, more_than_nought: bool = False
    ) -> Decimal:
        value = block.get(key)
        if isinstance(value, bool) or not isinstance(value, (int, Decimal)) or not Decimal(value).is_finite():
            raise self.error(table, number, key, f"{key} is {value!r}; write a number")
        value = Decimal(value)
        if value < 0 or (more_than_nought and not value):
            raise self.error(table, number, key, f"{key} is {value}; write a number above nought")
        if value > min(most, MOST):
            raise self.error(table, number, key, f"{key} is {value}, which is more than {most} and cannot be meant")
        if -value.as_tuple().exponent > 6:
            raise self.error(table, number, key, f"{key} is {value}, with more than six digits after the point; round it")
        return value
