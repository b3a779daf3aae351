"""The rows of an hourly table: whole hours, in order, one an hour, none left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.fields import YEARS
from windows.flags import Flag

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cure_models.arrays import FloatArray

__all__ = [
    "every_hour", "in_order", "middles_of_hours", "one_row_a_time", "such", "unix_seconds",
    "whole_hours", "years_of_weather",
]  # fmt: skip

_LONGEST_GAP = pd.Timedelta(days=3653)
"""A longer gap is a mistyped year, and would make a table of millions of empty hours."""


def such(count: int, noun: str) -> str:
    """Return how many rows have a fault, where it is more than the one that is named."""
    return f" ({count} such {noun})" if count > 1 else ""


def unix_seconds(index: pd.DatetimeIndex) -> FloatArray:
    """Return the times of an index in seconds since 1970, UTC, shape (hours,). [s]"""
    return np.asarray(index.tz_localize(None).to_numpy("datetime64[s]"), dtype=np.float64)


def middles_of_hours(starts: FloatArray) -> FloatArray:
    """Return the middles of hours from their starts, of any shape. [s]"""
    return starts + 1800.0


def years_of_weather(times: pd.DatetimeIndex, place: str) -> None:
    """Refuse rows of a year that no weather has: clocks and calendars end, and so would the run.

    Raises
    ------
    HoursError
        If there are such.
    """
    years = np.asarray(times.year)
    odd = (years < YEARS[0]) | (years > YEARS[-1])
    if odd.any():
        raise HoursError(
            f"{place}: a row is of the year {years[odd][0]:04d}{such(int(odd.sum()), 'rows')}, but "
            f"weather is of {YEARS[0]} to {YEARS[-1]}; mend the year of the rows"
        )


def whole_hours(times: pd.DatetimeIndex, place: str) -> None:
    """Refuse rows between the hours, and a gap that only a mistyped year can make.

    Raises
    ------
    HoursError
        If there are such.
    """
    apart = (times - times[0]) % pd.Timedelta(hours=1) != pd.Timedelta(0)
    if apart.any():
        raise HoursError(
            f"{place}: the row of {times[apart][0]:%Y-%m-%d %H:%M:%S} UTC is not a whole number of "
            f"hours after the first row{such(int(apart.sum()), 'rows')}; give one row an hour"
        )
    if (times[0].second, times[0].microsecond, times[0].nanosecond) != (0, 0, 0):
        raise HoursError(
            f"{place}: the rows begin at {times[0]:%H:%M:%S}, between two minutes; give hours that "
            "begin on a whole minute"
        )
    ordered = times.sort_values()
    far = ordered[1:] - ordered[:-1] > _LONGEST_GAP
    if far.any():
        before = int(np.argmax(far))
        raise HoursError(
            f"{place}: no rows between {ordered[before]:%Y-%m-%d} and "
            f"{ordered[before + 1]:%Y-%m-%d}, more than ten years; mend the year of the rows"
        )


def in_order(
    frame: pd.DataFrame, marks: pd.DataFrame, place: str, recorded: bool, found: list[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return rows and their marks in order of time, one an hour; what was done is in ``found``.

    Raises
    ------
    HoursError
        If two rows of one hour differ, in a table that is not ``recorded``.
    """
    if not frame.index.is_monotonic_increasing:
        found.append("rows were not in order of time; they are sorted")
        frame, marks = frame.sort_index(kind="stable"), marks.sort_index(kind="stable")
    twice = frame.index.duplicated(keep=False)
    if not twice.any():
        return frame, marks
    once = ~frame.index.duplicated()
    # Group by hour: equal rows collapse to one, NaN counts as a value of its own.
    distinct = frame[twice].reset_index().drop_duplicates()
    hours = pd.DatetimeIndex(distinct.iloc[:, 0])
    clash = hours[hours.duplicated()].unique()
    if len(clash) and not recorded:
        raise HoursError(
            f"{place}: two rows for {clash[0]:%Y-%m-%d %H:%M} UTC differ"
            f"{such(len(clash), 'hours')}; keep the right one"
        )
    if len(clash):
        found.append(
            f"rows of one hour differ, the first at {clash[0]:%Y-%m-%d %H:%M} UTC"
            f"{such(len(clash), 'hours')}: the most rain stands, what else differs is unknown"
        )
        frame, marks = _settled(frame, marks, clash)
        return frame[once], marks[once]
    dropped = int((~once).sum())
    found.append(
        "1 row is a copy of another; it is dropped"
        if dropped == 1
        else f"{dropped} rows are copies of others; they are dropped"
    )
    return frame[once], marks[once]


def one_row_a_time(
    frame: pd.DataFrame, most: Sequence[str] = ()
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return one row for each time of the index, and where its rows did not agree.

    What differs is unknown, and so is a value beside one that is missing: the missing one could
    have been worse. Of the columns ``most`` the highest value counts where all are known.
    """
    grouped = frame.groupby(level=0)
    high, low = grouped.max(), grouped.min()
    known = grouped.count()
    whole = known.eq(grouped.size(), axis=0)
    differ = ((high != low) | ~whole) & (known > 0)
    agreed = high.where(~differ)
    agreed[list(most)] = high[list(most)].where(whole[list(most)])
    return agreed, differ


def _settled(
    frame: pd.DataFrame, marks: pd.DataFrame, clash: pd.DatetimeIndex
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return rows in which the hours of ``clash`` agree: the most rain, else unknown.

    See `one_row_a_time`.
    """
    rows = frame.index.isin(clash)
    wettest = [name for name in ("rain_mm", "rain_trace", "rain_prob") if name in frame]
    agreed, differ = (
        each.reindex(frame.index[rows]) for each in one_row_a_time(frame[rows], wettest)
    )
    frame = frame.copy()
    frame.loc[rows] = agreed
    for name in frame.columns[differ.any()]:
        before = marks[name].to_numpy() if name in marks else np.zeros(len(marks), dtype=np.int64)
        here = np.zeros(len(marks), dtype=bool)
        here[rows] = differ[name].to_numpy()
        marks = marks.assign(**{str(name): before | np.where(here, int(Flag.DUPLICATE), 0)})
    return frame, marks


def every_hour(frame: pd.DataFrame, found: list[str]) -> pd.DataFrame:
    """Return a row for each hour from the first to the last, NaN where there was none.

    How many those are is added to ``found``.
    """
    hours = pd.date_range(frame.index[0], frame.index[-1], freq="h", name=frame.index.name)
    missing = hours.difference(pd.DatetimeIndex(frame.index))
    if len(missing):
        found.append(
            f"{len(missing)} of {len(hours)} hours {'is' if len(missing) == 1 else 'are'} not in "
            f"the table, the first {missing[0]:%Y-%m-%d %H:%M} UTC; what is not there is unknown"
        )
    return frame.reindex(hours)
