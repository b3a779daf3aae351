"""Runs of hours: where a condition holds without a break."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray

__all__ = ["block_starts", "least_between", "runs"]


def runs(
    flags: NDArray[np.bool_], group: NDArray[np.int64], at_least: int
) -> list[tuple[int, int]]:
    """Return the maximal runs of set flags within one group, half-open.

    Parameters
    ----------
    flags, group
        Shape (hours,). A run does not cross from one group number to another.
    at_least
        Shortest run returned. [h]

    Examples
    --------
    >>> runs(np.array([1, 1, 0, 1, 1, 1], bool), np.array([0, 0, 0, 0, 0, 1]), 2)
    [(0, 2), (3, 5)]
    """
    # flags 1 1 0 1 1 1, group 0 0 0 0 0 1 -> a run starts at 0 3 5 and ends at 2 5 6
    same = group[1:] == group[:-1]
    starts = np.flatnonzero(flags & np.r_[True, ~(flags[:-1] & same)])
    ends = np.flatnonzero(flags & np.r_[~(flags[1:] & same), True]) + 1
    long_enough = ends - starts >= at_least
    return list(zip(starts[long_enough].tolist(), ends[long_enough].tolist(), strict=True))


def least_between(
    values: FloatArray, starts: NDArray[np.int64], ends: NDArray[np.int64]
) -> FloatArray:
    """Return the least of ``values[start:end]`` for each pair; every range holds an hour."""
    padded = np.append(values, np.inf)
    pairs = np.column_stack([starts, ends]).ravel()
    least: FloatArray = np.minimum.reduceat(padded, pairs)[::2]
    return least


def block_starts(values: FloatArray, lengths: FloatArray) -> NDArray[np.bool_]:
    """Tell which hours begin a block that one value was given for.

    Parameters
    ----------
    values, lengths
        The value and its block's hours in each hour, shape (hours,). Neighbours with the same value
        and length are told apart by counting from the first of them.

    Examples
    --------
    >>> block_starts(np.array([0.1, 0.1, 0.4, 0.4, 0.4, 0.4]), np.array([1.0, 1, 2, 2, 2, 2]))
    array([ True,  True,  True, False,  True, False])
    """
    hour = np.arange(len(values))
    new = np.r_[True, (values[1:] != values[:-1]) | (lengths[1:] != lengths[:-1])]
    since = hour - np.maximum.accumulate(np.where(new, hour, 0))
    found: NDArray[np.bool_] = (since % lengths == 0) | np.isnan(lengths)
    return found
