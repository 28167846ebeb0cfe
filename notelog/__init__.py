"""notelog: a dictated repair note becomes a structured, traceable repair log.

>>> import notelog
>>> log = notelog.extract("n/s/f lower arm bent, new one ordered")
>>> [entry.kind for entry in log.entries]
['finding', 'part']
"""

from __future__ import annotations

import importlib.metadata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from notelog.models import Log

try:
    __version__ = importlib.metadata.version("notelog")
except importlib.metadata.PackageNotFoundError:
    __version__ = "0"

__all__ = ["__version__", "extract"]


def extract(text: str, driver_side: str = "right") -> Log:
    """The log of a note's text, in any format that `notelog.reading` knows. Nothing is stored.

    `driver_side` is "left" or "right": the side that the driver sits on. Raises `notelog.errors.InputError` when the
    text holds no note, or the side is neither.
    """
    from notelog.errors import InputError
    from notelog.log import log_note
    from notelog.reading import read_text

    if driver_side not in ("left", "right"):
        raise InputError(f"The driver's side is {driver_side!r}; give left or right.")
    return log_note(read_text(text), driver_side)
