"""Cells of a CSV file: rows, times with a zone and numbers; a fault names its line."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from cure_models.arrays import FloatArray

__all__ = ["content_of", "fault_of_time", "lines_of", "numbers", "rows", "stamps", "times"]

UNKNOWN = ("", "na", "n/a", "nan", "null", "none")
_ZONED = r"[T ]\d\d.*(?:Z|[+-]\d\d(?::?\d\d)?)$"
_PADDED = re.compile(r"[ \t\"](?:,|\n|$)")
"""Cells with a space at their end, or in quotes that may hold one."""
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
) -> pd.DataFrame:
    """Return the rows that are not blank as texts, their line numbers as index.

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
    where = f"{place}: line {top + 1}"
    names = [name.strip() for name in _split(lines[top], top + 1, place)]
    for mark, word in _OTHER_SEPARATORS.items():
        if len(names) == 1 and mark in lines[top]:
            raise HoursError(f"{where}: columns are separated by {word}; save with commas")
    check_names(names, where)
    for number, line in enumerate(lines[top + 1 :], top + 2):
        told = line.count(",") + 1 if '"' not in line else len(_split(line, number, place))
        if told != len(names) and line.strip():
            raise HoursError(
                f"{place}: line {number} has {told} cell{'s' * (told != 1)}, but the header has "
                f"{len(names)} columns; mend the row, with an empty cell for what is not known"
            )
    text = "\n".join(lines[top + 1 :])
    cells = pd.read_csv(
        io.StringIO(text),
        header=None, names=names, dtype=object, keep_default_na=False, skip_blank_lines=False,
        skipinitialspace=True,
    )  # fmt: skip
    cells = cells.set_axis(cells.index + top + 2)
    if _PADDED.search(text):
        cells = pd.DataFrame({name: cells[name].str.strip() for name in names})
    return cells[(cells != "").any(axis="columns")]


def _split(line: str, number: int, place: str) -> list[str]:
    """Return the cells of a line, which may be quoted."""
    try:
        return next(csv.reader([line], skipinitialspace=True, strict=True))
    except csv.Error:
        raise HoursError(
            f"{place}: line {number} or one below it has a quotation mark that does not close; "
            "delete it"
        ) from None


def stamps(texts: Sequence[str]) -> tuple[pd.DatetimeIndex, np.ndarray]:
    """Return times in UTC, and which of them cannot be used: no time, or no zone."""
    cells = pd.Series(texts, dtype="str")
    found = pd.DatetimeIndex(pd.to_datetime(cells, utc=True, errors="coerce", format="ISO8601"))
    if all(text[10:11] == "T" and text[-1:] == "Z" for text in texts):
        return found, np.asarray(found.isna())
    zoned = cells.str.contains(_ZONED, regex=True).to_numpy(dtype=bool)
    return found, np.asarray(found.isna()) | ~zoned


def fault_of_time(text: str, stamp: pd.Timestamp) -> str:
    """Return what is wrong with a time."""
    dated = text[:4].isdigit() and not pd.isna(stamp)  # pandas knows words such as "now"
    return "has no time zone" if dated else "is not a time"


def times(cells: pd.Series[str], place: str, mend: str) -> pd.DatetimeIndex:
    """Return a column of times in UTC; the index of ``cells`` numbers its lines.

    Raises
    ------
    HoursError
        If one is empty, no time, or has no zone; ``mend`` says how to write it.
    """
    found, fault = stamps(cells.to_list())
    if fault.any():
        row = int(np.argmax(fault))
        text = cells.iloc[row]
        told = f"'{text}' {fault_of_time(text, found[row])}" if text else "is empty"
        raise HoursError(
            f"{place}: line {cells.index[row]}: {cells.name} {told}{_such(int(fault.sum()))}; "
            f"{mend}"
        )
    return found


def numbers(cells: pd.Series[str], place: str, *, truth: bool = False) -> FloatArray:
    """Return a column of numbers, NaN where a cell says that it is not known.

    Raises
    ------
    HoursError
        If a cell is something else; with ``truth``, true and false are 1 and 0.
    """
    found = pd.to_numeric(cells, errors="coerce")
    odd = found.isna() & (cells != "")
    if odd.any():
        words = cells[odd].str.lower()
        if truth:
            words = words.replace(_TRUTH)
            found = found.fillna(pd.to_numeric(words, errors="coerce"))
        bad = words[found[odd].isna() & ~words.isin(UNKNOWN)]
        if len(bad):
            raise HoursError(
                f"{place}: line {bad.index[0]}: {cells.name} is '{cells[bad.index[0]]}', not a "
                f"number{_such(len(bad))}; mend it, or leave the cell empty if it is not known"
            )
    return found.to_numpy(dtype=np.float64)


def _such(count: int) -> str:
    return f" ({count} such rows)" if count > 1 else ""
