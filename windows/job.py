"""The main job: a site, a coating and a weather table in; windows and reasons out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models.coating import Coating, Limits, resolve
from cure_models.profile import Profile
from windows.conditions import Conditions, Roof, coated, roof_in_table
from windows.crew import NO_SHIFT, shifts
from windows.gates import Checked, States, check_coating, combine, gate_quantities
from windows.safety import safety_stops, stop_quantities
from windows.search import search

if TYPE_CHECKING:
    from windows.found import Search
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["CheckedHours", "Job", "check_job", "run_job"]


@dataclass(frozen=True)
class CheckedHours:
    """One coating on one site in one weather table: every gate and safety stop in every hour."""

    site: Site
    coating: Coating
    hours: HourlyTable
    conditions: Conditions
    checked: Checked
    stops: dict[str, States]

    @property
    def safety(self) -> States:
        """All safety stops together."""
        return combine(*self.stops.values())


@dataclass(frozen=True)
class Job(CheckedHours):
    """Checked hours, with all that was found in a span of rows."""

    found: Search
    span: slice


def check_job(
    site: Site,
    profile: Profile,
    hours: HourlyTable,
    *,
    dry_film_um: float | None = None,
    limits: Limits = "generic",
    roof: Roof | None = None,
    lean: bool = False,
) -> CheckedHours:
    """Check every hour of a table for a coating, and look for nothing in them. See `run_job`.

    With ``lean`` only those conditions are worked out that gates, stops and the roof below read.

    Raises
    ------
    ProfileError
        If the film is impossible.
    """
    coating = resolve(profile, method=site.method, dry_film_um=dry_film_um, limits=limits)
    read = gate_quantities(coating) | stop_quantities() | {"rain_most_mm"}
    at_roof = coated(roof or roof_in_table(hours, site), coating, only=read if lean else None)
    checked = check_coating(coating, at_roof)
    return CheckedHours(site, coating, hours, at_roof, checked, safety_stops(at_roof, site))


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
    roof = roof or roof_in_table(hours, site, start_wet_mm=start_wet_mm)
    each = check_job(site, profile, hours, dry_film_um=dry_film_um, limits=limits, roof=roof)
    careful = resolve(profile, method=site.method, dry_film_um=dry_film_um, limits="careful")
    at_careful_roof = each.conditions if limits == "careful" else coated(roof, careful)
    span = span or slice(0, len(hours.index))
    shift = np.full(len(hours.index), NO_SHIFT, dtype=np.int64)
    shift[span] = shifts(hours.index[span], site)
    found = search(
        each.checked,
        check_coating(careful, at_careful_roof),
        each.conditions,
        hours.index,
        shift,
        each.stops,
        site.safety,
    )
    return Job(
        site, each.coating, hours, each.conditions, each.checked, each.stops, found, span
    )
