"""The chance of no rain over hours, from probabilities of hours and of periods of several hours.

A probability is that of measurable rain at a point in a stated period (AMS Glossary, "probability
of precipitation"). That of several hours is the period's: it counts once, never once an hour.

Three answers for the same hours:

- wholly dependent: it rains in all of them or in none, ``1 - max p``;
- wholly independent: ``prod(1 - p)``;
- a two-state Markov chain between both: hours are wet or dry, and a wet hour follows a wet one with
  the persistence ``p11 = P(wet | wet before)``. Every hour keeps the probability that it is given,

      p_k = p_(k-1) p11_k + (1 - p_(k-1)) p01_k

  so the chance of a wet hour after a dry one is ``p01_k = (p_k - p_(k-1) p11_k) / (1 - p_(k-1))``,
  and all hours are dry with the chance ``(1 - p_0) prod(1 - p01_k)``. Where p does not change this
  is ``p01 = p (1 - p11) / (1 - p)`` and ``(1 - p)(1 - p01)^(n - 1)``. Where it changes, p11 is kept
  in ``p_k <= p11_k <= min(1, p_k / p_(k-1))``: above, no probability ``p01_k`` would give the
  hour its p; below, a wet hour would make the next one drier, which weather does not do. So the
  chain is never below the independent answer, and as a chain of true probabilities never above the
  dependent one.

Probabilities may also exclude each other (rain that passes once, at an hour not known): then the
chance is as low as ``1 - sum p``. That is left out: rain of neighbouring hours comes together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.runs import block_starts, least_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray

    Rows = NDArray[np.int64]

__all__ = ["Periods", "both", "chain_factors", "chain_persistence", "products"]


def chain_persistence(rain_prob: FloatArray, persistence: FloatArray) -> FloatArray:
    """Return P(wet | wet before) of each entry, kept in the range that its probability allows.

    Parameters
    ----------
    rain_prob
        Probabilities of entries that follow each other, shape (..., n).
    persistence
        P(wet | wet before) as fitted, broadcast to the same shape.

    Returns
    -------
    Shape (..., n - 1), of each entry but the first.

    Examples
    --------
    >>> chain_persistence(np.array([0.2, 0.1, 0.7]), np.array(0.6))
    array([0.5, 0.7])
    """
    before, now = rain_prob[..., :-1], rain_prob[..., 1:]
    given = np.broadcast_to(persistence, rain_prob.shape)[..., 1:]
    most = np.divide(now, before, out=np.ones_like(now), where=now < before)
    kept: FloatArray = np.maximum(np.minimum(given, most), now)
    return kept


def chain_factors(rain_prob: FloatArray, persistence: FloatArray) -> FloatArray:
    """Return P(dry | dry before) of each entry, and P(dry) of the first. See the module's notes.

    Shapes as in `chain_persistence`; returns (..., n). Their product is the chance of no rain at
    all. NaN where a probability, the one before it, or the persistence is.

    Examples
    --------
    >>> float(np.prod(chain_factors(np.full(12, 0.1), np.array(0.65))).round(4))
    0.5818
    >>> round(0.9 * (1 - 0.1 * (1 - 0.65) / 0.9) ** 11, 4)
    0.5818
    """
    before, now = rain_prob[..., :-1], rain_prob[..., 1:]
    joint = before * chain_persistence(rain_prob, persistence)
    dry = 1 - before
    # After an hour that is surely wet nothing is dry: any factor will do, its own is the plain one.
    after_dry = np.divide(now - joint, dry, out=now + 0 * joint, where=dry > 0)
    factors: FloatArray = 1 - np.clip(after_dry, 0.0, now)
    return np.concatenate([1 - rain_prob[..., :1], factors], axis=-1)


def products(values: FloatArray, starts: Rows, ends: Rows) -> FloatArray:
    """Return the product of ``values[start:end]`` for each pair, 1 where that holds nothing.

    Examples
    --------
    >>> products(np.array([0.5, 0.5, 0.1]), np.array([0, 1, 1]), np.array([2, 3, 1]))
    array([0.25, 0.05, 1.  ])
    """
    padded = np.append(values, 1.0)
    pairs = np.column_stack([starts, ends]).ravel()
    found = np.multiply.reduceat(padded, pairs)[::2] if pairs.size else np.ones(0)
    return np.where(starts < ends, found, 1.0)


def both(low: FloatArray, high: FloatArray, other: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bound the chance of two things, whatever they have to do with each other.

    ``low`` and ``high`` bound the chance of the one, ``other`` is that of the other (Frechet's
    bounds). Shapes broadcast.

    Examples
    --------
    >>> [float(each.round(9)) for each in both(np.array(0.8), np.array(0.9), np.array(0.7))]
    [0.5, 0.7]
    """
    most = np.minimum(high, other)
    return np.clip(low + other - 1.0, 0.0, most), most  # as rounding may have it


@dataclass(frozen=True)
class Periods:
    """Probabilities of rain over a table's hours, with the periods that they were given for.

    Attributes
    ----------
    rain_prob
        In each hour that of its period, NaN where not known. Shape (hours,).
    length_h
        Hours of that period. Shape (hours,). [h]
    begins
        Whether a period begins in the hour. Shape (hours,).
    """

    rain_prob: FloatArray
    length_h: FloatArray
    begins: BoolArray

    @classmethod
    def of(cls, rain_prob: FloatArray, length_h: FloatArray) -> Periods:
        """Return the periods of a table, shapes (hours,). See `windows.runs.block_starts`.

        Neighbours with the same value are told apart by counting from the first of them. Where that
        comes after an hour not known, nobody knows whether a period began in it: all of them are
        not known then, nor is a probability whose hours are not.
        """
        known = ~np.isnan(rain_prob + length_h)
        told = np.where(known, rain_prob, np.nan)
        new = np.append(True, (told[1:] != told[:-1]) | (length_h[1:] != length_h[:-1]))
        cut = new & np.append(False, ~known[:-1]) & (length_h > 1)
        cut = cut[np.maximum.accumulate(np.where(new, np.arange(told.size), 0))]
        return cls(np.where(cut, np.nan, told), length_h, block_starts(told, length_h))

    def known(self, starts: Rows, ends: Rows) -> BoolArray:
        """Tell of which spans ``[start, end)`` every probability is known, shape (spans,)."""
        found: BoolArray = ~np.isnan(least_between(self.rain_prob, starts, ends))
        return found

    def in_one(self, starts: Rows, ends: Rows) -> BoolArray:
        """Tell which spans lie inside one period, shape (spans,)."""
        begun = np.append(0, np.cumsum(self.begins))
        found: BoolArray = begun[ends] == begun[starts + 1]
        return found

    def independent(self, starts: Rows, ends: Rows) -> FloatArray:
        """Return the chance of no rain in spans if periods have nothing to do with each other.

        Each period that a span meets counts once and in full, also where only a part of it is met:
        rain in a part is at most as likely as in the whole. Shape (spans,).
        """
        dry = 1 - self.rain_prob
        counted = np.where(self.begins, dry, 1.0)
        # What began before the span counts as well; 0 * dry keeps the unknown unknown.
        return dry[starts] * products(counted + 0 * dry, starts + 1, ends)

    def dependent(self, starts: Rows, ends: Rows) -> FloatArray:
        """Return the chance of no rain in spans if it rains in all periods or in none.

        Of a period that lies in the span in full, rain is as likely as told. Of one of n hours of
        which the span holds m, it is taken to be at least ``p / ceil(n / m)``: so many runs of m
        hours cover the period, and none of them is taken to be drier than the others (own choice).
        Shape (spans,).
        """
        hours = np.arange(self.rain_prob.size)
        began = np.maximum.accumulate(np.where(self.begins, hours, 0))
        begins_at = np.append(np.flatnonzero(self.begins), hours.size)
        ended = begins_at[np.searchsorted(begins_at, hours, side="right")]
        last = ends - 1
        most = np.minimum(
            self._part(starts, np.minimum(ended[starts], ends) - starts),
            self._part(last, ends - np.maximum(began[last], starts)),
        )
        # Between the first and the last period that a span meets all are whole.
        inner, until = ended[starts], began[last]
        between = inner < until
        whole = least_between(
            self._part(hours, ended - began),
            np.where(between, inner, starts),
            np.where(between, until, ends),
        )
        return np.where(between, np.minimum(most, whole), most)

    def _part(self, row: Rows, hours: Rows) -> FloatArray:
        """Return the greatest chance of no rain in so many hours of the period of a row."""
        runs = np.ceil(np.fmax(self.length_h[row], 1.0) / hours)
        chance: FloatArray = 1 - self.rain_prob[row] / np.maximum(runs, 1.0)
        return chance

    def chain(self, persistence: FloatArray, starts: Rows, ends: Rows) -> FloatArray:
        """Return the chance of no rain in spans by a chain over the periods.

        Parameters
        ----------
        persistence
            P(wet | period before wet) in the hour in which a period begins, shape (hours,); read
            nowhere else.
        starts, ends
            Spans ``[start, end)``, shape (spans,).

        Returns
        -------
        Shape (spans,), NaN where a probability or a persistence that counts is not known.
        """
        at = np.flatnonzero(self.begins)
        factors = np.ones(self.rain_prob.size)
        factors[at] = chain_factors(self.rain_prob[at], persistence[at])
        return (1 - self.rain_prob[starts]) * products(factors, starts + 1, ends)
