"""The cure clock: when a film placed in each hour reaches a milestone, for all hours at once.

Careful convention: material placed in hour ``h`` lies somewhere inside it, so hazards count from
the start of ``h`` and cure counts from its end, ``h + 1``. Times are hours since the first row.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cure_models.arrays import FloatArray

__all__ = ["CureClock", "milestone_time", "start_clock"]

_TIE = 1e-9
"""Cure this close to a milestone has reached it: rounding must not cost a night. [h]"""


@dataclass(frozen=True)
class CureClock:
    """Running cure of a series of hours.

    Attributes
    ----------
    running
        Cure gained before each hour boundary, shape (..., hours + 1); unknown hours add none. [h]
    blind
        For each hour ``h``, the first hour at or after ``h + 1`` with an unknown rate, or the
        number of hours. Shape (..., hours).
    """

    running: FloatArray
    blind: NDArray[np.int64]

    @property
    def hours(self) -> int:
        """Number of hours."""
        return int(self.blind.shape[-1])


def start_clock(rate: FloatArray) -> CureClock:
    """Return the running cure of ``rate``, shape (..., hours), NaN where unknown. [h/h]"""
    hours = rate.shape[-1]
    unknown = np.isnan(rate)
    running = np.zeros((*rate.shape[:-1], hours + 1))
    np.cumsum(np.where(unknown, 0.0, rate), axis=-1, out=running[..., 1:])
    at = np.where(unknown, np.arange(hours), hours)
    after = np.full_like(at, hours)
    after[..., :-1] = at[..., 1:]
    blind = np.minimum.accumulate(after[..., ::-1], axis=-1)[..., ::-1]
    return CureClock(running, blind)


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
    hours = clock.hours
    end_of_placement = np.arange(1.0, hours + 1)
    time = np.empty(clock.blind.shape)
    for series in np.ndindex(clock.blind.shape[:-1]):
        running = clock.running[series]
        target = running[1:] + equivalent_h
        after = np.searchsorted(running, target - _TIE, side="left")
        before = np.clip(after - 1, 0, hours - 1)
        gained = running[before + 1] - running[before]
        share = (target - running[before]) / np.where(gained > 0, gained, 1.0)
        reached = before + np.clip(share, 0.0, 1.0)
        time[series] = np.where(after <= hours, reached, np.nan)
    time = np.maximum(time, end_of_placement)
    time = np.round(time * 3600) / 3600
    time = np.where(time <= clock.blind, time, np.nan)
    if clock_min_h > 0:
        time = np.maximum(time, end_of_placement + clock_min_h)
    return time
