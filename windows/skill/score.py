"""Kept forecasts against the hours observed: errors, chances of rain, goes, what to learn."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from windows.errors import HoursError, did_you_mean
from windows.history import join
from windows.quality import screen
from windows.skill.goes import goes_of
from windows.skill.measures import Brier, ErrorOf, ReliabilityBin, brier, error_of, reliability
from windows.skill.pairs import LEAD_DAYS, rain_cases, temperature_errors
from windows.skill.recalibrate import recalibration_of
from windows.sources import read_weather
from windows.weather import told

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import pandas as pd

    from cure_models.coating import Limits
    from windows.hours import HourlyTable
    from windows.site import Site
    from windows.skill.goes import Coat, CoatGoes
    from windows.skill.pairs import Cases, Errors, Kind
    from windows.skill.recalibrate import Recalibration
    from windows.skill.store import Stored, Unread

__all__ = ["LeadError", "RainSkill", "Skill", "observed_hours", "of_one_source", "skill_of"]


@dataclass(frozen=True)
class LeadError:
    """The errors of a temperature on one lead day; ``told`` hours were foretold in all."""

    lead_day: int
    issue_days: int
    told: int
    error: ErrorOf

    @property
    def both(self) -> float:
        """Share of the hours foretold that were observed too, NaN of none. [fraction]"""
        return self.error.count / self.told if self.told else float("nan")


@dataclass(frozen=True)
class RainSkill:
    """How good the chances of one kind were on one lead day, or on all: then ``lead_day`` is None.

    ``not_observed`` and ``in_sums`` count those left out. See `windows.skill.pairs.Cases`.
    """

    kind: Kind
    lead_day: int | None
    not_observed: int
    in_sums: int
    brier: Brier
    bins: tuple[ReliabilityBin, ...]

    @property
    def told(self) -> int:
        """Chances that were told, scored or not."""
        return self.brier.count + self.not_observed + self.in_sums

    @property
    def both(self) -> float:
        """Share of the chances told that could be scored, NaN of none. [fraction]"""
        return self.brier.count / self.told if self.told else float("nan")


@dataclass(frozen=True)
class Skill:
    """What kept forecasts of one source were worth at a site.

    ``rain`` has each kind of chance, on all lead days together first. ``unread`` are files left
    out, ``others`` the forecasts of other sources in the folder, which are not scored.
    """

    site: Site
    source: str
    issued: tuple[pd.Timestamp, ...]
    observed: HourlyTable
    air: tuple[LeadError, ...]
    dew: tuple[LeadError, ...]
    rain: tuple[RainSkill, ...]
    goes: tuple[CoatGoes, ...]
    recalibration: Recalibration
    unread: tuple[Unread, ...]
    others: dict[str, int]

    @property
    def scored(self) -> int:
        """How many pairs of told and observed there are in all."""
        pairs = sum(day.error.count for day in (*self.air, *self.dew))
        return pairs + sum(each.brier.count for each in self.rain)


def observed_hours(
    files: Sequence[Path],
    site: Site,
    *,
    form: str | None = None,
    mapping: Path | None = None,
    assume_cloud: float | None = None,
) -> HourlyTable:
    """Return observed hours of one file or several, screened, with what a reader should know.

    Raises
    ------
    HoursError
        If a file cannot be read, holds a forecast or a typical year, or two do not fit together.
    """
    tables = [read_weather(file, form=form, mapping=mapping) for file in files]
    for table in tables:
        _require_observed(table)
    hours = join(tables) if len(tables) > 1 else tables[0]
    if assume_cloud is not None:
        hours = hours.assume("cloud", assume_cloud)
    hours = told(screen(hours), site)
    notes = {
        "reanalysis": "the observed hours are a reanalysis, worked out by a model: it is likelier "
        "to agree with forecasts than a gauge is",
        "not told": "the file does not say that its hours were observed; they are taken for that",
    }
    note = notes.get(hours.provenance.kind)
    return hours if note is None else replace(hours, warnings=(*hours.warnings, note))


def _require_observed(table: HourlyTable) -> None:
    whence = table.provenance
    if whence.kind == "not told" and whence.is_forecast:
        raise HoursError(
            f"{whence.place}: tells a time of issue, as a forecast does; if its hours were "
            "observed, write '# kind: observed' in place of the line '# issued:'"
        )
    if whence.is_forecast or whence.kind == "typical":
        what = "a forecast" if whence.is_forecast else "a typical year"
        raise HoursError(
            f"{whence.place}: is {what}, and says nothing of what came; give observed hours"
        )


def of_one_source(
    forecasts: Sequence[Stored], source: str | None
) -> tuple[tuple[Stored, ...], dict[str, int]]:
    """Return the forecasts of one source, and how many there are of each other.

    Raises
    ------
    HoursError
        If there are several and none is chosen, or none is of the one that is.
    """
    counts = Counter(each.source for each in forecasts)
    if source is None:
        if len(counts) > 1:
            names = ", ".join(f"'{name}' ({count})" for name, count in counts.most_common())
            raise HoursError(
                f"the kept forecasts are of several sources: {names}; choose one with --of"
            )
        source = next(iter(counts), "")
    elif source not in counts:
        raise HoursError(f"--of: no forecast of '{source}' is kept; {did_you_mean(source, counts)}")
    mine = tuple(each for each in forecasts if each.source == source)
    return mine, {name: count for name, count in counts.items() if name != source}


def skill_of(
    site: Site,
    forecasts: Sequence[Stored],
    observed: HourlyTable,
    coats: Sequence[Coat] = (),
    *,
    limits: Limits = "generic",
    unread: Sequence[Unread] = (),
    others: dict[str, int] | None = None,
) -> Skill:
    """Score forecasts of one source against the hours observed.

    Parameters
    ----------
    site, forecasts, observed
        Where, what was told, and what came.
    coats
        Coatings whose goes are checked.
    limits
        End of every range of the profiles that counts.
    unread, others
        What the folder holds besides, to be told.

    Raises
    ------
    ProfileError
        If the film of a coat is impossible.
    """
    air = temperature_errors(forecasts, observed, "air_temp_c")
    dew = temperature_errors(forecasts, observed, "dew_point_c")
    cases = rain_cases(forecasts, observed)
    told_cases = [each for kind, each in cases.items() if kind.way == "told"]
    return Skill(
        site=site,
        source=forecasts[0].source if forecasts else "",
        issued=tuple(each.issued for each in forecasts),
        observed=observed,
        air=_by_lead(air),
        dew=_by_lead(dew),
        rain=tuple(skill for kind, each in cases.items() for skill in _rain(kind, each)),
        goes=goes_of(coats, forecasts, observed, limits=limits),
        recalibration=recalibration_of(air, dew, told_cases),
        unread=tuple(unread),
        others=dict(others or {}),
    )


def _by_lead(errors: Errors) -> tuple[LeadError, ...]:
    found = []
    for day in range(1, LEAD_DAYS + 1):
        mine = errors.lead_day == day
        found.append(
            LeadError(
                lead_day=day,
                issue_days=int(np.unique(errors.issue_day[mine]).size),
                told=int(errors.told[day - 1]),
                error=error_of(errors.error[mine]),
            )
        )
    return tuple(found)


def _rain(kind: Kind, cases: Cases) -> list[RainSkill]:
    """Return the skill of a kind of chance, on all lead days together first."""
    found = [
        RainSkill(
            kind, None, int(cases.not_observed.sum()), int(cases.in_sums.sum()),
            brier(cases.told, cases.wet), reliability(cases.told, cases.wet),
        )
    ]  # fmt: skip
    for day in range(1, LEAD_DAYS + 1):
        mine = cases.lead_day == day
        found.append(
            RainSkill(
                kind, day, int(cases.not_observed[day - 1]), int(cases.in_sums[day - 1]),
                brier(cases.told[mine], cases.wet[mine]),
                reliability(cases.told[mine], cases.wet[mine]),
            )
        )  # fmt: skip
    return found
