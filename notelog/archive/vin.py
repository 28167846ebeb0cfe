"""Vehicle identification numbers: their alphabet, length and check digit."""

from __future__ import annotations

import re

from notelog.errors import InputError

LENGTH = 17
CHECK_POSITION = 9

# 49 CFR 565, tables III to V: the value of each letter, and the weight of each of the 17 positions
_VALUES = {str(digit): digit for digit in range(10)} | dict(
    zip("ABCDEFGHJKLMNPRSTUVWXYZ", [*range(1, 9), *range(1, 6), 7, 9, *range(2, 10)], strict=True)
)
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def weighted_sum(vin: str) -> int:
    """The sum of value times weight over the 17 characters; what stands at position 9 has no weight.

    >>> weighted_sum("1M8GDM9A_KP042788")
    351
    """
    return sum(_VALUES.get(letter, 0) * weight for letter, weight in zip(vin, _WEIGHTS, strict=True))


def check_digit(vin: str) -> str:
    """The character that belongs at position 9: the sum modulo 11, with "X" for 10 (49 CFR 565).

    >>> check_digit("1M8GDM9A_KP042788")
    'X'
    """
    remainder = weighted_sum(vin) % 11
    return "X" if remainder == 10 else str(remainder)


def check_vin(vin: str) -> str:
    """The VIN in capitals without spaces and hyphens, once it is found to be sound.

    Length and alphabet (no I, O, Q) are those of ISO 3779. The check digit is looked at where the law asks
    for one: North America, whose numbers begin with 1 to 5 (49 CFR 565).

    Raises InputError, saying what is wrong with the number.

    >>> check_vin("1m8 gdm9a xkp04 2788")
    '1M8GDM9AXKP042788'
    >>> check_vin("1M8GDM9A5KP042788")
    Traceback (most recent call last):
    ...
    notelog.errors.InputError: The VIN 1M8GDM9A5KP042788 fails its check digit (position 9 is 5 and should be X): \
compare it with the plate on the vehicle.
    """
    number = re.sub(r"[\s-]", "", vin).upper()
    if len(number) != LENGTH:
        raise InputError(f"The VIN {number!r} has {len(number)} characters and should have {LENGTH}: read it again.")
    for position, letter in enumerate(number, start=1):
        if letter not in _VALUES:
            raise InputError(
                f"The VIN {number!r} has {letter!r} at position {position}: a VIN has only digits and letters, "
                "without I, O and Q."
            )
    if number[0] in "12345" and number[CHECK_POSITION - 1] != check_digit(number):
        raise InputError(
            f"The VIN {number} fails its check digit (position {CHECK_POSITION} is {number[CHECK_POSITION - 1]} and "
            f"should be {check_digit(number)}): compare it with the plate on the vehicle."
        )
    return number
