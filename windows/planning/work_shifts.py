"""The crew's shifts as spans of ticks, less set-up and clean-up; extra days among them."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from windows.crew import NO_SHIFT, shifts
from windows.gates import State
from windows.job_file import with_extra_days
from windows.planning.problem import TICKS_PER_HOUR, ticks_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from windows.gates import States
    from windows.job_file import JobFile
    from windows.site import Site

__all__ = ["WorkShifts", "weekday_of", "work_shifts"]


@dataclass(frozen=True)
class WorkShifts:
    """Shifts in which there is time for work: arrays, one entry a shift.

    First tick of work and the one after the last, the day on which the shift begins in days since
    1970-01-01, and whether it is an extra one.
    """

    first: NDArray[np.int64]
    last: NDArray[np.int64]
    day: NDArray[np.int64]
    extra: NDArray[np.bool_]

    @property
    def weekday(self) -> NDArray[np.int64]:
        """Day of the week on which each begins, 0 on Monday."""
        return weekday_of(self.day)


def weekday_of(day: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the day of the week of days counted from 1970-01-01, 0 on Monday, of any shape."""
    return (day + 3) % 7  # 1970-01-01 was a Thursday


def work_shifts(
    index: pd.DatetimeIndex, site: Site, job: JobFile, states: Sequence[States]
) -> WorkShifts:
    """Return the shifts in which there is time for work, extra days among them.

    Parameters
    ----------
    index
        Starts of the hours, UTC.
    site, job
        The crew's shifts, extra days, set-up and clean-up.
    states
        Of every layer, shape (hours,) each: what they leave of the week tells whether an extra day
        makes up for a lost one.
    """
    regular = shifts(index, site)
    every = shifts(index, with_extra_days(site, job)) if job.crew.extra_days else regular
    rows = np.flatnonzero(every != NO_SHIFT)
    day, at = np.unique(every[rows], return_index=True)
    first, last = rows[at], np.append(rows[at[1:] - 1], rows[-1:])
    extra = ~np.isin(day, regular)
    wanted = np.full(day.shape, True)
    if job.crew.extra_days_only_after_rain and extra.any():
        lost = np.minimum.reduce(states)[rows] == State.BLOCKED  # for every layer
        whole = np.logical_and.reduceat(lost, at) & ~extra
        whole &= (first > 0) & (last + 1 < len(index))  # the data do not cut it
        monday = day - weekday_of(day)
        lost_days = day[whole]
        lost_this_week = np.searchsorted(lost_days, day) > np.searchsorted(lost_days, monday)
        wanted = ~extra | lost_this_week
    found = WorkShifts(
        first * TICKS_PER_HOUR + ticks_of(job.crew.set_up),
        (last + 1) * TICKS_PER_HOUR - ticks_of(job.crew.clean_up),
        day,
        extra,
    )
    return WorkShifts(*(getattr(found, f.name)[wanted] for f in fields(found)))
