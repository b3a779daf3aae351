"""``dewgap log read``: readings were taken on the roof."""

from __future__ import annotations

from typing import Annotated

import typer

from windows.cli.choices import takes_raw_weather
from windows.cli.log.entry import (
    EntryChoice,
    Instruments,
    Where,
    desk_of,
    measure,
    takes_entry,
    write,
)
from windows.cli.options import SiteArgument
from windows.errors import LogError, did_you_mean
from windows.weather_choice import WeatherChoice

__all__ = ["read"]

# Oktas of the words for sky cover in weather reports (WMO No. 306, FM 15 METAR: few 1-2,
# scattered 3-4, broken 5-7), taken in the middle of each.
_SKY = {"clear": 0.0, "few": 1.5 / 8, "scattered": 3.5 / 8, "broken": 6 / 8, "overcast": 1.0}
_POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW",
           "NW", "NNW")  # fmt: skip


@takes_entry
@takes_raw_weather
def read(
    site: SiteArgument,
    air: Annotated[
        str | None, typer.Option("--air", metavar="TEMP", help='Air, as "71 degF".')
    ] = None,
    surface: Annotated[
        str | None, typer.Option("--surface", metavar="TEMP", help='Surface, as "85 degF".')
    ] = None,
    humidity: Annotated[
        str | None, typer.Option("--rh", metavar="SHARE", help='Relative humidity, as "62 %".')
    ] = None,
    dew_point: Annotated[
        str | None,
        typer.Option("--dew-point", metavar="TEMP", help="As the instrument told it, if it did."),
    ] = None,
    wind: Annotated[
        str | None, typer.Option("--wind", metavar="SPEED", help='Wind, as "8 mph".')
    ] = None,
    gust: Annotated[str | None, typer.Option("--gust", metavar="SPEED", help="Gusts.")] = None,
    wind_from: Annotated[
        str | None,
        typer.Option("--wind-from", metavar="POINT", help="Where it blows from: NW, or 315."),
    ] = None,
    sky: Annotated[
        str | None,
        typer.Option(
            "--sky", metavar="COVER",
            help='clear, few, scattered, broken, overcast; or a share, as "40 %".',
        ),
    ] = None,
    section: Annotated[
        str | None, typer.Option("--section", metavar="NAME", help="Section, where it was one's.")
    ] = None,
    where: Where = "",
    instrument: Instruments = None,
    occasion: Annotated[
        str,
        typer.Option(
            "--for", metavar="OCCASION",
            help='"before start", "every 4 hours", change, "after a stop", finish, other.',
        ),
    ] = "",
    *,
    entry: EntryChoice,
    weather: WeatherChoice,
) -> None:
    """Record readings; the tool works out dew point and spread, and sets the source beside them.

    Example: dewgap log read demo_sites/cool_north --air "64 degF" --rh "62 %" --surface "71 degF"
    --section B --instrument TH-204 --by Ann --now 2026-09-22T14:20
    """
    from windows.log.entries import Reading

    desk = desk_of(site, entry, weather)
    write(
        desk, entry, Reading,
        section="" if section is None else desk.section(section).name, where=where,
        air_temp_c=measure("--air", air, "temperature"),
        surface_temp_c=measure("--surface", surface, "temperature"),
        rel_humidity=measure("--rh", humidity, "fraction"),
        dew_point_c=measure("--dew-point", dew_point, "temperature"),
        wind_m_s=measure("--wind", wind, "speed"), gust_m_s=measure("--gust", gust, "speed"),
        wind_from_deg=None if wind_from is None else _from(wind_from),
        cloud=None if sky is None else _cover(sky),
        instruments=instrument or [], occasion=occasion,
    )  # fmt: skip


def _from(text: str) -> float:
    """Return a direction by its point of the compass, or in degrees. [deg]"""
    point = text.strip().upper()
    if point in _POINTS:
        return _POINTS.index(point) * 22.5
    try:
        return float(point)
    except ValueError:
        raise LogError(
            f"--wind-from '{text}' is no direction; write a point as NW, or degrees as 315"
        ) from None


def _cover(text: str) -> float:
    """Return sky cover by its word, or as a share. [fraction]"""
    word = text.strip().lower()
    if word in _SKY:
        return _SKY[word]
    if word.isalpha():
        raise LogError(f"--sky '{text}' is not known; {did_you_mean(word, list(_SKY))}")
    return measure("--sky", text, "fraction") or 0.0
