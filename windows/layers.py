"""The layers of a system in one weather: each on top of the layer below it, with its own windows.

What lies on top decides how warm and wet the roof is for the next coat: every layer is worked out
on the one below it, the first on the roof as the site file has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor
from typing import TYPE_CHECKING

import pandas as pd

from windows.conditions import exposed_table, roof_under
from windows.job import Job, run_job
from windows.site import Surface

if TYPE_CHECKING:
    from cure_models.coating import Limits
    from cure_models.profile import Profile
    from cure_models.system import System
    from windows.conditions import Roof
    from windows.hours import HourlyTable
    from windows.roof import Layer
    from windows.site import Site

__all__ = ["SystemHours", "on_top_of", "system_hours"]


@dataclass(frozen=True)
class SystemHours:
    """A system in a table of weather: one `windows.job.Job` for each layer, in their order."""

    site: Site
    system: System
    hours: HourlyTable
    jobs: tuple[Job, ...]

    def moment(self, when: pd.Timestamp) -> float:
        """Return a time as hours since the first row. [h]"""
        return float((when - self.hours.index[0]) / pd.Timedelta(hours=1))

    def rows(self, start: pd.Timestamp, end: pd.Timestamp) -> tuple[int, int]:
        """Return the first row that a time touches, and the one after its last."""
        return floor(self.moment(start)), ceil(self.moment(end))

    def time(self, hours: float) -> pd.Timestamp:
        """Return the time so many hours after the first row began, to the second."""
        return self.hours.index[0] + pd.Timedelta(seconds=round(hours * 3600))


def on_top_of(site: Site, profile: Profile) -> Site:
    """Return a site with a coating as the layer that is on top now."""
    surface = Surface(
        name=profile.title,
        absorptance=profile.film["absorptance"].si,
        emittance=profile.film["emittance"].si,
        slick_when_wet=profile.slick_when_wet,
    )
    return site.model_copy(update={"surface": surface})


def system_hours(
    site: Site,
    system: System,
    hours: HourlyTable,
    *,
    limits: Limits = "generic",
    start_wet_mm: float | None = None,
) -> SystemHours:
    """Work out every layer of a system in a table of weather.

    Parameters
    ----------
    site, system, hours
        Where, what and in which weather.
    limits
        End of every range of the coatings that counts.
    start_wet_mm
        Water on the roof before the first hour, if somebody has looked. [mm]
    """
    jobs = []
    roofs: dict[Surface, Roof] = {}
    exposure = exposed_table(hours, site)
    films: dict[tuple[float, float], Layer] = {}  # they know nothing of the roof below them
    for n, (layer, profile) in enumerate(zip(system.layers, system.profiles, strict=True)):
        below = site if n == 0 else on_top_of(site, system.profiles[n - 1])
        key = below.surface
        if key not in roofs:
            roof = roof_under(replace(exposure, site=below), below, start_wet_mm=start_wet_mm)
            roofs[key] = replace(roof, films=films)
        jobs.append(
            run_job(
                below, profile, hours,
                dry_film_um=layer.dry_film.si, limits=limits, roof=roofs[key],
            )
        )  # fmt: skip
    return SystemHours(site, system, hours, tuple(jobs))
