"""The season of a coating at a site: workable days of months and weeks, practical dates, trends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from windows.errors import HoursError
from windows.gates import State
from windows.job import check_job
from windows.safety import stop_label
from windows.seasons.days import ENOUGH, LocalDays, Period, local_days
from windows.seasons.statistics import Spread, Trend, spread, trend
from windows.seasons.workable import Lost, checks, lost_hours, state_of, workable_days

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from cure_models.coating import Coating, Limits
    from cure_models.profile import Profile
    from windows.conditions import Roof
    from windows.hours import HourlyTable
    from windows.seasons.workable import Workable
    from windows.site import Site

__all__ = [
    "STRETCH_DAYS", "Cost", "PartOfYear", "Season", "SeasonYear", "in_nominal_year", "no_years",
    "nominal_date", "season_of", "season_start_month",
]  # fmt: skip

STRETCH_DAYS = 28
"""Days from or up to a practical day of which half the scheduled ones are workable. [days]"""
_NOMINAL = 2001
"""A year without a leap day, in which dates of all years are compared."""
_WHOLE_YEAR_MONTHS = 12


@dataclass(frozen=True)
class Cost:
    """What a gate or stop blocks of a month's crew hours, in all, and what it alone does.

    Shares of the crew hours of the years that count. [fraction]
    """

    name: str
    label: str
    blocked: float
    alone: float


@dataclass(frozen=True)
class PartOfYear:
    """A month, or an ISO week, over the years.

    ``years`` count, ``left_out`` have too few known hours. ``known`` is the share of crew hours
    known in all of these years; ``scheduled`` and ``crew_hours`` are means of the years that count.
    Workable and scheduled in days, the others in hours.
    """

    number: int
    years: tuple[int, ...]
    left_out: tuple[int, ...]
    known: float
    scheduled: float
    crew_hours: float
    workable: Spread
    valid_hours: Spread
    costs: tuple[Cost, ...]


@dataclass(frozen=True)
class SeasonYear:
    """A season year: its first and last practical day, None without one, and workable days.

    It is broken if less than half of the scheduled days of some 28 days between them are workable.
    """

    year: int
    first: date | None
    last: date | None
    workable: int
    is_broken: bool


@dataclass(frozen=True)
class Season:
    """What the years say of one coating at one site.

    ``first`` and ``last`` are practical days as days of a year of 365 from the start of the season
    year on, 0 the first; ``never`` counts season years without one. ``warming`` is the trend of the
    mean air temperature of calendar years, ``gaining`` that of the workable days of season years.
    """

    site: Site
    coating: Coating
    hours: HourlyTable
    days: Workable
    months: tuple[PartOfYear, ...]
    weeks: tuple[PartOfYear, ...]
    years: tuple[SeasonYear, ...]
    first: Spread
    last: Spread
    never: int
    warming: Trend | None
    gaining: Trend | None

    @property
    def known(self) -> float:
        """Share of all crew hours of the months of the record that are known."""
        months = self.days.days.months()
        asked = int(months.total(self.days.days.crew_hours)[months.touched].sum())
        return int(months.total(self.days.known)[months.touched].sum()) / max(asked, 1)

    @property
    def short_months(self) -> tuple[tuple[int, int], ...]:
        """Year and month of what does not count, in order."""
        found = [(year, part.number) for part in self.months for year in part.left_out]
        return tuple(sorted(found))


def season_of(
    site: Site,
    profile: Profile,
    hours: HourlyTable,
    *,
    dry_film_um: float | None = None,
    limits: Limits = "generic",
    roof: Roof | None = None,
) -> Season:
    """Return the season of a coating.

    Parameters
    ----------
    site, profile, hours
        Where, what, and hours of many years.
    dry_film_um
        Dry film of the coat, default the profile's. [um]
    limits
        End of every range of the profile that counts.
    roof
        The roof in these hours, from `windows.conditions.roof_in_table`, to save working it out
        again for another coating.

    Raises
    ------
    HoursError
        If no month counts.
    ProfileError
        If the film is impossible.
    """
    each = check_job(
        site, profile, hours, dry_film_um=dry_film_um, limits=limits, roof=roof, lean=True
    )
    days = local_days(hours.index, site)
    if not days.crew_hours.any():
        raise HoursError(
            f"{site.name}: no shift holds a whole hour on a work day; give the crew of the site "
            "longer hours"
        )
    found = workable_days(state_of(each), each.coating.min_window_h, days)
    labels = {g.name: g.rule.label for g in each.coating.gates}
    labels |= {f"safety_{name}": stop_label(name, site.safety) for name in each.stops}
    lost = lost_hours(checks(each), days)
    months = _parts(days.months(), found, lost, labels)
    if not any(part.years for part in months):
        raise no_years(hours, {n: s for n, s in checks(each).items() if (s == State.UNKNOWN).any()})
    begin = season_start_month(site)
    years = _years(found, begin)
    firsts = np.array([in_nominal_year(y.first, begin) for y in years if y.first], dtype=float)
    lasts = np.array([in_nominal_year(y.last, begin) for y in years if y.last], dtype=float)
    return Season(
        site=site,
        coating=each.coating,
        hours=hours,
        days=found,
        months=months,
        weeks=_parts(days.weeks(), found, {}, {}),
        years=years,
        first=spread(firsts),
        last=spread(lasts),
        never=sum(y.first is None for y in years),
        warming=_warming(hours, days),
        gaining=trend([y.year for y in years], np.array([y.workable for y in years], dtype=float)),
    )


def no_years(hours: HourlyTable, unknown: Mapping[str, object]) -> HoursError:
    """Say why nothing can be told of a season: no month has enough known hours."""
    columns = ("air_temp_c", "dew_point_c", "rel_humidity", "wind_m_s", "rain_mm", "cloud")
    shares = {name: hours.column(name) for name in columns}
    known = ", ".join(
        f"{name} {np.isfinite(values).mean():.0%}"
        for name, values in shares.items()
        if values is not None
    )
    missing = "" if shares["cloud"] is not None else "; there is no cloud column (--assume-cloud)"
    gates = ", ".join(sorted(unknown)) or "no gate"
    return HoursError(
        f"{hours.provenance.place}: no month has {100 * ENOUGH:.0f} % of its crew hours "
        f"known (of the hours there are, known: {known}{missing}); unknown are {gates}: give a "
        "fuller record, or --assume-cloud if only clouds are missing"
    )


def _parts(
    periods: Period, found: Workable, lost: Mapping[str, Lost], labels: Mapping[str, str]
) -> tuple[PartOfYear, ...]:
    days = found.days
    counts = periods.counts(found.known, days.crew_hours)
    known, crew = periods.total(found.known), periods.total(days.crew_hours)
    scheduled = periods.total(days.scheduled)
    workable, valid = periods.total(found.workable), periods.total(found.valid)
    blocked = {name: (periods.total(e.blocked), periods.total(e.alone)) for name, e in lost.items()}
    parts = []
    for number in np.unique(periods.number[periods.touched]).tolist():
        mine = (periods.number == number) & periods.touched
        good = np.flatnonzero(mine & counts)
        hours = max(int(crew[good].sum()), 1)
        costs = [
            Cost(
                name, labels[name],
                float(all_of[good].sum()) / hours, float(alone[good].sum()) / hours,
            )
            for name, (all_of, alone) in blocked.items()
        ]
        parts.append(
            PartOfYear(
                number=number,
                years=tuple(periods.year[good].tolist()),
                left_out=tuple(periods.year[mine & ~counts].tolist()),
                known=float(known[mine].sum()) / max(int(crew[mine].sum()), 1),
                scheduled=_mean(scheduled[good]),
                crew_hours=_mean(crew[good]),
                workable=spread(workable[good].astype(float)),
                valid_hours=spread(valid[good].astype(float)),
                costs=tuple(sorted(costs, key=lambda cost: (-cost.blocked, cost.name))),
            )
        )
    return tuple(parts)


def _mean(values: NDArray[np.int64]) -> float:
    return float(values.mean()) if values.size else float("nan")


def season_start_month(site: Site) -> int:
    """Return the month in which the season year begins: July in the south, else January."""
    return 7 if site.latitude < 0 else 1


def in_nominal_year(day: date, start_month: int) -> int:
    """Return the days from the start of the season year to a date, in a year of 365 days.

    A leap day is taken as the day before.

    Examples
    --------
    >>> in_nominal_year(date(2024, 3, 1), 1), in_nominal_year(date(2025, 6, 30), 7)
    (59, 364)
    """
    leap = (day.month, day.day) == (2, 29)
    year = _NOMINAL + (day.month < start_month)
    nominal = date(year, day.month, day.day - leap)
    return (nominal - date(_NOMINAL, start_month, 1)).days


def nominal_date(day: float, start_month: int) -> date:
    """Return the date in a year without leap day of a day from the start of the season year.

    Examples
    --------
    >>> nominal_date(59, 1).isoformat(), nominal_date(364, 7).isoformat()
    ('2001-03-01', '2002-06-30')
    """
    return date(_NOMINAL, start_month, 1) + timedelta(days=int(day))


def _years(found: Workable, begin: int) -> tuple[SeasonYear, ...]:
    """Return the season years, from a month on, all of whose months count."""
    days = found.days
    periods = days.months()
    counts = periods.counts(found.known, days.crew_hours)
    season = periods.year - (periods.number < begin)
    years = []
    for year in np.unique(season[periods.touched]).tolist():
        mine = (season == year) & counts
        if mine.sum() < _WHOLE_YEAR_MONTHS:
            continue
        span = mine[periods.of_day]
        first, last, is_broken = _practical(days, found.workable, np.flatnonzero(span))
        years.append(SeasonYear(year, first, last, int(found.workable[span].sum()), is_broken))
    return tuple(years)


def _practical(
    days: LocalDays, workable: NDArray[np.bool_], span: NDArray[np.int64]
) -> tuple[date | None, date | None, bool]:
    """Return the first and the last practical day of a season year, and whether it is broken."""
    good = np.cumsum(np.append(0, workable[span]))
    asked = np.cumsum(np.append(0, days.scheduled[span]))
    width = min(STRETCH_DAYS, span.size)
    # Stretches by their first day; enough of one is at least half of its scheduled days.
    share = good[width:] - good[:-width], asked[width:] - asked[:-width]
    enough = (2 * share[0] >= share[1]) & (share[1] > 0)
    firsts = np.flatnonzero(enough & workable[span][: enough.size])
    lasts = np.flatnonzero(enough & workable[span][width - 1 :]) + width - 1

    def on(place: int) -> date:
        return date(1970, 1, 1) + timedelta(days=int(days.date[span[place]].astype(np.int64)))

    first = on(firsts[0]) if firsts.size else None
    last = on(lasts[-1]) if lasts.size else None
    if first is None or last is None:
        return first, last, False
    between = enough[firsts[0] : lasts[-1] - width + 2]
    return first, last, not bool(between.all())


def _warming(hours: HourlyTable, days: LocalDays) -> Trend | None:
    """Return the trend of the mean air temperature of calendar years with 90 % of it known. [K]"""
    air = hours.column("air_temp_c")
    assert air is not None  # a required column
    year = days.year[days.day]
    first = int(year.min())
    known = ~np.isnan(air)
    count = np.bincount(year[known] - first)
    total = np.bincount(year[known] - first, weights=air[known])
    in_year = np.array([_hours_of(first + n) for n in range(count.size)])
    good = np.flatnonzero(count >= ENOUGH * in_year)
    return trend(first + good, total[good] / count[good])


def _hours_of(year: int) -> int:
    return 24 * (date(year + 1, 1, 1) - date(year, 1, 1)).days
