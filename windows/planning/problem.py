"""The planning problem as numbers: when each layer of each piece may start, and what follows.

Time is counted in half hours since the first row of the weather: valid hours, opening times and
deadlines become whole numbers, rounded to the careful side. Nothing here knows weather or coatings.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "FAR", "TICKS_PER_DAY", "TICKS_PER_HOUR", "Choice", "Costs", "Problem", "Start", "Task",
    "ticks_of",
]  # fmt: skip

TICKS_PER_HOUR = 2
TICKS_PER_DAY = 24 * TICKS_PER_HOUR
FAR = 10**8
"""A tick after everything: an opening that is not known, or no deadline."""


def ticks_of(hours: float) -> int:
    """Return the ticks that a time takes, a part of one as a whole one.

    >>> ticks_of(0.75)
    2
    """
    return ceil(round(hours * TICKS_PER_HOUR, 6))


@dataclass(frozen=True)
class Choice:
    """The ways to lay one layer on one piece: parallel arrays, one entry a start, ascending.

    Attributes
    ----------
    length
        Ticks that the work takes.
    start
        Ticks at which it may start.
    shift
        Shift that each start lies in.
    hour_end
        End of the last hour touched: what must lie before a deadline.
    opens
        When the next layer may start and a crew may walk on it; `FAR` where not known.
    due
        Until when the last hour of the next layer must end; `FAR` without a deadline in the data.
    must
        Whether the next layer has to be in the plan too.
    """

    length: int
    start: NDArray[np.int64]
    shift: NDArray[np.int64]
    hour_end: NDArray[np.int64]
    opens: NDArray[np.int64]
    due: NDArray[np.int64]
    must: NDArray[np.bool_]

    @property
    def rows(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """First row that the work of each start touches, and the one after its last; (starts,)."""
        end = self.start + self.length
        return self.start // TICKS_PER_HOUR, -(-end // TICKS_PER_HOUR)

    def keep(self, wanted: NDArray[np.bool_]) -> Choice:
        """Return the choice with some of its starts only, ``wanted`` of shape (starts,)."""
        return Choice(
            self.length, self.start[wanted], self.shift[wanted], self.hour_end[wanted],
            self.opens[wanted], self.due[wanted], self.must[wanted],
        )  # fmt: skip


@dataclass(frozen=True)
class Task:
    """What is left to do on one piece: a choice for each layer from ``first`` on.

    Attributes
    ----------
    area
        Whole number of units: what a laid layer counts, and what the cap on bare area counts.
    exposure
        Price of a tick in which the piece lies with some of its layers. [thousandths]
    same_shift
        For each choice, whether the next layer has to be laid in its shift.
    bare
        For each choice, whether its layer must be covered.
    open_since
        Tick at which the layer that lies on the piece now was begun, None on one without.
    bare_now
        Whether that layer must be covered.
    due_now
        Its deadline where that lies in the data, else None: the starts of the first choice keep to
        it already.
    over
        Tasks whose pieces a crew walks over to reach this one.
    """

    name: str
    area: int
    exposure: int
    first: int
    choices: tuple[Choice, ...]
    same_shift: tuple[bool, ...]
    bare: tuple[bool, ...]
    open_since: int | None = None
    bare_now: bool = False
    due_now: int | None = None
    over: tuple[int, ...] = ()


@dataclass(frozen=True)
class Costs:
    """Prices in whole thousandths of money: a tick later finished, and what else is weighed.

    ``no_spare`` is that of a layer with a deadline whose next one is planned into the last shift
    that is in time; ``change`` that of a start that an earlier plan had elsewhere.
    """

    tick: int = 1
    extra_shift: int = 0
    move: int = 0
    no_spare: int = 0
    change: int = 0


@dataclass(frozen=True)
class Problem:
    """Pieces, shifts and prices.

    Between two placements lie at least ``move`` ticks, also on one piece: material is changed too.
    ``extra`` tells which shifts are priced extra days, ``weekday`` is 0 on Monday. ``begin`` is the
    present, ``end`` the end of the data. ``open_area`` caps the units that are bare at once.
    """

    tasks: tuple[Task, ...]
    extra: tuple[bool, ...]
    weekday: tuple[int, ...]
    begin: int
    end: int
    move: int = 0
    open_area: int | None = None
    costs: Costs = field(default_factory=Costs)


@dataclass(frozen=True)
class Start:
    """A start that is taken: ``layer`` counts from the task's first, ``at`` its starts."""

    task: int
    layer: int
    at: int
