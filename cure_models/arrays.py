"""Array types and the two readings every physics function starts with.

Every function here takes numbers or arrays that broadcast; the last axis is hours. A NaN is an
unknown: it goes through and comes out as NaN, it never turns into a dry or a warm hour.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["BoolArray", "FloatArray", "floats", "fraction", "not_negative"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_SURELY_PERCENT = 2.0


def floats(values: ArrayLike) -> FloatArray:
    """Numbers of any kind as float64, without a copy where possible."""
    return np.asarray(values, dtype=np.float64)


def fraction(values: ArrayLike, name: str) -> FloatArray:
    """Read a share: 0-1, cut off at 1, unknown where negative.

    A negative share is a missing-value mark that slipped through, so it becomes NaN and is not
    cut off at 0, which would read as bone dry or cloudless.

    Raises
    ------
    ValueError
        Where a value is above 2: that is a percentage.
    """
    share = floats(values)
    if np.any(share > _SURELY_PERCENT):
        raise ValueError(
            f"{name} is a fraction 0-1, but the largest value is {np.nanmax(share):g}. "
            "Divide a percentage by 100."
        )
    read: FloatArray = np.where(share >= 0.0, np.minimum(share, 1.0), np.nan)
    return read


def not_negative(values: ArrayLike) -> FloatArray:
    """Read a quantity that cannot be negative (wind speed, say): NaN where it is."""
    amount = floats(values)
    read: FloatArray = np.where(amount >= 0.0, amount, np.nan)
    return read
