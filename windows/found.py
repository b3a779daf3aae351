"""What a search finds: application windows, hours at risk, hours lost, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

    from cure_models.coating import Gate
    from windows.gates import States
    from windows.safety import Caution

__all__ = [
    "AtRisk",
    "LostHours",
    "Provisional",
    "Search",
    "StopTime",
    "Tightest",
    "Window",
]


@dataclass(frozen=True)
class Tightest:
    """The gate nearest to its limit in a window, and how far it is from it. [SI]"""

    gate: Gate
    margin: float


@dataclass(frozen=True)
class StopTime:
    """The last moment at which a coat can be down and be safe before the hazard that follows.

    ``known`` is false where the hazard is an hour that the data do not know, or their end.
    """

    gate: Gate
    at: pd.Timestamp
    hazard: pd.Timestamp
    known: bool


@dataclass(frozen=True)
class Window:
    """An application window ``[start, end)``.

    ``first`` and ``last`` hold the milestones of a film placed in its first and its last hour; None
    where the data end first. ``decided_by`` names the gates that hold at the generic values but not
    at the careful end of their range, ``undecided`` those that the data cannot answer there; none
    of both means robust. ``dry_chance`` bounds the probability of
    no rain until the last film is rain-safe: hours wholly independent, hours wholly dependent.
    """

    number: int
    start: pd.Timestamp
    end: pd.Timestamp
    hours: int
    tightest: Tightest | None
    first: dict[str, pd.Timestamp | None]
    last: dict[str, pd.Timestamp | None]
    decided_by: tuple[Gate, ...]
    undecided: tuple[Gate, ...]
    dry_chance: tuple[float, float] | None
    cautions: tuple[Caution, ...]
    stop: StopTime | None

    @property
    def robust(self) -> bool:
        """Whether every hour also holds with all limits at their careful ends."""
        return not self.decided_by and not self.undecided

    @property
    def rain_likely(self) -> bool | None:
        """Whether rain before the last film is rain-safe is likelier than not, at best.

        None if no chance is known.
        """
        return None if self.dry_chance is None else self.dry_chance[1] < 0.5


@dataclass(frozen=True)
class Provisional:
    """Hours that would be a window if what is not known turned out well."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: int
    missing: tuple[str, ...]


@dataclass(frozen=True)
class AtRisk:
    """Hours good enough to lay a coat in, which the weather would then spoil."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: int
    gate: Gate
    hazard: pd.Timestamp
    safe: pd.Timestamp | None


@dataclass(frozen=True)
class LostHours:
    """Crew hours that one check blocks: together with others, alone, and hours it cannot answer."""

    name: str
    label: str
    blocked: int
    alone: int
    unknown: int


@dataclass(frozen=True)
class Search:
    """Everything found for one coating at one site."""

    index: pd.DatetimeIndex
    hour: States
    window_number: NDArray[np.int64]
    crew: States
    safety: States
    crew_hours: int
    windows: tuple[Window, ...]
    provisional: tuple[Provisional, ...]
    at_risk: tuple[AtRisk, ...]
    lost: tuple[LostHours, ...]
