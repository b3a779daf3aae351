"""Cure in weather that does not change: the hours of every milestone at one condition or many."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import FloatArray, floats, fraction, not_negative
from cure_models.convection import forced_convection
from cure_models.kinetics import CureRates, Film, cure_rates
from cure_models.psychrometrics import condensation_point, dew_point, vapour_pressure
from cure_models.sky import black_radiation
from cure_models.surface import HeatBalance
from cure_models.wetness import evaporation

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from cure_models.coating import Coating

__all__ = ["hours_of_cure", "rates_at"]


def rates_at(
    coating: Coating,
    air_temp_c: ArrayLike,
    rel_humidity: ArrayLike,
    roof_wind_m_s: ArrayLike,
    surface_temp_c: ArrayLike | None = None,
) -> CureRates:
    """Return the cure rates of a film in steady weather. [h/h]

    Parameters
    ----------
    coating
        The law, the reference and the film.
    air_temp_c, rel_humidity, roof_wind_m_s
        Of the air over the film; they broadcast. [degC], [fraction], [m/s]
    surface_temp_c
        Of the film when dry, default the air's. The sun or the deck that warms it so goes on doing
        that while it is wet. [degC]

    Raises
    ------
    ValueError
        Where a humidity is a percentage.
    """
    air, humidity, wind, surface = np.broadcast_arrays(
        floats(air_temp_c),
        fraction(rel_humidity, "relative humidity"),
        not_negative(roof_wind_m_s),
        floats(air_temp_c if surface_temp_c is None else surface_temp_c),
    )
    dew = dew_point(air, humidity)
    vapour = vapour_pressure(dew)
    walls = black_radiation(air)
    unheated = HeatBalance(0.0, walls, air, wind, coating.emittance)
    heated = HeatBalance(-unheated.gain(surface), walls, air, wind, coating.emittance)
    wet = heated.wet(vapour, forced_convection(wind))
    condenses = surface <= condensation_point(surface, dew)
    film = Film(
        temp_c=surface,
        drying_mm_h=evaporation(wet.temp_c, vapour, wet.convection_w_m2_k),
        dew_point_c=dew,
        air_temp_c=air,
        roof_wind_m_s=wind,
        wetted=np.where(condenses, 1.0, 0.0),
    )
    return cure_rates(coating, film)


def hours_of_cure(coating: Coating, rates: CureRates, milestone: str) -> FloatArray:
    """Return the clock hours to a milestone at rates that last; infinite where cure stands still.

    A clock minimum of the data sheet is kept. [h]

    Raises
    ------
    KeyError
        If the coating has no such milestone.
    """
    needed = coating.milestones[milestone]
    first_h = min(needed, coating.first_stage_h)
    hours = _over(first_h, rates.first) + _over(needed - first_h, rates.late)
    return np.maximum(hours, coating.milestone_clock_min_h.get(milestone, 0.0))


def _over(amount: float, rate: FloatArray) -> FloatArray:
    """Return amount / rate, 0 of nothing, infinite at no rate."""
    if amount == 0.0:
        return np.where(np.isnan(rate), np.nan, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(amount / rate)
