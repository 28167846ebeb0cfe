"""Sizes of fasteners and of driving tools against the standards, and what an odd one likely meant.

The tables are CSV files of the lexicon: `iso_272.csv` (widths across flats by thread), `hexagons_in_use.csv` (older and
workshop widths), `iso_4762.csv` (hexagon keys), `iso_262.csv` (threads and pitches), `inch_hexagons.csv`, `torx.csv` and
`iso_1174.csv` (driving squares). Each row names its source and whether it was checked against a second copy.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from pathlib import Path

from notelog.errors import InputError
from notelog.lexicon.load import Lexicon, read_rows
from notelog.models import Fastener, Size

INCH = 25.4
"""Millimetres in an inch, exactly (NIST SP 811, B.8)."""

_NEAR = 0.06
_HEXAGON_TYPES = ("nut", "bolt", "screw", "stud", "plug")
_KEYED = ("bolt", "screw", "plug")


@dataclass(frozen=True, slots=True)
class SizeCheck:
    """What a size is in the tables (`standard`), or that it is in none (`odd`), and what was then likely meant."""

    standard: str = ""
    odd: bool = False
    likely: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SizeTables:
    """The tables by size; the words say what the size is and by which standard."""

    hexagons: dict[float, str]
    keys: dict[float, str]
    threads: dict[float, str]
    inches: dict[float, str]
    torx: dict[float, str]
    squares: dict[float, str]
    drive_tools: frozenset[str]

    def check(self, fastener: Fastener) -> SizeCheck:
        """A fastener's size against the table that its drive and unit call for; without a size nothing is said.

        >>> from notelog.lexicon import load
        >>> def size(value, unit, drive=None, type="bolt"):
        ...     evidence = {"start": 0, "end": 1, "text": "x"}
        ...     given = Fastener(type=type, drive=drive, size=Size(value=value, unit=unit), evidence=evidence, confidence=1)
        ...     return tables_of(load()).check(given)
        >>> size(18, "mm").standard
        'M12 (ISO 272)'
        >>> size(80, "mm").likely[0]
        '18 mm'
        """
        size = fastener.size
        if size is None:
            return SizeCheck()
        if size.unit == "M":
            return _looked_up(self.threads, size.value, "M{}", self._not_a_thread)
        if size.unit == "T":
            return _looked_up(self.torx, size.value, "T{}", self._nearest_torx)
        if fastener.drive == "torx" and size.unit == "mm" and size.value in self.torx:
            return SizeCheck(odd=True, likely=(f"T{_plain(size.value)}",))
        if fastener.type not in _HEXAGON_TYPES or fastener.drive in ("phillips", "slotted", "spline", "torx"):
            return SizeCheck()
        if size.unit == "in":
            return _looked_up(self.inches, size.value, "{} in", self._not_an_inch)
        if fastener.drive == "allen":
            return _looked_up(self.keys, size.value, "{} mm", self._not_a_key)
        found = _looked_up(self.hexagons, size.value, "{} mm", self._not_a_hexagon)
        key = self.keys.get(size.value)
        if found.odd and key and fastener.drive is None and fastener.type in _KEYED:
            return SizeCheck(odd=True, likely=(f"{_plain(size.value)} mm hexagon key, {key}", *found.likely))
        return found

    def check_tool(self, tool_id: str, size: Size | None) -> SizeCheck:
        """The driving square of a ratchet, breaker bar or the like, when its size was said in inches."""
        if size is None or size.unit != "in" or tool_id not in self.drive_tools:
            return SizeCheck()
        return _looked_up(self.squares, size.value, "{} in", lambda value: _nearest(self.squares, value, "{} in"))

    def _not_a_hexagon(self, value: float) -> list[str]:
        misheard = [f"{_plain(other)} mm" for other in _sounds_like(value) if other in self.hexagons]
        inches = [f"{_plain(other)} in" for other in self.inches if abs(other * INCH - value) < _NEAR]
        return misheard + inches + _nearest(self.hexagons, value, "{} mm")

    def _not_a_key(self, value: float) -> list[str]:
        misheard = [f"{_plain(other)} mm" for other in _sounds_like(value) if other in self.keys]
        torx = [f"T{_plain(value)}"] if value in self.torx and value >= 20 else []
        return misheard + torx + _nearest(self.keys, value, "{} mm")

    def _not_a_thread(self, value: float) -> list[str]:
        hexagon = self.hexagons.get(value)
        spanner = [f"{_plain(value)} mm across flats, {hexagon}"] if hexagon else []
        misheard = [f"M{_plain(other)}" for other in _sounds_like(value) if other in self.threads]
        return spanner + misheard + _nearest(self.threads, value, "M{}")

    def _nearest_torx(self, value: float) -> list[str]:
        misheard = [f"T{_plain(other)}" for other in _sounds_like(value) if other in self.torx]
        return misheard + _nearest(self.torx, value, "T{}")

    def _not_an_inch(self, value: float) -> list[str]:
        metric = [f"{_plain(value)} mm"] if value in self.hexagons else []
        return metric + _nearest(self.inches, value, "{} in")


def _looked_up(table: dict[float, str], value: float, name: str, likely) -> SizeCheck:
    for known, words in table.items():
        if math.isclose(known, value, rel_tol=1e-3):
            return SizeCheck(standard=words)
    meant = dict.fromkeys(meaning for meaning in likely(value) if meaning != name.format(_plain(value)))
    return SizeCheck(odd=True, likely=tuple(meant))


def _sounds_like(value: float) -> list[float]:
    """Numbers that are easily heard for each other: thirteen and thirty.

    >>> _sounds_like(70), _sounds_like(16), _sounds_like(21)
    ([17], [60], [])
    """
    if value in range(30, 100, 10):
        return [value // 10 + 10]
    if value in range(13, 20):
        return [(value - 10) * 10]
    return []


def _nearest(table: dict[float, str], value: float, name: str) -> list[str]:
    below = max((known for known in table if known < value), default=None)
    above = min((known for known in table if known > value), default=None)
    near = [known for known in (below, above) if known is not None and abs(known - value) <= 0.15 * value]
    return [name.format(_plain(known)) for known in sorted(near, key=lambda known: abs(known - value))]


def _plain(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


@functools.lru_cache(maxsize=8)
def tables_of(lexicon: Lexicon) -> SizeTables:
    """The tables that lie beside the lexicon. Raises InputError (file and line) for a row without a number."""
    folder = lexicon.folder
    coarse = ["thread", "size_mm", "standing", "source"]
    hexagons = _table(folder / "iso_272.csv", coarse, "{thread} ({source})")
    for value, words in _table(
        folder / "hexagons_in_use.csv", ["size_mm", "used_for", "source"], "{used_for} ({source})"
    ).items():
        hexagons.setdefault(value, words)
    keys = _table(folder / "iso_4762.csv", coarse, "{thread} ({source})")
    for value, words in _table(
        folder / "keys_in_use.csv", ["size_mm", "used_for", "source"], "{used_for} ({source})"
    ).items():
        keys.setdefault(value, words)
    drive_tools = frozenset()
    for line, row in read_rows(folder / "drive_tools.csv", ["tool", "why"]):
        if row["tool"] not in lexicon.terms["tool"]:
            raise InputError(f"{folder / 'drive_tools.csv'}, line {line}: {row['tool']!r} is no tool of the lexicon.")
        drive_tools |= {row["tool"]}
    return SizeTables(
        hexagons=hexagons,
        keys=keys,
        threads=_table(folder / "iso_262.csv", ["thread", "size_mm", "pitch_mm", "standing", "source"],
                       "{thread}, pitch {pitch_mm} mm ({source})"),
        inches=_table(folder / "inch_hexagons.csv", ["fraction", "size_in", "used_for", "source"],
                      "{fraction} in, {used_for} ({source})"),
        torx=_table(folder / "torx.csv", ["number", "source"], "T{number} ({source})", "number"),
        squares=_table(folder / "iso_1174.csv", ["fraction", "size_in", "nominal_mm", "standing", "source"],
                       "{fraction} in square, {nominal_mm} mm nominal ({source})"),
        drive_tools=drive_tools,
    )  # fmt: skip


def _table(path: Path, columns: list[str], words: str, size: str = "") -> dict[float, str]:
    size = size or next(column for column in columns if column.startswith("size_"))
    table: dict[float, str] = {}
    for line, row in read_rows(path, columns):
        try:
            value = float(row[size])
        except ValueError:
            value = math.nan
        if not 0 < value < math.inf:
            raise InputError(f"{path}, line {line}: the size {row[size]!r} is no number above nought; write one.")
        if not row["source"]:
            raise InputError(f"{path}, line {line}: the source is empty; say it, or write common practice.")
        table.setdefault(value, words.format(**row))
    return table
