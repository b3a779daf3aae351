"""A job begun on every day of many years: when it finishes, and what that makes of a date.

A duration comes from the years replayed, never from crew-days divided by a share of workable days;
that division stands beside it, as the mistake that it is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.system_rules import first_retarder
from windows.errors import HoursError, SiteError
from windows.planning.build import problems
from windows.planning.problem import TICKS_PER_HOUR
from windows.planning.replay import replay_blind, replay_steady
from windows.planning.work_shifts import work_shifts
from windows.seasons.bid_cases import cases_of, known_until
from windows.seasons.bid_result import Bid, Cases, StartWeek
from windows.seasons.days import ENOUGH, local_days
from windows.seasons.layers import season_layers
from windows.seasons.statistics import Finishes, inverse_cdf, percentiles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.coating import Limits
    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.job_file import JobFile
    from windows.pieces import Piece
    from windows.planning.problem import Problem
    from windows.seasons.days import LocalDays
    from windows.seasons.layers import SeasonLayer
    from windows.site import Site

    Places = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["bid_of"]

_WEEK_DAYS = 7


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
            f"{hours.provenance.place}: no month has {100 * ENOUGH:.0f} % of its crew hours "
            "known for every layer; dewgap season shows what is missing for each coating"
        )
    until = known_until(good, days, hours.index, site)
    row = np.minimum(found.first // TICKS_PER_HOUR, len(hours.index) - 1)
    place, row, begin = place[begun], row[begun], found.first[begun]
    until = until[:, row]
    steady, blindly = replay_steady(problem, begin), replay_blind(blind, begin)
    cases = cases_of(steady, blindly, place, until, days, site)
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
        divided_days=float("inf") if share == 0 else crew_days / share * _WEEK_DAYS / work_days,
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
