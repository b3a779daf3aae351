"""How far a forecast is from what comes, by lead day, and the chance that margins outlast it.

Errors are taken as normal. The numbers that are shipped stand in ``forecast_error.toml``, each with
its source; a file of measured errors has the same keys.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from math import erfc, sqrt
from typing import TYPE_CHECKING, Annotated, Literal, Self

import numpy as np
import pandas as pd
from pydantic import Field, StrictStr, model_validator

from cure_models.arrays import floats
from cure_models.toml_input import Table, parse_toml, read_text, validated
from windows.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from cure_models.limits import Sense

__all__ = [
    "TEMPERATURES", "ForecastError", "chance_within", "lead_days", "load_forecast_error", "normal",
]  # fmt: skip

TEMPERATURES: dict[str, bool] = {
    "air_temp_c": False,
    "surface_temp_c": False,
    "dry_surface_temp_c": False,
    "film_temp_c": False,
    "spread_c": True,
    "film_spread_c": True,
}
"""Quantities that the error of a temperature moves, and whether that of the dew point does too.

A surface is taken to be as much too warm as the air above it (own choice)."""

_DAY = pd.Timedelta(days=1)
_ERRORS = ("air_temp_bias_k", "air_temp_sd_k", "dew_point_bias_k", "dew_point_sd_k")

Kelvin = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-20, le=20)]
AboveZero = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=20)]
Share = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1)]
LeadDay = Annotated[int, Field(strict=True, ge=1, le=30)]


class _File(Table):
    schema_: Literal[1] = Field(alias="schema")
    source: StrictStr
    lead_day: Annotated[tuple[LeadDay, ...], Field(min_length=1)]
    air_temp_bias_k: tuple[Kelvin, ...]
    air_temp_sd_k: tuple[AboveZero, ...]
    dew_point_bias_k: tuple[Kelvin, ...]
    dew_point_sd_k: tuple[AboveZero, ...]
    rain_prob_told: tuple[Share, ...] | None = None
    rain_prob_found: tuple[Share, ...] | None = None

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if any(b <= a for a, b in pairwise(self.lead_day)):
            raise ValueError("lead_day must rise from each number to the next; put them in order")
        for name in _ERRORS:
            given, wanted = len(getattr(self, name)), len(self.lead_day)
            if given != wanted:
                raise ValueError(
                    f"{name} has {_numbers(given)} for {wanted} of lead_day; give one for each"
                )
        return self._sound_rain()

    def _sound_rain(self) -> Self:
        told, found = self.rain_prob_told, self.rain_prob_found
        if (told is None) != (found is None):
            raise ValueError("give both rain_prob_told and rain_prob_found, or neither")
        if told is None or found is None:
            return self
        if len(told) != len(found) or len(told) < 2:
            raise ValueError(
                f"rain_prob_told has {_numbers(len(told))} and rain_prob_found {len(found)}; give "
                "as many of both, two at least"
            )
        if any(b <= a for a, b in pairwise(told)):
            raise ValueError("rain_prob_told must rise from each number to the next")
        if any(b < a for a, b in pairwise(found)):
            raise ValueError("rain_prob_found must not fall from one number to the next")
        return self


def _numbers(count: int) -> str:
    return f"{count} number{'s' * (count != 1)}"


@dataclass(frozen=True, eq=False)
class ForecastError:
    """Errors of forecasts by lead day. Arrays of shape (lead days,); bias is forecast - observed.

    ``lead_day`` rises; a day between two of them has the error of the later one, a day beyond the
    last that of the last. ``rain_prob_told`` and ``rain_prob_found`` tell how often it rained where
    a probability was told, as lines between points; None where probabilities stand as told.
    """

    source: str
    lead_day: NDArray[np.int64]
    air_temp_bias_k: FloatArray
    air_temp_sd_k: FloatArray
    dew_point_bias_k: FloatArray
    dew_point_sd_k: FloatArray
    rain_prob_told: FloatArray | None = None
    rain_prob_found: FloatArray | None = None

    @property
    def last_day(self) -> int:
        """The last lead day whose error is known."""
        return int(self.lead_day[-1])

    def rain_prob(self, told: FloatArray) -> FloatArray:
        """Return probabilities of rain as they come true, of any shape; NaN where none is told.

        Below the first point and above the last, lines go to 0 and to 1.
        """
        if self.rain_prob_told is None or self.rain_prob_found is None:
            return told
        at, found = [self.rain_prob_told], [self.rain_prob_found]
        if self.rain_prob_told[0] > 0:
            at, found = [np.zeros(1), *at], [np.zeros(1), *found]
        if self.rain_prob_told[-1] < 1:
            at, found = [*at, np.ones(1)], [*found, np.ones(1)]
        return floats(np.interp(told, np.concatenate(at), np.concatenate(found)))

    def standard_margin(
        self, margin: FloatArray, quantity: str, sense: Sense, lead_day: NDArray[np.int64]
    ) -> FloatArray:
        """Return how many standard errors a limit is away, the bias taken off.

        Parameters
        ----------
        margin
            How far each forecast value is on the good side of its limit. [K]
        quantity
            One of `TEMPERATURES`. Errors of temperature and dew point are taken as independent of
            each other, so that of a spread is the root of the sum of their squares (own choice).
        sense
            Whether the limit is a least or a most.
        lead_day
            From 1, of the same shape as ``margin``.
        """
        at = np.minimum(np.searchsorted(self.lead_day, lead_day), self.lead_day.size - 1)
        bias, sd = self.air_temp_bias_k, self.air_temp_sd_k
        if TEMPERATURES[quantity]:
            bias = bias - self.dew_point_bias_k
            sd = np.hypot(sd, self.dew_point_sd_k)
        # Foretold too warm, it comes colder: nearer to a least and farther from a most.
        toward = -1.0 if sense == "min" else 1.0
        standard: FloatArray = (margin + toward * bias[at]) / sd[at]
        return standard


def lead_days(index: pd.DatetimeIndex, made: pd.Timestamp) -> NDArray[np.int64]:
    """Return the lead day of each hour: 1 in the 24 h after a forecast was made, and before it.

    >>> made = pd.Timestamp("2026-05-04T06:00Z")
    >>> lead_days(pd.date_range(made, periods=3, freq="24h") - pd.Timedelta(hours=1), made)
    array([1, 1, 2])
    """
    since = (index - made) / _DAY
    return np.maximum(np.floor(since.to_numpy(np.float64)).astype(np.int64) + 1, 1)


def chance_within(least: FloatArray, most: FloatArray) -> FloatArray:
    """Return the chance that one error breaks no limit.

    Parameters
    ----------
    least, most
        How many standard errors the nearest limit of either sense is away, over all hours and
        gates; infinite where there is none.

    Notes
    -----
    The error of a forecast is taken as one for all hours of a span and all its gates: as many
    standard errors too warm in each. Then ``-most <= error <= least`` in them, and the chance is
    ``Phi(least) + Phi(most) - 1``; with limits of one sense it is ``Phi`` of the least margin.

    Examples
    --------
    >>> chance_within(np.array([0.0, 1.0, 1.0]), np.array([np.inf, np.inf, 1.0])).round(3)
    array([0.5  , 0.841, 0.683])
    """
    # In this order, as 1 - x would lose what little of x there is.
    within: FloatArray = np.maximum(normal(least) - normal(-most), 0.0)
    return within


def normal(values: FloatArray) -> FloatArray:
    """Return the chance that a standard normal error is at most each value, of any shape.

    The library's own ``erfc`` one by one: 100,000 take 15 ms, and it is exact in both tails.
    """
    scaled = (np.ravel(values) / -sqrt(2.0)).tolist()
    chance = 0.5 * np.fromiter(map(erfc, scaled), np.float64, len(scaled))
    return chance.reshape(np.shape(values))


def load_forecast_error(path: Path | None = None) -> ForecastError:
    """Return the errors of a file, of the shipped one if none is named.

    Raises
    ------
    SettingsError
        If the file cannot be read, or what it says is not possible.
    """
    if path is None:
        return _shipped()
    return _load(read_text(path, SettingsError), str(path))


@cache
def _shipped() -> ForecastError:
    text = (files("windows.odds") / "forecast_error.toml").read_text(encoding="utf-8")
    return _load(text, "windows/odds/forecast_error.toml")


def _load(text: str, where: str) -> ForecastError:
    read = validated(_File, parse_toml(text, where, SettingsError), where, SettingsError)
    told, found = read.rain_prob_told, read.rain_prob_found
    return ForecastError(
        source=read.source,
        lead_day=np.array(read.lead_day, dtype=np.int64),
        air_temp_bias_k=floats(read.air_temp_bias_k),
        air_temp_sd_k=floats(read.air_temp_sd_k),
        dew_point_bias_k=floats(read.dew_point_bias_k),
        dew_point_sd_k=floats(read.dew_point_sd_k),
        rain_prob_told=None if told is None else floats(told),
        rain_prob_found=None if found is None else floats(found),
    )
