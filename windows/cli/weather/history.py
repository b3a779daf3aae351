"""``dewgap weather history``: many years of hours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli.options import CacheDir, Json, Offline, Refresh, SiteArgument
from windows.cli.weather.table import Out, hours_dict, save

if TYPE_CHECKING:
    from windows.history import History

__all__ = ["history"]


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

    Example: dewgap weather history demo_sites/cool_north
    --file demo_sites/cool_north/years.csv.gz --out joined.csv.gz
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
    save(found.hours, out)
    months = coverage(found.hours)
    if as_json:
        print_json(
            hours_dict(found.hours)
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
