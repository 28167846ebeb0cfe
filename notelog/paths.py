"""Where the data that ships with the package lies: in the wheel, or beside the package in a checkout."""

from __future__ import annotations

import functools
from pathlib import Path

_HERE = Path(__file__).resolve().parent


@functools.cache
def data_folder(name: str) -> Path:
    """The folder `name` ("lexicon", "demo_notes") of an installed wheel, or of the checkout.

    >>> data_folder("lexicon").is_dir()
    True
    """
    shipped = _HERE / "data" / name
    return shipped if shipped.is_dir() else _HERE.parent / name
