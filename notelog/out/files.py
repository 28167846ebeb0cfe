"""Files that are either whole or not there: written beside their place, then renamed into it."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from notelog.errors import InputError


def write_safely(path: Path, text: str | bytes) -> None:
    """Write bytes, or text as UTF-8, to `path`, which stays as it was unless all of it could be written.

    Line ends are written as they are. What is no plain file, such as /dev/stdout, is written to directly.
    Raises InputError when it cannot be written.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_safely(Path(folder) / "a.csv", "x\\r\\n")
    ...     (Path(folder) / "a.csv").read_bytes()
    b'x\\r\\n'
    """
    path = path.expanduser()
    if path.is_dir():
        raise InputError(f"{path} is a folder: name a file to write.")
    data = text.encode("utf-8") if isinstance(text, str) else text
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        # A link is kept, and the file that it points to is replaced.
        target = path.resolve()
        beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}.tmp")
        try:
            with open(beside, "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            if target.exists():
                beside.chmod(target.stat().st_mode & 0o7777)
            beside.replace(target)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}): nothing was changed.") from error
