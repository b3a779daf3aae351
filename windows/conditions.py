"""Conditions at the roof: what the weather does to the layer on top, hour by hour.

The weather columns, the site and the coating go in; surface temperature, spread, wetness, drying
pull, sun and cure rate come out. Every value is rounded to the decimals that the audit table
prints, before anything is decided on it: what is printed is what was decided on.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from cure_models import psychrometrics, sun, surface, wetness
from cure_models.coating import LIMIT_DECIMALS, Coating
from cure_models.kinetics import cure_rate

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["TRACE_MM", "Conditions", "conditions", "roof_conditions"]

TRACE_MM = 0.05
"""Water that stands in for a trace, which is too little to measure (own choice). [mm]"""

_NIGHT_DEG = -8.0
"""Sun this low at mid-hour stays below the horizon all hour: 15 degrees in an hour. [deg]"""

_DECIMALS = {"rain_mm": 3, "wet_mm": 5, "vpd_kpa": 5, "cure_rate": 6}


@dataclass(frozen=True)
class Conditions:
    """Arrays of shape (..., hours), in the order of the audit table. Units are in the names.

    ``surface_temp_c`` is that of the layer now on top, by night the colder of it and of the
    film to come; the cure rate uses the temperature of the same roof under the new film.
    ``heat_index_c`` and ``thunder_prob`` serve the crew's safety.
    """

    air_temp_c: FloatArray
    dew_point_c: FloatArray
    rel_humidity: FloatArray
    wind_m_s: FloatArray
    gust_m_s: FloatArray
    rain_mm: FloatArray
    rain_trace: FloatArray
    rain_prob: FloatArray
    cloud: FloatArray
    ghi_w_m2: FloatArray
    pressure_hpa: FloatArray
    surface_temp_c: FloatArray
    spread_c: FloatArray
    wet_mm: FloatArray
    vpd_kpa: FloatArray
    sun_elevation_deg: FloatArray
    uv_index: FloatArray
    cure_rate: FloatArray
    heat_index_c: FloatArray
    thunder_prob: FloatArray
    absent: frozenset[str]

    def quantity(self, name: str) -> FloatArray:
        """Return one of the arrays by name."""
        values: FloatArray = getattr(self, name)
        return values


def conditions(
    hours: HourlyTable, site: Site, coating: Coating, *, start_wet_mm: float | None = None
) -> Conditions:
    """Return the conditions of a table's hours. See `roof_conditions`."""
    weather = {str(name): hours.frame[name].to_numpy(np.float64) for name in hours.frame}
    return roof_conditions(
        weather, _unix_seconds(hours.index), site, coating, start_wet_mm=start_wet_mm
    )


def _unix_seconds(index: pd.DatetimeIndex) -> FloatArray:
    return np.asarray(index.tz_localize(None).to_numpy("datetime64[s]"), dtype=np.float64)


def roof_conditions(
    weather: Mapping[str, FloatArray],
    unix_seconds: FloatArray,
    site: Site,
    coating: Coating,
    *,
    start_wet_mm: float | None = None,
) -> Conditions:
    """Return the conditions at the roof.

    Parameters
    ----------
    weather
        Columns of the hourly table, shape (..., hours) each.
    unix_seconds
        Starts of the hours, shape (..., hours) or (hours,). [s]
    site, coating
        The roof, its present surface, and the film that is to cure on it.
    start_wet_mm
        Water film before the first hour; None if nobody has looked: then the roof is not known to
        be dry until the model has dried even a full film. [mm]
    """
    shape = weather["air_temp_c"].shape
    air, wind = weather["air_temp_c"], weather["wind_m_s"]
    dew, humidity = _moisture(weather)
    elevation = np.broadcast_to(
        sun.sun_elevation(unix_seconds + 1800.0, site.latitude, site.longitude), shape
    )
    irradiance = _irradiance(weather, elevation, site)
    cloud = weather.get("cloud", np.full(shape, np.nan))
    longwave = weather.get("longwave_w_m2")
    if longwave is None:
        longwave = surface.sky_longwave(air, dew, cloud)
    roof_wind = wind * site.roof.wind_share
    trace = weather.get("rain_trace", np.zeros(shape))
    balance = _Balance(site, irradiance, longwave, air, dew, roof_wind)

    roof = (site.surface.absorptance, site.surface.emittance)
    film = (coating.absorptance, coating.emittance)
    convection = balance.convection(*roof)
    now = balance.dry_temperature(*roof, convection)
    wet_temp = balance.wet_temperature(*roof, convection)
    film_temp = balance.dry_temperature(*film, balance.convection(*film))
    measured = weather.get("surface_temp_c")
    if measured is None:
        # By night it is the new film that cools: a deck that is black, or bare metal of low
        # emittance, must not promise a warm one.
        surface_temp = np.where(elevation < 0, np.minimum(now, film_temp), now)
    else:
        # Film and water lie on the same roof: what the sensor tells of the model holds for them
        # too, as far as the film stays between air, sensor and model.
        surface_temp = measured
        wet_temp = wet_temp + (measured - now)
        known = np.stack([air, measured, film_temp])
        film_temp = np.clip(film_temp + (measured - now), known.min(axis=0), known.max(axis=0))
    surface_temp = _decimal(surface_temp)
    spread = surface_temp - psychrometrics.condensation_point(surface_temp, dew)
    vapour = psychrometrics.vapour_pressure(dew)

    rain = weather["rain_mm"]
    exchange = wetness.evaporation(wet_temp, vapour, convection)
    water = rain + TRACE_MM * trace + np.maximum(-exchange, 0.0)
    wet = wetness.film_store(
        water, np.maximum(exchange, 0.0), site.roof.water_film, start=start_wet_mm
    )
    wet = wet + wetness.snow_store(rain, air)
    wetted = _wetted(rain, trace, film_temp, dew)
    rate = cure_rate(
        coating,
        film_temp_c=film_temp,
        dew_point_c=dew,
        air_temp_c=air,
        roof_wind_m_s=roof_wind,
        wetted=wetted,
    )
    computed = {
        "air_temp_c": air,
        "dew_point_c": dew,
        "rel_humidity": humidity,
        "cloud": cloud,
        "ghi_w_m2": irradiance,
        "surface_temp_c": surface_temp,
        "spread_c": spread,
        "wet_mm": wet,
        "vpd_kpa": psychrometrics.vapour_pressure_deficit(surface_temp, vapour),
        "sun_elevation_deg": elevation,
        "uv_index": sun.uv_index(elevation, cloud, site.elevation),
        "cure_rate": rate,
        "heat_index_c": psychrometrics.heat_index(air, humidity),
        "rain_trace": weather.get("rain_trace", np.full(shape, np.nan)),
    }
    names = [f.name for f in fields(Conditions) if f.name != "absent"]
    unknown = np.full(shape, np.nan)
    arrays = {
        name: _decimal(computed.get(name, weather.get(name, unknown)), name) for name in names
    }
    return Conditions(**arrays, absent=frozenset(set(names) - set(computed) - set(weather)))


def _start(steady: FloatArray) -> FloatArray:
    """Return the deck's temperature before the first hour: the mean of the first day's balance.

    It is unknown where that day is not wholly known, and so are the hours that remember it.
    """
    day = steady[..., :24]
    return np.mean(day, axis=-1) if day.shape[-1] == 24 else np.full(day.shape[:-1], np.nan)


def _decimal(values: FloatArray, name: str = "") -> FloatArray:
    return np.round(values, _DECIMALS.get(name, LIMIT_DECIMALS))


def _moisture(weather: Mapping[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return dew point and relative humidity; only a column that is wholly absent is derived."""
    air, dew, humidity = (
        weather["air_temp_c"], weather.get("dew_point_c"), weather.get("rel_humidity")
    )  # fmt: skip
    if dew is None:
        assert humidity is not None  # check_hours requires one of the two
        return psychrometrics.dew_point(air, humidity), humidity
    if humidity is None:
        humidity = psychrometrics.relative_humidity(air, dew)
    return dew, humidity


def _irradiance(
    weather: Mapping[str, FloatArray], elevation: FloatArray, site: Site
) -> FloatArray:
    """Return global irradiance: measured, else clear sky through the cloud; none by night."""
    measured = weather.get("ghi_w_m2")
    if measured is None:
        clear = sun.clear_sky_ghi(elevation, site.elevation)
        cloud = weather.get("cloud", np.full(elevation.shape, np.nan))
        measured = sun.cloudy_ghi(clear, cloud)
    return np.where(elevation < _NIGHT_DEG, 0.0, np.maximum(measured, 0.0))


def _wetted(
    rain: FloatArray, trace: FloatArray, film_temp: FloatArray, dew: FloatArray
) -> FloatArray:
    """Return 1 where rain, a trace or dew wets the film in the hour, NaN where not known."""
    condenses = film_temp <= psychrometrics.condensation_point(film_temp, dew)
    wet = (rain > 0) | (trace > 0) | condenses
    unknown = np.isnan(rain + trace + film_temp + dew)
    return np.where(wet, 1.0, np.where(unknown, np.nan, 0.0))


@dataclass(frozen=True)
class _Balance:
    """The heat balance of one roof in given weather, for any layer on top."""

    site: Site
    irradiance: FloatArray
    longwave: FloatArray
    air: FloatArray
    dew: FloatArray
    roof_wind: FloatArray

    @property
    def _room(self) -> dict[str, float]:
        """What lies under the surface, the same for every layer on top."""
        return {
            "u_value": self.site.roof.assembly.u_value_w_m2_k,
            "indoor_temp_c": self.site.roof.indoor,
        }

    def convection(self, absorptance: float, emittance: float) -> FloatArray:
        """Return the convection at a layer on top. [W/m2K]"""
        absorbed = absorptance * self.irradiance
        stable = surface.is_stable(
            absorbed, self.longwave, self.air, emittance=emittance, **self._room
        )
        return surface.convection(self.roof_wind, stable)

    def dry_temperature(
        self, absorptance: float, emittance: float, convection: FloatArray
    ) -> FloatArray:
        """Return the temperature of a dry layer, as the deck lets it follow. [degC]"""
        assembly = self.site.roof.assembly
        absorbed = absorptance * self.irradiance
        steady = surface.steady_temperature(
            absorbed, self.longwave, self.air, convection, emittance=emittance, **self._room
        )
        conductance = surface.conductance(
            steady, convection, emittance=emittance, u_value=assembly.u_value_w_m2_k
        )
        capacity = assembly.heat_capacity_kj_m2_k * 1000.0
        return surface.lagged_temperature(steady, conductance, capacity, _start(steady))

    def wet_temperature(
        self, absorptance: float, emittance: float, convection: FloatArray
    ) -> FloatArray:
        """Return the temperature of a layer while a water film lies on it. [degC]"""
        absorbed = absorptance * self.irradiance
        return surface.wet_temperature(
            absorbed,
            self.longwave,
            self.air,
            convection,
            psychrometrics.vapour_pressure(self.dew),
            emittance=emittance,
            **self._room,
        )
