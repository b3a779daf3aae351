"""A plan made quickly: piece after piece, each in the earliest hours that the others leave.

It keeps every rule, so that the solver begins with something; it seldom is the best.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import Start

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Problem, Task

__all__ = ["insert"]

_TRIES = 200
"""Starts of a layer that are tried before a piece is given up."""


def insert(problem: Problem) -> tuple[Start, ...]:
    """Return starts that keep all rules but ways and open area, what is laid already first.

    Problems with ways or a cap on open area get none: there the solver begins with nothing.
    """
    if problem.open_area is not None or any(task.over for task in problem.tasks):
        return ()
    busy = np.zeros(problem.end + problem.move + 1, dtype=np.int64)
    found: list[Start] = []
    order = sorted(range(len(problem.tasks)), key=lambda n: problem.tasks[n].due_now is None)
    for number in order:
        task = problem.tasks[number]
        chain = _chain(task, problem.move, busy, 0, 0, None, [_TRIES])
        for layer, at in enumerate(chain or ()):
            start = int(task.choices[layer].start[at])
            busy[start : start + task.choices[layer].length + problem.move] = 1
            found.append(Start(number, layer, at))
    return tuple(found)


def _chain(
    task: Task,
    move: int,
    busy: NDArray[np.int64],
    layer: int,
    opens: int,
    before: tuple[int, int] | None,
    tries: list[int],
) -> list[int] | None:
    """Return the places of the starts from a layer on, None if the rest cannot be laid.

    ``before`` is the deadline and the shift of the layer below where these bind.
    """
    if layer == len(task.choices):
        return []
    choice = task.choices[layer]
    taken = np.concatenate([[0], np.cumsum(busy)])
    free = taken[choice.start + choice.length + move] == taken[choice.start]
    free &= choice.start >= opens
    if before is not None:
        free &= choice.hour_end <= before[0]
        if task.same_shift[layer - 1]:
            free &= choice.shift == before[1]
    for at in np.flatnonzero(free).tolist():
        if tries[0] <= 0:
            return None
        tries[0] -= 1
        start = slice(int(choice.start[at]), int(choice.start[at]) + choice.length + move)
        busy[start] = 1
        rest = _chain(
            task, move, busy, layer + 1, int(choice.opens[at]),
            (int(choice.due[at]), int(choice.shift[at])), tries,
        )  # fmt: skip
        busy[start] = 0
        if rest is not None:
            return [at, *rest]
        if not choice.must[at]:
            return [at]
    return None
