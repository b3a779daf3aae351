"""Hours from a data frame: the way in for weather that somebody has already."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.arrays import floats
from windows.errors import HoursError, did_you_mean
from windows.hours import COLUMNS, check_hours
from windows.provenance import KINDS, Provenance

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable
    from windows.provenance import Kind

__all__ = ["hours_from"]


def hours_from(
    frame: pd.DataFrame,
    *,
    name: str = "DataFrame",
    kind: Kind = "not told",
    issued: datetime | None = None,
) -> HourlyTable:
    """Return the hours of a data frame, checked as those of a weather file are.

    Parameters
    ----------
    frame
        One row an hour, its index the start of the hour with a time zone; row ``T`` covers
        ``[T, T + 1 h)``. Columns as in `windows.hours.COLUMNS`, of which ``air_temp_c`` [degC],
        ``wind_m_s`` at 10 m [m/s], ``rain_mm`` in the hour [mm] and one of ``dew_point_c`` [degC]
        and ``rel_humidity`` [fraction] must be there. NaN is not known; hours that are not there
        are not known either.
    name
        What the hours are called in results and in what is wrong with them.
    kind
        ``"forecast"``, ``"observed"``, ``"reanalysis"``, ``"typical"`` or ``"not told"``.
    issued
        When a forecast was made, with its zone.

    Returns
    -------
    HourlyTable
        ``table.frame`` is the data frame again: every hour, UTC, float columns.

    Raises
    ------
    HoursError
        If it is no data frame, the index has no zone or is none of times, a column is not known, is
        there twice or holds no numbers, or what `windows.hours.check_hours` refuses: a column that
        is missing, a value that nature does not have (another unit, as a rule), rows of one hour
        that differ.

    Examples
    --------
    >>> import pandas as pd
    >>> from windows import hours_from
    >>> index = pd.date_range("2026-05-01 06:00", periods=3, freq="h", tz="America/Chicago")
    >>> readings = pd.DataFrame(
    ...     {"air_temp_c": [14.0, 16.5, None], "dew_point_c": 9.0, "wind_m_s": 3.0, "rain_mm": 0.0},
    ...     index=index,
    ... )
    >>> hours = hours_from(readings, name="roof station", kind="observed")
    >>> hours.index[0].isoformat(), hours.warnings
    ('2026-05-01T11:00:00+00:00', ('air_temp_c unknown in 1 of 3 hours',))

    Another unit is told, and never converted in silence:

    >>> hours_from(readings.assign(air_temp_c=[58.0, 62.0, 65.0]))  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    windows.errors.HoursError: DataFrame: air_temp_c of 58 degC at ... looks like degF ...
    """
    if not isinstance(frame, pd.DataFrame):
        raise HoursError(
            f"{name}: a {type(frame).__name__} is no DataFrame; give one, or for a file take "
            "read_weather(path)"
        )
    if kind not in KINDS:
        raise HoursError(f"{name}: kind '{kind}' is not known; give one of {', '.join(KINDS)}")
    if issued is not None and not isinstance(issued, datetime):
        raise HoursError(
            f"{name}: issued {issued!r} is no time; give a datetime with a zone"
        )
    if issued is not None and issued.tzinfo is None:
        raise HoursError(f"{name}: issued {issued} has no time zone; give it one, as UTC")
    told = None if issued is None else pd.Timestamp(issued).tz_convert("UTC")
    times = _times(frame, name)
    _check_names(frame, name)
    columns = {str(column): _numbers(frame, str(column), name) for column in frame}
    return check_hours(columns, times, Provenance(name, name, told, kind=kind))


def _times(frame: pd.DataFrame, name: str) -> pd.DatetimeIndex:
    """Return the index as times of a zone."""
    index = frame.index
    if not isinstance(index, pd.DatetimeIndex):
        raise HoursError(
            f"{name}: the index holds no times; make the start of each hour the index, as in "
            'frame.set_index(pd.to_datetime(frame["time"], utc=True))'
        )
    if index.tz is None:
        raise HoursError(
            f"{name}: the times of the index have no zone; say whose clock they are, as in "
            'frame.tz_localize("UTC")'
        )
    if index.hasnans:
        missing = int(np.argmax(index.isna()))
        raise HoursError(f"{name}: row {missing} has no time in the index; give it one or drop it")
    return index


def _check_names(frame: pd.DataFrame, name: str) -> None:
    """Refuse columns that are not known, or there twice."""
    names = [str(column) for column in frame]
    for column in names:
        if column not in COLUMNS:
            raise HoursError(
                f"{name}: column '{column}' is not known: convert it to the unit in the name and "
                f"rename it, or drop it; {did_you_mean(column.lower(), COLUMNS)}"
            )
        if names.count(column) > 1:
            raise HoursError(f"{name}: column '{column}' is there twice; keep one of them")


def _numbers(frame: pd.DataFrame, column: str, name: str) -> FloatArray:
    """Return a column as numbers, NaN where it is missing."""
    given = frame[column]
    if given.isna().all():  # a column of which nothing is known may have any type
        return np.full(len(given), np.nan)
    if pd.api.types.is_bool_dtype(given.dtype):
        is_fit = column == "rain_trace"  # yes or no is no number of anything else
    else:
        is_fit = pd.api.types.is_any_real_numeric_dtype(given.dtype)
    if not is_fit:
        raise HoursError(
            f"{name}: column '{column}' holds {given.dtype}, not numbers; convert it, as in "
            f'pd.to_numeric(frame["{column}"])'
        )
    return floats(given.astype("Float64").to_numpy(dtype=np.float64, na_value=np.nan))
