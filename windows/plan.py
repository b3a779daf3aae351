"""A plan: which layer is laid on which section, when, and what each choice costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

__all__ = ["Figures", "LeftOut", "Placement", "Plan", "Proof"]


@dataclass(frozen=True)
class Placement:
    """One layer of a piece, planned ``[start, end)``, with the clocks that it starts.

    ``layer`` counts from 0. ``shift`` is the day on which the crew's shift begins. ``opens`` is
    when the next layer may follow and a crew may walk on it, None where the data end first; ``due``
    until when the next must end, None without a deadline or where a dose is not known. ``spare``
    tells whether, for a layer with a deadline, another shift would do for the next layer if the
    planned one is lost; None where the next layer is not planned or no deadline is known.
    """

    piece: str
    section: str
    area_m2: float
    layer: int
    layer_name: str
    coating: str
    shift: date
    start: pd.Timestamp
    end: pd.Timestamp
    opens: pd.Timestamp | None
    due: pd.Timestamp | None
    spare: bool | None


@dataclass(frozen=True)
class LeftOut:
    """A layer of a piece that is not planned, and why."""

    piece: str
    layer: int
    layer_name: str
    reason: str


@dataclass(frozen=True)
class Figures:
    """What a plan comes to.

    ``finish`` is the end of the last placement, ``finish_days`` days from the plan's first moment
    to it. ``exposure_m2_days`` is area times the time from the start of a layer to the start of the
    next, or to the end of the data where none is planned. ``moves`` counts placements that follow
    one on another piece. ``stranded`` counts layers whose next comes after their deadline or not
    before the data end although they must be covered. ``cost`` adds these up by the job's prices.
    """

    placed: int
    of: int
    finish: pd.Timestamp | None
    finish_days: float
    exposure_m2_days: float
    moves: int
    shifts: int
    extra_days: int
    without_spare: int
    stranded: int
    cost: float


@dataclass(frozen=True)
class Proof:
    """How good the solver knows a plan to be: its cost, a bound below it, and the time taken. [s]

    ``most_laid`` tells whether it is proved that no more area can be laid. The gap is the share by
    which a plan that lays as much could at most be cheaper. With ``in_order`` the proof is about
    plans that lay equal pieces in their order.
    """

    most_laid: bool
    optimal: bool
    in_order: bool
    cost: float
    bound: float
    seconds: float

    @property
    def told(self) -> str:
        """The proof in words."""
        what = "the best that takes equal sections in their order" if self.in_order else "the best"
        if self.optimal:
            return f"proved {what}"
        told = f"at most {self.gap:.0%} from {what}" if self.bound > 0 else "not proved the best"
        if not self.most_laid:
            told += "; whether more can be laid is not proved (give it more --seconds)"
        return told

    @property
    def gap(self) -> float:
        """Share of the cost that is not proved. [fraction]"""
        return 0.0 if self.optimal or self.cost <= 0 else max(0.0, 1 - self.bound / self.cost)


@dataclass(frozen=True)
class Plan:
    """Placements in the order of their start, what is left out, and the figures of it all."""

    rule: str
    placements: tuple[Placement, ...]
    left_out: tuple[LeftOut, ...]
    figures: Figures
    proof: Proof | None
