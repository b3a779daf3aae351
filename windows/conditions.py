"""Conditions at the roof: what the weather does to the layer on top and to the film to come.

The weather columns, the site and the coating go in; temperatures, spreads, wetness, drying pull,
sun and cure rates come out. Every value is rounded to the decimals that the audit table prints,
before anything is decided on it: what is printed is what was decided on.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

import numpy as np

from cure_models import psychrometrics, sun
from cure_models.coating import LIMIT_DECIMALS, Coating
from cure_models.kinetics import Film, cure_rates
from windows.exposure import Exposure, expose
from windows.roof import Layer, Water, drying, layer, water
from windows.time_rows import unix_seconds

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = [
    "Conditions", "Roof", "SomeConditions", "coated", "conditions", "exposed_table", "new_film",
    "optical", "roof_in_table", "roof_in_weather", "roof_under",
]  # fmt: skip

_DECIMALS = {
    "rain_mm": 3, "rain_most_mm": 3, "wet_mm": 5, "ponded_mm": 5, "vpd_kpa": 5, "cure_rate": 6,
    "cure_rate_late": 6,
}  # fmt: skip


@dataclass(frozen=True)
class Conditions:
    """Arrays of shape (..., hours), in the order of the audit table. Units are in the names.

    ``surface_temp_c`` and ``spread_c`` are those of the layer now on top, cooled by water that
    may lie on it, or of a sensor's coldest reading; ``dry_surface_temp_c`` is that layer dry, or
    the sensor's warmest, ``surface_low_c`` and
    ``surface_high_c`` one standard error below and above it. ``film_temp_c`` and
    ``film_spread_c`` are those of the same roof under the new film. ``cure_rate`` is that of the
    first stage, ``cure_rate_late`` of what follows. ``rain_most_mm`` is the rain that can have
    fallen in the hour, all of its block's. ``heat_index_c`` and ``thunder_prob`` serve
    the crew's safety. ``absent`` names what the weather has no column for.
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
    cure_rate_late: FloatArray
    dry_surface_temp_c: FloatArray
    surface_low_c: FloatArray
    surface_high_c: FloatArray
    film_temp_c: FloatArray
    film_spread_c: FloatArray
    film_drying_mm_h: FloatArray
    ponded_mm: FloatArray
    hours_to_sunset: FloatArray
    uv_dose_sed: FloatArray
    rain_most_mm: FloatArray
    rain_prob_block_h: FloatArray
    heat_index_c: FloatArray
    thunder_prob: FloatArray
    absent: frozenset[str]

    def quantity(self, name: str) -> FloatArray:
        """Return one of the arrays by name."""
        values: FloatArray = getattr(self, name)
        return values


@dataclass(frozen=True)
class SomeConditions(Conditions):
    """Conditions of which some were not worked out: those are unknown in every hour."""

    left_out: frozenset[str]

    def quantity(self, name: str) -> FloatArray:
        """Return one of the arrays by name, that was worked out."""
        assert name not in self.left_out, name
        return super().quantity(name)


@dataclass(frozen=True)
class Roof:
    """A roof in its weather, as it is now: what every coating on it shares.

    ``on_top`` is the layer as a sensor has it where there is one, else as ``modelled``. ``films``
    keeps the new films that were worked out, by absorptance and emittance.
    """

    exposure: Exposure
    modelled: Layer
    on_top: Layer
    water: Water
    films: dict[tuple[float, float], Layer] = field(default_factory=dict)

    def film(self, coating: Coating) -> Layer:
        """Return the `new_film` of a coating, worked out once for all that are alike."""
        key = optical(coating)
        if key not in self.films:
            self.films[key] = new_film(self.exposure, coating)
        return self.films[key]


def optical(coating: Coating) -> tuple[float, float]:
    """Return what tells new films apart: absorptance and emittance."""
    return coating.absorptance, coating.emittance


def roof_in_table(hours: HourlyTable, site: Site, *, start_wet_mm: float | None = None) -> Roof:
    """Return a roof in the weather of a table. See `roof_in_weather`."""
    return roof_under(exposed_table(hours, site), site, start_wet_mm=start_wet_mm)


def exposed_table(hours: HourlyTable, site: Site) -> Exposure:
    """Return what the weather of a table does to a roof, whatever lies on top."""
    weather = {str(name): hours.frame[name].to_numpy(np.float64) for name in hours.frame}
    return expose(weather, unix_seconds(hours.index), site)


def roof_in_weather(
    weather: Mapping[str, FloatArray],
    unix_seconds: FloatArray,
    site: Site,
    *,
    start_wet_mm: float | None = None,
) -> Roof:
    """Return a roof in its weather.

    Parameters
    ----------
    weather
        Columns of the hourly table, shape (..., hours) each.
    unix_seconds
        Starts of the hours, shape (..., hours) or (hours,). [s]
    site
        The roof and its present surface.
    start_wet_mm
        Water film before the first hour; None if nobody has looked: then the roof is not known to
        be dry until the model has dried even a full film. [mm]
    """
    return roof_under(expose(weather, unix_seconds, site), site, start_wet_mm=start_wet_mm)


def roof_under(exposure: Exposure, site: Site, *, start_wet_mm: float | None = None) -> Roof:
    """Return a roof with the site's surface under its exposure, which other surfaces share."""
    modelled = layer(exposure, site.surface.absorptance, site.surface.emittance)
    measured = exposure.weather.get("surface_temp_c")
    on_top = modelled if measured is None else _as_measured(modelled, measured)
    return Roof(exposure, modelled, on_top, water(exposure, on_top, start_wet_mm))


def _as_measured(on_top: Layer, measured: FloatArray) -> Layer:
    """Return the layer as the sensor has it; water on it is as much warmer or colder."""
    wet = on_top.wet_c + (measured - on_top.dry_c)
    return Layer(measured, wet, on_top.convection_w_m2_k, 0.0 * measured)


def new_film(exposure: Exposure, coating: Coating) -> Layer:
    """Return the film of a coating as it would be under an exposure, fresh, as the model has it."""
    return layer(exposure, coating.absorptance, coating.emittance, fresh=True)


def _on_roof(film: Layer, roof: Roof) -> Layer:
    """Return the new film on the roof.

    Film and roof lie on the same deck: what a sensor tells of the model holds for the film too. But
    a roof that is warmer than foretold may only be darker than the site says, which a new film is
    not: it is warmed by the model's standard error at most.
    """
    now = roof.on_top
    if "surface_temp_c" not in roof.exposure.weather:
        return film
    error = np.minimum(now.dry_c - roof.modelled.dry_c, roof.modelled.error_c)
    return Layer(
        film.dry_c + error, film.wet_c + error, film.convection_w_m2_k, 0.0 * error
    )


def conditions(
    hours: HourlyTable, site: Site, coating: Coating, *, start_wet_mm: float | None = None
) -> Conditions:
    """Return the conditions of a table's hours. See `roof_in_weather` and `coated`."""
    return coated(roof_in_table(hours, site, start_wet_mm=start_wet_mm), coating)


def coated(
    roof: Roof,
    coating: Coating,
    *,
    only: frozenset[str] | None = None,
) -> Conditions:
    """Return the conditions of a roof for a coating that is to be laid on it.

    Parameters
    ----------
    roof, coating
        What lies there now, and what is to come.
    only
        Quantities to work out, default all.
    """
    exposure, on_top, wet = roof.exposure, roof.on_top, roof.water
    weather, shape = exposure.weather, exposure.shape
    air, dew = exposure.air_temp_c, exposure.dew_point_c
    film = _on_roof(roof.film(coating), roof)
    film_temp, surface_temp = _decimal(film.dry_c), _decimal(_surface_temp(roof))
    film_drying = drying(exposure, film)
    rates = cure_rates(
        coating,
        Film(
            temp_c=film.dry_c,
            drying_mm_h=film_drying,
            dew_point_c=dew,
            air_temp_c=air,
            roof_wind_m_s=exposure.roof_wind_m_s,
            wetted=_wetted(exposure, film.dry_c),
        ),
    )
    computed: dict[str, Callable[[], FloatArray]] = {
        "air_temp_c": lambda: air,
        "dew_point_c": lambda: dew,
        "rel_humidity": lambda: exposure.rel_humidity,
        "cloud": lambda: exposure.cloud,
        "ghi_w_m2": lambda: exposure.irradiance_w_m2,
        "surface_temp_c": lambda: surface_temp,
        "spread_c": lambda: surface_temp - psychrometrics.condensation_point(surface_temp, dew),
        "wet_mm": lambda: wet.wet_mm,
        "vpd_kpa": lambda: psychrometrics.vapour_pressure_deficit(
            surface_temp, exposure.vapour_hpa
        ),
        "sun_elevation_deg": lambda: exposure.sun_elevation_deg,
        "uv_index": lambda: _uv_index(exposure, exposure.cloud),
        "cure_rate": lambda: rates.first,
        "cure_rate_late": lambda: rates.late,
        "dry_surface_temp_c": lambda: _reading(weather, "surface_temp_max_c", on_top.dry_c),
        "surface_low_c": lambda: on_top.dry_c - on_top.error_c,
        "surface_high_c": lambda: on_top.dry_c + on_top.error_c,
        "film_temp_c": lambda: film_temp,
        "film_spread_c": lambda: film_temp - psychrometrics.condensation_point(film_temp, dew),
        "film_drying_mm_h": lambda: film_drying,
        "ponded_mm": lambda: wet.ponded_mm,
        "hours_to_sunset": lambda: exposure.hours_to_sunset,
        # Careful: under a sky that is not known all the ultraviolet comes through.
        "uv_dose_sed": lambda: sun.uv_dose(
            _uv_index(exposure, np.nan_to_num(exposure.cloud, nan=0.0))
        ),
        "heat_index_c": lambda: psychrometrics.heat_index(air, exposure.rel_humidity),
        "rain_trace": lambda: weather.get("rain_trace", np.full(shape, np.nan)),
        "rain_most_mm": lambda: exposure.rain_most_mm,
        "rain_prob_block_h": lambda: weather.get("rain_prob_block_h", np.ones(shape)),
    }
    names = [f.name for f in fields(Conditions) if f.name != "absent"]
    unknown = np.broadcast_to(np.nan, shape)
    left_out = frozenset() if only is None else frozenset(names) - only

    def array(name: str) -> FloatArray:
        if name in left_out:
            return unknown
        made = computed.get(name)
        return _decimal(weather.get(name, unknown) if made is None else made(), name)

    arrays = {name: array(name) for name in names}
    absent = frozenset(set(names) - set(computed) - set(weather))
    if only is None:
        return Conditions(**arrays, absent=absent)
    return SomeConditions(**arrays, absent=absent, left_out=left_out)


def _surface_temp(roof: Roof) -> FloatArray:
    """Return the temperature of the layer on top, with the water that may lie on it.

    Evaporation cools it for the share of the hour in which it is wet, for all of it where that is
    not known. The heat of dew is not credited. A sensor has felt all this already.
    """
    if "surface_temp_c" in roof.exposure.weather:
        return _reading(roof.exposure.weather, "surface_temp_min_c", roof.on_top.dry_c)
    cooling = np.minimum(roof.on_top.wet_c - roof.on_top.dry_c, 0.0)
    return roof.on_top.dry_c + np.nan_to_num(roof.water.share, nan=1.0) * cooling


def _reading(weather: Mapping[str, FloatArray], name: str, mean: FloatArray) -> FloatArray:
    """Return a sensor's extreme of the hour, where there is a sensor and it tells one."""
    return weather.get(name, mean) if "surface_temp_c" in weather else mean


def _uv_index(exposure: Exposure, cloud: FloatArray) -> FloatArray:
    return sun.uv_index(exposure.sun_elevation_deg, cloud, exposure.site.elevation)


def _decimal(values: FloatArray, name: str = "") -> FloatArray:
    return np.round(values, _DECIMALS.get(name, LIMIT_DECIMALS))


def _wetted(exposure: Exposure, film_temp: FloatArray) -> FloatArray:
    """Return 1 where rain, a trace or dew wets the film in the hour, NaN where not known."""
    dew, rain, trace = exposure.dew_point_c, exposure.rain_mm, exposure.trace
    condenses = film_temp <= psychrometrics.condensation_point(film_temp, dew)
    wet = (rain > 0) | (trace > 0) | condenses
    unknown = np.isnan(rain + trace + film_temp + dew)
    return np.where(wet, 1.0, np.where(unknown, np.nan, 0.0))
