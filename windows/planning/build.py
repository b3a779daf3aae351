"""From a roof in its weather to the planning problem: hours, openings, deadlines as ticks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.system_rules import first_retarder
from cure_models.units import from_si
from windows.cover import Verdict
from windows.errors import SiteError
from windows.gates import State
from windows.planning.groups import followed, possible
from windows.planning.layer_times import LayerTimes, ground_states, layer_times
from windows.planning.problem import (
    FAR,
    TICKS_PER_DAY,
    TICKS_PER_HOUR,
    Choice,
    Costs,
    Problem,
    Task,
    ticks_of,
)
from windows.planning.work_shifts import WorkShifts, work_shifts
from windows.recoat import check_cover, present_hour
from windows.substrate import check_reading
from windows.work_rate import work_hours

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from cure_models.system import System
    from windows.gates import States
    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.pieces import Piece

__all__ = ["Built", "Waiting", "build", "problems", "walk_from"]

_THOUSANDTHS = 1000
_UNITS_PER_M2 = 100


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
    opens = {piece.name: walk_from(piece, times, system) for piece in pieces}
    left = [piece for piece in pieces if piece.next_layer < len(system.jobs)]
    waiting = []
    for piece in left:
        here = _waiting(system, piece, now, later_deadlines_h)
        closed = [opens[each.name] for each in pieces if each.section in piece.access_over]
        waiting.append(replace(here, opens=max([here.opens, *closed])))
    begin = ticks_of(present_hour(system, now))
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
    made = _Choices(system, times, found, job, begin, open_beyond=open_beyond, whole=whole)
    tasks: list[Task] = []
    seen: list[tuple[Choice, ...]] = []
    for piece, here in zip(pieces, waiting, strict=True):
        first = piece.next_layer
        left = range(first, len(system.layers))
        choices, as_seen = made.of(piece, here)
        seen.append(as_seen)
        tasks.append(
            Task(
                name=piece.name,
                area=round(piece.area_m2 * _UNITS_PER_M2),
                exposure=_exposure(piece.area_m2, job),
                first=first,
                choices=choices,
                same_shift=made.same_shift(first),
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
        move=ticks_of(job.crew.move),
        open_area=None if cap is None else round(cap * _UNITS_PER_M2),
        costs=_costs(job),
    )
    blind = tuple(replace(t, choices=c) for t, c in zip(problem.tasks, seen, strict=True))
    return problem, replace(problem, tasks=blind)


class _Choices:
    """The ways to lay each piece; pieces alike share theirs, and what is worked out from them."""

    def __init__(
        self,
        system: System,
        times: Sequence[LayerTimes],
        found: WorkShifts,
        job: JobFile,
        begin: int,
        *,
        open_beyond: bool,
        whole: bool,
    ) -> None:
        self.system, self.times, self.found, self.job = system, times, found, job
        self.begin, self.open_beyond, self.whole = begin, open_beyond, whole
        self._raw: dict[tuple[float, int], tuple[Choice, ...]] = {}
        self._kept: dict[tuple[float, int, int, int], tuple[Choice, ...]] = {}

    def same_shift(self, first: int) -> tuple[bool, ...]:
        """Tell of each layer from the first on whether its next has to follow in its shift."""
        return tuple(layer.next.same_shift for layer in self.system.layers[first:])

    def of(self, piece: Piece, here: Waiting) -> tuple[tuple[Choice, ...], tuple[Choice, ...]]:
        """Return the choices of a planner, and those of a crew that does not look ahead."""
        key = (round(piece.area_m2, 6), piece.next_layer)
        if key not in self._raw:
            self._raw[key] = self._unbound(piece)
        same = self.same_shift(piece.next_layer)
        choices = self._raw[key]
        if here.opens > 0:
            choices = (choices[0].keep(choices[0].start >= here.opens), *choices[1:])
        shared = (*key, here.opens, here.due)
        if shared not in self._kept:
            in_time = (choices[0].keep(choices[0].hour_end <= here.due), *choices[1:])
            self._kept[shared] = possible(in_time if here.due < FAR else choices, same)
        return self._kept[shared], followed(choices, same)

    def _unbound(self, piece: Piece) -> tuple[Choice, ...]:
        """Return the ways to lay each layer that is left, whatever lies below the first."""
        return tuple(
            _choice(
                self.system, n, _length(self.system, n, piece, self.job), self.times[n],
                self.found, self.begin, open_beyond=self.open_beyond, whole=self.whole,
            )
            for n in range(piece.next_layer, len(self.system.layers))
        )  # fmt: skip


def _costs(job: JobFile) -> Costs:
    """Return the prices of a job. [thousandths]"""
    return Costs(
        tick=round(job.prices.day * _THOUSANDTHS / TICKS_PER_DAY),
        extra_shift=round(job.prices.extra_day * _THOUSANDTHS),
        move=round(job.prices.move * _THOUSANDTHS),
        no_spare=round(job.prices.no_spare * _THOUSANDTHS),
        change=round(job.prices.change * _THOUSANDTHS),
    )


def _exposure(area_m2: float, job: JobFile) -> int:
    """Return the price of a tick of a piece that lies open. [thousandths]"""
    a_day = job.prices.exposure_1000ft2_day * from_si(area_m2, "ft2") / 1000
    return round(a_day * _THOUSANDTHS / TICKS_PER_DAY)


def _length(system: System, layer: int, piece: Piece, job: JobFile) -> int:
    """Return the ticks that a layer of a piece takes."""
    return max(1, ticks_of(work_hours(system, layer, piece.area_m2, job)))


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


def walk_from(piece: Piece, times: Sequence[LayerTimes], system: SystemHours) -> int:
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
    opens = FAR if cover.opens is None else ticks_of(system.moment(cover.opens))
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
