"""The layers of a system in many years, each kept as little as a season needs of it."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from cure_models.coating import resolve
from cure_models.system_rules import first_retarder
from windows.conditions import Roof, exposed_table, new_film, optical, roof_under
from windows.job import check_job
from windows.layers import on_top_of
from windows.planning.layer_times import LayerTimes, ground_states, layer_times
from windows.seasons.workable import Workable, state_of, workable_days

if TYPE_CHECKING:
    from cure_models.coating import Limits
    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.job_file import JobFile
    from windows.seasons.days import LocalDays
    from windows.site import Site

__all__ = ["SeasonLayer", "season_layers"]

_THREADS = 2
"""Layers worked out side by side: more would need more memory than they save time."""


@dataclass(frozen=True)
class SeasonLayer:
    """One layer in every hour, and what each local day offers for it."""

    times: LayerTimes
    days: Workable


def season_layers(
    site: Site,
    system: System,
    hours: HourlyTable,
    job: JobFile,
    days: LocalDays,
    *,
    limits: Limits = "generic",
) -> list[SeasonLayer]:
    """Work out the layers, each on top of the one below, two at a time.

    The gates, clocks and intervals are those of a plan (`windows.layers.system_hours`); the windows
    of the forecast are not looked for.

    Raises
    ------
    SiteError
        If nothing is known of a substrate that matters.
    """
    exposure = exposed_table(hours, site)
    retarder = first_retarder(system)
    belows = [site, *(on_top_of(site, profile) for profile in system.profiles[:-1])]
    coatings = [resolve(p, method=site.method, limits=limits) for p in system.profiles]

    def roof(below: Site) -> Roof:
        return roof_under(replace(exposure, site=below), below)

    def one(number: int) -> SeasonLayer:
        below = belows[number]
        each = check_job(
            below, system.profiles[number], hours, dry_film_um=system.layers[number].dry_film.si,
            limits=limits, roof=roofs[below.surface], lean=True,
        )  # fmt: skip
        times = layer_times(each, ground_states(job, each) if number == retarder else None)
        least = each.coating.min_window_h
        return SeasonLayer(times, workable_days(state_of(each), least, days))

    with ThreadPoolExecutor(min(_THREADS, os.cpu_count() or 1)) as pool:
        # Layers of one coating lie on one surface, and are one film: each is worked out once.
        surfaces = {below.surface: below for below in belows}
        alike = {optical(coating): coating for coating in coatings}
        made = pool.map(roof, surfaces.values())
        laid = pool.map(lambda coating: new_film(exposure, coating), alike.values())
        films = dict(zip(alike, laid, strict=True))
        roofs = {
            surface: replace(each, films=films)
            for surface, each in zip(surfaces, made, strict=True)
        }
        return list(pool.map(one, range(len(system.layers))))
