"""Gates: every named limit of a coating answered OK, UNKNOWN or BLOCKED, for all hours at once.

The three answers are ordered numbers, so that combining checks is taking the largest: any BLOCKED
makes BLOCKED, else any UNKNOWN makes UNKNOWN.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cure_models.clock import CureClock, dose_time, milestone_time, start_clock
from cure_models.kinetics import CureRates

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from cure_models.coating import Coating, Gate
    from windows.conditions import Conditions

__all__ = [
    "Checked", "State", "States", "check", "check_coating", "combine", "deadlines",
    "gate_quantities", "margin",
]  # fmt: skip

States = NDArray[np.int8]


class State(IntEnum):
    """The three answers of every check, in the order in which they win."""

    OK = 0
    UNKNOWN = 1
    BLOCKED = 2


@dataclass(frozen=True)
class Checked:
    """A coating checked in every hour.

    Attributes
    ----------
    gates
        State of each gate by name, shape (..., hours).
    milestones
        Time of each milestone by name for a film placed in each hour, hours since the first row,
        NaN where unknown. Shape (..., hours). [h]
    hold_ends
        For each hold, the hour up to which it is certain to reach. Shape (..., hours).
    deadlines
        Latest time by name for a film placed in each hour, counted from the start of that hour;
        cover-by is the earlier of clock and dose. Hours since the first row, NaN where the data end
        before a dose is reached. Shape (..., hours). [h]
    clock
        The running cure that the milestones were read from.
    """

    coating: Coating
    gates: dict[str, States]
    milestones: dict[str, FloatArray]
    hold_ends: dict[str, NDArray[np.int64]]
    deadlines: dict[str, FloatArray]
    clock: CureClock

    @property
    def state(self) -> States:
        """All gates together."""
        return combine(*self.gates.values())

    @property
    def due(self) -> FloatArray:
        """The earliest deadline of a film placed in each hour, infinite without one.

        NaN where a dose that the data do not reach may come before a clock that ends after them.
        Hours since the first row, shape (..., hours). [h]
        """
        none = np.full(self.clock.blind.shape, np.inf)
        first = np.fmin.reduce([none, *self.deadlines.values()])
        open_dose = np.any([np.isnan(each) for each in (none, *self.deadlines.values())], axis=0)
        return np.where(open_dose & (first > self.clock.hours), np.nan, first)


def combine(*states: States) -> States:
    """Return BLOCKED where any is BLOCKED, else UNKNOWN where any is UNKNOWN, else OK."""
    worst: States = np.maximum.reduce(states)
    return worst


def check(values: FloatArray, gate: Gate) -> States:
    """Return the state of each value against a limit; NaN is UNKNOWN.

    The limit is tested in the positive form, because NaN would pass a negated one.
    """
    if gate.rule.sense == "min":
        passes = values >= gate.limit if gate.rule.inclusive else values > gate.limit
    else:
        passes = values <= gate.limit if gate.rule.inclusive else values < gate.limit
    fails = ~passes & ~np.isnan(values)
    states = np.full(values.shape, State.UNKNOWN, dtype=np.int8)
    states[passes] = State.OK
    states[fails] = State.BLOCKED
    return states


def margin(values: FloatArray, gate: Gate) -> FloatArray:
    """Return how far each value is on the good side of the limit.

    Below zero on the bad side, NaN where the value is unknown. Any shape. [SI unit of the limit]
    """
    return values - gate.limit if gate.rule.sense == "min" else gate.limit - values


def check_coating(coating: Coating, conditions: Conditions) -> Checked:
    """Check every gate of a coating in every hour.

    Parameters
    ----------
    coating
        Gates, milestones and clock minimums in SI.
    conditions
        Arrays of shape (..., hours).
    """
    rates = CureRates(conditions.cure_rate, conditions.cure_rate_late)
    clock = start_clock(rates, coating.first_stage_h)
    milestones = {
        name: milestone_time(clock, hours, coating.milestone_clock_min_h.get(name, 0.0))
        for name, hours in coating.milestones.items()
    }
    gates: dict[str, States] = {}
    ends: dict[str, NDArray[np.int64]] = {}
    for gate in coating.gates:
        states = check(conditions.quantity(gate.rule.quantity), gate)
        if gate.rule.kind == "hold":
            least = coating.milestone_clock_min_h.get(gate.milestone or "", 0.0)
            end, certain = _hold_end(gate, milestones, clock, least)
            states = _hold(states, end, certain)
            ends[gate.name] = certain
        gates[gate.name] = states
    return Checked(coating, gates, milestones, ends, deadlines(coating, conditions), clock)


def gate_quantities(coating: Coating) -> frozenset[str]:
    """Return the conditions that the gates, clock and deadlines of a coating read."""
    read = {"cure_rate", "cure_rate_late", *(gate.rule.quantity for gate in coating.gates)}
    return frozenset(read | ({"uv_dose_sed"} if coating.cover_by_dose_sed is not None else set()))


def deadlines(coating: Coating, conditions: Conditions) -> dict[str, FloatArray]:
    """Return the latest times after a placement in each hour, by name, shape (..., hours).

    Hours since the first row; see `Checked`. [h]
    """
    shape = conditions.cure_rate.shape
    start = np.arange(float(shape[-1]))
    times = {
        name: np.broadcast_to(start + hours, shape) for name, hours in coating.deadlines_h.items()
    }
    if coating.cover_by_dose_sed is not None:
        by_dose = dose_time(conditions.uv_dose_sed, coating.cover_by_dose_sed)
        by_clock = times.get("cover_by", np.full(shape, np.inf))
        # By the clock if that comes before the data end: no dose can be known to be later.
        within = np.where(np.isnan(by_dose) & (by_clock <= shape[-1]), by_clock, by_dose)
        times["cover_by"] = np.minimum(within, by_clock)
    return times


def _hold_end(
    gate: Gate, milestones: dict[str, FloatArray], clock: CureClock, clock_min_h: float
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return when a hold ends (NaN unknown) and the hour up to which it certainly reaches.

    Where the milestone is unknown because a rate is, the film is known to be short of it when that
    hour begins: the hold reaches into that hour, and no further for certain; but a clock minimum of
    the data sheet is certain whatever the cure does.
    """
    hours = clock.hours
    if gate.milestone is None:
        assert gate.clock_h is not None  # the vocabulary gives a hold one of the two
        end = np.broadcast_to(np.arange(hours) + gate.clock_h, clock.blind.shape)
    else:
        end = milestones[gate.milestone]
    least = np.arange(hours) + 1 + int(np.ceil(clock_min_h))  # without a minimum it never binds
    blind_end = np.minimum(np.maximum(clock.blind + 1, least), hours)
    last = np.where(np.isnan(end), blind_end, np.minimum(np.ceil(end), hours))
    return end, last.astype(np.int64)


def _hold(states: States, end: FloatArray, certain: NDArray[np.int64]) -> States:
    """Return the state of a hold from the start of each hour to ``certain``."""
    blocked = _count(states == State.BLOCKED, certain) > 0
    unknown = _count(states == State.UNKNOWN, certain) > 0
    hours = states.shape[-1]
    open_end = ~(end <= hours)  # also where the end is NaN
    return np.where(
        blocked, State.BLOCKED, np.where(unknown | open_end, State.UNKNOWN, State.OK)
    ).astype(np.int8)


def _count(flags: NDArray[np.bool_], to: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return how many flags are set from each hour up to, not including, hour ``to``."""
    before = np.zeros((*flags.shape[:-1], flags.shape[-1] + 1), dtype=np.int64)
    np.cumsum(flags, axis=-1, out=before[..., 1:])
    return np.take_along_axis(before, to, axis=-1) - before[..., :-1]
