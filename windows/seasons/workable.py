"""Workable days of one coating: what each local day of many years offers, and what it loses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.crew import NO_SHIFT
from windows.gates import State, combine

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.gates import States
    from windows.job import CheckedHours
    from windows.seasons.days import LocalDays

    Counts = NDArray[np.int64]

__all__ = ["Lost", "Workable", "checks", "lost_hours", "state_of", "workable_days"]


@dataclass(frozen=True)
class Lost:
    """Crew hours of each day that one check blocks, and those that nothing else blocks."""

    blocked: Counts
    alone: Counts


@dataclass(frozen=True)
class Workable:
    """What each local day offers, shape (days,).

    Crew hours that are known and that are valid, and whether the shift holds a window.
    """

    days: LocalDays
    known: Counts
    valid: Counts
    workable: NDArray[np.bool_]


def checks(each: CheckedHours) -> dict[str, States]:
    """Return every gate and every safety stop of checked hours by name."""
    stops = {f"safety_{name}": states for name, states in each.stops.items()}
    return {**each.checked.gates, **stops}


def workable_days(state: States, least: int, days: LocalDays) -> Workable:
    """Return what each day offers.

    Parameters
    ----------
    state
        Gates and safety stops together, shape (hours,).
    least
        Shortest window. [h]
    days
        The calendar of the hours.
    """
    ok = (state == State.OK) & (days.shift != NO_SHIFT)
    same_shift = np.append(False, days.shift[1:] == days.shift[:-1])
    hour = np.arange(state.size)
    goes_on = np.append(False, ok[:-1]) & ok & same_shift
    began = np.maximum.accumulate(np.where(goes_on, 0, hour))
    return Workable(
        days=days,
        known=days.by_shift(state != State.UNKNOWN),
        valid=days.by_shift(ok),
        workable=days.by_shift(ok & (hour - began + 1 >= least)) > 0,
    )


def lost_hours(states: dict[str, States], days: LocalDays) -> dict[str, Lost]:
    """Return the crew hours that each check costs, by name."""
    blockers = np.sum([each == State.BLOCKED for each in states.values()], axis=0)
    return {
        name: Lost(
            days.by_shift(each == State.BLOCKED),
            days.by_shift((each == State.BLOCKED) & (blockers == 1)),
        )
        for name, each in states.items()
    }


def state_of(each: CheckedHours) -> States:
    """Return gates and safety stops together, the shift apart."""
    return combine(each.checked.state, each.safety)
