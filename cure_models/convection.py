"""Convection between a roof and the air over it: wind, and buoyancy where there is none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import FloatArray, floats, not_negative

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["DRIFT_M_S", "forced_convection", "natural_convection"]

DRIFT_M_S = 0.4
"""Least wind over a roof. Stations call everything below 3 kt calm; half of that at the mast, and
half to two thirds of it at the roof, still moves (own choice). [m/s]"""

_PER_WIND = 3.8
_BREAK_M_S = 4.88
_AT_REST = 5.7


def forced_convection(roof_wind_m_s: ArrayLike) -> FloatArray:
    """Heat transfer coefficient of the wind alone [W/(m2 K)].

    Parameters
    ----------
    roof_wind_m_s : wind over the roof surface, not at a 10 m mast; NaN where negative. [m/s]

    Notes
    -----
    McAdams, W. H. (1954), "Heat Transmission", after Juerges (1924), smooth plate: 5.7 + 3.8 V up
    to 4.88 m/s and a power 0.78 of V above (from memory). His 5.7 at rest is the natural
    convection of his warm plate and is left to `natural_convection`. The power law is joined on
    at 4.88 m/s (7.04 V**0.78); the often repeated 6.47 would let the coefficient fall 8 % there as
    the wind rises.
    """
    wind = np.maximum(not_negative(roof_wind_m_s), DRIFT_M_S)
    at_break = _AT_REST + _PER_WIND * _BREAK_M_S
    coefficient: FloatArray = np.where(
        wind <= _BREAK_M_S,
        _PER_WIND * wind,
        at_break * (wind / _BREAK_M_S) ** 0.78 - _AT_REST,
    )
    return coefficient


def natural_convection(surface_temp_c: ArrayLike, air_temp_c: ArrayLike) -> FloatArray:
    """Heat transfer coefficient of buoyancy alone over a level surface [W/(m2 K)].

    Notes
    -----
    Turbulent natural convection of a large plate, ``1.52 |dT|**(1/3)`` where the surface is warmer
    than the air, half of it (0.76) where it is colder and the air lies still on it: Walton, G. N.
    (1983), "Thermal Analysis Research Program", NBSIR 83-2655, 9.482/(7.238 - 1) and
    1.810/(1.382 + 1), as used in building-energy programs.
    """
    difference = floats(surface_temp_c) - floats(air_temp_c)
    share = np.where(difference > 0.0, 1.52, 0.76)
    coefficient: FloatArray = share * np.cbrt(np.abs(difference))
    return coefficient
