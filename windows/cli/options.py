"""Options that several commands share, and what they turn into."""

from __future__ import annotations

import functools
import inspect
import os
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_type_hints

import typer

from windows.errors import DewgapError, HoursError
from windows.weather_choice import WeatherChoice, YearsChoice

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.layers import SystemHours
    from windows.site import Site

__all__ = [
    "CacheDir", "Coatings", "CsvFile", "DryAtStart", "DryFilm", "ExcelFile", "FormatOption", "From",
    "JobOption", "Json", "LimitsOption", "MappingOption", "NowOption", "Offline", "OneCoating",
    "PageFile", "Refresh", "SiteArgument", "SourceOption", "SystemOption", "To", "UnitOption",
    "day", "day_bounds", "days", "dry_film_um", "inputs", "load_hours", "load_layers",
    "load_taught", "load_years", "moment", "present", "quantity", "takes_forecasts",
    "takes_raw_weather", "takes_weather", "takes_years", "with_options", "write_files",
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
        help="Hourly weather of any known format. Default: weather.csv beside the site file.",
    ),
]  # fmt: skip
FormatOption = Annotated[
    str | None,
    typer.Option("--format", metavar="NAME", help="Format of the file; default: by its content."),
]
MappingOption = Annotated[
    Path | None,
    typer.Option("--mapping", metavar="FILE", help="How to read a logger's table (TOML)."),
]
SourceOption = Annotated[
    str | None,
    typer.Option(
        "--source", metavar="NAME",
        help="Fetch the forecast of a service: auto, or one of dewgap weather sources.",
    ),
]  # fmt: skip
Offline = Annotated[
    bool, typer.Option("--offline", help="Ask no service: take what was fetched before.")
]
Refresh = Annotated[
    bool, typer.Option("--refresh", help="Ask the service even if the last answer is new.")
]
CacheDir = Annotated[
    Path | None, typer.Option("--cache-dir", metavar="DIR", help="Folder of fetched answers.")
]
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
Uncorrected = Annotated[
    bool,
    typer.Option(
        "--uncorrected", help="Leave out what readings in the log have taught of this site."
    ),
]
FillCloud = Annotated[
    float | None,
    typer.Option(
        "--assume-cloud", metavar="0-1",
        help="Sky cover to assume in hours that have none; how many is shown.",
    ),
]  # fmt: skip
YearsOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--years", metavar="FILE|history",
        help="Many years of hours, may be repeated; or history, to fetch them. Default: "
        "years.csv.gz beside the site file.",
    ),
]  # fmt: skip
HistorySource = Annotated[
    str,
    typer.Option("--source", metavar="NAME", help="Of --years history: a source of histories."),
]
Station = Annotated[
    str | None, typer.Option("--station", metavar="ID", help="Of --years history: its station.")
]
YearCount = Annotated[
    int,
    typer.Option("--year-count", min=1, max=80, help="Of --years history: whole years back."),
]
CsvFile = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the table as CSV.")
]
ExcelFile = Annotated[
    Path | None,
    typer.Option("--excel", metavar="FILE", help="Write all tables as a workbook (.xlsx)."),
]
PageFile = Annotated[
    Path | None, typer.Option("--page", metavar="FILE", help="Write a page (HTML) to look at.")
]
DryAtStart = Annotated[
    bool, typer.Option("--dry-at-start", help="You looked: the roof is dry before the first hour.")
]
DryFilm = Annotated[
    str | None,
    typer.Option(
        "--dry-film", metavar="THICKNESS", help='Dry film of the coat, as "24 mil" or "600 um".'
    ),
]
SystemOption = Annotated[
    str | None,
    typer.Option(
        "--system", metavar="NAME",
        help="System, or your own .toml file. Default: the one that the job file names.",
    ),
]  # fmt: skip
JobOption = Annotated[
    Path | None,
    typer.Option("--job", metavar="FILE", help="Job file. Default: job.toml beside the site file."),
]
NowOption = Annotated[
    str | None,
    typer.Option(
        "--now", metavar="TIME",
        help="The present by the site's clock, as 2026-05-01T17:00. Default: the real one.",
    ),
]  # fmt: skip
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


def moment(option: str, text: str, site: Site) -> pd.Timestamp:
    """Return the moment that an option names, by the site's clock unless it has an offset. UTC."""
    from windows.fields import local_moment

    try:
        return local_moment(text, site.zone)
    except ValueError as fault:
        raise DewgapError(f"{option}: {fault}") from None


def present(now: str | None, site: Site) -> pd.Timestamp:
    """Return the present, or the moment that stands for it. UTC."""
    import pandas as pd

    return pd.Timestamp.now("UTC") if now is None else moment("--now", now, site)


def quantity(option: str, text: str, dimension: str) -> float:
    """Return a number with a unit as an option gives it. [SI]"""
    from cure_models.units import UnitError, parse_quantity

    try:
        return parse_quantity(text, dimension)
    except UnitError as fault:
        raise DewgapError(f"{option}: {fault}") from None


_WEATHER: dict[str, tuple[Any, object]] = {
    "file": (WeatherOption, None),
    "form": (FormatOption, None),
    "mapping": (MappingOption, None),
    "source": (SourceOption, None),
    "offline": (Offline, False),
    "refresh": (Refresh, False),
    "cache_dir": (CacheDir, None),
    "assume_cloud": (AssumeCloud, None),
    "uncorrected": (Uncorrected, False),
}


_YEARS: dict[str, tuple[Any, object]] = {
    "files": (YearsOption, None),
    "source": (HistorySource, "open_meteo_archive"),
    "station": (Station, None),
    "count": (YearCount, 30),
    "offline": (Offline, False),
    "cache_dir": (CacheDir, None),
    "assume_cloud": (FillCloud, None),
}


def takes_weather(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that choose its weather, in place of its ``weather`` parameter."""
    return with_options(command, "weather", _WEATHER, WeatherChoice)


def takes_raw_weather(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of `takes_weather` that takes weather as its source gave it."""
    options = {name: given for name, given in _WEATHER.items() if name != "uncorrected"}
    return with_options(command, "weather", options, WeatherChoice)


def takes_forecasts(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command of many sites the options of `takes_weather` that do not name one file."""
    of_one_file = {"file", "form", "mapping"}
    options = {name: given for name, given in _WEATHER.items() if name not in of_one_file}
    return with_options(command, "weather", options, WeatherChoice)


def takes_years(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that choose its years, in place of its ``years`` parameter."""

    def chosen(files: list[Path] | None, **given: Any) -> YearsChoice:
        return YearsChoice(tuple(files or ()), **given)

    return with_options(command, "years", _YEARS, chosen)


def with_options(
    command: Callable[..., None],
    replaced: str,
    options: dict[str, tuple[Any, object]],
    choice: Callable[..., object],
) -> Callable[..., None]:
    """Give a command options in place of one parameter, which gets what ``choice`` makes of them.

    ``options`` are names with their annotation and their default.
    """
    hints = get_type_hints(command, include_extras=True)
    parameters = []
    for parameter in inspect.signature(command).parameters.values():
        if parameter.name == replaced:
            parameters += [
                inspect.Parameter(
                    name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=option
                )
                for name, (option, default) in options.items()
            ]
        else:
            parameters.append(
                parameter.replace(
                    kind=inspect.Parameter.KEYWORD_ONLY, annotation=hints[parameter.name]
                )
            )

    @functools.wraps(command)
    def run(**given: Any) -> None:
        made = choice(**{name: given.pop(name) for name in options})
        command(**{replaced: made}, **given)

    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in parameters}
    del run.__wrapped__
    return run


def load_hours(site: Site, site_path: Path, weather: WeatherChoice) -> HourlyTable:
    """Return the weather of a command: what is chosen, else the file beside the site."""
    from windows.weather import weather_of

    folder = site_path if site_path.is_dir() else site_path.parent
    return weather_of(site, weather, folder / "weather.csv")


def load_taught(
    site: Site,
    site_path: Path,
    weather: WeatherChoice,
    now: pd.Timestamp | None = None,
    job: Path | None = None,
) -> tuple[Site, HourlyTable]:
    """Return site and weather as readings in the log beside the job file have taught them.

    Without ``now`` those count up to the end of the weather, and none of the future.
    """
    import pandas as pd

    from windows.field.lessons import taught
    from windows.job_file import log_of

    table = load_hours(site, site_path, weather)
    if weather.uncorrected:
        return site, table
    present = now or min(pd.Timestamp.now("UTC"), table.index[-1])
    return taught(log_of(site_path, job), site, table, present)


def inputs(site: Path, *given: Path | str | None) -> list[Path]:
    """Return what a command may read, so that it writes over none: the site's files, and options.

    A name of a shipped coating or system among the options is no file, and does no harm.
    """
    folder = site if site.is_dir() else site.parent
    beside = ("site.toml", "job.toml", "weather.csv", "years.csv.gz")
    return [site, *(folder / name for name in beside), *(Path(g) for g in given if g is not None)]


def write_files(
    files: Sequence[tuple[Path, str | bytes]], read: Sequence[Path]
) -> list[str]:
    """Write output files, none over one that is read; return where they are."""
    from windows.reports.output import apart, write_whole

    apart([path for path, _ in files], read)
    for path, content in files:
        write_whole(path, content)
    return [os.path.abspath(path) for path, _ in files]


def load_years(site: Site, site_path: Path, choice: YearsChoice) -> HourlyTable:
    """Return the years of a command: what is chosen, else the file beside the site."""
    from windows.cli.progress import bar
    from windows.years import years_of

    folder = site_path if site_path.is_dir() else site_path.parent
    with bar("years", choice.count) as told:
        return years_of(
            site, choice, folder / "years.csv.gz", lambda year: told(f"{year.year} {year.outcome}")
        )


def load_layers(
    site: Site,
    site_path: Path,
    system: System,
    weather: WeatherChoice,
    *,
    limits: Literal["careful", "generic", "lenient"],
    dry_at_start: bool,
    now: pd.Timestamp | None = None,
    job: Path | None = None,
) -> SystemHours:
    """Return the layers of a system in the weather of a command, as readings have taught it.

    ``now`` is the present, up to which they count, ``job`` the file beside which their log is.
    """
    from windows.layers import system_hours

    site, table = load_taught(site, site_path, weather, now, job)
    wet = 0.0 if dry_at_start else None
    return system_hours(site, system, table, limits=limits, start_wet_mm=wet)


def days(table: HourlyTable, site: Site, first_day: str | None, last_day: str | None) -> slice:
    """Return the rows of the local days from ``first_day`` to ``last_day``."""
    return table.span(*day_bounds(first_day, last_day, site))


def day_bounds(
    first_day: str | None, last_day: str | None, site: Site
) -> tuple[pd.Timestamp | None, pd.Timestamp | None]:
    """Return when the local days from ``first_day`` to ``last_day`` begin and end. UTC."""
    start, end = _midnight(first_day, site, "--from", 0), _midnight(last_day, site, "--to", 1)
    if start is not None and end is not None and start >= end:
        raise HoursError(f"--from {first_day} is after --to {last_day}; exchange them")
    return start, end


def day(option: str, text: str) -> date:
    """Return the day that an option names."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise HoursError(f"{option} '{text}' is not a date; write it as 2026-05-01") from None
    if not 1900 <= found.year <= 2200:
        raise HoursError(f"{option} {text} is not a year of the weather; write it as 2026-05-01")
    return found


def _midnight(text: str | None, site: Site, option: str, days_later: int) -> pd.Timestamp | None:
    if text is None:
        return None
    import pandas as pd

    local = pd.Timestamp(day(option, text) + timedelta(days=days_later)).tz_localize(
        site.zone, nonexistent="shift_forward", ambiguous=True
    )
    return local.tz_convert("UTC")
