"""What many years of a site say of rain: how it persists, and how often hours like these stay dry.

A wet hour has measurable rain, 0.01 in (0.254 mm, or 0.25 as many files write it), as forecast
probabilities have it (AMS Glossary, "probability of precipitation"). An hour whose rain is only
known as a part of a longer sum is not known, whether that sum is rain or none: of such sums only
the dry ones would tell their hours.
Months, days and hours of the day are those of UTC, so that no change of the clock moves them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import floats

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.hours import HourlyTable

    Counts = NDArray[np.int64]

__all__ = ["LEAST_YEARS", "MEASURABLE_MM", "Climate", "climate_of"]

MEASURABLE_MM = 0.249
"""The least rain that probabilities of rain count: 0.01 in, 0.254 mm, in many files 0.25. [mm]"""
LEAST_YEARS = 10
"""Fewer years tell too little of rain by month (own choice)."""
_ENOUGH = 0.9
"""Share of a year's hours that must be known for it to count (own choice)."""
_FEWEST = 30
"""Fewer wet hours of a month than this tell nothing of what follows them (own choice)."""
_DAYS_AROUND = 15
"""Days before and after a date that are taken to be like it (own choice)."""
_HALF = 0.5
"""Share of those days on which the hours of a year must be known for it to count (own choice)."""
_DECIMALS = 3
"""As rain is rounded for the gates. [mm]"""
_CHUNK = 1000


@dataclass(frozen=True, eq=False)
class Climate:
    """Wet and dry hours of many years at one site.

    Attributes
    ----------
    years
        Calendar years of which enough hours are known.
    wet_share
        Share of the known hours that are wet, January to December, NaN of a month without any.
        Shape (12,).
    persistence
        P(wet | hour before wet) by month of the hour, NaN where too few are wet. Shape (12,).
    pairs
        Wet hours with a known hour after them, by month of that hour. Shape (12,).
    start_min
        Start of the first hour, minutes since 1970 in UTC.
    wet_before, unknown_before
        Wet hours and hours not known before each hour, and in all. Shape (hours + 1,).
    month
        Month of each hour, 0 to 11. Shape (hours,).
    """

    years: int
    wet_share: FloatArray
    persistence: FloatArray
    pairs: Counts
    start_min: int
    wet_before: Counts
    unknown_before: Counts
    month: Counts

    def period_persistence(self, before_h: int, length_h: int) -> FloatArray:
        """Return P(wet | period before wet) by month, of periods that follow each other.

        Parameters
        ----------
        before_h, length_h
            Hours of the period before and of the period; wet is one with any wet hour. Every hour
            of the years counts as the border of two such periods. [h]

        Returns
        -------
        Shape (12,), by month of the period's first hour; NaN where too few are wet.
        """
        return _persistence(
            self.wet_before, self.unknown_before, self.month, before_h, length_h
        )[0]

    def dry_chance(self, starts: pd.DatetimeIndex, hours: Counts) -> tuple[FloatArray, Counts]:
        """Return how often hours like these were all dry, and of how many days that is the share.

        Parameters
        ----------
        starts
            First hours, UTC. Shape (spans,).
        hours
            Length of each span, 1 or more. [h]

        Returns
        -------
        Chance and days, shape (spans,) each. A day is one on which the same hours are known, or
        one of them was wet, of the 31 days around the date in every year. The chance is NaN where
        fewer than `LEAST_YEARS` have at least half of them.
        """
        start_min = starts.tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)
        asked, of_asked = np.unique(
            np.column_stack([start_min, hours]), axis=0, return_inverse=True
        )
        parts = [
            self._dry_days(asked[at : at + _CHUNK]) for at in range(0, len(asked), _CHUNK)
        ] or [(np.empty(0), np.empty(0, dtype=np.int64))]
        chance, days = (np.concatenate(each) for each in zip(*parts, strict=True))
        return chance[of_asked.ravel()], days[of_asked.ravel()]

    def _dry_days(self, asked: Counts) -> tuple[FloatArray, Counts]:
        """Return chance and days of spans, each the minute of its start and its hours."""
        size = self.month.size
        day, minute = np.divmod(asked[:, 0], 24 * 60)
        date = day.astype("datetime64[D]")
        month = date.astype("datetime64[M]")
        ends = np.array([self.start_min, self.start_min + 60 * size], dtype="datetime64[m]")
        first, last = ends.astype("datetime64[Y]").astype(np.int64)
        # 29 February is 1 March in a year without.
        same_month = (
            np.arange(first, last + 1) * 12 + (month.astype(np.int64) % 12)[:, None]
        ).astype("datetime64[M]").astype("datetime64[D]")
        same_date = same_month.astype(np.int64) + (date - month.astype("datetime64[D]")).astype(
            np.int64
        )[:, None]
        around = np.arange(-_DAYS_AROUND, _DAYS_AROUND + 1)
        begins = (same_date[:, :, None] + around) * 24 * 60 + minute[:, None, None]
        row = (begins - self.start_min) // 60
        length = asked[:, 1][:, None, None]
        inside = (row >= 0) & (row + length <= size)
        row = np.where(inside, row, 0)
        end = np.where(inside, row + length, 0)
        wet = self.wet_before[end] > self.wet_before[row]
        # Whatever the others were, one wet hour is enough to know that not all were dry.
        known = inside & (wet | (self.unknown_before[end] == self.unknown_before[row]))
        dry = known & ~wet
        days = known.sum(axis=(1, 2))
        enough = (known.mean(axis=2) >= _HALF).sum(axis=1) >= LEAST_YEARS
        return _share(dry.sum(axis=(1, 2)), np.where(enough, days, 0)), days


def climate_of(hours: HourlyTable) -> tuple[Climate | None, str]:
    """Return the rain of many years, or None and why they cannot tell it.

    Parameters
    ----------
    hours
        Years of hours that were, in order.
    """
    place = hours.provenance.place
    foretold = hours.provenance.is_forecast
    if foretold or hours.provenance.kind == "typical":
        kind = "a forecast" if foretold else "a typical year"
        return None, f"{place}: is {kind}, no record of rain: odds need years that were"
    rain = np.round(floats(hours.frame["rain_mm"]), _DECIMALS)
    block = hours.column("rain_block_h")
    unknown = np.isnan(rain) if block is None else np.isnan(rain) | (block > 1)
    wet = (rain >= MEASURABLE_MM) & ~unknown
    index = hours.index
    month = index.month.to_numpy(np.int64) - 1
    of_year = np.bincount(index.year.to_numpy(np.int64)[~unknown], minlength=1)
    years = int((of_year >= _ENOUGH * 365 * 24).sum())
    if years < LEAST_YEARS:
        return None, (
            f"{place}: holds {years} years of which rain is known in 90 % of the hours; odds from "
            f"the climate need at least {LEAST_YEARS}: give more years"
        )
    wet_before, unknown_before = _before(wet), _before(unknown)
    persistence, pairs = _persistence(wet_before, unknown_before, month, 1, 1)
    climate = Climate(
        years=years,
        wet_share=_share(_by_month(month, wet), _by_month(month, ~unknown)),
        persistence=persistence,
        pairs=pairs,
        start_min=int(index[:1].tz_localize(None).to_numpy("datetime64[m]").astype(np.int64)[0]),
        wet_before=wet_before,
        unknown_before=unknown_before,
        month=month,
    )
    return climate, ""


def _before(flags: BoolArray) -> Counts:
    """Return how many flags are set before each hour, and in all."""
    return np.append(0, np.cumsum(flags, dtype=np.int64))


def _by_month(month: Counts, flags: BoolArray) -> Counts:
    return np.bincount(month[flags], minlength=12)


def _share(part: NDArray[np.generic], whole: Counts) -> FloatArray:
    """Return part of whole, NaN of nothing."""
    share = np.full(whole.shape, np.nan)
    np.divide(part, whole, out=share, where=whole > 0)
    return share


def _persistence(
    wet_before: Counts, unknown_before: Counts, month: Counts, before_h: int, length_h: int
) -> tuple[FloatArray, Counts]:
    """Return P(wet | period before wet) and the wet periods before, by month. Shape (12,) each."""
    at = np.arange(before_h, month.size - length_h + 1)
    before, after = at - before_h, at + length_h
    known = unknown_before[after] == unknown_before[before]
    wet_then = known & (wet_before[at] > wet_before[before])
    wet_now = wet_then & (wet_before[after] > wet_before[at])
    pairs = _by_month(month[at], wet_then)
    return _share(_by_month(month[at], wet_now), np.where(pairs >= _FEWEST, pairs, 0)), pairs
