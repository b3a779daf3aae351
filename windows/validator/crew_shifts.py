"""The crew's shifts by the site's own clock, minute by minute."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from windows.job_file import Crew
    from windows.site import Site

__all__ = ["CrewShifts"]


class CrewShifts:
    """The crew's shifts by the site's own clock."""

    def __init__(self, site: Site, crew: Crew) -> None:
        self._site = site
        extra_days = (*site.crew.work_days, *crew.extra_days)
        self._with_extra = site.crew.model_copy(update={"work_days": extra_days})
        self._spans: dict[date, tuple[pd.Timestamp, pd.Timestamp]] = {}

    def regular(self, day: date) -> bool:
        """Tell whether a day is a work day of the site."""
        return not self._site.crew.is_day_off(day)

    def works(self, day: date) -> bool:
        """Tell whether a day is a work day or an extra day, and neither off nor a holiday."""
        return not self._with_extra.is_day_off(day)

    def span(self, day: date) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Return the shift that begins on a day: its minutes by the clock, of a break the longer.

        A clock that is put back shows some minutes twice, and may so leave a shift and come back.
        """
        if day not in self._spans:
            crew = self._site.crew
            opens = pd.Timestamp.combine(day, crew.start)
            over_midnight = timedelta(days=int(crew.end <= crew.start))
            closes = pd.Timestamp.combine(day + over_midnight, crew.end)
            minutes = pd.date_range(
                pd.Timestamp(day, tz="UTC") - pd.Timedelta(days=1), periods=4 * 1440, freq="min"
            )
            wall = minutes.tz_convert(self._site.zone).tz_localize(None)
            inside = np.flatnonzero((wall >= opens) & (wall < closes))
            parts = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1)
            longest = max(parts, key=len)
            if len(longest) == 0:  # a clock that was put on skipped it
                self._spans[day] = (minutes[0], minutes[0])
            else:
                minute = pd.Timedelta(minutes=1)
                self._spans[day] = (minutes[longest[0]], minutes[longest[-1]] + minute)
        return self._spans[day]

    def day_of(self, start: pd.Timestamp, end: pd.Timestamp) -> date | None:
        """Return the day of the shift that holds a time, worked or not; None where none does."""
        local = start.tz_convert(self._site.zone).date()
        for day in (local, local - timedelta(days=1)):
            opens, closes = self.span(day)
            if opens <= start and end <= closes:
                return day
        return None
