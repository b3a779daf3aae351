"""Tables of a weather logger: any CSV, read by a mapping that its owner writes.

Rows of less than an hour are gathered: rain is summed, states are averaged, of gusts the highest
counts, of a roof surface also the coldest and the warmest reading. An hour needs all its rows;
``required_share`` of the mapping lets a part of them do, for states and never for rain.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from cure_models.units import to_si
from windows.errors import HoursError, did_you_mean
from windows.flags import Flag, flagged
from windows.hours import HourlyTable, check_hours
from windows.provenance import Provenance
from windows.sources.logger_mapping import SHARES
from windows.time_rows import one_row_a_time

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.sources.logger_mapping import LoggerMapping, MappedColumn

__all__ = ["Rows", "parse", "rows_of"]

_SHORT_STEP_MIN = 30
"""In longer steps too much can fall between a reset and its row. [min]"""
_CLOCK_SLACK = 0.2
"""Share of a step by which a row's clock may be off. [fraction]"""


@dataclass(frozen=True)
class Rows:
    """The rows of a table in SI: ``frame`` by the start of each in UTC, in order, one a time.

    Hours begin ``phase`` after those of UTC. ``doubled`` rows of one time differed or lacked a
    value; what differs is NaN.
    """

    frame: pd.DataFrame
    phase: pd.Timedelta
    doubled: int


def rows_of(content: bytes, place: str, mapping: LoggerMapping) -> Rows:
    """Return the rows of a logger's file, before they are gathered into hours.

    Raises
    ------
    HoursError
        If a column is missing, a time or a number cannot be read, a clock time is not to be told
        apart, or rows are not ``every`` apart.
    """
    rows = _rows(content, place, mapping)
    starts, phase = _starts(rows[mapping.time], place, mapping)
    values = {
        name: _numbers(rows[given.column], given, place, mapping)
        for name, given in mapping.columns.items()
    }
    frame = pd.DataFrame(values, index=starts).sort_index(kind="stable")
    doubled = 0
    if frame.index.has_duplicates:
        frame, differ = one_row_a_time(frame)
        doubled = int(differ.any(axis="columns").sum())
    return Rows(frame, phase, doubled)


def parse(content: bytes, place: str, mapping: LoggerMapping) -> HourlyTable:
    """Return the table of a logger's file.

    Raises
    ------
    HoursError
        As `rows_of`, and if the checks of `windows.hours.check_hours` fail.
    """
    rows = rows_of(content, place, mapping)
    frame, phase = rows.frame, rows.phase
    step = timedelta(minutes=mapping.every)
    frame = frame.reindex(pd.date_range(frame.index[0], frame.index[-1], freq=step))
    warnings = []
    if rows.doubled:
        warnings.append(f"{rows.doubled} rows of one time differ or lack a value: unknown there")
    if "rain_mm" in frame:
        kind = mapping.columns["rain_mm"].rain
        frame["rain_mm"] = _rain(frame["rain_mm"].to_numpy(), str(kind), mapping.every, warnings)
    hours = (pd.DatetimeIndex(frame.index) - phase).floor("h") + phase
    columns, partial = _hourly(frame, hours, mapping)
    flags: dict[str, np.ndarray] = {}
    for name, where in partial.items():
        flags = flagged(flags, name, where, Flag.PARTIAL)
    index = pd.date_range(hours[0], hours[-1], freq="h")
    return check_hours(
        columns, index, Provenance(mapping.source, place, kind="observed"),
        warnings=tuple(warnings), recorded=True, flags=flags,
    )  # fmt: skip


def _rows(content: bytes, place: str, mapping: LoggerMapping) -> pd.DataFrame:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    lines = text.splitlines()[mapping.rows_before_header :]
    if len(lines) < 2 + mapping.rows_below_header:
        raise HoursError(f"{place}: there are no rows below the header; check rows_before_header")
    del lines[1 : 1 + mapping.rows_below_header]
    wanted = [mapping.time, *(each.column for each in mapping.columns.values())]
    try:
        found = pd.read_csv(
            io.StringIO("\n".join(lines)), sep=mapping.separator, dtype=str, keep_default_na=False,
            skipinitialspace=True,
        )  # fmt: skip
    except ValueError as fault:
        told = " ".join(str(fault).split())[:120]
        raise HoursError(
            f"{place}: not a table ({told}); check separator and rows_before_header of the mapping"
        ) from None
    found.columns = [str(name).strip() for name in found.columns]
    for name in wanted:
        if name not in found:
            raise HoursError(
                f"{place}: there is no column '{name}'; {did_you_mean(name, list(found.columns))}"
            )
    if found.empty:
        raise HoursError(f"{place}: there are no rows below the header; use a whole file")
    return found


def _starts(
    cells: pd.Series[str], place: str, mapping: LoggerMapping
) -> tuple[pd.DatetimeIndex, pd.Timedelta]:
    """Return the start of each row in UTC, and by how much its steps are off those of UTC.

    Hourly rows of a zone that is half an hour off begin at half past.
    """
    texts = cells.str.strip()
    local = pd.to_datetime(texts, errors="coerce", format=mapping.time_format or "ISO8601")
    if local.isna().any():
        row = int(local.isna().to_numpy().argmax())
        hint = "mend it" if mapping.time_format else 'give time_format, as "%m/%d/%Y %H:%M"'
        raise HoursError(f"{place}: row {row + 1}: '{texts.iloc[row]}' is no time; {hint}")
    stamps = pd.DatetimeIndex(local)
    step = pd.Timedelta(minutes=mapping.every)
    zoned = stamps.tz is not None
    utc = stamps.tz_convert("UTC") if zoned else _from_clock(stamps, place, mapping)
    phase = (stamps[0].tz_localize(None) - utc[0].tz_localize(None)) % step
    even = (utc + phase).round(step) - phase
    off = np.abs((utc - even).total_seconds()) > _CLOCK_SLACK * step.total_seconds()
    if off.any():
        row = int(np.argmax(off))
        raise HoursError(
            f"{place}: row {row + 1}: '{texts.iloc[row]}' is not a whole number of steps of "
            f"{mapping.every} min; check 'every' in the mapping"
        )
    return (even if mapping.label == "start" else even - step), -phase % pd.Timedelta(hours=1)


def _from_clock(stamps: pd.DatetimeIndex, place: str, mapping: LoggerMapping) -> pd.DatetimeIndex:
    """Return clock times in UTC; the hour that comes twice is told apart by the order of rows."""
    if mapping.timezone[0] in "+-":
        hours, minutes = mapping.timezone[1:].split(":")
        offset = pd.Timedelta(hours=int(hours), minutes=int(minutes))
        return (stamps - offset * (1 if mapping.timezone[0] == "+" else -1)).tz_localize("UTC")
    zone = ZoneInfo(mapping.timezone)
    try:
        return stamps.tz_localize(zone, ambiguous="infer", nonexistent="raise").tz_convert("UTC")
    except ValueError as fault:
        told = (
            "comes twice and the rows do not tell which"
            if "mbiguous" in str(fault) or ("infer" in str(fault))
            else "does not exist"
        )
        when = re.search(r"\d{4}-\d\d-\d\d \d\d:\d\d", str(fault))
        raise HoursError(
            f"{place}: the clock time {when.group() if when else 'of a row'} {told} in "
            f"{mapping.timezone}; if the logger's clock never changes, give its offset as "
            'timezone, as "-05:00"'
        ) from None


def _numbers(
    cells: pd.Series[str], given: MappedColumn, place: str, mapping: LoggerMapping
) -> FloatArray:
    """Return a column in SI, NaN where a cell says that it is missing."""
    texts = cells.str.strip()
    empty = texts.str.lower().isin({"", "na", "n/a", "#n/a", "nan", "null", "none", "---", "--"})
    empty |= texts.isin(mapping.missing)
    plain = texts.str.replace(",", ".", regex=False) if mapping.decimal == "," else texts
    found = pd.to_numeric(plain, errors="coerce")
    wrong = (found.isna() & ~empty).to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        raise HoursError(
            f"{place}: row {row + 1}: '{given.column}' is '{texts.iloc[row]}', not a number; list "
            "it under 'missing' in the mapping if that is what it means"
        )
    values = found.mask(empty).to_numpy(dtype=np.float64)
    if given.unit in SHARES:
        return values * SHARES[given.unit]
    return to_si(values, given.unit)


def _rain(values: FloatArray, kind: str, every_min: int, warnings: list[str]) -> FloatArray:
    """Return the rain of each step. [mm]"""
    if kind == "increment":
        return values
    if kind == "rate":
        return values * every_min / 60
    # A counter: what was added since the row before. It needs both rows.
    added = np.diff(values, prepend=np.nan)
    reset = added < 0
    if reset.any():
        # At a reset the rain since then is on the counter, but what fell before it in the same step
        # is lost. It is taken as none only if the counter stood still in the hour before.
        still = pd.Series(added).shift(1).rolling(max(1, 60 // every_min)).max().to_numpy() == 0
        trusted = still & (every_min <= _SHORT_STEP_MIN)
        added[reset] = np.where(trusted[reset], values[reset], np.nan)
        warnings.append(
            f"the rain counter was reset {int(reset.sum())} times; in "
            f"{int((reset & np.isnan(added)).sum())} of them the rain of that row is unknown"
        )
    return added


def _hourly(
    frame: pd.DataFrame, hours: pd.DatetimeIndex, mapping: LoggerMapping
) -> tuple[dict[str, FloatArray], dict[str, np.ndarray]]:
    """Return hourly columns, and where readings were too few for one."""
    rows = 60 // mapping.every
    grouped = frame.groupby(hours)
    count = grouped.count()
    columns: dict[str, FloatArray] = {}
    partial: dict[str, np.ndarray] = {}
    for name in frame.columns:
        needed = rows if name == "rain_mm" else max(1, int(np.ceil(rows * mapping.required_share)))
        enough = (count[name] >= needed).to_numpy()
        how = {"rain_mm": "sum", "gust_m_s": "max"}.get(str(name), "mean")
        columns[str(name)] = grouped[name].agg(how).where(enough).to_numpy(dtype=np.float64)
        partial[str(name)] = ~enough & (count[name] > 0).to_numpy()
        if name == "surface_temp_c" and rows > 1:
            for end in ("min", "max"):
                columns[f"surface_temp_{end}_c"] = (
                    grouped[name].agg(end).where(enough).to_numpy(dtype=np.float64)
                )
    return columns, partial
