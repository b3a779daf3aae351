"""One layer's hours read plainly, row by row: gates, holds, the cure clock and deadlines."""

from __future__ import annotations

from math import inf, isnan
from typing import TYPE_CHECKING

from windows.gates import State
from windows.safety import safety_stops, stop_label

if TYPE_CHECKING:
    from cure_models.coating import Gate
    from windows.job import Job

__all__ = ["HOUR", "TIE_H", "LayerHours"]

HOUR = 3600
"""An hour. [s]"""
TIE_H = 1e-9
"""Cure this close to a milestone has reached it. [h]"""


class LayerHours:
    """One layer's hours read plainly: a film placed in a row, its gates, clocks and deadlines.

    Rows count from 0, times are whole seconds since the first row began.
    """

    def __init__(self, job: Job) -> None:
        self.coating = job.coating
        self.rows = len(job.hours.index)
        self._conditions = job.conditions
        self._own_limits = job.site.safety
        self._values: dict[str, list[float]] = {}
        self._checks: dict[int, dict[str, State]] = {}
        self._stops: dict[str, list[int]] = {
            name: states.tolist() for name, states in safety_stops(job.conditions, job.site).items()
        }

    def _of(self, quantity: str) -> list[float]:
        if quantity not in self._values:
            self._values[quantity] = self._conditions.quantity(quantity).tolist()
        return self._values[quantity]

    def milestone(self, name: str, row: int) -> int | None:
        """Return when the film of a row reaches a milestone, None where that is not known. [s]"""
        return self._milestone(name, row)[0]

    def _milestone(self, name: str, row: int) -> tuple[int | None, int]:
        """Return a milestone and the first row that is not certain to lie before it. [s]

        Cure counts from the end of the row, by the first rate to the end of the first stage. Where
        a rate is not known, the film is still short of the milestone when that hour begins.
        """
        first, late = self._of("cure_rate"), self._of("cure_rate_late")
        needed, stage = self.coating.milestones[name], self.coating.first_stage_h
        moment = _gained(first, row + 1, min(needed, stage))
        if moment is not None and needed > stage:
            moment = _gained(late, moment, needed - stage)
        least = _seconds(row + 1 + self.coating.milestone_clock_min_h.get(name, 0.0))
        if moment is not None:
            end = max(_seconds(moment), least)
            return end, _rows_before(end)
        blind = row + 1
        while blind < self.rows and not isnan(first[blind] + late[blind]):
            blind += 1
        return None, max(blind + 1, _rows_before(least))

    def checks(self, row: int) -> dict[str, State]:
        """Return the state of each gate and safety stop, by its label, for a film of a row."""
        if row not in self._checks:
            found = {gate.rule.label: self._gate(gate, row) for gate in self.coating.gates}
            for name, states in self._stops.items():
                found[f"safety, {stop_label(name, self._own_limits)}"] = State(states[row])
            self._checks[row] = found
        return self._checks[row]

    def state(self, row: int) -> State:
        """Return all gates and safety stops of a row together; the crew's hours are apart."""
        return max(self.checks(row).values(), default=State.OK)

    def _gate(self, gate: Gate, row: int) -> State:
        values = self._of(gate.rule.quantity)
        if gate.rule.kind == "placement":
            return _compare(values[row], gate)
        # A hazard counts from the start of the row, whenever in it the film is placed.
        if gate.milestone is None:
            assert gate.clock_h is not None  # a hold ends by one of the two
            end: int | None = _seconds(row + gate.clock_h)
            after = _rows_before(_seconds(row + gate.clock_h))
        else:
            end, after = self._milestone(gate.milestone, row)
        inside = [_compare(value, gate) for value in values[row:after]]
        if State.BLOCKED in inside:
            return State.BLOCKED
        if State.UNKNOWN in inside or end is None or end > HOUR * self.rows:
            return State.UNKNOWN
        return State.OK

    def deadlines(self, row: int) -> dict[str, int | None]:
        """Return the latest times for the next layer, None where that is not known. [s]

        They count from the start of the row; cover-by is the earlier of clock and dose.
        """
        found: dict[str, int | None] = {
            name: _seconds(row + hours) for name, hours in self.coating.deadlines_h.items()
        }
        if self.coating.cover_by_dose_sed is not None:
            reached, blind = self._dose(row, self.coating.cover_by_dose_sed)
            clock = found.get("cover_by")
            if reached is not None:
                found["cover_by"] = reached if clock is None else min(reached, clock)
            elif clock is None or clock > blind:
                found["cover_by"] = None
        return found

    def _dose(self, row: int, dose: float) -> tuple[int | None, int]:
        """Return when a dose is reached, and until when it is at least known not to be. [s]"""
        taken = self._of("uv_dose_sed")
        if row < 0:
            return None, HOUR * row
        moment = _gained(taken, row, dose)
        if moment is not None:
            return _seconds(moment), _seconds(moment)
        blind = row
        while blind < self.rows and not isnan(taken[blind]):
            blind += 1
        return None, HOUR * blind

    def due(self, row: int) -> tuple[int | None, float]:
        """Return the earliest deadline and until when it has certainly not passed. [s]

        The deadline is None where it is not known, and where there is none: then it never passes.
        """
        found = self.deadlines(row)
        known = [at for at in found.values() if at is not None]
        first = min(known, default=None)
        if None in found.values() and self.coating.cover_by_dose_sed is not None:
            blind = self._dose(row, self.coating.cover_by_dose_sed)[1]
            if first is None or first > blind:
                return None, blind
        return first, inf if first is None else first


def _gained(rates: list[float], moment: float, needed: float) -> float | None:
    """Return when so much has been gained since a moment, None where that is not known. [h]"""
    if needed <= TIE_H:
        return moment
    total, row = 0.0, int(moment)
    while row < len(rates) and not isnan(rates[row]):
        begin = max(moment, row)
        gain = rates[row] * (row + 1 - begin)
        if total + gain >= needed - TIE_H:
            return min(begin + (needed - total) / rates[row], row + 1)
        total += gain
        row += 1
    return None


def _compare(value: float, gate: Gate) -> State:
    if isnan(value):
        return State.UNKNOWN
    if value == gate.limit:
        good = gate.rule.inclusive
    else:
        good = value > gate.limit if gate.rule.sense == "min" else value < gate.limit
    return State.OK if good else State.BLOCKED


def _seconds(hours: float) -> int:
    return round(hours * HOUR)


def _rows_before(second: int) -> int:
    """Return how many rows begin before a second."""
    return -(-second // HOUR)
