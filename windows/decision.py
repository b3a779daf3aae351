"""Go or wait by cost: what is lost if a coat is, against what waiting costs, block by block."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Decision", "Stakes", "Verdict"]


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

    ``lost_per_m2`` is what a lost coat costs beyond the work itself: material, labour, removal.
    ``wait`` is what it costs to stand the crew down for the shift: show-up pay and idle equipment.
    ``late`` is what a day's delay costs.
    """

    lost_per_m2: float
    wait: float
    late: float = 0.0


@dataclass(frozen=True)
class Decision:
    """Go or wait, for one crew on one site and day; all money in the currency of the stakes.

    ``stop_at`` is until when to go on laying, None if not at all. ``break_even`` is the chance of
    losing the coat above which waiting is cheaper. ``lost_low``, ``lost`` and ``lost_high`` are the
    chance that a coat of the whole shift is lost: bounds and estimate, None where there is none.
    ``cost_go``, ``cost_wait`` and ``cost_best`` are expected costs of laying the whole shift, of
    nothing, and of laying until ``stop_at``. ``regret_go`` is what going costs more than waiting if
    the coat is lost, ``regret_wait`` what waiting costs if it would have held. ``decide_by`` is the
    last moment to call off without paying for the shift.
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
