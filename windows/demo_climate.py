"""Invented weather of an invented climate: a forecast's few days, or many years.

A day's mean temperature, dew point, cloud and wind wander from day to day as AR(1) series; the
hours follow the sun between the day's low and high; rain comes as a two-state chain whose wet
spells persist and whose chance grows with the day's cloud; a forecast's rain layer ends before its
temperature layer, so the last hours have no rain value and are unknown. Years have the same weather
about a mean that follows the sun's, a month late, and differs from year to year.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from cure_models.psychrometrics import relative_humidity
from cure_models.sun import sun_elevation
from windows.time_rows import middles_of_hours, unix_seconds

__all__ = [
    "CLIMATES",
    "FIRST_YEAR",
    "Climate",
    "day_shape",
    "invent_weather",
    "invent_years",
    "sun_height",
]

_DAYS = 12
FIRST_YEAR, _YEARS = 2011, 15
_WARMEST_DAY = 201
_RAIN_LAYER_ENDS_H = 40
"""Hours at the end without a rain value, as when a forecast's rain layer is shorter. [h]"""


@dataclass(frozen=True)
class Climate:
    """What the weather of an invented place wanders about. [degC, m/s, fractions]"""

    seed: int
    first_day: str
    mean_c: float
    day_swing_c: float
    wander_c: float
    dew_c: float
    dew_wander_c: float
    cloud: float
    wind_m_s: float
    wet_start: float
    wet_stay: float
    rain_mm: float
    year_swing_c: float = 0.0


CLIMATES = {
    "gulf_coast": Climate(
        11, "2026-06-08", 27.5, 3.8, 1.0, 22.8, 1.0, 0.45, 3.2, 0.035, 0.55, 2.2, 8.5
    ),
    "high_desert": Climate(
        23, "2026-05-11", 14.5, 8.0, 2.5, -1.0, 2.5, 0.25, 3.4, 0.006, 0.60, 0.8
    ),
    "cool_north": Climate(
        37, "2026-09-21", 12.5, 5.5, 2.2, 6.5, 2.2, 0.50, 3.0, 0.020, 0.75, 0.9, 13.5
    ),
}

def _wander(rng: np.random.Generator, spread: float, days: int, stay: float = 0.7) -> np.ndarray:
    """Return a daily AR(1) series about zero with a standard deviation of ``spread``."""
    steps = rng.normal(0.0, spread * np.sqrt(1 - stay**2), days)
    series = np.zeros(days)
    series[0] = rng.normal(0.0, spread)
    for day in range(1, days):
        series[day] = stay * series[day - 1] + steps[day]
    return series


def day_shape(local_hour: np.ndarray) -> np.ndarray:
    """Return the swing of a day's temperature, lowest about 05:30 and highest about 15:30.

    ``local_hour`` are hours by the local clock, of any shape. [h], [1]
    """
    turn = (local_hour - 15.5) / 24 * 2 * np.pi
    shape: np.ndarray = np.cos(turn) + 0.15 * np.cos((local_hour - 15.5) / 12 * 2 * np.pi)
    return shape


def sun_height(index: pd.DatetimeIndex, latitude: float, longitude: float) -> np.ndarray:
    """Return the sine of the sun's elevation in the middle of each hour, zero at night. [1]"""
    elevation = sun_elevation(middles_of_hours(unix_seconds(index)), latitude, longitude)
    height: np.ndarray = np.maximum(np.sin(np.radians(elevation)), 0)
    return height


def _departure(climate: Climate, days: pd.DatetimeIndex, rng: np.random.Generator) -> np.ndarray:
    """Return how much warmer than the climate's first day each day of many years is. [K]"""
    first = pd.Timestamp(climate.first_day).day_of_year

    day = np.append(days.day_of_year.to_numpy(), first)
    cycle = climate.year_swing_c * np.cos((day - _WARMEST_DAY) / 365.25 * 2 * np.pi)
    years = days.year.to_numpy() - days.year[0]
    own = rng.normal(0.0, 0.6, years.max() + 1)[years]
    warmer: np.ndarray = cycle[:-1] - cycle[-1] + own
    return warmer


def invent_years(climate: Climate, latitude: float, longitude: float, zone: str) -> pd.DataFrame:
    """Return hours of many invented years, with the columns that a season needs."""
    first = f"{FIRST_YEAR}-01-01"
    days = pd.date_range(first, f"{FIRST_YEAR + _YEARS}-01-01", inclusive="left")
    rng = np.random.default_rng(climate.seed + 1)
    frame = invent_weather(
        climate, latitude, longitude, zone,
        first_day=first, warmer=_departure(climate, days, rng), seed=climate.seed + 1,
    )  # fmt: skip
    frame = frame[["air_temp_c", "dew_point_c", "wind_m_s", "rain_mm", "cloud"]]
    return frame.assign(cloud=frame["cloud"].round(1))


def invent_weather(
    climate: Climate,
    latitude: float,
    longitude: float,
    zone: str,
    *,
    first_day: str | None = None,
    warmer: np.ndarray | None = None,
    seed: int | None = None,
) -> pd.DataFrame:
    """Return hours of invented weather as canonical columns, from local midnight on.

    ``warmer`` is by how much each day differs from the climate's mean, and how many days there are;
    default a forecast's few without any. [K]
    """
    is_forecast = warmer is None
    warmer = np.zeros(_DAYS) if warmer is None else warmer
    count = len(warmer)
    rng = np.random.default_rng(climate.seed if seed is None else seed)
    start = pd.Timestamp(first_day or climate.first_day, tz=zone).tz_convert("UTC")
    index = pd.date_range(start, periods=count * 24, freq="h", name="time_utc")
    local = index.tz_convert(zone)
    day = np.arange(len(index)) // 24
    hour = local.hour.to_numpy() + 0.5

    cloud_day = np.clip(climate.cloud + _wander(rng, 0.25, count), 0.02, 0.98)
    cloud = np.clip(cloud_day[day] + rng.normal(0, 0.10, len(index)), 0.0, 1.0)
    mean = climate.mean_c + warmer + _wander(rng, climate.wander_c, count)
    swing = climate.day_swing_c * (1.15 - 0.6 * cloud_day)
    air = mean[day] + swing[day] * day_shape(hour) + rng.normal(0, 0.25, len(index))

    wet = np.zeros(len(index), dtype=bool)
    draws = rng.random(len(index))
    for k in range(1, len(index)):
        start_chance = climate.wet_start * (0.3 + 2.2 * cloud_day[day[k]] ** 2)
        wet[k] = draws[k] < (climate.wet_stay if wet[k - 1] else start_chance)
    amounts = np.round(rng.exponential(climate.rain_mm, len(index)), 1)
    rain = np.where(wet, amounts, 0.0)
    trace = (wet & (amounts < 0.1)).astype(float)
    cloud = np.where(wet, np.maximum(cloud, 0.85), cloud)
    air = air - np.where(wet, 1.5, 0.0)
    dew_day = climate.dew_c + warmer + _wander(rng, climate.dew_wander_c, count)
    dew = dew_day[day] + np.where(wet, 1.0, 0.0)
    dew = np.minimum(dew + rng.normal(0, 0.2, len(index)), air - 0.2)

    up = sun_height(index, latitude, longitude)
    wind_day = climate.wind_m_s * np.exp(_wander(rng, 0.30, count))
    wind = wind_day[day] * (0.55 + 0.75 * up) * np.exp(rng.normal(0, 0.12, len(index)))
    gust = wind * (1.35 + 0.25 * up)
    nearness = np.convolve(wet.astype(float), np.ones(5) / 5, mode="same")
    chance = np.clip(0.03 + 0.35 * cloud_day[day] ** 2 + 0.5 * nearness, 0.0, 0.95)
    thunder = np.where(climate.mean_c > 20, 0.5 * chance * (up > 0.3), 0.05 * chance)

    frame = pd.DataFrame(
        {
            "air_temp_c": air.round(1),
            "dew_point_c": dew.round(1),
            "rel_humidity": relative_humidity(air, dew).round(2),
            "wind_m_s": wind.round(1),
            "gust_m_s": gust.round(1),
            "rain_mm": rain,
            "rain_trace": trace,
            "rain_prob": chance.round(2),
            "cloud": cloud.round(2),
            "thunder_prob": thunder.round(2),
        },
        index=index,
    )
    if not is_forecast:
        return frame
    rain_columns = ["rain_mm", "rain_trace", "rain_prob", "thunder_prob"]
    frame.loc[index[-_RAIN_LAYER_ENDS_H :], rain_columns] = np.nan
    return frame
