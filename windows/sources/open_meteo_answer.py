"""Answers of Open-Meteo: forecast, ensemble and archive have one shape.

Labels are moments: temperature, humidity, wind and cloud are readings at the label; rain, sun,
gusts and the chance of rain belong to the time since the label before. So the table begins with the
first label, and its last row has no rain: unknown, not zero. The service works with one offset from
UTC a whole answer, whatever daylight saving does; that offset is taken off.

Source of the format: Open-Meteo, API documentation of forecast, ensemble and archive.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.flags import Flag
from windows.hours import COLUMNS, HourlyTable, check_hours
from windows.provenance import Kind, Location, Provenance
from windows.sources.blocks import Blocks, Grid
from windows.sources.json_answer import in_si, numbers, part, read_object

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cure_models.arrays import FloatArray
    from windows.settings import Settings
    from windows.site import Site

__all__ = ["VARIABLES", "key_of", "parse_answer", "question", "recognises_answer"]

ATTRIBUTION = "Weather data by Open-Meteo.com (CC BY 4.0), shifted to hours that begin at the label"
# column: (variable, dimension), readings at the label
_READINGS = {
    "air_temp_c": ("temperature_2m", "temperature"),
    "dew_point_c": ("dew_point_2m", "temperature"),
    "rel_humidity": ("relative_humidity_2m", "fraction"),
    "wind_m_s": ("wind_speed_10m", "speed"),
    "cloud": ("cloud_cover", "fraction"),
}
# the same, over the time that ends at the label
_BEFORE = {
    "rain_mm": ("precipitation", "water"),
    "rain_prob": ("precipitation_probability", "fraction"),
    "gust_m_s": ("wind_gusts_10m", "speed"),
    "ghi_w_m2": ("shortwave_radiation", "irradiance"),
}
VARIABLES = tuple(name for name, _ in (*_READINGS.values(), *_BEFORE.values()))
_NEEDED = ("air_temp_c", "wind_m_s", "rain_mm")
_RAINS_MM = 0.1
"""A member rains from this on, the service's own definition of its chance of rain. [mm]"""
_LONGEST_STEP_H = 6


def recognises_answer(text: str) -> bool:
    """Tell whether an answer has hours with their units."""
    return text.startswith("{") and '"hourly_units"' in text and '"utc_offset_seconds"' in text


def question(site: Site, variables: Iterable[str] = VARIABLES) -> dict[str, str]:
    """Return the parameters of a request: SI, moments in UTC, the site's own height."""
    return {
        "latitude": f"{site.latitude:.4f}",
        "longitude": f"{site.longitude:.4f}",
        "elevation": f"{site.elevation:.0f}",
        "hourly": ",".join(variables),
        "temperature_unit": "celsius",
        "wind_speed_unit": "ms",
        "precipitation_unit": "mm",
        "timeformat": "unixtime",
        "timezone": "GMT",
        "cell_selection": "land",
    }


def key_of(settings: Settings) -> dict[str, str]:
    """Return the parameter with the user's key, if there is one."""
    key = settings.open_meteo_key
    return {} if key is None else {"apikey": key.get_secret_value()}


def parse_answer(content: bytes, place: str, source: str, kind: Kind) -> HourlyTable:
    """Return the table of an answer; an ensemble's runs are its members.

    Raises
    ------
    HoursError
        If it is not strict JSON, columns differ in length, a unit is not known, a variable is
        missing, or the checks of `windows.hours.check_hours` fail.
    """
    answer = read_object(content, place)
    hourly = part(answer, "hourly", dict, place)
    units = part(answer, "hourly_units", dict, place)
    labels, steps = _labels(part(hourly, "time", list, place), units, answer, place)
    runs = _runs(hourly)
    rows = pd.date_range(labels[0], labels[-1], freq="h")
    told: list[str] = []
    members: dict[str, FloatArray] = {}
    lengths = np.ones(len(rows))
    for name, (variable, dimension) in (_READINGS | _BEFORE).items():
        if variable not in hourly:
            continue
        laid = [
            _laid(_column(hourly, units, each, dimension, labels, place), name, labels, steps, rows)
            for each in runs(variable)
        ]
        members[name] = np.stack([values for values, _ in laid])
        if name == "rain_mm":
            lengths = laid[0][1]
    _must_have(members, place)
    members = {n: v for n, v in members.items() if n in _NEEDED or not np.isnan(v).all()}
    columns = {name: values[0] for name, values in members.items()}
    members = {name: values for name, values in members.items() if len(values) > 1}
    if members:
        columns["rain_prob"] = np.mean(
            np.where(
                np.isnan(members["rain_mm"]), np.nan, members["rain_mm"] * lengths >= _RAINS_MM
            ),
            axis=0,
        )
        told.append(
            f"{len(members['rain_mm'])} runs: windows are those of the first; the chance of rain "
            "is the share of the runs"
        )
    flags = {}
    if (lengths > 1).any():
        columns["rain_block_h"] = lengths
        if "rain_prob" in columns:
            columns["rain_prob_block_h"] = lengths
        flags["rain_mm"] = np.where(lengths > 1, int(Flag.BLOCK), 0)
    return check_hours(
        columns, rows,
        Provenance(
            source, place, kind=kind, location=_cell(answer), attribution=ATTRIBUTION
        ),
        warnings=tuple(told), recorded=True, flags=flags, members=members,
    )  # fmt: skip


def _labels(
    times: list[Any], units: dict[str, Any], answer: dict[str, Any], place: str
) -> tuple[pd.DatetimeIndex, np.ndarray]:
    """Return labels in UTC and the hours since the label before each."""
    if len(times) < 2:
        raise HoursError(f"{place}: there are no hours in it; fetch it again")
    if units.get("time") == "unixtime":
        found = pd.DatetimeIndex(pd.to_datetime(numbers(times, "time", place), unit="s", utc=True))
    else:
        offset = part(answer, "utc_offset_seconds", int, place)
        local = pd.to_datetime(pd.Series(times, dtype="str"), errors="coerce", format="ISO8601")
        found = pd.DatetimeIndex(local - pd.Timedelta(seconds=offset)).tz_localize("UTC")
    if found.isna().any():
        raise HoursError(f"{place}: time holds {str(times[int(found.isna().argmax())])[:40]!r}")
    hours = np.diff(found.to_numpy("datetime64[s]").astype(np.int64)) / 3600
    if not (np.isin(hours, range(1, _LONGEST_STEP_H + 1)).all()):
        raise HoursError(
            f"{place}: its times are not in order or not 1 to {_LONGEST_STEP_H} whole hours apart; "
            "ask for hourly values"
        )
    return found, np.concatenate([hours[:1], hours]).astype(np.int64)


def _runs(hourly: dict[str, Any]) -> Any:
    """Return a function that names the columns of a variable, the control run first."""
    ends = sorted({m[0] for m in (re.search(r"_member\d+$", name) for name in hourly) if m})

    def of(variable: str) -> list[str]:
        return [variable, *(f"{variable}{end}" for end in ends)]

    return of


def _column(
    hourly: dict[str, Any], units: dict[str, Any], name: str, dimension: str,
    labels: pd.DatetimeIndex, place: str,
) -> FloatArray:  # fmt: skip
    given = part(hourly, name, list, place)
    if len(given) != len(labels):
        raise HoursError(
            f"{place}: {name} has {len(given)} values for {len(labels)} times; fetch it again"
        )
    return in_si(numbers(given, name, place), units.get(name), dimension, name, place)


def _laid(
    values: FloatArray,
    name: str,
    labels: pd.DatetimeIndex,
    steps: np.ndarray,
    rows: pd.DatetimeIndex,
) -> tuple[FloatArray, FloatArray]:
    """Return a column on the rows, and the lengths of its blocks."""
    if name in _READINGS:
        return np.asarray(pd.Series(values, index=labels).reindex(rows)), np.ones(len(rows))
    grid = Grid(rows)
    before = Blocks(labels - pd.to_timedelta(steps, unit="h"), steps, values)
    if name == "rain_mm":
        grid.share(name, before)
    else:
        grid.hold(name, before)
    return grid.columns[name], grid.columns.get("rain_block_h", np.ones(len(rows)))


def _must_have(members: dict[str, FloatArray], place: str) -> None:
    for name in _NEEDED:
        if name not in members:
            variable, _ = (_READINGS | _BEFORE)[name]
            raise HoursError(
                f"{place}: {variable} ({COLUMNS[name].meaning}) is missing; ask for it too"
            )


def _cell(answer: dict[str, Any]) -> Location | None:
    found = [answer.get(name) for name in ("latitude", "longitude", "elevation")]
    if not all(isinstance(each, int | float) for each in found[:2]):
        return None
    height = found[2] if isinstance(found[2], int | float) else None
    return Location("grid cell", float(found[0]), float(found[1]), height)  # type: ignore[arg-type]
