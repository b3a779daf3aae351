"""Drying of a fresh film: against evaporation formulas of concrete, and how long it is free."""

import numpy as np
import pytest

from cure_models.convection import forced_convection, natural_convection
from cure_models.drying import CRITICAL_SOLIDS, first_stage_hours, reference_drying
from cure_models.psychrometrics import saturation_vapour_pressure
from cure_models.wetness import evaporation

# Surface, air, humidity, wind in km/h; kg/m2h by Uno (1998) and by Menzel, computed apart.
CASES = (
    (23, 23, 0.50, 5, 0.2422, 0.2450),
    (32, 32, 0.50, 16, 0.8839, 0.9104),
    (30, 27, 0.40, 19, 1.2108, 1.2388),
    (35, 38, 0.30, 20, 1.6091, 1.6678),
)


def uno(surface, air, humidity, wind_km_h):
    """Uno, P. J. (1998), ACI Materials Journal 95-M34, eq. 5a. [kg/m2h]"""
    pull = (surface + 18) ** 2.5 - humidity * (air + 18) ** 2.5
    return 5 * pull * (wind_km_h + 4) * 1e-6


def menzel(surface, air, humidity, wind_km_h):
    """Menzel (1954), the base of the nomograph of ACI 305R; coefficients from memory. [kg/m2h]"""
    pull = saturation_vapour_pressure(surface) - humidity * saturation_vapour_pressure(air)
    return 0.315 * 0.1 * pull * (0.253 + 0.060 * wind_km_h)


def ours(surface, air, humidity, wind_km_h):
    vapour = humidity * saturation_vapour_pressure(air)
    convection = forced_convection(wind_km_h / 3.6) + natural_convection(surface, air)
    return evaporation(surface, vapour, convection)


@pytest.mark.parametrize(("surface", "air", "humidity", "wind", "by_uno", "by_menzel"), CASES)
def test_the_two_formulas_of_concrete(surface, air, humidity, wind, by_uno, by_menzel, outside):
    outside.agree(
        "evaporation formula of Uno (1998), as the tests have it",
        uno(surface, air, humidity, wind), by_uno,
        within=1e-3, unit="kg/m2h", source="worked cases, computed apart",
    )  # fmt: skip
    outside.agree(
        "evaporation formula of Menzel (ACI 305R), as the tests have it",
        menzel(surface, air, humidity, wind), by_menzel,
        within=0.4, unit="%", source="worked cases, computed apart",
    )  # fmt: skip
    assert by_uno == pytest.approx(by_menzel, rel=0.04)


def test_the_table_of_the_nomograph(outside):
    # 70 degF air and surface, 70 %, wind 0 to 25 mph.
    printed = np.array([0.015, 0.038, 0.062, 0.085, 0.110, 0.135])
    wind = np.array([0, 5, 10, 15, 20, 25]) * 1.609344
    found = menzel(21.11, 21.11, 0.7, wind) / 4.8824
    outside.agree(
        "the same of Menzel, wind 0 to 25 mph", found, printed, within=0.01, unit="lb/ft2h",
        source="a printed table, Lerch (1957) in ACI 305, from memory",
    )  # fmt: skip


@pytest.mark.parametrize(("surface", "air", "humidity", "wind", "by_uno", "by_menzel"), CASES)
def test_the_roof_s_own_law_beside_them(surface, air, humidity, wind, by_uno, by_menzel, outside):
    # The Lewis relation with this roof's convection: 0.75 of Menzel at 5 km/h, 1.07 to 1.23 at 16
    # to 20 km/h. One wind law serves heat and vapour; the cure rate is a ratio, where most of the
    # level cancels.
    ratio = ours(surface, air, humidity, wind) / by_menzel
    low, high = (0.70, 0.80) if wind == 5 else (1.05, 1.25)
    outside.between(
        f"evaporation of a film here, {'5' if wind == 5 else '16 to 20'} km/h", ratio, low, high,
        unit="times", source="Menzel, worked cases",
    )  # fmt: skip


def test_over_the_winds_of_a_roof(outside):
    # Level with Menzel from 3 to 4 m/s on; less than half of it at 0.5 m/s, for his slab was warm
    # and small and still lost water in a calm.
    winds = np.array([0.5, 1.0, 2.0, 4.0, 6.0, 8.0]) * 3.6
    ratio = ours(25.0, 25.0, 0.5, winds) / menzel(25.0, 25.0, 0.5, winds)
    for wind, found, expected in zip(
        winds / 3.6, ratio, (0.41, 0.62, 0.86, 1.05, 1.13, 1.15), strict=True
    ):
        outside.between(
            f"evaporation of a film here, {wind:g} m/s", found, expected - 0.03, expected + 0.03,
            unit="times", source="Menzel (ACI 305R), coefficients from memory",
        )  # fmt: skip


def test_nothing_dries_in_saturated_air_and_no_less_than_nothing():
    assert ours(20.0, 20.0, 1.0, 5.0) == pytest.approx(0, abs=1e-12)
    assert reference_drying(20.0, 1.0, 1.5, 0.9) == pytest.approx(0, abs=1e-6)


def test_a_film_in_a_laboratory(outside):
    # 23 degC, 50 %, hc 11.4: 0.151 mm/h; here the wind alone (1.5 m/s, 5.7) gives 0.09, and 3 m/s
    # the 11.4.
    outside.agree(
        "drying of a film in a laboratory", reference_drying(23.0, 0.5, 3.0, 0.9), 0.151,
        within=5.0, unit="%", source="solved independently with vapor densities",
    )  # fmt: skip
    assert reference_drying(23.0, 0.5, 1.5, 0.9) == pytest.approx(0.087, rel=0.05)


def test_the_share_of_water_that_leaves_freely(outside):
    # Kiil (2006): free until 74 vol%: of the water of a film with solids phi the share
    # 1 - (0.26/0.74) phi/(1 - phi) leaves before; 0.713, 0.571 and 0.473, by hand.
    for solids, share in ((0.45, 0.713), (0.55, 0.571), (0.60, 0.473)):
        free_mm = first_stage_hours(1000.0, solids, 1.0)
        outside.agree(
            "share of water that leaves freely", free_mm / (1 / solids - 1), share,
            within=1e-3, unit="", source="Kiil (2006), by hand", why="rounding",
        )  # fmt: skip
    assert first_stage_hours(1000.0, CRITICAL_SOLIDS, 0.1) == pytest.approx(0, abs=1e-12)
    assert first_stage_hours(1000.0, 0.9, 0.1) == 0.0


def test_twice_the_film_is_free_twice_as_long():
    one, two = (first_stage_hours(f, 0.5, 0.1) for f in (300.0, 600.0))
    assert two == pytest.approx(2 * one)
