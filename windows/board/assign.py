"""The best assignment of crews to sites by a constraint solver (OR-Tools CP-SAT), with a bound.

Few sites are solved as a whole; many site by site at the prices of crews' days, then a few at a
time anew, with a bound sought beside.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import floor, inf, isfinite
from time import monotonic
from typing import TYPE_CHECKING

import numpy as np

from windows.board.dispatch import Taken, Visit, kinds_of, part_of, worth_of
from windows.board.dispatch_model import DispatchModel, Found, hint, solved
from windows.board.first_come import first_come
from windows.board.outline import day_prices, outline
from windows.board.quiet import no_output
from windows.board.site_hours import LEAST_S, best_hours
from windows.planning.solve import quick_solver

if TYPE_CHECKING:
    from collections.abc import Collection
    from concurrent.futures import Future

    from windows.board.dispatch import Dispatch
    from windows.board.outline import Outline, Toll

__all__ = ["Assigned", "assign"]

_FEW_SITES = 8
"""So many sites are solved as a whole."""
_PART = 8
"""Sites that are planned anew at a time."""
_PART_S = 1.5
"""Most time for a part. [s]"""
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
    for visits in (problem.before, first_come(problem)):
        sent = frozenset((v.site, v.shift, kind_of[v.crew]) for v in visits)
        if sent and not plan.taken:
            plan.take(best_hours(problem, sent, clock.left(_HOURS_SHARE)))


def _as_a_whole(plan: _Plan, clock: _Clock) -> tuple[float, bool]:
    """Better a plan of few sites by the whole model.

    Return a bound, and whether it is one of plans that lay equal pieces in their order.
    """
    _begin(plan, clock)
    days = outline(plan.problem, seconds=clock.left(_FIRST_SHARE))
    plan.take(best_hours(plan.problem, days.sent, clock.left(_HOURS_SHARE)))
    if plan.worth >= floor(days.bound + _TIE):
        return days.bound, False
    whole = DispatchModel(plan.problem)
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
    while clock.left() > LEAST_S:
        if outlined.done() and not used_outline:
            days, used_outline = outlined.result(), True
            bound = min(bound, days.bound)
            plan.take(best_hours(problem, days.sent, clock.left(_HOURS_SHARE)))
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
    found = best_hours(part, sent, seconds)
    if found is None:
        return
    mine, starts = found
    visits += tuple(replace(v, site=sites[v.site]) for v in mine)
    taken += tuple(replace(t, site=sites[t.site]) for t in starts)
    plan.take((visits, taken))


def _improve(
    made: DispatchModel, plan: _Plan, bound: float, seconds: float
) -> tuple[Found | None, float]:
    """Return what is found from a plan on by the whole model, and a bound on all plans."""
    if isfinite(bound):
        made.model.add(made.worth <= floor(bound + _TIE))
    if plan.taken:
        hint(made, plan.visits, plan.taken)
    solver = quick_solver()
    solver.parameters.max_time_in_seconds = max(LEAST_S, seconds)
    found = solved(made, solver)
    return found, inf if found is None else float(solver.best_objective_bound)
