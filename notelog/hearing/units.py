"""The units of `lexicon/units.csv`, by the names that are said and typed for them.

Columns: `unit`, the name in the log; `pint`, the unit that the row's names mean, in pint's spelling (the first row of
a unit is the unit itself, the further ones are converted to it); `times`, a factor for what pint does not know
(money); `names`, apart from the number or glued to it; `close`, names that must be glued to it; `over_stop`, names
plain enough to be read over a full stop that a recogniser put before them; `hundreds`, whether "two twenty" of it is
220 (`one`: only "one twenty"); `single`, whether "a", "half a" and "and a half" may be said of it; `side`, the
driver's side that a row holds for (money).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from notelog.errors import InputError
from notelog.hearing.tables import read_rows
from notelog.paths import data_folder

if TYPE_CHECKING:
    import pint

_NEEDED = frozenset({"in", "h", "ohm", "lbft", "psi", "deg", "C", "F"})  # units that rules of quantities.py name
_HEADER = ["unit", "pint", "times", "names", "close", "over_stop", "hundreds", "single", "side"]


@dataclass(frozen=True, slots=True)
class Unit:
    """One row of the table; `factor` turns a number of it into its `unit`."""

    unit: str
    measured_in: str
    converted_to: str
    times: float
    over_stop: frozenset[str]
    hundreds: str
    single: bool

    def convert(self, value: float) -> float:
        """`value` of this row in the log's unit, by pint's factors (NIST SP 811); money by the table's own.

        >>> load_units().close["g"].convert(250)
        0.25
        """
        if self.measured_in == self.converted_to:
            return value * self.times
        return value * factor(self.measured_in, self.converted_to)


@cache
def _registry() -> pint.UnitRegistry:
    # Loading pint takes longer than hearing a thousand notes, and most notes need no conversion.
    import pint

    return pint.UnitRegistry()


@cache
def factor(measured_in: str, converted_to: str) -> float:
    """How many `converted_to` one `measured_in` is; both in pint's spelling.

    Raises InputError when pint does not know one of them, or they measure different things.

    >>> factor("kiloohm", "ohm")
    1000.0
    """
    import pint

    try:
        return float(_registry().Quantity(1.0, measured_in).to(converted_to).magnitude)
    except (pint.PintError, ValueError):
        raise InputError(
            f"units.csv measures in {measured_in!r}, which cannot be turned into {converted_to!r}: correct its pint column."
        ) from None


@dataclass(slots=True)
class Units:
    """The table by name: `names` by their first word, longest first; `close` by what is glued to the number."""

    names: dict[str, list[tuple[tuple[str, ...], Unit]]] = field(default_factory=dict)
    close: dict[str, Unit] = field(default_factory=dict)
    canonical: dict[str, Unit] = field(default_factory=dict)


def load_units(folder: Path | None = None, driver_side: str = "right") -> Units:
    """The table `units.csv` of `folder`, or of the package's lexicon, for notes of that driver's side.

    Raises InputError when the file cannot be read, or a row has no unit, no names, or no number as its factor.

    >>> load_units().names["foot"][0][0]
    ('foot', 'pound')
    """
    return _load(Path(folder) if folder else data_folder("lexicon"), driver_side)


@lru_cache(maxsize=8)
def _load(folder: Path, driver_side: str) -> Units:
    path = folder / "units.csv"
    units = Units()
    for line, row in read_rows(path, _HEADER):
        try:
            times = float(row["times"] or 1)
        except ValueError:
            raise InputError(f"{path}, line {line} has the factor {row['times']!r}: write a number.") from None
        names, close, over_stop = (
            [name.strip().lower() for name in row[cell].split(";") if name.strip()]
            for cell in ("names", "close", "over_stop")
        )
        if not row["unit"] or not (names or close):
            raise InputError(f"{path}, line {line} lacks the unit or its names: fill them in.")
        if row["side"] not in ("", driver_side):
            continue
        first = units.canonical.get(row["unit"])
        unit = Unit(
            unit=row["unit"],
            measured_in=row["pint"],
            converted_to=first.measured_in if first else row["pint"],
            times=times,
            over_stop=frozenset(over_stop),
            hundreds=row["hundreds"],
            single=row["single"] == "yes",
        )
        units.canonical.setdefault(unit.unit, unit)
        units.close.update((name, unit) for name in close)
        for words in map(str.split, names):
            units.names.setdefault(words[0], []).append((tuple(words), unit))
    missing = sorted(_NEEDED - units.canonical.keys())
    if missing:
        raise InputError(f"{path} has no row for the unit {missing[0]!r}: put it back.")
    for rows in units.names.values():
        rows.sort(key=lambda row: len(row[0]), reverse=True)
    return units
