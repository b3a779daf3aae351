"""The invented week of one county, told slightly differently for each of its roofs.

It is set down day by day and shower by shower. Where a site's forecast has several runs, each of
them has its showers at its own hour or not at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from cure_models.psychrometrics import relative_humidity
from windows.demo_climate import Climate, day_shape, sun_height

__all__ = [
    "COUNTY",
    "COUNTY_CLIMATE",
    "COUNTY_ISSUED",
    "COUNTY_SITES",
    "COUNTY_YEARS",
    "CountySite",
    "invent_county",
]

COUNTY = "tri_county"
"""Folder of the sites that have one week of weather."""
COUNTY_CLIMATE = Climate(
    53, "2026-06-08", 22.0, 5.5, 2.4, 15.0, 2.6, 0.42, 3.0, 0.022, 0.62, 1.6, 12.5
)
COUNTY_ISSUED = "2026-06-10T22:00Z"
COUNTY_YEARS = 12
_COUNTY_RAIN_ENDS_H = 24
_RUNS = 12
"""Runs of the forecast where a site has several."""


@dataclass(frozen=True)
class CountySite:
    """How the county's week differs on one roof: its own noise, and rain sooner or later. [h, K]

    ``runs`` tells that its forecast has several.
    """

    seed: int
    later_h: int
    warmer_c: float
    runs: bool = False


COUNTY_SITES = {
    "cold_store": CountySite(61, 0, -0.3, runs=True),
    "depot_hall": CountySite(62, -1, 0.4),
    "grain_office": CountySite(63, 1, 0.0),
    "machine_shop": CountySite(64, 0, 0.2),
    "mill_pond_school": CountySite(65, 1, -0.2),
    "reading_room": CountySite(66, -1, 0.1),
}


@dataclass(frozen=True)
class _Day:
    """A day of the county's week, and its chance of rain apart from showers. [degC, m/s]"""

    mean_c: float
    swing_c: float
    dew_c: float
    cloud: float
    wind_m_s: float
    chance: float


@dataclass(frozen=True)
class _Shower:
    """Rain that the forecast tells: from an hour of the week on, with its chance. [h, mm/h]

    ``rain_mm`` 0 is a shower that may come and that the forecast leaves out.
    """

    begin_h: int
    hours: int
    rain_mm: float
    chance: float
    thunder: float


_WEEK = (
    _Day(21.5, 6.0, 13.5, 0.25, 3.2, 0.01),  # Monday 8 June
    _Day(22.0, 6.2, 13.0, 0.20, 3.0, 0.01),
    _Day(23.0, 6.2, 14.0, 0.25, 3.2, 0.01),
    _Day(24.0, 5.5, 16.0, 0.45, 4.2, 0.005),
    _Day(19.0, 2.5, 17.0, 0.95, 4.5, 0.20),  # Friday
    _Day(19.5, 4.5, 14.0, 0.45, 3.5, 0.05),
    _Day(20.5, 5.8, 12.5, 0.20, 2.8, 0.01),
    _Day(21.5, 6.2, 12.5, 0.15, 2.8, 0.01),  # Monday 15 June
    _Day(22.5, 6.2, 13.5, 0.20, 3.0, 0.01),
    _Day(24.5, 5.8, 17.0, 0.45, 4.0, 0.05),
    _Day(24.0, 5.0, 18.0, 0.55, 3.8, 0.10),
    _Day(22.5, 5.5, 15.0, 0.35, 3.2, 0.05),
    _Day(22.5, 5.8, 14.5, 0.30, 3.0, 0.05),
)
"""The days from Monday 8 June on: a fine start, rain on Friday, fine again on Monday."""

_SHOWERS = (
    _Shower(3 * 24 + 17, 4, 0.0, 0.25, 0.18),  # Thursday afternoon: may come, may not
    _Shower(4 * 24 + 3, 10, 1.4, 0.85, 0.10),  # Friday
    _Shower(9 * 24 + 18, 3, 2.6, 0.60, 0.55),  # Wednesday evening
    _Shower(10 * 24 + 14, 3, 0.8, 0.45, 0.35),
)


def invent_county(place: CountySite, latitude: float, longitude: float, zone: str) -> pd.DataFrame:
    """Return the county's week on one roof as canonical columns, from local midnight on.

    The further runs of a forecast that has several stand in columns ``NAME[1]``, ``NAME[2]``...
    """
    rng = np.random.default_rng(place.seed)
    start = pd.Timestamp(COUNTY_CLIMATE.first_day, tz=zone).tz_convert("UTC")
    index = pd.date_range(start, periods=len(_WEEK) * 24, freq="h", name="time_utc")
    hour = np.arange(len(index)) % 24 + 0.5

    def daily(name: str) -> np.ndarray:
        """Return what each day has at its noon, and between noons what lies between."""
        values = [getattr(day, name) for day in _WEEK]
        noons = np.arange(len(values)) * 24 + 12
        between: np.ndarray = np.interp(np.arange(len(index)) + 0.5, noons, values)
        return between

    rain, chance, thunder = _showers(place.later_h, len(index), rng)
    chance = np.maximum(chance, daily("chance"))
    cloud = np.clip(daily("cloud") + rng.normal(0, 0.08, len(index)) + 0.4 * chance, 0, 1)
    cloud = np.where(rain > 0, np.maximum(cloud, 0.9), cloud)
    air = daily("mean_c") + place.warmer_c + daily("swing_c") * day_shape(hour)
    air += rng.normal(0, 0.25, len(index)) - np.where(rain > 0, 1.0, 0.0)
    dew = daily("dew_c") + rng.normal(0, 0.2, len(index)) + np.where(rain > 0, 0.8, 0.0)
    dew = np.minimum(dew, air - 0.2)
    up = sun_height(index, latitude, longitude)
    wind = daily("wind_m_s") * (0.55 + 0.75 * up) * np.exp(rng.normal(0, 0.10, len(index)))
    frame = pd.DataFrame(
        {
            "air_temp_c": air.round(1),
            "dew_point_c": dew.round(1),
            "rel_humidity": relative_humidity(air, dew).round(2),
            "wind_m_s": wind.round(1),
            "gust_m_s": (wind * (1.35 + 0.25 * up)).round(1),
            "rain_mm": rain,
            "rain_prob": chance.round(2),
            "cloud": cloud.round(2),
            "thunder_prob": thunder.round(2),
        },
        index=index,
    )
    if place.runs:
        frame = frame.assign(**_further_runs(frame, place.later_h, rng))
    rain_layer = [name for name in frame.columns if name.startswith(("rain", "thunder"))]
    frame.loc[index[-_COUNTY_RAIN_ENDS_H :], rain_layer] = np.nan
    return frame


def _showers(
    later_h: int, hours: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return rain, its chance and that of thunder, which come up and go within three hours. [mm]"""
    rain, chance, thunder = np.zeros((3, hours))
    at = np.arange(hours)
    for shower in _SHOWERS:
        begin = shower.begin_h + later_h
        away = np.maximum(np.maximum(begin - at, at - (begin + shower.hours - 1)), 0)
        near = np.clip(1 - away / 4, 0, 1)
        chance = np.maximum(chance, shower.chance * near)
        thunder = np.maximum(thunder, shower.thunder * near**2)
        amounts = shower.rain_mm * rng.gamma(2.0, 0.5, hours)
        rain = np.where(away == 0, np.round(np.maximum(rain, amounts), 1), rain)
    return rain, chance, thunder


def _further_runs(
    frame: pd.DataFrame, later_h: int, rng: np.random.Generator
) -> dict[str, np.ndarray]:
    """Return the other runs: each has its showers at its own hour or not, and its own air."""
    hours = len(frame)
    at = np.arange(hours)
    lead = pd.DatetimeIndex(frame.index) - pd.Timestamp(COUNTY_ISSUED)
    spread = 0.01 * np.maximum(lead.total_seconds().to_numpy() / 3600, 0)  # runs part with time
    columns: dict[str, np.ndarray] = {}
    for run in range(1, _RUNS):
        rain = np.zeros(hours)
        for shower in _SHOWERS:
            begin = shower.begin_h + later_h + int(np.round(rng.normal(0, 2.0)))
            falls = rng.random() < shower.chance
            inside = falls & (at >= begin) & (at < begin + shower.hours)
            amounts = max(shower.rain_mm, 0.9) * rng.gamma(2.0, 0.5, hours)
            rain = np.where(inside, np.round(np.maximum(rain, amounts), 1), rain)
        air = frame["air_temp_c"].to_numpy() + rng.normal(0, 1.0) * spread
        dew = np.minimum(frame["dew_point_c"].to_numpy() + rng.normal(0, 1.0) * spread, air - 0.2)
        columns |= {f"air_temp_c[{run}]": air.round(1), f"dew_point_c[{run}]": dew.round(1)}
        columns |= {f"rain_mm[{run}]": rain}
    return columns
