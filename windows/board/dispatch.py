"""Which crew goes to which site on which day, and what it lays there: the problem as numbers.

A crew works at one site a shift, and one crew at a site. Every job keeps the rules of its own plan
(`windows.planning`); crews, days, drives and promises tie the jobs together. Worth is counted in
thousandths of money. Nothing here knows weather or coatings.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from windows.planning.problem import Choice, Problem

__all__ = [
    "Dispatch", "DispatchCrew", "DispatchSite", "Kind", "Prices", "Taken", "Visit", "changes",
    "kinds_of", "moves", "part_of", "worth_of",
]  # fmt: skip


@dataclass(frozen=True)
class DispatchSite:
    """A job as the board plans it.

    Attributes
    ----------
    problem
        Pieces, shifts and starts of the job.
    day
        Day of the board on which each shift begins, -1 for one that lies outside.
    worth
        For each task and layer, what each start is worth, shape (starts,). Arrays are shared by
        tasks that share their choices.
    missed
        For each task, what it costs if its first layer is not laid; 0 where no deadline asks.
    """

    problem: Problem
    day: tuple[int, ...]
    worth: tuple[tuple[NDArray[np.int64], ...], ...]
    missed: tuple[int, ...]


@dataclass(frozen=True)
class DispatchCrew:
    """A crew as the board plans it.

    Attributes
    ----------
    first, last
        For each site, an array over its shifts: the tick from which the crew can lay there, and the
        one by which it has to be done; ``last`` is not after ``first`` where it cannot come.
    may
        For each site, whether it may lay each layer of the system.
    visit
        For each site, what a day there costs.
    station
        The site that it was on last, None if not known.
    """

    first: tuple[NDArray[np.int64], ...]
    last: tuple[NDArray[np.int64], ...]
    may: tuple[tuple[bool, ...], ...]
    visit: tuple[int, ...]
    station: int | None = None

    def reaches(self, site: int, choice: Choice) -> NDArray[np.bool_]:
        """Tell at which starts of a layer its work lies in the crew's hours, shape (starts,)."""
        first, last = self.first[site][choice.shift], self.last[site][choice.shift]
        found: NDArray[np.bool_] = (first <= choice.start) & (choice.start + choice.length <= last)
        return found


@dataclass(frozen=True)
class Prices:
    """What a move to another site costs, and a promise that is not kept. [thousandths]"""

    move: int = 0
    change: int = 0


@dataclass(frozen=True)
class Dispatch:
    """Sites, crews, days and what was promised: crew and day by site, task and layer.

    ``before`` are visits of an earlier plan: where the search begins.
    """

    sites: tuple[DispatchSite, ...]
    crews: tuple[DispatchCrew, ...]
    days: int
    prices: Prices = field(default_factory=Prices)
    promised: Mapping[tuple[int, int, int], tuple[int, int]] = field(default_factory=dict)
    before: tuple[Visit, ...] = ()

    def shift_of(self, taken: Taken) -> int:
        """Return the shift of its site that a start lies in."""
        choice = self.sites[taken.site].problem.tasks[taken.task].choices[taken.layer]
        return int(choice.shift[taken.at])


@dataclass(frozen=True)
class Kind:
    """Crews that are alike, by number, and the first of them."""

    crews: tuple[int, ...]
    crew: DispatchCrew


def kinds_of(problem: Dispatch) -> list[Kind]:
    """Return the crews that are alike; one that has promised something is a kind of its own."""
    bound = {crew for crew, _ in problem.promised.values()}
    found: dict[object, list[int]] = {}
    for number, crew in enumerate(problem.crews):
        own = number if number in bound or crew.station is not None else None
        hours = tuple(array.tobytes() for array in (*crew.first, *crew.last))
        found.setdefault((own, hours, crew.may, crew.visit), []).append(number)
    return [Kind(tuple(numbers), problem.crews[numbers[0]]) for numbers in found.values()]


@dataclass(frozen=True)
class Visit:
    """A crew on a site for a shift of it."""

    crew: int
    site: int
    shift: int


@dataclass(frozen=True)
class Taken:
    """A start that is taken: ``at`` counts the starts of the task's layer."""

    site: int
    task: int
    layer: int
    at: int


def moves(problem: Dispatch, visits: Sequence[Visit]) -> int:
    """Count the visits of crews that were on another site before, or nowhere yet."""
    count = 0
    for number, crew in enumerate(problem.crews):
        days = sorted(
            (problem.sites[v.site].day[v.shift], v.site) for v in visits if v.crew == number
        )
        path = [crew.station, *(site for _, site in days)]
        count += sum(a != b for a, b in pairwise(path))
    return count


def changes(problem: Dispatch, visits: Sequence[Visit], taken: Sequence[Taken]) -> int:
    """Count the promises that are not kept: another crew, another day, or not at all."""
    who = {(v.site, v.shift): v.crew for v in visits}
    now = {}
    for each in taken:
        shift = problem.shift_of(each)
        day = problem.sites[each.site].day[shift]
        now[each.site, each.task, each.layer] = who[each.site, shift], day
    return sum(now.get(key) != promise for key, promise in problem.promised.items())


def worth_of(problem: Dispatch, visits: Sequence[Visit], taken: Sequence[Taken]) -> int:
    """Return what visits and starts are worth together: the one way to count. [thousandths]"""
    total = sum(int(problem.sites[t.site].worth[t.task][t.layer][t.at]) for t in taken)
    covered = {(t.site, t.task) for t in taken if t.layer == 0}
    total -= sum(
        cost
        for n, site in enumerate(problem.sites)
        for task, cost in enumerate(site.missed)
        if (n, task) not in covered
    )
    total -= sum(problem.crews[v.crew].visit[v.site] for v in visits)
    total -= problem.prices.move * moves(problem, visits)
    return total - problem.prices.change * changes(problem, visits, taken)


def part_of(problem: Dispatch, sites: Sequence[int], others: Sequence[Visit]) -> Dispatch:
    """Return the problem of some sites alone, with the crews that visits to others leave.

    Sites are numbered in the order in which they are named. What a crew's visits elsewhere make of
    its moves is not seen.
    """
    place = {number: n for n, number in enumerate(sites)}
    days = [np.array(problem.sites[n].day) for n in sites]
    gone: dict[int, list[int]] = {}
    for visit in others:
        gone.setdefault(visit.crew, []).append(problem.sites[visit.site].day[visit.shift])
    crews = tuple(
        DispatchCrew(
            first=tuple(crew.first[n] for n in sites),
            last=tuple(
                np.where(np.isin(day, gone[number]), crew.first[n], crew.last[n])
                if number in gone else crew.last[n]
                for n, day in zip(sites, days, strict=True)
            ),
            may=tuple(crew.may[n] for n in sites),
            visit=tuple(crew.visit[n] for n in sites),
            station=None if crew.station is None else place.get(crew.station),
        )
        for number, crew in enumerate(problem.crews)
    )  # fmt: skip
    promised = {
        (place[n], task, layer): promise
        for (n, task, layer), promise in problem.promised.items()
        if n in place
    }
    return Dispatch(
        tuple(problem.sites[n] for n in sites), crews, problem.days, problem.prices, promised
    )
