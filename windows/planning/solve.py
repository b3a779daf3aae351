"""The best plan by a constraint solver (OR-Tools CP-SAT), with a proof of how good it is.

Two aims, one after the other: as much area laid as can be, then the least cost of that. Of more
than six pieces, equal ones are laid in their order (`windows.planning.model`): the proof holds for
such plans.
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

__all__ = ["Solved", "quick_solver", "solve"]

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
    model = made.model
    # With ways over other pieces, or a cap, a plan that leaves layers open may not be sound.
    simple = problem.open_area is None and not any(task.over for task in problem.tasks)
    begun = insert(problem) if simple else ()
    best = {(s.task, s.layer): start_of(problem, s) for s in begun}
    hint = dict(before) or best
    bound = 0.0
    solver = quick_solver(workers)

    def found(most_seconds: float) -> tuple[dict[tuple[int, int], int] | None, bool]:
        """Return the best starts for the aim that is set, None in want of time; and the proof."""
        model.clear_hints()  # type: ignore[no-untyped-call]
        for key, step in made.by_key.items():
            model.add_hint(step.laid, key in hint)
            if key in hint:
                model.add_hint(step.start, hint[key])
        solver.parameters.max_time_in_seconds = max(0.1, most_seconds)
        status = solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, False
        laid = {
            key: solver.value(step.start)
            for key, step in made.by_key.items()
            if solver.value(step.laid)
        }
        return laid, status == cp_model.OPTIMAL

    def area(starts: Mapping[tuple[int, int], int]) -> int:
        return sum(made.weight(key) for key in starts)

    most_laid = len(best) == len(made.by_key)
    if most_laid:
        for step in made.by_key.values():
            model.add(step.laid == 1)
    else:
        model.maximize(made.area)
        laid, most_laid = found(seconds * _AREA_SHARE)
        best = hint = max(laid or {}, best, key=area)
        model.add(made.area >= area(best))
    model.minimize(cost_of_plan)
    laid, optimal = found(seconds - (monotonic() - began))
    if laid is not None:
        best = laid
        # The first placement is no move, which the model counts as one.
        bound = float(solver.best_objective_bound) - (problem.costs.move if best else 0)
    if optimal and most_laid:
        # Of plans that are as good, the same one each time: the first pieces first.
        model.add(cost_of_plan <= round(solver.objective_value))
        hint = best
        steps = list(made.by_key.values())
        order = range(len(steps), 0, -1)
        model.minimize(cp_model.LinearExpr.weighted_sum([s.start for s in steps], list(order)))
        best = found(max(1.0, _TIE_SHARE * (seconds - (monotonic() - began))))[0] or best
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
