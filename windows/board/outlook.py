"""Days beyond the forecast: in how many past years one like it was workable for the layer to come.

No forecast is behind it: it is climate, told as such, and nobody is sent by it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.result import Outlook
from windows.board.strips import next_layer
from windows.gates import State
from windows.job import check_job
from windows.layers import on_top_of
from windows.odds.climate import LEAST_YEARS
from windows.seasons.days import ENOUGH, local_days
from windows.seasons.workable import state_of, workable_days

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from windows.board.sites import BoardJob
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["outlook"]

_EACH_SIDE = 7
"""Days before and after one that count as days like it (own choice)."""
_HALF = 0.5
"""Share of a year's days like one that must be known for it to count (own choice)."""
_BEFORE, _AFTER = 10, 6
"""Days that the roof is followed before and after those asked for, so that it is known."""


def outlook(
    job: BoardJob, days: Sequence[date], years: HourlyTable | None
) -> tuple[Outlook, ...]:
    """Return the outlook of the days after the last on which the forecast can answer an hour.

    A day like it is one on which the site has a shift, at most a week away from the date in any
    year. A year counts if half of these are known; all of them count then, as workable where the
    hours that are known hold a window. A day is told where at least ten years count.

    Parameters
    ----------
    job
        A job that can be planned.
    days
        Those of the board.
    years
        Hours of many years at the site, None if there are none.
    """
    assert job.built is not None
    assert job.system is not None
    layer = next_layer(job)
    reached = _reached(job, layer, days[0])
    ahead = [day for day in days if day > reached and not job.site.crew.is_day_off(day)]
    if years is None or not ahead:
        return ()
    site = job.site if layer == 0 else on_top_of(job.site, job.system.profiles[layer - 1])
    good, known = np.zeros((2, len(ahead)), dtype=np.int64)
    of = np.zeros(len(ahead), dtype=np.int64)
    for year in sorted({*years.index.year.tolist()}):
        found = _of_year(job, layer, site, [_in_year(day, year) for day in ahead], years)
        if found is not None:
            good, known, of = good + found[0], known + found[1], of + (found[1] > 0)
    return tuple(
        Outlook(day, float(good[n] / known[n]), int(of[n]))
        for n, day in enumerate(ahead)
        if of[n] >= LEAST_YEARS
    )


def _reached(job: BoardJob, layer: int, today: date) -> date:
    """Return the last day on which some crew hour has an answer."""
    assert job.built is not None
    assert job.in_weather is not None
    each = job.in_weather.jobs[layer]
    answered = (each.found.crew == State.OK) & (job.built.states[layer] != State.UNKNOWN)
    rows = np.flatnonzero(answered)
    if not rows.size:
        return today
    last: pd.Timestamp = each.hours.index[rows[-1]]
    return max(today, last.tz_convert(job.site.zone).date())


def _in_year(day: date, year: int) -> np.datetime64:
    """Return a day of another year; the 29th of February stands for the 28th."""
    return np.datetime64(f"{year}-{day.month:02d}-{min(day.day, 28 if day.month == 2 else 31):02d}")


def _of_year(
    job: BoardJob, layer: int, site: Site, days: list[np.datetime64], years: HourlyTable
) -> tuple[NDArray[np.int64], NDArray[np.int64]] | None:
    """Return how many days like each were workable in a year, of how many; 0 if not known."""
    first, last = min(days), max(days)
    start, end = (
        pd.Timestamp(each).tz_localize("UTC")
        for each in (
            first - np.timedelta64(_EACH_SIDE + _BEFORE, "D"),
            last + np.timedelta64(_EACH_SIDE + _AFTER, "D"),
        )
    )
    frame = years.frame.loc[start:end]
    if len(frame) < (_BEFORE + _EACH_SIDE) * 24:
        return None
    assert job.system is not None
    hours = replace(years, frame=frame, flags={}, members={})
    each = check_job(
        site, job.system.profiles[layer], hours,
        dry_film_um=job.system.layers[layer].dry_film.si, lean=True,
    )  # fmt: skip
    calendar = local_days(hours.index, site)
    found = workable_days(state_of(each), each.coating.min_window_h, calendar)
    near = np.abs(calendar.date[None, :] - np.array(days)[:, None]) <= np.timedelta64(
        _EACH_SIDE, "D"
    )
    like = near & calendar.scheduled
    # All days of a year count, or none: left out one by one, those that storms hide would make the
    # share better. Of a year that hardly anybody knows all would seem bad.
    known = (like & (found.known >= ENOUGH * calendar.crew_hours)).sum(axis=1)
    of = np.where(known >= _HALF * like.sum(axis=1), like.sum(axis=1), 0)
    return np.where(of > 0, (like & found.workable).sum(axis=1), 0), of
