"""One site of the board: its job in its weather, ready to be planned, or why it is not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.company import FILE, Company
from windows.board.outlook import outlook
from windows.board.result import SiteState
from windows.cover import Cover, Verdict
from windows.errors import DewgapError, HoursError, SiteError
from windows.field.lessons import taught
from windows.job_file import JobFile, load_job, log_of
from windows.layers import SystemHours, system_hours
from windows.odds.chance import Method
from windows.odds.climate import Climate, climate_of
from windows.odds.forecast_error import ForecastError, load_forecast_error
from windows.odds.work import METHODS, WorkOdds, member_exposure, member_states, work_odds
from windows.pieces import Piece, pieces, waiting
from windows.planning.build import Built, build
from windows.planning.groups import possible
from windows.recoat import check_cover
from windows.site import Site, load_site
from windows.system_check import system_for
from windows.weather import weather_of
from windows.weather_choice import YearsChoice
from windows.work_rate import equal_parts
from windows.years import years_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path
    from zoneinfo import ZoneInfo

    from numpy.typing import NDArray

    from cure_models.system import System
    from windows.board.result import Outlook
    from windows.hours import HourlyTable
    from windows.planning.problem import Choice
    from windows.weather_choice import WeatherChoice

__all__ = [
    "ERROR_FILE", "UNKNOWN", "YEARS_FILE", "BoardJob", "Climates", "board_days", "first_site",
    "keeping", "ready", "site_folders",
]  # fmt: skip

UNKNOWN = METHODS.index(Method.UNKNOWN)
"""The way of odds that are not known, by its number."""
YEARS_FILE, ERROR_FILE = "years.csv.gz", "forecast_error.toml"
_OLD_SHARE = 0.5
"""Share of the age limit from which on a forecast is shown as old (own choice)."""
_FORECASTS = frozenset({"forecast", "not told"})
"""Kinds of hours that a board takes."""
_CLOCK_H = 1.0
"""So far may the clocks of a service and of this machine be apart. [h]"""


@dataclass(frozen=True)
class BoardJob:
    """A site with its job, as far as it could be read.

    ``built`` and ``odds`` (one a layer) are there where something can be planned; ``covers`` are
    the laid layers that wait for their next, by piece. ``problem`` says what keeps it from that.
    ``hours`` is the weather as readings in the log have taught it, ``forecast`` as its source gave
    it.
    """

    key: str
    site: Site
    state: SiteState
    system: System | None = None
    job: JobFile | None = None
    hours: HourlyTable | None = None
    forecast: HourlyTable | None = None
    pieces: tuple[Piece, ...] = ()
    in_weather: SystemHours | None = None
    built: Built | None = None
    odds: tuple[WorkOdds, ...] = ()
    covers: dict[str, Cover] | None = None
    stale: bool = False
    notes: tuple[str, ...] = ()
    outlook: tuple[Outlook, ...] = ()
    problem: str = ""

    @property
    def laid(self) -> int:
        """Layers of pieces that are laid."""
        return sum(piece.next_layer for piece in self.pieces)

    @property
    def layers(self) -> int:
        """Layers of pieces in all."""
        return 0 if self.system is None else len(self.pieces) * len(self.system.layers)


@dataclass(frozen=True)
class _Years:
    """Years of a site and their climate; None and a reason where they tell none."""

    hours: HourlyTable | None = None
    climate: Climate | None = None
    why: str = ""


class Climates:
    """The years of sites: those beside all of them are read once."""

    def __init__(self) -> None:
        self._shared: dict[Path, _Years] = {}

    def of(self, site: Site, folder: Path) -> _Years:
        """Return the years beside a site, else those beside all sites."""
        own, shared = folder / YEARS_FILE, folder.parent / YEARS_FILE
        if own.is_file():
            return self._read(site, own)
        if not shared.is_file():
            return _Years()
        if shared not in self._shared:
            self._shared[shared] = self._read(site, shared)
        return self._shared[shared]

    def _read(self, site: Site, path: Path) -> _Years:
        try:
            hours = years_of(site, YearsChoice((path,)), path)
        except DewgapError as fault:
            return _Years(why=str(fault))
        climate, why = climate_of(hours)
        return _Years(hours, climate, why)


def board_days(company: Company, now: pd.Timestamp, zone: ZoneInfo) -> tuple[date, ...]:
    """Return the days of the board, from today on by a clock."""
    today = now.tz_convert(zone).date()
    return tuple(today + timedelta(days=n) for n in range(company.board.days))


def site_folders(folder: Path) -> list[Path]:
    """Return the folders with a site file, by name.

    Raises
    ------
    SiteError
        If the folder cannot be read, or holds none.
    """
    try:
        found = sorted(each for each in folder.iterdir() if (each / "site.toml").is_file())
    except OSError as fault:
        raise SiteError(
            f"{folder}: cannot be read ({fault.strerror}); name a folder that holds one folder a "
            "site"
        ) from None
    if not found:
        raise SiteError(
            f"{folder}: holds no folder with a site.toml; make one folder a site, with site.toml, "
            f"job.toml and weather.csv in each, and {FILE} beside them"
        )
    return found


def first_site(folder: Path) -> Site:
    """Return the first site that can be read: a present without a zone is told by its clock.

    Raises
    ------
    DewgapError
        See `site_folders`; if none can be read, what is wrong with the first.
    """
    faults = []
    for each in site_folders(folder):
        try:
            return load_site(each)
        except DewgapError as fault:
            faults.append(fault)
    raise faults[0]


def ready(
    folder: Path,
    company: Company,
    choice: WeatherChoice,
    now: pd.Timestamp,
    climates: Climates,
) -> BoardJob:
    """Return a site, ready to be planned as far as it can be.

    Raises
    ------
    DewgapError
        If the site file itself cannot be read; what else is wrong is told in ``problem``.
    """
    case = BoardJob(folder.name, load_site(folder), SiteState.FAULT)
    try:
        case = _with_job(case, folder, now)
        if case.laid == case.layers:
            return replace(case, state=SiteState.FINISHED)
        return _planned(case, folder, company, choice, now, climates)
    except DewgapError as fault:
        return replace(case, problem=str(fault))


def _with_job(case: BoardJob, folder: Path, now: pd.Timestamp) -> BoardJob:
    """Return a site with its job, its system and what is laid."""
    if not (folder / "job.toml").is_file():
        raise SiteError(
            f"{folder / 'job.toml'}: there is no such file; write one that names the system, as in "
            'system = "acrylic_two_coat"'
        )
    job = load_job(folder)
    system = system_for(job, None)
    site = case.site
    laid = pieces(job, system, site, now) or equal_parts(system, site.roof.area, job)
    return replace(case, system=system, job=job, pieces=laid)


def _planned(
    case: BoardJob,
    folder: Path,
    company: Company,
    choice: WeatherChoice,
    now: pd.Timestamp,
    climates: Climates,
) -> BoardJob:
    site, job, system, laid = case.site, case.job, case.system, case.pieces
    assert job is not None
    assert system is not None
    forecast = hours = weather_of(site, choice, folder / "weather.csv", now)
    if hours.provenance.kind not in _FORECASTS:
        raise HoursError(
            f"{hours.provenance.place}: its hours are {hours.provenance.kind}, not a forecast, and "
            "a board looks ahead; give a forecast"
        )
    if not choice.uncorrected:
        site, hours = taught(log_of(folder), site, hours, now)
    age = _age_h(hours, now)
    case = _aged(replace(case, hours=hours, forecast=forecast), hours, age, company)
    if case.state is SiteState.STALE:
        return case
    in_weather = system_hours(site, system, hours)
    covers = {
        piece.name: check_cover(in_weather, piece.laid[-1], now)
        for piece in waiting(laid, system)
    }
    overdue = {name for name, cover in covers.items() if cover.verdict is Verdict.OVERDUE}
    own_days = job.model_copy(update={"crew": job.crew.model_copy(update={"extra_days": ()})})
    built = build(in_weather, [p for p in laid if p.name not in overdue], own_days, now)
    age_note = (
        "the forecast tells no time of issue: its age is not known, and not held against "
        f"stale_after of {FILE}",
    ) if age is None else ()  # fmt: skip
    years = climates.of(site, folder)
    odds = _odds(in_weather, now, years.climate, _error(folder))
    case = replace(
        case, state=SiteState.IDLE, job=own_days, in_weather=in_weather,
        built=_with_odds(built, odds), odds=odds,
        covers=covers, notes=(*age_note, *((years.why,) if years.why else ())),
    )  # fmt: skip
    days = board_days(company, now, site.zone)
    return replace(case, outlook=outlook(case, days, years.hours))


def _aged(
    case: BoardJob, hours: HourlyTable, age_h: float | None, company: Company
) -> BoardJob:
    """Return a site with what the age of its forecast makes of it.

    Raises
    ------
    SiteError
        If the forecast was issued after now.
    """
    limit = company.board.stale_after
    old = hours.provenance.stale or (age_h is not None and age_h > _OLD_SHARE * limit)
    if age_h is not None and age_h > limit:
        return replace(
            case, stale=old, state=SiteState.STALE,
            problem=f"the forecast is {age_h:.0f} h old and is not used past {limit:g} h "
            f"(stale_after in {FILE}); fetch a new one",
        )  # fmt: skip
    if age_h is not None and age_h < -_CLOCK_H:
        raise SiteError(
            f"{hours.provenance.place}: the forecast was issued {-age_h:.0f} h after now; mend its "
            "time of issue, this machine's clock, or --now"
        )
    return replace(case, stale=old)


def _with_odds(built: Built, odds: tuple[WorkOdds, ...]) -> Built:
    """Return a job without the starts whose odds are not known: they are no go at any price."""

    def known(number: int, layer: int, choice: Choice) -> NDArray[np.bool_]:
        if not choice.start.size:
            return np.zeros(0, dtype=bool)
        told = odds[built.problem.tasks[number].first + layer].of(*choice.rows)
        wanted: NDArray[np.bool_] = told.method != UNKNOWN
        return wanted

    return keeping(built, known)


def keeping(
    built: Built, wanted: Callable[[int, int, Choice], NDArray[np.bool_]]
) -> Built:
    """Return a job with some of its starts.

    ``wanted`` tells of a task's number, a layer and its choice which starts stay, shape (starts,).
    Those that need a next layer which has no start left go too.
    """
    made: dict[object, tuple[Choice, ...]] = {}
    tasks = []
    for n, task in enumerate(built.problem.tasks):
        masks = [wanted(n, layer, choice) for layer, choice in enumerate(task.choices)]
        # Pieces that shared their choices and keep the same ones go on sharing them.
        key = (id(task.choices), *(mask.tobytes() for mask in masks))
        if key not in made:
            kept = (c.keep(mask) for c, mask in zip(task.choices, masks, strict=True))
            made[key] = possible(tuple(kept), task.same_shift)
        tasks.append(replace(task, choices=made[key]))
    return replace(built, problem=replace(built.problem, tasks=tuple(tasks)))


def _age_h(hours: HourlyTable, now: pd.Timestamp) -> float | None:
    """Return how old a forecast is, None of one that tells no time. [h]"""
    told = hours.provenance
    since = told.issued if told.issued is not None else told.retrieved
    if since is None:
        return None
    return float((now - since) / pd.Timedelta(hours=1))


def _error(folder: Path) -> ForecastError:
    """Return the measured error of the site's forecasts, else of all sites', else the shipped."""
    for path in (folder / ERROR_FILE, folder.parent / ERROR_FILE):
        if path.is_file():
            return load_forecast_error(path)
    return load_forecast_error()


def _odds(
    system: SystemHours, now: pd.Timestamp, climate: Climate | None, error: ForecastError
) -> tuple[WorkOdds, ...]:
    """Return the odds of each layer."""
    runs = member_exposure(system.hours, system.site)
    found = []
    for layer, profile, job in zip(
        system.system.layers, system.system.profiles, system.jobs, strict=True
    ):
        states = None if runs is None else member_states(
            job.site, profile, system.hours, dry_film_um=layer.dry_film.si, exposure=replace(
                runs, site=job.site
            ),
        )  # fmt: skip
        found.append(
            work_odds(job, now=now, climate=climate, error=error, member_checks=states)
        )
    return tuple(found)

