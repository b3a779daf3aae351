"""Local days: the calendar of a table of hours, and sums over its days, weeks and months."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.crew import NO_SHIFT, shifts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.site import Site

__all__ = ["ENOUGH", "LocalDays", "Period", "local_days"]

ENOUGH = 0.9
"""Share of a month's or a week's crew hours that must be known for it to count."""

_WEEK = pd.Timedelta(days=7)


@dataclass(frozen=True)
class LocalDays:
    """The local days of the whole months and ISO weeks that a table touches.

    Attributes
    ----------
    date
        Shape (days,), datetime64[D].
    year, month, iso_year, iso_week
        Of each day, shape (days,).
    crew_hours
        Hours of the shift that begins on each day, by the calendar, also where the table has none.
        Shape (days,).
    day
        Place of the local day of each row of the table, shape (hours,).
    shift
        Place of the day whose shift each row belongs to, `NO_SHIFT` for none, shape (hours,).
    """

    date: NDArray[np.datetime64]
    year: NDArray[np.int64]
    month: NDArray[np.int64]
    iso_year: NDArray[np.int64]
    iso_week: NDArray[np.int64]
    crew_hours: NDArray[np.int64]
    day: NDArray[np.int64]
    shift: NDArray[np.int64]

    @property
    def scheduled(self) -> NDArray[np.bool_]:
        """Whether a shift begins on each day, shape (days,)."""
        found: NDArray[np.bool_] = self.crew_hours > 0
        return found

    def by_shift(self, hours: NDArray[np.bool_]) -> NDArray[np.int64]:
        """Count the flagged hours of the shift of each day, shape (days,)."""
        return self._count(self.shift, hours)

    def by_date(self, hours: NDArray[np.bool_]) -> NDArray[np.int64]:
        """Count the flagged hours of each local date, shape (days,)."""
        return self._count(self.day, hours)

    def _count(self, place: NDArray[np.int64], hours: NDArray[np.bool_]) -> NDArray[np.int64]:
        counted = place[hours & (place != NO_SHIFT)]
        return np.bincount(counted, minlength=self.date.size)

    def months(self) -> Period:
        """Return the months, numbered by year and month."""
        return self._period(self.year, self.month)

    def weeks(self) -> Period:
        """Return the ISO weeks, numbered by ISO year and week."""
        return self._period(self.iso_year, self.iso_week)

    def _period(self, year: NDArray[np.int64], number: NDArray[np.int64]) -> Period:
        keys, of_day = np.unique(year * 100 + number, return_inverse=True)
        touched = np.bincount(of_day[self.day], minlength=keys.size) > 0
        return Period(keys // 100, keys % 100, of_day, touched)


@dataclass(frozen=True)
class Period:
    """Months or weeks: the year and number of each, and which of them each day belongs to.

    ``year``, ``number`` and ``touched`` have shape (periods,), ``of_day`` (days,). A period is
    touched if the table has an hour of it.
    """

    year: NDArray[np.int64]
    number: NDArray[np.int64]
    of_day: NDArray[np.int64]
    touched: NDArray[np.bool_]

    def total(self, days: NDArray[np.int64] | NDArray[np.bool_]) -> NDArray[np.int64]:
        """Return the sum over the days of each period, shape (periods,)."""
        sums = np.bincount(self.of_day, weights=days, minlength=self.year.size)
        return np.rint(sums).astype(np.int64)

    def counts(self, known: NDArray[np.int64], asked: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Tell which periods count: of their hours enough are known, and there are any.

        Parameters
        ----------
        known, asked
            Hours that are known and hours in all of each day, shape (days,).
        """
        whole = self.total(asked)
        enough = self.total(known) >= np.ceil(ENOUGH * whole - 1e-9)
        found: NDArray[np.bool_] = enough & (whole > 0) & self.touched
        return found


def local_days(index: pd.DatetimeIndex, site: Site) -> LocalDays:
    """Return the local days of a table.

    Parameters
    ----------
    index
        Starts of its hours, hourly, UTC.
    site
        Its clock, shift, work days and holidays.
    """
    local = index[[0, -1]].tz_convert(site.zone).tz_localize(None)
    # Whole months, and so far beyond them that every ISO week is whole.
    first = local[0].normalize().replace(day=1) - _WEEK
    last = (local[1].normalize().replace(day=1) + pd.DateOffset(months=1)) + _WEEK
    dates = pd.date_range(first, last, freq="D", inclusive="left")
    hour = pd.Timedelta(hours=1)
    # A day more on either side, so that no clock change and no shift past midnight is cut.
    before, after = int((local[0] - first) / hour) + 26, int((last - local[1]) / hour) + 26
    whole = pd.date_range(index[0] - before * hour, index[-1] + after * hour, freq="h")
    numbers = shifts(whole, site)
    origin = dates[0].to_datetime64().astype("datetime64[D]").astype(np.int64)
    place = numbers[numbers != NO_SHIFT] - origin
    inside = (place >= 0) & (place < len(dates))
    own = numbers[before : before + len(index)]
    clock = index.tz_convert(site.zone).tz_localize(None).normalize()
    iso = dates.isocalendar()
    return LocalDays(
        date=dates.to_numpy().astype("datetime64[D]"),
        year=dates.year.to_numpy(np.int64),
        month=dates.month.to_numpy(np.int64),
        iso_year=iso["year"].to_numpy(np.int64),
        iso_week=iso["week"].to_numpy(np.int64),
        crew_hours=np.bincount(place[inside], minlength=len(dates)),
        day=clock.to_numpy().astype("datetime64[D]").astype(np.int64) - origin,
        shift=np.where(own == NO_SHIFT, NO_SHIFT, own - origin),
    )
