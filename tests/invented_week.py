"""One invented week of hourly weather, written out in many published weather formats.

The data are invented: no station measured them and no service forecast them. `truth` makes ten
smooth autumn days with two six-hour rains; every other public function writes a table of that
shape in one format, following the published description of the format and nothing else. A reader
of any of these formats must therefore come back to the same table.

Row T of a table is the hour [T, T + 1 h) in UTC: states are those at T, rain is the sum, global
radiation the mean and a gust the peak of the hour. Pressure is that at the station. A value that
is NaN, or an hour that is absent, is written as the missing mark of the format, never as zero.
"""

import gzip
import json
from collections.abc import Callable
from itertools import groupby
from math import isnan
from typing import Any

import numpy as np
import pandas as pd

START = pd.Timestamp("2025-10-27 00:00", tz="UTC")
END = pd.Timestamp("2025-11-06 00:00", tz="UTC")
LATITUDE = 40.0
LONGITUDE = -83.0
ELEVATION_M = 250.0
ZONE = "America/New_York"
STANDARD_OFFSET_H = -5

COLUMNS = (
    "air_temp_c",
    "dew_point_c",
    "rel_humidity",
    "wind_m_s",
    "gust_m_s",
    "rain_mm",
    "cloud",
    "ghi_w_m2",
    "pressure_hpa",
)
RAINS = {
    # 08:00 to 14:00 on the roof, a working day lost
    pd.Timestamp("2025-10-30 12:00", tz="UTC"): (0.3, 0.9, 2.4, 1.6, 0.7, 0.4),
    # over local midnight and into the first of the two hours that the clock calls 01
    pd.Timestamp("2025-11-02 00:00", tz="UTC"): (0.5, 1.3, 0.8, 3.1, 1.9, 0.6),
}
TRACE_MM = 0.05
HOUR = pd.Timedelta(hours=1)
STATION_NAME = "INVENTED WEEK"


# --- the truth ---


def truth() -> pd.DataFrame:
    """Return the invented week: hourly rows in UTC, all columns known."""
    index = pd.date_range(START, END, freq="h", inclusive="left", name="time_utc")
    rain = _truth_rain(index)
    wet = _nearness(index)
    days = np.asarray((index - START) / pd.Timedelta(days=1))
    # coldest near 11:00 and warmest near 20:00 UTC, so 06:00 and 15:00 standard time
    turn = 2 * np.pi * (days - 20 / 24)
    daily = 0.93 * np.cos(turn) + 0.12 * np.cos(2 * turn - 0.6)
    slow = np.sin(2 * np.pi * days / 7.3 + 0.4)
    temp = np.round(14.2 + 1.3 * slow + (5.9 - 1.6 * wet) * daily - 0.9 * wet, 1)
    humid = 67 - 17 * daily - 2.5 * slow + 26 * wet * (0.45 + 0.55 * (daily + 1) / 2)
    percent = np.round(np.clip(humid, 45, 90))
    wind = np.round(np.clip(2.6 + 1.3 * daily + 0.9 * np.sin(5.1 * days + 1) + wet, 1, 5))
    cloud = _truth_cloud(days, wet)
    sun = _clear_sky_w_m2(index + HOUR / 2) * (1 - 0.75 * cloud**3)
    table = pd.DataFrame(
        {
            "air_temp_c": temp,
            "dew_point_c": np.round(_dew_point_c(temp, percent / 100), 1),
            "rel_humidity": percent / 100,
            "wind_m_s": wind,
            "gust_m_s": wind + 1 + np.round(0.6 * wind + wet),
            "rain_mm": rain,
            "cloud": cloud,
            "ghi_w_m2": np.round(sun),
            "pressure_hpa": np.round(988 - 4 * np.sin(2 * np.pi * days / 6.1) - 3 * wet),
        },
        index=index,
    )
    return table[list(COLUMNS)]


def _truth_rain(index: pd.DatetimeIndex) -> np.ndarray:
    """Return the rain of every hour [mm]."""
    rain = pd.Series(0.0, index=index)
    for start, amounts in RAINS.items():
        rain.loc[pd.date_range(start, periods=len(amounts), freq="h")] = amounts
    return rain.to_numpy()


def _nearness(index: pd.DatetimeIndex) -> np.ndarray:
    """Return how near a rain is, 0 to 1: a smooth hump about each rain [1]."""
    humps = [
        np.exp(-((np.asarray((index - start) / HOUR) - 2.5) ** 2) / (2 * 4.5**2)) for start in RAINS
    ]
    return np.sum(humps, axis=0)


def _truth_cloud(days: np.ndarray, wet: np.ndarray) -> np.ndarray:
    """Return the cloud cover: overcast at a rain, half covered about it and now and then [1]."""
    passing = np.sin(2 * np.pi * days / 2.3) > 0.93
    return np.where(wet > 0.7, 1.0, np.where((wet > 0.25) | passing, 0.5, 0.0))


def _clear_sky_w_m2(middles: pd.DatetimeIndex) -> np.ndarray:
    """Return the global radiation under a clear sky, after Haurwitz, at some instants [W/m2]."""
    day = np.asarray(middles.day_of_year) - 1 + np.asarray(middles.hour + middles.minute / 60) / 24
    declination = np.radians(-23.44) * np.cos(2 * np.pi * (day + 10) / 365.25)
    # the sun is some 16 minutes ahead of the mean sun at this time of the year
    hour_angle = 2 * np.pi * (day % 1 - 0.5 + (LONGITUDE / 15 + 16 / 60) / 24)
    latitude = np.radians(LATITUDE)
    height = np.sin(latitude) * np.sin(declination)
    height = height + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    up = np.maximum(height, 1e-3)
    return np.where(height > 0, 1098 * up * np.exp(-0.057 / up), 0.0)


def _dew_point_c(temp_c: np.ndarray, humidity: np.ndarray) -> np.ndarray:
    """Return the dew point by the Magnus formula over water [degC]."""
    gamma = np.log(humidity) + 17.625 * temp_c / (243.04 + temp_c)
    return 243.04 * gamma / (17.625 - gamma)


# --- small helpers ---


def _hours(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with every hour from the first to the last; absent ones are NaN."""
    return table.reindex(pd.date_range(table.index[0], table.index[-1], freq="h"))


def _end_labelled(table: pd.DataFrame, ending: tuple[str, ...]) -> pd.DataFrame:
    """Return rows labeled T with the states at T and the columns `ending` of the hour before T.

    There is one label more than hours: the first has no hour before it, the last no states.
    """
    hours = _hours(table)
    labels = hours.index.append(pd.DatetimeIndex([hours.index[-1] + HOUR]))
    out = hours.reindex(labels)
    out[list(ending)] = out[list(ending)].shift(1)
    return out


def _number(value: float, digits: int = 6) -> float | None:
    """Return a number for JSON: None if missing, an integer if it is whole."""
    if np.isnan(value):
        return None
    near = round(float(value), digits)
    return int(near) if near == int(near) else near


def _text(value: float, digits: int = 1, missing: str = "") -> str:
    """Return a number with fixed decimals, or the missing mark."""
    return missing if isnan(value) else f"{value:.{digits}f}"


def _short(value: float, missing: str = "") -> str:
    """Return a number with no more decimals than it needs, or the missing mark."""
    return missing if isnan(value) else f"{round(float(value), 6):.10g}"


def _json(answer: dict[str, Any]) -> bytes:
    """Return an answer as JSON in UTF-8."""
    return json.dumps(answer, ensure_ascii=False, allow_nan=False).encode()


def _lines(lines: list[str], end: str = "\n") -> bytes:
    """Return lines of text as bytes."""
    return (end.join(lines) + end).encode()


def _zulu(instant: pd.Timestamp) -> str:
    """Return an instant as ISO 8601 with a Z."""
    return f"{instant:%Y-%m-%dT%H:%M:%SZ}"


def _chance_percent(rain_mm: float) -> float:
    """Return an invented chance of rain [%]; NaN if the rain is not known."""
    return np.nan if np.isnan(rain_mm) else (80.0 if rain_mm > 0 else 10.0)


def _sea_level_hpa(station_hpa: float) -> float:
    """Return the pressure reduced to sea level by the standard atmosphere [hPa]."""
    return float(station_hpa * (1 - 0.0065 * ELEVATION_M / 288.15) ** -5.25588)


# --- answers of forecast services ---


def nws(table: pd.DataFrame) -> bytes:
    """Write the raw grid answer of the US National Weather Service.

    State layers join equal neighbors into longer durations; rain is the total of blocks of six
    hours from 00, 06, 12 and 18 UTC, null if any hour of the block is not known.
    """
    hours = _hours(table)
    first, count = hours.index[0], len(hours)
    states = {
        "temperature": (hours["air_temp_c"], "wmoUnit:degC"),
        "dewpoint": (hours["dew_point_c"], "wmoUnit:degC"),
        "relativeHumidity": (hours["rel_humidity"] * 100, "wmoUnit:percent"),
        "skyCover": (hours["cloud"] * 100, "wmoUnit:percent"),
        "windSpeed": (hours["wind_m_s"] * 3.6, "wmoUnit:km_h-1"),
        "windGust": (hours["gust_m_s"] * 3.6, "wmoUnit:km_h-1"),
    }
    rain = hours["rain_mm"].resample("6h").sum(min_count=6)
    corners = [(-0.02, -0.02), (-0.02, 0.02), (0.02, 0.02), (0.02, -0.02), (-0.02, -0.02)]
    link = "https://api.weather.gov/gridpoints/ILN/80/80"
    properties: dict[str, Any] = {
        "@id": link,
        "@type": "wx:Gridpoint",
        "updateTime": first.isoformat(),
        "validTimes": f"{first.isoformat()}/{_iso_hours(count)}",
        "elevation": {"unitCode": "wmoUnit:m", "value": ELEVATION_M},
        "forecastOffice": "https://api.weather.gov/offices/ILN",
        "gridId": "ILN",
        "gridX": "80",
        "gridY": "80",
    }
    for name, (series, unit) in states.items():
        properties[name] = {"uom": unit, "values": _nws_runs(series)}
    properties["probabilityOfPrecipitation"] = {
        "uom": "wmoUnit:percent",
        "values": _nws_blocks(rain.map(_chance_percent)),
    }
    properties["quantitativePrecipitation"] = {"uom": "wmoUnit:mm", "values": _nws_blocks(rain)}
    properties |= {name: {"values": []} for name in ("heatIndex", "pressure", "waveHeight")}
    return _json(
        {
            "@context": ["https://geojson.org/geojson-ld/geojson-context.jsonld"],
            "id": link,
            "type": "Feature",
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[LONGITUDE + x, LATITUDE + y] for x, y in corners]],
            },
            "properties": properties,
        }
    )


def _iso_hours(hours: int) -> str:
    """Return a number of hours as an ISO 8601 duration with days: PT6H, P1D, P1DT6H."""
    days, rest = divmod(hours, 24)
    return "P" + (f"{days}D" if days else "") + (f"T{rest}H" if rest else "")


def _nws_value(start: pd.Timestamp, hours: int, value: float | None) -> dict[str, Any]:
    """Return one entry of a layer."""
    return {"validTime": f"{start.isoformat()}/{_iso_hours(hours)}", "value": value}


def _nws_runs(series: pd.Series) -> list[dict[str, Any]]:
    """Return hourly states with equal neighbors (also nulls) joined."""
    pairs = [(time, _number(value)) for time, value in series.items()]
    runs = [list(run) for _, run in groupby(pairs, key=lambda pair: pair[1])]
    return [_nws_value(run[0][0], len(run), run[0][1]) for run in runs]


def _nws_blocks(series: pd.Series) -> list[dict[str, Any]]:
    """Return one entry for each block of six hours."""
    return [_nws_value(time, 6, _number(value)) for time, value in series.items()]


def open_meteo(table: pd.DataFrame) -> bytes:
    """Write a forecast answer of Open-Meteo, in metric units, Unix time and GMT.

    Label T holds the states at T, but the rain, the chance of rain, the gust and the radiation of
    the hour before T.
    """
    rows = _end_labelled(table, ("rain_mm", "ghi_w_m2", "gust_m_s"))
    columns = {
        "temperature_2m": (rows["air_temp_c"], "°C"),
        "relative_humidity_2m": (rows["rel_humidity"] * 100, "%"),
        "dew_point_2m": (rows["dew_point_c"], "°C"),
        "precipitation_probability": (rows["rain_mm"].map(_chance_percent), "%"),
        "precipitation": (rows["rain_mm"], "mm"),
        "surface_pressure": (rows["pressure_hpa"], "hPa"),
        "cloud_cover": (rows["cloud"] * 100, "%"),
        "wind_speed_10m": (rows["wind_m_s"], "m/s"),
        "wind_gusts_10m": (rows["gust_m_s"], "m/s"),
        "shortwave_radiation": (rows["ghi_w_m2"], "W/m²"),
    }
    units = {name: unit for name, (_, unit) in columns.items()}
    values = {name: [_number(value) for value in column] for name, (column, _) in columns.items()}
    return _json(
        {
            "latitude": LATITUDE,
            "longitude": LONGITUDE,
            "generationtime_ms": 0.25,
            "utc_offset_seconds": 0,
            "timezone": "GMT",
            "timezone_abbreviation": "GMT",
            "elevation": ELEVATION_M,
            "hourly_units": {"time": "unixtime", **units},
            "hourly": {"time": [int(label.timestamp()) for label in rows.index], **values},
        }
    )


def met_norway(table: pd.DataFrame) -> bytes:
    """Write an answer of MET Norway, locationforecast 2.0 complete, in hourly steps.

    Rain belongs to the hours that follow the label; what is not known is left out.
    """
    hours = _hours(table)
    six = hours["rain_mm"][::-1].rolling(6, min_periods=6).sum().round(6)[::-1]
    series = [
        _met_entry(time, row, six[time]) for time, row in hours.iterrows() if not row.isna().all()
    ]
    units = {
        "air_pressure_at_sea_level": "hPa",
        "air_temperature": "celsius",
        "cloud_area_fraction": "%",
        "dew_point_temperature": "celsius",
        "precipitation_amount": "mm",
        "probability_of_precipitation": "%",
        "relative_humidity": "%",
        "wind_speed": "m/s",
        "wind_speed_of_gust": "m/s",
    }
    return _json(
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [LONGITUDE, LATITUDE, ELEVATION_M]},
            "properties": {
                "meta": {"updated_at": _zulu(hours.index[0]), "units": units},
                "timeseries": series,
            },
        }
    )


def _met_entry(time: pd.Timestamp, row: pd.Series, rain_6h: float) -> dict[str, Any]:
    """Return one step of the series: the instant, the next hour and the next six hours."""
    details = {
        "air_pressure_at_sea_level": round(_sea_level_hpa(row["pressure_hpa"]), 1),
        "air_temperature": row["air_temp_c"],
        "cloud_area_fraction": row["cloud"] * 100,
        "dew_point_temperature": row["dew_point_c"],
        "relative_humidity": row["rel_humidity"] * 100,
        "wind_speed": row["wind_m_s"],
        "wind_speed_of_gust": row["gust_m_s"],
    }
    known = {name: round(float(value), 6) for name, value in details.items() if not np.isnan(value)}
    data: dict[str, Any] = {"instant": {"details": known}}
    for name, rain in (("next_1_hours", row["rain_mm"]), ("next_6_hours", rain_6h)):
        if not np.isnan(rain):
            data[name] = {
                "summary": {"symbol_code": "rain" if rain > 0 else "cloudy"},
                "details": {
                    "precipitation_amount": round(float(rain), 6),
                    "probability_of_precipitation": _chance_percent(rain),
                },
            }
    return {"time": _zulu(time), "data": data}


# --- files of measured and typical weather ---


METEOSTAT_NAMES = (
    *("temp", "rhum", "prcp", "snwd", "wdir", "wspd"),
    *("wpgt", "pres", "tsun", "cldc", "coco"),
)


def meteostat_year(table: pd.DataFrame, year: int) -> bytes:
    """Write the hourly file of one calendar year as meteostat keeps it: gzipped CSV in UTC.

    Readings are those at the label, rain is that of the hour before it, wind is in km/h, cloud in
    oktas, pressure at sea level. An hour of which nothing is known has no row.
    """
    names = METEOSTAT_NAMES
    header = [column for name in names for column in (name, f"{name}_source")]
    lines = [",".join(["year", "month", "day", "hour", *header])]
    rows = _end_labelled(table, ("rain_mm", "ghi_w_m2"))
    rows = rows[rows.index.year == year]
    # Column by column: each row as a series takes three times as long.
    values = {
        "temp": [_text(value) for value in rows["air_temp_c"].tolist()],
        "rhum": [_text(value, 0) for value in (rows["rel_humidity"] * 100).tolist()],
        "prcp": [_short(value) for value in rows["rain_mm"].tolist()],
        "wspd": [_text(value) for value in (rows["wind_m_s"] * 3.6).tolist()],
        "wpgt": [_text(value) for value in (rows["gust_m_s"] * 3.6).tolist()],
        "pres": [_text(_sea_level_hpa(value)) for value in rows["pressure_hpa"].tolist()],
        "cldc": [_text(value, 0) for value in (rows["cloud"] * 8).tolist()],
    }
    nothing = [""] * len(rows)
    for label, *cells in zip(
        rows.index.to_pydatetime(), *(values.get(name, nothing) for name in names), strict=True
    ):
        if any(cells):
            pairs = [cell for text in cells for cell in (text, "isd_lite" if text else "")]
            stamp = [label.year, label.month, label.day, label.hour]
            lines.append(",".join([*map(str, stamp), *pairs]))
    return gzip.compress(_lines(lines), 1, mtime=0)


def _standard_ending(table: pd.DataFrame) -> list[tuple[pd.Timestamp, pd.Series]]:
    """Return the rows of files that label the hour by its end, in local standard time.

    Each is the wall clock at the begin of the hour (its day and hour + 1 make the label) and the
    row: states at the end of the hour, rain and radiation of the hour. Only hours of which both
    the hour itself and its end lie inside the table.
    """
    rows = _end_labelled(table, ("rain_mm", "ghi_w_m2")).iloc[1:-1]
    shift = pd.Timedelta(hours=STANDARD_OFFSET_H) - HOUR
    return [(label.tz_localize(None) + shift, row) for label, row in rows.iterrows()]


def epw(table: pd.DataFrame) -> bytes:
    """Write an EnergyPlus weather file: local standard time, hours 1 to 24, actual years."""
    rows = _standard_ending(table)
    first, last = rows[0][0], rows[-1][0]
    place = f"{LATITUDE:.2f},{LONGITUDE:.2f},{STANDARD_OFFSET_H:.1f},{ELEVATION_M:.1f}"
    period = f"{first:%A},{first.month}/{first.day},{last.month}/{last.day}"
    header = [
        f"LOCATION,{STATION_NAME},OH,USA,INVENTED,999999,{place}",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,invented weather for tests",
        "COMMENTS 2,radiation: only the global horizontal one is given",
        f"DATA PERIODS,1,1,Data,{period}",
    ]
    return _lines(header + [_epw_row(begin, row) for begin, row in rows], end="\r\n")


def _epw_row(begin: pd.Timestamp, row: pd.Series) -> str:
    """Return one data row of 35 columns."""
    rain = _short(row["rain_mm"], "999")
    cells = [
        *map(str, (begin.year, begin.month, begin.day, begin.hour + 1, 60)),
        "?9" * 20,  # source and uncertainty flags
        _text(row["air_temp_c"], 1, "99.9"),
        _text(row["dew_point_c"], 1, "99.9"),
        _text(row["rel_humidity"] * 100, 0, "999"),
        _text(row["pressure_hpa"] * 100, 0, "999999"),
        *("9999", "9999", "9999"),  # extraterrestrial horizontal and direct, infrared from the sky
        _text(row["ghi_w_m2"], 0, "9999"),
        *("9999", "9999"),  # direct normal, diffuse horizontal
        *("999999", "999999", "999999", "9999"),  # illuminances, zenith luminance
        "999",  # wind direction
        _text(row["wind_m_s"], 1, "999"),
        _text(row["cloud"] * 10, 0, "99"),
        *("99", "9999", "99999"),  # opaque sky cover, visibility, ceiling height
        *("9", "999999999"),  # present weather
        *("999", "0.999", "999", "99", "999"),  # water, aerosol, snow, days since snow, albedo
        rain,
        "99" if rain == "999" else "1",
    ]
    return ",".join(cells)


TMY3_COLUMNS = (
    *("Date (MM/DD/YYYY)", "Time (HH:MM)", "ETR (W/m^2)", "ETRN (W/m^2)"),
    *("GHI (W/m^2)", "GHI source", "GHI uncert (%)"),
    *("DNI (W/m^2)", "DNI source", "DNI uncert (%)"),
    *("DHI (W/m^2)", "DHI source", "DHI uncert (%)"),
    *("GH illum (lx)", "GH illum source", "Global illum uncert (%)"),
    *("DN illum (lx)", "DN illum source", "DN illum uncert (%)"),
    *("DH illum (lx)", "DH illum source", "DH illum uncert (%)"),
    *("Zenith lum (cd/m^2)", "Zenith lum source", "Zenith lum uncert (%)"),
    *("TotCld (tenths)", "TotCld source", "TotCld uncert (code)"),
    *("OpqCld (tenths)", "OpqCld source", "OpqCld uncert (code)"),
    *("Dry-bulb (C)", "Dry-bulb source", "Dry-bulb uncert (code)"),
    *("Dew-point (C)", "Dew-point source", "Dew-point uncert (code)"),
    *("RHum (%)", "RHum source", "RHum uncert (code)"),
    *("Pressure (mbar)", "Pressure source", "Pressure uncert (code)"),
    *("Wdir (degrees)", "Wdir source", "Wdir uncert (code)"),
    *("Wspd (m/s)", "Wspd source", "Wspd uncert (code)"),
    *("Hvis (m)", "Hvis source", "Hvis uncert (code)"),
    *("CeilHgt (m)", "CeilHgt source", "CeilHgt uncert (code)"),
    *("Pwat (cm)", "Pwat source", "Pwat uncert (code)"),
    *("AOD (unitless)", "AOD source", "AOD uncert (code)"),
    *("Alb (unitless)", "Alb source", "Alb uncert (code)"),
    *("Lprecip depth (mm)", "Lprecip quantity (hr)", "Lprecip source", "Lprecip uncert (code)"),
)
TMY3_MISSING = "-9900"


def tmy3(table: pd.DataFrame) -> bytes:
    """Write a TMY3 file: local standard time, labels 01:00 to 24:00 at the end of the hour."""
    place = f"{STANDARD_OFFSET_H:.1f},{LATITUDE:.3f},{LONGITUDE:.3f},{ELEVATION_M:.0f}"
    header = [f'999999,"{STATION_NAME}",OH,{place}', ",".join(TMY3_COLUMNS)]
    return _lines(header + [_tmy3_row(begin, row) for begin, row in _standard_ending(table)])


def _tmy3_row(begin: pd.Timestamp, row: pd.Series) -> str:
    """Return one data row; what is not given is -9900 with the source `?`."""
    rain = _short(row["rain_mm"], TMY3_MISSING)
    values = {
        "Date (MM/DD/YYYY)": f"{begin:%m/%d/%Y}",
        "Time (HH:MM)": f"{begin.hour + 1:02d}:00",
        "GHI (W/m^2)": _text(row["ghi_w_m2"], 0, TMY3_MISSING),
        "TotCld (tenths)": _text(row["cloud"] * 10, 0, TMY3_MISSING),
        "Dry-bulb (C)": _text(row["air_temp_c"], 1, TMY3_MISSING),
        "Dew-point (C)": _text(row["dew_point_c"], 1, TMY3_MISSING),
        "RHum (%)": _text(row["rel_humidity"] * 100, 0, TMY3_MISSING),
        "Pressure (mbar)": _text(row["pressure_hpa"], 0, TMY3_MISSING),
        "Wspd (m/s)": _text(row["wind_m_s"], 1, TMY3_MISSING),
        "Lprecip depth (mm)": rain,
        "Lprecip quantity (hr)": TMY3_MISSING if rain == TMY3_MISSING else "1",
    }
    cells: list[str] = []
    given = False
    for name in TMY3_COLUMNS:
        if " source" in name:
            cells.append(("1" if name == "GHI source" else "A") if given else "?")
        elif " uncert" in name:
            cells.append("7" if given else "0")
        else:
            cells.append(values.get(name, TMY3_MISSING))
            given = cells[-1] != TMY3_MISSING
    return ",".join(cells)


def isd_lite(table: pd.DataFrame) -> bytes:
    """Write an ISD-Lite file: UTC, fixed columns, tenths, -9999 missing, -1 a trace of rain.

    Readings are those at the label; the rain columns hold the hour and, at 00, 06, 12 and 18,
    the six hours that end there. Pressure is at sea level. Hours without a value have no row.
    """
    rows = _end_labelled(table, ("rain_mm", "ghi_w_m2"))
    trace = np.isclose(rows["rain_mm"], TRACE_MM)
    tenths = pd.Series(np.where(trace, 0.0, rows["rain_mm"] * 10), index=rows.index)
    six = tenths.rolling(6, min_periods=6).sum().round(6)
    six_trace = pd.Series(trace, index=rows.index).rolling(6, min_periods=1).max() > 0
    lines = []
    for number, (label, row) in enumerate(rows.iterrows()):
        synoptic = label.hour % 6 == 0
        rain_1h = -1.0 if trace[number] else tenths.iloc[number]
        rain_6h = six.iloc[number] if synoptic else np.nan
        values = [
            row["air_temp_c"] * 10,
            row["dew_point_c"] * 10,
            _sea_level_hpa(row["pressure_hpa"]) * 10,
            np.nan,  # wind direction
            row["wind_m_s"] * 10,
            row["cloud"] * 8,
            rain_1h,
            -1.0 if rain_6h == 0 and six_trace.iloc[number] else rain_6h,
        ]
        if not np.isnan(values).all():
            cells = [f"{-9999 if np.isnan(value) else round(value):6d}" for value in values]
            lines.append(f"{label:%Y %m %d %H}" + "".join(cells))
    return _lines(lines)


GHCNH_VARIABLES = (
    "temperature",
    "dew_point_temperature",
    "station_level_pressure",
    "wind_speed",
    "wind_gust",
    "precipitation",
    "relative_humidity",
    "sky_cover_1",
)
GHCNH_ATTRIBUTES = (
    "Measurement_Code",
    "Quality_Code",
    "Report_Type",
    "Source_Code",
    "Source_Station_ID",
)
SKY_CODES = {0: "CLR:00", 4: "SCT:04", 8: "OVC:08"}


def ghcnh(table: pd.DataFrame) -> bytes:
    """Write a GHCNh station file: pipe-separated, UTC, one report at minute 53 of each hour.

    The report of 11:53 holds the readings of about 12:00 and the rain since 10:53, taken as that
    of the hour 11. A trace is 0.0 with the measurement code T.
    """
    header = "Station_ID|Station_name|DATE|Year|Month|Day|Hour|Minute|Latitude|Longitude|Elevation"
    names = [
        column
        for name in GHCNH_VARIABLES
        for column in (name, *(f"{name}_{attribute}" for attribute in GHCNH_ATTRIBUTES))
    ]
    lines = ["|".join([header, *names])]
    for label, row in _end_labelled(table, ("rain_mm", "ghi_w_m2")).iterrows():
        trace = bool(np.isclose(row["rain_mm"], TRACE_MM))
        values = {
            "temperature": _text(row["air_temp_c"]),
            "dew_point_temperature": _text(row["dew_point_c"]),
            "station_level_pressure": _text(row["pressure_hpa"]),
            "wind_speed": _text(row["wind_m_s"]),
            "wind_gust": _text(row["gust_m_s"]),
            "precipitation": "0.0" if trace else _text(row["rain_mm"]),
            "relative_humidity": _text(row["rel_humidity"] * 100, 0),
            "sky_cover_1": "" if np.isnan(row["cloud"]) else SKY_CODES[round(row["cloud"] * 8)],
        }
        if any(values.values()):
            cells = _ghcnh_place(label - pd.Timedelta(minutes=7))
            for name in GHCNH_VARIABLES:
                code = "T" if trace and name == "precipitation" else ""
                marks = [code, "5", "FM15", "343", "ICAO-XXXX"] if values[name] else [""] * 5
                cells += [values[name], *marks]
            lines.append("|".join(cells))
    return _lines(lines)


def _ghcnh_place(time: pd.Timestamp) -> list[str]:
    """Return the station, time and place of a report."""
    parts = [f"{time:{part}}" for part in ("%Y-%m-%dT%H:%M:%S", "%Y", "%m", "%d", "%H", "%M")]
    place = [f"{LATITUDE:.4f}", f"{LONGITUDE:.4f}", f"{ELEVATION_M:.1f}"]
    return ["XXW00099999", STATION_NAME, *parts, *place]


# --- a logger on the roof, and the table itself ---


LOGGER_HEADER = "time,air_degF,rh_pct,wind_mph,solar_w_m2,rain_total_in,cloud_tenths"
TEN_MINUTES = pd.Timedelta(minutes=10)


def logger(table: pd.DataFrame) -> bytes:
    """Write the CSV of a logger: ten-minute rows, labeled by their end on the local clock.

    The clock keeps daylight saving time and shows no offset, so an hour comes twice in autumn.
    Rain is a running total in inches that goes back to zero after local midnight; the row labeled
    00:00 still shows the total of the day that ends there.
    """
    lines = [LOGGER_HEADER]
    total_mm, day = 0.0, None
    for hour, row in _hours(table).iterrows():
        for step in range(6):
            begin = (hour + step * TEN_MINUTES).tz_convert(ZONE)
            end = (hour + (step + 1) * TEN_MINUTES).tz_convert(ZONE)
            if begin.date() != day:
                total_mm, day = 0.0, begin.date()
            if not np.isnan(row["rain_mm"]):
                total_mm += row["rain_mm"] / 6
            cells = [
                f"{end:%Y-%m-%d %H:%M:%S}",
                _text(row["air_temp_c"] * 1.8 + 32, 2),
                _text(row["rel_humidity"] * 100, 0),
                _text(row["wind_m_s"] / 0.44704, 6),
                _text(row["ghi_w_m2"], 0),
                "" if np.isnan(row["rain_mm"]) else f"{total_mm / 25.4:.7f}",
                _text(row["cloud"] * 10, 0),
            ]
            lines.append(",".join(cells))
    return _lines(lines)


def logger_mapping(*, sun: bool = True) -> str:
    """Return the mapping file that goes with `logger`, with or without its sun."""
    columns = {
        "air_temp_c": ("air_degF", "degF"),
        "rel_humidity": ("rh_pct", "%"),
        "wind_m_s": ("wind_mph", "mph"),
        "ghi_w_m2": ("solar_w_m2", "W/m2"),
        "rain_mm": ("rain_total_in", "in"),
        "cloud": ("cloud_tenths", "tenths"),
    }
    lines = ['time = "time"', f'timezone = "{ZONE}"', 'label = "end"', 'every = "10 min"']
    for name, (column, unit) in columns.items():
        if sun or name != "ghi_w_m2":
            lines += [f"[columns.{name}]", f'column = "{column}"', f'unit = "{unit}"']
            lines += ['rain = "cumulative"'] * (name == "rain_mm")
    return "\n".join(lines) + "\n"


def canonical(table: pd.DataFrame) -> bytes:
    """Write the table itself as CSV: `time_utc` and all columns; empty is missing."""
    lines = [",".join(["time_utc", *COLUMNS])]
    for time, row in table.iterrows():
        lines.append(",".join([_zulu(time), *(_short(row[name]) for name in COLUMNS)]))
    return _lines(lines)


WRITERS: dict[str, Callable[[pd.DataFrame], bytes]] = {
    "nws": nws,
    "open_meteo": open_meteo,
    "met_norway": met_norway,
    "meteostat": lambda table: meteostat_year(table, START.year),
    "epw": epw,
    "tmy3": tmy3,
    "ghcnh": ghcnh,
    "isd_lite": isd_lite,
    "canonical": canonical,
    "logger": logger,
}
"""Format: its writer. A logger's file is read with `logger_mapping`."""
