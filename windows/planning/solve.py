"""The best plan by a constraint solver (OR-Tools CP-SAT), with a proof of how good it is.

Aims, one after the other: as much of the covers that are due as can be, as much area as can be with
these, then the least cost of that. Of more than six pieces, equal ones are laid in their order
(`windows.planning.model`): the proof holds for such plans.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np
from ortools.sat.python import cp_model

from windows.planning.cost import cost_of, start_of
from windows.planning.insert import insert
from windows.planning.model import Model
from windows.planning.problem import Start

if TYPE_CHECKING:
    from collections.abc import Mapping

    from windows.planning.problem import Problem

    _Ticks = dict[tuple[int, int], int]
    """Tick at which each layer of each task starts, of those that are laid."""

__all__ = ["Solved", "lays_all", "quick_solver", "solve"]

_AREA_SHARE = 0.3
"""Share of the time for the first aim; what it leaves goes to the second."""

_TIE_SHARE = 0.2
"""Share of the time that is left for choosing among plans that are equally good."""


@dataclass(frozen=True)
class Solved:
    """What the solver chose. ``cost`` and ``bound`` are in thousandths of money. [s]

    ``most_laid`` tells whether no more area can be laid, ``optimal`` whether that is done at the
    least cost; with ``in_order`` by plans that lay equal pieces in their order.
    """

    starts: tuple[Start, ...]
    most_laid: bool
    optimal: bool
    in_order: bool
    cost: int
    bound: float
    seconds: float


def quick_solver(workers: int = 8) -> cp_model.CpSolver:
    """Return a solver that gives the same answer each time, and begins at once.

    On models of days and shifts its own preparation costs seconds and finds little.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_presolve_iterations = 1
    # It would leave the default handler in place of Python's: Ctrl-C would end all without a word.
    solver.parameters.catch_sigint_signal = False
    return solver


def solve(
    problem: Problem,
    *,
    seconds: float = 20.0,
    workers: int = 8,
    before: Mapping[tuple[int, int], int] | None = None,
) -> Solved:
    """Return the best plan that is found in a time.

    Parameters
    ----------
    problem
        From `windows.planning.build.build`.
    seconds
        Most time to take. [s]
    workers
        Searches that run side by side.
    before
        Starts of an earlier plan by task and layer: where the search begins, and what a change of
        it costs. [tick]
    """
    began = monotonic()
    before = before or {}
    made = Model(problem, apart={task for task, _ in before} if problem.costs.change else ())
    cost_of_plan = made.cost(before)
    search = _Search(made, quick_solver(workers))
    best = _begun(problem)
    search.hint = dict(before) or best
    bound = 0.0
    best, most_laid = _most_area(search, best, seconds * _AREA_SHARE)
    made.model.minimize(cost_of_plan)
    laid, optimal = search.starts(seconds - (monotonic() - began))
    if laid is not None:
        best = laid
        # The first placement is no move, which the model counts as one.
        bound = float(search.solver.best_objective_bound) - (problem.costs.move if best else 0)
    if optimal and most_laid:
        made.model.add(cost_of_plan <= round(search.solver.objective_value))
        search.hint = best
        left = max(1.0, _TIE_SHARE * (seconds - (monotonic() - began)))
        best = _first_pieces_first(search, left) or best
    starts = [
        Start(i, layer, int(np.searchsorted(problem.tasks[i].choices[layer].start, tick)))
        for (i, layer), tick in sorted(best.items(), key=lambda item: item[1])
    ]
    cost = cost_of(problem, starts, before)
    bound = min(max(bound, 0.0), cost)
    return Solved(
        tuple(starts), most_laid, optimal and most_laid, made.in_order, cost, bound,
        monotonic() - began,
    )  # fmt: skip


def lays_all(problem: Problem, *, seconds: float = 20.0, workers: int = 8) -> bool:
    """Tell whether a plan that lays every layer is found in a time, whatever it costs.

    Parameters
    ----------
    problem, seconds, workers
        As of `solve`.
    """
    if not all(choice.start.size for task in problem.tasks for choice in task.choices):
        return False
    made = Model(problem)
    search = _Search(made, quick_solver(workers))
    search.hint = _begun(problem)
    if len(search.hint) == len(made.by_key):
        return True
    for step in made.by_key.values():
        made.model.add(step.laid == 1)
    return search.starts(seconds)[0] is not None


def _begun(problem: Problem) -> _Ticks:
    """Return a plan that is made quickly; none where it may not be sound.

    With ways over other pieces, or a cap, one that leaves layers open may not be.
    """
    if problem.open_area is not None or any(task.over for task in problem.tasks):
        return {}
    return {(s.task, s.layer): start_of(problem, s) for s in insert(problem)}


class _Search:
    """One model that is solved for one aim after another, each from the starts in ``hint``."""

    def __init__(self, made: Model, solver: cp_model.CpSolver) -> None:
        self.made, self.solver = made, solver
        self.hint: _Ticks = {}

    def starts(self, most_seconds: float) -> tuple[_Ticks | None, bool]:
        """Return the best starts for the aim that is set, None in want of time; and the proof."""
        model = self.made.model
        model.clear_hints()  # type: ignore[no-untyped-call]
        for key, step in self.made.by_key.items():
            model.add_hint(step.laid, key in self.hint)
            if key in self.hint:
                model.add_hint(step.start, self.hint[key])
        self.solver.parameters.max_time_in_seconds = max(0.1, most_seconds)
        status = self.solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, False
        laid = {
            key: self.solver.value(step.start)
            for key, step in self.made.by_key.items()
            if self.solver.value(step.laid)
        }
        return laid, status == cp_model.OPTIMAL


def _most_area(search: _Search, best: _Ticks, seconds: float) -> tuple[_Ticks, bool]:
    """Return starts that lay as much as can be, which the model is held to; and the proof.

    The most of the covers that are due comes first, and then, with these, the most of all.
    """
    made, end, proved = search.made, monotonic() + seconds, True
    for keys in (made.due, list(made.by_key)):
        if all(key in best for key in keys):
            for key in keys:
                made.model.add(made.by_key[key].laid == 1)
            continue

        def area(starts: _Ticks, keys: list[tuple[int, int]] = keys) -> int:
            return sum(made.problem.tasks[key[0]].area for key in keys if key in starts)

        told = made.area_laid(keys)
        made.model.maximize(told)
        laid, sure = search.starts(end - monotonic())
        best = search.hint = max(best, laid or {}, key=area)
        made.model.add(told >= area(best))
        proved = proved and sure
    return best, proved


def _first_pieces_first(search: _Search, seconds: float) -> _Ticks | None:
    """Return, of plans that are as good, the same one each time; None in want of time."""
    steps = list(search.made.by_key.values())
    order = list(range(len(steps), 0, -1))
    search.made.model.minimize(
        cp_model.LinearExpr.weighted_sum([step.start for step in steps], order)
    )
    return search.starts(seconds)[0]
