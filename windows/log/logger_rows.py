"""Readings of a log from a logger's table: each row one, by the mapping that its weather has too.

A reading is ``at`` the end of its row, whatever the mapping's label says: a logger writes a row
then, a spot value is taken then, and no value of the row was known before. What is an average lies
half a row before it, which no one value can tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import isnan
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.hours import COLUMNS
from windows.log.entries import Reading
from windows.possible_values import few
from windows.sources.logger import rows_of

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.sources.logger_mapping import LoggerMapping

__all__ = ["LoggerReadings", "logger_readings"]

_TAKEN = (
    "air_temp_c", "surface_temp_c", "rel_humidity", "dew_point_c", "wind_m_s", "gust_m_s", "cloud",
)  # fmt: skip
"""Columns of a mapping that a reading has too; rain and the like are left to the weather."""
_COLDEST_C = -60.0
"""Of a reading in the log; nature has colder air, no roof that is coated. [degC]"""
_DECIMALS = 6
"""Of a value in SI: what a conversion leaves after them nobody measured. (own choice)"""


@dataclass(frozen=True)
class LoggerReadings:
    """Readings in order of time, how many rows had nothing to read, and what else to know."""

    readings: tuple[Reading, ...]
    empty: int
    notes: tuple[str, ...]


def logger_readings(
    content: bytes, mapping: LoggerMapping, where: str, *, instrument: str = ""
) -> LoggerReadings:
    """Return the readings of a logger's file.

    Parameters
    ----------
    content
        The table.
    mapping
        Which column holds what: `windows.sources.logger_mapping.load_mapping`.
    where
        Name of the file, for faults.
    instrument
        Serial number of the logger.

    Raises
    ------
    HoursError
        If the table cannot be read by the mapping, the mapping has no column that a reading has, or
        many values are impossible, as in a wrong unit.
    """
    names = [name for name in _TAKEN if name in mapping.columns]
    if not names:
        raise HoursError(
            f"{where}: the mapping has none of the columns of a reading; map one of "
            f"{', '.join(_TAKEN)}"
        )
    rows = rows_of(content, where, mapping)
    ends = pd.DatetimeIndex(rows.frame.index) + timedelta(minutes=mapping.every)
    notes = []
    if rows.doubled:
        notes.append(f"{rows.doubled} rows of one time differ or lack a value: unknown there")
    columns = [
        _possible(name, rows.frame[name].to_numpy(dtype=np.float64), ends, where, notes)
        for name in names
    ]
    table = np.column_stack(columns).round(_DECIMALS)
    filled = np.flatnonzero(~np.isnan(table).all(axis=1))
    common = {"occasion": "logger", "instruments": _serial(instrument, where)}
    readings = tuple(
        Reading.model_validate(
            {name: value for name, value in zip(names, values, strict=True) if not isnan(value)}
            | {"at": at}
            | common
        )
        for at, values in zip(ends[filled].to_pydatetime(), table[filled].tolist(), strict=True)
    )
    empty = len(table) - len(filled)
    if empty:
        notes.append(f"{empty} of {len(table)} rows have nothing to read and are passed over")
    return LoggerReadings(readings, empty, tuple(notes))


def _serial(instrument: str, where: str) -> tuple[str, ...]:
    serial = instrument.strip()
    if len(serial) > 200 or not serial.isprintable():
        raise HoursError(f"{where}: {serial[:60]!r} is no serial number; give it on one line")
    return (serial,) if serial else ()


def _possible(
    name: str, values: FloatArray, ends: pd.DatetimeIndex, where: str, notes: list[str]
) -> FloatArray:
    """Return a column with NaN for a few values that nature does not have; many are an error."""
    column = COLUMNS[name]
    low = max(column.low, _COLDEST_C) if column.unit == "degC" else column.low
    wrong = ((values < low) | (values > column.high)) & ~np.isnan(values)
    if wrong.any():
        first, count = int(np.argmax(wrong)), int(wrong.sum())
        unit = "" if column.unit == "fraction" else f" {column.unit}"
        told = (
            f"{name} of {values[first]:g}{unit} at {ends[first]:%Y-%m-%d %H:%M} UTC is not "
            f"possible{f' ({count} such rows)' if count > 1 else ''}"
        )
        if not few(wrong, int(np.isfinite(values).sum())):
            raise HoursError(
                f"{where}: {told}: it runs from {low:g} to {column.high:g}{unit}; check its unit "
                "in the mapping, and list under 'missing' what stands for no value"
            )
        notes.append(f"{told}: unknown there")
        values = np.where(wrong, np.nan, values)
    if name == "rel_humidity":
        return np.where(values > 1, 1.0, values)  # a little above is rounding, as in hourly tables
    return values
