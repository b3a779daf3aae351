"""Measures of forecasts: Brier score and its parts, reliability, errors, a rising fit.

Brier, Mon. Weather Rev. 78 (1950) 1; Murphy, J. Appl. Meteorol. 12 (1973) 595; Wilson, J. Am. Stat.
Assoc. 22 (1927) 209; pool adjacent violators: Ayer and others, Ann. Math. Stat. 26 (1955) 641. All
from memory; the tests hold them against a library.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray

__all__ = ["BINS", "Brier", "ErrorOf", "ReliabilityBin", "bin_of", "brier", "error_of",
           "reliability", "rising", "wilson"]  # fmt: skip

BINS = 10
_Z95 = 1.959964
"""Both sides of a normal distribution beyond it hold 5 %."""


@dataclass(frozen=True)
class ReliabilityBin:
    """Chances told from above ``low`` up to ``high``: how many, their mean, and what was found.

    ``found`` is the share of them that came true, with its 95 % interval by Wilson. All but the
    first three are NaN where nothing was told.
    """

    low: float
    high: float
    count: int
    told: float
    found: float
    found_low: float
    found_high: float


@dataclass(frozen=True)
class Brier:
    """The Brier score of chances and its parts; all NaN where there is none to score.

    ``score`` = ``reliability`` - ``resolution`` + ``uncertainty`` + ``within``. The last is what
    differs inside the bins of 10 %, zero if each holds one value. ``share`` is how often it came
    true: the climate of these very cases, against which ``skill`` is. Skill is NaN if it always or
    never came true.
    """

    count: int
    share: float
    score: float
    skill: float
    reliability: float
    resolution: float
    uncertainty: float
    within: float


@dataclass(frozen=True)
class ErrorOf:
    """Errors, forecast less observed: how many, mean, mean size, spread about the mean. [K]

    NaN without any; the spread needs two.
    """

    count: int
    bias: float
    mae: float
    sd: float


def error_of(errors: FloatArray) -> ErrorOf:
    """Return the measures of errors, shape (cases,)."""
    if not errors.size:
        return ErrorOf(0, *[float("nan")] * 3)
    sd = float(np.std(errors, ddof=1)) if errors.size > 1 else float("nan")
    return ErrorOf(errors.size, float(errors.mean()), float(np.abs(errors).mean()), sd)


def wilson(hits: int, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a share by Wilson; NaN of nothing.

    Examples
    --------
    >>> [round(end, 3) for end in wilson(0, 10)]
    [0.0, 0.278]
    """
    if count == 0:
        return float("nan"), float("nan")
    share, z2 = hits / count, _Z95**2
    middle = (share + z2 / (2 * count)) / (1 + z2 / count)
    half = _Z95 * sqrt(share * (1 - share) / count + z2 / (4 * count**2)) / (1 + z2 / count)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def reliability(told: FloatArray, wet: BoolArray) -> tuple[ReliabilityBin, ...]:
    """Return what was found where each chance was told, in bins of 10 %.

    Parameters
    ----------
    told
        Chances, shape (cases,). [fraction]
    wet
        Whether they came true, shape (cases,).
    """
    edges = np.linspace(0, 1, BINS + 1)
    number = bin_of(told)
    bins = []
    for n in range(BINS):
        inside = number == n
        count = int(inside.sum())
        hits = int(wet[inside].sum())
        mean = float(told[inside].mean()) if count else float("nan")
        share = hits / count if count else float("nan")
        bins.append(
            ReliabilityBin(
                float(edges[n]), float(edges[n + 1]), count, mean, share, *wilson(hits, count)
            )
        )
    return tuple(bins)


def bin_of(told: FloatArray) -> NDArray[np.int64]:
    """Return which bin of `reliability` each chance is in, from 0.

    Examples
    --------
    >>> bin_of(np.array([0.0, 0.1, 0.11, 1.0])).tolist()
    [0, 0, 1, 9]
    """
    return np.searchsorted(np.linspace(0, 1, BINS + 1)[1:-1], told)


def brier(told: FloatArray, wet: BoolArray) -> Brier:
    """Return the Brier score of chances with its parts by bins of 10 %. See `reliability`.

    ``told`` are chances, ``wet`` whether it rained, shape (cases,) each.
    """
    if not told.size:
        return Brier(0, *[float("nan")] * 7)
    score = float(np.mean((told - wet) ** 2))
    share = float(wet.mean())
    uncertainty = share * (1 - share)
    bins = [each for each in reliability(told, wet) if each.count]
    weight = np.array([each.count for each in bins]) / told.size
    mean, found = np.array([each.told for each in bins]), np.array([each.found for each in bins])
    reliable = float(weight @ (mean - found) ** 2)
    resolved = float(weight @ (found - share) ** 2)
    return Brier(
        count=told.size,
        share=share,
        score=score,
        skill=1 - score / uncertainty if uncertainty > 0 else float("nan"),
        reliability=reliable,
        resolution=resolved,
        uncertainty=uncertainty,
        within=score - (reliable - resolved + uncertainty),
    )


def rising(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the values that never fall and are nearest by least squares: isotonic regression.

    Neighbours that fall are pooled to their weighted mean until none does.

    Examples
    --------
    >>> rising(np.array([0.1, 0.4, 0.2, 0.5]), np.array([1.0, 1, 1, 1])).round(3).tolist()
    [0.1, 0.3, 0.3, 0.5]
    """
    means: list[float] = []
    sums: list[float] = []
    lengths: list[int] = []
    for value, weight in zip(values.tolist(), weights.tolist(), strict=True):
        mean, total, length = value, weight, 1
        while means and means[-1] >= mean:
            before = sums.pop()
            mean = (means.pop() * before + mean * total) / (before + total)
            total += before
            length += lengths.pop()
        means.append(mean)
        sums.append(total)
        lengths.append(length)
    return np.repeat(np.array(means, dtype=np.float64), lengths)
