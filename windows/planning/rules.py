"""The rules by which crews plan without looking ahead, followed shift by shift.

They show what the best plan gains. A crew takes the first shift in which its rule lets it work, on
what the rule puts first there; no rule sees tomorrow's weather, and none works on extra days.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import Start

if TYPE_CHECKING:
    from windows.planning.problem import Choice, Problem, Task

__all__ = ["RULES", "STEADY", "Rule", "follow"]

_FRIDAY = 4


@dataclass(frozen=True)
class Rule:
    """A rule of a crew.

    ``most_open`` is how many pieces may lie begun at once, None for any number; ``prefers`` what
    comes first in a shift: ``"new"`` pieces, ``"open"`` ones, or what can start ``"earliest"``.
    No piece is begun on the weekdays ``never_begin``, 0 on Monday.
    """

    name: str
    prefers: str
    most_open: int | None = None
    never_begin: frozenset[int] = frozenset()


RULES = (
    Rule("earliest valid hour", "earliest"),
    Rule("all bases first", "new"),
    Rule("alternate, oldest open first", "open", most_open=1),
    Rule("alternate, never base on a Friday", "open", 1, frozenset({_FRIDAY})),
)

STEADY = Rule("oldest open first", "open")
"""The rule of the crew that seasons are replayed with: begun pieces first, then a new one."""


@dataclass
class _Piece:
    """How far a piece has come."""

    task: Task
    number: int
    done: int = 0
    ready: int = 0  # when the next layer may follow, and a crew may walk on it
    begun: float = field(default=float("inf"))

    @property
    def is_bare(self) -> bool:
        return self.task.bare[self.done - 1] if self.done else self.task.bare_now

    @property
    def is_open(self) -> bool:
        return self.begun < float("inf") and self.done < len(self.task.choices)


def follow(problem: Problem, rule: Rule) -> tuple[Start, ...]:
    """Return what a crew lays by a rule, in its order; a late cover is laid late.

    ``problem`` has the starts of a crew that does not look ahead.
    """
    pieces = [
        _Piece(task, n, begun=float("inf") if task.open_since is None else task.open_since)
        for n, task in enumerate(problem.tasks)
    ]
    laid: list[Start] = []
    free = problem.begin
    while True:
        # What has to be followed in its shift is followed before anything else is begun.
        followed = [p for p in pieces if p.done and p.task.same_shift[p.done - 1]]
        able = [
            (piece, at, piece.task.choices[piece.done])
            for piece in [p for p in followed if p.done < len(p.task.choices)] or pieces
            if (at := _next(piece, pieces, problem, rule, free)) is not None
        ]
        if not able:
            return tuple(laid)
        first = min(int(choice.shift[at]) for _, at, choice in able)
        today = [(p, at, choice) for p, at, choice in able if choice.shift[at] == first]
        piece, at, choice = min(today, key=lambda each: _order(each, rule))
        laid.append(Start(piece.number, piece.done, at))
        start = int(choice.start[at])
        piece.begun = min(piece.begun, start)
        piece.ready = int(choice.opens[at])
        piece.done += 1
        free = start + choice.length + problem.move


def _order(each: tuple[_Piece, int, Choice], rule: Rule) -> tuple[float, ...]:
    piece, at, choice = each
    start = float(choice.start[at])
    if rule.prefers == "earliest":
        return (start, piece.begun, piece.number)
    wanted = piece.is_open == (rule.prefers == "open")
    return (0.0 if wanted else 1.0, piece.begun if piece.is_open else start, piece.number)


def _next(
    piece: _Piece, pieces: list[_Piece], problem: Problem, rule: Rule, free: int
) -> int | None:
    """Return the place of the first start that a rule allows a piece, None if there is none."""
    task = piece.task
    if piece.done == len(task.choices):
        return None
    choice = task.choices[piece.done]
    allowed = choice.start >= max(free, piece.ready, *(pieces[n].ready for n in task.over))
    allowed &= ~np.array(problem.extra, dtype=bool)[choice.shift]
    others = [each for each in pieces if each is not piece]
    if task.bare[piece.done] and problem.open_area is not None:
        bare = sum(each.task.area for each in others if each.is_bare)
        if bare + task.area > problem.open_area:
            return None
    if not piece.is_open:
        if rule.most_open is not None and sum(p.is_open for p in others) >= rule.most_open:
            return None
        weekday = np.array(problem.weekday)[choice.shift]
        allowed &= ~np.isin(weekday, list(rule.never_begin))
    at = np.flatnonzero(allowed)
    return int(at[0]) if at.size else None
