"""What is told of a laid layer that waits for the next one: clocks, windows left, a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from cure_models.limits import DEADLINES
from windows.gates import State

if TYPE_CHECKING:
    import pandas as pd

    from cure_models.coating import Gate
    from cure_models.remedies import Advice
    from cure_models.sourced import Sourced
    from windows.safety import Caution

__all__ = ["Cover", "Deadline", "Hazard", "Left", "Verdict", "is_weak"]

_WEAK = ("common practice", "from memory", "own choice")
"""Bases on which a generic deadline is no promise."""


def is_weak(entry: Sourced) -> bool:
    """Tell whether a deadline is a generic range of which nobody has read the like."""
    return entry.low != entry.high and entry.basis in _WEAK


class Verdict(StrEnum):
    """What is to be said of a layer that waits for the next one."""

    COVERED = "covered"
    NOT_YET_OPEN = "not yet open"
    IN_TIME = "cover in time"
    DATA_SHEET = "depends on the data sheet"
    NONE_LEFT = "no window left"
    UNDETERMINED = "undetermined"
    OVERDUE = "overdue"

    @property
    def state(self) -> State:
        """What it comes to: a generic deadline of weak basis is no promise."""
        return _STATES[self]


_STATES = {
    Verdict.COVERED: State.OK,
    Verdict.NOT_YET_OPEN: State.OK,
    Verdict.IN_TIME: State.OK,
    Verdict.DATA_SHEET: State.UNKNOWN,
    Verdict.UNDETERMINED: State.UNKNOWN,
    Verdict.NONE_LEFT: State.BLOCKED,
    Verdict.OVERDUE: State.BLOCKED,
}


@dataclass(frozen=True)
class Deadline:
    """A latest time for the next layer.

    ``at`` is None where the data end before a dose is reached. ``earliest`` and ``latest`` are at
    the ends of the range across products; ``firm`` is false where the figure is generic and of weak
    basis. Then only the data sheet can make it a promise: for a layer that the sun spoils always,
    for another where no window is left before the earliest end.
    """

    name: str
    at: pd.Timestamp | None
    earliest: pd.Timestamp | None
    latest: pd.Timestamp | None
    firm: bool
    sourced: Sourced

    @property
    def label(self) -> str:
        """What the deadline is called."""
        return DEADLINES[self.name].label


@dataclass(frozen=True)
class Left:
    """A window of the next layer on this one, before the deadline: ``[start, end)``.

    ``dry_chance`` is that of the application window in which it lies.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    hours: int
    known: bool
    dry_chance: tuple[float, float] | None
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class Hazard:
    """A gate of the laid layer that the weather breaks, and the hour in which it first does."""

    gate: Gate
    at: pd.Timestamp


@dataclass(frozen=True)
class Cover:
    """A laid layer, its clocks, and the windows of the layer that follows.

    ``layer`` counts from 0. ``hazards`` are what this weather did, or will do, to the layer itself
    while it was laid and until it is safe. ``opens`` is None where the data end, or
    the weather is unknown, before the film is ready. ``due`` is the earliest deadline, None where
    there is none or the data end before it is known. ``left`` are the windows that are sure,
    ``provisional`` those that would be if what is not known turned out well.
    """

    layer: int
    hazards: tuple[Hazard, ...]
    placed_start: pd.Timestamp
    placed_end: pd.Timestamp
    now: pd.Timestamp
    milestones: dict[str, pd.Timestamp | None]
    opens: pd.Timestamp | None
    deadlines: tuple[Deadline, ...]
    due: pd.Timestamp | None
    left: tuple[Left, ...]
    provisional: tuple[Left, ...]
    data_end: pd.Timestamp
    verdict: Verdict
    advice: tuple[Advice, ...]

    @property
    def longest_h(self) -> int | None:
        """Length of the longest window that is left, None without any. [h]"""
        return max((each.hours for each in self.left), default=None)

    def is_too_short(self, work_h: float) -> bool:
        """Tell whether windows are left, and none as long as the next layer takes. [h]"""
        return self.longest_h is not None and self.longest_h < work_h

    def may_be_long_enough(self, work_h: float) -> bool:
        """Tell whether a window that is not sure would be as long as the next layer takes. [h]"""
        return any(each.hours >= work_h for each in self.provisional)

    def state_for(self, work_h: float) -> State:
        """Return what the verdict comes to for a crew to which the next layer takes so long. [h]

        Windows that are all too short are a no only if none could be long enough.
        """
        if not self.is_too_short(work_h):
            return self.verdict.state
        short = State.UNKNOWN if self.may_be_long_enough(work_h) else State.BLOCKED
        return max(self.verdict.state, short)
