"""A job begun on every day of many years: when it finishes, and what that makes of a date.

A duration comes from the years replayed, never from crew-days divided by a share of workable days;
that division stands beside it, as the mistake that it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.system_rules import first_retarder
from windows.errors import HoursError, SiteError
from windows.planning.build import problems, work_shifts
from windows.planning.problem import TICKS_PER_HOUR
from windows.planning.replay import replay_blind, replay_steady
from windows.seasons.days import ENOUGH, local_days
from windows.seasons.layers import season_layers
from windows.seasons.statistics import (
    LEAST_YEARS,
    Finishes,
    Percentiles,
    inverse_cdf,
    percentiles,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.coating import Limits
    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.job_file import JobFile, Piece
    from windows.planning.problem import Problem
    from windows.planning.replay import Replay
    from windows.seasons.days import LocalDays
    from windows.seasons.layers import SeasonLayer
    from windows.site import Site

    Places = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["SAFE", "Bid", "Cases", "StartWeek", "bid_of"]

SAFE = 0.8
"""Chance to finish in time from which a start is called safe."""
_WINTER_GAP_DAYS = 28
_MIDWINTER = {False: 1221, True: 621}
"""Month and day of the shortest day in the north, and in the south, as one number."""
_WEEK_DAYS = 7


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
        no day is workable.
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
        """Return the chance that a job begun in the week of a Monday is finished by a date."""
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
        """Return the chance that a job begun in a week is finished before the next midwinter."""
        month, day = divmod(_MIDWINTER[self.site.latitude < 0], 100)
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


def bid_of(
    site: Site,
    system: System,
    hours: HourlyTable,
    job: JobFile,
    pieces: Sequence[Piece],
    *,
    limits: Limits = "generic",
) -> Bid:
    """Replay a job from every scheduled day of many years.

    Parameters
    ----------
    site, system, hours
        Where, what, and hours of many years.
    job
        The crew and the substrate; extra days are not worked.
    pieces
        The roof in parts, nothing laid on them.
    limits
        End of every range of the coatings that counts.

    Raises
    ------
    HoursError
        If no month counts.
    SiteError
        If nothing is known of a substrate that matters, no rate is known, or no shift is long
        enough for a part.
    """
    notes = _not_heeded(job, site)
    job = _over_years(job, system)
    days = local_days(hours.index, site)
    layers = season_layers(site, system, hours, job, days, limits=limits)
    times = [each.times for each in layers]
    found = work_shifts(hours.index, site, job, [each.states for each in times])
    problem, blind = problems(system, times, found, pieces, job, 0, whole=True)
    _check_room(system, problem, int((found.last - found.first).max(initial=0)))
    notes += _never(system, problem)
    good, left_out, known = _months(layers, days)
    origin = int(days.date[0].astype(np.int64))
    place = found.day - origin
    begun = good[days.months().of_day[place]]
    if not begun.any():
        raise HoursError(
            f"{hours.provenance.place}: no month has 90 % of its crew hours known for every layer; "
            "dewgap season shows what is missing for each coating"
        )
    until = _known_until(good, days, hours.index, site)
    row = np.minimum(found.first // TICKS_PER_HOUR, len(hours.index) - 1)
    place, row, begin = place[begun], row[begun], found.first[begun]
    until = until[:, row]
    followed = _followed(replay_steady(problem, begin), until, days)
    cases = _cases(followed, replay_blind(blind, begin), place, until, days, site)
    shares = _shares(layers, days, good)
    weeks = [
        _week(number, cases.of(cases.week == number), shares, len(site.crew.work_days))
        for number in np.unique(cases.week).tolist()
    ]
    return Bid(
        site, system, hours, tuple(pieces), limits, tuple(weeks), left_out, known, cases, notes
    )


def _not_heeded(job: JobFile, site: Site) -> tuple[str, ...]:
    """Return what of the files a bid leaves aside."""
    told = {
        "what is laid already is taken as still to be done": job.has_laid,
        "extra days are not worked": bool(job.crew.extra_days),
        "the moisture reading is left aside, dry_out counts": (
            job.substrate is not None and job.substrate.read_at is not None
        ),
    }
    notes = [f"{job.where or 'job.toml'}: {text}" for text, so in told.items() if so]
    if site.crew.days_off:
        notes.append("days_off of the site are dates of their own years: no other year has them")
    return tuple(notes)


def _never(system: System, problem: Problem) -> tuple[str, ...]:
    """Return which layers can be laid at no start of all the years, and be followed."""
    found = {
        f"layer '{layer.name}' of section '{task.name}' has no start in all these years from which "
        "the layers above it can follow: not enough hours, or not in one shift"
        for task in problem.tasks
        for layer, choice in zip(system.layers, task.choices, strict=True)
        if not choice.start.size
    }
    return tuple(sorted(found)[:3])


def _over_years(job: JobFile, system: System) -> JobFile:
    """Return a job without what holds today only: its moisture reading, and extra days."""
    ground = job.substrate
    if first_retarder(system) is not None and (ground is None or ground.dry_out is None):
        raise SiteError(
            f"{job.where or 'job.toml'}: this system has a film that holds moisture in, and a "
            "reading of today says nothing of other years; add dry_out to [substrate], the hours "
            "without rain after which the roof counts as dry"
        )
    if ground is not None:
        ground = ground.model_copy(update={"moisture": None, "read_at": None})
    crew = job.crew.model_copy(update={"extra_days": ()})
    return job.model_copy(update={"crew": crew, "substrate": ground})


def _check_room(system: System, problem: Problem, longest: int) -> None:
    """Refuse a job of which a layer of a part fits no shift, or a part exceeds the cap."""
    for task in problem.tasks:
        if problem.open_area is not None and any(task.bare) and task.area > problem.open_area:
            raise SiteError(
                f"section '{task.name}' is larger than crew.open_area, so it can never lie bare; "
                "divide it, or give a larger cap"
            )
        for layer, choice in zip(system.layers, task.choices, strict=True):
            if choice.length > longest:
                raise SiteError(
                    f"section '{task.name}': '{layer.name}' takes {choice.length / 2:g} h at a "
                    f"stretch, and no shift has more than {max(longest, 0) / 2:g} h between set-up "
                    "and clean-up; make the section smaller, the crew faster or the shift longer"
                )


def _months(
    layers: Sequence[SeasonLayer], days: LocalDays
) -> tuple[Flags, tuple[tuple[int, int], ...], float]:
    """Return which months count for every layer, those that do not, and the share known."""
    months = days.months()
    each = [months.counts(layer.days.known, days.crew_hours) for layer in layers]
    good: Flags = np.logical_and.reduce(each)
    bad = months.touched & ~good
    asked = max(int(months.total(days.crew_hours)[months.touched].sum()), 1)
    least = min(int(months.total(layer.days.known)[months.touched].sum()) for layer in layers)
    left_out = tuple(zip(months.year[bad].tolist(), months.number[bad].tolist(), strict=True))
    return good, left_out, least / asked


def _known_until(
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


def _cases(
    found: _Followed, blind: Replay, place: Places, until: Places, days: LocalDays, site: Site
) -> Cases:
    length = found.finish_day - place + np.where(found.is_open, 0, 1)
    winter = _winters(days, southern=site.latitude < 0)
    weekday = (days.date[place].astype(np.int64) + 3) % 7
    return Cases(
        day=days.date[place],
        year=days.iso_year[place],
        week=days.iso_week[place],
        weekday=weekday,
        duration=length,
        is_open=found.is_open,
        crew_days=found.crew_days,
        stranded=blind.stranded(until[0] * TICKS_PER_HOUR),
        over_winter=_over_winter(blind, until, days, winter),
        blind_open=blind.finish.astype(np.int64) > until[0] * TICKS_PER_HOUR,
    )


def _winters(days: LocalDays, *, southern: bool) -> Places:
    """Return the midwinters up to and with each day, shape (days,)."""
    month_start = days.date.astype("datetime64[M]").astype("datetime64[D]")
    number = days.month * 100 + (days.date - month_start).astype(np.int64) + 1
    count: Places = days.year + (number >= _MIDWINTER[southern])
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


def _shares(
    layers: Sequence[SeasonLayer], days: LocalDays, good: Flags
) -> NDArray[np.float64]:
    """Return the share of scheduled days that are workable, by layer and month of the year."""
    months = days.months()
    scheduled = months.total(days.scheduled)
    shares = np.full((len(layers), 12), np.nan)
    for n, layer in enumerate(layers):
        workable = months.total(layer.days.workable)
        for month in range(1, 13):
            mine = good & (months.number == month)
            if scheduled[mine].sum():
                shares[n, month - 1] = workable[mine].sum() / scheduled[mine].sum()
    return shares


def _week(
    number: int, cases: Cases, shares: NDArray[np.float64], work_days: int
) -> StartWeek:
    finishes = Finishes(cases.weekday + cases.duration - 1, cases.is_open, cases.year)
    crew_days = inverse_cdf(cases.crew_days[~cases.is_open].astype(float), 0.5)
    month = int(cases.day[cases.day.size // 2].astype("datetime64[M]").astype(int)) % 12
    share = float(np.mean(shares[:, month]))
    return StartWeek(
        number=number,
        cases=cases,
        duration=percentiles(Finishes(cases.duration, cases.is_open, cases.year)),
        finish=percentiles(finishes, intervals=False),
        finishes=finishes,
        crew_days=crew_days,
        divided_days=crew_days / share * _WEEK_DAYS / work_days if share > 0 else float("inf"),
        strands=_chance(cases.stranded > 0, cases.blind_open),
        leaves_over_winter=_chance(cases.over_winter > 0, cases.blind_open),
    )


def _chance(happened: Flags, is_open: Flags) -> float:
    """Return the share of cases in which something happened, of those that are known.

    A case that is open is known only if it has happened. NaN where too few are known: what happens
    late is what open cases do not show.
    """
    known = happened | ~is_open
    return float(happened[known].mean()) if known.mean() >= ENOUGH else float("nan")
