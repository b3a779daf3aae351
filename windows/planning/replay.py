"""A crew's steady work replayed from many beginnings at once, by gathers instead of steps in time.

The rule is `windows.planning.rules.STEADY`, and the result is that of `follow` from each beginning.
What the crew would do next is looked up: for each layer a table tells, for every tick, which start
is the next one. So a replay takes as many rounds as there are layers of pieces, whatever the years.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import FAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Choice, Problem, Task

    Ticks = NDArray[np.int32]

__all__ = ["Replay", "replay"]

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
    """

    next_at: Ticks
    start: Ticks
    shift: Ticks
    length: Ticks
    hour_end: Ticks
    opens: Ticks
    due: Ticks
    bare: NDArray[np.bool_]
    together: NDArray[np.bool_]


def replay(problem: Problem, begin: NDArray[np.int64]) -> Replay:
    """Return what a steady crew lays from each beginning.

    Parameters
    ----------
    problem
        Pieces and shifts; no piece has been begun.
    begin
        Ticks, shape (cases,).
    """
    crew = _Crew(problem, begin.astype(np.int32))
    for _ in range(sum(len(task.choices) for task in problem.tasks)):
        if not crew.work():
            break
    return Replay(crew.begin, *crew.laid)


class _Crew:
    """The crews of all cases, each as far as it has come."""

    def __init__(self, problem: Problem, begin: Ticks) -> None:
        tasks = problem.tasks
        shape = (len(tasks), begin.size)
        tables: dict[int, _Tables] = {}
        for task in tasks:
            if id(task.choices) not in tables:
                tables[id(task.choices)] = _tables(task, problem.end)
        self.tasks = tasks
        self.tables = [tables[id(task.choices)] for task in tasks]
        self.area = np.array([task.area for task in tasks])
        self.cap = problem.open_area
        self.move = problem.move
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
        at, start, shift = (np.empty(self.done.shape, dtype=np.int32) for _ in range(3))
        for n in range(len(self.tasks)):
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
        at = table.next_at[done, np.minimum(since, table.next_at.shape[1] - 1)]
        start, shift = table.start[done, at], table.shift[done, at]
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
        start = table.start[layer, at]
        end = start + table.length[layer]
        self.begun[n, cases] = np.minimum(self.begun[n, cases], start)
        self.ready[n, cases] = table.opens[layer, at]
        self.done[n, cases] += 1
        self.free[cases] = end + self.move
        told = (start, end, table.hour_end[layer, at], table.due[layer, at], table.shift[layer, at])
        for each, values in zip(self.laid, told, strict=True):
            each[n, layer, cases] = values


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
