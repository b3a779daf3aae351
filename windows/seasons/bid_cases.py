"""A job replayed from every scheduled day, as cases: when each finishes, and what is stranded.

A case is followed as far as the months count: one that runs on into a month with too few known
hours, or beyond the record, is open.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.planning.problem import TICKS_PER_HOUR
from windows.planning.work_shifts import weekday_of
from windows.seasons.bid_result import MIDWINTER, Cases

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.replay import Replay
    from windows.seasons.days import LocalDays
    from windows.site import Site

    Places = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["cases_of", "known_until"]

_WINTER_GAP_DAYS = 28


def known_until(
    good: Flags, days: LocalDays, index: pd.DatetimeIndex, site: Site
) -> NDArray[np.int64]:
    """Return, for each row, the first one after it that does not count, and its local day.

    Shape (2, hours): the row, the number of rows if there is none, and the place of its day.
    """
    rows = len(index)
    bad = np.append(np.flatnonzero(~good[days.months().of_day[days.day]]), rows)
    first = bad[np.searchsorted(bad, np.arange(rows))]
    local = (index[-1] + pd.Timedelta(hours=1)).tz_convert(site.zone).date()
    after = np.datetime64(local, "D").astype(np.int64) - days.date[0].astype(np.int64)
    day = np.append(days.day, after)
    return np.stack([first, day[first]])


def cases_of(
    steady: Replay, blind: Replay, place: Places, until: Places, days: LocalDays, site: Site
) -> Cases:
    """Return the cases of a job, from what two crews lay from each beginning.

    Parameters
    ----------
    steady, blind
        A crew that looks ahead, which gives the durations, and one that does not.
    place
        Local day of each beginning, counted in ``days``, shape (cases,).
    until
        Row and local day up to which each case is followed, shape (2, cases), by `known_until`.
    days, site
        The days of the record, and where.
    """
    found = _followed(steady, until, days)
    length = found.finish_day - place + np.where(found.is_open, 0, 1)
    winter = _winters(days, southern=site.latitude < 0)
    return Cases(
        day=days.date[place],
        year=days.iso_year[place],
        week=days.iso_week[place],
        weekday=weekday_of(days.date[place].astype(np.int64)),
        duration=length,
        is_open=found.is_open,
        crew_days=found.crew_days,
        stranded=blind.stranded(until[0] * TICKS_PER_HOUR),
        over_winter=_over_winter(blind, until, days, winter),
        blind_open=blind.finish.astype(np.int64) > until[0] * TICKS_PER_HOUR,
    )


@dataclass(frozen=True)
class _Followed:
    """How far the job was followed from each case, shape (cases,)."""

    finish_day: Places
    is_open: Flags
    crew_days: Places


def _followed(found: Replay, until: Places, days: LocalDays) -> _Followed:
    finish = found.finish.astype(np.int64)
    is_open = finish > until[0] * TICKS_PER_HOUR
    return _Followed(
        np.where(is_open, until[1], _day_of(finish, days)), is_open, found.crew_days
    )


def _day_of(end: Places, days: LocalDays) -> Places:
    """Return the local day on which work ends, the one before for work that ends at midnight."""
    row = np.clip((end - 1) // TICKS_PER_HOUR, 0, days.day.size - 1)
    return days.day[row]


def _winters(days: LocalDays, *, southern: bool) -> Places:
    """Return the midwinters up to and with each day, shape (days,)."""
    month_start = days.date.astype("datetime64[M]").astype("datetime64[D]")
    number = days.month * 100 + (days.date - month_start).astype(np.int64) + 1
    count: Places = days.year + (number >= MIDWINTER[southern])
    return count


def _over_winter(blind: Replay, until: Places, days: LocalDays, winter: Places) -> Places:
    """Count the layers that lie bare of their next one over midwinter, 28 days or more."""
    limit = until[0] * TICKS_PER_HOUR
    count = np.zeros(limit.shape, dtype=np.int64)
    layers = blind.start.shape[1]
    for piece in range(blind.start.shape[0]):
        for layer in range(layers - 1):
            end = blind.end[piece, layer].astype(np.int64)
            start = blind.start[piece, layer + 1].astype(np.int64)
            laid = end <= limit
            since = _day_of(np.where(laid, end, 1), days)
            row = np.minimum(start // TICKS_PER_HOUR, days.day.size - 1)
            to = np.where(start <= limit, days.day[row], until[1])
            holds = winter[np.minimum(to, winter.size - 1)] > winter[np.maximum(since - 1, 0)]
            count += laid & (to - since >= _WINTER_GAP_DAYS) & holds
    return count
