"""Options that several commands share, and what they turn into."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from windows.errors import DewgapError, HoursError, SiteError

if TYPE_CHECKING:
    import pandas as pd

    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = [
    "AssumeCloud", "Coatings", "DryAtStart", "DryFilm", "From", "Json", "LimitsOption",
    "OneCoating", "SiteArgument", "To", "UnitOption", "WeatherOption", "days", "dry_film_um",
    "load_hours", "quantity",
]  # fmt: skip

SiteArgument = Annotated[
    Path, typer.Argument(metavar="SITE", help="Site file (TOML), or a folder with site.toml.")
]
Coatings = Annotated[
    list[str],
    typer.Option("--coating", metavar="NAME", help="Coating, or your own .toml; may be repeated."),
]
OneCoating = Annotated[
    str, typer.Option("--coating", metavar="NAME", help="Coating, or your own .toml file.")
]
WeatherOption = Annotated[
    Path | None,
    typer.Option(
        "--weather", metavar="FILE",
        help="Hourly weather: canonical CSV or EPW. Default: weather.csv beside the site file.",
    ),
]  # fmt: skip
From = Annotated[
    str | None, typer.Option("--from", metavar="DATE", help="First local day, as 2026-05-01.")
]
To = Annotated[
    str | None, typer.Option("--to", metavar="DATE", help="Last local day, as 2026-05-07.")
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON (SI, UTC) and nothing else.")]
UnitOption = Annotated[
    Literal["us", "si"], typer.Option("--units", help="Units on screen: US trade units or SI.")
]
AssumeCloud = Annotated[
    float | None,
    typer.Option(
        "--assume-cloud", metavar="0-1",
        help="Sky cover to assume where the weather has no cloud column; it is shown as assumed.",
    ),
]  # fmt: skip
DryAtStart = Annotated[
    bool, typer.Option("--dry-at-start", help="You looked: the roof is dry before the first hour.")
]
DryFilm = Annotated[
    str | None,
    typer.Option(
        "--dry-film", metavar="THICKNESS", help='Dry film of the coat, as "24 mil" or "600 um".'
    ),
]
LimitsOption = Annotated[
    Literal["careful", "generic", "lenient"],
    typer.Option(
        "--limits",
        help="End of every range across products: the stricter, the value, or the looser one.",
    ),
]


def dry_film_um(text: str | None) -> float | None:
    """Return the dry film of the option. [um]"""
    return None if text is None else quantity("--dry-film", text, "film")


def quantity(option: str, text: str, dimension: str) -> float:
    """Return a number with a unit as an option gives it. [SI]"""
    from cure_models.units import UnitError, parse_quantity

    try:
        return parse_quantity(text, dimension)
    except UnitError as fault:
        raise DewgapError(f"{option}: {fault}") from None


def load_hours(
    site_path: Path, weather: Path | None, assume_cloud: float | None = None
) -> HourlyTable:
    """Read the weather of a command: the file named, else the one beside the site."""
    from windows.sources import read_weather

    if weather is None:
        folder = site_path if site_path.is_dir() else site_path.parent
        weather = folder / "weather.csv"
        if not weather.is_file():
            raise SiteError(
                f"{weather}: there is no such file and no --weather is given; name a weather file "
                "with --weather"
            )
    table = read_weather(weather)
    return table if assume_cloud is None else table.assume("cloud", assume_cloud)


def days(table: HourlyTable, site: Site, first_day: str | None, last_day: str | None) -> slice:
    """Return the rows of the local days from ``first_day`` to ``last_day``."""
    start, end = _midnight(first_day, site, "--from", 0), _midnight(last_day, site, "--to", 1)
    if start is not None and end is not None and start >= end:
        raise HoursError(f"--from {first_day} is after --to {last_day}; exchange them")
    return table.span(start, end)


def _midnight(day: str | None, site: Site, option: str, days_later: int) -> pd.Timestamp | None:
    if day is None:
        return None
    from datetime import date, timedelta

    import pandas as pd

    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise HoursError(f"{option} '{day}' is not a date; write it as 2026-05-01") from None
    if not 1900 <= wanted.year <= 2200:
        raise HoursError(f"{option} {day} is not a year of the weather; write it as 2026-05-01")
    local = pd.Timestamp(wanted + timedelta(days=days_later)).tz_localize(
        site.zone, nonexistent="shift_forward", ambiguous=True
    )
    return local.tz_convert("UTC")
