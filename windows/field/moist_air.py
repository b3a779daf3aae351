"""The dew point of readings, and how far the surface was above it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING

import numpy as np

from cure_models.psychrometrics import condensation_point, dew_point
from windows.field.rules import field_rules

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cure_models.arrays import BoolArray, FloatArray
    from windows.log.entries import Reading

__all__ = ["DEW_POINT_FORMULA", "Computed", "Spreads", "computed", "each_computed", "spreads"]

DEW_POINT_FORMULA = "Magnus form, Alduchov and Eskridge 1996"
"""What a dew point is worked out by; see `cure_models.psychrometrics.dew_point`."""


@dataclass(frozen=True)
class Computed:
    """What a reading comes to; None is not known.

    ``dew_point_c`` is worked out from air temperature and humidity by `DEW_POINT_FORMULA`, else the
    instrument's own (``from_instrument``). ``spread_k`` is the surface above it, below freezing
    above the frost point.
    """

    dew_point_c: float | None
    spread_k: float | None
    from_instrument: bool

    @property
    def worked_out(self) -> bool:
        """Whether the dew point is that of air temperature and humidity."""
        return self.dew_point_c is not None and not self.from_instrument


@dataclass(frozen=True)
class Spreads:
    """What readings come to, shape (readings,); NaN is not known. [degC, K]

    ``computed`` tells which dew points are worked out; the others are the instrument's own.
    """

    dew_point_c: FloatArray
    spread_k: FloatArray
    computed: BoolArray


def computed(reading: Reading) -> Computed:
    """Return dew point and spread of a reading."""
    return each_computed([reading])[0]


def each_computed(readings: Sequence[Reading]) -> list[Computed]:
    """Return dew point and spread of each of many readings."""
    found = spreads(readings)
    return [
        Computed(_known(dew), _known(spread), not worked_out and _known(dew) is not None)
        for dew, spread, worked_out in zip(
            found.dew_point_c.tolist(), found.spread_k.tolist(), found.computed.tolist(),
            strict=True,
        )
    ]  # fmt: skip


def _known(value: float) -> float | None:
    return None if isnan(value) else value


def spreads(readings: Sequence[Reading]) -> Spreads:
    """Return dew points and spreads of many readings as arrays.

    Humidity that is drier than any roof gives no dew point.
    """
    air, surface, humidity, own = (
        np.array(values, dtype=np.float64)  # None is NaN
        for values in (
            [each.air_temp_c for each in readings], [each.surface_temp_c for each in readings],
            [each.rel_humidity for each in readings], [each.dew_point_c for each in readings],
        )
    )  # fmt: skip
    dew = dew_point(air, np.where(humidity >= field_rules().humidity_least, humidity, np.nan))
    known = ~np.isnan(dew)
    dew = np.where(known, dew, own)
    return Spreads(dew, surface - condensation_point(surface, dew), known)
