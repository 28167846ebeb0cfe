"""Which units measure which quantity, and how one is turned into another."""

from __future__ import annotations

from notelog.hearing.units import factor

_LENGTH = ("mm", "cm", "in")
_ANGLE = ("deg", "arcmin")
FAMILY: dict[str, tuple[str, ...]] = {
    "camber": _ANGLE,
    "caster": _ANGLE,
    "toe": (*_ANGLE, *_LENGTH),
    "thickness": _LENGTH,
    "depth": _LENGTH,
    "length": _LENGTH,
    "gap": _LENGTH,
    "runout": _LENGTH,
    "play": (*_LENGTH, *_ANGLE),
    "pressure": ("bar", "psi"),
    "voltage": ("V",),
    "resistance": ("ohm",),
    "torque": ("Nm", "lbft"),
    "temperature": ("C", "F"),
    "mileage": ("km", "mi"),
    "angle": _ANGLE,
    "height": _LENGTH,
    "diameter": _LENGTH,
    "volume": ("l",),
}
"""The units in which each quantity is measured."""

_PINT = {
    "mm": "millimeter", "cm": "centimeter", "in": "inch", "deg": "degree", "arcmin": "arcminute", "bar": "bar",
    "psi": "psi", "Nm": "newton * meter", "lbft": "foot * force_pound", "km": "kilometer", "mi": "mile",
}  # fmt: skip
_FAMILIES = (_LENGTH, _ANGLE, ("bar", "psi"), ("Nm", "lbft"), ("km", "mi"), ("C", "F"))


def comparable(one: str, other: str) -> bool:
    """Whether a reading in one unit can be told in the other.

    >>> comparable("mm", "in"), comparable("mm", "deg")
    (True, False)
    """
    return one == other or any(one in family and other in family for family in _FAMILIES)


def convert(value: float, unit: str, to: str, difference: bool = False) -> float:
    """`value` in another unit, by pint's factors (NIST SP 811); `difference` for the difference of two temperatures.

    >>> convert(1, "in", "mm"), convert(212, "F", "C"), convert(9, "F", "C", difference=True)
    (25.4, 100.0, 5.0)
    """
    if unit == to:
        return value
    if {unit, to} == {"C", "F"}:
        zero = 0.0 if difference else 32.0
        return (value - zero) / 1.8 if to == "C" else value * 1.8 + zero
    return round(value * factor(_PINT[unit], _PINT[to]), 9)
