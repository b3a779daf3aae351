"""Water on the roof: what evaporates or condenses in an hour, and the film that is left.

The film is a three-valued store. It is carried as a lower and an upper bound, so that a missing
rain or evaporation makes the film unknown and can never make it dry, and so that it is known again
as soon as the physics says so: when even a full film has dried, or when the roof has filled up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from cure_models.arrays import FloatArray, floats
from cure_models.psychrometrics import vapour_flux
from cure_models.recurrence import clipped_sum

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["SNOW_BELOW_C", "Snow", "evaporation", "film_store", "snow_store", "wet_share"]

_SAME_MM = 1e-9
"""Rounding of the store: closer bounds have met, a thinner film is gone [mm]."""

SNOW_BELOW_C = 1.0
"""Air at or below which what falls is snow (common practice, no source). [degC]"""
_MELT_MM_H_K = 0.2
_MOST_SNOW_MM = 1000.0
"""Most snow that a roof carries, as water: 10 kN/m2, above what roofs are built for nearly
everywhere (own choice). Without it two weeks of unknown weather would lie until next year. [mm]"""
_UNKNOWN_SNOW_MM = 25.0
"""Most that falls as snow in an hour of which nothing is known, and that lay before (own choice).
[mm of water]"""


def evaporation(
    surface_temp_c: ArrayLike, vapour_pressure_hpa: ArrayLike, convection_w_m2_k: ArrayLike
) -> FloatArray:
    """Water that a wet surface loses in an hour; negative is dew or frost [mm/h].

    Parameters
    ----------
    surface_temp_c : of the WET surface, see `surface.HeatBalance.wet`; a dry-roof temperature
        overstates the drying 2-6 times in the sun. [degC]
    vapour_pressure_hpa : of the air. [hPa]
    convection_w_m2_k : the coefficient that went into the surface temperature. [W/(m2 K)]

    Notes
    -----
    Dalton's law with the Lewis relation, `psychrometrics.vapour_flux`; 1 kg/m2 is 1 mm.
    Condensation is multiplied by 0.4 there.
    """
    return 3600.0 * vapour_flux(surface_temp_c, vapour_pressure_hpa, convection_w_m2_k)


class Snow(NamedTuple):
    """Snow on the roof as water: what fell, the most that lay in the hour, what melted. [mm]"""

    fallen_mm: FloatArray
    lying_mm: FloatArray
    melted_mm: FloatArray


def snow_store(
    precipitation_mm: ArrayLike, air_temp_c: ArrayLike, start_mm: ArrayLike | None = 0.0
) -> Snow:
    """Snow on the roof in each hour.

    Parameters
    ----------
    precipitation_mm : rain and melted snow of the hour, shape (..., n). [mm]
    air_temp_c : same shape. [degC]
    start_mm : before the first hour, shape (...); None or NaN is unknown. [mm]

    Notes
    -----
    What falls at 1 degC or below stays, and melts by 0.2 mm an hour for each degree of air above
    freezing (the degree-day method of hydrology with about 5 mm per degree and day; from memory).
    Unknown precipitation at unknown or low temperature may be up to 25 mm of it, and so may what
    lay before: the snow is unknown until all that is known and may be has melted. A roof carries
    1,000 mm at most.
    """
    amount, air = floats(precipitation_mm), floats(air_temp_c)
    fallen = np.where((amount == 0.0) | (air > SNOW_BELOW_C), 0.0, amount + 0.0 * air)
    possible = _MELT_MM_H_K * np.maximum(air, 0.0)
    lying = film_store(
        fallen, possible, _MOST_SNOW_MM, start=start_mm, unknown_mm=_UNKNOWN_SNOW_MM
    )
    melted = np.where(lying == 0.0, 0.0, np.minimum(lying, possible))
    return Snow(fallen, lying, melted)


def wet_share(film_mm: ArrayLike, loss_mm: ArrayLike) -> FloatArray:
    """Share of the hour in which the roof is wet [fraction].

    Parameters
    ----------
    film_mm : most water of the hour, from `film_store`. [mm]
    loss_mm : possible evaporation of the hour. [mm]

    Notes
    -----
    What lies there evaporates evenly until it is gone: ``film / loss``, at most 1. NaN where the
    film is, and no share where there is no film.
    """
    film, loss = floats(film_mm), floats(loss_mm)
    some = np.where(film > 0.0, np.minimum(film / np.maximum(loss, 1e-12), 1.0), 0.0)
    share: FloatArray = np.where(np.isnan(film), np.nan, some)
    return share


def film_store(
    gain_mm: ArrayLike,
    loss_mm: ArrayLike,
    capacity_mm: ArrayLike,
    start: ArrayLike | None = None,
    unknown_mm: ArrayLike | None = None,
) -> FloatArray:
    """Water film on the roof, the most that lay there during each hour [mm].

    What was there at its start plus what fell or condensed in it, before evaporation, at most the
    capacity. NaN where it is not known.

    Parameters
    ----------
    gain_mm : rain plus dew of the hour, shape (..., n); NaN is anything up to `unknown_mm`. [mm]
    loss_mm : possible evaporation of the hour, shape (..., n); NaN is anything from nothing to
        everything. [mm]
    capacity_mm : what the roof holds before it runs off, shape (...). [mm]
    start : film before the first hour, shape (...); None or NaN is unknown. [mm]
    unknown_mm : most that an unknown gain or start may be, shape (...); None is the capacity. [mm]

    Raises
    ------
    ValueError
        Where a gain or a loss is negative: dew is a gain, not a negative loss.

    Notes
    -----
    Each hour: add the gain, run off above the capacity, take the loss, never below 0.
    """
    gain, loss = np.broadcast_arrays(floats(gain_mm), floats(loss_mm))
    for name, amount in (("gain_mm", gain), ("loss_mm", loss)):
        if np.any(amount < 0.0):
            raise ValueError(
                f"{name} holds a negative amount ({np.nanmin(amount):g} mm). Dew is a gain and "
                "evaporation a loss; split them before filling the store."
            )
    limit = floats(capacity_mm)
    most = limit[..., np.newaxis]
    may_be = limit if unknown_mm is None else floats(unknown_mm)
    may_come = may_be[..., np.newaxis]
    begin = floats(np.nan if start is None else start)
    unknown_start = np.isnan(begin)

    # More than a capacity, gained or lost, does the same as a capacity, and stays finite.
    gained, lost = np.minimum(gain, most), np.minimum(loss, most)
    low, _ = clipped_sum(
        np.where(np.isnan(gained), 0.0, gained),
        np.where(np.isnan(lost), most, lost),
        most,
        np.where(unknown_start, 0.0, np.minimum(begin, limit)),
    )
    high, _ = clipped_sum(
        np.where(np.isnan(gained), may_come, gained),
        np.where(np.isnan(lost), 0.0, lost),
        most,
        np.where(unknown_start, may_be, np.minimum(begin, limit)),
    )
    least_wet = np.minimum(low + np.where(np.isnan(gained), 0.0, gained), most)
    most_wet = np.minimum(high + np.where(np.isnan(gained), may_come, gained), most)
    wet = np.where(most_wet > _SAME_MM, most_wet, 0.0)
    return np.where(most_wet - least_wet <= _SAME_MM, wet, np.nan)
