"""Starts that leave the same room to the next layer, taken together, so that the model is small.

A deadline at night and an opening before dawn matter only by the first and the last start that they
leave to the next layer: most starts of a shift are alike. Starts that no plan can hold go first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import FAR

if TYPE_CHECKING:
    from windows.planning.problem import Choice, Task

__all__ = ["Group", "followed", "grouped", "possible", "shortest"]


@dataclass(frozen=True)
class Group:
    """Starts from ``first`` to ``last`` of one shift, and the starts that they leave to the next.

    ``next_first`` is after ``next_last`` where none is left. ``spare_last`` is the last start of
    the next layer after which another shift would still be in time; None where no deadline asks.
    """

    first: int
    last: int
    shift: int
    must: bool
    next_first: int
    next_last: int
    spare_last: int | None
    level: int = 0


def possible(choices: tuple[Choice, ...], same_shift: tuple[bool, ...]) -> tuple[Choice, ...]:
    """Return the choices without the starts that need a next layer which has no start for it."""
    kept: list[Choice] = []
    for choice, together in zip(reversed(choices), reversed(same_shift), strict=True):
        room = np.zeros(choice.start.shape, dtype=bool)
        if kept:
            first, last = _room(choice, kept[0], together=together)
            room = first <= last
        kept.insert(0, choice.keep(~choice.must | room))
    return tuple(kept)


def followed(choices: tuple[Choice, ...], same_shift: tuple[bool, ...]) -> tuple[Choice, ...]:
    """Return the choices without the starts that no next layer can follow in their shift.

    So much every crew knows: no foam in the afternoon.
    """
    kept = []
    for n, choice in enumerate(choices):
        if n + 1 < len(choices) and same_shift[n]:
            first, last = _room(choice, choices[n + 1], together=True)
            kept.append(choice.keep(first <= last))
        else:
            kept.append(choice)
    return tuple(kept)


def grouped(
    task: Task, levels: tuple[_Ticks, ...] | None = None
) -> tuple[tuple[Group, ...], ...]:
    """Return the groups of every layer of a task.

    ``levels`` are arrays over the starts of each layer: those of another level are kept apart.
    """
    follows = (*task.choices[1:], None)
    levels = levels or tuple(np.zeros_like(choice.start) for choice in task.choices)
    return tuple(
        _groups(choice, after, level, together=together)
        for choice, after, level, together in zip(
            task.choices, follows, levels, task.same_shift, strict=True
        )
    )


def shortest(task: Task) -> int:
    """Return the fewest ticks from the start of a task's first layer to the start of its last."""
    reached = task.choices[-1].start.astype(np.int64)
    for choice, after, together in zip(
        task.choices[-2::-1], task.choices[:0:-1], task.same_shift[-2::-1], strict=True
    ):
        first, last = _room(choice, after, together=together)
        # The earliest end that the rest can have, from each start of the next layer on.
        best = np.append(np.minimum.accumulate(reached[::-1])[::-1], FAR)
        at = np.searchsorted(after.start, first)
        reached = np.where(first <= last, best[at], FAR)
    length = reached - task.choices[0].start
    return int(length.min()) if length.size and length.min() < FAR // 2 else 0


def _room(choice: Choice, after: Choice, *, together: bool) -> tuple[_Ticks, _Ticks]:
    """Return the first and last start that each start leaves to the next layer."""
    begins = np.append(after.start, FAR)
    first = begins[np.searchsorted(after.start, choice.opens)]
    ends = np.concatenate([[-1], after.start])
    last = ends[np.searchsorted(after.hour_end, choice.due, side="right")]
    if together:
        first = np.maximum(first, begins[np.searchsorted(after.shift, choice.shift)])
        last = np.minimum(last, ends[np.searchsorted(after.shift, choice.shift, side="right")])
    return first, last


def _groups(
    choice: Choice, after: Choice | None, level: _Ticks, *, together: bool
) -> tuple[Group, ...]:
    if not choice.start.size:
        return ()
    if after is None:
        first, last = np.full_like(choice.start, FAR), np.full_like(choice.start, -1)
        spare = first
    else:
        first, last = _room(choice, after, together=together)
        spare = _spare(choice, after, last, together=together)
    columns = np.column_stack([choice.shift, choice.must, first, last, spare, level])
    new = np.r_[True, (columns[1:] != columns[:-1]).any(axis=1)][: len(columns)]
    begins = np.flatnonzero(new)
    ends = np.append(begins[1:], len(columns)) - 1
    return tuple(
        Group(
            first=int(choice.start[a]), last=int(choice.start[b]), shift=int(choice.shift[a]),
            must=bool(choice.must[a]), next_first=int(first[a]), next_last=int(last[a]),
            spare_last=None if spare[a] == FAR else int(spare[a]), level=int(level[a]),
        )
        for a, b in zip(begins.tolist(), ends.tolist(), strict=True)
    )  # fmt: skip


def _spare(choice: Choice, after: Choice, last: _Ticks, *, together: bool) -> _Ticks:
    """Return the last start of the next layer that leaves a later shift in time."""
    if together or not after.start.size:
        return np.full_like(choice.start, FAR)
    ends = np.concatenate([[-1], after.start])
    shift = after.shift[np.searchsorted(after.start, last, side="right") - 1]
    earlier = ends[np.searchsorted(after.shift, shift)]
    return np.where((choice.due == FAR) | (last < 0), FAR, earlier)


if TYPE_CHECKING:
    from numpy.typing import NDArray

    _Ticks = NDArray[np.int64]
