"""What is known of the vehicle of a job. No customer is ever stored."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from datetime import date

from notelog.archive.vin import check_vin
from notelog.errors import InputError

FIRST_YEAR = 1885
MOST_MILEAGE = 9_999_999


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle as far as it is known; None is what nobody said.

    `year` is the model year, `mileage` the figure on the vehicle's own odometer, in its own unit.
    """

    make: str | None = None
    model: str | None = None
    year: int | None = None
    vin: str | None = None
    registration: str | None = None
    mileage: int | None = None

    @classmethod
    def given(
        cls,
        make: str | None = None,
        model: str | None = None,
        year: int | None = None,
        vin: str | None = None,
        registration: str | None = None,
        mileage: int | None = None,
    ) -> Vehicle:
        """A vehicle from what a person typed: blanks count as not given, the VIN and the numbers are checked.

        Raises InputError for a VIN, year or mileage that cannot be.

        >>> Vehicle.given(registration=" q17  abc ", make="")
        Vehicle(make=None, model=None, year=None, vin=None, registration='Q17 ABC', mileage=None)
        """
        newest = date.today().year + 2
        if year is not None and not FIRST_YEAR <= year <= newest:
            raise InputError(f"The year {year} cannot be a vehicle's: give one from {FIRST_YEAR} to {newest}.")
        if mileage is not None and not 0 <= mileage <= MOST_MILEAGE:
            raise InputError(f"The mileage {mileage} cannot be: give one from 0 to {MOST_MILEAGE}.")
        registration = _squeezed(registration)
        return cls(
            make=_squeezed(make),
            model=_squeezed(model),
            year=year,
            vin=check_vin(vin) if vin and vin.strip() else None,
            registration=registration.upper() if registration else None,
            mileage=mileage,
        )

    def known(self) -> dict[str, str | int]:
        """Only the fields that are known.

        >>> Vehicle(year=2016).known()
        {'year': 2016}
        """
        return {name: value for name, value in dataclasses.asdict(self).items() if value is not None}


FIELDS = tuple(field.name for field in dataclasses.fields(Vehicle))


def _squeezed(text: str | None) -> str | None:
    return " ".join((text or "").split()) or None
