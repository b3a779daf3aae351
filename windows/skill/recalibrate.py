"""What past errors say of the next forecast: bias and spread by lead day, and rain as found.

A rising map from the chance told to the share found is fitted to bins of 10 % and tried on
forecasts whose weather it has not seen; one that does not surely help there is not offered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from windows.odds.forecast_error import load_forecast_error
from windows.skill.measures import bin_of, error_of, reliability, rising
from windows.skill.pairs import LEAD_DAYS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.skill.pairs import Cases, Errors

__all__ = ["LEAST_BIN_DAYS", "LEAST_CASES", "LEAST_DAYS", "LeadFit", "RainMap", "Recalibration",
           "rain_map_of", "recalibration_of"]  # fmt: skip

LEAST_DAYS = 30
"""Days of issue that must be known: forecasts of one day err alike (own choice)."""
LEAST_CASES = 50
"""Chances in a bin of 10 % without which it is not used (own choice)."""
LEAST_BIN_DAYS = 10
"""Days of issue, and days foretold, that the chances of a bin must be of: else a few storms, or a
few forecasts, decide it (own choice)."""
_FOLDS = 10
_LEAST_TRIED = 0.5
"""Share of the chances that a map must have been tried on (own choice)."""
_STORM_DAYS = 3
"""Days beyond which the rain of one says nothing of that of another (own choice)."""
_MOST_K, _LEAST_SD_K = 20.0, 0.001
"""Errors beyond are those of a mistake (own choice). [K]"""


@dataclass(frozen=True)
class LeadFit:
    """Bias (forecast less observed) and spread of one lead day. [K]"""

    lead_day: int
    air_temp_bias_k: float
    air_temp_sd_k: float
    dew_point_bias_k: float
    dew_point_sd_k: float

    @property
    def is_possible(self) -> bool:
        """Whether these can be errors of a forecast: some spread, and no wrong unit."""
        return all(
            abs(bias) <= _MOST_K and _LEAST_SD_K <= sd <= _MOST_K
            for bias, sd in (
                (self.air_temp_bias_k, self.air_temp_sd_k),
                (self.dew_point_bias_k, self.dew_point_sd_k),
            )
        )


@dataclass(frozen=True)
class RainMap:
    """The share found at each chance told, rising, with the Brier score before and after.

    Both scores are those of forecasts whose weather the map has not seen, or stand as told where
    there is too little else to learn from: ``tried`` is the share of chances that were mapped.
    ``gain_error`` is the standard error of what the score falls by. [fraction]
    """

    told: tuple[float, ...]
    found: tuple[float, ...]
    cases: int
    before: float
    after: float
    gain_error: float
    tried: float

    @property
    def helps(self) -> bool:
        """Whether it was tried enough, and gains more than the standard error of the gain."""
        return self.tried >= _LEAST_TRIED and self.before - self.after > self.gain_error


@dataclass(frozen=True)
class Recalibration:
    """What can be told of the next forecasts, and sentences on what cannot be yet."""

    days: tuple[LeadFit, ...]
    rain: RainMap | None
    lacking: tuple[str, ...]


def recalibration_of(air: Errors, dew: Errors, rain: Sequence[Cases]) -> Recalibration:
    """Return what the errors of temperatures and the told chances of rain are enough for."""
    fits = [fit for day in range(1, LEAD_DAYS + 1) if (fit := _fit(air, dew, day)) is not None]
    lacking = [
        f"temperature of lead day {fit.lead_day}: such errors are not those of a forecast; check "
        "that forecasts and observed hours are of one place and not the same hours"
        for fit in fits
        if not fit.is_possible
    ]
    if not fits:
        most = min(_issue_days(each, 1) for each in (air, dew))
        lacking.append(f"temperature: {LEAST_DAYS} days of issue are needed, {most} are there")
    found = rain_map_of(rain)
    if found is None:
        issued = np.unique(_pool(rain).issue_day).size
        lacking.append(
            f"rain: {LEAST_DAYS} days of issue and two bins of 10 % with {LEAST_CASES} chances of "
            f"{LEAST_BIN_DAYS} days each are needed, {issued} days are there"
        )
    elif not found.helps:
        lacking.append(_no_help(found))
        found = None
    return Recalibration(tuple(fit for fit in fits if fit.is_possible), found, tuple(lacking))


def rain_map_of(rain: Sequence[Cases]) -> RainMap | None:
    """Return the map of told chances of rain as it was tried, None if there is too little for one.

    Whether it should be used is for `RainMap.helps` to say.
    """
    return _tried(_pool(rain))


def _no_help(found: RainMap) -> str:
    if found.tried < _LEAST_TRIED:
        return (
            f"rain: what is learnt is tried on forecasts issued more than {LEAD_DAYS} days from "
            "those it is learnt from, and of such there are too few yet; keep more"
        )
    return (
        "rain: on forecasts left out of the fit it does not surely help (Brier score "
        f"{found.before:.4f} before, {found.after:.4f} after, the gain known to "
        f"{found.gain_error:.4f})"
    )


def _issue_days(errors: Errors, day: int) -> int:
    return int(np.unique(errors.issue_day[errors.lead_day == day]).size)


def _fit(air: Errors, dew: Errors, day: int) -> LeadFit | None:
    """Return the fit of a lead day, None if too few days of issue are known for it."""
    if min(_issue_days(air, day), _issue_days(dew, day)) < LEAST_DAYS:
        return None
    of_air, of_dew = (error_of(each.error[each.lead_day == day]) for each in (air, dew))
    return LeadFit(day, of_air.bias, of_air.sd, of_dew.bias, of_dew.sd)


@dataclass(frozen=True)
class _Told:
    """Chances, whether it rained, and the days of issue and foretold, shape (cases,) each.

    The day foretold is that of issue and the lead days since.
    """

    told: FloatArray
    wet: BoolArray
    issue_day: NDArray[np.int64]
    day: NDArray[np.int64]

    def where(self, mine: BoolArray) -> _Told:
        return _Told(self.told[mine], self.wet[mine], self.issue_day[mine], self.day[mine])


def _pool(rain: Sequence[Cases]) -> _Told:
    """Return chances of all lengths together."""
    none, no_day = np.empty(0), np.empty(0, dtype=np.int64)
    return _Told(
        np.concatenate([none, *(each.told for each in rain)]),
        np.concatenate([none.astype(np.bool_), *(each.wet for each in rain)]),
        np.concatenate([no_day, *(each.issue_day for each in rain)]),
        np.concatenate([no_day, *(each.issue_day + each.lead_day - 1 for each in rain)]),
    )


def _tried(cases: _Told) -> RainMap | None:
    """Return the map with its score on folds left out, None if there is too little.

    A fold is a stretch of days of issue. It is told by a map of forecasts that were issued more
    than the longest lead before its first or after its last: others tell of the same rain, and a
    map of them has seen what it is tried on.
    """
    days = np.unique(cases.issue_day)
    whole = _rain_map(cases)
    if days.size < LEAST_DAYS or whole is None:
        return None
    fold = np.searchsorted(days, cases.issue_day) * _FOLDS // days.size
    after = cases.told.copy()
    tried = 0
    for n in range(_FOLDS):
        out = fold == n
        first, last = cases.issue_day[out].min(), cases.issue_day[out].max()
        apart = (cases.issue_day < first - LEAD_DAYS) | (cases.issue_day > last + LEAD_DAYS)
        learned = _rain_map(cases.where(apart))
        if learned is not None:  # else what was told stands
            after[out] = _mapped(cases.told[out], learned)
            tried += int(out.sum())
    before_each, after_each = (cases.told - cases.wet) ** 2, (after - cases.wet) ** 2
    return RainMap(
        told=tuple(whole[0].tolist()),
        found=tuple(whole[1].tolist()),
        cases=cases.told.size,
        before=float(np.mean(before_each)),
        after=float(np.mean(after_each)),
        gain_error=_error_of_mean(before_each - after_each, cases.day),
        tried=tried / cases.told.size,
    )


def _error_of_mean(values: FloatArray, day: NDArray[np.int64]) -> float:
    """Return the standard error of a mean of values that go together by days.

    Those of a day are one, and days up to `_STORM_DAYS` apart go together the less the farther:
    Newey and West, Econometrica 55 (1987) 703, from memory.
    """
    rest = np.bincount(day - day.min(), values - values.mean())
    square = float(rest @ rest)
    for lag in range(1, _STORM_DAYS + 1):
        square += 2 * (1 - lag / (_STORM_DAYS + 1)) * float(rest[lag:] @ rest[:-lag])
    return sqrt(max(square, 0.0)) / values.size


def _rain_map(cases: _Told) -> tuple[FloatArray, FloatArray] | None:
    """Return chances told and shares found, both rising, None if fewer than two bins are full.

    A share is (wet + 1) / (all + 2), Laplace's rule: no chance is ever found to be none or all.
    """
    number = bin_of(cases.told)
    bins = [
        each
        for n, each in enumerate(reliability(cases.told, cases.wet))
        if each.count >= LEAST_CASES and _least_days(cases, number == n) >= LEAST_BIN_DAYS
    ]
    if len(bins) < 2:
        return None
    count = np.array([each.count for each in bins], dtype=np.float64)
    share = (np.array([each.found for each in bins]) * count + 1) / (count + 2)
    return np.array([each.told for each in bins]), rising(share, count)


def _least_days(cases: _Told, mine: BoolArray) -> int:
    """Return how many days some chances were issued on, or foretell, whichever is less."""
    return min(np.unique(days[mine]).size for days in (cases.issue_day, cases.day))


def _mapped(told: FloatArray, points: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return chances as the odds would read them by a map."""
    at, found = points
    read = replace(load_forecast_error(), rain_prob_told=at, rain_prob_found=found)
    return read.rain_prob(told)
