"""What a crew is told for a day: where, when, which layers, with their odds and a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.company import thousand_ft2
from windows.board.crews import crewed, later_cover
from windows.board.result import Assignment, Work
from windows.decision import Decision, Stakes, decide
from windows.gates import State
from windows.odds.chance import Chance, Method
from windows.plan import Placement
from windows.planning.problem import TICKS_PER_HOUR
from windows.safety import cautions, cautions_without_weather, each_once
from windows.search import tightest_gates

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from cure_models.profile import Profile
    from windows.board.company import Company, CrewFile
    from windows.board.dispatch import DispatchCrew, Visit
    from windows.board.promise import Promise
    from windows.board.promises import Kept
    from windows.board.sites import BoardJob
    from windows.found import Tightest
    from windows.plan import Plan
    from windows.planning.problem import Choice, Task
    from windows.safety import Caution

__all__ = ["assignments", "held_assignments"]


@dataclass(frozen=True)
class _Sent:
    """What a visit is told from: the company, the job with its number and plan, all crews."""

    company: Company
    job: BoardJob
    number: int
    plan: Plan
    crews: Sequence[DispatchCrew]

    def crewed(self, task: Task) -> tuple[Choice, ...]:
        """Return the starts of a task at which some crew can be there."""
        return crewed(self.company, self.crews, self.number, self.job, task)


def assignments(
    company: Company,
    jobs: Sequence[BoardJob],
    plans: Sequence[Plan],
    crews: Sequence[DispatchCrew],
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
    crews, visits
        Crews of the dispatch, and those sent, by number of crew, job and shift.
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
            sent = _Sent(company, job, visit.site, plans[visit.site], crews)
            found.append(_assignment(sent, crew, day, placed, kept))
    return tuple(found)


def held_assignments(
    company: Company, jobs: Sequence[BoardJob], kept: Kept
) -> tuple[Assignment, ...]:
    """Return work that has begun, and work promised on sites of which nothing can be told now.

    Both stand as they were promised. Of the first there is nothing to decide any more; of the
    second it is not known whether to go.
    """
    by_key = {job.key: job for job in jobs}
    crews = {crew.name: crew for crew in company.crew}
    groups: dict[tuple[str, str, date, bool], list[Promise]] = {}
    for begun, promises in ((True, kept.under_way), (False, kept.held)):
        for each in promises:
            groups.setdefault((each.crew, each.site, each.day, begun), []).append(each)
    return tuple(
        _held(company, crews[crew], by_key.get(site), promises, begun=begun)
        for (crew, site, _, begun), promises in groups.items()
        if crew in crews
    )


def _held(
    company: Company,
    crew: CrewFile,
    job: BoardJob | None,
    promises: list[Promise],
    *,
    begun: bool,
) -> Assignment:
    first, last = promises[0], promises[-1]
    works: list[Work] = []
    told: list[Caution] = []
    for each in promises:
        area, profile = _as_job_has_it(job, each)
        placed = Placement(
            each.piece, each.section, area, each.layer, each.layer_name,
            each.coating if profile is None else profile.name,
            each.day, each.start, each.end, opens=None, due=None, spare=None,
        )  # fmt: skip
        chance, tightest = Chance(0.0, None, 1.0, Method.UNKNOWN), None
        told += cautions_without_weather(profile)
        if job is not None and job.built is not None and job.in_weather is not None:
            rows = _rows(job, placed)
            inside = rows[0] >= 0 and rows[1] <= len(job.in_weather.hours.index)
            if inside and profile is not None:
                chance, tightest = job.odds[each.layer].chance(*rows), _tightest(job, placed)
                told += _cautions(job, [placed])
        works.append(Work(placed, chance, tightest, promised=True))
    drive_h = 0.0 if job is None else company.drive_h(crew, job.site)
    return Assignment(
        crew=crew.name,
        site=first.site,
        day=first.day,
        arrive=first.start,
        leave=last.end,
        drive_h=drive_h,
        works=tuple(works),
        decision=None if begun else _not_known(company, promises, drive_h),
        cautions=each_once(told),
    )


def _as_job_has_it(job: BoardJob | None, promise: Promise) -> tuple[float, Profile | None]:
    """Return area and coating of promised work as the job has them now, if it can be read. [m2]"""
    if job is None or job.system is None or promise.layer >= len(job.system.layers):
        return promise.area_m2, None
    areas = {piece.name: piece.area_m2 for piece in job.pieces}
    return areas.get(promise.piece, promise.area_m2), job.system.profiles[promise.layer]


def _not_known(company: Company, promises: list[Promise], drive_h: float) -> Decision:
    """Return the decision on work of which nothing is known: that it is not."""
    area = max(sum(each.area_m2 for each in promises), 1.0)
    call_off = pd.Timedelta(hours=company.board.call_off + drive_h)
    start = promises[0].start
    return decide(
        _stakes(company, None), pd.DatetimeIndex([start]), [area], [0.0], [np.nan], [1.0], [True],
        start - call_off, promises[-1].end,
    )  # fmt: skip


def _assignment(
    sent: _Sent,
    crew: CrewFile,
    day: date,
    placed: list[Placement],
    kept: Kept,
) -> Assignment:
    company, job = sent.company, sent.job
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
    call_off = pd.Timedelta(hours=drive_h + company.board.call_off)
    return Assignment(
        crew=crew.name,
        site=job.key,
        day=day,
        arrive=arrive,
        leave=placed[-1].end + clean_up,
        drive_h=drive_h,
        works=works,
        decision=_decision(sent, placed, arrive - call_off),
        cautions=_cautions(job, placed),
    )


def _rows(job: BoardJob, each: Placement) -> tuple[int, int]:
    """Return the first row that a placement touches, and the one after its last."""
    assert job.in_weather is not None
    return job.in_weather.rows(each.start, each.end)


def _tightest(job: BoardJob, each: Placement) -> Tightest | None:
    assert job.in_weather is not None
    layer = job.in_weather.jobs[each.layer]
    first, after = _rows(job, each)
    return tightest_gates(layer.checked, layer.conditions, np.array([first]), np.array([after]))[0]


def _cautions(job: BoardJob, placed: list[Placement]) -> tuple[Caution, ...]:
    """Return what the crew is told, each once."""
    assert job.in_weather is not None
    return each_once(
        caution
        for each in placed
        for layer in [job.in_weather.jobs[each.layer]]
        for caution in cautions(layer.conditions, layer.coating, *_rows(job, each))
    )


def _decision(sent: _Sent, placed: list[Placement], decide_by: pd.Timestamp) -> Decision:
    """Return go or wait for the hours in which something is laid, hour by hour.

    In an hour with two layers the chance is the mean over their areas, and both must be allowed.
    Work does not stop between a layer that must be covered and its cover of the same visit.
    """
    job = sent.job
    assert job.in_weather is not None
    assert job.job is not None
    system = job.in_weather
    index = system.hours.index
    first, after = _rows(job, placed[0])[0], _rows(job, placed[-1])[1]
    size = after - first
    area, low, guess, high, passing = (np.zeros(size) for _ in range(5))
    allowed = np.ones(size, dtype=bool)
    for each in placed:
        rows = np.arange(*_rows(job, each))
        start, end = system.moment(each.start), system.moment(each.end)
        share = (np.minimum(end, rows + 1) - np.maximum(start, rows)) / (end - start)
        part, layer = share * each.area_m2, system.jobs[each.layer]
        chance = job.odds[each.layer].of(rows, rows + 1)
        at = rows - first
        area[at] += part
        low[at] += part * (1 - chance.high)
        guess[at] += part * (1 - chance.estimate)
        high[at] += part * (1 - chance.low)
        passing[at] += share * _passing(sent, each)
        states = np.maximum(layer.checked.state, layer.safety)
        allowed[at] &= states[rows] == State.OK
    used = np.flatnonzero(area > 0)
    low, guess, high = (np.clip(each[used] / area[used], 0, 1) for each in (low, guess, high))
    stakes = _stakes(sent.company, job.job.late_day)
    return decide(
        stakes, index[first + used], area[used], low, guess, high, allowed[used], decide_by,
        placed[-1].end, passing=passing[used], may_stop=~_between(job, placed, size, first)[used],
    )  # fmt: skip


def _stakes(company: Company, late_day: float | None) -> Stakes:
    """Return the costs of a shift, with a job's own price of a day if it has one."""
    costs = company.costs
    return Stakes(
        lost_per_m2=costs.lost_1000ft2 * thousand_ft2(1.0),
        wait=costs.wait_shift,
        late=costs.late_day if late_day is None else late_day,
    )


def _between(
    job: BoardJob, placed: list[Placement], size: int, first: int
) -> NDArray[np.bool_]:
    """Tell after which hours a layer of the visit lies bare that has to be covered in it."""
    assert job.system is not None
    bare = np.zeros(size, dtype=bool)
    for each in placed:
        cover = next(
            (o for o in placed if (o.piece, o.layer) == (each.piece, each.layer + 1)), None
        )
        if cover is not None and job.system.must_be_covered(each.layer):
            bare[_rows(job, each)[0] - first : _rows(job, cover)[1] - 1 - first] = True
    return bare


def _passing(sent: _Sent, each: Placement) -> float:
    """Return what it costs that a deadline passes if a layer is not laid in this shift. [money]

    That of the layer below, which lies on the roof or is planned for an earlier shift. It does not
    pass if some crew can come on a later day that is in time.
    """
    job = sent.job
    assert job.built is not None
    assert job.in_weather is not None
    number = next(n for n, piece in enumerate(job.built.pieces) if piece.name == each.piece)
    task = job.built.problem.tasks[number]
    under = next(
        (o for o in sent.plan.placements if (o.piece, o.layer) == (each.piece, each.layer - 1)),
        None,
    )
    if each.layer == task.first:
        due = None if task.due_now is None else float(task.due_now)
    elif under is None or under.due is None or under.shift == each.shift:
        due = None  # without this shift it would not lie there
    else:
        due = job.in_weather.moment(under.due) * TICKS_PER_HOUR
    choice = sent.crewed(task)[each.layer - task.first]
    if due is None or later_cover(choice, job, each, due):
        return 0.0
    return sent.company.costs.missed_1000ft2 * thousand_ft2(each.area_m2)
