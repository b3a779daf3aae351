"""What the years say of a job begun in each week: cases, chances, the starts that are safe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from windows.seasons.statistics import LEAST_YEARS, Finishes, Percentiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.coating import Limits
    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.pieces import Piece
    from windows.site import Site

    Places = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["MIDWINTER", "SAFE", "Bid", "Cases", "StartWeek"]

SAFE = 0.8
"""Chance to finish in time from which a start is called safe."""
MIDWINTER = {False: 1221, True: 621}
"""Month and day of the shortest day in the north, and in the south, as one number."""


@dataclass(frozen=True)
class Cases:
    """The job begun on every scheduled day, arrays of shape (cases,).

    Attributes
    ----------
    day, year, week, weekday
        The day of the beginning, its ISO year and week, and 0 on Monday.
    duration
        Calendar days to the finish, both counted; of an open case the days that it was followed.
    is_open
        Whether the finish is not known.
    crew_days
        Shifts worked, where the finish is known.
    stranded, over_winter
        Layers that a crew which does not look ahead would strand, and leave over winter.
    blind_open
        Whether it is not known when that crew finishes.
    """

    day: NDArray[np.datetime64]
    year: Places
    week: Places
    weekday: Places
    duration: Places
    is_open: Flags
    crew_days: Places
    stranded: Places
    over_winter: Places
    blind_open: Flags

    def of(self, wanted: Flags) -> Cases:
        """Return some of the cases."""
        return Cases(*(getattr(self, name)[wanted] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class StartWeek:
    """An ISO week in which the job begins, over all years.

    Attributes
    ----------
    number, cases
        Of the week, and its cases.
    duration, finish
        Percentiles of the calendar days that it takes, and of the days from the Monday of the week
        to the finish.
    finishes
        The finishes in days from that Monday.
    crew_days
        Median of the shifts worked, NaN if no case has finished.
    divided_days
        What crew-days over the share of workable days would promise: calendar days, infinite where
        no day is workable, NaN where crew-days or share are not known.
    strands, leaves_over_winter
        Chance that a crew which does not look ahead strands a layer, and leaves one over winter;
        NaN where less than 90 % of the cases show it.
    """

    number: int
    cases: Cases
    duration: Percentiles
    finish: Percentiles
    finishes: Finishes
    crew_days: float
    divided_days: float
    strands: float
    leaves_over_winter: float

    def chance_by(self, monday: date, by: date) -> float:
        """Return the chance that a job begun in the week of a Monday is finished by a date.

        NaN where the date is before that Monday, or beyond what the cases tell. [fraction]
        """
        days = (by - monday).days
        return self.finishes.by(days) if days >= 0 else float("nan")

    def by_year(self) -> list[tuple[int, int, bool]]:
        """Return each year's longest duration of the week, and whether a case of it is open."""
        found = []
        for year in np.unique(self.cases.year).tolist():
            mine = self.cases.of(self.cases.year == year)
            found.append((year, int(mine.duration.max()), bool(mine.is_open.any())))
        return found


@dataclass(frozen=True)
class Bid:
    """A system on a roof, begun on every day of many years.

    ``left_out`` are the months that do not count, ``known`` is the share of crew hours known,
    ``notes`` say what of the job was not heeded.
    """

    site: Site
    system: System
    hours: HourlyTable
    pieces: tuple[Piece, ...]
    limits: Limits
    weeks: tuple[StartWeek, ...]
    left_out: tuple[tuple[int, int], ...]
    known: float
    cases: Cases
    notes: tuple[str, ...]

    def week(self, number: int) -> StartWeek | None:
        """Return a week by its number, None without cases."""
        return next((week for week in self.weeks if week.number == number), None)

    def mondays(self, today: date) -> list[tuple[date, StartWeek]]:
        """Return the Mondays of a year from today on, each with what the years say of its week."""
        first = today + timedelta(days=-today.weekday() % 7)
        days = [first + timedelta(weeks=n) for n in range(52)]
        found = [(day, self.week(day.isocalendar().week)) for day in days]
        return [(day, week) for day, week in found if week is not None]

    def best_start(self, today: date) -> tuple[date, StartWeek] | None:
        """Return the Monday of the year to come from which the job takes the least time.

        By P80; by P50 if no week has one.
        """
        mondays = self.mondays(today)
        by_p80 = any(week.duration.p80 is not None for _, week in mondays)
        told = [
            (length, day, week)
            for day, week in mondays
            if (length := week.duration.p80 if by_p80 else week.duration.p50) is not None
        ]
        if not told:
            return None
        _, day, week = min(told, key=lambda each: (each[0], each[1]))
        return day, week

    def before_winter(self, monday: date, week: StartWeek) -> float:
        """Return the chance that a job begun in a week is finished before the next midwinter.

        NaN where the cases do not tell; see `StartWeek.chance_by`. [fraction]
        """
        month, day = divmod(MIDWINTER[self.site.latitude < 0], 100)
        winter = date(monday.year, month, day)
        if winter <= monday:
            winter = winter.replace(year=monday.year + 1)
        return week.chance_by(monday, winter - timedelta(days=1))

    def last_safe_start(self, today: date, by: date | None = None) -> date | None:
        """Return the last Monday from which the job is finished in time with 80 % chance.

        In time is by a date; without one before midwinter, from the first such week at or after the
        best start on without a break. Weeks of fewer than five years, as the 53rd is, are left out.
        """
        mondays = self.mondays(today)
        if by is not None:
            safe = [day for day, week in mondays if _is_safe(week, week.chance_by(day, by))]
            return safe[-1] if safe else None
        best = self.best_start(today)
        last = None
        for day, week in mondays:
            if best is None or day < best[0]:
                continue
            if _is_safe(week, self.before_winter(day, week)):
                last = day
            elif last is not None and _is_told(week):
                break
        return last


def _is_told(week: StartWeek) -> bool:
    return week.duration.years >= LEAST_YEARS[0.8]


def _is_safe(week: StartWeek, chance: float) -> bool:
    return _is_told(week) and chance >= SAFE
