"""The best hours on each site for the crews that are sent there."""

from __future__ import annotations

from dataclasses import replace
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from windows.board.dispatch import Taken, Visit, kinds_of, part_of, worth_of
from windows.board.dispatch_model import DispatchModel, Found, hint, solved
from windows.board.who_goes import name_crews
from windows.planning.groups import possible
from windows.planning.insert import insert
from windows.planning.solve import quick_solver

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.board.dispatch import Dispatch

__all__ = ["LEAST_S", "best_hours"]

_SMALL = 8
"""Up to so many pieces one search alone is quicker than several side by side."""
_SITE_S = 1.0
"""Most time for the hours of a site, unless there is more for each. [s]"""
LEAST_S = 0.05
"""Least time for anything. [s]"""


def best_hours(
    problem: Dispatch, sent: frozenset[tuple[int, int, int]], seconds: float
) -> Found | None:
    """Return the best hours for the crews that are sent, site by site; None without any.

    Parameters
    ----------
    problem
        Sites, crews and promises.
    sent
        Site, shift and kind of each crew that is sent, the kind counted as `kinds_of` does.
    seconds
        Most time for all sites; each has at least `LEAST_S`. [s]
    """
    kinds = kinds_of(problem)
    visits: list[tuple[int, int, int]] = []
    taken: list[Taken] = []
    began = monotonic()
    numbers = sorted({n for n, _, _ in sent})
    for number in numbers:
        part = part_of(problem, [number], ())
        crew_of = {shift: kinds[k].crews[0] for n, shift, k in sent if n == number}
        left = seconds - (monotonic() - began)
        share = max(_SITE_S, seconds / len(numbers))
        starts = _site_hours(part, crew_of, max(LEAST_S, min(share, left)))
        taken += [replace(t, site=number) for t in starts]
        came = {part.shift_of(t) for t in starts}
        visits += [key for key in sent if key[0] == number and key[1] in came]
    return (tuple(name_crews(problem, visits)), tuple(taken)) if taken else None


def _site_hours(
    part: Dispatch, crew_of: dict[int, int], seconds: float
) -> tuple[Taken, ...]:
    """Return the best starts on one site for the crews that come, by shift."""
    quick = tuple(_inserted(part, crew_of))
    made = DispatchModel(part)
    alike = {crew: k for k, kind in enumerate(made.kinds) for crew in kind.crews}
    wanted = {(shift, alike[crew]) for shift, crew in crew_of.items()}
    for (_, shift, k), comes in made.here.items():
        if (shift, k) not in wanted:
            made.model.add(comes == 0)
    hint(made, _visits_of(part, quick, crew_of), quick)
    solver = quick_solver(1 if len(part.sites[0].problem.tasks) <= _SMALL else 8)
    solver.parameters.max_time_in_seconds = seconds
    found = solved(made, solver)
    starts = () if found is None else found[1]

    def worth(these: tuple[Taken, ...]) -> int:
        return worth_of(part, _visits_of(part, these, crew_of), these)

    return max(starts, quick, (), key=worth)


def _visits_of(
    part: Dispatch, starts: Iterable[Taken], crew_of: dict[int, int]
) -> tuple[Visit, ...]:
    shifts = dict.fromkeys(part.shift_of(t) for t in starts)
    return tuple(Visit(crew_of[shift], 0, shift) for shift in shifts)


def _inserted(part: Dispatch, crew_of: dict[int, int]) -> Iterable[Taken]:
    """Yield starts on one site, piece after piece in the earliest hours that are worth it."""
    site = part.sites[0]
    tasks = []
    for task, values, missed in zip(site.problem.tasks, site.worth, site.missed, strict=True):
        kept = []
        for n, (choice, value) in enumerate(zip(task.choices, values, strict=True)):
            good = value > (-missed if n == 0 else 0)
            comes = np.zeros(choice.start.shape, dtype=bool)
            for shift, number in crew_of.items():
                crew = part.crews[number]
                if crew.may[0][task.first + n]:
                    comes |= (choice.shift == shift) & crew.reaches(0, choice)
            kept.append(choice.keep(good & comes))
        tasks.append(replace(task, choices=possible(tuple(kept), task.same_shift)))
    problem = replace(site.problem, tasks=tuple(tasks))
    simple = problem.open_area is None and not any(task.over for task in tasks)
    for each in insert(problem) if simple else ():
        tick = problem.tasks[each.task].choices[each.layer].start[each.at]
        starts = site.problem.tasks[each.task].choices[each.layer].start
        yield Taken(0, each.task, each.layer, int(np.searchsorted(starts, tick)))
