"""Cure rates: hours of cure gained in an hour, one at the profile's reference condition.

Each law scales a data sheet's time; none predicts a time from first principles, because at coating
thickness the data sheet knows the product and the law knows only how weather bends it. A film
that gives something off cures in two stages with a rate each: first its surface lets it go, then
the closing film holds it back. A rate is a whole row's: weather holds for the hour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from cure_models.coating import thickness_share
from cure_models.drying import reference_drying
from cure_models.psychrometrics import (
    relative_humidity,
    saturation_vapour_pressure,
    vapour_pressure,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from cure_models.arrays import FloatArray
    from cure_models.coating import Coating, RateParameters, Reference

__all__ = ["CureRates", "Film", "arrhenius", "cure_rates"]

GAS_CONSTANT_KJ = 0.0083144626
"""Molar gas constant (CODATA 2018). [kJ/mol K]"""

_ROUNDING = 1e-9
"""A humidity that has been to a dew point and back is still the same. [fraction]"""

_SOLVENT_WIND_RANGE = (0.5, 1.5)
"""Least and most that wind does to solvent release (own choice, no source). [1]"""


class Film(NamedTuple):
    """A film and the air over it, arrays of one shape (..., hours).

    ``temp_c`` is that of the film when dry, ``drying_mm_h`` the water that it loses when fresh and
    freely wet, ``wetted`` 1 where rain, a trace or dew wets it and 0 where not.
    """

    temp_c: FloatArray
    drying_mm_h: FloatArray
    dew_point_c: FloatArray
    air_temp_c: FloatArray
    roof_wind_m_s: FloatArray
    wetted: FloatArray


class CureRates(NamedTuple):
    """Hours of cure gained in each hour, in the first stage and after it. [h/h]"""

    first: FloatArray
    late: FloatArray


def arrhenius(
    temp_c: FloatArray | float,
    reference_c: float,
    activation_energy_kj_mol: float,
    warm_energy_kj_mol: float | None = None,
) -> FloatArray:
    """Return the rate of a reaction relative to that at ``reference_c``. [1]

    ``warm_energy_kj_mol`` is used above the reference, where a low one is the slow one: the ends of
    a range of energies.

    Source: Arrhenius law, as in the equivalent age of ASTM C1074.
    """
    kelvin = np.asarray(temp_c, dtype=np.float64) + 273.15
    colder = 1 / kelvin - 1 / (reference_c + 273.15)
    warm = activation_energy_kj_mol if warm_energy_kj_mol is None else warm_energy_kj_mol
    energy = np.where(colder > 0, activation_energy_kj_mol, warm)
    return np.asarray(np.exp(-energy / GAS_CONSTANT_KJ * colder))


def cure_rates(coating: Coating, film: Film) -> CureRates:
    """Return hours of cure gained in each hour at the film's own thickness.

    Parameters
    ----------
    coating
        The law, its parameters, the reference condition and the film.
    film
        Arrays of shape (..., hours).

    Returns
    -------
    CureRates
        Rates >= 0, same shape; NaN where an input that the law uses is NaN. The first stage lasts
        ``coating.first_stage_h`` hours of cure; laws of one stage give the same rate twice.

    Notes
    -----
    *evaporation*: first the water that the fresh film loses, over `reference_drying`, with the
    heat that this costs it; then the slower of two, water through the closed skin by the
    difference of vapour pressure without wind (Kiil 2006: a falling rate that hardly knows the
    wind) and coalescence by `arrhenius`. *coagulation*: first `arrhenius`, then as evaporation.
    Both are zero below the film-forming or least temperature, near saturation, and while wetted.
    *moisture*: the air's vapour pressure times `arrhenius`. *reaction*: `arrhenius`. *foam*:
    `arrhenius`, never above one, since warm weather adds little to a foam's own heat. *solvent*:
    first `arrhenius` times the square root of the wind, bounded; then `arrhenius` alone, held by
    diffusion (Hansen 1970, Ind. Eng. Chem. Prod. Res. Dev. 9:282, from memory).

    Each is capped, since drying soon leaves the surface-controlled stage, and takes the
    `cure_models.coating.thickness_share` of its film.
    """
    law, ref = coating.rate, coating.reference
    thickness = thickness_share(ref.dry_film_um, coating.dry_film_um, law.thickness_exponent)
    first, late, used = _LAWS[law.law](coating, film)
    unknown = np.isnan(used)

    def bounded(rate: FloatArray) -> FloatArray:
        within = np.clip(rate, 0.0, law.cap) * thickness + 0.0  # no -0, whose inverse is -inf
        return np.where(unknown, np.nan, within)

    first_rate = bounded(first)
    return CureRates(first_rate, first_rate if late is first else bounded(late))


_Stages = tuple["FloatArray", "FloatArray", "FloatArray"]
"""First stage, late stage, and the sum of what both use: NaN where anything of it is unknown."""


def _warmth(law: RateParameters, ref: Reference, temp_c: FloatArray) -> FloatArray:
    rate = arrhenius(temp_c, ref.temp_c, law.activation_kj_mol, law.warm_activation_kj_mol)
    return np.where(temp_c >= law.temp_min_c, rate, 0.0)


def _water_leaves(coating: Coating, film: Film) -> FloatArray:
    """Return 1 where water can leave the film at all, else 0."""
    law = coating.rate
    return np.where(
        (film.temp_c >= law.temp_min_c)
        & (relative_humidity(film.air_temp_c, film.dew_point_c) < law.humidity_stop - _ROUNDING)
        & (film.wetted < 0.5),
        1.0,
        0.0,
    )


def _water_release(coating: Coating, film: Film) -> FloatArray:
    """Return the late stage of a film that still holds water."""
    law, ref = coating.rate, coating.reference
    pull = saturation_vapour_pressure(film.temp_c) - vapour_pressure(film.dew_point_c)
    reference_pull = (1 - ref.rel_humidity) * saturation_vapour_pressure(ref.temp_c)
    slower = np.minimum(pull / reference_pull, _warmth(law, ref, film.temp_c))
    return slower * _water_leaves(coating, film)


def _evaporation(coating: Coating, film: Film) -> _Stages:
    ref = coating.reference
    at_reference = reference_drying(
        ref.temp_c, ref.rel_humidity, ref.roof_wind_m_s, coating.emittance
    )
    drying = film.drying_mm_h / at_reference
    used = film.temp_c + film.drying_mm_h + film.dew_point_c + film.air_temp_c + film.wetted
    return drying * _water_leaves(coating, film), _water_release(coating, film), used


def _coagulation(coating: Coating, film: Film) -> _Stages:
    used = film.temp_c + film.dew_point_c + film.air_temp_c + film.wetted
    sets = _warmth(coating.rate, coating.reference, film.temp_c)
    return sets, _water_release(coating, film), used


def _moisture(coating: Coating, film: Film) -> _Stages:
    law, ref = coating.rate, coating.reference
    reference_hpa = ref.rel_humidity * saturation_vapour_pressure(ref.temp_c)
    supply = vapour_pressure(film.dew_point_c) / reference_hpa
    rate = supply * _warmth(law, ref, film.temp_c)
    return rate, rate, film.temp_c + film.dew_point_c


def _reaction(coating: Coating, film: Film) -> _Stages:
    rate = _warmth(coating.rate, coating.reference, film.temp_c)
    return rate, rate, film.temp_c


def _solvent(coating: Coating, film: Film) -> _Stages:
    wind = np.sqrt(film.roof_wind_m_s / coating.reference.roof_wind_m_s)
    late = _warmth(coating.rate, coating.reference, film.temp_c)
    first = late * np.clip(wind, *_SOLVENT_WIND_RANGE)
    return first, late, film.temp_c + film.roof_wind_m_s


_LAWS: dict[str, Callable[[Coating, Film], _Stages]] = {
    "evaporation": _evaporation,
    "coagulation": _coagulation,
    "moisture": _moisture,
    "reaction": _reaction,
    "foam": _reaction,
    "solvent": _solvent,
}
