"""``dewgap hours``: the whole working of one coating, one row an hour."""

from __future__ import annotations

from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli.choices import takes_weather
from windows.cli.inputs import load_taught
from windows.cli.options import (
    DryAtStart,
    DryFilm,
    Json,
    LimitsOption,
    OneCoating,
    SiteArgument,
    UnitOption,
)
from windows.cli.values import dry_film_um
from windows.errors import OutputError
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from windows.job import Job
    from windows.reports.wording import UnitSystem

__all__ = ["hours"]


@takes_weather
def hours(
    site: SiteArgument,
    coating: OneCoating,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="OUT", help="Write the table to this file; - is the screen."),
    ] = None,
    dry_film: DryFilm = None,
    dry_at_start: DryAtStart = False,
    limits: LimitsOption = "generic",
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Show the whole working, hour by hour: weather, roof, cure rate, gates, verdict.

    The CSV is the audit trail: SI, UTC, empty = unknown. With "dewgap coatings show NAME --json"
    anyone can recompute every column after cure_rate, crew safety excepted.

    Example: dewgap hours demo_sites/cool_north --coating acrylic --csv hours.csv
    """
    from cure_models import load_profile
    from windows.cli.printing import line, print_json, print_text
    from windows.job import run_job
    from windows.reports.audit import audit_table, to_csv
    from windows.reports.output import write_whole
    from windows.site import load_site

    if as_json and str(csv) == "-":
        raise OutputError("--csv - and --json both want the screen; give --csv a file name")
    place = load_site(site)
    profile = load_profile(coating)
    place, table = load_taught(place, site, weather)
    job = run_job(
        place, profile, table,
        dry_film_um=dry_film_um(dry_film), start_wet_mm=0.0 if dry_at_start else None,
        limits=limits,
    )  # fmt: skip
    audit = audit_table(job)
    if csv is not None and str(csv) != "-":
        write_whole(csv, to_csv(audit))
    if as_json:
        rows = audit.astype(object).where(audit.notna() & (audit != ""), None)
        print_json({"coating": job.coating.name, "hours": rows.to_dict(orient="records")})
    elif csv is None:
        _show(job, units)
    elif str(csv) == "-":
        print_text(to_csv(audit))
    else:
        line(f"{len(audit)} hours, {len(audit.columns)} columns: {csv.resolve()}")


def _show(job: Job, units: UnitSystem) -> None:
    """Show the hours of the shifts, in a table that fits a screen."""
    from windows.cli.printing import line, table
    from windows.gates import State
    from windows.reports.audit import why_not
    from windows.reports.wording import Wording

    why = why_not(job)
    words, at_roof, found = Wording(units, job.site.zone), job.conditions, job.found

    def shown(name: str, hour: int, dimension: str) -> str:
        value = float(at_roof.quantity(name)[hour])
        return "" if isnan(value) else words.value(value, dimension)

    rows = []
    for hour in (found.crew == State.OK).nonzero()[0]:
        rows.append(
            [
                words.clock(job.hours.index[hour]),
                shown("air_temp_c", hour, "temperature"),
                shown("surface_temp_c", hour, "temperature"),
                f"{shown('surface_low_c', hour, 'temperature')} to "
                f"{shown('surface_high_c', hour, 'temperature')}",
                shown("spread_c", hour, "difference"),
                shown("rel_humidity", hour, "fraction"),
                shown("wind_m_s", hour, "speed"),
                shown("rain_mm", hour, "water"),
                State(found.hour[hour]).name,
                _stop_first(why[hour]),
            ]
        )
    columns = (
        "hour", "air", "surface", "dry, low to high", "spread", "RH", "wind", "rain", "verdict",
        "why",
    )  # fmt: skip
    table(columns, rows, title=f"Crew hours of {job.site.name}, {job.coating.name}")
    line("Low to high: one standard error of the model of the dry surface; a sensor has none.")
    line("Every hour and every column: --csv OUT")


def _stop_first(why: str) -> str:
    """Return reasons with a stop for people, known or not, before those of the coating."""
    names = why.split(", ")
    stops = [name for name in names if name.startswith("crew_safety")]
    others = [name for name in names if name not in stops]
    return ", ".join([*(f"STOP {name.replace('_', ' ')}" for name in stops), *others])
