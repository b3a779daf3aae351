"""When to stop in the evening: the next hazard, less the cure that a coat needs before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models.clock import latest_placement
from windows.gates import Checked, State, check

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from cure_models.coating import Gate
    from windows.conditions import Conditions

__all__ = ["StopHour", "stop_hours"]


@dataclass(frozen=True)
class StopHour:
    """The last moment for a coat to be down, and the hazard that sets it.

    Both in hours since the first row. ``known`` tells a hazard that the data show from an hour that
    they do not know, or their end.
    """

    gate: Gate
    at: float
    hazard: int
    known: bool


def stop_hours(
    checked: Checked, conditions: Conditions, ends: NDArray[np.int64]
) -> list[StopHour | None]:
    """Return the stop of each window; None for a coating without holds.

    For each hold gate the first hour at or after the window's end that breaks it or is not known
    to keep it, less the cure (or the clock hours) that the hold asks for; the earliest counts.
    The hold for rising air is left out: it asks about the start of the day.

    Parameters
    ----------
    checked, conditions
        Of one series of hours.
    ends
        Row after the last one of each window.
    """
    holds = [g for g in checked.coating.gates if g.rule.kind == "hold" and not g.rule.limit_of]
    if not holds:
        return [None] * ends.size
    states = [check(conditions.quantity(gate.rule.quantity), gate) for gate in holds]
    hazards = np.array([_next(state != State.OK, ends) for state in states])
    stops = np.array(
        [_stop(checked, gate, row) for gate, row in zip(holds, hazards, strict=True)]
    )
    first = np.argmin(stops, axis=0)
    return [
        StopHour(
            gate=holds[row],
            at=float(stops[row, n]),
            hazard=int(hazards[row, n]),
            known=bool(np.append(states[row], State.UNKNOWN)[hazards[row, n]] == State.BLOCKED),
        )
        for n, row in enumerate(first.tolist())
    ]


def _next(flags: NDArray[np.bool_], since: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the first flagged hour at or after each one, the number of hours if there is none."""
    at = np.append(np.flatnonzero(flags), flags.size)
    return at[np.searchsorted(at, since)]


def _stop(checked: Checked, gate: Gate, hazard: NDArray[np.int64]) -> FloatArray:
    """Return the last moment before each hazard by one hold."""
    if gate.clock_h is not None:
        return np.asarray(hazard - gate.clock_h)
    name = gate.milestone or ""
    latest = latest_placement(checked.clock, checked.coating.milestones[name], hazard)
    least = checked.coating.milestone_clock_min_h.get(name, 0.0)
    stop: FloatArray = np.minimum(latest, hazard - least)
    return stop
