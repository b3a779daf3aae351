"""MET Norway Locationforecast 2.0, format *complete*.

Readings hold at their time; precipitation is the sum over the FOLLOWING one hour, and where the
forecast grows coarse, over the following six. Between two coarse readings nothing is known: no
value is put there.

Source of the format: MET Norway, Locationforecast data model and ForecastJSON documentation.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from windows.answer import Answer, Kept
from windows.errors import HoursError
from windows.hours import HourlyTable, check_hours
from windows.provenance import Location, Provenance
from windows.sources.blocks import Blocks, Grid
from windows.sources.json_answer import in_si, moment, numbers, part, read_object

if TYPE_CHECKING:
    from windows.site import Site
    from windows.web import Web

NAME = "met_norway"
HELP = "MET Norway: forecast, hourly for about 2.5 days, world, free, wants a contact"
KIND = "forecast"

__all__ = ["HELP", "KIND", "NAME", "fetch", "parse", "recognises"]

_TITLE = "MET Norway"
_STATES = {
    "air_temp_c": ("air_temperature", "temperature"),
    "dew_point_c": ("dew_point_temperature", "temperature"),
    "rel_humidity": ("relative_humidity", "fraction"),
    "wind_m_s": ("wind_speed", "speed"),
    "gust_m_s": ("wind_speed_of_gust", "speed"),
    "cloud": ("cloud_area_fraction", "fraction"),
}
_SUMS = {
    "rain_mm": ("precipitation_amount", "water"),
    "rain_prob": ("probability_of_precipitation", "fraction"),
    "thunder_prob": ("probability_of_thunder", "fraction"),
}
_AHEAD = (1, 6)
_KEPT = Kept(timedelta(minutes=30), timedelta(hours=6))
_MOST_STEPS = 1000


def recognises(text: str) -> bool:
    """Tell whether an answer is a time series of this service."""
    return text.startswith("{") and '"timeseries"' in text and '"instant"' in text


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a forecast.

    Raises
    ------
    HoursError
        If it is not strict JSON, a time, a number or a unit cannot be read, or the checks of
        `windows.hours.check_hours` fail.
    """
    answer = read_object(content, place)
    body = part(answer, "properties", dict, place)
    meta = part(body, "meta", dict, place)
    units = part(meta, "units", dict, place)
    steps = part(body, "timeseries", list, place)
    if not steps or len(steps) > _MOST_STEPS or not all(isinstance(each, dict) for each in steps):
        raise HoursError(f"{place}: the time series is empty or broken; fetch it again")
    times = pd.DatetimeIndex([moment(each.get("time"), "time", place) for each in steps])
    data = [part(each, "data", dict, place) for each in steps]
    if not (times == times.floor("h")).all() or not times.is_monotonic_increasing:
        raise HoursError(f"{place}: times are not whole hours in order; fetch it again")
    ahead = np.array([_ahead(each, place) for each in data])
    whole = np.maximum(ahead, 1)
    grid = Grid.over(Blocks(times, whole, np.zeros(len(times))))
    ones = np.ones(len(times), dtype=np.int64)
    for name, (variable, dimension) in _STATES.items():
        values = [_details(each.get("instant"), place).get(variable) for each in data]
        if (known := _known(values, variable, dimension, units, place)) is not None:
            grid.hold(name, Blocks(times, ones, known))
    for name, (variable, dimension) in _SUMS.items():
        values = [
            _details(each.get(f"next_{hours}_hours"), place).get(variable)
            for each, hours in zip(data, ahead, strict=True)
        ]
        if (known := _known(values, variable, dimension, units, place)) is None:
            continue
        blocks = Blocks(times, whole, known)
        if name == "rain_mm":
            grid.share(name, blocks)
        elif name == "rain_prob":
            grid.chance(name, blocks)
        else:
            grid.hold(name, blocks)
    return check_hours(
        grid.columns,
        grid.index,
        Provenance(
            _TITLE, place, moment(meta.get("updated_at"), "updated_at", place), kind="forecast",
            location=_place(answer), attribution="Data from MET Norway (CC BY 4.0)",
        ),
        warnings=tuple(grid.warnings),
        recorded=True,
        flags=grid.flags,
    )  # fmt: skip


def _ahead(data: dict[str, Any], place: str) -> int:
    """Return over how many following hours the step tells precipitation; 0 where it tells none."""
    for hours in _AHEAD:
        if "precipitation_amount" in _details(data.get(f"next_{hours}_hours"), place):
            return hours
    return 0


def _details(period: object, place: str) -> dict[str, Any]:
    if period is None:
        return {}
    details = period.get("details", {}) if isinstance(period, dict) else None
    if not isinstance(details, dict):
        raise HoursError(f"{place}: a step of the time series is broken; fetch it again")
    return details


def _known(
    values: list[Any], variable: str, dimension: str, units: dict[str, Any], place: str
) -> Any:
    """Return values in SI, None where the forecast has none at all of an unneeded variable."""
    found = numbers(values, variable, place)
    if np.isnan(found).all():
        return found if variable in {"air_temperature", "precipitation_amount"} else None
    return in_si(found, units.get(variable), dimension, variable, place)


def _place(answer: dict[str, Any]) -> Location | None:
    try:
        longitude, latitude, *height = answer["geometry"]["coordinates"]
        return Location(
            "point", float(latitude), float(longitude), float(height[0]) if height else None
        )
    except (KeyError, TypeError, ValueError):
        return None


def fetch(web: Web, site: Site) -> Answer:
    """Return the forecast at a site. Raises as `windows.web.Web.get`."""
    return web.get(
        _TITLE, f"{web.settings.met_norway_url}/complete", kept=_KEPT, contact=True,
        check=lambda body: parse(body, "the forecast"),
        params={
            "lat": f"{site.latitude:.4f}",
            "lon": f"{site.longitude:.4f}",
            "altitude": f"{max(site.elevation, 0):.0f}",
        },
    )  # fmt: skip
