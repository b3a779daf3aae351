"""Weather days: what a contract counts as lost beside what the chemistry loses, from one record.

A contract counts rain, cold and wind by its own limits; a coating also loses days to dew, spread,
a cold deck and its cure. What is lost and not counted cannot be claimed, and must be priced.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.arrays import floats
from cure_models.coating import LIMIT_DECIMALS
from windows.gates import State, States, combine
from windows.runs import block_starts, runs
from windows.seasons.contract import contract_site, three_answers
from windows.seasons.days import LocalDays, local_days
from windows.seasons.statistics import Spread, spread
from windows.seasons.workable import checks, lost_hours, state_of, workable_days

if TYPE_CHECKING:
    from datetime import date
    from zoneinfo import ZoneInfo

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.job import CheckedHours
    from windows.seasons.contract import Contract, Limit

__all__ = [
    "FIGURES", "UNINSURED", "Measured", "MonthOverYears", "Months", "WeatherDays", "over_years",
    "spells", "taken_out", "weather_days",
]  # fmt: skip

FIGURES = {
    "scheduled": "contract work days",
    "counted": "A: counted by the contract",
    "lost": "B: lost by the coating",
    "both": "counted and lost",
    "lost_only": "lost, not counted: cannot be claimed, must be priced",
    "lost_dry": "of these, days of which no hour has rain",
    "counted_only": "counted, but workable",
    "unknown": "not known, and in none of A and B",
}
"""What is counted in a month, and its label."""

UNINSURED = "uninsured"
"""B - A: lost by the coating less counted by the contract."""

_QUANTITY = {"rain": "rain_mm", "cold": "air_temp_c", "wind": "wind_m_s", "wet": "wet_mm"}


@dataclass(frozen=True)
class Measured:
    """One limit of a contract against the record, by hour or by day.

    ``amounts`` and ``states`` have shape (hours,), or (days,) for a limit of the day. BLOCKED is
    adverse. The amount of a day that the record does not hold whole is the least rain that it can
    have, and NaN for its mean temperature.
    """

    limit: Limit
    amounts: FloatArray
    states: States


@dataclass(frozen=True)
class WeatherDays:
    """The contract work days of a record.

    Attributes
    ----------
    days
        Its local days; the shift of each contract work day is the site's.
    counted
        Whether the contract counts each day, shape (days,): BLOCKED if so.
    lost
        Whether the coating loses each day, shape (days,): BLOCKED without an application window.
    known_h
        Crew hours of each day that the coating's gates and the safety stops answer. [h]
    adverse_h
        Crew hours of each day that the contract's limits of the hour call adverse. [h]
    measured
        Each limit of the contract by its key.
    """

    job: CheckedHours
    contract: Contract
    days: LocalDays
    counted: States
    lost: States
    known_h: NDArray[np.int64]
    adverse_h: NDArray[np.int64]
    measured: dict[str, Measured]

    @property
    def dry(self) -> NDArray[np.bool_]:
        """Whether no hour of each local date is known to have rain, shape (days,)."""
        found: NDArray[np.bool_] = self.days.by_date(self.job.conditions.rain_mm > 0) == 0
        return found

    def months(self) -> Months:
        """Return the months of the record that count, with their figures.

        Days that the contract counts and does not grant, in its winter or too few in a row, are
        none of its days here.

        Of a month at least 90 % of the crew hours must be known for the coating, and as many must
        lie in days that the contract's rule can judge.
        """
        period, asked = self.days.months(), self.days.crew_hours
        judged = np.where(self.counted == State.UNKNOWN, 0, asked)
        counts = period.counts(self.known_h, asked) & period.counts(judged, asked)
        open_ = (self.counted == State.UNKNOWN) | (self.lost == State.UNKNOWN)
        known = self.days.scheduled & ~open_
        by_coating = self.lost == State.BLOCKED
        granted = taken_out(self) == ""
        of = {
            "scheduled": self.days.scheduled,
            "counted": known & granted,
            "lost": known & by_coating,
            "both": known & granted & by_coating,
            "lost_only": known & ~granted & by_coating,
            "lost_dry": known & ~granted & by_coating & self.dry,
            "counted_only": known & granted & ~by_coating,
            "unknown": self.days.scheduled & open_,
        }
        out = period.touched & ~counts
        priced = of["lost_only"]
        costs = {
            name: period.total(each.blocked * priced)[counts]
            for name, each in lost_hours(checks(self.job), self.days).items()
        }
        return Months(
            period.year[counts],
            period.number[counts],
            {name: period.total(flags)[counts] for name, flags in of.items()},
            period.total(self.days.scheduled & (self.counted == State.BLOCKED))[counts],
            costs,
            tuple(zip(period.year[out].tolist(), period.number[out].tolist(), strict=True)),
        )


@dataclass(frozen=True)
class Months:
    """The months that count: ``year``, ``month`` and each of `FIGURES`, shape (months,).

    ``by_contract`` are the days that the contract counts, also those of which it is not known
    whether the coating loses them. ``costs`` has, for each gate and stop, the crew hours that it
    blocks on days that are lost and not counted. ``left_out`` names the other months, as year and
    month.
    """

    year: NDArray[np.int64]
    month: NDArray[np.int64]
    figures: dict[str, NDArray[np.int64]]
    by_contract: NDArray[np.int64]
    costs: dict[str, NDArray[np.int64]]
    left_out: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class MonthOverYears:
    """A month, 1 to 12, over the years in which it counts: each of `FIGURES`, and B - A.

    ``mostly`` names the gate or stop that blocks most crew hours of the days that are lost and not
    counted, "" without any.
    """

    number: int
    years: tuple[int, ...]
    figures: dict[str, Spread]
    mostly: str


def weather_days(job: CheckedHours, contract: Contract) -> WeatherDays:
    """Return what a contract counts and a coating loses, day by day of a record."""
    days = local_days(job.hours.index, contract_site(job.site, contract))
    measured = _measured(job, contract, days)
    state = state_of(job)
    return WeatherDays(
        job=job,
        contract=contract,
        days=days,
        counted=_counted(job, contract, days, measured),
        lost=_lost(state, days, job.coating.min_window_h),
        known_h=days.by_shift(state != State.UNKNOWN),
        adverse_h=days.by_shift(_adverse(measured, state.shape) == State.BLOCKED),
        measured=measured,
    )


def _measured(job: CheckedHours, contract: Contract, days: LocalDays) -> dict[str, Measured]:
    found = {}
    for key, limit in contract.limits.items():
        scope, name = key.split(".")
        low = high = job.conditions.quantity(_QUANTITY[name])
        if name == "rain":
            low, high = _hour_rain(job) if scope == "hour" else _day_rain(job, days)
        elif scope == "day":
            low = high = _day_mean(low, days, job)
        found[key] = Measured(limit, low, limit.adverse(low, high))
    return found


def _hour_rain(job: CheckedHours) -> tuple[FloatArray, FloatArray]:
    """Return the least and the most rain of each hour: of a block, none or all of it. [mm]"""
    rain, most = job.conditions.rain_mm, job.conditions.rain_most_mm
    return np.where(most > rain, 0.0, rain), most


def _day_rain(job: CheckedHours, days: LocalDays) -> tuple[FloatArray, FloatArray]:
    """Return the least and the most rain of each local day. [mm]

    A block of hours that crosses midnight may have fallen on either side of it. A missing hour can
    hold any rain.
    """
    rain, lengths = job.hours.column("rain_mm"), job.hours.column("rain_block_h")
    assert rain is not None  # every table has it
    lengths = np.ones(rain.shape) if lengths is None else lengths
    rain = np.where(np.isnan(lengths), np.nan, rain)
    begins = block_starts(rain, lengths)
    block = np.cumsum(begins) - 1
    first = np.flatnonzero(begins)
    last = np.r_[first[1:], rain.size] - 1
    split = (days.day[first] != days.day[last])[block]
    begins_here = begins | np.r_[True, days.day[1:] != days.day[:-1]]

    def total(flags: NDArray[np.bool_], values: FloatArray) -> FloatArray:
        weights = np.where(flags & ~np.isnan(values), values, 0.0)
        return floats(np.bincount(days.day, weights=weights, minlength=days.date.size))

    whole = total(~split, rain)
    missing = days.by_date(~np.isnan(rain)) < _hours_of(days, job.site.zone)
    high = np.where(missing, np.inf, whole + total(split & begins_here, rain * lengths))
    return np.round(whole, LIMIT_DECIMALS), floats(np.round(high, LIMIT_DECIMALS))


def _day_mean(values: FloatArray, days: LocalDays, job: CheckedHours) -> FloatArray:
    """Return the mean of each local day, NaN where an hour of it is not known."""
    known = ~np.isnan(values)
    total = np.bincount(days.day[known], weights=values[known], minlength=days.date.size)
    hours = _hours_of(days, job.site.zone)
    whole = days.by_date(known) == hours
    return np.where(whole, np.round(total / hours, LIMIT_DECIMALS), np.nan)


def _hours_of(days: LocalDays, zone: ZoneInfo) -> NDArray[np.int64]:
    """Return the hours of each local date: 23 or 25 where the clock is put on or back."""
    first, last = days.date[0] - 1, days.date[-1] + 2
    hours = pd.date_range(pd.Timestamp(first, tz="UTC"), pd.Timestamp(last, tz="UTC"), freq="h")
    clock = hours.tz_convert(zone).tz_localize(None).to_numpy().astype("datetime64[D]")
    place = (clock - days.date[0]).astype(np.int64)
    inside = (place >= 0) & (place < days.date.size)
    return np.bincount(place[inside], minlength=days.date.size)


def _counted(
    job: CheckedHours, contract: Contract, days: LocalDays, measured: dict[str, Measured]
) -> States:
    """Return BLOCKED for the days that the contract counts."""
    found = [each.states for key, each in measured.items() if key.startswith("day.")]
    if contract.lost is not None:
        hour = _adverse(measured, days.day.shape)
        bad, good = days.by_shift(hour == State.BLOCKED), days.by_shift(hour == State.OK)
        length = job.site.crew.length_h
        found.append(contract.lost.state(bad, good, days.crew_hours, length))
    return combine(*found)


def _adverse(measured: dict[str, Measured], shape: tuple[int, ...]) -> States:
    """Return BLOCKED for the hours that one of the contract's limits of the hour calls adverse."""
    hourly = [each.states for key, each in measured.items() if key.startswith("hour.")]
    return combine(np.zeros(shape, dtype=np.int8), *hourly)


def _lost(state: States, days: LocalDays, least: int) -> States:
    """Return BLOCKED for the days whose shift holds no window of so many hours. [h]"""
    in_table = days.by_shift(np.ones(state.shape, dtype=bool)) >= days.crew_hours
    workable = workable_days(state, least, days).workable
    at_best = np.where(state == State.UNKNOWN, State.OK, state).astype(np.int8)
    may_be = workable_days(at_best, least, days).workable | ~in_table
    return three_answers(~may_be, workable)


def taken_out(
    weather: WeatherDays, planned: NDArray[np.bool_] | None = None
) -> NDArray[np.object_]:
    """Return why each day cannot be claimed, "" where it can be, shape (days,).

    Parameters
    ----------
    weather
        The days of a record.
    planned
        Whether critical work was planned on each day, by a daily log; None without one: then every
        day is taken as one with critical work, and the winter is shut.
    """
    contract = weather.contract
    with_log = planned is not None
    planned = np.full(weather.days.date.shape, True) if planned is None else planned
    counted = weather.days.scheduled & (weather.counted == State.BLOCKED)
    out = np.where(counted, "", "only the coating loses it").astype(object)
    out[counted & ~planned] = "no critical work"
    winter = contract.winter
    if winter is not None and not (winter.unless_critical and with_log):
        dates: list[date] = weather.days.date.tolist()
        shut = np.array([winter.holds(day) for day in dates], dtype=bool)
        out[(out == "") & shut] = "in the winter"
    rule = contract.only_consecutive
    if rule is not None:
        enough = np.zeros(counted.shape, dtype=bool)
        for spell in spells(weather, counted & planned, rule.days):
            enough[spell[rule.from_day - 1 :]] = True
        out[(out == "") & ~enough] = f"not {rule.days} in a row, from day {rule.from_day} on"
    return out


def spells(
    weather: WeatherDays, flags: NDArray[np.bool_], at_least: int
) -> list[NDArray[np.int64]]:
    """Return the runs of flagged contract work days, weekends and holidays not between them.

    ``flags`` has shape (days,); a run is the places of its days, and has ``at_least`` so many.
    """
    work = np.flatnonzero(weather.days.scheduled)
    found = runs(flags[work], np.zeros(work.size, dtype=np.int64), at_least)
    return [work[start:end] for start, end in found]


def over_years(months: Months) -> tuple[MonthOverYears, ...]:
    """Return the twelve months over the years in which each counts."""
    figures = {name: values.astype(np.float64) for name, values in months.figures.items()}
    figures[UNINSURED] = figures["lost"] - figures["counted"]
    return tuple(
        MonthOverYears(
            number,
            tuple(months.year[rows].tolist()),
            {name: spread(values[rows]) for name, values in figures.items()},
            _mostly({name: int(hours[rows].sum()) for name, hours in months.costs.items()}),
        )
        for number in range(1, 13)
        for rows in [months.month == number]
    )


def _mostly(costs: dict[str, int]) -> str:
    """Return what costs most, of equal ones the first by name."""
    most = min(costs, key=lambda name: (-costs[name], name))
    return most if costs[most] else ""
