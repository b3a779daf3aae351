"""``dewgap weather``: fetch, convert, check and keep hourly weather."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli.options import (
    CacheDir,
    FormatOption,
    Json,
    MappingOption,
    Offline,
    Refresh,
    SiteArgument,
    SourceOption,
)

if TYPE_CHECKING:
    from windows.history import History
    from windows.hours import HourlyTable

__all__ = ["app"]

app = typer.Typer(
    no_args_is_help=True, help="Hourly weather: services, files, quality, long histories."
)

FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE", help="Weather file of any known format.")
]
Out = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="Canonical CSV; a name with .gz is compressed."),
]


@app.command("sources")
def sources(as_json: Json = False) -> None:
    """List services and file formats, and what is set for them.

    Example: dewgap weather sources
    """
    from windows.cli.printing import line, print_json, table
    from windows.settings import load_settings, settings_path
    from windows.sources import LOGGER, SOURCES

    settings = load_settings()
    rows = [(source.NAME, source.KIND, source.HELP) for source in SOURCES]
    rows.append((LOGGER, "file", "table of a weather logger, read with --mapping"))
    contact, key = settings.contact or "", settings.open_meteo_key is not None
    if as_json:
        print_json(
            {
                "sources": [dict(zip(("name", "kind", "help"), row, strict=True)) for row in rows],
                "settings_file": str(settings_path()),
                "cache_dir": str(settings.cache_dir),
                "contact": contact or None,
                "open_meteo_key_set": key,
            }
        )
        return
    table(["name", "gives", "what it is"], [list(row) for row in rows])
    line(f"Settings: {settings_path()}{'' if settings_path().is_file() else ' (not there)'}")
    line(f"  contact: {contact or 'not set (nws and met_norway want one: DEWGAP_CONTACT)'}")
    line(f"  open_meteo_key: {'set' if key else 'not set (free tier, non-commercial use only)'}")
    line(f"Cache: {settings.cache_dir}")


@app.command("fetch")
def fetch(
    site: SiteArgument,
    out: Out,
    source: SourceOption = "auto",
    offline: Offline = False,
    refresh: Refresh = False,
    cache_dir: CacheDir = None,
    as_json: Json = False,
) -> None:
    """Fetch the forecast of a service at a site and write it as canonical CSV.

    Example: dewgap weather fetch demo_sites/cool_north --source nws --out week.csv
    """
    from windows.site import load_site
    from windows.weather import fetched, told
    from windows.weather_choice import WeatherChoice

    place = load_site(site)
    choice = WeatherChoice(source=source, offline=offline, refresh=refresh, cache_dir=cache_dir)
    hours = fetched(place, choice)
    _save(hours, out)  # without what is told of this site, which its reader is told again
    _tell(told(hours, place), out, as_json)


@app.command("convert")
def convert(
    file: FileArgument,
    out: Out,
    form: FormatOption = None,
    mapping: MappingOption = None,
    as_json: Json = False,
) -> None:
    """Write a weather file of any known format as canonical CSV.

    Example: dewgap weather convert station.psv --out station.csv
    """
    from windows.sources import read_weather

    hours = read_weather(file, form=form, mapping=mapping)
    _save(hours, out)
    _tell(hours, out, as_json)


@app.command("check")
def check(
    file: FileArgument,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write the table with its flags (CSV, .gz)."),
    ] = None,
    form: FormatOption = None,
    mapping: MappingOption = None,
    as_json: Json = False,
) -> None:
    """Check a weather file: what is known, what is doubtful. Nothing is mended or filled.

    Example: dewgap weather check demo_sites/cool_north/weather.csv
    """
    from windows.cli.printing import print_json
    from windows.quality import screen
    from windows.sources import read_weather

    hours = screen(read_weather(file, form=form, mapping=mapping))
    if out is not None:
        _save(hours, out)
    if as_json:
        print_json(_dict(hours) | ({} if out is None else {"file": str(out.resolve())}))
        return
    _show(hours)
    if out is not None:
        typer.echo(f"Flagged table: {out.resolve()}")


@app.command("mapping")
def mapping(file: FileArgument) -> None:
    """Print a mapping for a logger's table, for you to complete.

    Example: dewgap weather mapping logger.csv > logger.toml
    """
    from windows.sources import csv_cells, logger

    typer.echo(logger.proposal(csv_cells.content_of(file, "weather file"), str(file)), nl=False)


@app.command("cache")
def cache(
    clear: Annotated[bool, typer.Option("--clear", help="Forget all that was fetched.")] = False,
    cache_dir: CacheDir = None,
    as_json: Json = False,
) -> None:
    """Show what was fetched and is kept, or forget it.

    Example: dewgap weather cache
    """
    from windows.cli.printing import line, print_json, table
    from windows.settings import load_settings
    from windows.web import Web, clear_cache

    settings = load_settings(cache_dir)
    if clear:
        clear_cache(settings)
    web = Web(settings)
    try:
        entries = web.entries()
    finally:
        web.close()
    if as_json:
        print_json(
            {
                "cache_dir": str(settings.cache_dir),
                "answers": [
                    {"address": p, "bytes": n, "fetched": f"{t:%Y-%m-%dT%H:%M:%SZ}", "old": old}
                    for p, n, t, old in entries
                ],
            }
        )
        return
    line(f"{settings.cache_dir}: {len(entries)} answers kept")
    if entries:
        table(
            ["address", "kB", "fetched (UTC)", "counts as"],
            [
                [p, f"{n / 1000:.0f}", f"{t:%Y-%m-%d %H:%M}", "old" if old else "new"]
                for p, n, t, old in entries
            ],
        )


@app.command("history")
def history(
    site: SiteArgument,
    out: Out,
    years: Annotated[int, typer.Option("--years", min=1, max=80, help="Whole years back.")] = 30,
    last_year: Annotated[
        int | None, typer.Option("--last-year", help="Last of them; default: the last whole one.")
    ] = None,
    source: Annotated[
        str, typer.Option("--source", metavar="NAME", help="meteostat or open_meteo_archive.")
    ] = "meteostat",
    station: Annotated[
        str | None, typer.Option("--station", metavar="ID", help="Station of Meteostat.")
    ] = None,
    files: Annotated[
        list[Path] | None,
        typer.Option("--file", metavar="FILE", help="Join files instead; may be repeated."),
    ] = None,
    allow_partial: Annotated[
        bool, typer.Option("--allow-partial", help="Go on without years that cannot be fetched.")
    ] = False,
    offline: Offline = False,
    refresh: Refresh = False,
    cache_dir: CacheDir = None,
    as_json: Json = False,
) -> None:
    """Fetch many years of hours, and tell how much of each month is known.

    An interrupted fetch goes on where it stopped: run the same command again.

    Example: dewgap weather history demo_sites/cool_north --years 30 --out history.csv.gz
    """
    from windows.cli.printing import print_json
    from windows.history import History, coverage, join
    from windows.site import load_site
    from windows.sources import read_weather

    place = load_site(site)
    if files:
        found = History(join([read_weather(file) for file in files]), ())
    else:
        from datetime import UTC, datetime

        from windows.cli.progress import bar
        from windows.weather_choice import YearsChoice
        from windows.years import fetched_years

        choice = YearsChoice((), source, station, years, offline, cache_dir)
        today = datetime.now(UTC).date()
        with bar("years", years) as told:
            found = fetched_years(
                place, choice, today.year - 1 if last_year is None else last_year, today,
                allow_partial=allow_partial, refresh=refresh,
                report=lambda year: told(f"{year.year} {year.outcome}"),
            )  # fmt: skip
    _save(found.hours, out)
    months = coverage(found.hours)
    if as_json:
        print_json(
            _dict(found.hours)
            | {
                "file": str(out.resolve()),
                "years": [
                    {"year": y.year, "outcome": y.outcome, "reason": y.reason} for y in found.years
                ],
                "months": [
                    {
                        "month": m.month,
                        "years": m.years,
                        "known": m.known,
                        "short_years": list(m.short),
                    }
                    for m in months
                ],
            }
        )
        return
    _show_history(found, months, out)


def _save(hours: HourlyTable, out: Path) -> None:
    import gzip

    from windows.reports.output import write_whole
    from windows.sources.canonical_csv import write

    content = write(hours)
    write_whole(out, gzip.compress(content, 6, mtime=0) if out.suffix == ".gz" else content)


def _tell(hours: HourlyTable, out: Path, as_json: bool) -> None:
    from windows.cli.printing import line, print_json

    if as_json:
        print_json(_dict(hours) | {"file": str(out.resolve())})
        return
    _show(hours)
    line(f"Canonical CSV: {out.resolve()}")


def _show(hours: HourlyTable) -> None:
    """Show where hours come from, what of them is known, and what speaks against them."""
    from windows.cli.printing import line, table
    from windows.cli.show import show_weather
    from windows.hours import COLUMNS
    from windows.notes import weather_notes
    from windows.quality import columns_of, findings_of

    show_weather(hours)
    line(f"         {len(hours.index)} hours, {hours.index[0]:%Y-%m-%d %H:%M} to "
         f"{hours.index[-1]:%Y-%m-%d %H:%M} UTC (starts)")  # fmt: skip
    for note in weather_notes(hours):
        line(f"  note: {note}")
    line()
    table(
        ["column", "unit", "known", "least", "most", "longest gap"],
        [
            [
                c.name, COLUMNS[c.name].unit, f"{c.known:.1%}",
                *(("", "") if c.known == 0 else (f"{c.least:.4g}", f"{c.most:.4g}")),
                f"{c.longest_gap_h} h" if c.longest_gap_h else "none",
            ]
            for c in columns_of(hours)
        ],
    )  # fmt: skip
    found = findings_of(hours)
    if not found:
        line("No value is flagged.")
        return
    table(
        ["column", "flag", "hours", "first (UTC)", "meaning"],
        [
            [
                f.column, str(f.flag.name).lower(), str(f.hours), f"{f.first:%Y-%m-%d %H:%M}",
                f.meaning,
            ]
            for f in found
        ],
        title="Flags: what is not said to be unknown stands as it is",
    )  # fmt: skip


def _dict(hours: HourlyTable) -> dict[str, Any]:
    from math import isnan

    from windows.quality import columns_of, findings_of
    from windows.reports.as_json import utc_text, weather_dict

    return {
        "weather": weather_dict(hours),
        "columns": [
            {
                "name": c.name,
                "known": c.known,
                "least": None if isnan(c.least) else c.least,
                "most": None if isnan(c.most) else c.most,
                "longest_gap_h": c.longest_gap_h,
            }
            for c in columns_of(hours)
        ],
        "flags": [
            {
                "column": f.column,
                "flag": str(f.flag.name).lower(),
                "hours": f.hours,
                "first": utc_text(f.first),
                "meaning": f.meaning,
            }
            for f in findings_of(hours)
        ],
    }


def _show_history(found: History, months: list[Any], out: Path) -> None:
    from calendar import month_abbr
    from collections import Counter

    from windows.cli.printing import line, table
    from windows.cli.show import show_weather
    from windows.notes import weather_notes

    hours = found.hours
    show_weather(hours)
    line(f"         {len(hours.index)} hours, {hours.index[0]:%Y-%m-%d} to "
         f"{hours.index[-1]:%Y-%m-%d}")  # fmt: skip
    outcomes = Counter(year.outcome for year in found.years)
    if outcomes:
        line("Years: " + ", ".join(f"{count} {name}" for name, count in outcomes.items()))
    for note in weather_notes(hours):
        line(f"  note: {note}")
    line()
    table(
        ["month", "rain known", "air temperature", "wind", "years that count", "short years"],
        [
            [
                month_abbr[m.month], *(f"{share:.0%}" for share in m.known.values()), str(m.years),
                _some(m.short),
            ]
            for m in months
        ],
        title="Share of hours known; a year counts in a month with 90 % of all three",
    )  # fmt: skip
    line(f"History: {out.resolve()}")


def _some(years: tuple[int, ...]) -> str:
    shown = ", ".join(str(year) for year in years[:6])
    return f"{shown} and {len(years) - 6} more" if len(years) > 6 else shown or "none"
