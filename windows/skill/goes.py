"""What became of each go: hours that a forecast gave to a coating, in the hours observed later."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from windows.conditions import roof_in_table
from windows.gates import State, combine
from windows.job import run_job
from windows.layers import on_top_of
from windows.skill.pairs import LEAD_DAYS, lead_days

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cure_models.coating import Limits
    from cure_models.profile import Profile
    from cure_models.system import System
    from windows.hours import HourlyTable
    from windows.job import Job
    from windows.site import Site
    from windows.skill.store import Stored

__all__ = ["Coat", "CoatGoes", "GoDay", "coats_of", "goes_of"]


@dataclass(frozen=True)
class Coat:
    """A coating on what lies under it: the site with the layer that is then on top. [um]"""

    site: Site
    profile: Profile
    dry_film_um: float | None = None


@dataclass(frozen=True)
class GoDay:
    """Crew hours of one lead day, counted once for each forecast.

    ``go`` are those in a window of the forecast: by the hours observed they ``held``, ``failed``,
    or are ``not_known``. ``usable`` are those in a window by the hours observed that the forecast
    reaches: of these ``missed`` were no go, and of these again it did not know ``unsure``.
    """

    lead_day: int
    go: int
    held: int
    failed: int
    not_known: int
    usable: int
    missed: int
    unsure: int


_COUNTS = tuple(field.name for field in fields(GoDay))[1:]


@dataclass(frozen=True)
class CoatGoes:
    """The goes of one coating by lead day, and how often each gate or stop broke those that failed.

    One hour may break several.
    """

    coating: str
    title: str
    days: tuple[GoDay, ...]
    broke: tuple[tuple[str, int], ...]

    @property
    def total(self) -> GoDay:
        """All lead days together, as lead day 0."""
        return GoDay(0, *(sum(getattr(day, name) for day in self.days) for name in _COUNTS))


def coats_of(site: Site, system: System) -> tuple[Coat, ...]:
    """Return the coatings of a system, each once, on the layer that it first goes over."""
    found: dict[str, Coat] = {}
    below = site
    for layer, profile in zip(system.layers, system.profiles, strict=True):
        found.setdefault(profile.name, Coat(below, profile, layer.dry_film.si))
        below = on_top_of(site, profile)
    return tuple(found.values())


def goes_of(
    coats: Sequence[Coat],
    forecasts: Sequence[Stored],
    observed: HourlyTable,
    *,
    limits: Limits = "generic",
) -> tuple[CoatGoes, ...]:
    """Check the windows of each forecast against the hours observed.

    Raises
    ------
    ProfileError
        If the film of a coat is impossible.
    """
    truth = _jobs(coats, observed, limits)
    count = np.zeros((len(coats), LEAD_DAYS + 1, len(_COUNTS)), dtype=np.int64)
    broke: list[Counter[str]] = [Counter() for _ in coats]
    for forecast in forecasts:
        lead = lead_days(forecast)
        at = observed.index.get_indexer(forecast.hours.index)
        if not ((lead > 0) & (at >= 0)).any():
            continue  # nothing of it was observed yet
        for n, job in enumerate(_jobs(coats, forecast.hours, limits)):
            count[n] += _count(job, truth[n], lead, at, broke[n])
    return tuple(
        CoatGoes(
            coat.profile.name,
            coat.profile.title,
            tuple(GoDay(day, *count[n, day].tolist()) for day in range(1, LEAD_DAYS + 1)),
            tuple(sorted(broke[n].items(), key=lambda item: (-item[1], item[0]))),
        )
        for n, coat in enumerate(coats)
    )


def _jobs(coats: Sequence[Coat], hours: HourlyTable, limits: Limits) -> list[Job]:
    """Return the job of each coat; coats on the same surface share its roof."""
    roofs = {}
    for coat in coats:
        if coat.site.surface not in roofs:
            roofs[coat.site.surface] = roof_in_table(hours, coat.site)
    return [
        run_job(
            coat.site, coat.profile, hours,
            dry_film_um=coat.dry_film_um, limits=limits, roof=roofs[coat.site.surface],
        )
        for coat in coats
    ]  # fmt: skip


def _count(
    job: Job,
    truth: Job,
    lead: np.ndarray,
    at: np.ndarray,
    broke: Counter[str],
) -> np.ndarray:
    """Return the counts of `GoDay` by lead day, shape (11, 7), and add to what broke."""

    def seen(states: np.ndarray) -> np.ndarray:
        """Return observed states in the forecast's hours, UNKNOWN where nothing was observed."""
        return np.where(at >= 0, states[at], State.UNKNOWN)

    state = seen(combine(truth.checked.state, truth.safety))
    go = (job.found.window_number > 0) & (lead > 0)
    failed = go & (state == State.BLOCKED)
    usable = (at >= 0) & (truth.found.window_number[at] > 0) & (lead > 0)
    missed = usable & (job.found.window_number == 0)
    checks = truth.checked.gates | {f"safety_{n}": s for n, s in truth.stops.items()}
    broke.update(
        {
            name: hours
            for name, states in checks.items()
            if (hours := int((failed & (seen(states) == State.BLOCKED)).sum()))
        }
    )
    sets = (
        go, go & (state == State.OK), failed, go & (state == State.UNKNOWN), usable, missed,
        missed & (job.found.hour == State.UNKNOWN),
    )  # fmt: skip
    return np.stack([np.bincount(lead[each], minlength=LEAD_DAYS + 1) for each in sets], axis=1)
