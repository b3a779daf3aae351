"""A plan made quickly: piece after piece, each in the earliest hours that the others leave.

It keeps every rule. The solver begins with it, and seasons are replayed by it
(`windows.planning.replay` does the same from many beginnings at once).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import Start

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Problem, Task

__all__ = ["insert"]

_TRIES = 200
"""Starts of a layer that are tried before a piece is given up."""


@dataclass(frozen=True)
class _Laid:
    """A placement that is taken. [ticks]"""

    task: int
    start: int
    end: int
    opens: int


@dataclass
class _Search:
    """The search for one piece, beside what the pieces before it have taken.

    ``bare`` are stretches in which other pieces lie bare, with their areas.
    """

    problem: Problem
    number: int
    taken: list[_Laid]
    bare: list[tuple[int, int, int]]
    tries: int
    own: list[int] = field(default_factory=list)

    @property
    def task(self) -> Task:
        return self.problem.tasks[self.number]

    def chain(self, opens: int = 0) -> bool:
        """Take the starts from the next layer on; tell whether the rest can be laid."""
        task, layer = self.task, len(self.own)
        if layer == len(task.choices):
            return True
        choice = task.choices[layer]
        for at in np.flatnonzero(self._free(opens)).tolist():
            if self.tries <= 0:
                return False
            self.tries -= 1
            self.own.append(at)
            end = int(choice.start[at]) + choice.length
            if self._within_cap() and self.chain(
                max(int(choice.opens[at]), end + self.problem.move)
            ):
                return True
            if not choice.must[at] and self._within_cap():
                return True
            del self.own[layer:]
        return False

    def _free(self, opens: int) -> NDArray[np.bool_]:
        """Return which starts of the next layer the others and the layer below leave."""
        task, layer = self.task, len(self.own)
        choice = task.choices[layer]
        start, end, move = choice.start, choice.start + choice.length, self.problem.move
        free: NDArray[np.bool_] = start >= opens
        for each in self.taken:
            free &= (start >= each.end + move) | (end + move <= each.start)
            if each.task in task.over:
                free &= (start >= each.opens) | (end <= each.start)
            if self.number in self.problem.tasks[each.task].over:
                free &= (start >= each.end) | (choice.opens <= each.start)
        if layer:
            below = task.choices[layer - 1]
            free &= choice.hour_end <= below.due[self.own[-1]]
            if task.same_shift[layer - 1]:
                free &= choice.shift == below.shift[self.own[-1]]
        return free

    def _within_cap(self) -> bool:
        """Tell whether bare area stays below the cap up to the layer that was taken last."""
        cap = self.problem.open_area
        layer = len(self.own) - 1
        if cap is None or not layer or not self.task.bare[layer - 1]:
            return True
        begin, end = self._stretch(layer)
        others = sum(area for a, b, area in self.bare if a < end and begin < b)
        return others + self.task.area <= cap

    def _stretch(self, layer: int) -> tuple[int, int]:
        """Return the time in which the layer below ``layer`` lies without it."""
        below, above = self.task.choices[layer - 1], self.task.choices[layer]
        return int(below.start[self.own[layer - 1]]), int(
            above.start[self.own[layer]] + above.length
        )

    def take(self) -> list[Start]:
        """Take the starts that were found for the others to heed; return them."""
        for layer, at in enumerate(self.own):
            choice = self.task.choices[layer]
            start = int(choice.start[at])
            opens = int(choice.opens[at])
            self.taken.append(_Laid(self.number, start, start + choice.length, opens))
            if layer and self.task.bare[layer - 1]:
                self.bare.append((*self._stretch(layer), self.task.area))
        return [Start(self.number, layer, at) for layer, at in enumerate(self.own)]


def insert(problem: Problem, *, tries: int = _TRIES) -> tuple[Start, ...]:
    """Return starts that keep all rules, those of pieces with a layer that waits first.

    Parameters
    ----------
    problem
        Pieces and shifts. Priced extra days are used as others are.
    tries
        Starts that are tried before a piece is given up.
    """
    found: list[Start] = []
    taken: list[_Laid] = []
    bare: list[tuple[int, int, int]] = []
    order = sorted(range(len(problem.tasks)), key=lambda n: problem.tasks[n].due_now is None)
    for number in order:
        search = _Search(problem, number, taken, bare, tries)
        if search.chain(problem.begin):
            found += search.take()
    return tuple(found)
