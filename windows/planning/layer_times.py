"""One layer in its weather: when it may be laid, when the next may follow, by when it must."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.gates import combine
from windows.planning.problem import FAR, TICKS_PER_HOUR
from windows.substrate import substrate_states

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from windows.gates import Checked, States
    from windows.job import CheckedHours
    from windows.job_file import JobFile

__all__ = ["LayerTimes", "ground_states", "layer_times"]


@dataclass(frozen=True)
class LayerTimes:
    """One layer in every hour: may it be laid, when may the next follow, by when must it.

    ``states`` are gates, crew safety and the roof below, the shift apart. ``opens`` is the tick
    from which the next may be laid on a film placed in the hour, ``due`` the one before which the
    next must end; both `FAR` where not known or not in the data. Shape (hours,).
    """

    states: States
    opens: NDArray[np.int32]
    due: NDArray[np.int32]


def layer_times(
    each: CheckedHours, ground: States | None = None, *, later_h: int = 0
) -> LayerTimes:
    """Return one layer in every hour.

    Parameters
    ----------
    each
        The layer's coating in its weather.
    ground
        Whether the roof below is known to be dry enough inside, where that is asked.
    later_h
        Deadlines put off. [h]
    """
    parts = [each.checked.state, each.safety]
    states = combine(*parts) if ground is None else combine(*parts, ground)
    return LayerTimes(states, _opens(each.checked), _due(each.checked, len(states), later_h))


def ground_states(job: JobFile, each: CheckedHours) -> States:
    """Return the state of the substrate in every hour. Raises as `substrate_states`."""
    return substrate_states(job, each.site, each.hours.index, each.conditions.rain_most_mm)


def _opens(checked: Checked) -> NDArray[np.int32]:
    """Return, for a film placed in each hour, the tick from which the next may be laid."""
    opens = np.ceil(checked.milestones["recoat_opens"] * TICKS_PER_HOUR - 1e-9)
    return np.where(np.isnan(opens), FAR, opens).astype(np.int32)


def _due(checked: Checked, hours: int, later_h: int) -> NDArray[np.int32]:
    """Return, for a film begun in each hour, the tick before which the next must end."""
    due = np.floor((checked.due + later_h) * TICKS_PER_HOUR + 1e-9)
    return np.where(due <= hours * TICKS_PER_HOUR, due, FAR).astype(np.int32)
