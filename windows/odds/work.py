"""The odds that a piece of work holds: a coat laid in hours ``[first, after)`` of a table.

Rain by the first of these that there is: the share of an ensemble's runs; the probability of the
one period that all of it lies in; a chain of wet hours or periods, whose persistence the site's own
years give; the bounds alone; how often hours like these were dry. The share of runs knows every
gate. All others know rain only, and the error of foretold temperatures is put on top of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import floats
from cure_models.coating import Limits, resolve
from windows.conditions import coated, roof_under
from windows.exposure import Exposure, expose
from windows.gates import Checked, State, States, check_coating, gate_quantities, margin
from windows.odds.chance import Chance, Method
from windows.odds.forecast_error import TEMPERATURES, ForecastError, chance_within, lead_days
from windows.odds.rain import Periods, both
from windows.runs import least_between
from windows.time_rows import unix_seconds

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from cure_models.coating import Gate
    from cure_models.profile import Profile
    from windows.hours import HourlyTable
    from windows.job import CheckedHours
    from windows.odds.climate import Climate
    from windows.site import Site

    Rows = NDArray[np.int64]

__all__ = [
    "LEAST_RUNS", "METHODS", "ChanceArrays", "WorkOdds", "member_exposure", "member_states",
    "work_odds",
]  # fmt: skip

LEAST_RUNS = 10
"""Of fewer runs a share says too little (own choice)."""
METHODS: tuple[Method, ...] = tuple(Method)
"""Methods by their number in `ChanceArrays`."""
_NUMBER = {method: np.int8(number) for number, method in enumerate(METHODS)}


@dataclass(frozen=True)
class ChanceArrays:
    """Chances of many works, shape (works,); see `windows.odds.chance.Chance`. [fraction]

    ``estimate`` is NaN where only the bounds are known. ``method`` is a place in `METHODS`.
    """

    low: FloatArray
    estimate: FloatArray
    high: FloatArray
    method: NDArray[np.int8]

    @property
    def careful(self) -> FloatArray:
        """The numbers to plan with: the estimate, else the low bound, shape (works,). [fraction]"""
        return np.where(np.isnan(self.estimate), self.low, self.estimate)

    def at(self, number: int) -> Chance:
        """Return one of them."""
        estimate = float(self.estimate[number])
        return Chance(
            low=float(self.low[number]),
            estimate=None if np.isnan(estimate) else estimate,
            high=float(self.high[number]),
            method=METHODS[self.method[number]],
        )


@dataclass(frozen=True)
class _Hold:
    """Until when the film of each hour needs something, and whether that is known. (hours,)."""

    end: Rows
    known: BoolArray

    @classmethod
    def of(cls, checked: Checked, gate: Gate) -> _Hold:
        size = checked.clock.hours
        if gate.milestone is None:
            assert gate.clock_h is not None  # a hold has one of the two
            end = np.arange(size) + gate.clock_h
        else:
            end = checked.milestones[gate.milestone]
        return cls(checked.hold_ends[gate.name], end <= size)

    def after(self, after: Rows) -> Rows:
        """Return the row after the last that counts for works that end before ``after``."""
        return np.maximum(after, self.end[after - 1])


@dataclass(frozen=True)
class _Margin:
    """How many standard errors one gate is from its limit in each hour, and its hold if any."""

    upward: bool
    standard: FloatArray
    hold: _Hold | None

    def least(self, first: Rows, after: Rows) -> FloatArray:
        """Return the least over each work and its hold, NaN where not known."""
        if self.hold is None:
            return least_between(self.standard, first, after)
        least = least_between(self.standard, first, self.hold.after(after))
        return np.where(self.hold.known[after - 1], least, np.nan)


@dataclass(frozen=True)
class _Rain:
    """Chances of no rain over a table's hours. ``hold`` is None for a coat that rain leaves alone.

    ``told`` tells whether the forecast has any probability at all: a hole in it is not known, and
    nothing else stands in. ``persistence`` has shape (hours,), NaN where not known.
    """

    index: pd.DatetimeIndex
    hold: _Hold | None
    periods: Periods
    told: bool
    persistence: FloatArray
    climate: Climate | None

    def of(self, first: Rows, after: Rows) -> ChanceArrays:
        """Return the chance of no rain from the start of each work until its last film is safe."""
        if self.hold is None:
            sure = np.ones(first.size)
            return ChanceArrays(sure, sure, sure, _filled(first.size, Method.BOUNDS))
        end, closed = self.hold.after(after), self.hold.known[after - 1]
        found = ChanceArrays(
            np.zeros(first.size), np.full(first.size, np.nan), np.ones(first.size),
            _filled(first.size, Method.UNKNOWN),
        )  # fmt: skip
        known = closed & self.periods.known(first, end)
        self._by_probabilities(found, np.flatnonzero(known), first, end)
        if not self.told:
            self._by_climate(found, np.flatnonzero(closed), first, end)
        return found

    def _by_probabilities(self, found: ChanceArrays, at: Rows, first: Rows, end: Rows) -> None:
        span = first[at], end[at]
        low, high = self.periods.independent(*span), self.periods.dependent(*span)
        low = np.minimum(low, high)  # as rounding may have it
        chain = np.clip(self.periods.chain(self.persistence, *span), low, high)
        inside = self.periods.in_one(*span)
        found.low[at], found.high[at] = low, high
        # Bounds that are one and the same are an estimate: of no chance of rain at all, say.
        found.estimate[at] = np.where(inside | (low == high), low, chain)
        found.method[at] = np.where(
            inside,
            _NUMBER[Method.PERIOD],
            np.where(np.isnan(chain), _NUMBER[Method.BOUNDS], _NUMBER[Method.CHAIN]),
        )

    def _by_climate(self, found: ChanceArrays, at: Rows, first: Rows, end: Rows) -> None:
        """Fill in how often the same hours were dry."""
        if self.climate is None or not at.size:
            return
        dry, _ = self.climate.dry_chance(self.index[first[at]], end[at] - first[at])
        at, dry = at[~np.isnan(dry)], dry[~np.isnan(dry)]
        found.low[at], found.estimate[at], found.high[at] = dry, dry, dry
        found.method[at] = _NUMBER[Method.CLIMATE]


@dataclass(frozen=True)
class WorkOdds:
    """The odds of every work in one table for one coating. See `work_odds`."""

    rain: _Rain
    margins: tuple[_Margin, ...]
    members: States | None

    def of(self, first: ArrayLike, after: ArrayLike) -> ChanceArrays:
        """Return the chances that works hold.

        Parameters
        ----------
        first, after
            The first row of each work and the one after its last, shape (works,).

        Notes
        -----
        Errors of temperature are taken as independent of rain for the estimate; the bounds hold
        whatever the two have to do with each other.
        """
        first, after = (np.atleast_1d(np.asarray(each, dtype=np.int64)) for each in (first, after))
        assert (first < after).all()
        rain = self.rain.of(first, after)
        warm = self.temperature_chance(first, after)
        low, high = both(rain.low, rain.high, warm)
        known = ~np.isnan(warm) & (rain.method != _NUMBER[Method.UNKNOWN])
        found = ChanceArrays(
            low=np.where(known, low, 0.0),
            estimate=np.where(known, np.clip(rain.estimate * warm, low, high), np.nan),
            high=np.where(known, high, 1.0),
            method=np.where(known, rain.method, _NUMBER[Method.UNKNOWN]),
        )
        self._by_members(found, first, after)
        return found

    def chance(self, first: int, after: int) -> Chance:
        """Return the chance that one work in rows ``[first, after)`` holds."""
        return self.of(first, after).at(0)

    def temperature_chance(self, first: Rows, after: Rows) -> FloatArray:
        """Return the chance that the error of the forecast breaks no gate of temperature.

        Shape (works,); NaN where a value is not known.
        """
        least = {True: np.full(first.size, np.inf), False: np.full(first.size, np.inf)}
        for each in self.margins:
            least[each.upward] = np.minimum(least[each.upward], each.least(first, after))
        return chance_within(least[True], least[False])

    def _by_members(self, found: ChanceArrays, first: Rows, after: Rows) -> None:
        """Put the share of runs in place of what was found, where any run can tell."""
        if self.members is None or len(self.members) < LEAST_RUNS:
            return
        blocked = _any_between(self.members == State.BLOCKED, first, after)
        holds = ~_any_between(self.members != State.OK, first, after)
        at = np.flatnonzero((holds | blocked).any(axis=0))
        share = holds.mean(axis=0)[at]
        found.low[at], found.estimate[at] = share, share
        found.high[at] = (~blocked).mean(axis=0)[at]
        found.method[at] = _NUMBER[Method.MEMBERS]


def _filled(size: int, method: Method) -> NDArray[np.int8]:
    return np.full(size, _NUMBER[method], dtype=np.int8)


def _any_between(flags: BoolArray, first: Rows, after: Rows) -> BoolArray:
    """Tell whether a flag is set in rows ``[first, after)`` of each run, shape (runs, works)."""
    before = np.zeros((flags.shape[0], flags.shape[1] + 1), dtype=np.int64)
    np.cumsum(flags, axis=1, out=before[:, 1:])
    found: BoolArray = before[:, after] > before[:, first]
    return found


def work_odds(
    each: CheckedHours,
    *,
    now: pd.Timestamp,
    climate: Climate | None,
    error: ForecastError,
    member_checks: States | None = None,
) -> WorkOdds:
    """Return the odds of every work in a table for the coating that was checked in it.

    Parameters
    ----------
    each
        The coating on the site in the forecast.
    now
        From when hours are counted as ahead, unless the forecast was made before.
    climate
        The site's rain over many years, from `windows.odds.climate.climate_of`, if there is any.
    error
        Errors of the forecast by lead day.
    member_checks
        Gates of the coating in each run of an ensemble, from `member_states`. Where a run decides,
        the share of those in which every gate holds in every hour is low bound and estimate; runs
        that cannot answer count as lost, and for the high bound as held. It is a share and no more:
        of ten runs it knows no chance between 0 and 10 %, and runs are mostly more alike than
        weather is, so its bounds say nothing of that error.
    """
    hours, checked = each.hours, each.checked
    told = hours.provenance
    since = told.issued if told.issued is not None else told.retrieved
    made = now if since is None else min(now, since)
    ahead = lead_days(hours.index, made)
    margins = tuple(
        _Margin(
            gate.rule.sense == "min",
            error.standard_margin(
                margin(each.conditions.quantity(gate.rule.quantity), gate),
                gate.rule.quantity, gate.rule.sense, ahead,
            ),
            _Hold.of(checked, gate) if gate.name in checked.hold_ends else None,
        )
        for gate in checked.coating.gates
        if gate.rule.quantity in TEMPERATURES
    )  # fmt: skip
    return WorkOdds(_rain(each, climate, error), margins, member_checks)


def _rain(each: CheckedHours, climate: Climate | None, error: ForecastError) -> _Rain:
    hours = each.hours
    size = len(hours.index)
    told = hours.column("rain_prob")
    told = np.full(size, np.nan) if told is None else told
    length = hours.column("rain_prob_block_h")
    length = np.ones(size) if length is None else length
    # Periods are those of what was told: corrected, neighbours may be the same.
    periods = Periods.of(told, length)
    periods = replace(periods, rain_prob=error.rain_prob(periods.rain_prob))
    gate = next((gate for gate in each.coating.gates if gate.name == "no_rain"), None)
    return _Rain(
        index=hours.index,
        hold=None if gate is None else _Hold.of(each.checked, gate),
        periods=periods,
        told=bool(np.isfinite(told).any()),
        persistence=_persistence(periods, hours.index, climate),
        climate=climate,
    )


def _persistence(
    periods: Periods, index: pd.DatetimeIndex, climate: Climate | None
) -> FloatArray:
    """Return P(wet | period before wet) in the hours in which a period begins, else NaN."""
    found = np.full(len(index), np.nan)
    if climate is None:
        return found
    begins = np.flatnonzero(periods.begins)
    month = index.month.to_numpy(np.int64)[begins] - 1
    length = periods.length_h[begins]
    for before_h, length_h in set(pairwise(length.tolist())):
        if np.isnan(before_h + length_h):
            continue
        by_month = climate.period_persistence(int(before_h), int(length_h))
        such = np.append(False, (length[:-1] == before_h) & (length[1:] == length_h))
        found[begins[such]] = by_month[month[such]]
    return found


def member_exposure(hours: HourlyTable, site: Site) -> Exposure | None:
    """Return what the weather of each run does to a roof, or None of a table without runs.

    A column that runs do not have is that of the table in all of them. Shapes (runs, hours).
    """
    if not hours.members:
        return None
    shape = next(iter(hours.members.values())).shape
    weather = {
        str(name): np.broadcast_to(floats(hours.frame[name]), shape) for name in hours.frame
    }
    return expose(weather | dict(hours.members), unix_seconds(hours.index), site)


def member_states(
    site: Site,
    profile: Profile,
    hours: HourlyTable,
    *,
    dry_film_um: float | None = None,
    start_wet_mm: float | None = None,
    limits: Limits = "generic",
    exposure: Exposure | None = None,
) -> States | None:
    """Return all gates of a coating together in each run of an ensemble.

    Parameters
    ----------
    site, profile, hours
        Where, with the layer that is now on top; what; and in which weather.
    dry_film_um
        Dry film of the coat, default the profile's. [um]
    start_wet_mm
        Water on the roof before the first hour, if somebody has looked. [mm]
    limits
        End of every range of the profile that counts.
    exposure
        That of `member_exposure`, to save working it out again for another layer.

    Returns
    -------
    Shape (runs, hours), or None of a table without runs.

    Raises
    ------
    ProfileError
        If the film is impossible.
    """
    exposure = member_exposure(hours, site) if exposure is None else exposure
    if exposure is None:
        return None
    coating = resolve(profile, method=site.method, dry_film_um=dry_film_um, limits=limits)
    roof = roof_under(exposure, site, start_wet_mm=start_wet_mm)
    at_roof = coated(roof, coating, only=gate_quantities(coating))
    return check_coating(coating, at_roof).state
