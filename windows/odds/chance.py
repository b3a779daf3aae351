"""A chance with its bounds and the way that it was found."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

__all__ = ["Chance", "Method"]


class Method(Enum):
    """How a chance was found, best first; the value is how it is told."""

    MEMBERS = "share of forecast runs"
    PERIOD = "probability of the period"
    CHAIN = "wet-hour chain"
    BOUNDS = "bounds only"
    CLIMATE = "climate of these weeks"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class Chance:
    """The chance that a piece of work holds, as fractions.

    ``estimate`` lies between ``low`` and ``high``; None where only the bounds are known. Of what is
    not known at all ``low`` is 0 and ``high`` is 1.
    """

    low: float
    estimate: float | None
    high: float
    method: Method

    @property
    def careful(self) -> float:
        """The number to plan with: the estimate, else the low bound. [fraction]"""
        return self.low if self.estimate is None else self.estimate
