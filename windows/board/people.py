"""What a crew is told for a day: where, when, which layers, with their odds and a verdict."""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.result import Assignment, Work
from windows.decision import Decision, Stakes, decide
from windows.gates import State
from windows.odds.chance import Chance, Method
from windows.plan import Placement
from windows.safety import cautions
from windows.search import tightest_gates

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from windows.board.company import Company, CrewFile
    from windows.board.dispatch import Visit
    from windows.board.promise import Promise
    from windows.board.promises import Kept
    from windows.board.sites import BoardJob
    from windows.plan import Plan
    from windows.safety import Caution
    from windows.search import Tightest

__all__ = ["assignments"]

_FT2_PER_M2 = 1 / 0.09290304


def assignments(
    company: Company,
    jobs: Sequence[BoardJob],
    plans: Sequence[Plan],
    visits: Sequence[Visit],
    kept: Kept,
) -> tuple[Assignment, ...]:
    """Return who goes where, in the order of crew and day.

    Parameters
    ----------
    company
        Crews and costs.
    jobs, plans
        Jobs that can be planned, and their plans.
    visits
        Crews sent, by number of crew, job and shift.
    kept
        What was promised.
    """
    found = []
    for visit in visits:
        job, crew = jobs[visit.site], company.crew[visit.crew]
        assert job.built is not None
        day = job.built.shift_days[visit.shift]
        placed = [each for each in plans[visit.site].placements if each.shift == day]
        if placed:
            found.append(_assignment(company, crew, job, day, placed, kept))
    found += [each for promise in kept.under_way for each in _under_way(company, jobs, promise)]
    order = {crew.name: n for n, crew in enumerate(company.crew)}
    return tuple(
        sorted(found, key=lambda each: (order.get(each.crew, len(order)), each.arrive))
    )


def _under_way(
    company: Company, jobs: Sequence[BoardJob], promise: Promise
) -> Iterator[Assignment]:
    """Yield work that has begun, as it was promised: there is nothing to decide any more."""
    job = next((each for each in jobs if each.key == promise.site), None)
    crew = next((each for each in company.crew if each.name == promise.crew), None)
    if job is None or crew is None:
        return
    assert job.system is not None
    assert job.in_weather is not None
    piece = next(each for each in job.pieces if each.name == promise.piece)
    placed = Placement(
        promise.piece, promise.section, piece.area_m2, promise.layer, promise.layer_name,
        job.system.profiles[promise.layer].name, promise.day, promise.start, promise.end,
        opens=None, due=None, spare=None,
    )  # fmt: skip
    rows = _rows(job, placed)
    inside = rows[0] >= 0 and rows[1] <= len(job.in_weather.hours.index)
    chance = (
        job.odds[promise.layer].chance(*rows)
        if inside
        else Chance(0.0, None, 1.0, Method.UNKNOWN)
    )
    yield Assignment(
        crew=crew.name,
        site=job.key,
        day=promise.day,
        arrive=promise.start,
        leave=promise.end,
        drive_h=company.drive_h(crew, job.site),
        works=(Work(placed, chance, None, promised=True),),
        decision=None,
        cautions=_cautions(job, [placed]) if inside else (),
    )


def _assignment(
    company: Company,
    crew: CrewFile,
    job: BoardJob,
    day: date,
    placed: list[Placement],
    kept: Kept,
) -> Assignment:
    assert job.job is not None
    set_up = pd.Timedelta(hours=job.job.crew.set_up)
    clean_up = pd.Timedelta(hours=job.job.crew.clean_up)
    works = tuple(
        Work(
            each,
            job.odds[each.layer].chance(*_rows(job, each)),
            _tightest(job, each),
            kept.holds(job.key, each, crew.name),
        )
        for each in placed
    )
    drive_h = company.drive_h(crew, job.site)
    arrive = placed[0].start - set_up
    leaves_yard = arrive - (pd.Timedelta(0) if crew.start is None else pd.Timedelta(hours=drive_h))
    return Assignment(
        crew=crew.name,
        site=job.key,
        day=day,
        arrive=arrive,
        leave=placed[-1].end + clean_up,
        drive_h=drive_h,
        works=works,
        decision=_decision(
            company, job, placed, leaves_yard - pd.Timedelta(hours=company.board.call_off)
        ),
        cautions=_cautions(job, placed),
    )


def _rows(job: BoardJob, each: Placement) -> tuple[int, int]:
    """Return the first row that a placement touches, and the one after its last."""
    assert job.in_weather is not None
    return floor(job.in_weather.moment(each.start)), ceil(job.in_weather.moment(each.end))


def _tightest(job: BoardJob, each: Placement) -> Tightest | None:
    assert job.in_weather is not None
    layer = job.in_weather.jobs[each.layer]
    first, after = _rows(job, each)
    return tightest_gates(layer.checked, layer.conditions, np.array([first]), np.array([after]))[0]


def _cautions(job: BoardJob, placed: list[Placement]) -> tuple[Caution, ...]:
    """Return what the crew is told, each once."""
    assert job.in_weather is not None
    told = [
        caution
        for each in placed
        for layer in [job.in_weather.jobs[each.layer]]
        for caution in cautions(layer.conditions, layer.coating, *_rows(job, each))
    ]
    return tuple({(each.text, each.source): each for each in told}.values())


def _decision(
    company: Company, job: BoardJob, placed: list[Placement], decide_by: pd.Timestamp
) -> Decision:
    """Return go or wait for the hours in which something is laid, hour by hour.

    What a deadline costs that passes if the crew waits is part of what waiting costs.
    """
    assert job.in_weather is not None
    assert job.job is not None
    system, costs = job.in_weather, company.costs
    index = system.hours.index
    blocks: dict[int, tuple[float, int]] = {}
    for each in placed:
        first, after = _rows(job, each)
        start, end = system.moment(each.start), system.moment(each.end)
        for row in range(first, after):
            share = (min(end, row + 1) - max(start, row)) / (end - start)
            area, layer = blocks.get(row, (0.0, each.layer))
            blocks[row] = area + share * each.area_m2, layer
    rows = np.array(sorted(blocks), dtype=np.int64)
    layers = np.array([blocks[row][1] for row in rows.tolist()])
    low, guess, high = (np.zeros(len(rows)) for _ in range(3))
    allowed = np.zeros(len(rows), dtype=bool)
    for layer in np.unique(layers).tolist():
        at, job_of = layers == layer, system.jobs[layer]
        chance = job.odds[layer].of(rows[at], rows[at] + 1)
        low[at], guess[at], high[at] = 1 - chance.high, 1 - chance.estimate, 1 - chance.low
        states = np.maximum(job_of.checked.state, job_of.safety)
        allowed[at] = states[rows[at]] == State.OK
    late = job.job.prices.late_day
    stakes = Stakes(
        lost_per_m2=costs.lost_1000ft2 * _FT2_PER_M2 / 1000,
        wait=costs.wait_shift + _missed(company, job, placed),
        late=costs.late_day if late is None else late,
    )
    return decide(
        stakes, index[rows], [blocks[row][0] for row in rows.tolist()], low, guess, high, allowed,
        decide_by, placed[-1].end,
    )  # fmt: skip


def _missed(company: Company, job: BoardJob, placed: list[Placement]) -> float:
    """Return what it costs that laid layers pass their deadline if this shift is lost. [money]"""
    assert job.built is not None
    area = 0.0
    for task, piece in zip(job.built.problem.tasks, job.built.pieces, strict=True):
        covers = any(each.piece == piece.name and each.layer == task.first for each in placed)
        if not covers or task.due_now is None:
            continue
        choice = task.choices[0]
        shifts = [n for n, day in enumerate(job.built.shift_days) if day > placed[0].shift]
        if not np.isin(choice.shift[choice.hour_end <= task.due_now], shifts).any():
            area += piece.area_m2
    return company.costs.missed_1000ft2 * area * _FT2_PER_M2 / 1000
