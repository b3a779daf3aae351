"""Crews replayed from many beginnings at once, by gathers instead of steps in time.

`replay_steady` does what `windows.planning.insert.insert` does from each beginning, `replay_blind`
what `windows.planning.rules.follow` does by the rule `STEADY`. What comes next is looked up: for
each layer a table tells, for every tick, which start is the next one. So a replay takes about as
many rounds as there are layers of pieces, whatever the years.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.planning.problem import FAR
from windows.planning.replay_crew import BlindCrew
from windows.planning.replay_inserted import Inserted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.planning.problem import Problem

    Ticks = NDArray[np.int32]

__all__ = ["Replay", "replay_blind", "replay_steady"]


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


def replay_blind(problem: Problem, begin: NDArray[np.int64]) -> Replay:
    """Return what a crew that does not look ahead lays from each beginning.

    Parameters
    ----------
    problem
        Pieces and shifts, with the starts of such a crew; no piece has been begun.
    begin
        Ticks, shape (cases,).
    """
    crew = BlindCrew(problem, begin.astype(np.int32))
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
    inserted = Inserted(problem, begin.astype(np.int32))
    for number in range(len(problem.tasks)):
        inserted.add(number)
    return Replay(inserted.begin, *inserted.laid)
