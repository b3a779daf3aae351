"""Invented weather for the demo sites, from a seeded generator.

``python -m windows.demo_weather FOLDER`` writes ``weather.csv`` beside each ``site.toml``, and
``years.csv.gz`` beside two of them; the same seed gives the same bytes. It serves the demo only and
claims nothing about any real place. The sites of a county have one week of weather, set down day by
day and told slightly differently for each roof, and one file of years for all.

The recipe: a day's mean temperature, dew point, cloud and wind wander from day to day as AR(1)
series; the hours follow the sun between the day's low and high; rain comes as a two-state chain
whose wet spells persist and whose chance grows with the day's cloud; a forecast's rain layer ends
before its temperature layer, so the last hours have no rain value and are unknown. Years have the
same weather about a mean that follows the sun's, a month late, and differs from year to year.
"""

from __future__ import annotations

import gzip
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from cure_models.psychrometrics import relative_humidity
from cure_models.sun import sun_elevation
from windows.reports.output import write_whole
from windows.site import Site, load_site

__all__ = [
    "CLIMATES",
    "COUNTY",
    "COUNTY_SITES",
    "Climate",
    "CountySite",
    "invent_county",
    "invent_weather",
    "invent_years",
    "write_all",
]

_DAYS = 12
_FIRST_YEAR, _YEARS = 2011, 15
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

COUNTY = "tri_county"
"""Folder of the sites that have one week of weather."""
_COUNTY_CLIMATE = Climate(
    53, "2026-06-08", 22.0, 5.5, 2.4, 15.0, 2.6, 0.42, 3.0, 0.022, 0.62, 1.6, 12.5
)
_COUNTY_ISSUED = "2026-06-10T22:00Z"
_COUNTY_YEARS = 12
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


def _wander(rng: np.random.Generator, spread: float, days: int, stay: float = 0.7) -> np.ndarray:
    """Return a daily AR(1) series about zero with a standard deviation of ``spread``."""
    steps = rng.normal(0.0, spread * np.sqrt(1 - stay**2), days)
    series = np.zeros(days)
    series[0] = rng.normal(0.0, spread)
    for day in range(1, days):
        series[day] = stay * series[day - 1] + steps[day]
    return series


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
    first = f"{_FIRST_YEAR}-01-01"
    days = pd.date_range(first, f"{_FIRST_YEAR + _YEARS}-01-01", inclusive="left")
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
    # Lowest about 05:30, highest about 15:30 local time.
    shape = np.cos((hour - 15.5) / 24 * 2 * np.pi) + 0.15 * np.cos((hour - 15.5) / 12 * 2 * np.pi)
    air = mean[day] + swing[day] * shape + rng.normal(0, 0.25, len(index))

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

    unix = index.tz_localize(None).to_numpy("datetime64[s]").astype(np.float64)
    up = np.maximum(np.sin(np.radians(sun_elevation(unix + 1800, latitude, longitude))), 0)
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


def invent_county(place: CountySite, latitude: float, longitude: float, zone: str) -> pd.DataFrame:
    """Return the county's week on one roof as canonical columns, from local midnight on.

    The further runs of a forecast that has several stand in columns ``NAME[1]``, ``NAME[2]``...
    """
    rng = np.random.default_rng(place.seed)
    start = pd.Timestamp(_COUNTY_CLIMATE.first_day, tz=zone).tz_convert("UTC")
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
    shape = np.cos((hour - 15.5) / 24 * 2 * np.pi) + 0.15 * np.cos((hour - 15.5) / 12 * 2 * np.pi)
    air = daily("mean_c") + place.warmer_c + daily("swing_c") * shape
    air += rng.normal(0, 0.25, len(index)) - np.where(rain > 0, 1.0, 0.0)
    dew = daily("dew_c") + rng.normal(0, 0.2, len(index)) + np.where(rain > 0, 0.8, 0.0)
    dew = np.minimum(dew, air - 0.2)
    unix = index.tz_localize(None).to_numpy("datetime64[s]").astype(np.float64)
    up = np.maximum(np.sin(np.radians(sun_elevation(unix + 1800, latitude, longitude))), 0)
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
    lead = pd.DatetimeIndex(frame.index) - pd.Timestamp(_COUNTY_ISSUED)
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


def write_all(folder: Path) -> list[Path]:
    """Write the weather of every demo site in a folder, and years of some; return the files.

    A county's sites are written where its folder is there.
    """
    written = []
    for name, climate in CLIMATES.items():
        site = load_site(folder / name)
        frame = invent_weather(climate, site.latitude, site.longitude, site.zone.key)
        first = frame.index[0]
        head = (
            "# source: invented weather for the demo, not a forecast of any place\n"
            f"# issued: {first:%Y-%m-%dT%H:%M}Z\n"
            f"# note: made by windows/demo_weather.py, seed {climate.seed}\n"
        )
        body = frame.to_csv(date_format="%Y-%m-%dT%H:%MZ", lineterminator="\n")
        written.append(write_whole(folder / name / "weather.csv", head + body))
        if climate.year_swing_c:
            written.append(_write_years(folder / name, climate, site))
    if (folder / COUNTY).is_dir():
        written += _write_county(folder / COUNTY)
    return written


def _write_county(folder: Path) -> list[Path]:
    written = []
    for name, place in COUNTY_SITES.items():
        site = load_site(folder / name)
        frame = invent_county(place, site.latitude, site.longitude, site.zone.key)
        head = (
            "# source: invented weather for the demo, not a forecast of any place\n"
            "# kind: forecast\n"
            f"# issued: {_COUNTY_ISSUED}\n"
            f"# note: made by windows/demo_weather.py, seed {place.seed}\n"
        )
        body = frame.to_csv(date_format="%Y-%m-%dT%H:%MZ", lineterminator="\n")
        written.append(write_whole(folder / name / "weather.csv", head + body))
    frame = invent_years(_COUNTY_CLIMATE, site.latitude, site.longitude, site.zone.key)
    frame = frame[: pd.Timestamp(f"{_FIRST_YEAR + _COUNTY_YEARS}-01-01", tz=site.zone)][:-1]
    coarse = {"air_temp_c": 0.5, "dew_point_c": 0.5, "wind_m_s": 0.5, "cloud": 0.25}
    frame = frame.assign(
        **{name: ((frame[name] / step).round() * step).round(2) for name, step in coarse.items()}
    )
    written.append(_write_table_of_years(folder, _COUNTY_CLIMATE, frame))
    return written


def _write_years(folder: Path, climate: Climate, site: Site) -> Path:
    frame = invent_years(climate, site.latitude, site.longitude, site.zone.key)
    return _write_table_of_years(folder, climate, frame)


def _write_table_of_years(folder: Path, climate: Climate, frame: pd.DataFrame) -> Path:
    head = (
        "# source: invented years for the demo, no record of any place\n"
        f"# note: made by windows/demo_weather.py, seed {climate.seed + 1}\n"
    )
    body = frame.to_csv(date_format="%Y-%m-%dT%H:%MZ", lineterminator="\n")
    content = gzip.compress((head + body).encode(), 9, mtime=0)
    return write_whole(folder / "years.csv.gz", content)


if __name__ == "__main__":
    write_all(Path(sys.argv[1] if len(sys.argv) > 1 else "demo_sites"))
