"""The best plan by a constraint solver (OR-Tools CP-SAT), with a proof of how good it is.

Of more than six pieces, those that are equal are laid in their order, layer by layer: a crew goes
that way too, and the solver has far less to try. The proof holds for such plans.

Two aims, one after the other: as much area laid as can be, then the least cost of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np
from ortools.sat.python import cp_model

from windows.planning.cost import cost_of, start_of
from windows.planning.groups import grouped, shortest
from windows.planning.insert import insert
from windows.planning.problem import FAR, Start

if TYPE_CHECKING:
    from collections.abc import Container, Mapping

    from windows.planning.groups import Group
    from windows.planning.problem import Choice, Problem, Task

__all__ = ["Solved", "solve"]

_AREA_SHARE = 0.3
"""Share of the time for the first aim; what it leaves goes to the second."""

_TIE_SHARE = 0.2
"""Share of the time that is left for choosing among plans that are equally good."""

_FEW = 6
"""Up to so many pieces, equal ones may overtake each other after their first layer."""

_FIRST = 1000
"""By how much more the area counts that covers a laid layer before its deadline."""


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


@dataclass(frozen=True)
class _Step:
    """The variables of one layer of a task; ``groups`` tells which group its start lies in."""

    laid: cp_model.IntVar
    start: cp_model.IntVar
    work: cp_model.IntervalVar
    groups: tuple[cp_model.IntVar, ...]


class _Model:
    """The problem as variables and constraints."""

    def __init__(self, problem: Problem, before: Mapping[tuple[int, int], int]) -> None:
        self.problem = problem
        self.model = cp_model.CpModel()
        self.groups = {id(task.choices): grouped(task) for task in problem.tasks}
        self.steps = [self._task(task) for task in problem.tasks]
        self.in_order = False
        self._same_pieces_in_order({task for task, _ in before} if problem.costs.change else set())
        self._room_in_shifts()
        self._ways()
        self._open_area()
        self.by_key = {
            (i, n): step for i, steps in enumerate(self.steps) for n, step in enumerate(steps)
        }
        self.area = cp_model.LinearExpr.weighted_sum(
            [step.laid for step in self.by_key.values()], [self.weight(k) for k in self.by_key]
        )
        self.cost = self._cost(before)

    def weight(self, key: tuple[int, int]) -> int:
        """Return what a laid layer counts: a cover that is due comes before all that is new."""
        task = self.problem.tasks[key[0]]
        return task.area * (_FIRST if task.due_now is not None and key[1] == 0 else 1)

    def _task(self, task: Task) -> list[_Step]:
        steps = [
            self._step(f"{task.name}/{task.first + n}", choice, groups)
            for n, (choice, groups) in enumerate(
                zip(task.choices, self.groups[id(task.choices)], strict=True)
            )
        ]
        model = self.model
        for n, (step, after) in enumerate(pairwise(steps)):
            model.add_implication(after.laid, step.laid)
            for inside, group in zip(step.groups, self.groups[id(task.choices)][n], strict=True):
                if group.must:
                    model.add_implication(inside, after.laid)
                if group.next_first > group.next_last:
                    model.add_implication(inside, after.laid.negated())
                    continue
                both = (inside, after.laid)
                model.add(after.start >= group.next_first).only_enforce_if(both)
                model.add(after.start <= group.next_last).only_enforce_if(both)
        return steps

    def _step(self, name: str, choice: Choice, groups: tuple[Group, ...]) -> _Step:
        model, size = self.model, choice.length + self.problem.move
        laid = model.new_bool_var(name)
        starts = choice.start.tolist() or [0]
        start = model.new_int_var_from_domain(cp_model.Domain.from_values(starts), name)
        inside = tuple(model.new_bool_var("") for _ in groups)
        model.add(sum(inside) == laid)
        for group, literal in zip(groups, inside, strict=True):
            model.add(start >= group.first).only_enforce_if(literal)
            model.add(start <= group.last).only_enforce_if(literal)
        work = model.new_optional_fixed_size_interval_var(start, size, laid, name)
        return _Step(laid, start, work, inside)

    def _room_in_shifts(self) -> None:
        """Say what follows from the rest, so that bounds are found sooner: the room of a shift."""
        problem, model = self.problem, self.model
        work: dict[int, list[cp_model.LinearExprT]] = {}
        free: dict[int, set[int]] = {}
        for task, steps in zip(problem.tasks, self.steps, strict=True):
            for step, choice, groups in zip(
                steps, task.choices, self.groups[id(task.choices)], strict=True
            ):
                for inside, group in zip(step.groups, groups, strict=True):
                    work.setdefault(group.shift, []).append((choice.length + problem.move) * inside)
                    span = range(group.first, group.last + choice.length + problem.move)
                    free.setdefault(group.shift, set()).update(span)
        for shift, lengths in work.items():
            model.add(cp_model.LinearExpr.sum(lengths) <= len(free[shift]))

    def _same_pieces_in_order(self, but: Container[int]) -> None:
        """Lay equal pieces in their order, ``but`` those that a change of plan would cost."""
        reached = {way for task in self.problem.tasks for way in task.over}
        last: dict[tuple[int, ...], list[_Step]] = {}
        for n, (task, steps) in enumerate(zip(self.problem.tasks, self.steps, strict=True)):
            if task.over or n in reached or task.first or n in but:
                continue
            kind = (task.area, *(id(choice) for choice in task.choices))
            # Where pieces are few, only their first layers are ordered, which loses no plan.
            every = steps if len(self.problem.tasks) > _FEW else steps[:1]
            self.in_order |= kind in last and len(every) > 1
            for step, earlier in zip(every, last.get(kind, []), strict=False):
                self.model.add_implication(step.laid, earlier.laid)
                self.model.add(step.start >= earlier.start).only_enforce_if(step.laid)
            last[kind] = steps

    def _ways(self) -> None:
        """One crew at a time on one piece; nobody on a way that is closed; who stays, not moves."""
        model, problem = self.model, self.problem
        self.stays: list[cp_model.IntVar] = []
        at_work = [step.work for steps in self.steps for step in steps]
        for task, steps in zip(problem.tasks, self.steps, strict=True):
            for n, (step, after) in enumerate(pairwise(steps)):
                stays = model.new_bool_var("")
                model.add_implication(stays, after.laid)
                begin = step.start + task.choices[n].length + problem.move
                size = model.new_int_var(0, problem.end, "")
                at_work.append(model.new_optional_interval_var(begin, size, after.start, stays, ""))
                self.stays.append(stays)
        model.add_no_overlap(at_work)
        for task, steps in zip(problem.tasks, self.steps, strict=True):
            for way in task.over:
                closed = [self._closed(way, n) for n in range(len(self.steps[way]))]
                model.add_no_overlap([*closed, *(step.work for step in steps)])

    def _closed(self, way: int, layer: int) -> cp_model.IntervalVar:
        """Return the time in which nobody may walk over a fresh layer."""
        model, step = self.model, self.steps[way][layer]
        choice = self.problem.tasks[way].choices[layer]
        domain = cp_model.Domain.from_values(sorted({0, *choice.opens.tolist()}))
        opens = model.new_int_var_from_domain(domain, "")
        rows = np.column_stack([choice.start, choice.opens]).tolist()
        model.add_allowed_assignments([step.start, opens], rows or [(0, 0)])
        return model.new_optional_interval_var(
            step.start, model.new_int_var(0, FAR, ""), opens, step.laid, ""
        )

    def _open_area(self) -> None:
        """Keep the bare area under its cap at every moment."""
        problem, model = self.problem, self.model
        if problem.open_area is None:
            return
        spans, areas = [], []
        cleared: list[tuple[int, cp_model.IntVar]] = []
        bare_now = sum(task.area for task in problem.tasks if task.bare_now)
        over = bare_now > problem.open_area
        for i, (task, steps) in enumerate(zip(problem.tasks, self.steps, strict=True)):
            begins = [(s.laid, s.start, bare) for s, bare in zip(steps, task.bare, strict=True)]
            follows = [*steps[1:], None]
            bare_next = [*task.bare[1:], False]
            if task.bare_now:
                always, now = model.new_constant(1), model.new_constant(problem.begin)
                begins.insert(0, (always, now, True))
                follows.insert(0, steps[0])
                bare_next.insert(0, task.bare[0])
            rows = zip(begins, follows, bare_next, strict=True)
            for n, ((laid, begin, bare), after, again) in enumerate(rows):
                if not bare:
                    continue
                end = model.new_int_var(0, problem.end, "")
                if after is None:
                    model.add(end == problem.end)
                else:
                    # What is laid on a bare layer and is bare itself goes on where that one ends.
                    length = 0 if again else task.choices[steps.index(after)].length
                    model.add(end == after.start + length).only_enforce_if(after.laid)
                    model.add(end == problem.end).only_enforce_if(after.laid.negated())
                if task.bare_now and not n and over:
                    cleared.append((i, end))
                    continue
                size = model.new_int_var(0, problem.end, "")
                spans.append(model.new_optional_interval_var(begin, size, end, laid, ""))
                areas.append(task.area)
        model.add_cumulative(spans, areas, problem.open_area)
        # What lies bare already is more than the cap: all of it first, and then what is new.
        for i, end in cleared:
            for other, steps in enumerate(self.steps):
                for step, bare in zip(steps, problem.tasks[other].bare, strict=True):
                    if bare and other != i:
                        model.add(step.start >= end).only_enforce_if(step.laid)

    def _no_spare(self) -> list[cp_model.IntVar]:
        """Return, for each layer with a deadline, whether its cover has no later shift left."""
        model = self.model
        found = []
        for task, steps in zip(self.problem.tasks, self.steps, strict=True):
            for n, (step, after) in enumerate(pairwise(steps)):
                told = [
                    (inside, group.spare_last)
                    for inside, group in zip(
                        step.groups, self.groups[id(task.choices)][n], strict=True
                    )
                    if group.spare_last is not None and group.next_first <= group.next_last
                ]
                if not told:
                    continue
                last = model.new_bool_var("")
                for inside, spare_last in told:
                    model.add(after.start <= spare_last).only_enforce_if(
                        inside, after.laid, last.negated()
                    )
                found.append(last)
            first = task.choices[0]
            if task.due_now is not None and first.start.size:
                before = first.start[first.shift < first.shift.max()]
                last = model.new_bool_var("")
                model.add(
                    steps[0].start <= (int(before.max()) if before.size else -1)
                ).only_enforce_if(last.negated(), steps[0].laid)
                found.append(last)
        return found

    def _cost(self, before: Mapping[tuple[int, int], int]) -> cp_model.LinearExpr:
        model, problem, costs = self.model, self.problem, self.problem.costs
        finish = model.new_int_var(problem.begin, problem.end, "finish")
        # One that follows on its own piece is no move.
        terms = [costs.tick * (finish - problem.begin)]
        terms += [-costs.move * stays for stays in self.stays]
        for i, (task, steps) in enumerate(zip(problem.tasks, self.steps, strict=True)):
            for n, step in enumerate(steps):
                end = step.start + task.choices[n].length
                model.add(finish >= end).only_enforce_if(step.laid)
                terms.append(costs.move * step.laid)
                if (i, n) in before and costs.change:
                    moved = model.new_bool_var("")
                    same = moved.negated()
                    model.add(step.start == before[i, n]).only_enforce_if(same)
                    model.add_implication(same, step.laid)
                    terms.append(costs.change * moved)
            terms.append(task.exposure * self._exposed(task, steps))
        if costs.no_spare:
            terms += [costs.no_spare * last for last in self._no_spare()]
        for shift, extra in enumerate(problem.extra):
            if extra and costs.extra_shift:
                terms.append(costs.extra_shift * self._used(shift))
        return cp_model.LinearExpr.sum(terms)

    def _used(self, shift: int) -> cp_model.IntVar:
        """Return whether a shift has any work."""
        used = self.model.new_bool_var("")
        for task, steps in zip(self.problem.tasks, self.steps, strict=True):
            for step, groups in zip(steps, self.groups[id(task.choices)], strict=True):
                for inside, group in zip(step.groups, groups, strict=True):
                    if group.shift == shift:
                        self.model.add_implication(inside, used)
        return used

    def _exposed(self, task: Task, steps: list[_Step]) -> cp_model.IntVar:
        """Return the ticks in which a piece lies with some of its layers, and not with the last."""
        model, problem = self.model, self.problem
        ticks = model.new_int_var(0, FAR, "")
        begin = steps[0].start if task.open_since is None else model.new_constant(task.open_since)
        last = steps[-1].laid
        model.add(ticks >= steps[-1].start - begin).only_enforce_if(last)
        if task.open_since is None:
            model.add(ticks >= shortest(task)).only_enforce_if(last)
        some = steps[0].laid if task.open_since is None else model.new_constant(1)
        model.add(ticks >= problem.end - begin).only_enforce_if(some, last.negated())
        return ticks


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
    made = _Model(problem, before)
    model = made.model
    # With ways over other pieces, or a cap, a plan that leaves layers open may not be sound.
    simple = problem.open_area is None and not any(task.over for task in problem.tasks)
    begun = insert(problem) if simple else ()
    best = {(s.task, s.layer): start_of(problem, s) for s in begun}
    hint = dict(before) or best
    bound = 0.0
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    # On these models the solver's own preparation costs seconds and finds little.
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_presolve_iterations = 1

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
    model.minimize(made.cost)
    laid, optimal = found(seconds - (monotonic() - began))
    if laid is not None:
        best = laid
        # The first placement is no move, which the model counts as one.
        bound = float(solver.best_objective_bound) - (problem.costs.move if best else 0)
    if optimal and most_laid:
        # Of plans that are as good, the same one each time: the first pieces first.
        model.add(made.cost <= round(solver.objective_value))
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
