"""Jobs, crews and promises as numbers: what each start is worth, and what an earlier board was.

This is where money, odds and the clock of the next board meet.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.company import thousand_ft2
from windows.board.crews import board_crew
from windows.board.dispatch import Dispatch, DispatchSite, Prices, Visit
from windows.planning.problem import TICKS_PER_HOUR

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from windows.board.company import Company
    from windows.board.crews import Reach
    from windows.board.promise import Promise
    from windows.board.promises import Kept
    from windows.board.sites import BoardJob
    from windows.planning.problem import Choice

__all__ = ["dispatch_of"]

_THOUSANDTHS = 1000
_STEP = 0.02
"""Chances are weighed in steps of this, rounded down: starts of one step are one choice."""
_SAME = 1000
"""What it is worth that work stays in its hours, all else equal (own choice). [thousandths]"""
_SHARE_BY_ODDS = 0.5
"""Share of a layer's worth that its odds alone give it (own choice)."""


def dispatch_of(
    company: Company,
    jobs: Sequence[BoardJob],
    days: tuple[date, ...],
    reached: Sequence[Sequence[Reach]],
    kept: Kept,
    now: pd.Timestamp,
) -> Dispatch:
    """Return the dispatch of jobs that can be planned.

    Parameters
    ----------
    company, jobs, days
        Crews and costs; where they may go; the days of the board.
    reached
        When each crew can lay on each job.
    kept
        What an earlier board promised, and where crews were last.
    now
        The present: what has to be decided before the next board counts from it.
    """
    place = {day: n for n, day in enumerate(days)}
    costs = company.costs
    sites = tuple(
        _as_before(
            _dispatch_site(company, job, place, now),
            job,
            [each for each in kept.earlier if each.site == job.key],
        )
        for job in jobs
    )
    crews = tuple(
        board_crew(company, crew, jobs, mine, kept.stations.get(n))
        for n, (crew, mine) in enumerate(zip(company.crew, reached, strict=True))
    )
    prices = Prices(round(costs.move * _THOUSANDTHS), round(costs.promise * _THOUSANDTHS))
    before = _visits_before(company, jobs, kept)
    return Dispatch(sites, crews, len(days), prices, kept.promised, before)


def _visits_before(
    company: Company, jobs: Sequence[BoardJob], kept: Kept
) -> tuple[Visit, ...]:
    """Return the visits of the earlier board that are still ahead, one for a crew and a site."""
    crews = {crew.name: n for n, crew in enumerate(company.crew)}
    places = {job.key: n for n, job in enumerate(jobs)}
    busy: set[tuple[object, date]] = set()
    found = {}
    for each in kept.earlier:
        job = jobs[places[each.site]]
        assert job.built is not None
        visit = crews[each.crew], each.site, each.day
        if visit in found or each.day not in job.built.shift_days:
            continue
        if (each.crew, each.day) in busy or (places[each.site], each.day) in busy:
            continue
        busy |= {(each.crew, each.day), (places[each.site], each.day)}
        shift = job.built.shift_days.index(each.day)
        found[visit] = Visit(crews[each.crew], places[each.site], shift)
    return tuple(found.values())


def _as_before(site: DispatchSite, job: BoardJob, earlier: Sequence[Promise]) -> DispatchSite:
    """Return a site on which the hours of the earlier board are worth a little more than others.

    So what is as good stays where it was. Their pieces have choices of their own.
    """
    assert job.built is not None
    assert job.in_weather is not None
    tasks, worth = list(site.problem.tasks), list(site.worth)
    for each in earlier:
        tick = round(job.in_weather.moment(each.start) * TICKS_PER_HOUR)
        for n, (task, piece) in enumerate(zip(tasks, job.built.pieces, strict=True)):
            layer = each.layer - task.first
            if piece.name != each.piece or not 0 <= layer < len(task.choices):
                continue
            tasks[n] = replace(task, choices=(*task.choices,))
            same = task.choices[layer].start == tick
            new = list(worth[n])
            new[layer] = new[layer] + np.where(same, _SAME, 0)
            worth[n] = tuple(new)
    return replace(site, problem=replace(site.problem, tasks=tuple(tasks)), worth=tuple(worth))


def _dispatch_site(
    company: Company,
    job: BoardJob,
    place: dict[date, int],
    now: pd.Timestamp,
) -> DispatchSite:
    """Return a job with the worth of each start. See `_worth`."""
    assert job.built is not None
    assert job.system is not None
    problem, costs = job.built.problem, company.costs
    day = tuple(place.get(each, -1) for each in job.built.shift_days)
    firm = _firm_tick(company, job, now)
    worth: dict[int, tuple[NDArray[np.int64], ...]] = {}
    missed = []
    for task, piece in zip(problem.tasks, job.built.pieces, strict=True):
        area = thousand_ft2(piece.area_m2)
        if id(task.choices) not in worth:
            worth[id(task.choices)] = tuple(
                _worth(
                    job, task.first + n, choice, area, firm, company,
                    np.array([day[s] for s in choice.shift.tolist()], dtype=np.int64),
                    costs.missed_1000ft2 if n == 0 and task.due_now is not None else 0.0,
                )
                for n, choice in enumerate(task.choices)
            )  # fmt: skip
        due = task.due_now is not None
        missed.append(round(costs.missed_1000ft2 * area * _THOUSANDTHS) if due else 0)
    worths = tuple(worth[id(t.choices)] for t in problem.tasks)
    return DispatchSite(problem, day, worths, tuple(missed))


def _firm_tick(company: Company, job: BoardJob, now: pd.Timestamp) -> float:
    """Return the tick before which work has to be decided by this board, not by the next."""
    assert job.in_weather is not None
    assert job.job is not None
    drives = [company.drive_h(crew, job.site) for crew in company.crew]
    drives = [drive for drive in drives if drive <= company.drive.most]
    before_h = company.board.call_off + job.job.crew.set_up + max(drives, default=0.0)
    decided = now + pd.Timedelta(days=1) + pd.Timedelta(hours=before_h)
    return job.in_weather.moment(decided) * TICKS_PER_HOUR


def _worth(
    job: BoardJob,
    layer: int,
    choice: Choice,
    area: float,
    firm: float,
    company: Company,
    day: NDArray[np.int64],
    missed: float,
) -> NDArray[np.int64]:
    """Return what each start of a layer is worth. [thousandths]

    What is at stake is what a layer is worth now less what it costs if it is lost, by the odds.
    Work that this board has to decide is worth that, below nothing too: only a deadline that would
    pass can make up for it. Work that can still be called off is not worth less than nothing. Half
    of what a layer is worth, by the odds, is added where they are not against it: enough to show
    what is likely, and never so much that the same odds on a later day are worth more. A cover that
    is lost does not save its deadline, which costs ``missed``. [money for 1,000 ft2]
    """
    if not choice.start.size:
        return np.zeros(0, dtype=np.int64)
    chance = np.floor(job.odds[layer].of(*choice.rows).careful / _STEP + 1e-9) * _STEP
    costs = company.costs
    stake = costs.laid_1000ft2 - costs.lost_1000ft2 * (1 - chance)
    by_odds = _SHARE_BY_ODDS * costs.laid_1000ft2 * chance
    gain = np.where(
        choice.start < firm,
        stake + np.where(stake >= 0, by_odds, 0.0),
        np.maximum(stake, 0.0) + by_odds,
    )
    later = costs.later_1000ft2_day * np.maximum(day, 0) + missed * (1 - chance)
    worth: NDArray[np.int64] = np.rint(_THOUSANDTHS * area * (gain - later)).astype(np.int64)
    return worth
