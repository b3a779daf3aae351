"""From a roof in its weather to the planning problem: hours, openings, deadlines as ticks."""

from __future__ import annotations

from dataclasses import dataclass, replace
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

    from windows.gates import Checked, States
    from windows.job_file import JobFile, Piece
    from windows.layers import SystemHours

__all__ = ["Built", "build"]

_THOUSANDTHS = 1000
_UNITS_PER_M2 = 100
_FT2_PER_M2 = 1 / 0.09290304


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

    def time(self, tick: int) -> pd.Timestamp:
        """Return the moment of a tick."""
        return self.system.time(tick / TICKS_PER_HOUR)


@dataclass(frozen=True)
class _Shift:
    """A shift: first tick of work, last tick of work, its day, and whether it is an extra one."""

    first: int
    last: int
    day: date
    extra: bool


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
    states = _layer_states(system, job)
    found = _shifts(system, job, states)
    begin = _ticks(present_hour(system, now))
    hours = len(system.hours.index)
    tasks: list[Task] = []
    kept: list[Piece] = []
    whole: list[tuple[Choice, ...]] = []
    cache: dict[tuple[float, ...], tuple[Choice, ...]] = {}
    walk_from = {piece.name: _walk_from(system, piece) for piece in pieces}
    for piece in pieces:
        first = piece.next_layer
        if first == len(system.jobs):
            continue
        left = range(first, len(system.jobs))
        key = (round(piece.area_m2, 6), float(first))
        if key not in cache:
            cache[key] = tuple(
                _choice(
                    system, n, _length(system, n, piece, job), states[n], found, begin,
                    open_beyond=open_beyond, later_h=later_deadlines_h,
                )
                for n in left
            )  # fmt: skip
        raw = cache[key]
        same = tuple(system.system.layers[n].next.same_shift for n in left)
        opens, due, since = _waiting(system, piece, now, later_deadlines_h)
        closed = [walk_from[each.name] for each in pieces if each.section in piece.access_over]
        ready = max([opens, *closed])
        choices = (raw[0].keep(raw[0].start >= ready), *raw[1:]) if ready > 0 else raw
        shared = (*key, float(ready), float(due))
        if shared not in cache:
            in_time = (choices[0].keep(choices[0].hour_end <= due), *choices[1:])
            cache[shared] = possible(in_time if due < FAR else choices, same)
        whole.append(followed(choices, same))
        kept.append(piece)
        tasks.append(
            Task(
                name=piece.name,
                area=round(piece.area_m2 * _UNITS_PER_M2),
                exposure=_exposure(piece.area_m2, job),
                first=first,
                choices=cache[shared],
                same_shift=same,
                bare=tuple(system.system.must_be_covered(n) for n in left),
                open_since=since,
                bare_now=first > 0 and system.system.must_be_covered(first - 1),
                due_now=due if due < FAR else None,
            )
        )
    tasks = [_with_ways(task, piece, kept) for task, piece in zip(tasks, kept, strict=True)]
    cap = job.crew.open_area
    problem = Problem(
        tasks=tuple(tasks),
        extra=tuple(each.extra for each in found),
        weekday=tuple(each.day.weekday() for each in found),
        begin=begin,
        end=hours * TICKS_PER_HOUR,
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
    as_seen = tuple(replace(t, choices=c) for t, c in zip(problem.tasks, whole, strict=True))
    return Built(
        system, problem, replace(problem, tasks=as_seen), tuple(kept),
        tuple(each.day for each in found), states,
    )  # fmt: skip


def _ticks(hours: float) -> int:
    return ceil(round(hours * TICKS_PER_HOUR, 6))


def _exposure(area_m2: float, job: JobFile) -> int:
    """Return the price of a tick of a piece that lies open. [thousandths]"""
    a_day = job.prices.exposure_1000ft2_day * area_m2 * _FT2_PER_M2 / 1000
    return round(a_day * _THOUSANDTHS / TICKS_PER_DAY)


def _layer_states(system: SystemHours, job: JobFile) -> tuple[States, ...]:
    """Return the state of every layer in every hour: gates, crew safety and the roof below."""
    retarder = first_retarder(system.system)
    found = []
    for n, each in enumerate(system.jobs):
        parts = [each.checked.state, each.found.safety]
        if n == retarder:
            rain = each.conditions.rain_most_mm
            parts.append(substrate_states(job, system.site, system.hours.index, rain))
        found.append(combine(*parts))
    return tuple(found)


def _shifts(system: SystemHours, job: JobFile, states: Sequence[States]) -> list[_Shift]:
    """Return the shifts in which there is time for work, extra days among them."""
    index = system.hours.index
    regular = shifts(index, system.site)
    every = shifts(index, with_extra_days(system.site, job))
    lost = [
        pd.Timestamp(int(day), unit="D")
        for day in np.unique(regular[regular != NO_SHIFT])
        if _is_lost(np.flatnonzero(regular == day), states)
    ]
    found = []
    for day in np.unique(every[every != NO_SHIFT]).tolist():
        rows = np.flatnonzero(every == day)
        when = pd.Timestamp(day, unit="D")
        extra = not (regular == day).any()
        if extra and job.crew.extra_days_only_after_rain:
            monday = when - pd.Timedelta(days=when.weekday())
            if not any(monday <= each < when for each in lost):
                continue
        first = int(rows[0]) * TICKS_PER_HOUR + _ticks(job.crew.set_up)
        last = (int(rows[-1]) + 1) * TICKS_PER_HOUR - _ticks(job.crew.clean_up)
        found.append(_Shift(first, last, when.date(), extra))
    return found


def _is_lost(rows: NDArray[np.int64], states: Sequence[States]) -> bool:
    """Tell whether a whole shift is known to be lost for every layer."""
    whole = rows[0] > 0 and rows[-1] + 1 < len(states[0])  # the data do not cut it
    return bool(whole) and all((state[rows] == State.BLOCKED).all() for state in states)


def _length(system: SystemHours, layer: int, piece: Piece, job: JobFile) -> int:
    """Return the ticks that a layer of a piece takes."""
    return max(1, _ticks(work_hours(system.system, layer, piece.area_m2, job)))


def _choice(
    system: SystemHours,
    layer: int,
    length: int,
    states: States,
    found: Sequence[_Shift],
    begin: int,
    *,
    open_beyond: bool,
    later_h: int,
) -> Choice:
    """Return the ways to lay a layer that takes so long."""
    hours = len(states)
    good = np.concatenate([[0], np.cumsum(states == State.OK)])
    starts, numbers = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    for number, shift in enumerate(found):
        start = np.arange(max(shift.first, begin), shift.last - length + 1)
        first, after = start // TICKS_PER_HOUR, -(-(start + length) // TICKS_PER_HOUR)
        start = start[good[after] - good[first] == after - first]
        starts.append(start)
        numbers.append(np.full(start.shape, number))
    start, shift_of = np.concatenate(starts), np.concatenate(numbers)
    first, after = start // TICKS_PER_HOUR, -(-(start + length) // TICKS_PER_HOUR)
    checked = system.jobs[layer].checked
    due = _due(checked, hours, later_h)[first]
    last_layer = layer + 1 == len(system.jobs)
    if last_layer:
        due = np.full_like(due, FAR)
    # Foam without its first coat is no plan, whatever may lie open beyond the weather.
    together = system.system.layers[layer].next.same_shift
    bare = together or (system.system.must_be_covered(layer) and not open_beyond)
    return Choice(
        length=length,
        start=start,
        shift=shift_of,
        hour_end=after * TICKS_PER_HOUR,
        opens=_opens(checked)[after - 1],
        due=due,
        must=np.full(start.shape, False) if last_layer else (due < FAR) | bare,
    )


def _opens(checked: Checked) -> NDArray[np.int64]:
    """Return, for a film placed in each hour, the tick from which the next may be laid."""
    opens = np.ceil(checked.milestones["recoat_opens"] * TICKS_PER_HOUR - 1e-9)
    return np.where(np.isnan(opens), FAR, opens).astype(np.int64)


def _due(checked: Checked, hours: int, later_h: int) -> NDArray[np.int64]:
    """Return, for a film begun in each hour, the tick before which the next must end."""
    due = np.floor((checked.due + later_h) * TICKS_PER_HOUR + 1e-9)
    return np.where(due <= hours * TICKS_PER_HOUR, due, FAR).astype(np.int64)


def _walk_from(system: SystemHours, piece: Piece) -> int:
    """Return the tick from which a crew may walk on what lies on a piece."""
    if not piece.laid:
        return 0
    record = piece.laid[-1]
    # What it cured before the weather begins is not known, so it counts for nothing.
    last = max(ceil(system.moment(record.end)) - 1, 0)
    return int(_opens(system.jobs[record.layer].checked)[last])


def _waiting(
    system: SystemHours, piece: Piece, now: pd.Timestamp, later_h: int
) -> tuple[int, int, int | None]:
    """Return opening, deadline and beginning of the layer that lies on a piece. [ticks]

    Raises
    ------
    SiteError
        If the deadline has passed.
    """
    if not piece.laid:
        return 0, FAR, None
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
    return opens, due, int(system.moment(record.start) * TICKS_PER_HOUR)


def _with_ways(task: Task, piece: Piece, pieces: Sequence[Piece]) -> Task:
    """Return a task with the tasks whose pieces a crew walks over."""
    if not piece.access_over:
        return task
    over = tuple(n for n, each in enumerate(pieces) if each.section in piece.access_over)
    return replace(task, over=over)
