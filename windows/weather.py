"""The weather of a site: a file or a service's forecast, screened, with what speaks against it."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from typing import TYPE_CHECKING

import pandas as pd

from cure_models.units import from_si
from windows.errors import HoursError
from windows.provenance import distance_km
from windows.quality import findings_of, screen
from windows.sources import fetch_weather, read_weather

if TYPE_CHECKING:
    from pathlib import Path

    from windows.hours import HourlyTable
    from windows.site import Site
    from windows.weather_choice import WeatherChoice

__all__ = ["AUTO", "fetched", "forecast_for", "told", "weather_of"]

AUTO = "auto"
_US_SERVICE, _WORLD_SERVICE = "nws", "met_norway"
_US_CODES = frozenset({"US", "PR", "VI", "GU", "MP", "AS"})
"""Countries and territories that the US National Weather Service forecasts for (ISO 3166)."""
_FAR_KM, _HIGH_M = 50.0, 150.0
"""Farther or higher, weather is that of another place (own choice)."""
_OLD = pd.Timedelta(hours=24)
"""A forecast of this age is old: later ones are better (own choice)."""
_KM_PER_MILE = 1.609344


def weather_of(
    site: Site,
    choice: WeatherChoice,
    beside: Path | None = None,
    now: pd.Timestamp | None = None,
) -> HourlyTable:
    """Return the weather that was chosen, screened, with what a reader should know of it.

    Parameters
    ----------
    site
        Where the roof is.
    choice
        What was asked for.
    beside
        File that is read where nothing else is named.
    now
        The present, from which a forecast's age counts; default the real one.

    Raises
    ------
    HoursError, SourceError, SettingsError
        If nothing is named, two things are, or what is named cannot be had.
    """
    if choice.source is not None:
        if choice.file is not None or choice.form is not None or choice.mapping is not None:
            raise HoursError(
                "--source asks a service, --weather, --format and --mapping read a file; give one"
            )
        hours = fetched(site, choice)
    else:
        path = choice.file or beside
        if path is None or (choice.file is None and not path.is_file()):
            raise HoursError(
                f"{path}: there is no such file, and neither --weather nor --source is given; name "
                "a weather file, or a service (dewgap weather sources)"
            )
        hours = read_weather(path, form=choice.form, mapping=choice.mapping)
    if choice.assume_cloud is not None:
        hours = hours.assume("cloud", choice.assume_cloud)
    return told(screen(hours), site, now)


def fetched(site: Site, choice: WeatherChoice) -> HourlyTable:
    """Return the forecast of the service that was chosen. Raises as `fetch_weather`."""
    from windows.settings import load_settings  # the network is not needed for files
    from windows.web import Web

    name = forecast_for(site) if choice.source == AUTO else str(choice.source)
    web = Web(load_settings(choice.cache_dir), offline=choice.offline, refresh=choice.refresh)
    try:
        return fetch_weather(name, site, web)
    finally:
        web.close()


def forecast_for(site: Site) -> str:
    """Return the service that is asked by default: the national one in the US, else the world's."""
    from tzfpy import get_tz

    zone = get_tz(site.longitude, site.latitude)
    codes = {
        fields[0]
        for line in (files("tzdata") / "zoneinfo" / "zone.tab").read_text("utf-8").splitlines()
        if not line.startswith("#") and len(fields := line.split("\t")) > 2 and fields[2] == zone
    }
    return _US_SERVICE if codes & _US_CODES else _WORLD_SERVICE


def told(hours: HourlyTable, site: Site, now: pd.Timestamp | None = None) -> HourlyTable:
    """Return the table with notes on distance, doubtful values and an old forecast."""
    now = pd.Timestamp.now("UTC") if now is None else now
    notes = [*_distance(hours, site)]
    doubtful = [found for found in findings_of(hours) if found.doubtful]
    if doubtful and hours.provenance.kind == "observed":
        names = ", ".join(dict.fromkeys(found.column for found in doubtful))
        notes.append(
            f"{sum(found.hours for found in doubtful)} values of {names} look doubtful; they are "
            "used as they are: dewgap weather check tells which"
        )
    whence = hours.provenance
    since = whence.issued if whence.issued is not None else whence.retrieved
    if whence.kind == "forecast" and since is not None and now - since > _OLD:
        notes.append(
            f"OLD FORECAST: {(now - since) / pd.Timedelta(hours=1):.0f} h; fetch a new one before "
            "you go by it"
        )
    return replace(hours, warnings=(*hours.warnings, *notes))


def _distance(hours: HourlyTable, site: Site) -> list[str]:
    where = hours.provenance.location
    if where is None:
        return []
    away = distance_km(site.latitude, site.longitude, where.latitude, where.longitude)
    higher = 0.0 if where.elevation_m is None else where.elevation_m - site.elevation
    text = f"weather of {where.name}, {away:.0f} km ({away / _KM_PER_MILE:.0f} mi) from the roof"
    if abs(higher) >= 1:
        text += (
            f" and {abs(higher):.0f} m ({from_si(abs(higher), 'ft'):.0f} ft) "
            f"{'higher' if higher > 0 else 'lower'}"
        )
    if away > _FAR_KM or abs(higher) > _HIGH_M:
        text = f"ANOTHER PLACE: {text}; do not go by it without a look at the roof's own weather"
    return [text]
