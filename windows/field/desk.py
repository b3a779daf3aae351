"""The desk at which entries are made: a job, its log, and the weather of the hour.

What is entered is checked against all that is known and written down with what the checks tell.
Weather that cannot be had keeps nobody from writing: its absence is told.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import pandas as pd

from cure_models.coating import resolve
from windows.errors import DewgapError, HoursError, LogError, SourceError, did_you_mean
from windows.field.beside import is_corrected
from windows.field.lessons import taught
from windows.job_file import JobFile, load_job, log_of, plain_name
from windows.layers import SystemHours, system_hours
from windows.log.laid import has_losses, opened_for
from windows.system_check import system_for
from windows.weather import weather_of

if TYPE_CHECKING:
    from pathlib import Path

    from cure_models.coating import Coating
    from cure_models.system import Layer, System
    from windows.hours import HourlyTable
    from windows.job_file import Section
    from windows.site import Site
    from windows.weather_choice import WeatherChoice

__all__ = ["Desk", "desk"]


@dataclass(frozen=True)
class Desk:
    """A job and its log; ``without`` tells why no weather is at hand, empty where none was asked.

    ``log`` need not be there yet: the first entry begins it. ``weather`` is as its source gave it,
    to stand beside readings, and to check entries in; with ``corrected`` the layers are in it as
    readings have taught it, as they are for `cover` and plan.
    """

    folder: Path
    log: Path
    site: Site
    job: JobFile
    system: System
    now: pd.Timestamp
    weather: HourlyTable | None
    without: str
    corrected: bool = False

    @property
    def notes(self) -> tuple[str, ...]:
        """What whoever writes or reads here should know."""
        told = [self.without] if self.without else []
        if os.path.exists(self.log):
            if has_losses(self.log):
                told.append(
                    "entries of this log were or may have been lost in a repair: what is laid is "
                    "not known until they are written in again and the repair is withdrawn"
                )
            opened = opened_for(self.log)
            if opened not in (None, (self.site.name, self.site.zone.key)):
                told.append(f"this log was begun for {opened[0]} ({opened[1]}): is it this job's?")
        return tuple(told)

    def section(self, name: str) -> Section:
        """Return a section of the job by name.

        Raises
        ------
        LogError
            If there is none of this name.
        """
        for section in self.job.section:
            if section.name == plain_name(name):
                return section
        names = [section.name for section in self.job.section]
        mend = did_you_mean(name, names) if names else "name the sections in it: [[section]]"
        raise LogError(f"{self.job.where}: there is no section '{name}'; {mend}")

    def layer(self, name: str) -> Layer:
        """Return a layer of the system by its number or name.

        Raises
        ------
        DewgapError
            If there is none.
        """
        return self.system.layers[self.system.number(name)]

    @cached_property
    def coatings(self) -> tuple[Coating, ...]:
        """The coating of each layer, with its limits by the site's method."""
        layers = zip(self.system.layers, self.system.profiles, strict=True)
        return tuple(
            resolve(profile, method=self.site.method, dry_film_um=layer.dry_film.si)
            for layer, profile in layers
        )

    @cached_property
    def in_weather(self) -> SystemHours | None:
        """The layers of the system in the weather at hand."""
        if self.weather is None:
            return None
        site, hours = self.site, self.weather
        if self.corrected:
            site, hours = taught(self.log, site, hours, self.now)
        return system_hours(site, self.system, hours)


def desk(
    site_path: Path,
    site: Site,
    job_path: Path | None,
    now: pd.Timestamp,
    choice: WeatherChoice | None = None,
) -> Desk:
    """Return the desk of a job.

    Parameters
    ----------
    site_path, site
        Where the site file is, and what it says.
    job_path
        The job file, else ``job.toml`` beside the site file.
    now
        The present.
    choice
        The weather to look at; None for what needs none.

    Raises
    ------
    DewgapError
        If there is no job file, or something is wrong with it, its system or its log.
    """
    job = load_job(site_path, job_path, losses=True)
    if not job.where:
        raise LogError(
            f"{site_path}: there is no job.toml beside the site file, and a log is that of a job; "
            "write one that names the system and the sections"
        )
    folder = site_path if os.path.isdir(site_path) else site_path.parent
    weather, without = _weather(site, folder, choice, now)
    log = log_of(site_path, job_path)
    return Desk(log.parent, log, site, job, system_for(job, None), now, weather, without)


def _weather(
    site: Site, folder: Path, choice: WeatherChoice | None, now: pd.Timestamp
) -> tuple[HourlyTable | None, str]:
    """Return the weather at hand, or why there is none.

    A service that does not answer keeps nobody from writing, nor a file beside the site; a name
    that was given wrong is a slip to be mended first.
    """
    if choice is None:
        return None, ""
    named = choice.file is not None or choice.source is not None
    try:
        hours = weather_of(site, choice, folder / "weather.csv", now)
        if is_corrected(hours):
            raise HoursError(
                f"{hours.provenance.place}: readings have corrected this weather already; give it "
                "as its source had it"
            )
    except DewgapError as fault:
        if named and not isinstance(fault, SourceError):
            raise
        return None, f"the weather cannot be had, and the entry stands without it: {fault}"
    return hours, ""
