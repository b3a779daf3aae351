"""The roof under its weather: temperature of a layer on top, water on it, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models import wetness
from cure_models.convection import forced_convection
from cure_models.deck import lagged_temperature
from cure_models.surface import HeatBalance, Settled

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.exposure import Exposure

__all__ = ["TRACE_MM", "Layer", "Water", "drying", "layer", "temperature_error", "water"]

TRACE_MM = 0.05
"""Water that stands in for a trace, which is too little to measure (own choice). [mm]"""

# Errors of what goes into the heat balance, one standard deviation each.
_LONGWAVE_ERROR_W_M2 = {True: 5.0, False: 20.0}
"""Measured, and from the sky model: published comparisons of such models with measured radiation
give 14 to 20 W/m2; the 5 is about what its network asks of a station (from memory)."""
_IRRADIANCE_ERROR, _CLOUD_ERROR = 0.06, 0.3
"""Share of the irradiance: of an instrument or of the clear-sky model, whose bias is 35-60 W/m2;
and for a full cover of cloud, where it is worked out from cloud (own choice)."""
_WIND_SHARE_ERROR = 0.3
"""Share of the wind over the roof (own choice: parapets, neighbours, a mast far away)."""


@dataclass(frozen=True)
class Layer:
    """A layer on top of the roof, as the deck lets it follow. Arrays of shape (..., hours).

    Attributes
    ----------
    dry_c, wet_c
        Temperature when dry and under a water film. [degC]
    convection_w_m2_k
        Heat transfer coefficient to the air when wet, also that of the vapour. [W/m2K]
    error_c
        Standard error of ``dry_c`` from the weather's and the model's. [K]
    """

    dry_c: FloatArray
    wet_c: FloatArray
    convection_w_m2_k: FloatArray
    error_c: FloatArray


def layer(
    exposure: Exposure, absorptance: float, emittance: float, *, fresh: bool = False
) -> Layer:
    """Return a layer with this absorptance and emittance in the weather of a roof.

    Water leaves a ``fresh`` film by the wind alone, as it does in `cure_models.drying`.
    """
    roof = exposure.site.roof
    balance = HeatBalance(
        absorbed_w_m2=absorptance * exposure.irradiance_w_m2,
        longwave_w_m2=exposure.longwave_w_m2,
        air_temp_c=exposure.air_temp_c,
        roof_wind_m_s=exposure.roof_wind_m_s,
        emittance=emittance,
        u_value=roof.assembly.u_value_w_m2_k,
        indoor_temp_c=roof.indoor,
    )
    dry = balance.dry()
    by_wind = forced_convection(exposure.roof_wind_m_s)
    wet = balance.wet(exposure.vapour_hpa, by_wind if fresh else dry.convection_w_m2_k)
    start = _start(dry.temp_c)
    capacity = roof.assembly.heat_capacity_kj_m2_k * 1000.0

    def follow(settled: Settled) -> FloatArray:
        lagged = lagged_temperature(settled.temp_c, settled.conductance_w_m2_k, capacity, start)
        return lagged + roof.surface_offset

    return Layer(
        dry_c=follow(dry),
        wet_c=follow(wet),
        convection_w_m2_k=wet.convection_w_m2_k,
        error_c=temperature_error(exposure, absorptance, emittance, dry),
    )


def drying(exposure: Exposure, on_top: Layer) -> FloatArray:
    """Return the water that a wet layer loses; negative is dew or frost. [mm/h]"""
    return wetness.evaporation(on_top.wet_c, exposure.vapour_hpa, on_top.convection_w_m2_k)


def _start(steady: FloatArray) -> FloatArray:
    """Return the deck's temperature before the first hour: the mean of the first day's balance.

    It is unknown where that day is not wholly known, and so are the hours that remember it.
    """
    day = steady[..., :24]
    return np.mean(day, axis=-1) if day.shape[-1] == 24 else np.full(day.shape[:-1], np.nan)


def _snow_before(exposure: Exposure) -> FloatArray:
    """Return the snow before the first hour: none after a day without frost, else unknown. [mm]"""
    mild = np.all(exposure.air_temp_c[..., :24] > wetness.SNOW_BELOW_C, axis=-1)
    return np.where(mild, 0.0, np.nan)


def temperature_error(
    exposure: Exposure, absorptance: float, emittance: float, dry: Settled
) -> FloatArray:
    """Return the standard error of a dry layer's temperature. [K]

    Errors of longwave, irradiance and roof wind taken as independent, carried through the balance
    to first order (JCGM 100:2008, eq. 10): each one's heat over the conductance. A heavy deck
    damps them, which is left out.
    """
    by_wind = forced_convection(exposure.roof_wind_m_s) * (exposure.air_temp_c - dry.temp_c)
    by_sky = _LONGWAVE_ERROR_W_M2[exposure.longwave_measured]
    by_cloud = 0.0 if exposure.irradiance_measured else _CLOUD_ERROR * exposure.cloud
    share = np.where(
        exposure.irradiance_w_m2 > 0.0, np.sqrt(_IRRADIANCE_ERROR**2 + np.square(by_cloud)), 0.0
    )
    heat = np.sqrt(
        (emittance * exposure.site.roof.sky_view * by_sky) ** 2
        + (absorptance * share * exposure.irradiance_w_m2) ** 2
        + (_WIND_SHARE_ERROR * by_wind) ** 2
    )
    error: FloatArray = heat / dry.conductance_w_m2_k
    return error


@dataclass(frozen=True)
class Water:
    """Water on the roof, arrays of shape (..., hours).

    Attributes
    ----------
    wet_mm
        Most of the hour, snow included; NaN unknown. [mm]
    ponded_mm
        The same where water ponds; NaN everywhere on a roof that is said to have no ponds. [mm]
    snow_mm
        Most snow of the hour, as water. [mm]
    share
        Share of the hour in which the roof is wet. [fraction]
    """

    wet_mm: FloatArray
    ponded_mm: FloatArray
    snow_mm: FloatArray
    share: FloatArray


def water(exposure: Exposure, on_top: Layer, start_wet_mm: float | None = None) -> Water:
    """Return the water on a roof.

    Parameters
    ----------
    exposure
        Its weather.
    on_top
        The layer on top, which collects dew and dries.
    start_wet_mm
        Film before the first hour; None if nobody has looked: then the roof is not known to be dry
        until the model has dried even a full film. Ponds are taken to start the same, and snow may
        lie if the first day is not all above 1 degC. [mm]
    """
    roof = exposure.site.roof
    before = _snow_before(exposure) if start_wet_mm is None else 0.0
    snow = wetness.snow_store(exposure.rain_mm, exposure.air_temp_c, before)
    exchange = drying(exposure, on_top)
    gain = (
        # A block's sum may all have fallen in any of its hours; as snow it is shared out.
        np.maximum(exposure.rain_most_mm - snow.fallen_mm, 0.0)
        + snow.melted_mm
        + TRACE_MM * exposure.trace
        + np.maximum(-exchange, 0.0)
    )
    loss = np.maximum(exchange, 0.0)
    film = wetness.film_store(gain, loss, roof.water_film, start=start_wet_mm)
    ponded = np.full(exposure.shape, np.nan)
    if roof.ponded_share > 0:
        ponded = wetness.film_store(gain, loss, roof.pond_depth, start=start_wet_mm)
        ponded = ponded + snow.lying_mm
    share = np.where(snow.lying_mm > 0.0, 1.0, wetness.wet_share(film, loss) + 0 * snow.lying_mm)
    return Water(film + snow.lying_mm, ponded, snow.lying_mm, share)
