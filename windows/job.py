"""The main job: a site, a coating and a weather table in; windows and reasons out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models.coating import Coating, Limits, resolve
from cure_models.profile import Profile
from windows.conditions import Conditions, Roof, coated, roof_in_table
from windows.crew import NO_SHIFT, shifts
from windows.gates import Checked, check_coating
from windows.safety import safety_stops
from windows.search import Search, search

if TYPE_CHECKING:
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["Job", "run_job"]


@dataclass(frozen=True)
class Job:
    """One coating on one site in one weather table, with all that was found in a span of rows."""

    site: Site
    coating: Coating
    hours: HourlyTable
    conditions: Conditions
    checked: Checked
    found: Search
    span: slice


def run_job(
    site: Site,
    profile: Profile,
    hours: HourlyTable,
    *,
    dry_film_um: float | None = None,
    start_wet_mm: float | None = None,
    limits: Limits = "generic",
    roof: Roof | None = None,
    span: slice | None = None,
) -> Job:
    """Find the application windows of a coating.

    Parameters
    ----------
    site, profile, hours
        Where, what and in which weather.
    dry_film_um
        Dry film of the coat, default the profile's. [um]
    start_wet_mm
        Water on the roof before the first hour, if somebody has looked. [mm]
    limits
        End of every range of the profile that counts. Robust is what holds at the careful end.
    roof
        The roof in this weather, from `windows.conditions.roof_in_table`, to save working it out
        again for another coating.
    span
        Rows in which windows are looked for, default all. The roof and the cure clock know the
        whole table, so the days before and after count.

    Raises
    ------
    ProfileError
        If the film is impossible.
    """
    method, film = site.method, dry_film_um
    coating = resolve(profile, method=method, dry_film_um=film, limits=limits)
    careful = resolve(profile, method=method, dry_film_um=film, limits="careful")
    roof = roof or roof_in_table(hours, site, start_wet_mm=start_wet_mm)
    at_roof = coated(roof, coating)
    checked = check_coating(coating, at_roof)
    at_careful_roof = at_roof if limits == "careful" else coated(roof, careful)
    span = span or slice(0, len(hours.index))
    shift = np.full(len(hours.index), NO_SHIFT, dtype=np.int64)
    shift[span] = shifts(hours.index[span], site)
    found = search(
        checked,
        check_coating(careful, at_careful_roof),
        at_roof,
        hours.index,
        shift,
        safety_stops(at_roof, site),
    )
    return Job(site, coating, hours, at_roof, checked, found, span)
