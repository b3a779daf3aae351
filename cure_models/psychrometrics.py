"""Moist air: vapour pressure, dew and frost point, humidity, vapour flux at a wet surface.

The Magnus form with the AE96 coefficients is used for everything: Alduchov, O. A. and
Eskridge, R. E. (1996), "Improved Magnus form approximation of saturation vapor pressure",
J. Appl. Meteor. 35, 601-609, eq. 21 over water and eq. 23 over ice. Stated for -40 to 50 degC
over water and -80 to 0 degC over ice.

Weather services give humidity over liquid water below freezing too (the WMO convention, from
memory), so `dew_point` is over water at every temperature.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import FloatArray, floats, fraction, not_negative

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = [
    "CONDENSATION_SHARE",
    "condensation_point",
    "damped",
    "dew_point",
    "frost_point",
    "heat_index",
    "latent_heat",
    "relative_humidity",
    "saturation_vapour_pressure",
    "saturation_vapour_pressure_ice",
    "surface_vapour",
    "surface_vapour_pressure",
    "vapour_flux",
    "vapour_pressure",
    "vapour_pressure_deficit",
    "vapour_transfer",
]

_WATER_HPA, _WATER_A, _WATER_B = 6.1094, 17.625, 243.04
_ICE_HPA, _ICE_A, _ICE_B = 6.1121, 22.587, 273.86

_DRIEST = 0.01
"""Humidity below which the logarithm is not trusted [fraction]."""

_SEA_LEVEL_HPA = 1013.25
_AIR_HEAT_J_KG_K = 1006.0
_WATER_AIR_MASS_RATIO = 0.622
_LEWIS_NUMBER = 0.86
"""Thermal diffusivity of air over the diffusivity of vapour in it, near 20 degC (from memory)."""

CONDENSATION_SHARE = 0.4
"""Share of the neutral transfer that reaches a surface colder than its air.

Dew forms in stable air, where the conductance is 0.33-0.5 of the neutral one (Water 2017, 9, 607).
"""


def saturation_vapour_pressure(temp_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure over liquid water, supercooled below freezing [hPa].

    Parameters
    ----------
    temp_c : air or surface temperature. [degC]

    Notes
    -----
    AE96 eq. 21. Within 0.25 % of the ASHRAE formulation from 0 to 50 degC.
    """
    temp = floats(temp_c)
    pressure: FloatArray = _WATER_HPA * np.exp(_WATER_A * temp / (temp + _WATER_B))
    return pressure


def saturation_vapour_pressure_ice(temp_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure over ice; meant for temperatures below freezing [hPa].

    Notes
    -----
    AE96 eq. 23.
    """
    temp = floats(temp_c)
    pressure: FloatArray = _ICE_HPA * np.exp(_ICE_A * temp / (temp + _ICE_B))
    return pressure


def surface_vapour_pressure(surface_temp_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure at a wet or frosted surface; see `surface_vapour` [hPa]."""
    return surface_vapour(surface_temp_c)[0]


def surface_vapour(surface_temp_c: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Saturation vapour pressure at a wet or frosted surface, and its slope [hPa], [hPa/K].

    Over water above freezing, over ice below: the lower of the two curves, which cross 0.005 K
    below 0 degC. Taking the lower one keeps it continuous and rising, and makes "below the
    condensation point" and "vapour flows to the surface" the same statement.

    Notes
    -----
    AE96 eq. 21 and 23; the slopes are their derivatives.
    """
    temp = floats(surface_temp_c)
    pressure = saturation_vapour_pressure(temp)
    slope: FloatArray = pressure * (_WATER_A * _WATER_B) / (temp + _WATER_B) ** 2
    if np.any(temp < 0.0):
        ice = saturation_vapour_pressure_ice(temp)
        slope = np.where(
            pressure <= ice, slope, ice * (_ICE_A * _ICE_B) / (temp + _ICE_B) ** 2
        )
        pressure = np.minimum(pressure, ice)
    return pressure, slope


def vapour_pressure(dew_point_c: ArrayLike) -> FloatArray:
    """Vapour pressure of air with this dew point (over water) [hPa].

    Notes
    -----
    What the dew point means: the saturation pressure at it, AE96 eq. 21.
    """
    return saturation_vapour_pressure(dew_point_c)


def dew_point(temp_c: ArrayLike, rel_humidity: ArrayLike) -> FloatArray:
    """Dew point over water from temperature and relative humidity [degC].

    Never above `temp_c`, exactly. Humidity is cut off at 0.01 and 1 before the logarithm.

    Parameters
    ----------
    temp_c : air temperature. [degC]
    rel_humidity : relative humidity over water; NaN where negative. [fraction]

    Raises
    ------
    ValueError
        Where a humidity is a percentage.

    Notes
    -----
    AE96 eq. 21 solved for the temperature.
    """
    temp = floats(temp_c)
    humidity = np.maximum(fraction(rel_humidity, "relative humidity"), _DRIEST)
    exponent = np.log(humidity) + _WATER_A * temp / (temp + _WATER_B)
    dew: FloatArray = np.minimum(_WATER_B * exponent / (_WATER_A - exponent), temp)
    return dew


def frost_point(dew_point_c: ArrayLike) -> FloatArray:
    """Temperature at which frost forms, from the dew point over water [degC].

    Above the dew point below freezing; the dew point itself above freezing, where no frost is.

    Notes
    -----
    AE96 eq. 21 and 23.
    """
    dew = floats(dew_point_c)
    exponent = np.log(vapour_pressure(dew) / _ICE_HPA)
    frost: FloatArray = np.maximum(_ICE_B * exponent / (_ICE_A - exponent), dew)
    return frost


def condensation_point(surface_temp_c: ArrayLike, dew_point_c: ArrayLike) -> FloatArray:
    """Temperature below which this surface gets wet or frosted [degC].

    The dew point where the surface is at or above 0 degC, the frost point where it is below. The
    spread of a surface is its temperature minus this.
    """
    surface, dew = floats(surface_temp_c), floats(dew_point_c)
    point: FloatArray = np.where(surface >= 0.0, dew, frost_point(dew))
    known: FloatArray = np.where(np.isnan(surface), np.nan, point)
    return known


def relative_humidity(temp_c: ArrayLike, dew_point_c: ArrayLike) -> FloatArray:
    """Relative humidity over water, at most 1 [fraction].

    Notes
    -----
    Vapour pressure over saturation pressure, both by AE96 eq. 21; over water below freezing too.
    """
    share = vapour_pressure(dew_point_c) / saturation_vapour_pressure(temp_c)
    humidity: FloatArray = np.minimum(share, 1.0)
    return humidity


def vapour_pressure_deficit(
    surface_temp_c: ArrayLike, vapour_pressure_hpa: ArrayLike
) -> FloatArray:
    """Vapour pressure deficit at a surface; negative where dew forms [kPa].

    Saturation at the SURFACE, over ice where it is below freezing, minus the vapour pressure of
    the air. With the air temperature as the surface it is the deficit of the air.
    """
    return 0.1 * (surface_vapour_pressure(surface_temp_c) - floats(vapour_pressure_hpa))


def latent_heat(temp_c: ArrayLike) -> FloatArray:
    """Heat of vaporisation of water [J/kg].

    Notes
    -----
    Linear, 2.501 MJ/kg at 0 degC and 2.454 at 20 degC (standard, from memory). Frost gives 13 %
    more; that is left out.
    """
    return 2.501e6 - 2361.0 * floats(temp_c)


def vapour_transfer(convection_w_m2_k: ArrayLike) -> FloatArray:
    """Vapour that leaves a wet surface per hPa of deficit [kg/(m2 s hPa)].

    The Lewis relation with the heat transfer coefficient of the same air:
    ``hc * 0.622 / (cp * p * Le**(2/3))`` at sea-level pressure. Thin air carries more vapour per
    unit of heat but less heat at the same wind; the two nearly cancel, so altitude is left out.

    Parameters
    ----------
    convection_w_m2_k : heat transfer coefficient; NaN where negative. [W/(m2 K)]

    Notes
    -----
    Lewis relation in the form of Chilton and Colburn, with the power 2/3 of the Lewis number
    (textbooks of heat and mass transfer, from memory).
    """
    per_hpa = _WATER_AIR_MASS_RATIO / (_AIR_HEAT_J_KG_K * _SEA_LEVEL_HPA)
    per_hpa = per_hpa / float(_LEWIS_NUMBER ** (2.0 / 3.0))
    return not_negative(convection_w_m2_k) * per_hpa


def vapour_flux(
    surface_temp_c: ArrayLike, vapour_pressure_hpa: ArrayLike, convection_w_m2_k: ArrayLike
) -> FloatArray:
    """Vapour that leaves a freely wet surface; negative is condensation [kg/(m2 s)].

    Condensation is 0.4 of what the Lewis relation gives, because it happens in stable air.

    Parameters
    ----------
    surface_temp_c : of the wet surface. [degC]
    vapour_pressure_hpa : of the air. [hPa]
    convection_w_m2_k : heat transfer coefficient of the same air. [W/(m2 K)]

    Notes
    -----
    Dalton's law, `vapour_transfer` times the deficit at the surface; `CONDENSATION_SHARE` has the
    source of the 0.4.
    """
    excess = surface_vapour_pressure(surface_temp_c) - floats(vapour_pressure_hpa)
    return vapour_transfer(convection_w_m2_k) * damped(excess)


def damped(excess_hpa: FloatArray) -> FloatArray:
    """Return an excess of vapour pressure, a negative one times `CONDENSATION_SHARE` [hPa]."""
    return np.where(excess_hpa < 0.0, CONDENSATION_SHARE * excess_hpa, excess_hpa)


def heat_index(temp_c: ArrayLike, rel_humidity: ArrayLike) -> FloatArray:
    """Heat index of the US National Weather Service, in the shade [degC].

    Parameters
    ----------
    temp_c : air temperature. [degC]
    rel_humidity : relative humidity. [fraction]

    Raises
    ------
    ValueError
        Where a humidity is a percentage.

    Notes
    -----
    Rothfusz, L. P. (1990), NWS Southern Region Technical Attachment SR 90-23, with the two
    humidity adjustments; below 80 degF the simple form averaged with the temperature.
    """
    t = 1.8 * floats(temp_c) + 32.0
    rh = 100.0 * fraction(rel_humidity, "relative humidity")
    simple = 0.5 * (t + 0.5 * (t + 61.0 + 1.2 * (t - 68.0) + 0.094 * rh))
    regression = (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * rh
        - 0.22475541 * t * rh
        - 6.83783e-3 * t**2
        - 5.481717e-2 * rh**2
        + 1.22874e-3 * t**2 * rh
        + 8.5282e-4 * t * rh**2
        - 1.99e-6 * t**2 * rh**2
    )
    dry = (rh < 13.0) & (t >= 80.0) & (t <= 112.0)
    damp = (rh > 85.0) & (t >= 80.0) & (t <= 87.0)
    drier = (13.0 - rh) / 4.0 * np.sqrt(np.maximum(17.0 - np.abs(t - 95.0), 0.0) / 17.0)
    damper = (rh - 85.0) / 10.0 * (87.0 - t) / 5.0
    regression = regression - np.where(dry, drier, 0.0) + np.where(damp, damper, 0.0)
    index: FloatArray = (np.where(simple >= 80.0, regression, simple) - 32.0) / 1.8
    return index
