"""The layers of a system in many years, each kept as little as a season needs of it."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from cure_models.system_rules import first_retarder
from windows.conditions import exposed_table, roof_under
from windows.job import check_job
from windows.layers import on_top_of
from windows.planning.build import LayerTimes, ground_states, layer_times
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

    def one(number: int) -> SeasonLayer:
        below = site if number == 0 else on_top_of(site, system.profiles[number - 1])
        roof = roof_under(replace(exposure, site=below), below)
        each = check_job(
            below, system.profiles[number], hours,
            dry_film_um=system.layers[number].dry_film.si, limits=limits, roof=roof,
        )  # fmt: skip
        times = layer_times(each, ground_states(job, each) if number == retarder else None)
        least = each.coating.min_window_h
        return SeasonLayer(times, workable_days(state_of(each), least, days))

    with ThreadPoolExecutor(min(_THREADS, os.cpu_count() or 1)) as pool:
        return list(pool.map(one, range(len(system.layers))))
