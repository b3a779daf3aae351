"""Two exact running recurrences over the last axis, without a Python loop over every hour.

Both steps are maps of a family that is closed under composition: affine maps for `relax`, shifted
clips for `clipped_sum`. So the hours are cut in about sqrt(n) blocks, the maps are composed inside
all blocks at once, the state is stepped from block to block, and applied: O(n) array work and
about 2 sqrt(n) Python steps.
"""

from __future__ import annotations

from math import isqrt
from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import FloatArray, floats

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["clipped_sum", "relax"]


def _blocks(values: FloatArray, fill: float) -> FloatArray:
    """(..., n) as (L, ..., n/L): position inside the block first, padded with `fill`."""
    hours = values.shape[-1]
    length = max(1, isqrt(hours))
    count = -(-hours // length)
    padded = np.full((*values.shape[:-1], count * length), fill)
    padded[..., :hours] = values
    cut = padded.reshape(*values.shape[:-1], count, length)
    return np.ascontiguousarray(np.moveaxis(cut, -1, 0))


def _hours(blocks: FloatArray, hours: int) -> FloatArray:
    """Undo `_blocks`."""
    together = np.moveaxis(blocks, 0, -1)
    flat: FloatArray = together.reshape(*together.shape[:-2], -1)
    return flat[..., :hours]


def _spread(start: ArrayLike, *series: FloatArray) -> tuple[FloatArray, tuple[FloatArray, ...]]:
    """Broadcast the series to (..., n) and the start to (...)."""
    begin = floats(start)
    shape = np.broadcast_shapes(*(one.shape for one in series), (*begin.shape, 1))
    wide = tuple(np.broadcast_to(one, shape) for one in series)
    return np.broadcast_to(begin, shape[:-1]), wide


def relax(decay: ArrayLike, target: ArrayLike, start: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Relaxation to a moving target: ``x[k+1] = target[k] + (x[k] - target[k]) * decay[k]``.

    Parameters
    ----------
    decay, target : one step per hour, shape (..., n); decay is 0-1.
    start : state before the first hour, shape (...).

    Returns
    -------
    states : the state at the START of each hour, shape (..., n).
    final : the state after the last hour, shape (...).

    Notes
    -----
    A NaN goes on to every later hour, even through a decay of 0.
    """
    state, (factor, aim) = _spread(start, floats(decay), floats(target))
    hours = factor.shape[-1]
    if hours == 0:
        return np.empty(factor.shape), state.copy()
    scale = _blocks(factor, 1.0)
    shift = _blocks((1.0 - factor) * aim, 0.0)

    # Compose: before step j of its block a state is scale_to[j] * block start + shift_to[j].
    scale_to, shift_to = np.empty_like(scale), np.empty_like(shift)
    a, b = np.ones(scale.shape[1:]), np.zeros(scale.shape[1:])
    for j in range(scale.shape[0]):
        scale_to[j], shift_to[j] = a, b
        a, b = a * scale[j], b * scale[j] + shift[j]

    begins = np.empty(scale.shape[1:])
    for block in range(scale.shape[-1]):
        begins[..., block] = state
        state = a[..., block] * state + b[..., block]
    return _hours(scale_to * begins + shift_to, hours), state


def clipped_sum(
    gain: ArrayLike, loss: ArrayLike, capacity: ArrayLike, start: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Store that runs over and runs dry: ``s[k+1] = max(0, min(capacity, s[k]+gain) - loss)``.

    Parameters
    ----------
    gain, loss, capacity : per hour, finite, shape (..., n) or broadcast to it.
    start : content before the first hour, shape (...).

    Returns
    -------
    states : the content at the START of each hour, shape (..., n).
    final : the content after the last hour, shape (...).
    """
    state, (more, less, most) = _spread(start, floats(gain), floats(loss), floats(capacity))
    hours = more.shape[-1]
    if hours == 0:
        return np.empty(more.shape), state.copy()
    move = _blocks(more - less, 0.0)
    floor = _blocks(np.zeros(more.shape), -np.inf)
    top = _blocks(np.maximum(most - less, 0.0), np.inf)

    # Compose: before step j of its block a content is clip(start + add, low, high); a clip of a
    # clip is again one, whose ends are the old ends put through the new step.
    add_to, low_to, high_to = (np.empty_like(move) for _ in range(3))
    shape = move.shape[1:]
    add, low, high = np.zeros(shape), np.full(shape, -np.inf), np.full(shape, np.inf)
    for j in range(move.shape[0]):
        add_to[j], low_to[j], high_to[j] = add, low, high
        add = add + move[j]
        low = np.maximum(np.minimum(low + move[j], top[j]), floor[j])
        high = np.maximum(np.minimum(high + move[j], top[j]), floor[j])

    begins = np.empty(shape)
    for block in range(shape[-1]):
        begins[..., block] = state
        moved = np.minimum(state + add[..., block], high[..., block])
        state = np.maximum(moved, low[..., block])
    states = np.maximum(np.minimum(begins + add_to, high_to), low_to)
    return _hours(states, hours), state
