"""Sheets: named tables of plain values, written as CSV or as a workbook to paste into a bid."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Cell", "Sheet", "plain", "rounded", "sheet_csv", "shown", "workbook"]

Cell = str | int | float | date | None
_WIDEST = 60


@dataclass(frozen=True)
class Sheet:
    """A table: its name, what its columns hold with their units, and rows of values."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def plain(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def sheet_csv(sheet: Sheet) -> str:
    """Return a sheet as CSV, empty where a value is not known."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(sheet.columns)
    writer.writerows([_csv(cell) for cell in row] for row in sheet.rows)
    return out.getvalue()


def _csv(cell: Cell) -> Cell:
    if isinstance(cell, str):
        # A bare carriage return is written without quotes, and then ends a row.
        return plain(cell).replace("\r\n", "\n").replace("\r", "\n")
    return cell.isoformat() if isinstance(cell, date) else rounded(cell)


def rounded(cell: Cell) -> Cell:
    """Return a value as a file tells it: numbers to four places, none where there is no end."""
    if isinstance(cell, float):
        return round(cell, 4) if isfinite(cell) else None
    return cell


def shown(cell: Cell) -> str:
    """Return a value as a screen shows it."""
    if cell is None or (isinstance(cell, float) and not isfinite(cell)):
        return "-"
    if isinstance(cell, float):
        return f"{cell:.1f}"
    return f"{cell:%b} {cell.day}" if isinstance(cell, date) else str(cell)


def workbook(sheets: Sequence[Sheet]) -> bytes:
    """Return sheets as an Excel workbook: real numbers and dates, frozen headings, no formulas."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        page = book.create_sheet(sheet.name)
        page.freeze_panes = "B2"
        for row, cells in enumerate([sheet.columns, *sheet.rows], start=1):
            for column, value in enumerate(cells, start=1):
                known = value is not None and not (isinstance(value, float) and not isfinite(value))
                cell = page.cell(row, column, value if known else None)
                if isinstance(value, str):
                    cell.data_type = "s"  # never a formula, whatever it begins with
                elif isinstance(value, float):
                    cell.number_format = "0.0"
                elif isinstance(value, date):
                    cell.number_format = "yyyy-mm-dd"
                if row == 1:
                    cell.font = Font(bold=True)
                    cell.alignment = Alignment(wrap_text=True, vertical="top")
        for column, title in enumerate(sheet.columns, start=1):
            longest = max([len(shown(row[column - 1])) for row in sheet.rows] or [0])
            width = min(max(longest, min(len(title), 14)) + 2, _WIDEST)
            page.column_dimensions[get_column_letter(column)].width = width
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
