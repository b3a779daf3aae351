"""What a command reads and writes: weather, years, layers, files."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.layers import SystemHours
    from windows.site import Site
    from windows.weather_choice import WeatherChoice, YearsChoice

__all__ = [
    "inputs", "load_hours", "load_layers", "load_taught", "load_years", "write_files",
]  # fmt: skip


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
