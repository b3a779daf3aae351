"""US National Weather Service: raw layers of a forecast grid cell.

A layer is a list of blocks, ``start/duration`` in UTC. States hold over their block; precipitation
is the sum over it. Layers end at different times, and past its end a layer is missing, not zero.
The service gives neither sun nor infrared: both are worked out from the sky cover.

Source of the format: National Weather Service, API documentation, openapi.yaml, schema
GridpointGeoJson; ISO 8601-2 intervals.
"""

from __future__ import annotations

from datetime import timedelta
from functools import lru_cache
from http import HTTPStatus
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from windows.answer import Answer, Kept
from windows.errors import HoursError, SourceError
from windows.hours import HourlyTable, check_hours
from windows.provenance import Location, Provenance
from windows.sources.blocks import Blocks, Grid
from windows.sources.json_answer import in_si, moment, numbers, part, read_object

if TYPE_CHECKING:
    from windows.site import Site
    from windows.web import Web

NAME = "nws"
HELP = "US National Weather Service: forecast, about 7 days, free, wants a contact"
KIND = "forecast"

__all__ = ["HELP", "KIND", "NAME", "fetch", "parse", "recognises"]

_TITLE = "National Weather Service"
# column: (layer, dimension, must the answer hold it)
_STATES = {
    "air_temp_c": ("temperature", "temperature", True),
    "dew_point_c": ("dewpoint", "temperature", True),
    "rel_humidity": ("relativeHumidity", "fraction", False),
    "wind_m_s": ("windSpeed", "speed", True),
    "gust_m_s": ("windGust", "speed", False),
    "cloud": ("skyCover", "fraction", True),
    "thunder_prob": ("probabilityOfThunder", "fraction", False),
}
_RAIN = ("quantitativePrecipitation", "water", True)
_CHANCE = ("probabilityOfPrecipitation", "fraction", False)
_LENGTHS_H = range(1, 240 + 1)
_POINT = Kept(timedelta(days=7), timedelta(days=60))
_GRID = Kept(timedelta(minutes=30), timedelta(hours=6))
_OLDEST_ISSUE = pd.Timedelta(hours=36)
"""An issue older than this is a grid that is no longer renewed (own choice)."""


def recognises(text: str) -> bool:
    """Tell whether an answer is that of a forecast grid cell."""
    return text.startswith("{") and '"validTimes"' in text and '"temperature"' in text


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a gridpoint answer.

    Raises
    ------
    HoursError
        If it is not strict JSON, a needed layer is missing, a block, a number or a unit cannot be
        read, or the checks of `windows.hours.check_hours` fail.
    """
    answer = read_object(content, place)
    layers = part(answer, "properties", dict, place)
    states = {name: _layer(layers, *spec, place) for name, spec in _STATES.items()}
    rain, chance = _layer(layers, *_RAIN, place), _layer(layers, *_CHANCE, place)
    grid = Grid.over(*(each for each in (*states.values(), rain) if each is not None))
    for name, blocks in states.items():
        if blocks is not None:
            grid.hold(name, blocks)
    assert rain is not None  # a needed layer
    grid.share("rain_mm", rain)
    if chance is not None:
        grid.chance("rain_prob", chance)
    issued = moment(layers.get("updateTime"), "updateTime", place)
    return check_hours(
        grid.columns,
        grid.index,
        Provenance(
            _TITLE, place, issued, kind="forecast", location=_cell(answer, layers),
            attribution="Forecast: US National Weather Service (public domain)",
        ),
        warnings=tuple(grid.warnings),
        recorded=True,
        flags=grid.flags,
    )  # fmt: skip


def _layer(
    layers: dict[str, Any], name: str, dimension: str, needed: bool, place: str
) -> Blocks | None:
    """Return the blocks of a layer in SI; None where one that is not needed has none."""
    layer = layers.get(name)
    if not isinstance(layer, dict):
        layer = {}
    entries = layer.get("values")
    if not (entries and isinstance(entries, list) and all(isinstance(e, dict) for e in entries)):
        if not needed:
            return None
        raise HoursError(f"{place}: layer '{name}' is missing or empty; fetch the forecast again")
    spans = [_span(each.get("validTime"), name, place) for each in entries]
    values = numbers([each.get("value") for each in entries], name, place)
    if np.isnan(values).all():  # an empty layer has no unit
        return None if not needed else Blocks(*_columns(spans), values)
    return Blocks(*_columns(spans), in_si(values, layer.get("uom"), dimension, name, place))


def _columns(spans: list[tuple[pd.Timestamp, int]]) -> tuple[pd.DatetimeIndex, np.ndarray]:
    starts, hours = zip(*spans, strict=True)
    return pd.DatetimeIndex(starts), np.array(hours, dtype=np.int64)


def _span(text: object, name: str, place: str) -> tuple[pd.Timestamp, int]:
    """Return start and whole hours of ``2026-05-04T06:00:00+00:00/P1DT6H``."""
    try:
        return _whole_span(str(text))
    except ValueError:
        moment(str(text).partition("/")[0], f"validTime of {name}", place)
        raise HoursError(
            f"{place}: validTime {str(text)[:60]!r} of {name} is not whole hours"
        ) from None


@lru_cache(maxsize=4096)  # the layers of an answer tell much the same blocks
def _whole_span(text: str) -> tuple[pd.Timestamp, int]:
    """Return start and hours of a span by ISO 8601; raise ValueError if they are not whole."""
    start_text, _, duration = text.partition("/")
    told, hours = pd.Timestamp(start_text), pd.Timedelta(duration) / pd.Timedelta(hours=1)
    if told.tz is None or hours not in _LENGTHS_H:
        raise ValueError(text)
    start = told.tz_convert("UTC")
    if start != start.floor("h"):
        raise ValueError(text)
    return start, int(hours)


def _cell(answer: dict[str, Any], layers: dict[str, Any]) -> Location | None:
    """Return the middle of the grid cell, where the answer tells its corners."""
    try:
        corners = np.array(answer["geometry"]["coordinates"][0], dtype=np.float64)
        longitude, latitude = corners[:-1].mean(axis=0)
        elevation = layers.get("elevation", {}).get("value")
        return Location(
            "grid cell", float(latitude), float(longitude),
            float(elevation) if isinstance(elevation, int | float) else None,
        )  # fmt: skip
    except (KeyError, IndexError, TypeError, ValueError, AttributeError):
        return None


def fetch(web: Web, site: Site) -> Answer:
    """Return the forecast of the grid cell in which a site lies.

    Raises
    ------
    SourceError, SettingsError
        As `windows.web.Web.get`; also where the site is outside of what the service covers, and
        where its grid is no longer renewed.
    """
    try:
        answer = web.get(_TITLE, _cell_url(web, site), kept=_GRID, contact=True, check=_current)
        if answer.refused == HTTPStatus.NOT_FOUND:
            raise SourceError(f"{_TITLE}: the cell is gone", HTTPStatus.NOT_FOUND)
    except SourceError as fault:
        if fault.status != HTTPStatus.NOT_FOUND:
            raise
        # Offices renumber their cells now and then: ask once more which one it is.
        url = _cell_url(web, site, again=True)
        answer = web.get(_TITLE, url, kept=_GRID, contact=True, check=_current)
    return answer


def _cell_url(web: Web, site: Site, *, again: bool = False) -> str:
    base = web.settings.nws_url
    url = f"{base}/points/{site.latitude:.4f},{site.longitude:.4f}"
    try:
        answer = web.get(
            _TITLE,
            url,
            kept=_POINT,
            contact=True,
            refresh=again,
            check=lambda body: _office(body, url),
        )
    except SourceError as fault:
        if fault.status != HTTPStatus.NOT_FOUND:
            raise
        raise SourceError(
            f"{_TITLE}: it has no forecast for {site.latitude:.4f}, {site.longitude:.4f}, which "
            "must be in the United States; use --source met_norway or open_meteo"
        ) from None
    office, x, y = _office(answer.content, url)
    return f"{base}/gridpoints/{office}/{x},{y}"


def _office(content: bytes, place: str) -> tuple[str, int, int]:
    found = part(read_object(content, place), "properties", dict, place)
    office = part(found, "gridId", str, place)
    if not office.isalnum():
        raise HoursError(f"{place}: {office!r} is not the name of an office")
    return office, part(found, "gridX", int, place), part(found, "gridY", int, place)


def _current(content: bytes) -> HourlyTable:
    """Return the forecast in a body; refuse one that is none, or that is no longer renewed."""
    found = parse(content, "the forecast")
    issued = found.provenance.issued
    age = pd.Timestamp.now("UTC") - issued if issued is not None else pd.Timedelta(0)
    if age > _OLDEST_ISSUE:
        raise HoursError(
            f"the forecast was issued {age / pd.Timedelta(hours=1):.0f} h ago and is not renewed"
        )
    return found
