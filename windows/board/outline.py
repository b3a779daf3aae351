"""The days of an assignment without their hours: a bound on every plan, and where to send crews.

Each piece goes through its layers by a chain of shifts. What a layer is worth in a shift, which
shifts may follow each other, and how much fits into a shift are taken at their best, so that no
plan is worth more than the best of these; it is found as a mixed-integer program (OR-Tools MathOpt,
HiGHS), whose linear relaxation is far tighter than that of the plan by hours.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta
from math import comb, inf
from typing import TYPE_CHECKING, Any

import numpy as np
from ortools.math_opt.python import mathopt

from windows.board.dispatch import Kind, kinds_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.board.dispatch import Dispatch
    from windows.planning.problem import Choice, Task

__all__ = ["Outline", "Toll", "day_prices", "outline"]


_MOST_CHAINS = 600
"""More chains of a piece than this are not listed one by one."""

Toll = dict[tuple[int, int], float]
"""What a crew's day costs beside the visit, by day and crew. [thousandths]"""


@dataclass(frozen=True)
class Outline:
    """A bound on the worth of every plan, and the kinds of crews to send, by site and shift."""

    bound: float
    sent: frozenset[tuple[int, int, int]]


def outline(problem: Dispatch, *, seconds: float, toll: Toll | None = None) -> Outline:
    """Return the best outline that is found in a time, and what no plan can be worth more than.

    Where the time does not even suffice for a bound, it is infinite.
    """
    made = _Outline(problem, toll)
    if not made.sent:
        return Outline(made.constant, frozenset())
    result = mathopt.solve(
        made.model,
        mathopt.SolverType.HIGHS,
        params=mathopt.SolveParameters(time_limit=timedelta(seconds=max(seconds, 0.1))),
    )
    bound = float(result.best_objective_bound())
    if not result.has_primal_feasible_solution():
        return Outline(bound if np.isfinite(bound) else inf, frozenset())
    values = result.variable_values()
    sent = frozenset(key for key, comes in made.sent.items() if values[comes] > 0.5)
    return Outline(bound, sent)


def day_prices(problem: Dispatch) -> tuple[float, Toll]:
    """Return the bound of the linear relaxation, and what it says that a crew's day is worth."""
    made = _Outline(problem)
    if not made.sent:
        return made.constant, {}
    for variable in made.model.variables():
        variable.integer = False
    result = mathopt.solve(made.model, mathopt.SolverType.HIGHS)
    if not result.has_dual_feasible_solution():
        return inf, {}
    duals = result.dual_values()
    toll = {
        (day, crew): abs(float(duals[row]))
        for (day, k), row in made.rows.items()
        for crew in made.kinds[k].crews
    }
    return float(result.best_objective_bound()), toll


@dataclass(frozen=True)
class _Use:
    """A layer that is laid in a shift: on how many pieces, and how long one takes.

    ``piece`` is the first of the ``most`` pieces that are alike.
    """

    count: Any
    ticks: int
    layer: int
    most: int
    piece: int


class _Outline:
    """The outline as a mixed-integer program."""

    def __init__(self, problem: Dispatch, toll: Toll | None = None) -> None:
        self.problem = problem
        self.toll = toll or {}
        self.model = mathopt.Model()
        self.kinds = kinds_of(problem)
        self.kind_of = {crew: k for k, kind in enumerate(self.kinds) for crew in kind.crews}
        self.terms: list[Any] = []
        self.constant = 0.0
        self.sent: dict[tuple[int, int, int], Any] = {}
        self.kept: dict[tuple[int, int, int], list[Any]] = defaultdict(list)
        for number in range(len(problem.sites)):
            self._site(number)
        self._days()
        self._moves()
        self._promises()
        self.model.maximize(mathopt.fast_sum(self.terms) + self.constant)

    def _add(self, rows: Sequence[Any], most: Any) -> Any:
        return self.model.add_linear_constraint(mathopt.fast_sum(rows) <= most)

    def _site(self, number: int) -> None:
        site = self.problem.sites[number]
        uses: dict[int, list[_Use]] = defaultdict(list)
        spans: dict[int, tuple[int, int]] = {}
        for tasks in _alike(self.problem, number):
            task = site.problem.tasks[tasks[0]]
            self.constant -= site.missed[tasks[0]] * len(tasks)
            chains = _chains(task, site.worth[tasks[0]], site.day)
            laid = self._flow(number, tasks) if chains is None else self._chained(
                chains, site.missed[tasks[0]], len(tasks)
            )  # fmt: skip
            for layer, shift, count in laid:
                ticks = task.choices[layer].length + site.problem.move
                uses[shift].append(
                    _Use(count, ticks, task.first + layer, len(tasks), tasks[0])
                )
                self.kept[number, tasks[0], layer].append((site.day[shift], count))
            for choice in task.choices:
                for shift, span in _spans(choice).items():
                    first, last = spans.get(shift, span)
                    spans[shift] = min(first, span[0]), max(last, span[1])
        for shift, used in sorted(uses.items()):
            self._shift(number, shift, used, spans[shift])

    def _chained(
        self, chains: list[tuple[tuple[int, ...], int]], missed: int, most: int
    ) -> list[tuple[int, int, Any]]:
        """Let alike pieces take chains of shifts; return layer, shift and how many are laid."""
        laid, counts = [], []
        for chain, worth in chains:
            count = self.model.add_integer_variable(lb=0, ub=most)
            counts.append(count)
            self.terms.append((worth + missed) * count)
            laid += [(layer, shift, count) for layer, shift in enumerate(chain)]
        if counts:
            self._add(counts, most)
        return laid

    def _flow(self, number: int, tasks: list[int]) -> list[tuple[int, int, Any]]:
        """Let alike pieces flow from shift to shift, where chains would be too many.

        Slower to solve than chains where these are few.
        """
        site = self.problem.sites[number]
        task, values = site.problem.tasks[tasks[0]], site.worth[tasks[0]]
        laid: dict[tuple[int, int], Any] = {}
        must: dict[tuple[int, int], bool] = {}
        for layer, (choice, value) in enumerate(zip(task.choices, values, strict=True)):
            for shift in np.unique(choice.shift).tolist():
                if site.day[shift] < 0:
                    continue
                here = choice.shift == shift
                count = self.model.add_integer_variable(lb=0, ub=len(tasks))
                saved = site.missed[tasks[0]] if layer == 0 else 0
                self.terms.append((int(value[here].max()) + saved) * count)
                laid[layer, shift] = count
                must[layer, shift] = bool(choice.must[here].all())
        first = [count for (layer, _), count in laid.items() if layer == 0]
        if first:
            self._add(first, len(tasks))
        into: dict[tuple[int, int], list[Any]] = defaultdict(list)
        for (layer, shift), count in laid.items():
            out = []
            for after in (s for n, s in laid if n == layer + 1):
                if _may_follow(task, layer, shift, after):
                    goes = self.model.add_variable(lb=0)
                    out.append(goes)
                    into[layer + 1, after].append(goes)
            self._add(out, count)
            if must[layer, shift]:
                self._add([count], mathopt.fast_sum(out))
        for key, count in laid.items():
            if key[0]:
                self._add([count], mathopt.fast_sum(into[key]))
        return [(layer, shift, count) for (layer, shift), count in laid.items()]

    def _shift(
        self, number: int, shift: int, used: list[_Use], span: tuple[int, int]
    ) -> None:
        """Let no more be laid in a shift than the crew that comes has time for."""
        move = self.problem.sites[number].problem.move
        comes: list[tuple[Kind, int, Any]] = []
        least = min(use.ticks for use in used)
        for k, kind in enumerate(self.kinds):
            crew = kind.crew
            first = max(span[0], int(crew.first[number][shift]))
            last = min(span[1], int(crew.last[number][shift]))
            room = last - first + move
            if room < least or not any(crew.may[number][use.layer] for use in used):
                continue
            sent = self.model.add_binary_variable()
            self.sent[number, shift, k] = sent
            day = self.problem.sites[number].day[shift]
            price = crew.visit[number] + self.toll.get((day, kind.crews[0]), 0.0)
            self.terms.append(-price * sent)
            comes.append((kind, room, sent))
        if len(comes) > 1:
            self._add([sent for _, _, sent in comes], 1)
        self._add(
            [use.ticks * use.count for use in used],
            mathopt.fast_sum([room * sent for _, room, sent in comes]),
        )
        self._add(
            [use.count for use in used],
            mathopt.fast_sum([(room // least) * sent for _, room, sent in comes]),
        )
        by_layer: dict[tuple[int, int, int, int], list[_Use]] = defaultdict(list)
        for use in used:
            by_layer[use.piece, use.layer, use.ticks, use.most].append(use)
        for (_, layer, ticks, most), same in by_layer.items():
            self._add(
                [use.count for use in same],
                mathopt.fast_sum([
                    min(most, room // ticks) * sent
                    for kind, room, sent in comes if kind.crew.may[number][layer]
                ]),
            )  # fmt: skip

    def _days(self) -> None:
        by_day: dict[tuple[int, int], list[Any]] = defaultdict(list)
        for (number, shift, k), sent in self.sent.items():
            by_day[self.problem.sites[number].day[shift], k].append(sent)
        self.rows = {
            (day, k): self._add(rows, len(self.kinds[k].crews)) for (day, k), rows in by_day.items()
        }

    def _moves(self) -> None:
        """Price one arrival at each site that a kind goes to: it may be more, but not less."""
        price = self.problem.prices.move
        arrives: dict[tuple[int, int], Any] = {}
        for (number, _, k), sent in self.sent.items():
            if not price or self.kinds[k].crew.station == number:
                continue
            if (number, k) not in arrives:
                arrives[number, k] = self.model.add_binary_variable()
                self.terms.append(-price * arrives[number, k])
            self._add([sent], arrives[number, k])

    def _promises(self) -> None:
        price = self.problem.prices.change
        for (number, task, layer), (crew, day) in self.problem.promised.items():
            kept = self.model.add_binary_variable()
            counts = [count for on, count in self.kept[number, task, layer] if on == day]
            sent = [
                comes
                for (n, shift, k), comes in self.sent.items()
                if n == number
                and k == self.kind_of[crew]
                and self.problem.sites[n].day[shift] == day
            ]
            self._add([kept], mathopt.fast_sum(counts))
            self._add([kept], mathopt.fast_sum(sent))
            self.terms.append(price * kept)
            self.constant -= price


def _alike(problem: Dispatch, number: int) -> list[list[int]]:
    """Return the tasks of a site that are alike: of one size, with one set of choices."""
    site = problem.sites[number]
    tied = {task for n, task, _ in problem.promised if n == number}
    found: dict[object, list[int]] = {}
    for n, task in enumerate(site.problem.tasks):
        own = n if n in tied else None
        found.setdefault((own, id(task.choices), site.missed[n]), []).append(n)
    return list(found.values())


def _spans(choice: Choice) -> dict[int, tuple[int, int]]:
    """Return the first start and the last end of each shift. [ticks]"""
    if not choice.start.size:
        return {}
    shifts, first = np.unique(choice.shift, return_index=True)
    last = np.append(first[1:], choice.shift.size) - 1
    return {
        int(shift): (int(choice.start[a]), int(choice.start[b]) + choice.length)
        for shift, a, b in zip(shifts, first, last, strict=True)
    }


def _chains(
    task: Task, worth: Sequence[np.ndarray], day: Sequence[int]
) -> list[tuple[tuple[int, ...], int]] | None:
    """Return the shifts in which the layers of a piece may be laid, with what that is worth.

    None if there are too many.
    """
    shifts = [
        [int(s) for s in np.unique(choice.shift) if day[int(s)] >= 0] for choice in task.choices
    ]
    if comb(max(map(len, shifts), default=0) + len(shifts), len(shifts)) > _MOST_CHAINS:
        return None
    best = [
        {s: int(value[choice.shift == s].max()) for s in those}
        for choice, value, those in zip(task.choices, worth, shifts, strict=True)
    ]
    must = [
        {s: bool(choice.must[choice.shift == s].all()) for s in those}
        for choice, those in zip(task.choices, shifts, strict=True)
    ]
    follows = [
        {s: [t for t in shifts[n + 1] if _may_follow(task, n, s, t)] for s in shifts[n]}
        for n in range(len(shifts) - 1)
    ]
    found: list[tuple[tuple[int, ...], int]] = []

    def further(chain: tuple[int, ...], value: int) -> None:
        layer = len(chain)
        if layer and (layer == len(shifts) or not must[layer - 1][chain[-1]]):
            found.append((chain, value))
        if layer < len(shifts):
            for shift in follows[layer - 1][chain[-1]] if layer else shifts[0]:
                further((*chain, shift), value + best[layer][shift])

    further((), 0)
    return found


def _may_follow(task: Task, layer: int, shift: int, after: int) -> bool:
    """Tell whether any start of a layer in a shift leaves one to the next layer in another."""
    if after < shift or (task.same_shift[layer] and after != shift):
        return False
    choice, above = task.choices[layer], task.choices[layer + 1]
    these, those = choice.shift == shift, above.shift == after
    opens, due = choice.opens[these][:, None], choice.due[these][:, None]
    return bool(((opens <= above.start[those]) & (above.hour_end[those] <= due)).any())
