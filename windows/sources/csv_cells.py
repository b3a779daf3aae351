"""Cells of a CSV file: rows, times with a zone and numbers; a fault names its line."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from cure_models.arrays import FloatArray

__all__ = ["content_of", "fault_of_time", "lines_of", "numbers", "rows", "stamps", "times"]

UNKNOWN = frozenset({"", "na", "n/a", "nan", "null", "none"})
_ZONED = r"[T ]\d\d.*(?:Z|[+-]\d\d(?::?\d\d)?)$"
_TRUTH = {"true": "1", "false": "0"}
_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


def content_of(path: Path | str, what: str) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    HoursError
        If it is missing or cannot be read; ``what`` names its kind.
    """
    try:
        return Path(path).read_bytes()
    except FileNotFoundError:
        raise HoursError(f"{path}: no such {what}; check the path") from None
    except OSError as fault:
        raise HoursError(
            f"{path}: cannot be read ({fault.strerror}); name a readable file"
        ) from None


def lines_of(content: bytes, place: str) -> tuple[list[str], int]:
    """Return the lines of a file and the number of its first one that is not blank or a remark.

    Raises
    ------
    HoursError
        If it is not UTF-8 text.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise HoursError(
            f"{place}: not UTF-8 text at byte {fault.start}; save the file as UTF-8"
        ) from None
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    top = next(
        (n for n, line in enumerate(lines) if line.strip() and not line.startswith("#")), 0
    )
    return lines, top


def rows(
    lines: list[str], top: int, place: str, check_names: Callable[[list[str], str], None]
) -> tuple[list[str], list[list[str]], list[int]]:
    """Return the names of the columns, the rows that are not blank, and their line numbers.

    Parameters
    ----------
    lines, top
        From `lines_of`.
    place
        Name of the file, for faults.
    check_names
        Refuses names that the file may not have; takes them and the place of the header.

    Raises
    ------
    HoursError
        If a row has another number of cells than the header, or a quotation mark stays open.
    """
    reader = csv.reader(lines[top:], skipinitialspace=True, strict=True)
    names: list[str] = []
    found: list[list[str]] = []
    line_numbers: list[int] = []
    try:
        names = [name.strip() for name in next(reader)]
        where = f"{place}: line {top + 1}"
        for mark, word in _OTHER_SEPARATORS.items():
            if len(names) == 1 and mark in lines[top]:
                raise HoursError(f"{where}: columns are separated by {word}; save with commas")
        check_names(names, where)
        for cells in reader:
            row = [cell.strip() for cell in cells]
            if not any(row):
                continue
            if len(row) != len(names):
                raise HoursError(
                    f"{place}: line {top + reader.line_num} has {len(row)} "
                    f"cell{'s' * (len(row) != 1)}, but the header has {len(names)} columns; mend "
                    "the row, with an empty cell for what is not known"
                )
            found.append(row)
            line_numbers.append(top + reader.line_num)
    except csv.Error:
        after = line_numbers[-1] if line_numbers else top
        raise HoursError(
            f"{place}: line {after + 1} or one below it has a quotation mark that does not close; "
            "delete it"
        ) from None
    return names, found, line_numbers


def stamps(texts: Sequence[str]) -> tuple[pd.DatetimeIndex, np.ndarray]:
    """Return times in UTC, and which of them cannot be used: no time, or no zone."""
    cells = pd.Series(list(texts), dtype="string")
    found = pd.DatetimeIndex(pd.to_datetime(cells, utc=True, errors="coerce", format="ISO8601"))
    zoned = cells.str.contains(_ZONED, regex=True).to_numpy(dtype=bool)
    return found, np.asarray(found.isna()) | ~zoned


def fault_of_time(text: str, stamp: pd.Timestamp) -> str:
    """Return what is wrong with a time."""
    dated = text[:4].isdigit() and not pd.isna(stamp)  # pandas knows words such as "now"
    return "has no time zone" if dated else "is not a time"


def times(
    name: str, texts: Sequence[str], place: str, line_numbers: list[int], mend: str
) -> pd.DatetimeIndex:
    """Return a column of times in UTC.

    Raises
    ------
    HoursError
        If one is empty, no time, or has no zone; ``mend`` says how to write it.
    """
    found, fault = stamps(texts)
    if fault.any():
        row = int(np.argmax(fault))
        text = texts[row]
        told = f"'{text}' {fault_of_time(text, found[row])}" if text else "is empty"
        raise HoursError(
            f"{place}: line {line_numbers[row]}: {name} {told}{_such(int(fault.sum()))}; {mend}"
        )
    return found


def numbers(
    name: str, texts: Sequence[str], place: str, line_numbers: list[int], *, truth: bool = False
) -> FloatArray:
    """Return a column of numbers, NaN where a cell says that it is not known.

    Raises
    ------
    HoursError
        If a cell is something else; with ``truth``, true and false are 1 and 0.
    """
    values = np.full(len(texts), np.nan)
    bad = []
    for row, text in enumerate(texts):
        if text.lower() in UNKNOWN:
            continue
        cell = _TRUTH.get(text.lower(), text) if truth else text
        try:
            values[row] = float(cell)
        except ValueError:
            bad.append(row)
    if bad:
        raise HoursError(
            f"{place}: line {line_numbers[bad[0]]}: {name} is '{texts[bad[0]]}', not a number"
            f"{_such(len(bad))}; mend it, or leave the cell empty if it is not known"
        )
    return values


def _such(count: int) -> str:
    return f" ({count} such rows)" if count > 1 else ""
