"""Canonical CSV: the hourly table as it is, one row an hour.

Label ``time_utc`` is the START of the hour, ISO 8601 with ``Z`` or an offset. The other columns are
those of `windows.hours.COLUMNS`, in any order; an empty cell is unknown. Lines on top that begin
with ``#`` may tell ``# source:``, ``# issued:`` (a time) and ``# note:``.
"""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError, did_you_mean
from windows.hours import COLUMNS, Provenance, check_hours

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable

NAME = "canonical CSV"
HELP = "a header with time_utc and columns such as air_temp_c, rain_mm"

__all__ = ["HELP", "NAME", "parse", "recognises"]

_TIME = "time_utc"
_NAMES = frozenset({_TIME, *COLUMNS})
_UNKNOWN = frozenset({"", "na", "n/a", "nan", "null", "none"})
_ZONED = r"[T ]\d\d.*(?:Z|[+-]\d\d(?::?\d\d)?)$"
_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}
_TRUTH = {"true": "1", "false": "0"}


def recognises(head: str) -> bool:
    """Tell whether the header names time_utc or any other canonical column."""
    header = head.splitlines()[0].lower()
    return any(_NAMES & set(_cells(header, mark)) for mark in (",", *_OTHER_SEPARATORS))


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip().strip('"') for cell in line.split(separator)]


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a canonical CSV.

    Raises
    ------
    HoursError
        If the text is not a table, a column is unknown, a time or a number cannot be read, or the
        checks of `windows.hours.check_hours` fail.
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
    provenance = _provenance(lines[:top], place)
    names, rows, numbers = _table(lines, top, place)
    by_name = dict(zip(names, zip(*rows, strict=True), strict=True)) if rows else {}
    times = _times(by_name.get(_TIME, ()), place, numbers)
    columns = {
        name: _numbers(name, by_name.get(name, ()), place, numbers)
        for name in names
        if name != _TIME
    }
    return check_hours(columns, times, provenance)


def _table(
    lines: list[str], top: int, place: str
) -> tuple[list[str], list[list[str]], list[int]]:
    """Return the names of the columns, the rows that are not blank, and their line numbers."""
    reader = csv.reader(lines[top:], skipinitialspace=True, strict=True)
    names: list[str] = []
    rows: list[list[str]] = []
    numbers: list[int] = []
    try:
        names = [name.strip() for name in next(reader)]
        _check_header(names, lines[top], f"{place}: line {top + 1}")
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
            rows.append(row)
            numbers.append(top + reader.line_num)
    except csv.Error:
        after = numbers[-1] if numbers else top
        raise HoursError(
            f"{place}: line {after + 1} or one below it has a quotation mark that does not close; "
            "delete it"
        ) from None
    return names, rows, numbers


def _check_header(names: list[str], header: str, where: str) -> None:
    for mark, word in _OTHER_SEPARATORS.items():
        if len(names) == 1 and mark in header:
            raise HoursError(f"{where}: columns are separated by {word}; save with commas")
    for number, name in enumerate(names, 1):
        if not name:
            raise HoursError(f"{where}: column {number} has no name; name it or delete it")
        if name not in _NAMES:
            raise HoursError(
                f"{where}: column '{name}' is not known: rename or delete it; "
                f"{did_you_mean(name.lower(), _NAMES)}"
            )
        if names.count(name) > 1:
            raise HoursError(f"{where}: column '{name}' is there twice; keep one of them")
    if _TIME not in names:
        raise HoursError(f"{where}: column '{_TIME}' is missing; add the start of each hour in UTC")


def _provenance(remarks: list[str], place: str) -> Provenance:
    told: dict[str, list[str]] = {}
    for line in remarks:
        key, _, value = line.lstrip("# ").partition(":")
        told.setdefault(key.strip().lower(), []).append(value.strip())
    issued = None
    if "issued" in told:
        given = told["issued"][0]
        stamps, fault = _stamps([given])
        if fault.any():
            raise HoursError(
                f"{place}: '# issued: {given}' {_fault(given, stamps[0])}; write it as "
                "2026-05-01T18:00Z, or delete the line"
            )
        issued = stamps[0]
    source = told.get("source", [NAME])[0] or NAME
    return Provenance(source, place, issued, tuple(note for note in told.get("note", []) if note))


def _stamps(texts: Sequence[str]) -> tuple[pd.DatetimeIndex, np.ndarray]:
    """Return times in UTC, and which of them cannot be used: no time, or no zone."""
    cells = pd.Series(list(texts), dtype="string")
    stamps = pd.DatetimeIndex(pd.to_datetime(cells, utc=True, errors="coerce", format="ISO8601"))
    zoned = cells.str.contains(_ZONED, regex=True).to_numpy(dtype=bool)
    return stamps, np.asarray(stamps.isna()) | ~zoned


def _fault(text: str, stamp: pd.Timestamp) -> str:
    dated = text[:4].isdigit() and not pd.isna(stamp)  # pandas knows words such as "now"
    return "has no time zone" if dated else "is not a time"


def _times(texts: Sequence[str], place: str, numbers: list[int]) -> pd.DatetimeIndex:
    stamps, fault = _stamps(texts)
    if fault.any():
        row = int(np.argmax(fault))
        told = f"'{texts[row]}' {_fault(texts[row], stamps[row])}" if texts[row] else "is empty"
        raise HoursError(
            f"{place}: line {numbers[row]}: time_utc {told}{_such(int(fault.sum()))}; "
            "write the start of the hour as 2026-05-01T18:00Z"
        )
    return stamps


def _numbers(name: str, texts: Sequence[str], place: str, numbers: list[int]) -> FloatArray:
    values = np.full(len(texts), np.nan)
    bad = []
    for row, text in enumerate(texts):
        if text.lower() in _UNKNOWN:
            continue
        cell = _TRUTH.get(text.lower(), text) if name == "rain_trace" else text
        try:
            values[row] = float(cell)
        except ValueError:
            bad.append(row)
    if bad:
        raise HoursError(
            f"{place}: line {numbers[bad[0]]}: {name} is '{texts[bad[0]]}', not a number"
            f"{_such(len(bad))}; mend it, or leave the cell empty if it is not known"
        )
    return values


def _such(count: int) -> str:
    return f" ({count} such rows)" if count > 1 else ""
