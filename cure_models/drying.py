"""Drying of a fresh water-based film: how fast in a laboratory, and for how long it stays free."""

from __future__ import annotations

from cure_models.psychrometrics import dew_point, vapour_pressure
from cure_models.sky import black_radiation
from cure_models.surface import HeatBalance
from cure_models.wetness import evaporation

__all__ = ["CRITICAL_SOLIDS", "first_stage_hours", "reference_drying"]

CRITICAL_SOLIDS = 0.74
"""Share of solids at which the surface of a latex film closes: Kiil, S. (2006), Progress in Organic
Coatings 57, 236-250 (74 vol%, the closest packing of spheres). [fraction]"""


def reference_drying(
    temp_c: float, rel_humidity: float, roof_wind_m_s: float, emittance: float
) -> float:
    """Return what a fresh film loses in a laboratory: no sun, walls as warm as the air. [mm/h]

    The film is then some kelvins below the air, about its wet bulb, and only the wind dries it. On
    the roof, too, what buoyancy adds on a hot calm day is left out.

    Parameters
    ----------
    temp_c, rel_humidity : of the laboratory's air. [degC], [fraction]
    roof_wind_m_s : over the film. [m/s]
    emittance : of the film. [fraction]

    Notes
    -----
    The wet balance of `cure_models.surface` and Dalton's law of `cure_models.wetness`, by which
    the film on the roof dries too.
    """
    vapour = vapour_pressure(dew_point(temp_c, rel_humidity))
    laboratory = HeatBalance(0.0, black_radiation(temp_c), temp_c, roof_wind_m_s, emittance)
    film = laboratory.wet(vapour)
    return float(evaporation(film.temp_c, vapour, film.convection_w_m2_k))


def first_stage_hours(dry_film_um: float, volume_solids: float, drying_mm_h: float) -> float:
    """Return how long a fresh latex film dries freely. [h]

    Parameters
    ----------
    dry_film_um : of the coat. [um]
    volume_solids : of the material as it is laid. [fraction]
    drying_mm_h : water that it loses, as from `reference_drying`. [mm/h]

    Notes
    -----
    The water that must leave before its solids reach `CRITICAL_SOLIDS`,
    ``dry film (1/solids - 1/0.74)``, over the drying; 0 for a film that begins denser.
    """
    water_mm = dry_film_um / 1000.0 * (1.0 / volume_solids - 1.0 / CRITICAL_SOLIDS)
    return max(water_mm, 0.0) / drying_mm_h
