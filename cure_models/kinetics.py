"""Cure rates: hours of cure gained in an hour, one at the profile's reference condition.

Four laws, one a mechanism. Each scales a data sheet's time; none predicts a time from first
principles, because at coating thickness the data sheet knows the product and the law knows only
how weather bends it. A rate is a whole row's: weather holds for the hour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.psychrometrics import (
    relative_humidity,
    saturation_vapour_pressure,
    vapour_pressure,
)

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from cure_models.coating import Coating

__all__ = ["arrhenius", "cure_rate", "drying_wind"]

GAS_CONSTANT_KJ = 0.0083144626
"""Molar gas constant (CODATA 2018). [kJ/mol K]"""

_SOLVENT_WIND_RANGE = (0.5, 1.5)
"""Least and most that wind does to solvent release (own choice, no source). [1]"""


def drying_wind(roof_wind_m_s: FloatArray | float) -> FloatArray:
    """Return the wind factor of evaporation, Menzel's 0.253 + 0.060 V with V in km/h.

    Source: Menzel 1954, the base of the nomograph of ACI 305R (coefficients from memory).
    """
    return np.asarray(0.253 + 0.060 * 3.6 * np.asarray(roof_wind_m_s, dtype=np.float64))


def arrhenius(
    temp_c: FloatArray | float, reference_c: float, activation_energy_kj_mol: float
) -> FloatArray:
    """Return the rate of a reaction relative to that at ``reference_c``. [1]

    Source: Arrhenius law, as in the equivalent age of ASTM C1074.
    """
    kelvin = np.asarray(temp_c, dtype=np.float64) + 273.15
    slope = -activation_energy_kj_mol / GAS_CONSTANT_KJ
    return np.asarray(np.exp(slope * (1 / kelvin - 1 / (reference_c + 273.15))))


def cure_rate(
    coating: Coating,
    *,
    film_temp_c: FloatArray,
    dew_point_c: FloatArray,
    air_temp_c: FloatArray,
    roof_wind_m_s: FloatArray,
    wetted: FloatArray,
) -> FloatArray:
    """Return hours of cure gained in each hour at the film's own thickness.

    Parameters
    ----------
    coating
        The law, its parameters, the reference condition and the film.
    film_temp_c
        Temperature of the coated surface, shape (..., hours). [degC]
    dew_point_c, air_temp_c, roof_wind_m_s
        Air over the film, same shape. [degC, degC, m/s]
    wetted
        1 where rain (also a trace) falls or dew forms in the hour, 0 where not. [1]

    Returns
    -------
    FloatArray
        Rate >= 0, same shape; NaN where an input that the law uses is NaN. [h/h]

    Notes
    -----
    *evaporation*: the vapour-pressure difference between film and air times `drying_wind`, over
    the same at the reference (Dalton's law); zero below the film-forming temperature, near
    saturation, and while wetted. *moisture*: the air's vapour pressure times `arrhenius`.
    *reaction*: `arrhenius`. *solvent*: `arrhenius` times the square root of the wind, bounded.
    Each is capped, since drying soon leaves the surface-controlled stage (Kiil 2006, Progress in
    Organic Coatings 57:236), and divided by (film / reference film) to the law's power: 1 for
    water that must leave, 2 for a front that diffuses (Comyn 1998, International Journal of
    Adhesion and Adhesives 18:247), 0 for a reaction.
    """
    law, ref = coating.rate, coating.reference
    if law.law == "evaporation":
        rate = _evaporation(coating, film_temp_c, dew_point_c, air_temp_c, roof_wind_m_s, wetted)
    else:
        rate = arrhenius(film_temp_c, ref.temp_c, law.activation_energy_kj_mol)
        if law.law == "moisture":
            reference_hpa = ref.rel_humidity * saturation_vapour_pressure(np.asarray(ref.temp_c))
            rate = rate * vapour_pressure(dew_point_c) / reference_hpa
        elif law.law == "solvent":
            wind = np.sqrt(roof_wind_m_s / ref.roof_wind_m_s)
            rate = rate * np.clip(wind, *_SOLVENT_WIND_RANGE)
        rate = np.where(film_temp_c >= law.temp_min_c, rate, 0.0)
    # A thinner film than the reference earns no credit: diffusion is not what holds it back.
    thickness = min(1.0, ref.dry_film_um / coating.dry_film_um) ** law.thickness_exponent
    rate = np.clip(rate, 0.0, law.cap) * thickness
    used = {
        "evaporation": film_temp_c + dew_point_c + air_temp_c + roof_wind_m_s + wetted,
        "moisture": film_temp_c + dew_point_c,
        "reaction": film_temp_c,
        "solvent": film_temp_c + roof_wind_m_s,
    }[law.law]
    return np.where(np.isnan(used), np.nan, rate)


def _evaporation(
    coating: Coating,
    film_temp_c: FloatArray,
    dew_point_c: FloatArray,
    air_temp_c: FloatArray,
    roof_wind_m_s: FloatArray,
    wetted: FloatArray,
) -> FloatArray:
    law, ref = coating.rate, coating.reference
    pull = saturation_vapour_pressure(film_temp_c) - vapour_pressure(dew_point_c)
    reference_pull = (1 - ref.rel_humidity) * saturation_vapour_pressure(np.asarray(ref.temp_c))
    rate = pull * drying_wind(roof_wind_m_s) / (reference_pull * drying_wind(ref.roof_wind_m_s))
    dries = (
        (film_temp_c >= law.temp_min_c)
        & (relative_humidity(air_temp_c, dew_point_c) < law.humidity_stop)
        & (wetted < 0.5)
    )
    return np.where(dries, rate, 0.0)
