"""A job as variables and constraints of a solver (OR-Tools CP-SAT): what every plan of it keeps.

Of more than six pieces, those that are equal are laid in their order, layer by layer: a crew goes
that way too, and the solver has far less to try.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from ortools.sat.python import cp_model

from windows.planning.groups import grouped, shortest
from windows.planning.problem import FAR

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Mapping

    from numpy.typing import NDArray

    from windows.planning.groups import Group
    from windows.planning.problem import Choice, Problem, Task

__all__ = ["Model", "Step"]

_FEW = 6
"""Up to so many pieces, equal ones may overtake each other after their first layer."""


@dataclass(frozen=True)
class Step:
    """The variables of one layer of a task; ``groups`` tells which group its start lies in."""

    laid: cp_model.IntVar
    start: cp_model.IntVar
    work: cp_model.IntervalVar
    groups: tuple[cp_model.IntVar, ...]


class Model:
    """The problem as variables and constraints.

    Parameters
    ----------
    problem
        One job.
    apart
        Tasks that are not bound to the order of their equals: a change of plan would cost them.
    model
        Where variables and constraints go, default a model of its own.
    levels
        For each tuple of choices (by its ``id``), arrays over the starts of each choice: starts of
        another level are not taken together.
    """

    def __init__(
        self,
        problem: Problem,
        *,
        apart: Container[int] = (),
        model: cp_model.CpModel | None = None,
        levels: Mapping[int, tuple[NDArray[np.int64], ...]] | None = None,
    ) -> None:
        self.problem = problem
        self.model = cp_model.CpModel() if model is None else model
        self.levelled = levels is not None
        self.groups = {
            id(task.choices): grouped(task, (levels or {}).get(id(task.choices)))
            for task in problem.tasks
        }
        self.steps = [self._task(task) for task in problem.tasks]
        self.in_order = False
        self._same_pieces_in_order(apart)
        self._room_in_shifts()
        self._ways()
        self._open_area()
        self.by_key = {
            (i, n): step for i, steps in enumerate(self.steps) for n, step in enumerate(steps)
        }
        self.due = [key for key in self.by_key if self._is_due(key)]

    def _is_due(self, key: tuple[int, int]) -> bool:
        """Tell whether a layer covers one that lies already and is due in this weather."""
        return key[1] == 0 and self.problem.tasks[key[0]].due_now is not None

    def area_laid(self, keys: Iterable[tuple[int, int]]) -> cp_model.LinearExprT:
        """Return the area that is laid of these layers."""
        steps = [(self.by_key[key].laid, self.problem.tasks[key[0]].area) for key in keys]
        return cp_model.LinearExpr.weighted_sum(*zip(*steps, strict=True))

    def _task(self, task: Task) -> list[Step]:
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

    def _step(self, name: str, choice: Choice, groups: tuple[Group, ...]) -> Step:
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
        return Step(laid, start, work, inside)

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
        last: dict[tuple[int, ...], list[Step]] = {}
        for n, (task, steps) in enumerate(zip(self.problem.tasks, self.steps, strict=True)):
            if task.over or n in reached or task.first or n in but:
                continue
            # With levels, equal hours may be worth more on one piece than on another.
            own = [id(task.choices)] if self.levelled else [id(each) for each in task.choices]
            kind = (task.area, *own)
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

    def cost(self, before: Mapping[tuple[int, int], int]) -> cp_model.LinearExpr:
        """Return the cost of a plan; changes of ``before`` have theirs. [thousandths]"""
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

    def _exposed(self, task: Task, steps: list[Step]) -> cp_model.IntVar:
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
