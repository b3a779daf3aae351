"""Heat stored in the deck: how the surface lags behind its balance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import BoolArray, FloatArray, floats, not_negative
from cure_models.recurrence import relax

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["lagged_temperature"]

_FORGOTTEN = 1e-3
"""Share of an old temperature below which a deck has forgotten it."""


def lagged_temperature(
    steady_c: ArrayLike,
    conductance_w_m2_k: ArrayLike,
    heat_capacity_j_m2_k: ArrayLike,
    start_c: ArrayLike | None = None,
) -> FloatArray:
    """Hour-mean temperature of a surface with heat capacity [degC].

    Inside each hour it relaxes exponentially to that hour's steady temperature: exact for the
    balance linearised around it.

    Parameters
    ----------
    steady_c, conductance_w_m2_k : per hour, shape (..., n). [degC], [W/(m2 K)]
    heat_capacity_j_m2_k : of the deck that follows the surface, shape (...) or one number;
        0 gives `steady_c` back. [J/(m2 K)]
    start_c : temperature before the first hour, shape (...). None assumes that hour's steady
        temperature, which is wrong for a few time constants; those of roof decks are 0.1 to
        3.4 h. NaN is an unknown start. [degC]

    Notes
    -----
    The memory is cut off: an hour is computed from the steady temperature of the last earlier
    hour whose weight in its mean is below 1e-3, and from nothing before that. So it differs from
    the endless memory by less than 1e-3 of the range of temperatures, and an unknown hour (or an
    unknown start) makes exactly those hours unknown that remember it. No other hour changes,
    which a restart after the gap could not promise.
    """
    steady, flow = np.broadcast_arrays(floats(steady_c), floats(conductance_w_m2_k))
    capacity = floats(heat_capacity_j_m2_k)[..., np.newaxis]
    begin = steady[..., :1] if start_c is None else floats(start_c)[..., np.newaxis]
    with np.errstate(divide="ignore"):
        folds = 3600.0 * not_negative(flow) / capacity  # time constants in the hour
    steady, folds, begin = _widen(steady, folds, begin)
    if folds.shape[-1] == 0:
        return np.empty(folds.shape)
    unknown: BoolArray = np.isnan(steady) | np.isnan(folds)
    aim = np.where(unknown, 0.0, steady)
    # Share of an hour's starting temperature in its mean: the integral of exp(-folds t).
    weight = np.where(folds > 0.0, -np.expm1(-folds) / np.maximum(folds, 1e-300), 1.0)
    folds = np.where(unknown, 0.0, np.minimum(folds, 60.0))  # more changes nothing
    start = begin[..., 0]
    at_start, _ = relax(np.exp(-folds), aim, np.where(np.isnan(start), 0.0, start))

    folded = np.zeros(folds.shape)
    np.cumsum(folds[..., :-1], axis=-1, out=folded[..., 1:])
    with np.errstate(divide="ignore"):
        since = _last_not_above(folded, folded + np.log(_FORGOTTEN / weight))
    first = np.maximum(since, 0)
    # Swap the state at that hour for its steady temperature: what came before cancels.
    swap = np.take_along_axis(aim - at_start, first, axis=-1)
    swap = swap * np.exp(np.take_along_axis(folded, first, axis=-1) - folded)
    at_start = at_start + np.where(since >= 0, swap, 0.0)

    hour = np.arange(folds.shape[-1])
    last_unknown = np.maximum.accumulate(np.where(unknown, hour, -1), axis=-1)
    from_start = (since < 0) & (last_unknown < 0) & ~np.isnan(begin)
    known = from_start | ((since >= 0) & (since > last_unknown))
    return np.where(known, steady + (at_start - steady) * weight, np.nan)


def _widen(
    steady: FloatArray, folds: FloatArray, begin: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Broadcast two (..., n) and one (..., 1) array to the same leading axes."""
    hours = steady.shape[-1]
    lead = np.broadcast_shapes(steady.shape[:-1], folds.shape[:-1], begin.shape[:-1])
    return (
        np.broadcast_to(steady, (*lead, hours)),
        np.broadcast_to(folds, (*lead, hours)),
        np.broadcast_to(begin, (*lead, 1)) if hours else np.empty((*lead, 1)),
    )


def _last_not_above(rising: FloatArray, levels: FloatArray) -> NDArray[np.intp]:
    """Index up to its own of the last value not above each level, -1 where there is none."""
    own = np.arange(rising.shape[-1])
    found = np.empty(rising.shape, dtype=np.intp)
    for row in np.ndindex(rising.shape[:-1]):
        found[row] = np.searchsorted(rising[row], levels[row], side="right") - 1
    return np.minimum(found, own)
