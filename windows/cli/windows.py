"""``dewgap windows``: application windows of coatings at a site."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from windows.cli.choices import takes_weather
from windows.cli.exit_status import ExitStatus
from windows.cli.inputs import load_taught
from windows.cli.options import (
    Coatings,
    DryAtStart,
    DryFilm,
    From,
    Json,
    LimitsOption,
    PageFile,
    SiteArgument,
    To,
    UnitOption,
)
from windows.cli.values import days, dry_film_um
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.job import Job

__all__ = ["windows"]


@takes_weather
def windows(
    site: SiteArgument,
    coating: Coatings,
    first_day: From = None,
    last_day: To = None,
    page: PageFile = None,
    dry_film: DryFilm = None,
    dry_at_start: DryAtStart = False,
    limits: LimitsOption = "generic",
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Find the hours in which coatings can be laid, and why the others cannot.

    Example: dewgap windows demo_sites/cool_north --coating acrylic --page week.html
    """
    from cure_models import load_profile
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.cli.show import show_closing, show_job, show_site
    from windows.conditions import roof_in_table
    from windows.job import run_job
    from windows.reports.as_json import job_dict
    from windows.site import load_site

    place = load_site(site)
    profiles = [load_profile(name) for name in dict.fromkeys(coating)]
    place, table = load_taught(place, site, weather)
    span = days(table, place, first_day, last_day)
    roof = roof_in_table(table, place, start_wet_mm=0.0 if dry_at_start else None)
    with busy("looking for windows"):
        jobs = [
            run_job(
                place, profile, table,
                dry_film_um=dry_film_um(dry_film), limits=limits, roof=roof, span=span,
            )
            for profile in profiles
        ]  # fmt: skip
    if page is not None:
        from windows.reports.output import write_whole
        from windows.reports.page import render

        write_whole(page, render(jobs, units))
    if as_json:
        print_json({"jobs": [job_dict(job) for job in jobs]})
    else:
        show_site(jobs[0], units)
        for job in jobs:
            show_job(job, units)
        show_closing(jobs)
        if page is not None:
            line(f"Page: {page.resolve()}")
    raise typer.Exit(_status(jobs))


def _status(jobs: Sequence[Job]) -> ExitStatus:
    """Return yes where one coating has a window; not known decides before no."""
    if any(job.found.windows for job in jobs):
        return ExitStatus.DONE
    if any(job.found.provisional for job in jobs):
        return ExitStatus.UNDETERMINED
    return ExitStatus.NO
