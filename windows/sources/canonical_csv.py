"""Canonical CSV: the hourly table as it is, one row an hour.

Label ``time_utc`` is the START of the hour, ISO 8601 with ``Z`` or an offset. The other columns are
those of `windows.hours.COLUMNS`, in any order; an empty cell is unknown. Lines on top that begin
with ``#`` may tell ``# source:``, ``# issued:`` (a time) and ``# note:``.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError, did_you_mean
from windows.hours import COLUMNS, Provenance, check_hours

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable

NAME = "canonical CSV"
HELP = "a header with time_utc and columns such as air_temp_c, rain_mm"

__all__ = ["HELP", "NAME", "parse", "recognises"]


def recognises(head: str) -> bool:
    """Tell whether the header names time_utc or any other canonical column."""
    for line in head.splitlines():
        if line.strip() and not line.startswith("#"):
            names = {name.strip() for name in line.split(",")}
            return bool(names & ({"time_utc"} | set(COLUMNS)))
    return False


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
        raise HoursError(f"{place}: not UTF-8 text at byte {fault.start}; save as UTF-8") from None
    lines = text.splitlines()
    header_line = next(
        (n for n, line in enumerate(lines) if line.strip() and not line.startswith("#")), 0
    )
    provenance = _provenance(lines[:header_line], place)
    try:
        frame = pd.read_csv(
            io.StringIO(text), skiprows=header_line, skipinitialspace=True, skip_blank_lines=False
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as fault:
        raise HoursError(f"{place}: not a CSV table: {str(fault).strip()}; mend it") from None
    if isinstance(frame.index, pd.MultiIndex) or not isinstance(frame.index, pd.RangeIndex):
        raise HoursError(f"{place}: rows have more cells than the header; mend the header")
    frame.columns = [str(name).strip() for name in frame.columns]
    for name in frame.columns:
        if name not in COLUMNS and name != "time_utc":
            raise HoursError(
                f"{place}: line {header_line + 1}: column '{name}' is not known; "
                f"{did_you_mean(name, ['time_utc', *COLUMNS])}. Rename or delete it"
            )
    if "time_utc" not in frame:
        raise HoursError(
            f"{place}: column 'time_utc' is missing; add the start of each hour in UTC"
        )
    frame = frame.dropna(how="all")
    first_row = header_line + 2
    times = _times(frame["time_utc"], place, first_row)
    columns = {
        name: _numbers(frame[name], place, first_row)
        for name in frame.columns
        if name != "time_utc"
    }
    return check_hours(columns, times, provenance)


def _provenance(comments: list[str], place: str) -> Provenance:
    told: dict[str, list[str]] = {}
    for line in comments:
        key, _, value = line.lstrip("# ").partition(":")
        told.setdefault(key.strip().lower(), []).append(value.strip())
    issued = None
    if "issued" in told:
        try:
            issued = pd.Timestamp(told["issued"][0])
        except ValueError:
            raise HoursError(
                f"{place}: '# issued: {told['issued'][0]}' is not a time; write "
                "2026-05-01T18:00Z"
            ) from None
        issued = issued.tz_localize("UTC") if issued.tzinfo is None else issued.tz_convert("UTC")
    source = told.get("source", [NAME])[0]
    return Provenance(source, place, issued, tuple(told.get("note", [])))


def _times(texts: pd.Series, place: str, first_row: int) -> pd.DatetimeIndex:
    cells = texts.astype("string")
    aware = cells.str.contains(r"(?:Z|[+-]\d\d:?\d\d)\s*$", regex=True, na=False).to_numpy(bool)
    stamps = pd.to_datetime(cells, utc=True, errors="coerce", format="ISO8601")
    bad = stamps.isna().to_numpy() | ~aware
    if bad.any():
        row = int(np.argmax(bad))
        line = int(texts.index[row]) + first_row
        cell = texts.iloc[row]
        reason = "has no zone" if not pd.isna(stamps.iloc[row]) else "is not a time"
        raise HoursError(
            f"{place}: line {line}: time_utc '{cell}' {reason} ({int(bad.sum())} such rows); "
            "write the start of the hour as 2026-05-01T18:00Z"
        )
    return pd.DatetimeIndex(stamps)


def _numbers(cells: pd.Series, place: str, first_row: int) -> FloatArray:
    if cells.dtype == bool:
        return cells.to_numpy(dtype=np.float64)
    numbers = pd.to_numeric(cells, errors="coerce")
    bad = (numbers.isna() & cells.notna()).to_numpy()
    if bad.any():
        row = int(np.argmax(bad))
        raise HoursError(
            f"{place}: line {int(cells.index[row]) + first_row}: {cells.name} is "
            f"'{cells.iloc[row]}', not a number ({int(bad.sum())} such rows); mend it, or leave "
            "the cell empty if it is not known"
        )
    return numbers.to_numpy(dtype=np.float64)
