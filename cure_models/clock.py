"""The cure clock: when a film placed in each hour reaches a milestone, for all hours at once.

Careful convention: material placed in hour ``h`` lies somewhere inside it, so hazards count from
the start of ``h`` and cure counts from its end, ``h + 1``. Times are hours since the first row.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cure_models.arrays import FloatArray, floats

if TYPE_CHECKING:
    from cure_models.kinetics import CureRates

__all__ = ["CureClock", "dose_time", "latest_placement", "milestone_time", "start_clock"]

_TIE = 1e-9
"""Cure this close to a milestone has reached it: rounding must not cost a night. [h]"""


_NOTHING = 1e-12
"""Cure of an hour that counts as none. [h]"""


@dataclass(frozen=True)
class _Running:
    """Running sum of an hourly rate.

    ``total`` is what was gained before each hour boundary, shape (..., hours + 1); unknown hours
    add none. ``blind`` is, for each boundary, the first unknown hour at or after it, or the number
    of hours.
    """

    total: FloatArray
    blind: NDArray[np.int64]

    @classmethod
    def of(cls, rate: FloatArray) -> _Running:
        hours = rate.shape[-1]
        unknown = np.isnan(rate)
        total = np.zeros((*rate.shape[:-1], hours + 1))
        np.cumsum(np.where(unknown, 0.0, rate), axis=-1, out=total[..., 1:])
        at = np.full((*rate.shape[:-1], hours + 1), hours, dtype=np.int64)
        at[..., :-1] = np.where(unknown, np.arange(hours), hours)
        blind = np.minimum.accumulate(at[..., ::-1], axis=-1)[..., ::-1]
        return cls(total, blind)

    def reach(self, begin: FloatArray, amount: float) -> FloatArray:
        """Return when ``amount`` has been gained since each moment ``begin``.

        NaN where the begin is, and where the data end or the rate is unknown before that.
        """
        hours = self.total.shape[-1] - 1
        time = np.empty(begin.shape)
        for series in np.ndindex(begin.shape[:-1]):
            total, since = self.total[series], begin[series]
            known = ~np.isnan(since)
            start = np.where(known, since, 0.0)
            target = _between(total, start) + amount
            after = np.searchsorted(total, target - _TIE, side="left")
            before = np.clip(after - 1, 0, hours - 1)
            gained = total[before + 1] - total[before]
            share = (target - total[before]) / np.maximum(gained, _NOTHING)
            reached = np.maximum(before + np.clip(share, 0.0, 1.0), start)
            blind = self.blind[series][np.floor(start).astype(np.int64)]
            sees = known & (after <= hours) & (reached <= blind)
            time[series] = np.where(sees, reached, np.nan)
        return time

    def latest(self, end: FloatArray, amount: float) -> FloatArray:
        """Return the latest moments from which ``amount`` is gained before ``end``, at least 0."""
        hours = self.total.shape[-1] - 1
        start = np.empty(end.shape)
        for series in np.ndindex(end.shape[:-1]):
            total, until = self.total[series], end[series]
            target = _between(total, until) - amount
            # The last boundary with no more than that: an hour without cure costs nothing.
            before = np.maximum(np.searchsorted(total, target + _TIE, side="right") - 1, 0)
            gained = total[np.minimum(before + 1, hours)] - total[before]
            share = np.maximum(target - total[before], 0.0) / np.maximum(gained, _NOTHING)
            start[series] = np.minimum(before + share, until)
        return start


def _between(total: FloatArray, moment: FloatArray) -> FloatArray:
    """Return a running sum at moments between hour boundaries, linear inside an hour."""
    hours = total.shape[-1] - 1
    whole = np.minimum(np.floor(moment).astype(np.int64), hours)
    after = np.minimum(whole + 1, hours)
    return np.asarray(total[whole] + (moment - whole) * (total[after] - total[whole]))


@dataclass(frozen=True)
class CureClock:
    """Running cure of a series of hours, in two stages.

    Attributes
    ----------
    first_stage_h
        Cure at which the first stage ends; 0 for laws of one stage. [h]
    switch
        When a film placed in each hour ends its first stage, hours since the first row, NaN where
        unknown. Shape (..., hours). [h]
    blind
        For each hour ``h``, the first hour at or after ``h + 1`` with an unknown rate, or the
        number of hours. Shape (..., hours).
    """

    first: _Running
    late: _Running
    first_stage_h: float
    switch: FloatArray
    blind: NDArray[np.int64]

    @property
    def hours(self) -> int:
        """Number of hours."""
        return int(self.blind.shape[-1])


def start_clock(rates: CureRates, first_stage_h: float = 0.0) -> CureClock:
    """Return the running cure of rates of shape (..., hours), NaN where unknown. [h/h]"""
    late = _Running.of(rates.late)
    first = _Running.of(rates.first) if first_stage_h > 0 else late  # one stage, one sum
    hours = rates.first.shape[-1]
    placed = np.broadcast_to(np.arange(1.0, hours + 1), rates.first.shape)
    switch = first.reach(placed, first_stage_h) if first_stage_h > 0 else placed
    blind = np.minimum(first.blind, late.blind)[..., 1:]
    return CureClock(first, late, first_stage_h, switch, blind)


def milestone_time(clock: CureClock, equivalent_h: float, clock_min_h: float = 0.0) -> FloatArray:
    """Return when a film placed in each hour has gained ``equivalent_h`` hours of cure.

    Parameters
    ----------
    clock
        Running cure from `start_clock`.
    equivalent_h
        Cure that the milestone takes. [h at the reference condition]
    clock_min_h
        Clock hours that must have passed as well, from the end of the placement hour. [h]

    Returns
    -------
    FloatArray
        Hours since the first row, to the nearest second, shape (..., hours); NaN where the data
        end, or the rate is unknown, before the milestone. [h]
    """
    placed = np.arange(1.0, clock.hours + 1)
    if equivalent_h <= clock.first_stage_h:
        time = clock.first.reach(np.broadcast_to(placed, clock.switch.shape), equivalent_h)
    else:
        time = clock.late.reach(clock.switch, equivalent_h - clock.first_stage_h)
    time = np.round(time * 3600) / 3600
    return np.asarray(np.maximum(time, placed + clock_min_h))


def latest_placement(
    clock: CureClock, equivalent_h: float, hazard: NDArray[np.int64]
) -> FloatArray:
    """Return the latest moment at which a film can be down and still have ``equivalent_h`` in time.

    Parameters
    ----------
    clock
        Running cure from `start_clock`.
    equivalent_h
        Cure that the film needs before the hazard. [h]
    hazard
        Hours in which hazards begin, up to the number of hours, shape (..., k).

    Returns
    -------
    FloatArray
        Hours since the first row, same shape, 0 where even the first hour is too late. Hours with
        an unknown rate count as no cure at all, which makes the moment earlier, never later. [h]
    """
    late_h = max(equivalent_h - clock.first_stage_h, 0.0)
    switch = clock.late.latest(floats(hazard), late_h)
    return clock.first.latest(switch, min(equivalent_h, clock.first_stage_h))


def dose_time(dose: FloatArray, limit: float) -> FloatArray:
    """Return when a film placed in each hour has taken ``limit`` of a dose, from the hour's START.

    Parameters
    ----------
    dose
        Dose of each hour, shape (..., hours), NaN where unknown. [any unit]
    limit
        In the same unit.

    Returns
    -------
    FloatArray
        Hours since the first row, to the nearest second; NaN where the data end or are unknown
        before that. [h]
    """
    begin = np.broadcast_to(np.arange(float(dose.shape[-1])), dose.shape)
    return np.round(_Running.of(dose).reach(begin, limit) * 3600) / 3600
