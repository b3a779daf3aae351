"""The dispatch as variables and constraints of a solver (OR-Tools CP-SAT), and what it finds.

Crews that are alike in everything and have promised nothing are one kind: the solver says how many
of a kind go where; who of them goes is told afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from ortools.sat.python import cp_model

from windows.board.dispatch import Taken, Visit, kinds_of
from windows.board.who_goes import name_crews
from windows.planning.model import Model

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.board.dispatch import Dispatch, DispatchCrew
    from windows.planning.model import Step

__all__ = ["DispatchModel", "Found", "hint", "solved"]


class DispatchModel:
    """The dispatch as variables and constraints."""

    def __init__(self, problem: Dispatch) -> None:
        self.problem = problem
        self.model = cp_model.CpModel()
        self.kinds = kinds_of(problem)
        tied = {(site, task) for site, task, _ in problem.promised}
        self.made = [
            Model(
                site.problem,
                apart={task for n, task in tied if n == number},
                model=self.model,
                levels={
                    id(task.choices): worth
                    for task, worth in zip(site.problem.tasks, site.worth, strict=True)
                },
            )
            for number, site in enumerate(problem.sites)
        ]
        self.terms: list[cp_model.LinearExprT] = []
        self.here: dict[tuple[int, int, int], cp_model.IntVar] = {}
        for number in range(len(problem.sites)):
            self._site(number)
        self._days()
        self._moves()
        self._promises()
        self.worth = cp_model.LinearExpr.sum(self.terms)
        self.model.maximize(self.worth)

    def _site(self, number: int) -> None:
        """Tie the starts of a site to the kinds of crews that can come in their shifts."""
        site, made, model = self.problem.sites[number], self.made[number], self.model
        inside = _by_shift(made)
        for shift, works in sorted(inside.items()):
            who = []
            for k, kind in enumerate(self.kinds):
                if _useful(kind.crew, number, shift, works) and site.day[shift] >= 0:
                    comes = model.new_bool_var(f"site{number}/shift{shift}/kind{k}")
                    self.here[number, shift, k] = comes
                    who.append((kind.crew, comes))
                    self.terms.append(-kind.crew.visit[number] * comes)
            if len(who) > 1:
                model.add_at_most_one(comes for _, comes in who)
            for work in works:
                self._work(number, shift, work, who)
            self._room(works, [comes for _, comes in who], site.problem.move)
        for task, cost in enumerate(site.missed):
            if cost:
                self.terms.append(cost * made.steps[task][0].laid - cost)

    def _work(
        self,
        number: int,
        shift: int,
        work: _Work,
        who: list[tuple[DispatchCrew, cp_model.IntVar]],
    ) -> None:
        """Let a start lie in a shift only if a crew comes that may lay it, within its hours."""
        model = self.model
        self.terms.append(work.worth * work.inside)
        fit = []
        for crew, comes in who:
            begin, end = int(crew.first[number][shift]), int(crew.last[number][shift])
            if not crew.may[number][work.number] or max(begin, work.first) > min(
                end - work.length, work.last
            ):
                continue
            fit.append(comes)
            if begin > work.first:
                model.add(work.step.start >= begin).only_enforce_if(work.inside, comes)
            if end < work.last + work.length:
                model.add(work.step.start <= end - work.length).only_enforce_if(work.inside, comes)
        model.add(cp_model.LinearExpr.sum(fit) >= work.inside)

    def _room(self, works: list[_Work], who: list[cp_model.IntVar], move: int) -> None:
        """Say what follows from the rest, so that bounds are found sooner: no crew, no room."""
        free: set[int] = set()
        for work in works:
            free.update(range(work.first, work.last + work.length + move))
        lengths = [(work.length + move) * work.inside for work in works]
        self.model.add(
            cp_model.LinearExpr.sum(lengths) <= len(free) * cp_model.LinearExpr.sum(who)
        )

    def _days(self) -> None:
        """Send no more crews of a kind than there are, each to one site a day."""
        by_day: dict[tuple[int, int], list[cp_model.IntVar]] = {}
        for (number, shift, k), comes in self.here.items():
            by_day.setdefault((self.problem.sites[number].day[shift], k), []).append(comes)
        for (_, k), comes_here in by_day.items():
            self.model.add(cp_model.LinearExpr.sum(comes_here) <= len(self.kinds[k].crews))

    def _moves(self) -> None:
        """Price each arrival at a site: crews stay on one until they are needed on another."""
        problem, model = self.problem, self.model
        if not problem.prices.move:
            return
        on_day = {
            (n, problem.sites[n].day[shift], k): comes
            for (n, shift, k), comes in self.here.items()
        }
        seen = sorted({(n, k) for n, _, k in on_day})
        stays: dict[tuple[int, int], list[cp_model.IntVar]] = {}
        for n, k in seen:
            here_first = self.kinds[k].crew.station == n
            before = model.new_constant(int(here_first))
            first = min(day for m, day, j in on_day if (m, j) == (n, k))
            for day in range(0 if here_first else first, problem.days):
                stationed = model.new_bool_var("")
                stays.setdefault((day, k), []).append(stationed)
                comes = on_day.get((n, day, k))
                if comes is not None:
                    model.add_implication(comes, stationed)
                arrives = model.new_bool_var("")
                model.add(arrives >= stationed - before)
                self.terms.append(-problem.prices.move * arrives)
                before = stationed
        for (_, k), here in stays.items():
            model.add(cp_model.LinearExpr.sum(here) <= len(self.kinds[k].crews))

    def _promises(self) -> None:
        """Price each promise that is not kept."""
        problem, model = self.problem, self.model
        kind_of = {crew: k for k, kind in enumerate(self.kinds) for crew in kind.crews}
        for (number, task, layer), (crew, day) in problem.promised.items():
            kept = model.new_bool_var("")
            site, made = problem.sites[number], self.made[number]
            step = made.steps[task][layer]
            groups = made.groups[id(site.problem.tasks[task].choices)][layer]
            on_day = [
                inside
                for inside, group in zip(step.groups, groups, strict=True)
                if site.day[group.shift] == day
            ]
            here = [
                comes
                for (n, shift, k), comes in self.here.items()
                if n == number and site.day[shift] == day and k == kind_of[crew]
            ]
            model.add(cp_model.LinearExpr.sum(on_day) >= kept)
            model.add(cp_model.LinearExpr.sum(here) >= kept)
            self.terms.append(problem.prices.change * kept - problem.prices.change)


@dataclass(frozen=True)
class _Work:
    """A group of starts in a shift: the layer's number in the system, and what it is worth."""

    inside: cp_model.IntVar
    step: Step
    first: int
    last: int
    length: int
    number: int
    worth: int


def _by_shift(made: Model) -> dict[int, list[_Work]]:
    """Return the groups of starts of a site by their shift."""
    found: dict[int, list[_Work]] = {}
    for task, steps in zip(made.problem.tasks, made.steps, strict=True):
        for layer, (step, groups) in enumerate(
            zip(steps, made.groups[id(task.choices)], strict=True)
        ):
            for inside, group in zip(step.groups, groups, strict=True):
                found.setdefault(group.shift, []).append(
                    _Work(
                        inside, step, group.first, group.last, task.choices[layer].length,
                        task.first + layer, group.level,
                    )
                )  # fmt: skip
    return found


def _useful(crew: DispatchCrew, site: int, shift: int, works: Iterable[_Work]) -> bool:
    """Tell whether a crew can lay anything of a shift."""
    begin, end = int(crew.first[site][shift]), int(crew.last[site][shift])
    return any(
        crew.may[site][work.number]
        and max(begin, work.first) <= min(end - work.length, work.last)
        for work in works
    )


Found = tuple[tuple[Visit, ...], tuple[Taken, ...]]
"""Visits, and the starts that are taken by them."""


def solved(made: DispatchModel, solver: cp_model.CpSolver) -> Found | None:
    """Return visits and starts, None if none are found in time."""
    if solver.solve(made.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    taken = tuple(_taken(made, solver))
    problem = made.problem
    worked = {(t.site, problem.shift_of(t)) for t in taken}
    sent = [
        key for key, comes in made.here.items() if key[:2] in worked and solver.value(comes)
    ]
    return tuple(name_crews(problem, sent)), taken


def hint(made: DispatchModel, visits: tuple[Visit, ...], taken: tuple[Taken, ...]) -> None:
    """Give the solver an assignment to begin with."""
    model = made.model
    at = {(t.site, t.task, t.layer): t.at for t in taken}
    kind_of = {crew: k for k, kind in enumerate(made.kinds) for crew in kind.crews}
    here = {(v.site, v.shift, kind_of[v.crew]) for v in visits}
    for key, comes in made.here.items():
        model.add_hint(comes, key in here)
    for number, one in enumerate(made.made):
        for (task, layer), step in one.by_key.items():
            key = (number, task, layer)
            model.add_hint(step.laid, key in at)
            if key in at:
                choice = one.problem.tasks[task].choices[layer]
                model.add_hint(step.start, int(choice.start[at[key]]))


def _taken(made: DispatchModel, solver: cp_model.CpSolver) -> Iterable[Taken]:
    for number, one in enumerate(made.made):
        for (task, layer), step in one.by_key.items():
            if solver.value(step.laid):
                starts = one.problem.tasks[task].choices[layer].start
                yield Taken(
                    number, task, layer, int(np.searchsorted(starts, solver.value(step.start)))
                )
