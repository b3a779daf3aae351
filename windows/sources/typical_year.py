"""Years of hours labelled 1 to 24 in local standard time, as EPW and TMY3 have them.

The label is the END of the hour. What fell or shone belongs to the hour before the label;
temperature, humidity, wind and cloud are readings at the label, so they stand for the row that
begins there. The table begins with the first label, and its last row has no rain: unknown, not
zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.flags import Flag
from windows.hours import COLUMNS, HourlyTable, check_hours

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cure_models.arrays import FloatArray
    from windows.provenance import Provenance

__all__ = ["RAIN_WARNING", "hours_of", "labels_of"]

RAIN_WARNING = (
    "rain of a typical year tells nothing of rain risk: its months were picked for sun and "
    "temperature, and its rain differs from build to build"
)
_YEAR = 2025
"""Year given to a file whose months come from several years: it has no 29 February. [year]"""
_LONGEST_RAIN_H = 24
"""A longer span of gathered rain is the mark of a span that is not known. [h]"""
_MOST_RAIN_MM = 5000.0
"""More in a year is no depth in mm: no station of these data sets has that (own choice). [mm]"""


def labels_of(
    dates: pd.DataFrame,
    zone_hours: float,
    place: str,
    lines: Sequence[int],
    warnings: list[str],
) -> pd.DatetimeIndex:
    """Return the label of each row (the end of its hour) in UTC.

    Parameters
    ----------
    dates
        Columns year, month, day and hour (1 to 24).
    zone_hours
        Standard time ahead of UTC. [h]
    place, lines
        Name of the file and line of each row, for messages.
    warnings
        Gets a line where the months come from several years.

    Raises
    ------
    HoursError
        If there is no such hour.
    """
    ends = _ends(dates, place, lines)
    one_year = (dates["year"] == dates["year"].iloc[0]).all()
    if not one_year and (ends[1:] - ends[:-1] != pd.Timedelta(hours=1)).any():
        warnings.append(f"months come from several years; all are dated {_YEAR}")
        ends = _ends(dates.assign(year=_YEAR), place, lines)
    return (ends - pd.Timedelta(minutes=round(zone_hours * 60))).tz_localize("UTC")


def _ends(dates: pd.DataFrame, place: str, lines: Sequence[int]) -> pd.DatetimeIndex:
    days = pd.to_datetime(dates[["year", "month", "day"]], errors="coerce")
    wrong = days.isna().to_numpy() | ~dates["hour"].isin(range(1, 25)).to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        year, month, day, hour = (
            f"{dates[part].iloc[row]:g}" for part in ("year", "month", "day", "hour")
        )
        raise HoursError(
            f"{place}: line {lines[row]}: there is no hour {hour} of {year}-{month}-{day}; "
            "mend the date, and count hours from 1 to 24"
        )
    return pd.DatetimeIndex(days) + pd.to_timedelta(dates["hour"].to_numpy(), unit="h")


def hours_of(
    readings: Mapping[str, FloatArray],
    hour_before: Mapping[str, FloatArray],
    rain_span_h: FloatArray,
    labels: pd.DatetimeIndex,
    provenance: Provenance,
    warnings: list[str],
) -> HourlyTable:
    """Return the table of a year.

    Parameters
    ----------
    readings, hour_before
        Columns at the label, and over the hour that ends there; NaN where missing.
    rain_span_h
        Hours over which the rain of a row was gathered. [h]
    labels
        From `labels_of`.
    provenance, warnings
        As in `windows.hours.check_hours`.

    Raises
    ------
    HoursError
        If the checks of `windows.hours.check_hours` fail.
    """
    sums = dict(hour_before)
    sums["rain_mm"], sums["rain_block_h"] = _rain(sums["rain_mm"], rain_span_h, warnings)
    gathered = sums["rain_block_h"] > 1
    for columns in (readings, sums):
        for name in [n for n, v in columns.items() if np.isnan(v).all() and _optional(n)]:
            warnings.append(f"{name} is missing in every row: it is not in this file")
    if not gathered.any():
        del sums["rain_block_h"]
    at_label = pd.DataFrame(_there(readings)).set_axis(labels)
    before = pd.DataFrame(_there(sums) | {"gathered": gathered}).set_axis(
        labels - pd.Timedelta(hours=1)
    )
    table = at_label.join(before, how="outer").loc[labels[0] :]
    marks = np.where(table.pop("gathered").eq(True), int(Flag.BLOCK), 0)
    return check_hours(
        {str(name): table[name].to_numpy(dtype=np.float64) for name in table.columns},
        pd.DatetimeIndex(table.index),
        provenance,
        warnings=tuple(warnings),
        recorded=True,
        flags={"rain_mm": marks} if marks.any() else {},
    )


def _optional(name: str) -> bool:
    return not COLUMNS[name].required


def _there(columns: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Return the columns that the file fills at all, and those that every table has."""
    return {n: v for n, v in columns.items() if not (np.isnan(v).all() and _optional(n))}


def _rain(
    rain: FloatArray, spans: FloatArray, warnings: list[str]
) -> tuple[FloatArray, FloatArray]:
    """Return rain and the lengths of its blocks; a depth gathered over hours is shared out."""
    ones = np.ones(len(rain))
    if not (rain > 0).any():
        if (rain == 0).any():
            warnings.append("rain is zero in every row, so it was not measured: unknown")
        return np.full(len(rain), np.nan), ones
    if np.nansum(rain) > _MOST_RAIN_MM:
        warnings.append(
            f"rain adds up to {np.nansum(rain):.0f} mm, so its depths are not mm: unknown"
        )
        return np.full(len(rain), np.nan), ones
    known, lengths = rain.copy(), ones
    gathered = np.flatnonzero((spans > 1) & (rain > 0))
    for row in gathered:
        hours = int(spans[row])
        span = slice(max(0, row + 1 - hours), row + 1)
        # Of a span that is not known nothing is known, in its own hour neither.
        known[span if hours <= _LONGEST_RAIN_H else row] = np.nan
    for row in gathered[spans[gathered] <= _LONGEST_RAIN_H]:
        hours = int(spans[row])
        span = slice(max(0, row + 1 - hours), row + 1)
        # Where two spans overlap the longer of them, with the larger share, is the careful one.
        known[span] = np.fmax(known[span], rain[row] / hours)
        lengths[span] = np.maximum(lengths[span], hours)
    if gathered.size:
        warnings.append(
            f"rain was gathered over several hours {gathered.size} times; each hour of such a span "
            "counts as rainy"
        )
    return known, lengths
