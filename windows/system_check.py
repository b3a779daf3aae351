"""A system against a site: its roof, its season, and the mean cure rate that its deadlines need."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models.system import System, load_system
from cure_models.system_rules import Finding, check_layers, check_substrate, needed_rates
from windows.errors import ProfileError
from windows.gates import State
from windows.job_file import JobFile, system_of

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.job import Job
    from windows.layers import SystemHours

__all__ = ["MonthRate", "check_in_weather", "check_system", "month_rates", "system_for"]

_LEAST_HOURS = 24
"""Hours of a month that must be known for its mean to be told. [h]"""


@dataclass(frozen=True)
class MonthRate:
    """Mean cure rate to the opening of the next layer in one month of a table. [h/h]

    ``hours`` are those known. ``needed`` is the rate that the layer's deadline needs, ``least`` the
    same at the ends of the ranges that ask for the least.
    """

    layer: int
    month: str
    hours: int
    rate: float
    needed: float
    least: float

    @property
    def reaches(self) -> bool:
        """Whether the layer opens before its deadline at this rate."""
        return self.rate >= self.needed


def check_system(system: System, kind: str | None = None) -> tuple[Finding, ...]:
    """Return what the rules say of a system, and of its first layer on a kind of roof."""
    found = check_layers(system)
    return found if kind is None else (*check_substrate(system, kind), *found)


def system_for(job: JobFile, given: str | None) -> System:
    """Return the system of a job, which no rule refuses: the option's, else the file's own.

    Raises
    ------
    ProfileError
        If there is no such system, or a rule refuses it, on the job's roof too.
    """
    name = system_of(job, given)
    try:
        system = load_system(name)
    except ProfileError as fault:
        raise ProfileError(str(fault) if given is not None else f"{job.where}: {fault}") from None
    kind = None if job.substrate is None else job.substrate.kind
    refused = next((each for each in check_system(system, kind) if each.refuses), None)
    if refused is not None:
        raise ProfileError(f"{system.where}: {refused.reason} [{refused.source}]")
    return system


def month_rates(system: SystemHours) -> tuple[MonthRate, ...]:
    """Return the mean cure rate of each layer with a deadline, month by month of the table.

    Nights and days on which nobody works count: a film cures on them too.
    """
    local = system.hours.index.tz_convert(system.site.zone)
    months = local.strftime("%Y-%m").to_numpy()
    found = []
    for needed in needed_rates(system.system):
        job = system.jobs[needed.layer - 1]
        for month in dict.fromkeys(months.tolist()):
            inside = months == month
            rate, hours = _mean_rate(job, inside)
            if hours >= _LEAST_HOURS:
                # The film's thickness is in its rate, and in the needed rate too: once is enough.
                rate *= needed.opens_h / job.coating.milestones["recoat_opens"]
                found.append(
                    MonthRate(needed.layer, month, hours, rate, needed.generic, needed.least)
                )
    return tuple(found)


def _mean_rate(job: Job, inside: np.ndarray) -> tuple[float, int]:
    """Return the rate at which a film opens in hours like these, both stages, and hours known."""
    first: FloatArray = job.conditions.cure_rate[inside]
    late: FloatArray = job.conditions.cure_rate_late[inside]
    known = ~np.isnan(first + late)
    if not known.any():
        return 0.0, 0
    opens = job.coating.milestones["recoat_opens"]
    early = min(job.coating.first_stage_h, opens)
    means = float(first[known].mean()), float(late[known].mean())
    hours = 0.0
    for share, mean in ((early, means[0]), (opens - early, means[1])):
        if share > 0:
            hours += share / mean if mean > 0 else float("inf")
    return (opens / hours if hours > 0 else float("inf")), int(known.sum())


def check_in_weather(system: SystemHours) -> tuple[Finding, ...]:
    """Return what the weather of a table says of a system: frost without a window, slow months."""
    found: list[Finding] = []
    for n, job in enumerate(system.jobs):
        profile, name = system.system.profiles[n], system.system.layers[n].name
        cold = next((g for g in job.coating.gates if g.name == "no_freeze"), None)
        if not profile.water_based or cold is None or job.found.windows:
            continue
        film = job.conditions.film_temp_c
        frost = np.flatnonzero(film < cold.limit)
        if not frost.size:
            continue
        unknown = (job.found.hour == State.UNKNOWN).any()
        told = f"{system.hours.index[frost[0]].tz_convert(system.site.zone):%Y-%m-%d %H:%M}"
        found.append(
            Finding(
                not unknown, "freeze_season", n + 1,
                f"'{name}' is water-based, its film is below freezing on {frost.size} hours (first "
                f"{told}), and no window is found in this weather"
                + ("; some hours are unknown" if unknown else "; wait for a warmer season"),
                cold.sourced.source,
            )
        )  # fmt: skip
    for slow in month_rates(system):
        if slow.reaches:
            continue
        name = system.system.layers[slow.layer - 1].name
        verdict = (
            "it cannot be recoated in time at these temperatures"
            if slow.rate < slow.least
            else "whether it can be recoated in time depends on the data sheet"
        )
        found.append(
            Finding(
                False, "slow_cure", slow.layer,
                f"'{name}' cures at {slow.rate:.2f} of its data sheet's pace on average in "
                f"{slow.month} ({slow.hours} h known), below the {slow.needed:.2f} that its "
                f"deadline needs ({slow.least:.2f} at the least across products): {verdict}",
                "calculated: opening over deadline",
            )
        )  # fmt: skip
    return tuple(found)
