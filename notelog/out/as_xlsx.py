"""A job as a workbook: a sheet for each table, typed cells, frozen headers."""

from __future__ import annotations

import io
import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from notelog.out.terminal import plain

if TYPE_CHECKING:
    from notelog.out.tables import Column, SheetTable

MOST_IN_A_CELL = 32_767
"""Characters that a cell holds (ECMA-376 leaves it to the program; common practice)."""

_WIDEST, _NARROWEST = 60, 8
_LINE, _TALLEST = 14, 400
"""Points of a line of text, and of the tallest row."""

_PAGE_WIDTH = 230
"""Characters that go beside each other on a printed page and can still be read."""

_FIXED = {"quotes": 60, "quote": 60, "why": 50, "id": 30, "contradictions": 40}


def workbook(tables: dict[str, SheetTable], title: str, when: datetime | None = None) -> bytes:
    """The file. Text is written as text, so that no cell is a formula or a link; numbers are numbers.

    `when` is the time that the file says it was made at; two files of the same job and time are the same bytes.
    """
    import xlsxwriter

    data = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(data, options) as book:
        made = when or datetime.now(UTC)
        book.set_properties({"title": plain(title), "created": made.replace(tzinfo=None)})
        head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E8ECEF"})
        formats = {
            "text": book.add_format({"text_wrap": True, "valign": "top"}),
            "whole": book.add_format({"num_format": "0", "valign": "top"}),
            "figure": book.add_format({"num_format": "General", "valign": "top"}),
            "moment": book.add_format({"num_format": "yyyy-mm-dd hh:mm", "valign": "top"}),
        }
        money: dict[int, object] = {}
        for table in tables.values():
            sheet = book.add_worksheet(table.name)
            sheet.freeze_panes(1, 0)
            sheet.set_landscape()
            sheet.repeat_rows(0)
            widths = [_width(table, at, column) for at, column in enumerate(table.columns)]
            sheet.fit_to_pages(math.ceil(sum(widths) / _PAGE_WIDTH), 0)
            # A program that opens the file need not work out the heights itself.
            sheet.set_row(0, _LINE * 2 + 4)
            sheet.set_footer(f"&L{plain(title).replace('&', '&&')[:150]}: {table.name}&R&P / &N")
            for at, column in enumerate(table.columns):
                sheet.write_string(0, at, column.heading, head)
                sheet.set_column(at, at, widths[at])
            if table.rows:
                sheet.autofilter(0, 0, len(table.rows), len(table.columns) - 1)
            for down, row in enumerate(table.rows, start=1):
                wraps = [math.ceil(len(cell) * 1.15 / wide) for cell, wide in zip(row, widths) if isinstance(cell, str)]
                sheet.set_row(down, min(_TALLEST, _LINE * max([1, *wraps]) + 2))
                for at, (column, cell) in enumerate(zip(table.columns, row, strict=True)):
                    if cell is None:
                        continue
                    if column.kind == "money":
                        digits = max(2, -cell.as_tuple().exponent)
                        if digits not in money:
                            shape = {"num_format": "#,##0." + "0" * digits, "valign": "top"}
                            money[digits] = book.add_format(shape)
                        sheet.write_number(down, at, cell, money[digits])
                    elif column.kind == "text":
                        sheet.write_string(down, at, plain(cell)[:MOST_IN_A_CELL], formats["text"])
                    elif column.kind == "moment":
                        sheet.write_datetime(down, at, cell, formats["moment"])
                    else:
                        sheet.write_number(down, at, cell, formats[column.kind])
    return data.getvalue()


def _width(table: SheetTable, at: int, column: Column) -> int:
    if column.name in _FIXED:
        return _FIXED[column.name]
    longest = max((len(str(row[at])) for row in table.rows if row[at] is not None), default=0)
    return max(_NARROWEST, min(_WIDEST, max(longest, len(column.heading) // 2 + 3) + 2))
