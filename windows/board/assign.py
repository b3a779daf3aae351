"""The best assignment of crews to sites by a constraint solver (OR-Tools CP-SAT), with a bound.

Crews that are alike in everything and have promised nothing are one kind: the solver says how many
of a kind go where, and who of them is told afterwards, so that whoever is on a site stays there.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import floor, inf, isfinite
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np
from ortools.sat.python import cp_model

from windows.board.dispatch import Taken, Visit, kinds_of, part_of, worth_of
from windows.board.outline import day_prices, outline
from windows.board.quiet import no_output
from windows.planning.groups import possible
from windows.planning.insert import insert
from windows.planning.model import Model
from windows.planning.solve import quick_solver

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from concurrent.futures import Future

    from windows.board.dispatch import Crew, Dispatch, Site
    from windows.board.outline import Outline, Toll
    from windows.planning.model import Step

__all__ = ["Assigned", "assign"]

_FEW_SITES = 8
"""So many sites are solved as a whole."""
_SMALL = 8
"""Up to so many pieces one search alone is quicker than several side by side."""
_PART = 8
"""Sites that are planned anew at a time."""
_PART_S, _SITE_S, _LEAST_S = 1.5, 1.0, 0.05
"""Most time for a part, for the hours of a site; and the least for anything. [s]"""
_OUTLINE_SHARE, _FIRST_SHARE, _HOURS_SHARE = 0.8, 0.3, 0.4
"""Share of the time for the bound beside the plans, for that before the plan of few sites, and for
the hours of the crews that it sends."""
_TOLL_SHARES = (0.95, 0.4)
"""Share of a crew's day price that a visit has to earn beside its own, in the first rounds."""
_TIE = 1e-6


@dataclass(frozen=True)
class Assigned:
    """What the solver chose: its worth and a bound above it in thousandths of money. [s]

    With ``in_order`` the bound is one of plans that lay equal pieces of a site in their order.
    """

    visits: tuple[Visit, ...]
    taken: tuple[Taken, ...]
    worth: int
    bound: float
    optimal: bool
    in_order: bool
    seconds: float


class _Board:
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
        who: list[tuple[Crew, cp_model.IntVar]],
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


def _useful(crew: Crew, site: int, shift: int, works: Iterable[_Work]) -> bool:
    """Tell whether a crew can lay anything of a shift."""
    begin, end = int(crew.first[site][shift]), int(crew.last[site][shift])
    return any(
        crew.may[site][work.number]
        and max(begin, work.first) <= min(end - work.length, work.last)
        for work in works
    )


Found = tuple[tuple[Visit, ...], tuple[Taken, ...]]


def assign(problem: Dispatch, *, seconds: float = 20.0, seed: int = 1) -> Assigned:
    """Return the best assignment that is found in a time.

    A bound is sought beside (`windows.board.outline`) while plans are made: site after site at the
    prices of crews' days that the linear relaxation gives, then a few sites at a time anew, for as
    long as the time lasts. Few sites are solved as a whole, hours and all, which proves the best.

    Parameters
    ----------
    problem
        Sites, crews and promises.
    seconds
        Most time to take. [s]
    seed
        Of the choice of sites that are planned anew.
    """
    clock = _Clock(monotonic(), seconds)
    plan = _Plan(problem)
    with no_output():
        if len(problem.sites) <= _FEW_SITES:
            bound, in_order = _as_a_whole(plan, clock)
        else:
            bound, in_order = _in_parts(plan, clock, seed), False
    optimal = plan.worth >= floor(bound + _TIE)
    return Assigned(
        plan.visits, plan.taken, plan.worth, max(bound, plan.worth), optimal, in_order,
        clock.passed(),
    )  # fmt: skip


@dataclass(frozen=True)
class _Clock:
    """What is left of the time. [s]"""

    began: float
    seconds: float

    def passed(self) -> float:
        return monotonic() - self.began

    def left(self, share: float = 1.0) -> float:
        return max(0.0, share * (self.seconds - self.passed()))


class _Plan:
    """The best visits and starts so far."""

    def __init__(self, problem: Dispatch) -> None:
        self.problem = problem
        self.visits: tuple[Visit, ...] = ()
        self.taken: tuple[Taken, ...] = ()
        self.worth = worth_of(problem, (), ())

    def take(self, found: Found | None) -> None:
        """Take what was found if it is worth more."""
        worth = self.worth if found is None else worth_of(self.problem, *found)
        if found is not None and worth > self.worth:
            (self.visits, self.taken), self.worth = found, worth

    def without(self, sites: Collection[int]) -> Found:
        """Return visits and starts on all but some sites."""
        return (
            tuple(v for v in self.visits if v.site not in sites),
            tuple(t for t in self.taken if t.site not in sites),
        )


def _begin(plan: _Plan, clock: _Clock) -> None:
    """Begin with the crews of an earlier plan, or the first crew for the first site that has work.

    So there is a plan, however short the time.
    """
    problem = plan.problem
    kind_of = {crew: k for k, kind in enumerate(kinds_of(problem)) for crew in kind.crews}
    for visits in (problem.before, _first_come(problem)):
        sent = frozenset((v.site, v.shift, kind_of[v.crew]) for v in visits)
        if sent and not plan.taken:
            plan.take(_hours(problem, sent, clock.left(_HOURS_SHARE)))


def _first_come(problem: Dispatch) -> list[Visit]:
    """Return visits by day: each crew goes to the first site that it may lay something on.

    Sites with the most to gain come first.
    """
    gain = [
        sum(int(np.maximum(worth[0], 0).max(initial=0)) for worth in site.worth if worth)
        for site in problem.sites
    ]
    order = sorted(range(len(problem.sites)), key=lambda n: -gain[n])
    found: list[Visit] = []
    taken: set[tuple[str, int, int]] = set()
    for day in range(problem.days):
        for number in order:
            site = problem.sites[number]
            for shift in (n for n, d in enumerate(site.day) if d == day):
                crew = next(
                    (
                        c for c, crew in enumerate(problem.crews)
                        if ("crew", c, day) not in taken and _may_work(crew, site, number, shift)
                    ),
                    None,
                )  # fmt: skip
                if crew is not None and ("site", number, day) not in taken:
                    taken |= {("crew", crew, day), ("site", number, day)}
                    found.append(Visit(crew, number, shift))
    return found


def _may_work(crew: Crew, site: Site, number: int, shift: int) -> bool:
    """Tell whether a crew may lay any layer of a site in a shift."""
    return any(
        crew.may[number][task.first + n]
        and bool(((choice.shift == shift) & crew.reaches(number, choice)).any())
        for task in site.problem.tasks
        for n, choice in enumerate(task.choices)
    )


def _as_a_whole(plan: _Plan, clock: _Clock) -> tuple[float, bool]:
    """Better a plan of few sites by the whole model.

    Return a bound, and whether it is one of plans that lay equal pieces in their order.
    """
    _begin(plan, clock)
    days = outline(plan.problem, seconds=clock.left(_FIRST_SHARE))
    plan.take(_hours(plan.problem, days.sent, clock.left(_HOURS_SHARE)))
    if plan.worth >= floor(days.bound + _TIE):
        return days.bound, False
    whole = _Board(plan.problem)
    found, proved = _improve(whole, plan, days.bound, clock.left())
    plan.take(found)
    in_order = any(each.in_order for each in whole.made)
    return min(days.bound, proved), in_order and proved < days.bound


def _in_parts(plan: _Plan, clock: _Clock, seed: int) -> float:
    """Better a plan site by site, then a few sites at a time; return the bound found beside."""
    with ThreadPoolExecutor(1) as beside:
        outlined = beside.submit(outline, plan.problem, seconds=clock.left(_OUTLINE_SHARE))
        return _beside(plan, clock, outlined, seed)


def _beside(plan: _Plan, clock: _Clock, outlined: Future[Outline], seed: int) -> float:
    rng = np.random.default_rng(seed)
    problem = plan.problem
    _begin(plan, clock)
    bound, toll = day_prices(problem)
    everywhere = np.arange(len(problem.sites))
    for share in _TOLL_SHARES:
        for number in rng.permutation(everywhere).tolist():
            if clock.left() <= 0:
                break
            _anew(plan, [number], {day: share * price for day, price in toll.items()}, 1.0)
    used_outline = False
    while clock.left() > _LEAST_S:
        if outlined.done() and not used_outline:
            days, used_outline = outlined.result(), True
            bound = min(bound, days.bound)
            plan.take(_hours(problem, days.sent, clock.left(_HOURS_SHARE)))
        if plan.worth >= floor(bound + _TIE):
            break
        sites = rng.choice(everywhere, size=min(_PART, len(everywhere)), replace=False).tolist()
        _anew(plan, sites, {}, min(_PART_S, clock.left()))
    return min(bound, outlined.result().bound)


def _anew(plan: _Plan, sites: list[int], toll: Toll, seconds: float) -> None:
    """Plan some sites anew with the crews that the others leave; keep what is worth more."""
    visits, taken = plan.without(sites)
    part = part_of(plan.problem, sites, visits)
    sent = outline(part, seconds=seconds, toll=toll).sent
    if not sent:
        return
    found = _hours(part, sent, seconds)
    if found is None:
        return
    mine, starts = found
    visits += tuple(replace(v, site=sites[v.site]) for v in mine)
    taken += tuple(replace(t, site=sites[t.site]) for t in starts)
    plan.take((visits, taken))


def _hours(
    problem: Dispatch, sent: frozenset[tuple[int, int, int]], seconds: float
) -> Found | None:
    """Return the best hours for the crews that are sent, site by site; None without any."""
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
        starts = _site_hours(part, crew_of, max(_LEAST_S, min(share, left)))
        taken += [replace(t, site=number) for t in starts]
        came = {part.shift_of(t) for t in starts}
        visits += [key for key in sent if key[0] == number and key[1] in came]
    return (tuple(name_crews(problem, visits)), tuple(taken)) if taken else None


def _site_hours(
    part: Dispatch, crew_of: dict[int, int], seconds: float
) -> tuple[Taken, ...]:
    """Return the best starts on one site for the crews that come, by shift."""
    quick = tuple(_inserted(part, crew_of))
    made = _Board(part)
    alike = {crew: k for k, kind in enumerate(made.kinds) for crew in kind.crews}
    wanted = {(shift, alike[crew]) for shift, crew in crew_of.items()}
    for (_, shift, k), comes in made.here.items():
        if (shift, k) not in wanted:
            made.model.add(comes == 0)
    _hint(made, _visits_of(part, quick, crew_of), quick)
    solver = quick_solver(1 if len(part.sites[0].problem.tasks) <= _SMALL else 8)
    solver.parameters.max_time_in_seconds = seconds
    found = _solved(made, solver)
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


def _improve(
    made: _Board, plan: _Plan, bound: float, seconds: float
) -> tuple[Found | None, float]:
    """Return what is found from a plan on by the whole model, and a bound on all plans."""
    if isfinite(bound):
        made.model.add(made.worth <= floor(bound + _TIE))
    if plan.taken:
        _hint(made, plan.visits, plan.taken)
    solver = quick_solver()
    solver.parameters.max_time_in_seconds = max(_LEAST_S, seconds)
    found = _solved(made, solver)
    return found, inf if found is None else float(solver.best_objective_bound)


def _solved(made: _Board, solver: cp_model.CpSolver) -> Found | None:
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


def _hint(made: _Board, visits: tuple[Visit, ...], taken: tuple[Taken, ...]) -> None:
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


def _taken(made: _Board, solver: cp_model.CpSolver) -> Iterable[Taken]:
    for number, one in enumerate(made.made):
        for (task, layer), step in one.by_key.items():
            if solver.value(step.laid):
                starts = one.problem.tasks[task].choices[layer].start
                yield Taken(
                    number, task, layer, int(np.searchsorted(starts, solver.value(step.start)))
                )


def name_crews(problem: Dispatch, sent: Iterable[tuple[int, int, int]]) -> Iterable[Visit]:
    """Yield the visits of kinds of crews, by site and shift, so that who is on a site stays."""
    for k, kind in enumerate(kinds_of(problem)):
        on = dict.fromkeys(kind.crews, kind.crew.station)
        coming = sorted(
            (problem.sites[n].day[shift], n, shift) for n, shift, j in sent if j == k
        )
        for day in sorted({d for d, _, _ in coming}):
            today = [(n, shift) for d, n, shift in coming if d == day]
            free = dict.fromkeys(kind.crews)
            named: dict[tuple[int, int], int] = {}
            for place in today:
                there = next((crew for crew in free if on[crew] == place[0]), None)
                if there is not None:
                    named[place] = there
                    del free[there]
            wanted = _wanted_later(coming, day)
            for place in today:
                if place in named:
                    continue
                # Rather one that is needed on its own site no more, or later than others.
                crew = max(free, key=lambda c: (wanted.get(on[c], 10**6), -c))
                named[place] = crew
                del free[crew]
            for (n, shift), crew in named.items():
                on[crew] = n
                yield Visit(crew, n, shift)


def _wanted_later(coming: list[tuple[int, int, int]], day: int) -> dict[int | None, int]:
    """Return the next day after ``day`` on which each site is visited."""
    found: dict[int | None, int] = {}
    for later, site, _ in coming:
        if later > day:
            found.setdefault(site, later)
    return found

