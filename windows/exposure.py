"""What the weather does to a roof before any layer is looked at: sun, sky, wind, moisture, rain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models import psychrometrics, sky, sun
from windows.time_rows import middles_of_hours

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cure_models.arrays import FloatArray
    from windows.site import Site

__all__ = ["Exposure", "expose"]

_NIGHT_DEG = -8.0
"""Sun this low at mid-hour stays below the horizon all hour: 15 degrees in an hour. [deg]"""


@dataclass(frozen=True)
class Exposure:
    """Weather at one roof, arrays of shape (..., hours). Units are in the names.

    ``weather`` holds the columns as the table has them. ``rain_most_mm`` is the rain that can have
    fallen in the hour: all of its block's. ``longwave_measured`` and ``irradiance_measured`` tell
    where two of the others come from.
    """

    site: Site
    weather: Mapping[str, FloatArray]
    air_temp_c: FloatArray
    dew_point_c: FloatArray
    vapour_hpa: FloatArray
    rel_humidity: FloatArray
    roof_wind_m_s: FloatArray
    rain_mm: FloatArray
    rain_most_mm: FloatArray
    trace: FloatArray
    cloud: FloatArray
    sun_elevation_deg: FloatArray
    hours_to_sunset: FloatArray
    irradiance_w_m2: FloatArray
    longwave_w_m2: FloatArray
    irradiance_measured: bool
    longwave_measured: bool

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of every array."""
        return self.air_temp_c.shape


def expose(weather: Mapping[str, FloatArray], unix_seconds: FloatArray, site: Site) -> Exposure:
    """Return what the weather does to a roof.

    Parameters
    ----------
    weather
        Columns of the hourly table, shape (..., hours) each.
    unix_seconds
        Starts of the hours, shape (..., hours) or (hours,). [s]
    site
        Where the roof is, and how much of wind and sky reaches it.
    """
    air = weather["air_temp_c"]
    shape = air.shape
    dew, humidity = _moisture(weather)
    position = sun.sun_position(middles_of_hours(unix_seconds), site.latitude, site.longitude)
    elevation = np.broadcast_to(position.elevation, shape)
    to_sunset = sun.hours_to_sunset(position, site.latitude) - 0.5  # from the end of the hour
    # A sunset in the first half of the hour has been passed at its middle: it counts all the same.
    to_sunset = np.where((to_sunset >= 23.0) & (to_sunset < 23.5), to_sunset - 24.0, to_sunset)
    cloud = weather.get("cloud", np.full(shape, np.nan))
    longwave = weather.get("longwave_w_m2")
    measured = longwave is not None
    if longwave is None:
        longwave = sky.sky_longwave(air, dew, cloud, site.elevation)
    return Exposure(
        site=site,
        weather=weather,
        air_temp_c=air,
        dew_point_c=dew,
        vapour_hpa=psychrometrics.vapour_pressure(dew),
        rel_humidity=humidity,
        roof_wind_m_s=weather["wind_m_s"] * site.roof.wind_share,
        rain_mm=weather["rain_mm"],
        rain_most_mm=weather["rain_mm"] * weather.get("rain_block_h", np.ones(shape)),
        trace=weather.get("rain_trace", np.zeros(shape)),
        cloud=cloud,
        sun_elevation_deg=elevation,
        hours_to_sunset=np.broadcast_to(to_sunset, shape),
        irradiance_w_m2=_irradiance(weather, elevation, site),
        longwave_w_m2=sky.seen_longwave(longwave, air, site.roof.sky_view),
        irradiance_measured="ghi_w_m2" in weather,
        longwave_measured=measured,
    )


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
