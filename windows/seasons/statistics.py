"""Statistics over years: quantiles, the product-limit estimate, intervals, a straight trend."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray

    _Interval = tuple[int | None, int | None]

__all__ = [
    "DRAWS", "LEAST_YEARS", "SHARES", "Finishes", "Percentiles", "Spread", "Trend", "draws",
    "first_day", "inverse_cdf", "percentiles", "spread", "trend",
]  # fmt: skip

SHARES = (0.5, 0.8, 0.9)
LEAST_YEARS = {0.5: 1, 0.8: 5, 0.9: 10}
"""Fewest years from which each share is told: fewer cannot show one year in five, or in ten."""
DRAWS = 1000
_SEED = 20260101
_INTERVAL = (0.05, 0.95)
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Spread:
    """A quantity over the years: mean, and the values that 20, 50, 80 % of them do not exceed.

    All NaN without years; 20 and 80 % too with fewer than five, which cannot show one in five.
    """

    mean: float
    p20: float
    p50: float
    p80: float
    years: int


@dataclass(frozen=True)
class Percentiles:
    """P50, P80 and P90 of a duration, and intervals of the last two; None where not given.

    An interval's end is None where it is open. ``years`` and ``cases`` are what they rest on,
    ``still_open`` the cases of which the finish is not known.
    """

    p50: int | None
    p80: int | None
    p90: int | None
    interval_p80: tuple[int | None, int | None] | None
    interval_p90: tuple[int | None, int | None] | None
    years: int
    cases: int
    still_open: int


@dataclass(frozen=True)
class Trend:
    """A straight line through yearly values by least squares: slope and its standard error."""

    per_decade: float
    error: float
    years: int


def inverse_cdf(values: FloatArray, share: float) -> float:
    """Return the smallest value that at least this share of them does not exceed.

    ``values`` have shape (values,), ``share`` is a fraction. NaN without values. The inverse of the
    empirical distribution (Hyndman and Fan 1996, type 1).

    Examples
    --------
    >>> inverse_cdf(np.arange(1.0, 11.0), 0.8)
    8.0
    """
    if not values.size:
        return float("nan")
    rank = max(ceil(share * values.size - _ROUNDING), 1)
    return float(np.sort(values)[rank - 1])


def spread(values: FloatArray) -> Spread:
    """Return mean and quantiles of one value a year, shape (years,)."""
    mean = float(values.mean()) if values.size else float("nan")
    p20, p50, p80 = (inverse_cdf(values, share) for share in (0.2, 0.5, 0.8))
    if values.size < LEAST_YEARS[0.8]:
        p20 = p80 = float("nan")
    return Spread(mean, p20, p50, p80, values.size)


class Finishes:
    """When cases finish, in whole days, some of them open; grouped by year for drawing years.

    The product-limit estimate of the share that has finished by each day (Kaplan and Meier, J. Am.
    Stat. Assoc. 53, 1958, 457): a case that is open after ``d`` days is at risk up to and with day
    ``d``.

    Attributes
    ----------
    cases, still_open
        How many there are, and of how many the finish is not known.
    years
        Years with a case, ascending.
    days
        Days on which a case finished, ascending: those of `share_by_day`.
    """

    def __init__(
        self, days: NDArray[np.int64], is_open: NDArray[np.bool_], years: NDArray[np.int64]
    ) -> None:
        """Take the cases, shape (cases,) each."""
        self.cases, self.still_open = days.size, int(is_open.sum())
        self._last = int(days.max(initial=-1))
        self.years, year = np.unique(years, return_inverse=True)
        self.days = np.unique(days[~is_open])
        shape = (self.years.size, self.days.size)
        # Finished on each day, and at risk on it, by year.
        finished = np.zeros(shape)
        np.add.at(
            finished, (year[~is_open], np.searchsorted(self.days, days[~is_open])), 1.0
        )
        ended = np.zeros((self.years.size, self.days.size + 1))
        np.add.at(ended, (year, np.searchsorted(self.days, days, side="right")), 1.0)
        self._finished = finished
        self._at_risk = ended.sum(axis=1, keepdims=True) - np.cumsum(ended, axis=1)[:, :-1]

    def share_by_day(self, weights: FloatArray | None = None) -> FloatArray:
        """Return the share of cases finished by each of ``days``, shape (..., days).

        Parameters
        ----------
        weights
            How often each year counts, shape (..., years); default once.
        """
        weights = np.ones(self.years.size) if weights is None else weights
        finished = weights @ self._finished
        if not self.still_open:  # the product then is the plain share
            total = finished.sum(axis=-1, keepdims=True)
            plain: FloatArray = np.cumsum(finished, axis=-1) / total
            return plain
        at_risk = weights @ self._at_risk
        left = 1.0 - np.divide(finished, at_risk, out=np.zeros_like(finished), where=at_risk > 0)
        share: FloatArray = 1.0 - np.cumprod(left, axis=-1)
        return share

    def by(self, day: int) -> float:
        """Return the share of cases finished by a day, counted as theirs are. [fraction]

        NaN without cases, and after the last day on which one was followed if not all have
        finished.
        """
        if not self.cases:
            return float("nan")
        place = int(np.searchsorted(self.days, day, side="right"))
        share = float(self.share_by_day()[place - 1]) if place else 0.0
        beyond = day > self._last and share < 1.0 - _ROUNDING
        return float("nan") if beyond else share


def first_day(days: NDArray[np.int64], finished: FloatArray, share: float) -> FloatArray:
    """Return the first day by which a share has finished, infinite if none is known.

    Parameters
    ----------
    days, finished
        Days, shape (days,), and the shares finished by them, shape (..., days).
    share
        The share asked.
    """
    never = np.ones((*finished.shape[:-1], 1))  # after all days: reached in the end
    reached = np.concatenate([finished, never], axis=-1) >= share - _ROUNDING
    found: FloatArray = np.append(days, np.inf)[reached.argmax(axis=-1)]
    return found


@cache
def draws(years: int) -> FloatArray:
    """Return how often each year is drawn, of as many with replacement, shape (`DRAWS`, years)."""
    rng = np.random.default_rng(_SEED)
    return rng.multinomial(years, np.full(years, 1 / years), size=DRAWS).astype(np.float64)


def percentiles(finishes: Finishes, *, intervals: bool = True) -> Percentiles:
    """Return the percentiles that the years can bear, with intervals from drawn years."""
    p50, p80, p90 = (_percentile(finishes, share) for share in SHARES)
    ends = _intervals(finishes) if intervals and p80 is not None else (None, None)
    return Percentiles(
        p50, p80, p90, ends[0], None if p90 is None else ends[1],
        finishes.years.size, finishes.cases, finishes.still_open,
    )  # fmt: skip


def _percentile(finishes: Finishes, share: float) -> int | None:
    if finishes.years.size < LEAST_YEARS[share] or not finishes.days.size:
        return None
    return _whole(float(first_day(finishes.days, finishes.share_by_day(), share)))


def _intervals(finishes: Finishes) -> tuple[_Interval, _Interval]:
    """Return the intervals of P80 and P90 over drawn years."""
    drawn = finishes.share_by_day(draws(finishes.years.size))
    told = []
    for share in SHARES[1:]:
        days = first_day(finishes.days, drawn, share)
        low, high = (_whole(inverse_cdf(days, end)) for end in _INTERVAL)
        told.append((low, high))
    return told[0], told[1]


def _whole(day: float) -> int | None:
    return int(day) if np.isfinite(day) else None


def trend(years: Sequence[int] | NDArray[np.int64], values: FloatArray) -> Trend | None:
    """Return the slope of yearly values by least squares; None for fewer than five.

    The standard error takes the years as independent (any textbook of regression).
    """
    x = np.asarray(years, dtype=np.float64)
    if x.size < 5:
        return None
    about = x - x.mean()
    slope = float((about * values).sum() / np.square(about).sum())
    rest = values - values.mean() - slope * about
    error = float(np.sqrt(np.square(rest).sum() / (x.size - 2) / np.square(about).sum()))
    return Trend(10 * slope, 10 * error, x.size)
