"""Tables that tell for every tick which start of a layer comes next, and what it comes to.

Many beginnings are looked up in them at once, instead of stepping through time from each.
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

__all__ = ["Tables", "all_tables", "like_the_one_before", "table_at"]


@dataclass(frozen=True)
class Tables:
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


def like_the_one_before(problem: Problem) -> list[bool]:
    """Tell which pieces differ in nothing from the one before them in the list."""
    tasks = problem.tasks
    walked_over = {over for task in tasks for over in task.over}
    return [False] + [
        task.choices is before.choices
        and task.area == before.area
        and not (task.over or before.over or {n, n - 1} & walked_over)
        for n, (before, task) in enumerate(pairwise(tasks), start=1)
    ]


def all_tables(problem: Problem) -> list[Tables]:
    """Return the tables of each task; those of tasks with the same choices once."""
    made: dict[int, Tables] = {}
    for task in problem.tasks:
        if id(task.choices) not in made:
            made[id(task.choices)] = _tables(task, problem.end)
    return [made[id(task.choices)] for task in problem.tasks]


def table_at(table: Ticks, row: NDArray[Any], place: NDArray[Any]) -> Ticks:
    """Return ``table[row, place]``, both of shape (cases,).

    One index into all rows is three times as fast as two.
    """
    found: Ticks = table.ravel().take(row.astype(np.int64) * table.shape[1] + place)
    return found


def _tables(task: Task, end: int) -> Tables:
    layers = len(task.choices)
    most = max(choice.start.size for choice in task.choices)
    shape = (layers + 1, most + 1)

    def padded(name: str) -> Ticks:
        table = np.full(shape, FAR, dtype=np.int32)
        for layer, choice in enumerate(task.choices):
            values = getattr(choice, name)
            table[layer, : values.size] = values
        return table

    return Tables(
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
