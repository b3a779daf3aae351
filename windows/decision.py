"""Go or wait by cost: what is lost if a coat is, against what waiting costs, block by block.

The rule is that of the cost-loss ratio (Thompson 1952; Murphy, Mon. Weather Rev. 105, 1977, 803;
both from memory): protect, here wait, when the chance of the loss is above cost over loss. A shift
is a row of blocks, and a coat laid late in it is as a rule riskier than one laid early, so the
answer is a time to stop and not only yes or no.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from enum import Enum
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import floats
from windows.errors import DewgapError

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike

    from cure_models.arrays import BoolArray, FloatArray

__all__ = ["Decision", "Stakes", "Verdict", "decide"]

_SAME = 1e-9
"""Costs whose difference is below this share of the stakes are the same: rounding of sums."""


class Verdict(Enum):
    """What the costs say; the value is how it is told."""

    GO = "go"
    GO_UNTIL = "go, and stop early"
    WAIT = "wait"
    CLOSE_CALL = "close call"
    NO = "no: a hard limit"
    NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Stakes:
    """What is at stake on one shift, in money of any one currency.

    ``lost_per_m2`` is what a lost coat costs beyond the work itself: material, labor, removal.
    ``wait`` is what it costs to stand the crew down for the shift: show-up pay and idle equipment.
    ``late`` is what a day's delay costs.

    Raises
    ------
    DewgapError
        If one of them is negative or no number.
    """

    lost_per_m2: float
    wait: float
    late: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no cost."""
        for name in ("lost_per_m2", "wait", "late"):
            cost = getattr(self, name)
            if not (isfinite(cost) and cost >= 0):
                raise DewgapError(f"stakes: {name} is {cost:g}; give money, 0 or more")


@dataclass(frozen=True)
class Decision:
    """Go or wait, for one crew on one site and day; all money in the currency of the stakes.

    ``stop_at`` is until when to go on laying, None if not at all. ``break_even`` is the chance of
    losing the coat above which waiting is cheaper. ``lost_low``, ``lost`` and ``lost_high`` are the
    chance that a coat of the whole shift is lost, the mean over its area: bounds and estimate, None
    where there is none. ``cost_go``, ``cost_wait`` and ``cost_best`` are expected costs of laying
    the whole shift, of nothing, and of laying until ``stop_at``. ``regret_go`` is what going costs
    more than waiting if the coat is lost, ``regret_wait`` what waiting costs if it would have held;
    both of the work until ``stop_at``, of the whole shift where that is None. ``decide_by`` is the
    last moment to tell the crew to stay.

    Where a hard limit ends the shift, whole means until then; where it allows nothing, there is no
    regret, and the chance is that of the shift as it was wanted.
    """

    verdict: Verdict
    stop_at: pd.Timestamp | None
    break_even: float
    lost_low: float
    lost: float | None
    lost_high: float
    cost_go: float
    cost_wait: float
    cost_best: float
    regret_go: float
    regret_wait: float
    decide_by: pd.Timestamp


@dataclass(frozen=True)
class _Shift:
    """The blocks of a shift: what a lost one loses and what one not laid costs, shape (blocks,).

    ``reach`` is how many come before the first that is forbidden or not known; ``cuts`` tells after
    how many blocks work may stop, shape (blocks + 1,).
    """

    loss: FloatArray
    stand_down: FloatArray
    reach: int
    cuts: BoolArray

    @property
    def least(self) -> float:
        """Difference of costs that counts."""
        return _SAME * float(self.loss.sum() + self.stand_down.sum())

    def costs(self, chance: FloatArray) -> FloatArray:
        """Return the expected cost of laying the first 0, 1, ... ``reach`` blocks, no others.

        Infinite where work may not stop.
        """
        changes = (chance * self.loss - self.stand_down)[: self.reach]
        costs: FloatArray = self.stand_down.sum() + np.concatenate([[0.0], np.cumsum(changes)])
        return np.where(self.cuts[: self.reach + 1], costs, np.inf)

    def best(self, chance: FloatArray) -> int:
        """Return how many blocks to lay at the least cost; of those that cost the same, fewest."""
        costs = self.costs(chance)
        return int(np.argmax(costs <= costs.min() + self.least))


def decide(
    stakes: Stakes,
    starts: pd.DatetimeIndex,
    area_m2: ArrayLike,
    lost_low: ArrayLike,
    lost: ArrayLike,
    lost_high: ArrayLike,
    allowed: ArrayLike,
    decide_by: pd.Timestamp,
    end: pd.Timestamp,
    *,
    passing: ArrayLike = 0.0,
    may_stop: ArrayLike = True,
) -> Decision:
    """Return whether to go, and until when, at the least expected cost.

    Laying the first k blocks costs ``sum(p[i] * L[i] for i < k) + sum(C[i] for i >= k)``: ``L`` is
    the area of a block times what a lost area costs, ``C`` its share, by area, of what standing
    down for the shift costs; a deadline that passes if the block is not laid, and if it is lost as
    well, adds its price to both. A crew that has stopped does not begin again, so the choice is k.
    Where the chance rises over the shift this is the rule "go with each block while p L < C"; where
    it falls, early blocks may be worth their risk for the later ones, or all not. Without deadlines
    C / L is the same in every block: one break-even for the shift. It follows that with one chance
    for all blocks a part of the shift is never better than all and nothing.

    The verdict is a close call where the bounds of the chance do not agree: laying as long as the
    estimate says would cost more than waiting at the high end, or waiting, if it says that, more
    than going at the low end. A hard limit ends the shift before costs are asked, and so does a
    block of whose chance nothing is known.

    Parameters
    ----------
    stakes
        What a lost coat and a lost shift cost.
    starts
        When each block of an hour begins, in order; blocks need not touch. Shape (blocks,).
    area_m2
        Area laid in each block. [m2] Shape (blocks,).
    lost_low, lost, lost_high
        Chance that a coat laid in the block is lost: bounds and estimate. An unknown bound is 0 or
        1; without an estimate the high end counts. [fractions] Shape (blocks,).
    allowed
        Whether gates and safety are known to be met in the block. Shape (blocks,).
    decide_by
        The last moment to tell the crew to stay.
    end
        When the last block ends.
    passing
        What a deadline costs that passes with the block. [money] Shape (blocks,) or one number.
    may_stop
        Whether work may stop after the block: not between a layer and the one that must follow it
        in the shift. After the last it always may. Shape (blocks,) or one value.

    Raises
    ------
    ValueError
        If shapes differ, no area is laid, a chance is no fraction, or an estimate lies outside its
        bounds.
    """
    area = floats(area_m2)
    guess = floats(lost)
    low = np.where(np.isnan(floats(lost_low)), 0.0, floats(lost_low))
    high = np.where(np.isnan(floats(lost_high)), 1.0, floats(lost_high))
    may = np.asarray(allowed, dtype=bool)
    _require_sound(len(starts), area, low, guess, high, may)
    careful = np.where(np.isnan(guess), high, guess)
    price = np.broadcast_to(floats(passing), area.shape)
    stops = np.append(True, np.broadcast_to(np.asarray(may_stop, dtype=bool), area.shape))
    stops[-1] = True

    waiting = stakes.wait + stakes.late
    unknown = np.isnan(guess) & (low <= 0) & (high >= 1) & (area > 0)
    limit = _first(~may)
    reach = min(limit, _first(unknown))
    reach = int(np.flatnonzero(stops[: reach + 1])[-1])
    shift = _Shift(
        area * stakes.lost_per_m2 + price, waiting * area / area.sum() + price, reach, stops
    )
    asked = area * (np.arange(len(area)) < (reach or len(area)))
    if asked.sum() == 0:  # only blocks without work come before the limit
        asked, reach = area, 0
        shift = replace(shift, reach=reach)

    if reach == 0 and limit > 0 and unknown[:limit].any():
        # What it would cost is told as if the unknown were lost.
        reach = int(np.flatnonzero(stops[: limit + 1])[-1])
        shift, verdict, laid = replace(shift, reach=reach), Verdict.NOT_KNOWN, 0
    else:
        verdict, laid = _verdict(shift, low, careful, high, asked)
    costs = shift.costs(careful)
    part = slice(0, laid or reach)
    loss, saved = float(shift.loss[part].sum()), float(shift.stand_down[part].sum())
    known = not np.isnan(guess[asked > 0]).any()
    return Decision(
        verdict=verdict,
        stop_at=None if laid == 0 else _end_of(starts, laid - 1, end),
        break_even=_break_even(shift),
        lost_low=_mean(low, asked),
        lost=_mean(careful, asked) if known else None,
        lost_high=_mean(high, asked),
        cost_go=float(costs[-1]),
        cost_wait=float(costs[0]),
        cost_best=float(costs[laid]),
        regret_go=max(0.0, loss - saved),
        regret_wait=saved,
        decide_by=decide_by,
    )


def _first(flags: BoolArray) -> int:
    """Return how many come before the first that is set."""
    return int(np.argmax(flags)) if flags.any() else len(flags)


def _end_of(starts: pd.DatetimeIndex, block: int, end: pd.Timestamp) -> pd.Timestamp:
    """Return when a block ends: an hour after it began, the last one with the work."""
    return end if block + 1 == len(starts) else starts[block] + timedelta(hours=1)


def _require_sound(
    blocks: int,
    area: FloatArray,
    low: FloatArray,
    guess: FloatArray,
    high: FloatArray,
    may: BoolArray,
) -> None:
    if any(each.shape != (blocks,) for each in (area, low, guess, high, may)):
        raise ValueError(f"area, chances and limits must be rows of {blocks} blocks, as the starts")
    if not (np.all(area >= 0) and 0 < area.sum() < np.inf):
        raise ValueError("areas must be known, 0 or more, and some of them above 0")
    if not np.all((low >= 0) & (low <= high + _SAME) & (high <= 1)):
        raise ValueError("bounds of a chance must be fractions, the low one first")
    if np.any((guess < low - _SAME) | (guess > high + _SAME)):
        raise ValueError("an estimate of a chance must lie between its bounds")


def _verdict(
    shift: _Shift,
    low: FloatArray,
    careful: FloatArray,
    high: FloatArray,
    asked: FloatArray,
) -> tuple[Verdict, int]:
    """Return the verdict, and how many blocks to lay."""
    if shift.reach == 0:
        return Verdict.NO, 0
    laid = shift.best(careful)
    if laid == 0:
        return (Verdict.CLOSE_CALL if shift.best(low) > 0 else Verdict.WAIT), 0
    at_worst = shift.costs(high)
    if at_worst[laid] > at_worst[0] + shift.least:
        return Verdict.CLOSE_CALL, laid
    # Blocks without work at the end are no reason to tell of an early stop.
    whole = not asked[laid:].any() and shift.reach == len(asked)
    return (Verdict.GO, len(asked)) if whole else (Verdict.GO_UNTIL, laid)


def _break_even(shift: _Shift) -> float:
    """Return the chance above which waiting is cheaper; 1 where a loss costs no more. [fraction]"""
    loss, waiting = float(shift.loss.sum()), float(shift.stand_down.sum())
    return min(1.0, waiting / loss) if loss > 0 else 1.0


def _mean(chance: FloatArray, area_m2: FloatArray) -> float:
    """Return the mean over the area: what is expected to be lost of it. [fraction]"""
    return float((chance * area_m2).sum() / area_m2.sum())
