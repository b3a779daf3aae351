"""The sun: where it stands, what it delivers through clear and cloudy air, its UV index.

Angles in degrees. Every function is for one moment; for an hour labelled by its start, ask for
its middle. Nothing raises at the poles, the numbers are just large or small.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from cure_models.arrays import FloatArray, floats, fraction

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = [
    "SunPosition",
    "clear_sky_ghi",
    "cloud_transmittance",
    "cloudy_ghi",
    "hours_to_sunset",
    "sun_elevation",
    "sun_position",
    "uv_dose",
    "uv_index",
]

_J2000_UNIX_S = 946_728_000.0
"""2000-01-01 12:00 UTC, the zero of the series [s]."""

_CENTURY_S = 36525.0 * 86400.0

_SUNSET_DEG = -0.833

_SED_PER_INDEX_HOUR = 0.9
"""An index of 1 is 25 mW/m2 of erythemal radiation, an hour of it 90 J/m2; 100 J/m2 are one
standard erythema dose (ISO/CIE 17166, from memory)."""

_UV_CLOUD = (0.0, 3.5 / 8.0, 6.0 / 8.0, 1.0)
_UV_PASSES = (1.0, 0.89, 0.73, 0.31)
"""Clear, scattered (3-4 eighths), broken (5-7 eighths) and overcast skies: share of UV let through
by the National Weather Service's index."""


class SunPosition(NamedTuple):
    """Geometric elevation above the horizon and azimuth clockwise from north [degrees]."""

    elevation: FloatArray
    azimuth: FloatArray


def sun_position(unix_seconds: ArrayLike, latitude: ArrayLike, longitude: ArrayLike) -> SunPosition:
    """Position of the sun's centre, without refraction.

    Parameters
    ----------
    unix_seconds : seconds since 1970-01-01 00:00 UTC. [s]
    latitude, longitude : north and east positive; broadcast against the time. [degrees]

    Notes
    -----
    Low-precision series of Meeus, J. (1998), "Astronomical Algorithms", ch. 25, in the form of
    NOAA's solar calculator. Within 0.02 degrees of NREL SPA for 1950-2050.
    """
    seconds, lat = floats(unix_seconds), np.radians(floats(latitude))
    t = (seconds - _J2000_UNIX_S) / _CENTURY_S
    mean_longitude = 280.46646 + t * (36000.76983 + 3.032e-4 * t)
    anomaly = np.radians(357.52911 + t * (35999.05029 - 1.537e-4 * t))
    eccentricity = 0.016708634 - t * (4.2037e-5 + 1.267e-7 * t)
    # Sines and cosines once each; those of two and three times an angle follow from them.
    sin_m, cos_m = np.sin(anomaly), np.cos(anomaly)
    sin_2m = 2.0 * sin_m * cos_m
    centre = (
        sin_m * (1.914602 - t * (4.817e-3 + 1.4e-5 * t))
        + sin_2m * (0.019993 - 1.01e-4 * t)
        + sin_m * (3.0 - 4.0 * sin_m * sin_m) * 2.89e-4
    )
    node = np.radians(125.04 - 1934.136 * t)
    apparent = np.radians(mean_longitude + centre - 5.69e-3 - 4.78e-3 * np.sin(node))
    obliquity = np.radians(
        23.0
        + (26.0 + (21.448 - t * (46.815 + t * (5.9e-4 - 1.813e-3 * t))) / 60.0) / 60.0
        + 2.56e-3 * np.cos(node)
    )
    sin_declination = np.sin(obliquity) * np.sin(apparent)
    cos_declination = np.sqrt(1.0 - sin_declination * sin_declination)

    half = np.tan(obliquity / 2.0)
    y = half * half
    double = 2.0 * np.radians(mean_longitude)
    sin_d, cos_d = np.sin(double), np.cos(double)
    equation_of_time = np.degrees(
        y * sin_d
        - 2.0 * eccentricity * sin_m
        + 4.0 * eccentricity * y * sin_m * cos_d
        - y * y * sin_d * cos_d
        - 1.25 * eccentricity * eccentricity * sin_2m
    )
    turned = np.mod(seconds, 86400.0) / 240.0
    hour_angle = np.radians(turned + equation_of_time + floats(longitude) - 180.0)

    sin_lat, cos_lat, cos_h = np.sin(lat), np.cos(lat), np.cos(hour_angle)
    height = sin_lat * sin_declination + cos_lat * cos_declination * cos_h
    elevation: FloatArray = np.degrees(np.arcsin(np.clip(height, -1.0, 1.0)))
    # atan2 with both sides multiplied by cos(declination): no division, so no trouble anywhere.
    west = np.sin(hour_angle) * cos_declination
    south = cos_h * cos_declination * sin_lat - sin_declination * cos_lat
    azimuth: FloatArray = np.mod(np.degrees(np.arctan2(west, south)) + 180.0, 360.0)
    return SunPosition(elevation, azimuth)


def sun_elevation(unix_seconds: ArrayLike, latitude: ArrayLike, longitude: ArrayLike) -> FloatArray:
    """Geometric elevation of the sun; see `sun_position` [degrees]."""
    return sun_position(unix_seconds, latitude, longitude).elevation


def hours_to_sunset(position: SunPosition, latitude: ArrayLike) -> FloatArray:
    """Hours until the sun next sets, 24 where it does not set this day [h].

    Sunset is the upper limb on a sea horizon with standard refraction, elevation -0.833 degrees.
    Where the sun does not rise this day it is 0: it has set. By night it is the next day's sunset.

    Parameters
    ----------
    position : of the sun at the moment, from `sun_position`. [degrees]
    latitude : north positive. [degrees]

    Notes
    -----
    The hour angle of sunset from the declination and the hour angle of the moment, both recovered
    from the position; the sun's own motion until then is left out, which costs up to 2 minutes to
    60 degrees of latitude and 4 minutes to 65; nearer the polar circles, on days when the sun only
    grazes the horizon, it may miss a sunset.
    """
    lat = np.radians(floats(latitude))
    height, azimuth = np.radians(position.elevation), np.radians(position.azimuth)
    sine = np.sin(height) * np.sin(lat) + np.cos(height) * np.cos(lat) * np.cos(azimuth)
    declination = np.arcsin(np.clip(sine, -1.0, 1.0))
    west = -np.sin(azimuth) * np.cos(height)
    south = np.sin(height) * np.cos(lat) - np.cos(height) * np.sin(lat) * np.cos(azimuth)
    now = np.arctan2(west, south)
    across = np.cos(lat) * np.cos(declination)
    cosine = (np.sin(np.radians(_SUNSET_DEG)) - np.sin(lat) * np.sin(declination)) / across
    sets = np.arccos(np.clip(cosine, -1.0, 1.0))
    hours = np.mod(sets - now, 2.0 * np.pi) * 12.0 / np.pi
    known: FloatArray = np.where(cosine <= -1.0, 24.0, np.where(cosine >= 1.0, 0.0, hours))
    return known


def _sine(elevation_deg: ArrayLike) -> FloatArray:
    """Sine of the elevation, 0 below the horizon, NaN where unknown."""
    sine: FloatArray = np.maximum(np.sin(np.radians(floats(elevation_deg))), 0.0)
    return sine


def clear_sky_ghi(elevation_deg: ArrayLike, site_elevation_m: ArrayLike = 0.0) -> FloatArray:
    """Global horizontal irradiance under a clear sky; 0 with the sun down [W/m2].

    Parameters
    ----------
    elevation_deg : elevation of the sun. [degrees]
    site_elevation_m : height above sea level. [m]

    Notes
    -----
    Haurwitz, B. (1945), J. Meteorology 2, 154-166. Known bias against a model with monthly
    turbidity (Ineichen): 35-60 W/m2 too bright in humid places, 40 W/m2 too dim at 1800 m. The
    height is made up for by the clear-sky ratio of FAO-56 eq. 37, (0.75 + 2e-5 z) / 0.75 (Allen
    et al. 1998). Use the irradiance of the weather source where it has one.
    """
    sine = _sine(elevation_deg)
    with np.errstate(divide="ignore"):
        sea_level = 1098.0 * sine * np.exp(-0.059 / sine)
    ghi: FloatArray = sea_level * (1.0 + 2e-5 / 0.75 * floats(site_elevation_m))
    return ghi


def cloud_transmittance(cloud: ArrayLike) -> FloatArray:
    """Share of the clear-sky irradiance that comes through this cloud cover [fraction].

    Parameters
    ----------
    cloud : total cloud cover. [fraction]

    Raises
    ------
    ValueError
        Where a cover is a percentage.

    Notes
    -----
    Kasten, F. and Czeplak, G. (1980), Solar Energy 24, 177-189: ``1 - 0.75 cover**3.4``, fitted
    to ten years at Hamburg; refits elsewhere move the coefficients.
    """
    passed: FloatArray = 1.0 - 0.75 * fraction(cloud, "cloud cover") ** 3.4
    return passed


def cloudy_ghi(clear_sky_w_m2: ArrayLike, cloud: ArrayLike) -> FloatArray:
    """Global horizontal irradiance under cloud; at night 0 even if the cloud is unknown [W/m2].

    Raises
    ------
    ValueError
        Where a cover is a percentage.
    """
    clear = floats(clear_sky_w_m2)
    ghi: FloatArray = np.where(clear <= 0.0, 0.0, clear * cloud_transmittance(cloud))
    return ghi


def uv_index(
    elevation_deg: ArrayLike,
    cloud: ArrayLike,
    site_elevation_m: ArrayLike,
    ozone_du: ArrayLike = 300.0,
) -> FloatArray:
    """UV index estimate; at night 0 even if the cloud is unknown [1].

    Parameters
    ----------
    elevation_deg : elevation of the sun. [degrees]
    cloud : total cloud cover. [fraction]
    site_elevation_m : height above sea level. [m]
    ozone_du : ozone column; the default is a mid-latitude mean (from memory). [Dobson units]

    Raises
    ------
    ValueError
        Where a cover is a percentage.

    Notes
    -----
    Madronich, S. (2007), Photochem. Photobiol. 83, 1537-1538: ``12.5 mu**2.42
    (ozone/300)**-1.23``. Height (6 % per km) and cloud as in the NWS/EPA index ("UV Index: how is
    it computed"), linear between its four sky conditions.
    """
    sine = _sine(elevation_deg)
    clear = 12.5 * sine**2.42 * (floats(ozone_du) / 300.0) ** -1.23
    clear = clear * (1.0 + 6e-5 * floats(site_elevation_m))
    passed = np.interp(fraction(cloud, "cloud cover"), _UV_CLOUD, _UV_PASSES)
    index: FloatArray = np.where(sine <= 0.0, 0.0, clear * passed)
    return index


def uv_dose(uv_index: ArrayLike) -> FloatArray:
    """Erythemal dose of an hour with this mean index [SED].

    An index of 1 is 25 mW/m2, so that an hour gives 90 J/m2 or 0.9 standard erythema doses. The
    erythemal spectrum leans to short waves, as the ageing of asphalt and foam does, but is not
    theirs: a dose limit has to come from exposure of the same product.
    """
    return _SED_PER_INDEX_HOUR * floats(uv_index)
