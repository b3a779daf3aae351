"""Readings that are due on a day of work: before the start, every 4 hours, at changes, at the end.

Times of the clock are those of the site for the day alone: hours between are hours that pass, also
on the days on which clocks are put on or back.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from windows.field.rules import field_rules
from windows.log.entries import Placement, Reading

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date
    from zoneinfo import ZoneInfo

    from numpy.typing import NDArray

    from windows.log.entries import Entry

__all__ = ["Due", "due"]


@dataclass(frozen=True)
class Due:
    """A reading that is due between ``start`` and ``end``, both included. UTC.

    Attributes
    ----------
    what
        Its occasion, one of `windows.log.entries.OCCASIONS`.
    section, layer
        Where work is, and on what.
    day
        Local day on which the work began.
    met_by
        Number of the first entry that meets it, None if there is none.
    overdue
        It is not met, and its time is over.
    coming
        Its time has not begun.
    """

    what: str
    section: str
    layer: str
    day: date
    start: datetime
    end: datetime
    met_by: int | None
    overdue: bool
    coming: bool


def due(
    placements: Iterable[Entry],
    readings: Iterable[Entry],
    *,
    zone: ZoneInfo,
    now: datetime,
    day: date | None = None,
) -> tuple[Due, ...]:
    """Return the readings that are due on the days of work, by time.

    Parameters
    ----------
    placements
        Placements that stand; other kinds are passed over. One in the future tells what is coming.
    readings
        Readings that stand. One counts that has air temperature, humidity or dew point, and surface
        temperature: what a spread needs, on the section or without one.
    zone
        The site's clock, for the days.
    now
        The present.
    day
        The day asked for, default all.

    Notes
    -----
    A day's work is that of the placements begun on it, and of those that follow on them after
    midnight without a stop. A reading is due before the first; every 4 hours from the start of work
    to its end, on each section that is worked on then, but not within a stop, after which one is
    due anyway; where section or layer changes; where work goes on after a stop of over an hour; and
    at the finish.
    """
    laid = sorted(
        (entry for entry in placements if isinstance(entry.body, Placement)),
        key=lambda entry: (entry.at, entry.number),
    )
    told = [
        asked
        for began, work in _days([_work(entry) for entry in laid], zone)
        if day in (None, began)
        for asked in _asked(began, work)
    ]
    told.sort(key=lambda asked: (asked.start, asked.end, asked.what, asked.section, asked.layer))
    times = _complete(readings) if told else {}
    return tuple(_answered(asked, times, now) for asked in told)


@dataclass(frozen=True)
class _Work:
    section: str
    layer: str
    start: datetime
    end: datetime


@dataclass(frozen=True)
class _Asked:
    what: str
    section: str
    layer: str
    day: date
    start: datetime
    end: datetime


def _work(entry: Entry) -> _Work:
    assert isinstance(entry.body, Placement)  # others were passed over
    return _Work(entry.body.section, entry.body.layer, entry.body.at, entry.body.end)


def _days(work: list[_Work], zone: ZoneInfo) -> list[tuple[date, list[_Work]]]:
    """Return the work of each day, in order of start."""
    stop = timedelta(hours=field_rules().stop_h)
    found: list[tuple[date, list[_Work]]] = []
    until = datetime.min.replace(tzinfo=UTC)
    for each in work:
        began = each.start.astimezone(zone).date()
        if found and (began == found[-1][0] or each.start - until <= stop):
            found[-1][1].append(each)
        else:
            found.append((began, [each]))
        until = max(until, each.end)
    return found


def _asked(began: date, work: list[_Work]) -> list[_Asked]:
    """Return what is asked for by the work of a day."""
    rules = field_rules()
    around, stop = timedelta(hours=rules.around_h), timedelta(hours=rules.stop_h)
    first, last = work[0], max(work, key=lambda each: each.end)

    def at(what: str, each: _Work, when: datetime, before: timedelta, after: timedelta) -> _Asked:
        return _Asked(what, each.section, each.layer, began, when - before, when + after)

    before_start = timedelta(hours=rules.before_start_h)
    told = [at("before start", first, first.start, before_start, timedelta())]
    stops, until = [], first.end
    for previous, each in pairwise(work):
        if each.start - until > stop:
            stops.append((until, each.start))
            told.append(at("after a stop", each, each.start, around, around))
        if (previous.section, previous.layer) != (each.section, each.layer):
            told.append(at("change", each, each.start, around, around))
        until = max(until, each.end)
    every = timedelta(hours=rules.every_h)
    when = first.start + every
    while when < last.end:
        going_on = () if any(a < when < b for a, b in stops) else _at_work(work, when)
        told += [at("every 4 hours", each, when, around, around) for each in going_on]
        when += every
    told.append(at("finish", last, last.end, around, around))
    return list(dict.fromkeys(told))


def _at_work(work: list[_Work], when: datetime) -> list[_Work]:
    """Return what is being laid at a moment, one for each section; in a pause what was last."""
    now = {each.section: each for each in work if each.start <= when < each.end}
    before = [each for each in work if each.end <= when]
    return list(now.values()) or [max(before, key=lambda each: each.end)]


def _complete(readings: Iterable[Entry]) -> dict[str, tuple[NDArray[np.float64], list[int]]]:
    """Return, by section, the times of readings that tell a spread, sorted, and their numbers."""
    rows: dict[str, list[tuple[float, int]]] = {}
    for entry in readings:
        body = entry.body
        if (
            isinstance(body, Reading)
            and body.air_temp_c is not None
            and body.surface_temp_c is not None
            and (body.rel_humidity is not None or body.dew_point_c is not None)
        ):
            rows.setdefault(body.section, []).append((body.at.timestamp(), entry.number))
    found = {}
    for section, each in rows.items():
        each.sort()
        found[section] = (np.array([time for time, _ in each]), [number for _, number in each])
    return found


def _answered(
    asked: _Asked, times: dict[str, tuple[NDArray[np.float64], list[int]]], now: datetime
) -> Due:
    met: list[tuple[float, int]] = []
    for section in {"", asked.section} & set(times):
        when, numbers = times[section]
        first = int(when.searchsorted(asked.start.timestamp(), side="left"))
        if first < len(numbers) and when[first] <= asked.end.timestamp():
            met.append((float(when[first]), numbers[first]))
    number = min(met)[1] if met else None
    return Due(
        asked.what, asked.section, asked.layer, asked.day, asked.start, asked.end,
        met_by=number,
        overdue=number is None and now > asked.end,
        coming=number is None and now < asked.start,
    )  # fmt: skip
