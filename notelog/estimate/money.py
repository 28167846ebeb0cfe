"""Money in decimals: what a currency is, rounding as the shop says, and quartiles without binary fractions."""

from __future__ import annotations

import decimal
import functools
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from notelog.errors import InputError
from notelog.lexicon.load import Lexicon, read_rows

EXACT = decimal.Context(prec=60, traps=[decimal.InvalidOperation, decimal.DivisionByZero, decimal.Inexact])
"""Adding and multiplying in this context raises rather than loses a digit."""

MOST = Decimal(10_000_000)
"""No price, and no rate for an hour, is more than this: a file that says so has a slip in it."""

HOW = {
    "half_up": decimal.ROUND_HALF_UP,
    "half_even": decimal.ROUND_HALF_EVEN,
    "up": decimal.ROUND_UP,
    "down": decimal.ROUND_DOWN,
}
"""The ways to round, by their names in a rates file; "up" is away from nought."""


@dataclass(frozen=True, slots=True)
class Rounding:
    """To the nearest multiple of `step`, in one of the ways of `HOW`.

    >>> Rounding(Decimal("0.05")).round(Decimal("1.975"))
    Decimal('2.00')
    """

    step: Decimal = Decimal("0.01")
    how: str = "half_up"

    def round(self, amount: Decimal) -> Decimal:
        with decimal.localcontext(prec=60):
            steps = (amount / self.step).quantize(Decimal(1), rounding=HOW[self.how])
            return (steps * self.step).quantize(self.step)


@functools.lru_cache(maxsize=8)
def currencies(lexicon: Lexicon) -> dict[str, int]:
    """The currency codes of ISO 4217 with the digits after the point. Raises InputError for a file that is damaged.

    >>> from notelog.lexicon import load
    >>> currencies(load())["JPY"], currencies(load())["GBP"]
    (0, 2)
    """
    path = lexicon.folder / "currencies.csv"
    known = {}
    for line, row in read_rows(path, ["code", "digits", "source"]):
        if row["digits"] not in ("0", "1", "2", "3", "4"):
            raise InputError(f"{path}, line {line}: the digits are {row['digits']!r}; write a number from 0 to 4.")
        known[row["code"]] = int(row["digits"])
    return known


def usual_rounding(currency: str, lexicon: Lexicon) -> Rounding:
    """To the smallest coin that ISO 4217 gives the currency, halves up.

    >>> from notelog.lexicon import load
    >>> usual_rounding("KWD", load()).step
    Decimal('0.001')
    """
    return Rounding(Decimal(1).scaleb(-currencies(lexicon).get(currency, 2)))


def in_coins(amount: Decimal, currency: str, lexicon: Lexicon) -> Decimal:
    """The same amount written with all digits of its currency.

    >>> from notelog.lexicon import load
    >>> str(in_coins(Decimal("96.4"), "GBP", load())), str(in_coins(Decimal("0.125"), "GBP", load()))
    ('96.40', '0.125')
    """
    step = usual_rounding(currency, lexicon).step
    with decimal.localcontext(prec=60):
        return amount.quantize(step) if amount == amount.quantize(step) else amount


def times(*factors: Decimal | int) -> Decimal:
    """The exact product.

    >>> times(3, Decimal("19.99"))
    Decimal('59.97')
    """
    product = Decimal(1)
    for factor in factors:
        product = EXACT.multiply(product, Decimal(factor))
    return product


def total(amounts: Sequence[Decimal]) -> Decimal:
    """The exact sum.

    >>> total([Decimal("0.1")] * 3)
    Decimal('0.3')
    """
    summed = Decimal(0)
    for amount in amounts:
        summed = EXACT.add(summed, amount)
    return summed


def quartiles(values: Sequence[Decimal]) -> tuple[Decimal, Decimal, Decimal]:
    """The lower quartile, the median and the upper quartile, by linear interpolation between the values in order.

    That is definition 7 of Hyndman and Fan (The American Statistician 50 (1996) 361), numpy's default. Raises
    ValueError when there are no values.

    >>> [str(value) for value in quartiles([Decimal(1), Decimal(2), Decimal(3), Decimal(10)])]
    ['1.75', '2.5', '4.75']
    """
    if not values:
        raise ValueError("no values")
    ordered = sorted(values)
    found = []
    for quarter in (1, 2, 3):
        whole, rest = divmod((len(ordered) - 1) * quarter, 4)
        low, high = ordered[whole], ordered[min(whole + 1, len(ordered) - 1)]
        step = times(EXACT.subtract(high, low), rest, Decimal("0.25"))
        found.append(EXACT.add(low, step).normalize(EXACT))
    return found[0], found[1], found[2]
