"""Pieces inserted one after another from many beginnings at once, as a steady crew lays them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import FAR
from windows.planning.replay_tables import all_tables, like_the_one_before, table_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Problem

    Ticks = NDArray[np.int32]

__all__ = ["Inserted"]


class Inserted:
    """Pieces laid one after another in all cases. ``laid`` is as in `Replay`, ``opens`` beside."""

    def __init__(self, problem: Problem, begin: Ticks) -> None:
        self.problem = problem
        self.tables = all_tables(problem)
        self.begin = begin
        layers = max((len(task.choices) for task in problem.tasks), default=0)
        shape = (len(problem.tasks), layers, begin.size)
        self.laid = np.full((5, *shape), FAR, dtype=np.int32)
        self.opens = np.full(shape, FAR, dtype=np.int32)
        self.last_end = np.zeros((len(problem.tasks), begin.size), dtype=np.int32)
        self.alike = like_the_one_before(problem)
        self.ways = any(task.over for task in problem.tasks)

    def add(self, number: int) -> None:
        """Lay one more piece, in the earliest hours that those before it leave."""
        task, table = self.problem.tasks[number], self.tables[number]
        layers, size = len(task.choices), self.begin.size
        least = np.zeros((layers + 1, size), dtype=np.int32)  # tick before which a layer may not be
        least[0] = self.begin
        if self.alike[number]:
            # Hours that this piece could take sooner the one before it would have taken.
            before = self.laid[1, number - 1, 0].astype(np.int64) + self.problem.move
            least[0] = np.minimum(before, FAR)
        at = np.zeros((layers, size), dtype=np.int32)
        level = np.zeros(size, dtype=np.int64)
        active = np.arange(size)
        while active.size:
            now = level[active]
            found = self._next(number, now, active, least[now, active])
            start = table_at(table.start, now, found)
            left = start < FAR
            # Whatever is laid below later only opens later: no start is left for the whole piece.
            active, now, found, start = active[left], now[left], found[left], start[left]
            at[now, active] = found
            again = self._earlier(number, now, active, at, found)
            back = again > 0
            least[now[back] - 1, active[back]] = again[back]
            level[active[back]] -= 1
            on, there = active[~back], now[~back]
            end = start[~back] + table.length[there]
            least[there + 1, on] = np.maximum(
                table_at(table.opens, there, found[~back]), end + self.problem.move
            )
            level[on] += 1
            active = active[level[active] < layers]
        whole = np.flatnonzero(level == layers)
        if whole.size:
            end = table.start[layers - 1, at[-1, whole]] + table.length[layers - 1]
            self.last_end[number, whole] = end
        for layer in range(layers):
            places = at[layer, whole]
            start = table.start[layer, places]
            self.opens[number, layer, whole] = table.opens[layer, places]
            told = (
                start, start + table.length[layer], table.hour_end[layer, places],
                table.due[layer, places], table.shift[layer, places],
            )  # fmt: skip
            for each, values in zip(self.laid, told, strict=True):
                each[number, layer, whole] = values

    def _next(self, number: int, level: NDArray[np.int64], cases: NDArray[np.int64],
              since: Ticks) -> Ticks:  # fmt: skip
        """Return the next start of a piece that leaves what is laid already alone."""
        table, move = self.tables[number], self.problem.move
        last = table.next_at.shape[1] - 1
        found: Ticks = table_at(table.next_at, level, np.minimum(since, last))
        tried = np.arange(cases.size)
        while tried.size:
            row, case, place = level[tried], cases[tried], found[tried]
            start = table_at(table.start, row, place)
            end = start + table.length[row]
            later = np.zeros(tried.size, dtype=np.int32)
            for other in range(number):
                # Those that were finished before leave it alone, but for ways over them.
                if not self.ways and (self.last_end[other, case] + move <= start).all():
                    continue
                begins, ends = self.laid[0, other][:, case], self.laid[1, other][:, case]
                taken = (start < ends + move) & (begins < end + move)
                later = np.maximum(later, np.where(taken, ends + move, 0).max(axis=0))
                if other in self.problem.tasks[number].over:
                    opens = self.opens[other][:, case]
                    shut = (start < opens) & (begins < end)
                    later = np.maximum(later, np.where(shut, opens, 0).max(axis=0))
                if number in self.problem.tasks[other].over:
                    shuts = (start < ends) & (begins < table_at(table.opens, row, place))
                    later = np.maximum(later, np.where(shuts, ends, 0).max(axis=0))
            moved = (later > 0) & (start < FAR)
            tried = tried[moved]
            found[tried] = table_at(
                table.next_at, level[tried], np.minimum(later[moved], last)
            )
        return found

    def _earlier(self, number: int, level: NDArray[np.int64], cases: NDArray[np.int64],
                 at: Ticks, found: Ticks) -> Ticks:  # fmt: skip
        """Return from when on the layer below has to be laid for this one to be in time, else 0."""
        table, task = self.tables[number], self.problem.tasks[number]
        again = np.zeros(cases.size, dtype=np.int32)
        for layer in range(1, len(task.choices)):
            here = np.flatnonzero(level == layer)
            if not here.size:
                continue
            below, place = at[layer - 1, cases[here]], found[here]
            first = below.copy()
            must_by = table.hour_end[layer, place]
            late = must_by > table.due[layer - 1, below]
            in_time = np.searchsorted(table.latest_due[layer - 1], must_by[late])
            first[late] = np.maximum(in_time, below[late] + 1)
            if task.same_shift[layer - 1]:
                shift = table.shift[layer, place]
                apart = shift != table.shift[layer - 1, below]
                same = np.searchsorted(table.shift[layer - 1], shift[apart])
                first[apart] = np.maximum(first[apart], np.maximum(same, below[apart] + 1))
            if self.problem.open_area is not None and task.bare[layer - 1]:
                wide = self._above_cap(number, layer, cases[here], below, place)
                first[wide] = np.maximum(first[wide], below[wide] + 1)
            changed = first != below
            # Where no start is left below, the tick after all asks for none.
            again[here[changed]] = table.start[layer - 1, first[changed]]
        return again

    def _above_cap(self, number: int, layer: int, cases: NDArray[np.int64], below: Ticks,
                   place: Ticks) -> NDArray[np.bool_]:  # fmt: skip
        """Tell where too much lies bare while the layer below does."""
        table, tasks = self.tables[number], self.problem.tasks
        begin = table.start[layer - 1, below]
        end = table.start[layer, place] + table.length[layer]
        area = np.full(cases.size, tasks[number].area)
        for other in range(number):
            for above in range(1, len(tasks[other].choices)):
                if tasks[other].bare[above - 1]:
                    begins = self.laid[0, other, above - 1, cases]
                    ends = self.laid[1, other, above, cases]
                    area += tasks[other].area * ((begins < end) & (begin < ends) & (begins < FAR))
        assert self.problem.open_area is not None
        wide: NDArray[np.bool_] = area > self.problem.open_area
        return wide
