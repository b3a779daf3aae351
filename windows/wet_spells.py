"""Wet spells: when the roof got wet, of what, and when it is dry enough to coat again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from windows.roof import drying
from windows.runs import runs

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.conditions import Roof

__all__ = ["WetSpell", "wet_spells"]


@dataclass(frozen=True)
class WetSpell:
    """Hours in which the roof is wet, or not known to be dry.

    Attributes
    ----------
    start
        Start of its first hour.
    causes
        Any of ``"rain"``, ``"snow"``, ``"dew"``, ``"frost"``, ``"not known"``.
    most_mm
        Most water that is known to have lain. [mm]
    dry
        When the last of the film is gone; None where the data end first.
    ponds_dry
        The same where water ponds, None also on a roof without ponds.
    """

    start: pd.Timestamp
    causes: tuple[str, ...]
    most_mm: float
    dry: pd.Timestamp | None
    ponds_dry: pd.Timestamp | None


def wet_spells(roof: Roof, index: pd.DatetimeIndex) -> tuple[WetSpell, ...]:
    """Return the wet spells of one series of hours.

    Parameters
    ----------
    roof
        From `windows.conditions.roof_in_table`, arrays of shape (hours,).
    index
        Starts of the hours, UTC.
    """
    water, exposure = roof.water, roof.exposure
    loss = np.maximum(drying(exposure, roof.on_top), 0.0)
    fed = ~((exposure.rain_mm == 0) & (exposure.trace == 0))
    causes = _causes(roof)
    wet = ~(water.wet_mm == 0)
    ponds_wet = ~(water.ponded_mm == 0)
    has_ponds = exposure.site.roof.ponded_share > 0

    def dry_at(film: FloatArray, flags: NDArray[np.bool_], hour: int) -> pd.Timestamp | None:
        """Return when a film that is wet in an hour is next gone."""
        after = np.flatnonzero(~flags[hour:])
        if not after.size:
            return None
        last = hour + int(after[0]) - 1
        share = film[last] / loss[last] if loss[last] > 0 and not fed[last] else 1.0
        within = 1.0 if np.isnan(share) else min(float(share), 1.0)
        return index[last] + timedelta(seconds=round(3600 * within))

    spells = []
    for start, end in runs(wet, np.zeros(len(index), dtype=np.int64), 1):
        known = water.wet_mm[start:end]
        known = known[~np.isnan(known)]
        spells.append(
            WetSpell(
                start=index[start],
                causes=tuple(name for name, flags in causes.items() if flags[start:end].any()),
                most_mm=float(known.max()) if known.size else float("nan"),
                dry=dry_at(water.wet_mm, wet, start),
                ponds_dry=dry_at(water.ponded_mm, ponds_wet, start) if has_ponds else None,
            )
        )
    return tuple(spells)


def _causes(roof: Roof) -> dict[str, NDArray[np.bool_]]:
    """Return the hours in which each cause brings water."""
    exposure, water = roof.exposure, roof.water
    condenses = drying(exposure, roof.on_top) < 0
    freezes = roof.on_top.wet_c < 0
    falls = (exposure.rain_mm > 0) | (exposure.trace > 0)
    snows = water.snow_mm > 0
    return {
        "rain": falls & ~snows,
        "snow": snows,
        "dew": condenses & ~freezes,
        "frost": condenses & freezes,
        "not known": np.isnan(water.wet_mm),
    }
