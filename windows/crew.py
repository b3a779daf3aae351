"""Crew hours: which rows lie wholly inside a shift, by the site's own clock."""

from __future__ import annotations

from datetime import date
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
_EPOCH = date(1970, 1, 1).toordinal()


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
    local = _local_minutes(index, site)
    start, end = _minutes(site.crew.start), _minutes(site.crew.end)
    length = (end - start) % _DAY_MINUTES
    into_shift = (local - start) % _DAY_MINUTES
    inside = into_shift + 60 <= length
    last = _local_minutes(index + pd.Timedelta(minutes=59), site)
    for row in np.flatnonzero(last - local != 59).tolist():
        minutes = _local_minutes(pd.date_range(index[row], periods=60, freq="min"), site)
        inside[row] = ((minutes - start) % _DAY_MINUTES < length).all()
    days, place = np.unique((local - into_shift) // _DAY_MINUTES, return_inverse=True)
    off = np.array(
        [site.crew.is_day_off(date.fromordinal(_EPOCH + day)) for day in days.tolist()], dtype=bool
    )
    return np.where(inside & ~off[place], days[place], NO_SHIFT)


def _local_minutes(index: pd.DatetimeIndex, site: Site) -> NDArray[np.int64]:
    """Return what the clock at a site shows, in minutes since 1970-01-01."""
    local = index.tz_convert(site.zone).tz_localize(None)
    return np.asarray(local.as_unit("s").asi8) // 60


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
