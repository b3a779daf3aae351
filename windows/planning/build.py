"""From a roof in its weather to the planning problem: hours, openings, deadlines as ticks."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.system_rules import first_retarder
from windows.crew import NO_SHIFT, shifts
from windows.errors import SiteError
from windows.gates import State, combine
from windows.job_file import with_extra_days
from windows.planning.groups import followed, possible
from windows.planning.problem import (
    FAR,
    TICKS_PER_DAY,
    TICKS_PER_HOUR,
    Choice,
    Costs,
    Problem,
    Task,
)
from windows.recoat import Verdict, check_cover, present_hour
from windows.substrate import check_reading, substrate_states
from windows.work_rate import work_hours

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from cure_models.system import System
    from windows.gates import Checked, States
    from windows.job import CheckedHours
    from windows.job_file import JobFile, Piece
    from windows.layers import SystemHours
    from windows.site import Site

__all__ = [
    "Built", "LayerTimes", "Waiting", "WorkShifts", "build", "ground_states", "layer_times",
    "problems", "work_shifts",
]  # fmt: skip

_THOUSANDTHS = 1000
_UNITS_PER_M2 = 100
_FT2_PER_M2 = 1 / 0.09290304


@dataclass(frozen=True)
class LayerTimes:
    """One layer in every hour: may it be laid, when may the next follow, by when must it.

    ``states`` are gates, crew safety and the roof below, the shift apart. ``opens`` is the tick
    from which the next may be laid on a film placed in the hour, ``due`` the one before which the
    next must end; both `FAR` where not known or not in the data. Shape (hours,).
    """

    states: States
    opens: NDArray[np.int32]
    due: NDArray[np.int32]


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
        return (self.day + 3) % 7  # 1970-01-01 was a Thursday


@dataclass(frozen=True)
class Built:
    """A problem, and what its numbers stand for.

    ``states`` are those of every layer in every hour, crew apart; ``blind`` is the problem with the
    starts of a crew that does not look ahead: also those whose layer could not be covered in time.
    """

    system: SystemHours
    problem: Problem
    blind: Problem
    pieces: tuple[Piece, ...]
    shift_days: tuple[date, ...]
    states: tuple[States, ...]
    shifts: WorkShifts

    def time(self, tick: int) -> pd.Timestamp:
        """Return the moment of a tick."""
        return self.system.time(tick / TICKS_PER_HOUR)


@dataclass(frozen=True)
class Waiting:
    """What lies on a piece: when the next may follow, until when, and since when. [ticks]"""

    opens: int = 0
    due: int = FAR
    since: int | None = None


def build(
    system: SystemHours,
    pieces: Sequence[Piece],
    job: JobFile,
    now: pd.Timestamp,
    *,
    open_beyond: bool = False,
    later_deadlines_h: int = 0,
) -> Built:
    """Return the planning problem.

    Parameters
    ----------
    system
        The system in a table of weather.
    pieces
        What is to be coated.
    job
        Crew, prices and substrate.
    now
        Nothing is planned before it.
    open_beyond
        Lay also what must be covered after the data end.
    later_deadlines_h
        Deadlines put off, to see what they cost. [h]

    Raises
    ------
    SiteError
        If a piece is overdue, no rate is known, or nothing is known of a substrate that matters.
    HoursError
        If the weather does not hold the present or a laid layer that waits for its next.
    """
    check_reading(job, system.site, now)
    retarder = first_retarder(system.system)
    times = [
        layer_times(
            each, ground_states(job, each) if n == retarder else None, later_h=later_deadlines_h
        )
        for n, each in enumerate(system.jobs)
    ]
    found = work_shifts(system.hours.index, system.site, job, [each.states for each in times])
    walk_from = {piece.name: _walk_from(piece, times, system) for piece in pieces}
    left = [piece for piece in pieces if piece.next_layer < len(system.jobs)]
    waiting = []
    for piece in left:
        here = _waiting(system, piece, now, later_deadlines_h)
        closed = [walk_from[each.name] for each in pieces if each.section in piece.access_over]
        waiting.append(replace(here, opens=max([here.opens, *closed])))
    begin = _ticks(present_hour(system, now))
    problem, blind = problems(
        system.system, times, found, left, job, begin, waiting, open_beyond=open_beyond
    )
    days = tuple(pd.Timestamp(day, unit="D").date() for day in found.day.tolist())
    states = tuple(each.states for each in times)
    return Built(system, problem, blind, tuple(left), days, states, found)


def problems(
    system: System,
    times: Sequence[LayerTimes],
    found: WorkShifts,
    pieces: Sequence[Piece],
    job: JobFile,
    begin: int,
    waiting: Sequence[Waiting] | None = None,
    *,
    open_beyond: bool = False,
    whole: bool = False,
) -> tuple[Problem, Problem]:
    """Return the problem of a planner, and that of a crew that does not look ahead.

    Parameters
    ----------
    system, times
        The layers, and each of them in every hour.
    found
        The shifts.
    pieces, job
        What is left to be coated, and the crew.
    begin
        Tick before which nothing is planned.
    waiting
        What lies on each piece, default nothing.
    open_beyond
        Lay also what must be covered after the data end.
    whole
        Lay nothing of which the data do not show the next layer: where a season has a gap, a crew
        does not wait for the end of it.
    """
    waiting = waiting or [Waiting()] * len(pieces)
    layers = len(system.layers)
    tasks: list[Task] = []
    seen: list[tuple[Choice, ...]] = []
    raw: dict[tuple[float, int], tuple[Choice, ...]] = {}
    kept: dict[tuple[float, int, int, int], tuple[Choice, ...]] = {}
    for piece, here in zip(pieces, waiting, strict=True):
        first = piece.next_layer
        left = range(first, layers)
        key = (round(piece.area_m2, 6), first)
        if key not in raw:
            raw[key] = tuple(
                _choice(
                    system, n, _length(system, n, piece, job), times[n], found, begin,
                    open_beyond=open_beyond, whole=whole,
                )
                for n in left
            )  # fmt: skip
        same = tuple(system.layers[n].next.same_shift for n in left)
        choices = raw[key]
        if here.opens > 0:
            choices = (choices[0].keep(choices[0].start >= here.opens), *choices[1:])
        shared = (*key, here.opens, here.due)
        if shared not in kept:
            in_time = (choices[0].keep(choices[0].hour_end <= here.due), *choices[1:])
            kept[shared] = possible(in_time if here.due < FAR else choices, same)
        seen.append(followed(choices, same))
        tasks.append(
            Task(
                name=piece.name,
                area=round(piece.area_m2 * _UNITS_PER_M2),
                exposure=_exposure(piece.area_m2, job),
                first=first,
                choices=kept[shared],
                same_shift=same,
                bare=tuple(system.must_be_covered(n) for n in left),
                open_since=here.since,
                bare_now=first > 0 and system.must_be_covered(first - 1),
                due_now=here.due if here.due < FAR else None,
            )
        )
    tasks = [_with_ways(task, piece, pieces) for task, piece in zip(tasks, pieces, strict=True)]
    cap = job.crew.open_area
    problem = Problem(
        tasks=tuple(tasks),
        extra=tuple(found.extra.tolist()),
        weekday=tuple(found.weekday.tolist()),
        begin=begin,
        end=len(times[0].states) * TICKS_PER_HOUR,
        move=_ticks(job.crew.move),
        open_area=None if cap is None else round(cap * _UNITS_PER_M2),
        costs=Costs(
            tick=round(job.prices.day * _THOUSANDTHS / TICKS_PER_DAY),
            extra_shift=round(job.prices.extra_day * _THOUSANDTHS),
            move=round(job.prices.move * _THOUSANDTHS),
            no_spare=round(job.prices.no_spare * _THOUSANDTHS),
            change=round(job.prices.change * _THOUSANDTHS),
        ),
    )
    as_seen = tuple(replace(t, choices=c) for t, c in zip(problem.tasks, seen, strict=True))
    return problem, replace(problem, tasks=as_seen)


def _ticks(hours: float) -> int:
    return ceil(round(hours * TICKS_PER_HOUR, 6))


def _exposure(area_m2: float, job: JobFile) -> int:
    """Return the price of a tick of a piece that lies open. [thousandths]"""
    a_day = job.prices.exposure_1000ft2_day * area_m2 * _FT2_PER_M2 / 1000
    return round(a_day * _THOUSANDTHS / TICKS_PER_DAY)


def layer_times(
    each: CheckedHours, ground: States | None = None, *, later_h: int = 0
) -> LayerTimes:
    """Return one layer in every hour.

    Parameters
    ----------
    each
        The layer's coating in its weather.
    ground
        Whether the roof below is known to be dry enough inside, where that is asked.
    later_h
        Deadlines put off. [h]
    """
    parts = [each.checked.state, each.safety]
    states = combine(*parts) if ground is None else combine(*parts, ground)
    return LayerTimes(states, _opens(each.checked), _due(each.checked, len(states), later_h))


def ground_states(job: JobFile, each: CheckedHours) -> States:
    """Return the state of the substrate in every hour. Raises as `substrate_states`."""
    return substrate_states(job, each.site, each.hours.index, each.conditions.rain_most_mm)


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
        monday = day - (day + 3) % 7
        lost_days = day[whole]
        lost_this_week = np.searchsorted(lost_days, day) > np.searchsorted(lost_days, monday)
        wanted = ~extra | lost_this_week
    found = WorkShifts(
        first * TICKS_PER_HOUR + _ticks(job.crew.set_up),
        (last + 1) * TICKS_PER_HOUR - _ticks(job.crew.clean_up),
        day,
        extra,
    )
    return WorkShifts(*(getattr(found, f.name)[wanted] for f in fields(found)))


def _length(system: System, layer: int, piece: Piece, job: JobFile) -> int:
    """Return the ticks that a layer of a piece takes."""
    return max(1, _ticks(work_hours(system, layer, piece.area_m2, job)))


def _choice(
    system: System,
    layer: int,
    length: int,
    times: LayerTimes,
    found: WorkShifts,
    begin: int,
    *,
    open_beyond: bool,
    whole: bool,
) -> Choice:
    """Return the ways to lay a layer that takes so long."""
    good = np.concatenate([[0], np.cumsum(times.states == State.OK)])
    from_tick = np.maximum(found.first, begin)
    count = np.maximum(found.last - length + 1 - from_tick, 0)
    number = np.repeat(np.arange(len(count)), count)
    # Every tick of every shift at which the work still fits: 0 1 2 .. in each, from its first.
    start = from_tick[number] + np.arange(number.size) - np.repeat(np.cumsum(count) - count, count)
    first, after = start // TICKS_PER_HOUR, -(-(start + length) // TICKS_PER_HOUR)
    fits = good[after] - good[first] == after - first
    start, number, first, after = start[fits], number[fits], first[fits], after[fits]
    last_layer = layer + 1 == len(system.layers)
    due = np.full(start.shape, FAR) if last_layer else times.due[first].astype(np.int64)
    # Foam without its first coat is no plan, whatever may lie open beyond the weather.
    together = system.layers[layer].next.same_shift
    bare = together or (system.must_be_covered(layer) and not open_beyond)
    opens = times.opens[after - 1].astype(np.int64)
    choice = Choice(
        length=length,
        start=start,
        shift=number,
        hour_end=after * TICKS_PER_HOUR,
        opens=opens,
        due=due,
        must=np.full(start.shape, False) if last_layer else (due < FAR) | bare | whole,
    )
    return choice.keep(opens < FAR) if whole and not last_layer else choice


def _opens(checked: Checked) -> NDArray[np.int32]:
    """Return, for a film placed in each hour, the tick from which the next may be laid."""
    opens = np.ceil(checked.milestones["recoat_opens"] * TICKS_PER_HOUR - 1e-9)
    return np.where(np.isnan(opens), FAR, opens).astype(np.int32)


def _due(checked: Checked, hours: int, later_h: int) -> NDArray[np.int32]:
    """Return, for a film begun in each hour, the tick before which the next must end."""
    due = np.floor((checked.due + later_h) * TICKS_PER_HOUR + 1e-9)
    return np.where(due <= hours * TICKS_PER_HOUR, due, FAR).astype(np.int32)


def _walk_from(piece: Piece, times: Sequence[LayerTimes], system: SystemHours) -> int:
    """Return the tick from which a crew may walk on what lies on a piece."""
    if not piece.laid:
        return 0
    record = piece.laid[-1]
    # What it cured before the weather begins is not known, so it counts for nothing.
    last = max(ceil(system.moment(record.end)) - 1, 0)
    return int(times[record.layer].opens[last])


def _waiting(
    system: SystemHours, piece: Piece, now: pd.Timestamp, later_h: int
) -> Waiting:
    """Return opening, deadline and beginning of the layer that lies on a piece.

    Raises
    ------
    SiteError
        If the deadline has passed.
    """
    if not piece.laid:
        return Waiting()
    record = piece.laid[-1]
    cover = check_cover(system, record, now)
    if cover.verdict is Verdict.OVERDUE:
        assert cover.due is not None
        raise SiteError(
            f"section '{piece.name}': '{system.system.layers[record.layer].name}' had to be "
            f"covered by {cover.due.tz_convert(system.site.zone):%Y-%m-%d %H:%M}, which is past: "
            f"{cover.advice[0].text}; then record when, as prepared = ... of that placement"
        )
    opens = FAR if cover.opens is None else _ticks(system.moment(cover.opens))
    due = FAR
    if cover.due is not None:
        hours = system.moment(cover.due) + later_h
        if hours <= len(system.hours.index):
            due = int(np.floor(hours * TICKS_PER_HOUR + 1e-9))
    return Waiting(opens, due, int(system.moment(record.start) * TICKS_PER_HOUR))


def _with_ways(task: Task, piece: Piece, pieces: Sequence[Piece]) -> Task:
    """Return a task with the tasks whose pieces a crew walks over."""
    if not piece.access_over:
        return task
    over = tuple(n for n, each in enumerate(pieces) if each.section in piece.access_over)
    return replace(task, over=over)
