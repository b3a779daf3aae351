"""What past errors say of the next forecast: bias and spread by lead day, and rain as found.

A rising map from the chance told to the share found is fitted to bins of 10 % and tried on
forecasts that it has not seen; one that does not help there is not offered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.skill.measures import error_of, reliability, rising
from windows.skill.pairs import LEAD_DAYS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.skill.pairs import Cases, Errors

__all__ = ["LEAST_CASES", "LEAST_DAYS", "LeadFit", "RainMap", "Recalibration", "recalibration_of"]

LEAST_DAYS = 30
"""Days of issue that must be known: forecasts of one day err alike (own choice)."""
LEAST_CASES = 50
"""Chances in a bin of 10 % without which it is not used (own choice)."""
_FOLDS = 10
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

    Both scores are those of forecasts that the map has not seen.
    """

    told: tuple[float, ...]
    found: tuple[float, ...]
    cases: int
    before: float
    after: float


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
    told = _pool(rain)
    found = None if told is None else _tried(told)
    if found is None:
        issued = 0 if told is None else np.unique(told.issue_day).size
        lacking.append(
            f"rain: {LEAST_DAYS} days of issue and two bins of 10 % with {LEAST_CASES} chances "
            f"each are needed, {issued} days are there"
        )
    elif not found.after < found.before:
        lacking.append(
            "rain: on forecasts left out of the fit it does not help (Brier score "
            f"{found.before:.4f} before, {found.after:.4f} after)"
        )
        found = None
    return Recalibration(tuple(fit for fit in fits if fit.is_possible), found, tuple(lacking))


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
    told: FloatArray
    wet: BoolArray
    issue_day: NDArray[np.int64]


def _pool(rain: Sequence[Cases]) -> _Told | None:
    """Return chances of all lengths together."""
    if not rain:
        return None
    return _Told(
        np.concatenate([each.told for each in rain]),
        np.concatenate([each.wet for each in rain]),
        np.concatenate([each.issue_day for each in rain]),
    )


def _tried(cases: _Told) -> RainMap | None:
    """Return the map with its score on folds left out, None if there is too little.

    Folds are stretches of days: forecasts of neighbouring days tell of the same rain.
    """
    days = np.unique(cases.issue_day)
    whole = _rain_map(cases.told, cases.wet)
    if days.size < LEAST_DAYS or whole is None:
        return None
    fold = np.searchsorted(days, cases.issue_day) * _FOLDS // days.size
    after = cases.told.copy()
    for n in range(_FOLDS):
        out = fold == n
        learned = _rain_map(cases.told[~out], cases.wet[~out])
        if learned is not None:  # else what was told stands
            after[out] = _mapped(cases.told[out], learned)
    return RainMap(
        told=tuple(whole[0].tolist()),
        found=tuple(whole[1].tolist()),
        cases=cases.told.size,
        before=float(np.mean((cases.told - cases.wet) ** 2)),
        after=float(np.mean((after - cases.wet) ** 2)),
    )


def _rain_map(told: FloatArray, wet: BoolArray) -> tuple[FloatArray, FloatArray] | None:
    """Return chances told and shares found, both rising, None if fewer than two bins are full.

    A share is (wet + 1) / (all + 2), Laplace's rule: no chance is ever found to be none or all.
    """
    bins = [each for each in reliability(told, wet) if each.count >= LEAST_CASES]
    if len(bins) < 2:
        return None
    count = np.array([each.count for each in bins], dtype=np.float64)
    share = (np.array([each.found for each in bins]) * count + 1) / (count + 2)
    return np.array([each.told for each in bins]), rising(share, count)


def _mapped(told: FloatArray, points: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return chances by a map, whose ends are joined to 0 and 1: what is not known is as told."""
    at, found = points
    if at[0] > 0:
        at, found = np.append(0.0, at), np.append(0.0, found)
    if at[-1] < 1:
        at, found = np.append(at, 1.0), np.append(found, 1.0)
    return np.interp(told, at, found)
