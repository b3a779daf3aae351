"""Options that several commands share: their names, their help, what completes them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from windows.cli import complete

__all__ = [
    "AssumeCloud", "CacheDir", "Coatings", "CsvFile", "DryAtStart", "DryFilm", "ExcelFile",
    "FillCloud", "FormatOption", "From", "HistorySource", "JobOption", "Json", "LimitsOption",
    "MappingOption", "NowOption", "Offline", "OneCoating", "PageFile", "Refresh", "SiteArgument",
    "SourceOption", "Station", "SystemOption", "To", "Uncorrected", "UnitOption", "WeatherOption",
    "YearCount", "YearsOption",
]  # fmt: skip

_WEATHER, _YEARS, _OUTPUT = "Weather", "Years", "What comes out"
"""Headings in the help."""

SiteArgument = Annotated[
    Path,
    typer.Argument(
        metavar="SITE", autocompletion=complete.sites,
        help="Site file (TOML), or a folder with site.toml.",
    ),
]
Coatings = Annotated[
    list[str],
    typer.Option(
        "--coating", metavar="NAME", autocompletion=complete.coatings,
        help="Coating, or your own .toml; may be repeated.",
    ),
]
OneCoating = Annotated[
    str,
    typer.Option(
        "--coating", metavar="NAME", autocompletion=complete.coatings,
        help="Coating, or your own .toml file.",
    ),
]
WeatherOption = Annotated[
    Path | None,
    typer.Option(
        "--weather", metavar="FILE",
        rich_help_panel=_WEATHER,
        help="Hourly weather of any known format. Default: weather.csv beside the site file.",
    ),
]  # fmt: skip
FormatOption = Annotated[
    str | None,
    typer.Option(
        "--format", metavar="NAME", autocompletion=complete.formats,
        rich_help_panel=_WEATHER, help="Format of the file; default: by its content.",
    ),
]
MappingOption = Annotated[
    Path | None,
    typer.Option(
        "--mapping", metavar="FILE", rich_help_panel=_WEATHER,
        help="How to read a logger's table (TOML).",
    ),
]
SourceOption = Annotated[
    str | None,
    typer.Option(
        "--source", metavar="NAME", autocompletion=complete.forecasts,
        rich_help_panel=_WEATHER,
        help="Fetch the forecast of a service: auto, or one of dewgap weather sources.",
    ),
]  # fmt: skip
Offline = Annotated[
    bool,
    typer.Option(
        "--offline", rich_help_panel=_WEATHER,
        help="Ask no service: take what was fetched before.",
    ),
]
Refresh = Annotated[
    bool,
    typer.Option(
        "--refresh", rich_help_panel=_WEATHER,
        help="Ask the service even if the last answer is new.",
    ),
]
CacheDir = Annotated[
    Path | None,
    typer.Option(
        "--cache-dir", metavar="DIR", rich_help_panel=_WEATHER,
        help="Folder of fetched answers.",
    ),
]
From = Annotated[
    str | None, typer.Option("--from", metavar="DATE", help="First local day, as 2026-05-01.")
]
To = Annotated[
    str | None, typer.Option("--to", metavar="DATE", help="Last local day, as 2026-05-07.")
]
Json = Annotated[
    bool,
    typer.Option(
        "--json", rich_help_panel=_OUTPUT, help="Print JSON (SI, UTC) and nothing else."
    ),
]
UnitOption = Annotated[
    Literal["us", "si"],
    typer.Option(
        "--units", rich_help_panel=_OUTPUT,
        help="Units on screen: US trade units or SI.",
    ),
]
AssumeCloud = Annotated[
    float | None,
    typer.Option(
        "--assume-cloud", metavar="0-1", rich_help_panel=_WEATHER,
        help="Sky cover to assume where the weather has no cloud column; it is shown as assumed.",
    ),
]  # fmt: skip
Uncorrected = Annotated[
    bool,
    typer.Option(
        "--uncorrected", rich_help_panel=_WEATHER,
        help="Leave out what readings in the log have taught of this site.",
    ),
]
FillCloud = Annotated[
    float | None,
    typer.Option(
        "--assume-cloud", metavar="0-1", rich_help_panel=_YEARS,
        help="Sky cover to assume in hours that have none; how many is shown.",
    ),
]  # fmt: skip
YearsOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--years", metavar="FILE|history", rich_help_panel=_YEARS,
        help="Many years of hours, may be repeated; or history, to fetch them. Default: "
        "years.csv.gz beside the site file.",
    ),
]  # fmt: skip
HistorySource = Annotated[
    str,
    typer.Option(
        "--source", metavar="NAME", autocompletion=complete.histories,
        rich_help_panel=_YEARS, help="Of --years history: a source of histories.",
    ),
]
Station = Annotated[
    str | None,
    typer.Option(
        "--station", metavar="ID", rich_help_panel=_YEARS,
        help="Of --years history: its station.",
    ),
]
YearCount = Annotated[
    int,
    typer.Option(
        "--year-count", min=1, max=80, rich_help_panel=_YEARS,
        help="Of --years history: whole years back.",
    ),
]
CsvFile = Annotated[
    Path | None,
    typer.Option(
        "--csv", metavar="FILE", rich_help_panel=_OUTPUT,
        help="Write the table as CSV.",
    ),
]
ExcelFile = Annotated[
    Path | None,
    typer.Option(
        "--excel", metavar="FILE", rich_help_panel=_OUTPUT,
        help="Write all tables as a workbook (.xlsx).",
    ),
]
PageFile = Annotated[
    Path | None,
    typer.Option(
        "--page", metavar="FILE", rich_help_panel=_OUTPUT,
        help="Write a page (HTML) to look at.",
    ),
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
        autocompletion=complete.systems,
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
