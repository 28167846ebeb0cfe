"""Reading the step's tables in `lexicon/`, with one clear sentence for whatever is wrong in them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from notelog.errors import InputError


def read_rows(path: Path, header: list[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """The rows of a CSV file (RFC 4180, UTF-8) as (line number, cells by heading); empty lines are passed over.

    Raises InputError when the file is missing or not UTF-8, when its heading is not `header`, and for a row of
    another length.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"{path} is missing: put the file back or reinstall the package.") from None
    except UnicodeDecodeError:
        raise InputError(f"{path} is not UTF-8: save it again as UTF-8.") from None
    reader = csv.reader(io.StringIO(text, newline=""))
    if next(reader, None) != header:
        raise InputError(f"{path} must begin with the line {','.join(header)}: put that line first.")
    for cells in reader:
        if not cells:
            continue
        if len(cells) != len(header):
            raise InputError(
                f"{path}, line {reader.line_num} has {len(cells)} cells: write {len(header)}, one for each heading."
            )
        yield reader.line_num, dict(zip(header, (cell.strip() for cell in cells)))
