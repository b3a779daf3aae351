"""GHCNh files: reports of a station, values separated by bars, UTC, several in an hour.

A reading stands for the hour nearest to its report. Rain is that since about the last full hour:
the report that closes the hour tells its sum, reports between tell a part of it, so the most of
them counts and the hour is known only if it is closed. Sums of 3 to 24 hours serve where the hours
themselves are missing. ``T`` in the measurement code is a trace. A value with a quality code other
than passed or not checked is unknown.

Source of the format: NOAA National Centers for Environmental Information, "Global Historical
Climatology Network hourly", documentation; the meaning of the quality codes is from memory.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.flags import Flag, flagged
from windows.hours import HourlyTable, check_hours
from windows.provenance import Location, Provenance
from windows.rainy import rainy_mm
from windows.sources.blocks import fill_from_totals, hour_range

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray

NAME = "ghcnh"
HELP = "GHCNh file of a station: columns separated by bars, with measurement codes"
KIND = "file"

__all__ = ["HELP", "KIND", "NAME", "parse", "recognises"]

# column: (variable, scale)
_READINGS = {
    "air_temp_c": ("temperature", 1.0),
    "dew_point_c": ("dew_point_temperature", 1.0),
    "rel_humidity": ("relative_humidity", 0.01),
    "wind_m_s": ("wind_speed", 1.0),
    "pressure_hpa": ("station_level_pressure", 1.0),
}
_GUST, _RAIN = "wind_gust", "precipitation"
_TOTALS = {hours: f"precipitation_{hours}_hour" for hours in (3, 6, 12, 24)}
_SKY = tuple(f"sky_cover_{layer}" for layer in (1, 2, 3))
_SOUND_CODES = frozenset({"", "0", "1", "4", "5", "9"})
_DATE_PARTS = ("Year", "Month", "Day", "Hour", "Minute")
_CLOSING_MIN = 15
"""A report in the last minutes of an hour closes its rain. [min]"""
_HOUR = pd.Timedelta(hours=1)


def recognises(head: str) -> bool:
    """Tell whether the header is that of the format."""
    first = head.splitlines()[0]
    return "|" in first and "temperature_Measurement_Code" in first.split("|")


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a GHCNh file.

    Raises
    ------
    HoursError
        If the header, a time or a number cannot be read, or the checks of
        `windows.hours.check_hours` fail.
    """
    reports = _reports(content, place)
    times = _times(reports, place)
    nearest = times.round("h")
    index = hour_range(nearest.min(), nearest.max(), place)
    rejected: dict[str, np.ndarray] = {}
    columns = {}
    for name, (variable, scale) in _READINGS.items():
        if variable in reports:
            values, bad = _values(reports, variable, place)
            columns[name] = _nearest(values * scale, times, nearest, index)
            rejected[name] = _there(bad, nearest, index)
    if _SKY[0] in reports:
        columns["cloud"] = _nearest(_cloud(reports), times, nearest, index)
    ends = times.ceil("h")
    if _GUST in reports:
        gusts, _ = _values(reports, _GUST, place)
        columns["gust_m_s"] = _most(gusts, ends - _HOUR, index)
    rain, doubted = _rain(reports, times, ends, index, place)
    columns |= rain
    flags: dict[str, np.ndarray] = flagged({}, "rain_mm", doubted, Flag.CONSISTENCY)
    if _RAIN in reports:
        _, bad = _values(reports, _RAIN, place)
        unknown = _there(bad, ends - _HOUR, index) & np.isnan(columns["rain_mm"])
        flags = flagged(flags, "rain_mm", unknown, Flag.SOURCE)
    for name, bad in rejected.items():
        flags = flagged(flags, name, bad & np.isnan(columns[name]), Flag.SOURCE)
    gathered = columns["rain_block_h"] > 1
    flags = flagged(flags, "rain_mm", gathered, Flag.BLOCK)
    if not gathered.any():
        del columns["rain_block_h"]
    columns = {n: v for n, v in columns.items() if n in _NEEDED or not np.isnan(v).all()}
    flags = {name: marks for name, marks in flags.items() if name in columns}
    return check_hours(
        columns, index,
        Provenance(
            "GHCNh observations", place, kind="observed", location=_station(reports),
            attribution="Data: NOAA NCEI, GHCN hourly",
        ),
        recorded=True, flags=flags,
    )  # fmt: skip


_NEEDED = frozenset({"air_temp_c", "wind_m_s", "rain_mm"})


def _reports(content: bytes, place: str) -> pd.DataFrame:
    wanted = {variable for variable, _ in _READINGS.values()} | {_GUST, _RAIN, *_SKY}
    wanted |= set(_TOTALS.values())
    coded = {f"{name}_{code}_Code" for name in wanted for code in ("Measurement", "Quality")}
    about = {"Station_ID", "STATION", "Station_name", "Latitude", "Longitude", "Elevation"}
    keep = wanted | coded | about | {"DATE", *_DATE_PARTS}
    try:
        found = pd.read_csv(
            io.BytesIO(content), sep="|", dtype=str, usecols=lambda name: name in keep,
            keep_default_na=False, encoding="latin-1",
        )  # fmt: skip
    except ValueError as fault:
        told = " ".join(str(fault).split())[:120]
        raise HoursError(f"{place}: not a whole GHCNh file ({told}); fetch it again") from None
    if found.empty:
        raise HoursError(f"{place}: there are no reports below the header; use a whole file")
    return found


def _times(reports: pd.DataFrame, place: str) -> pd.DatetimeIndex:
    if set(_DATE_PARTS) <= set(reports):
        parts = reports[list(_DATE_PARTS)].apply(pd.to_numeric, errors="coerce")
        found = pd.to_datetime(parts.rename(columns=str.lower), errors="coerce", utc=True)
        found = found.where(parts["Hour"].between(0, 23) & parts["Minute"].between(0, 59))
    elif "DATE" in reports:
        found = pd.to_datetime(reports["DATE"], errors="coerce", utc=True, format="ISO8601")
    else:
        raise HoursError(f"{place}: it has no DATE and no Year to Minute; use an unchanged file")
    if found.isna().any():
        row = int(found.isna().to_numpy().argmax())
        raise HoursError(f"{place}: report {row + 1} has no time; use an unchanged file")
    return pd.DatetimeIndex(found)


def _values(reports: pd.DataFrame, variable: str, place: str) -> tuple[FloatArray, np.ndarray]:
    """Return numbers, NaN where missing or rejected, and where they are rejected."""
    cells = reports[variable].str.strip()
    found = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64)
    wrong = np.isnan(found) & (cells != "").to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        raise HoursError(
            f"{place}: report {row + 1}: {variable} is '{cells.iloc[row]}', not a number"
        )
    code = reports.get(f"{variable}_Quality_Code")
    bad = np.zeros(len(found), dtype=bool)
    if code is not None:
        bad = ~np.isnan(found) & ~code.str.strip().isin(_SOUND_CODES).to_numpy()
    return np.where(bad, np.nan, found), bad


def _nearest(
    values: FloatArray, times: pd.DatetimeIndex, nearest: pd.DatetimeIndex, index: pd.DatetimeIndex
) -> FloatArray:
    """Return for each hour the value whose report is nearest to its start."""
    known = ~np.isnan(values)
    away = np.abs((times - nearest).total_seconds().to_numpy())
    order = np.lexsort((away[known], nearest[known].asi8))
    first = pd.Series(values[known][order], index=nearest[known][order])
    found = first[~first.index.duplicated()].reindex(index)
    return np.asarray(found, dtype=np.float64)


def _there(where: np.ndarray, rows: pd.DatetimeIndex, index: pd.DatetimeIndex) -> np.ndarray:
    return np.asarray(index.isin(rows[where]))


def _most(values: FloatArray, rows: pd.DatetimeIndex, index: pd.DatetimeIndex) -> FloatArray:
    """Return the most of each hour, NaN where none is known."""
    found = pd.Series(values).groupby(rows).max().reindex(index)
    return np.asarray(found, dtype=np.float64)


def _cloud(reports: pd.DataFrame) -> FloatArray:
    """Return the cover of the fullest layer: ``OVC:08`` is eight eighths."""
    layers = [
        pd.to_numeric(reports[name].str.extract(r":\s*(\d{1,2})", expand=False), errors="coerce")
        for name in _SKY
        if name in reports
    ]
    eighths = pd.concat(layers, axis=1).max(axis=1).to_numpy(dtype=np.float64)
    return np.where(eighths > 9, np.nan, np.minimum(eighths, 8) / 8)  # nine is a sky not seen


def _rain(
    reports: pd.DataFrame, times: pd.DatetimeIndex, ends: pd.DatetimeIndex,
    index: pd.DatetimeIndex, place: str,
) -> tuple[dict[str, FloatArray], np.ndarray]:  # fmt: skip
    """Return rain, trace and block lengths of the hours, and where their dryness is doubted."""
    amount, trace = _amount(reports, _RAIN, place)
    rows = ends - _HOUR
    closing = (ends - times) <= pd.Timedelta(minutes=_CLOSING_MIN)
    most = _most(amount, rows, index)
    traced = _there(trace & ~np.isnan(amount), rows, index)
    closed = _there(closing & ~np.isnan(amount), rows, index)
    # Part of an hour's rain is known to be rain, but not to be all of it.
    known = closed | (most >= rainy_mm())
    columns = {
        "rain_mm": np.where(known, most, np.nan),
        "rain_trace": np.where(known, (traced & ~(most > 0)).astype(np.float64), np.nan),
        "rain_block_h": np.ones(len(index)),
    }
    doubted = np.zeros(len(index), dtype=bool)
    last = times.round("h") - _HOUR  # a sum ends about the full hour nearest to its report
    for hours, variable in _TOTALS.items():
        if variable in reports:
            total, its_trace = _amount(reports, variable, place)
            doubted |= fill_from_totals(
                columns, _most(total, last, index), _there(its_trace, last, index), hours
            )
    return columns, doubted


def _amount(reports: pd.DataFrame, variable: str, place: str) -> tuple[FloatArray, np.ndarray]:
    """Return amounts, a trace being none, and where there is a trace."""
    if variable not in reports:
        nothing = np.full(len(reports), np.nan)
        return nothing, np.zeros(len(reports), dtype=bool)
    values, _ = _values(reports, variable, place)
    code = reports.get(f"{variable}_Measurement_Code")
    trace = (
        np.zeros(len(values), dtype=bool)
        if code is None
        else (code.str.strip().str.upper() == "T").to_numpy()
    )
    return np.where(trace & ~(values > 0), 0.0, values), trace


def _station(reports: pd.DataFrame) -> Location | None:
    first = reports.iloc[0]
    name = next(
        (first[key] for key in ("Station_name", "Station_ID", "STATION") if key in first), ""
    )
    try:
        latitude, longitude = float(first["Latitude"]), float(first["Longitude"])
    except (KeyError, ValueError):
        return None
    height = pd.to_numeric(first.get("Elevation", ""), errors="coerce")
    return Location(str(name), latitude, longitude, None if pd.isna(height) else float(height))
