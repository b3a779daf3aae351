"""What starts cost, in thousandths of money: the one way to count for solver, rules and reports."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from windows.planning.problem import FAR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from windows.planning.problem import Choice, Problem, Start, Task

__all__ = [
    "changes",
    "cost_of",
    "end_of",
    "exposed",
    "extra_shifts",
    "finish_of",
    "has_spare",
    "moves",
    "start_of",
    "without_spare",
]


def start_of(problem: Problem, each: Start) -> int:
    """Return the tick at which a start begins."""
    return int(problem.tasks[each.task].choices[each.layer].start[each.at])


def end_of(problem: Problem, each: Start) -> int:
    """Return the tick at which the work of a start ends."""
    return start_of(problem, each) + problem.tasks[each.task].choices[each.layer].length


def finish_of(problem: Problem, starts: Sequence[Start]) -> int:
    """Return the tick at which the last work ends, the present if there is none."""
    return max((end_of(problem, each) for each in starts), default=problem.begin)


def moves(problem: Problem, starts: Sequence[Start]) -> int:
    """Count the starts that follow one on another piece."""
    order = sorted(starts, key=lambda each: start_of(problem, each))
    return sum(a.task != b.task for a, b in pairwise(order))


def extra_shifts(problem: Problem, starts: Sequence[Start]) -> int:
    """Count the extra shifts that are worked."""
    worked = {int(problem.tasks[s.task].choices[s.layer].shift[s.at]) for s in starts}
    return sum(problem.extra[shift] for shift in worked)


def exposed(problem: Problem, task: Task, laid: Sequence[Start]) -> int:
    """Return the ticks in which a piece lies with some of its layers and not with the last.

    ``laid`` are its starts in the order of its layers; without the last layer it lies so until the
    data end.
    """
    if not laid and task.open_since is None:
        return 0
    begin = start_of(problem, laid[0]) if task.open_since is None else task.open_since
    whole = len(laid) == len(task.choices)
    return (start_of(problem, laid[-1]) if whole else problem.end) - begin


def has_spare(task: Task, each: Start, later: Start) -> bool | None:
    """Tell whether a later shift than that of the next layer would be in time for it as well.

    None where the layer has no deadline in the data, or its next belongs into its own shift.
    """
    due = int(task.choices[each.layer].due[each.at])
    if due >= FAR or task.same_shift[each.layer]:
        return None
    return _later(task.choices[later.layer], later.at, due)


def _later(choice: Choice, at: int, due: int) -> bool:
    return bool(((choice.shift > choice.shift[at]) & (choice.hour_end <= due)).any())


def without_spare(task: Task, laid: Sequence[Start]) -> int:
    """Count the layers of a piece, laid or planned, whose next one has no later shift in time."""
    count = sum(has_spare(task, each, later) is False for each, later in pairwise(laid))
    if task.due_now is not None and laid:
        count += not _later(task.choices[0], laid[0].at, task.due_now)
    return count


def changes(
    problem: Problem, starts: Sequence[Start], before: Mapping[tuple[int, int], int]
) -> int:
    """Count the starts of an earlier plan that are no longer where they were."""
    now = {(each.task, each.layer): start_of(problem, each) for each in starts}
    return sum(now.get(key) != tick for key, tick in before.items())


def cost_of(
    problem: Problem,
    starts: Sequence[Start],
    before: Mapping[tuple[int, int], int] | None = None,
) -> int:
    """Return the cost of starts. [thousandths]"""
    costs = problem.costs
    total = costs.tick * (finish_of(problem, starts) - problem.begin)
    total += costs.extra_shift * extra_shifts(problem, starts)
    total += costs.move * moves(problem, starts)
    total += costs.change * changes(problem, starts, before or {})
    for n, task in enumerate(problem.tasks):
        laid = sorted((s for s in starts if s.task == n), key=lambda each: each.layer)
        total += task.exposure * exposed(problem, task, laid)
        total += costs.no_spare * without_spare(task, laid)
    return total
