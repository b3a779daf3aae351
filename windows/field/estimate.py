"""The bias of a site, from readings of which those of one day err alike.

A difference of a reading is taken as ``b + u + e``: the bias of the site ``b``, one error ``u`` for
the day, one ``e`` of the reading, all normal around zero. So a hundred readings of one day tell
hardly more than one. The bias is the mean of ``b`` given the readings: pulled to zero by what is
known beforehand, the more so the fewer days there are (the linear mixed model: Searle, Casella and
McCulloch 1992, Variance Components, ch. 7; from memory).
"""

from __future__ import annotations

from math import nan, sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from cure_models.arrays import floats
from windows.calibration import ModelError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray

__all__ = ["DaySums", "Spread", "day_sums", "error_of_all", "posterior", "spread"]

_LEAST_SPREAD_K = 0.5
"""Smallest error of a day and of a reading that is believed (own choice). [K]"""
_DEFAULT_COUNTS = 4.0
"""So many degrees of freedom the errors known beforehand count beside the data (own choice)."""


class DaySums(NamedTuple):
    """Readings of each day: how many, their mean and squares around it, shape (days,) each."""

    readings: FloatArray
    mean: FloatArray
    squares: FloatArray

    def without(self, day: int) -> DaySums:
        """Return these without a day, by its number from 0."""
        return DaySums(*(np.delete(each, day) for each in self))

    def there(self) -> DaySums:
        """Return the days that have readings."""
        return DaySums(*(each[self.readings > 0] for each in self))

    def error(self, added: FloatArray) -> ModelError:
        """Return the error of the source, with so much added on each day."""
        off = np.where(self.readings > 0, self.mean - added, 0.0)
        total = float(self.readings.sum())
        if not total:
            return ModelError(nan, nan)
        mean = float((self.readings * off).sum()) / total
        square = float((self.squares + self.readings * off**2).sum()) / total
        return ModelError(-mean + 0.0, sqrt(square))


def day_sums(values: FloatArray, day: NDArray[np.int64], days: int) -> DaySums:
    """Return the sums of ``days`` days of readings, whose day is told by its number from 0."""
    count = np.bincount(day, minlength=days).astype(np.float64)
    mean = np.bincount(day, values, minlength=days) / np.maximum(count, 1.0)
    squares = np.bincount(day, (values - mean[day]) ** 2, minlength=days)
    return DaySums(count, floats(mean), floats(squares))


def error_of_all(parts: Sequence[DaySums], added: Sequence[FloatArray]) -> ModelError:
    """Return the error over days and nights together."""
    whole = DaySums(*(np.concatenate(each) for each in zip(*parts, strict=True)))
    return whole.error(np.concatenate(added))


class Spread(NamedTuple):
    """Standard deviations of the error that a day's readings share, and of each one's own. [K]"""

    day_k: float
    reading_k: float


def spread(
    count: FloatArray, mean: FloatArray, squares: FloatArray, *, day_k: float, reading_k: float
) -> Spread:
    """Return the errors of days and readings: those known beforehand, moved by the data.

    Parameters
    ----------
    count, mean, squares
        Readings of each day: number, mean, and sum of squares around it; shape (days,).
    day_k, reading_k
        Standard deviations known beforehand; they count as much as 4 degrees of freedom. [K]

    Notes
    -----
    Within days by pooled squares; between days by the variance of their means, all days alike, less
    what single readings leave in it (the unweighted-means form of the analysis of variance). So a
    day of a logger does not outvote the others.
    """
    within = float((count - 1.0).sum())
    known = _DEFAULT_COUNTS
    of_reading = (known * reading_k**2 + float(squares.sum())) / (known + within)
    of_reading = max(of_reading, _LEAST_SPREAD_K**2)
    of_day = day_k**2
    if count.size > 1:
        between = float(mean.var(ddof=1)) - of_reading * float(np.mean(1.0 / count))
        free = count.size - 1.0
        of_day = (known * of_day + free * max(between, 0.0)) / (known + free)
    return Spread(max(sqrt(of_day), _LEAST_SPREAD_K), sqrt(of_reading))


def posterior(
    count: FloatArray, mean: FloatArray, errors: Spread, *, prior_k: float
) -> tuple[float, float]:
    """Return the bias and its standard error, given the readings of each day. [K]

    Examples
    --------
    A thousand readings of one day, 3 K off, against a site known to 1.5 K and a day to 2 K:

    >>> bias, error = posterior(floats([1000]), floats([3.0]), Spread(2.0, 1.0), prior_k=1.5)
    >>> round(bias, 2), round(error, 2)
    (1.08, 1.2)
    """
    weight = 1.0 / (errors.day_k**2 + errors.reading_k**2 / count)
    whole = float(weight.sum()) + 1.0 / prior_k**2
    return float((weight * mean).sum()) / whole, 1.0 / sqrt(whole)
