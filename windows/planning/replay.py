"""Crews replayed from many beginnings at once, by gathers instead of steps in time.

`replay_steady` does what `windows.planning.insert.insert` does from each beginning, `replay_blind`
what `windows.planning.rules.follow` does by the rule `STEADY`. What comes next is looked up: for
each layer a table tells, for every tick, which start is the next one. So a replay takes about as
many rounds as there are layers of pieces, whatever the years.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from windows.planning.problem import FAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Choice, Problem, Task

    Ticks = NDArray[np.int32]

__all__ = ["Replay", "replay_blind", "replay_steady"]

_NEVER = np.iinfo(np.int32).max


@dataclass(frozen=True)
class Replay:
    """What a crew lays from many beginnings.

    Attributes
    ----------
    begin
        Tick of each beginning, shape (cases,).
    start, end, hour_end, due, shift
        Of every layer of every piece, shape (pieces, layers, cases): first tick, tick after the
        last, end of the last hour touched, until when its next had to end, and its shift. `FAR`
        where it was not laid, ``due`` also where there is no deadline in the data.
    """

    begin: Ticks
    start: Ticks
    end: Ticks
    hour_end: Ticks
    due: Ticks
    shift: Ticks

    @property
    def finish(self) -> Ticks:
        """Tick at which the last layer of the last piece is down, `FAR` if one is missing."""
        done: Ticks = self.end.max(axis=(0, 1))
        return done

    @property
    def crew_days(self) -> NDArray[np.int64]:
        """Shifts in which something was laid, shape (cases,)."""
        shift = np.sort(self.shift.reshape(-1, self.begin.size), axis=0)
        new = np.diff(shift, axis=0, prepend=-1) != 0
        worked: NDArray[np.int64] = np.count_nonzero(new & (shift < FAR), axis=0)
        return worked

    def stranded(self, until: Ticks) -> NDArray[np.int64]:
        """Count the layers whose deadline passed before their next was laid, shape (cases,).

        ``until`` is the tick up to which each case is followed.
        """
        below, following = self.due[:, :-1], self.hour_end[:, 1:]
        late = (below < FAR) & (below <= until) & (following > below)
        count: NDArray[np.int64] = np.count_nonzero(late, axis=(0, 1))
        return count


@dataclass(frozen=True)
class _Tables:
    """Look-up tables of one task: what follows each tick, and what each start comes to.

    ``next_at`` has shape (layers + 1, ticks + 2); the others (layers + 1, starts + 1), with an
    entry after the last start, and a row after the last layer, in which there is none.
    ``latest_due`` is the latest deadline up to each start.
    """

    next_at: Ticks
    start: Ticks
    shift: Ticks
    length: Ticks
    hour_end: Ticks
    opens: Ticks
    due: Ticks
    latest_due: Ticks
    bare: NDArray[np.bool_]
    together: NDArray[np.bool_]


def replay_blind(problem: Problem, begin: NDArray[np.int64]) -> Replay:
    """Return what a crew that does not look ahead lays from each beginning.

    Parameters
    ----------
    problem
        Pieces and shifts, with the starts of such a crew; no piece has been begun.
    begin
        Ticks, shape (cases,).
    """
    crew = _Crew(problem, begin.astype(np.int32))
    for _ in range(sum(len(task.choices) for task in problem.tasks)):
        if not crew.work():
            break
    return Replay(crew.begin, *crew.laid)


def replay_steady(problem: Problem, begin: NDArray[np.int64]) -> Replay:
    """Return what a steady crew lays from each beginning.

    Parameters
    ----------
    problem
        Pieces and shifts; no piece has been begun.
    begin
        Ticks, shape (cases,).
    """
    inserted = _Inserted(problem, begin.astype(np.int32))
    for number in range(len(problem.tasks)):
        inserted.add(number)
    return Replay(inserted.begin, *inserted.laid)


class _Inserted:
    """Pieces laid one after another in all cases. ``laid`` is as in `Replay`, ``opens`` beside."""

    def __init__(self, problem: Problem, begin: Ticks) -> None:
        self.problem = problem
        self.tables = _all_tables(problem)
        self.begin = begin
        layers = max((len(task.choices) for task in problem.tasks), default=0)
        shape = (len(problem.tasks), layers, begin.size)
        self.laid = np.full((5, *shape), FAR, dtype=np.int32)
        self.opens = np.full(shape, FAR, dtype=np.int32)
        self.last_end = np.zeros((len(problem.tasks), begin.size), dtype=np.int32)
        self.alike = _like_the_one_before(problem)
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
            start = _of(table.start, now, found)
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
                _of(table.opens, there, found[~back]), end + self.problem.move
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
        found: Ticks = _of(table.next_at, level, np.minimum(since, last))
        tried = np.arange(cases.size)
        while tried.size:
            row, case, place = level[tried], cases[tried], found[tried]
            start = _of(table.start, row, place)
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
                    shuts = (start < ends) & (begins < _of(table.opens, row, place))
                    later = np.maximum(later, np.where(shuts, ends, 0).max(axis=0))
            moved = (later > 0) & (start < FAR)
            tried = tried[moved]
            found[tried] = _of(
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


class _Crew:
    """The crews of all cases, each as far as it has come."""

    def __init__(self, problem: Problem, begin: Ticks) -> None:
        tasks = problem.tasks
        shape = (len(tasks), begin.size)
        self.tasks = tasks
        self.tables = _all_tables(problem)
        self.area = np.array([task.area for task in tasks])
        self.cap = problem.open_area
        self.move = problem.move
        self.alike = _like_the_one_before(problem)
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
        at = _of(table.next_at, done, np.minimum(since, table.next_at.shape[1] - 1))
        start, shift = _of(table.start, done, at), _of(table.shift, done, at)
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
        start = _of(table.start, layer, at)
        end = start + table.length[layer]
        self.begun[n, cases] = np.minimum(self.begun[n, cases], start)
        self.ready[n, cases] = _of(table.opens, layer, at)
        self.done[n, cases] += 1
        self.free[cases] = end + self.move
        told = (
            start, end, *(_of(each, layer, at) for each in (table.hour_end, table.due, table.shift))
        )  # fmt: skip
        for each, values in zip(self.laid, told, strict=True):
            each[n, layer, cases] = values


def _like_the_one_before(problem: Problem) -> list[bool]:
    """Tell which pieces differ in nothing from the one before them in the list."""
    tasks = problem.tasks
    walked_over = {over for task in tasks for over in task.over}
    return [False] + [
        task.choices is before.choices
        and task.area == before.area
        and not (task.over or before.over or {n, n - 1} & walked_over)
        for n, (before, task) in enumerate(pairwise(tasks), start=1)
    ]


def _all_tables(problem: Problem) -> list[_Tables]:
    """Return the tables of each task; those of tasks with the same choices once."""
    made: dict[int, _Tables] = {}
    for task in problem.tasks:
        if id(task.choices) not in made:
            made[id(task.choices)] = _tables(task, problem.end)
    return [made[id(task.choices)] for task in problem.tasks]


def _of(table: Ticks, row: NDArray[Any], place: NDArray[Any]) -> Ticks:
    """Return ``table[row, place]``: one index into all rows is three times as fast as two."""
    found: Ticks = table.ravel().take(row.astype(np.int64) * table.shape[1] + place)
    return found


def _tables(task: Task, end: int) -> _Tables:
    layers = len(task.choices)
    most = max(choice.start.size for choice in task.choices)
    shape = (layers + 1, most + 1)

    def padded(name: str) -> Ticks:
        table = np.full(shape, FAR, dtype=np.int32)
        for layer, choice in enumerate(task.choices):
            values = getattr(choice, name)
            table[layer, : values.size] = values
        return table

    return _Tables(
        next_at=np.array(
            [*(_next_at(choice, end, most) for choice in task.choices), np.full(end + 2, most)],
            dtype=np.int32,
        ),
        start=padded("start"),
        shift=padded("shift"),
        length=np.array([*(choice.length for choice in task.choices), 0], dtype=np.int32),
        hour_end=padded("hour_end"),
        opens=padded("opens"),
        due=padded("due"),
        latest_due=np.maximum.accumulate(padded("due"), axis=1),
        bare=np.array([*task.bare, False]),
        together=np.array([*task.same_shift, False]),
    )


def _next_at(choice: Choice, end: int, none: int) -> Ticks:
    """Return, for every tick, the place of the first start at or after it, ``none`` without one."""
    # Starts 3 and 5, six ticks: counted 0 0 0 0 1 1 2 2 before each tick -> places 0 0 0 0 1 1 . .
    before = np.zeros(end + 2, dtype=np.int32)
    before[choice.start + 1] = 1
    np.cumsum(before, out=before)
    before[before == choice.start.size] = none
    return before
