"""Crew hours: which rows lie wholly inside a shift, by the site's own clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from datetime import time

    from numpy.typing import NDArray

    from windows.site import Site

__all__ = ["NO_SHIFT", "shift_end", "shifts"]

NO_SHIFT = -1
_DAY_MINUTES = 1440


def shifts(index: pd.DatetimeIndex, site: Site) -> NDArray[np.int64]:
    """Return the shift that each row belongs to, or `NO_SHIFT`.

    Parameters
    ----------
    index
        Starts of the rows, UTC.
    site
        Its clock, shift, work days and holidays.

    Returns
    -------
    NDArray
        Shape (hours,): the day on which the shift begins, in days since 1970-01-01.

    Notes
    -----
    A row counts only if its whole hour lies inside the shift. A shift that ends at or before its
    start goes past midnight and belongs to the day on which it began. Where the clock is put on or
    back inside the row, every minute of it is looked up.
    """
    local = index.tz_convert(site.zone).tz_localize(None)
    start, end = _minutes(site.crew.start), _minutes(site.crew.end)
    length = (end - start) % _DAY_MINUTES
    clock = local.hour * 60 + local.minute
    into_shift = np.asarray((clock - start) % _DAY_MINUTES)
    inside = into_shift + 60 <= length
    last = (index + pd.Timedelta(minutes=59)).tz_convert(site.zone).tz_localize(None)
    for row in np.flatnonzero(last - local != pd.Timedelta(minutes=59)).tolist():
        minutes = pd.date_range(index[row], periods=60, freq="min").tz_convert(site.zone)
        into = (minutes.hour * 60 + minutes.minute - start) % _DAY_MINUTES
        inside[row] = (into < length).all()
    began = (local - pd.to_timedelta(into_shift, unit="min")).normalize()
    days, place = np.unique(began.to_numpy(), return_inverse=True)
    off = np.array([site.crew.is_day_off(day) for day in pd.DatetimeIndex(days).date], dtype=bool)
    number = days.astype("datetime64[D]").astype(np.int64)
    return np.where(inside & ~off[place], number[place], NO_SHIFT)


def shift_end(index: pd.DatetimeIndex, site: Site, row: int) -> int:
    """Return the row at which the shift of a row is over; its local day, if it is in no shift.

    It is the length of ``index`` where that ends first.
    """
    shift = shifts(index, site)
    same = shift == shift[row]
    if shift[row] == NO_SHIFT:
        day = index.tz_convert(site.zone).normalize()
        same = np.asarray(day == day[row])
    return int(np.flatnonzero(same)[-1]) + 1


def _minutes(clock: time) -> int:
    return clock.hour * 60 + clock.minute
