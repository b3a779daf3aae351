"""Why nobody is sent for a layer, and why a crew has nothing to do on a day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.board.crews import crewed, day_off, lacks
from windows.board.result import Undone
from windows.board.sites import UNKNOWN
from windows.planning.groups import possible
from windows.planning.outcome import ELSEWHERE, WAITS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from windows.board.company import Company, CrewFile
    from windows.board.dispatch import Dispatch
    from windows.board.promise import Promise
    from windows.board.result import Assignment
    from windows.board.sites import BoardJob
    from windows.plan import LeftOut, Plan

__all__ = ["idle_reasons", "undone"]

_TIME_UP = "; or the solver's time was up: give it more --seconds"
_NO_ODDS = (
    "its odds are not known: the forecast gives no probability of rain and no runs, and there are "
    "not enough years (years.csv.gz) to tell them from"
)


def undone(
    company: Company,
    problem: Dispatch,
    jobs: Sequence[BoardJob],
    plans: Sequence[Plan],
    under_way: Sequence[Promise],
    *,
    proved: bool,
) -> tuple[Undone, ...]:
    """Return the layers that nobody is sent for, with the reason.

    Parameters
    ----------
    company, problem, jobs, plans
        Crews; the dispatch; jobs that can be planned, and their plans.
    under_way
        Work that has begun: of its layer there is nothing to tell.
    proved
        Whether the plan is proved to be the best.
    """
    found = []
    begun = {(each.site, each.piece): each.layer for each in under_way}
    for n, (job, plan) in enumerate(zip(jobs, plans, strict=True)):
        assert job.covers is not None
        for each in plan.left_out:
            layer = begun.get((job.key, each.piece))
            if layer == each.layer:
                continue
            why = (
                _why(company, problem, n, job, each, proved=proved)
                if layer is None
                else "the layer below it is under way"
            )
            found.append(Undone(job.key, each.piece, each.layer, each.layer_name, why))
        built = {piece.name for piece in job.built.pieces} if job.built else set()
        for name, cover in job.covers.items():
            if name in built:
                continue
            assert job.system is not None
            why = (
                f"the layer below is overdue: {cover.advice[0].text}; then record when, as "
                "prepared = ... of that placement"
            )
            for number in range(cover.layer + 1, len(job.system.layers)):
                told = job.system.layers[number].name
                found.append(Undone(job.key, name, number, told, why))
                why = WAITS
    return tuple(found)


def _why(
    company: Company,
    problem: Dispatch,
    number: int,
    job: BoardJob,
    each: LeftOut,
    *,
    proved: bool,
) -> str:
    """Return why a layer is left out: the hours themselves, else the crews, else the odds."""
    assert job.built is not None
    assert job.system is not None
    task = next(n for n, p in enumerate(job.built.pieces) if p.name == each.piece)
    one = job.built.problem.tasks[task]
    layer = each.layer - one.first
    seen = job.built.blind.tasks[task].choices[layer]
    if seen.start.size and (job.odds[each.layer].of(*seen.rows).method == UNKNOWN).all():
        return _NO_ODDS
    if not each.reason.startswith((ELSEWHERE, WAITS)):
        return each.reason
    if not company.crew:
        return "there is no crew"
    bring = [crew for crew in company.crew if not lacks(crew, job)]
    if not bring:
        needs = ", ".join(job.job.needs) if job.job else ""
        return f"no crew brings what the job needs ({needs})"
    family = job.system.profiles[each.layer].family
    able = [crew for crew in bring if crew.may_lay(family)]
    if not able:
        return f"no crew that brings what the job needs may lay {family}"
    worth = problem.sites[number].worth[task][layer]
    choice = one.choices[layer]
    if not choice.start.size or each.reason.startswith(WAITS):
        return each.reason
    odds = job.odds[each.layer].of(*choice.rows)
    reached = crewed(company, problem.crews, number, job, one)
    if not reached[layer].start.size:
        return (
            "no crew that may lay it works there in its hours (days off, hours, drive): "
            + ", ".join(crew.name for crew in able)
        )
    if not possible(reached, one.same_shift)[layer].start.size:
        above = job.system.layers[each.layer + 1].name
        return (
            f"withheld: it would have to be covered, and no crew is there for '{above}' in time "
            "(skills, days off, hours, drive)"
        )
    best = float(odds.careful.max())
    if worth.max() <= 0:
        return f"waiting is cheaper: at best it holds with {best:.0%}"
    return (
        f"crews are worth more on other sites or days, or the visit costs more than it gains; at "
        f"best it holds with {best:.0%}{'' if proved else _TIME_UP}"
    )


def idle_reasons(
    crew: CrewFile,
    number: int,
    problem: Dispatch,
    jobs: Sequence[BoardJob],
    days: Sequence[date],
    sent: Sequence[Assignment],
    *,
    proved: bool,
) -> dict[date, str]:
    """Return why a crew has nothing to do, by day, of the days on which it has not."""
    busy = {each.day for each in sent if each.crew == crew.name}
    return {
        day: _idle(crew, number, problem, jobs, n, day, proved=proved)
        for n, day in enumerate(days)
        if day not in busy
    }


def _idle(
    crew: CrewFile,
    number: int,
    problem: Dispatch,
    jobs: Sequence[BoardJob],
    day_number: int,
    day: date,
    *,
    proved: bool,
) -> str:
    if day_off(crew, day):
        return "day off"
    if not jobs:
        return "no site can be planned"
    open_to = [not lacks(crew, job) for job in jobs]
    if not any(open_to):
        return "no site that it is equipped for"
    seen = hours = reached = gains = False
    for n, (site, job) in enumerate(zip(problem.sites, jobs, strict=True)):
        assert job.built is not None
        shifts = [s for s, d in enumerate(site.day) if d == day_number]
        seen |= bool(shifts)
        for task, worth in zip(site.problem.tasks, site.worth, strict=True):
            for layer, choice in enumerate(task.choices):
                one = problem.crews[number]
                if not one.may[n][task.first + layer]:
                    continue
                on = np.isin(choice.shift, shifts)
                hours |= bool(on.any())
                fits = on & one.reaches(n, choice)
                reached |= bool(fits.any())
                gains |= bool((worth[layer][fits] > 0).any())
    if not seen:
        return "no weather or no shift for any site on that day"
    if not hours:
        return "no valid hours on any site for what it may lay"
    if not reached:
        return "its own hours and its drives do not reach the valid hours of any site"
    if not gains:
        return "the odds are against every coat that it could lay"
    told = "what it could lay is planned for another crew or day, or gains less than it costs"
    return told if proved else f"{told}{_TIME_UP}"
