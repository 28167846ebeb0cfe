"""The shop's settings: driver's side, currency and name, in one small TOML file that a person can edit."""

from __future__ import annotations

import json
import os
import re
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from notelog.errors import InputError

ENVIRONMENT = "NOTELOG_SETTINGS"


@dataclass(frozen=True, slots=True)
class Settings:
    """`driver_side` is "left" or "right"; `currency` an ISO 4217 code, or empty; `shop` the shop's name, or empty.

    Raises InputError for a value that cannot be.

    >>> Settings(currency="eur").currency
    'EUR'
    """

    driver_side: str = "right"
    currency: str = ""
    shop: str = ""

    def __post_init__(self) -> None:
        for field in fields(self):
            if not isinstance(getattr(self, field.name), str):
                raise InputError(f"The setting {field.name} must be text between quotes.")
        object.__setattr__(self, "currency", self.currency.strip().upper())
        object.__setattr__(self, "shop", " ".join(self.shop.split()))
        if self.driver_side not in ("left", "right"):
            raise InputError(f"The setting driver_side is {self.driver_side!r} and must be 'left' or 'right'.")
        if self.currency and not re.fullmatch("[A-Z]{3}", self.currency):
            raise InputError(f"The setting currency is {self.currency!r} and must be a code such as GBP, USD or EUR.")
        if not self.shop.isprintable():
            raise InputError("The setting shop has characters that cannot be printed: write it again.")


def settings_path() -> Path:
    """The settings file: that of NOTELOG_SETTINGS, else one in the user's configuration folder.

    >>> settings_path().suffix
    '.toml'
    """
    if named := os.environ.get(ENVIRONMENT):
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_config_dir("notelog", appauthor=False)) / "settings.toml"


def load() -> Settings:
    """The settings in force; what the file does not say, or no file, leaves the defaults.

    Raises InputError when the file cannot be read, is no TOML, or holds a setting that is not known.
    """
    path = settings_path()
    if not path.exists():
        return Settings()
    import tomllib

    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return Settings()
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(
            f"The settings file {path} is no TOML ({error}): mend it, or delete it to start anew."
        ) from error
    except OSError as error:
        raise InputError(f"The settings file {path} cannot be read: {error.strerror}.") from error
    known = [field.name for field in fields(Settings)]
    if unknown := [name for name in given if name not in known]:
        raise InputError(
            f"The settings file {path} has {unknown[0]!r}, which is no setting: there are {', '.join(known)}."
        )
    try:
        return Settings(**given)
    except InputError as error:
        raise InputError(f"{str(error).rstrip('.')}: mend it in the settings file {path}.") from error


def save(settings: Settings) -> Path:
    """Write the settings file, whole or not at all, and tell where it is. Raises InputError."""
    from notelog.out.files import write_safely

    path = settings_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"The folder {path.parent} for the settings cannot be made: {error.strerror}.") from error
    # A printable string is written alike in JSON and in TOML 1.0, so no TOML writer is needed.
    lines = [f"{name} = {json.dumps(value, ensure_ascii=False)}\n" for name, value in asdict(settings).items()]
    write_safely(path, "# Settings of notelog; `notelog settings --help` tells what each one does.\n" + "".join(lines))
    return path
