"""A crew that does not look ahead, stepped layer by layer from many beginnings at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import FAR
from windows.planning.replay_tables import all_tables, like_the_one_before, table_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Problem

    Ticks = NDArray[np.int32]

__all__ = ["BlindCrew"]

_NEVER = np.iinfo(np.int32).max


class BlindCrew:
    """The crews of all cases, each as far as it has come."""

    def __init__(self, problem: Problem, begin: Ticks) -> None:
        tasks = problem.tasks
        shape = (len(tasks), begin.size)
        self.tasks = tasks
        self.tables = all_tables(problem)
        self.area = np.array([task.area for task in tasks])
        self.cap = problem.open_area
        self.move = problem.move
        self.alike = like_the_one_before(problem)
        self.begin = begin
        self.done = np.zeros(shape, dtype=np.int8)
        self.ready = np.zeros(shape, dtype=np.int32)
        self.begun = np.full(shape, _NEVER, dtype=np.int32)
        self.free = begin.copy()
        self.working = np.full(begin.shape, True)
        layers = max((len(task.choices) for task in tasks), default=0)
        self.laid = np.full((5, len(tasks), layers, begin.size), FAR, dtype=np.int32)

    def work(self) -> bool:
        """Lay one more layer in each case; tell whether any could."""
        at, start = (np.zeros(self.done.shape, dtype=np.int32) for _ in range(2))
        shift = np.full(self.done.shape, FAR, dtype=np.int32)
        for n, task in enumerate(self.tasks):
            # Of pieces alike, the first in the list is begun first.
            waits = self.alike[n] and not self.done[n - 1].any()
            if not waits and (self.done[n] < len(task.choices)).any():
                at[n], start[n], shift[n] = self._next(n)
        self._only_followed(shift)
        first = shift.min(axis=0)
        self.working = first < FAR
        cases = np.flatnonzero(self.working)
        if not cases.size:
            return False
        taken = self._chosen(start, shift, first)
        for n in range(len(self.tasks)):
            mine = cases[taken[cases] == n]
            if mine.size:
                self._lay(n, mine, at[n, mine])
        return True

    def _next(self, n: int) -> tuple[Ticks, Ticks, Ticks]:
        """Return the next start of a piece in each case, and its tick and shift."""
        table, task, done = self.tables[n], self.tasks[n], self.done[n]
        since = np.maximum(self.free, self.ready[n])
        for over in task.over:
            since = np.maximum(since, self.ready[over])
        at = table_at(table.next_at, done, np.minimum(since, table.next_at.shape[1] - 1))
        start, shift = table_at(table.start, done, at), table_at(table.shift, done, at)
        if self.cap is not None:
            others = [m for m in range(len(self.tasks)) if m != n]
            bare = sum((self.area[m] * self._is_bare(m) for m in others), np.zeros(done.shape))
            shift = np.where(table.bare[done] & (bare + task.area > self.cap), FAR, shift)
        return at, start, np.where(self.working, shift, FAR)

    def _is_bare(self, n: int) -> NDArray[np.bool_]:
        done = self.done[n]
        bare: NDArray[np.bool_] = (done > 0) & self.tables[n].bare[done - 1]
        return bare

    def _only_followed(self, shift: Ticks) -> None:
        """Shut the other pieces where one has to be followed in its shift."""
        follows = np.array(
            [
                (done > 0) & table.together[done - 1] & (done < len(task.choices))
                for task, table, done in zip(self.tasks, self.tables, self.done, strict=True)
            ]
        )
        shift[~follows & follows.any(axis=0)] = FAR

    def _chosen(self, start: Ticks, shift: Ticks, first: Ticks) -> NDArray[np.int64]:
        """Return the piece that the rule puts first in the first shift: the oldest begun one."""
        begun = self.begun < _NEVER
        order = np.where(begun, self.begun, start).astype(np.int64) + np.where(begun, 0, FAR)
        order[shift != first] = _NEVER
        first_in_list: NDArray[np.int64] = order.argmin(axis=0)
        return first_in_list

    def _lay(self, n: int, cases: NDArray[np.int64], at: Ticks) -> None:
        table, layer = self.tables[n], self.done[n, cases]
        start = table_at(table.start, layer, at)
        end = start + table.length[layer]
        self.begun[n, cases] = np.minimum(self.begun[n, cases], start)
        self.ready[n, cases] = table_at(table.opens, layer, at)
        self.done[n, cases] += 1
        self.free[cases] = end + self.move
        rest = (table_at(each, layer, at) for each in (table.hour_end, table.due, table.shift))
        for each, values in zip(self.laid, (start, end, *rest), strict=True):
            each[n, layer, cases] = values
