"""What is given to the frames of a job: its folder, the present, its weather."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from cure_models.profile import Profile
from cure_models.profile_files import load_profile
from windows.errors import DewgapError, HoursError
from windows.field.lessons import taught
from windows.fields import local_moment
from windows.frames.checks import (
    require_hours,
    require_limits,
    require_path,
    require_site,
    require_truth,
)
from windows.job_file import load_job, log_of
from windows.layers import system_hours
from windows.quality import screen
from windows.site import load_site
from windows.system_check import system_for
from windows.weather import told, weather_of
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from cure_models.coating import Limits
    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.site import Site

__all__ = ["Given", "beside", "corrected", "given_job", "moment", "profile_of"]


@dataclass(frozen=True)
class Given:
    """A job as its folder tells it: site, job file, system, and the present in UTC."""

    path: Path
    job_path: Path | None
    site: Site
    file: JobFile
    system: System
    now: pd.Timestamp

    def layers(
        self,
        hours: HourlyTable | None,
        limits: Limits,
        *,
        dry_at_start: bool,
        crew: Site | None = None,
    ) -> SystemHours:
        """Return the system in its weather, as readings in the job's log have taught it.

        ``hours`` None takes the file beside the site; ``crew`` is the site with other crew hours.
        """
        require_limits(limits)
        require_truth("dry_at_start", dry_at_start)
        site = crew or self.site
        if hours is None:
            place = beside(self.path, "weather.csv", "hours=read_weather(...)")
            hours = weather_of(site, WeatherChoice(), place, self.now)
        else:
            require_hours("hours", hours)
            hours = told(screen(hours), site, self.now)
        site, hours = taught(log_of(self.path, self.job_path), site, hours, self.now)
        wet = 0.0 if dry_at_start else None
        return system_hours(site, self.system, hours, limits=limits, start_wet_mm=wet)


def given_job(
    folder: Path | str,
    now: datetime | str | None,
    job: Path | str | None,
    system: Path | str | None,
    *,
    losses: bool = False,
) -> Given:
    """Return the job of a folder; see `windows.job_file.load_job` for ``losses``.

    Raises
    ------
    DewgapError
        If a file is missing or has a fault, the system is none, or ``now`` is no time.
    """
    require_path("folder", folder)
    for name, given in (("job", job), ("system", system)):
        if given is not None:
            require_path(name, given)
    path, job_path = Path(folder), None if job is None else Path(job)
    site = load_site(path)
    file = load_job(path, job_path, losses=losses)
    chosen = system_for(file, None if system is None else os.fspath(system))
    return Given(path, job_path, site, file, chosen, moment(now, site.zone))


def moment(now: datetime | str | None, zone: ZoneInfo) -> pd.Timestamp:
    """Return the present, or what stands for it, by a site's clock unless it has a zone. UTC.

    >>> from zoneinfo import ZoneInfo
    >>> moment("2026-09-22T17:00", ZoneInfo("America/Chicago")).isoformat()
    '2026-09-22T22:00:00+00:00'

    Raises
    ------
    DewgapError
        If it is no time, or one that the clock has not or has twice.
    """
    if now is None:
        return pd.Timestamp.now("UTC")
    try:
        return local_moment(now, zone)
    except ValueError as fault:
        raise DewgapError(f"now: {fault}") from None


def beside(path: Path, name: str, otherwise: str) -> Path:
    """Return a file beside a site file, or say what can be given in its place.

    Raises
    ------
    HoursError
        If there is none; it says what can be given in its place, ``otherwise``.
    """
    found = (path if os.path.isdir(path) else path.parent) / name
    if not found.is_file():
        raise HoursError(f"{found}: there is no such file; add it, or give {otherwise}")
    return found


def profile_of(coating: Profile | Path | str) -> Profile:
    """Return a coating that is given as it is, or by its name or file.

    Raises
    ------
    DewgapError
        If it is neither, is not known, or its file has a fault.
    """
    if isinstance(coating, Profile):
        return coating
    require_path("coating", coating)
    return load_profile(os.fspath(coating))


def corrected(
    site: Site, hours: HourlyTable, log: Path | str | None
) -> tuple[Site, HourlyTable]:
    """Return site and weather, screened, as the readings of a log up to their end have taught them.

    Without a log only what speaks against the hours is added to what they tell.

    Raises
    ------
    DewgapError
        If ``site`` or ``hours`` is of another type, or the log is missing or has a fault.
    """
    require_site(site)
    require_hours("hours", hours)
    hours = told(screen(hours), site)
    if log is None:
        return site, hours
    require_path("log", log)
    path = Path(log)
    if not path.is_file():
        raise DewgapError(f"{path}: there is no such log; name the log of the job, or leave it out")
    return taught(path, site, hours, min(pd.Timestamp.now("UTC"), hours.index[-1]))
