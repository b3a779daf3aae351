"""The sky as a roof sees it: longwave radiation from clear and cloudy air."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import FloatArray, floats, fraction

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = [
    "SIGMA_W_M2_K4",
    "black_radiation",
    "seen_longwave",
    "sky_emissivity",
    "sky_longwave",
    "standard_pressure",
]

SIGMA_W_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant (CODATA 2018) [W/(m2 K4)]."""

_KELVIN = 273.15
_LOW_CLOUD_BASE_KM = 2.0
_CLOUD_SCALE_KM = 8.2


def black_radiation(temp_c: ArrayLike) -> FloatArray:
    """Radiation of a black body [W/m2].

    Notes
    -----
    Law of Stefan and Boltzmann, ``sigma T**4`` with T in kelvins.
    """
    squared = (floats(temp_c) + _KELVIN) ** 2  # squaring twice is ten times faster than a power
    radiation: FloatArray = SIGMA_W_M2_K4 * squared * squared
    return radiation


def sky_emissivity(
    dew_point_c: ArrayLike, cloud: ArrayLike, site_elevation_m: ArrayLike = 0.0
) -> FloatArray:
    """Effective emissivity of the whole sky, at most 1 [fraction].

    Parameters
    ----------
    dew_point_c : near the ground. [degC]
    cloud : total cloud cover, taken as low cloud. [fraction]
    site_elevation_m : height above sea level. [m]

    Raises
    ------
    ValueError
        Where a cover is a percentage.

    Notes
    -----
    Clear: Berdahl, P. and Martin, M. (1984), Solar Energy 32, 663-664, ``0.711 + 0.56 (Td/100) +
    0.73 (Td/100)**2`` plus 0.00012 for each hPa that the air pressure is above 1000; the pressure
    is that of the height. Their term of the hour, +0.013 at midnight, is left out: it is the
    warmer one for a night roof. Cloud: Martin, M. and Berdahl, P. (1984), Solar Energy 33,
    321-336, opaque low cloud with its base at 2 km, ``eps + (1 - eps) cover exp(-2/8.2)``. The two
    were fitted together and are not to be mixed with other ones. The papers themselves were not
    seen: the coefficients, and 0.784 for exp(-2/8.2), are as used in building-energy programs.

    The parabola turns at -38 degC; drier air is held there, so that drier never means warmer.
    """
    # 0.56 / (2 * 0.73): the lowest point of the parabola.
    td = np.maximum(floats(dew_point_c) / 100.0, -0.56 / 1.46)
    thin_air = 0.00012 * np.minimum(standard_pressure(site_elevation_m) - 1000.0, 0.0)
    clear = np.minimum(0.711 + td * (0.56 + 0.73 * td) + thin_air, 1.0)
    covered = fraction(cloud, "cloud cover") * np.exp(-_LOW_CLOUD_BASE_KM / _CLOUD_SCALE_KM)
    emissivity: FloatArray = clear + (1.0 - clear) * covered
    return emissivity


def standard_pressure(site_elevation_m: ArrayLike) -> FloatArray:
    """Pressure of the standard atmosphere (ISO 2533) at a height, to 11 km [hPa]."""
    pressure: FloatArray = 1013.25 * (1.0 - 2.25577e-5 * floats(site_elevation_m)) ** 5.25588
    return pressure


def sky_longwave(
    air_temp_c: ArrayLike,
    dew_point_c: ArrayLike,
    cloud: ArrayLike,
    site_elevation_m: ArrayLike = 0.0,
) -> FloatArray:
    """Longwave radiation from the whole sky on a level surface [W/m2].

    `sky_emissivity` times black radiation at air temperature. High thin cloud is colder than this
    says, so a night under cirrus comes out too warm.

    Raises
    ------
    ValueError
        Where a cover is a percentage.
    """
    emissivity = sky_emissivity(dew_point_c, cloud, site_elevation_m)
    return emissivity * black_radiation(air_temp_c)


def seen_longwave(
    sky_w_m2: ArrayLike, air_temp_c: ArrayLike, sky_view: ArrayLike = 1.0
) -> FloatArray:
    """Longwave radiation on a surface that sees less than the whole sky [W/m2].

    Parameters
    ----------
    sky_w_m2 : from the whole sky, computed or measured. [W/m2]
    air_temp_c : also taken for parapets, walls and trees. [degC]
    sky_view : share of the hemisphere that is sky, weighted by the cosine: (1 + cos slope) / 2 for
        a free slope, less behind parapets. [fraction]

    Notes
    -----
    What is not sky radiates as a black body at air temperature, the usual assumption of building
    energy standards (ISO 13790, from memory).
    """
    view = floats(sky_view)
    return view * floats(sky_w_m2) + (1.0 - view) * black_radiation(air_temp_c)
