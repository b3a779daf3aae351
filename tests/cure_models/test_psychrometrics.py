"""Moist air against PsychroLib (ASHRAE 2017), MetPy (Ambaum 2020) and published tables.

The large libraries are imported by the tests that ask them: every worker collects this file.
"""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside import Outside, library

from cure_models import psychrometrics as moist
from cure_models.arrays import FloatArray

PSYCHROLIB = library("PsychroLib", "ASHRAE Fundamentals 2017")
METPY = library("MetPy", "Ambaum 2020")
COOLPROP = library("CoolProp", "real moist air, Herrmann, Kretzschmar and Gatley 2009")
STEAM = library("CoolProp", "IAPWS-95")
NWS_CHART = "chart of the NWS, printed to 1 °F"

TEMP, HUMIDITY = np.meshgrid(
    np.arange(-30.0, 50.1, 1.0), np.arange(5.0, 100.1, 5.0) / 100.0, indexing="ij"
)


@pytest.fixture(autouse=True)
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


def fahrenheit(temp_c: FloatArray) -> FloatArray:
    return 1.8 * temp_c + 32.0


def celsius(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


def from_psychrolib(temp: FloatArray, humidity: FloatArray) -> FloatArray:
    pairs = zip(temp, humidity, strict=True)
    return np.array([psychrolib.GetTDewPointFromRelHum(t, h) for t, h in pairs])


# PsychroLib takes humidity over ice below 0.01 degC and gives the frost point there; forecasts
# give it over water. So it is comparable above freezing only, and as a frost point below a dew
# point of 0 degC.
def test_dew_point_against_psychrolib_above_freezing(outside: Outside) -> None:
    dew = moist.dew_point(TEMP, HUMIDITY)
    use = (TEMP > 0.01) & (dew > 0.05)
    theirs = from_psychrolib(TEMP[use], HUMIDITY[use])
    outside.agree(
        "dew point above freezing", dew[use], theirs, within=0.06, unit="K", source=PSYCHROLIB,
        why="two published fits of one curve",
    )  # fmt: skip


def test_frost_point_against_psychrolib(outside: Outside) -> None:
    dew = moist.dew_point(TEMP, HUMIDITY)
    use = (TEMP > 0.01) & (dew < -0.05)
    theirs = from_psychrolib(TEMP[use], HUMIDITY[use])
    frost = moist.frost_point(dew[use])
    outside.agree("frost point", frost, theirs, within=0.06, unit="K", source=PSYCHROLIB)


def test_dew_point_against_metpy(outside: Outside) -> None:
    import metpy.calc as mpcalc
    from metpy.units import units

    theirs = mpcalc.dewpoint_from_relative_humidity(
        TEMP * units.degC, HUMIDITY * units.dimensionless
    ).m_as("degC")
    dew = moist.dew_point(TEMP, HUMIDITY)
    # AE96 over water is stated for -40 to 50 degC. MetPy's own curve (constant heat capacities)
    # falls below the ASHRAE one as it gets hot, 0.27 % at 30 and 0.56 % at 50 degC, which is
    # 0.2 K: the hot end is checked against PsychroLib.
    use = (dew >= -40.0) & (TEMP <= 30.0)
    outside.agree(
        "dew point, air to 30 °C", dew[use], theirs[use], within=0.1, unit="K", source=METPY
    )
    cold = use & (TEMP < 0.0)
    outside.agree(
        "the same, air below freezing", dew[cold], theirs[cold], within=0.1, unit="K", source=METPY
    )


def test_vapour_pressure_against_psychrolib_and_metpy(outside: Outside) -> None:
    import metpy.calc as mpcalc
    from metpy.units import units

    warm, cold = np.arange(0.5, 50.1, 0.5), np.arange(-40.0, -0.5, 0.5)
    water = np.array([psychrolib.GetSatVapPres(t) for t in warm]) / 100.0
    ice = np.array([psychrolib.GetSatVapPres(t) for t in cold]) / 100.0
    both = np.concatenate([cold, warm[warm <= 30.0]])
    metpy = mpcalc.saturation_vapor_pressure(both * units.degC, phase="liquid").m_as("hPa")
    # MetPy up to 30 degC only, see the dew point test.
    why = "AE96 claim 0.4 % (from memory), and the references differ by 0.3 %"
    ours, ours_ice = moist.saturation_vapour_pressure, moist.saturation_vapour_pressure_ice
    outside.agree(
        "saturation over water, 0.5 to 50 °C", ours(warm), water,
        within=0.5, unit="%", source=PSYCHROLIB, why=why,
    )  # fmt: skip
    outside.agree(
        "saturation over liquid, -40 to 30 °C", ours(both), metpy,
        within=0.5, unit="%", source=METPY, why=why,
    )  # fmt: skip
    outside.agree(
        "saturation over ice, -40 to -1 °C", ours_ice(cold), ice,
        within=0.5, unit="%", source=PSYCHROLIB, why=why,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("temp", "humidity", "expected", "tolerance", "source"),
    [
        # The two agree to 0.004 K; 0.05 K is half a table digit.
        *((*case, "PsychroLib 2.5 and CoolProp 8.0, single values") for case in (
            (20.0, 0.50, 9.27, 0.05),
            (23.0, 0.50, 12.03, 0.05),
            (25.0, 0.60, 16.70, 0.05),
            (30.0, 0.80, 26.17, 0.05),
            (5.0, 0.85, 2.69, 0.05),
            (35.0, 0.30, 14.85, 0.06),
            (16.0, 0.71, 10.75, 0.05),
        )),
        *((*case, "MetPy, over supercooled water, single values") for case in (
            (0.0, 0.80, -3.046, 0.05),
            (-10.0, 0.90, -11.346, 0.05),
        )),
        # Printed to 0.1 K, so 0.05 K more.
        *((*case, "ISO 8502-4, annex A, from memory") for case in (
            (20.0, 0.50, 9.3, 0.1),
            (25.0, 0.60, 16.7, 0.1),
        )),
    ],
)  # fmt: skip
def test_dew_point_values(
    temp: float, humidity: float, expected: float, tolerance: float, source: str, outside: Outside
) -> None:
    found = moist.dew_point(temp, humidity)
    outside.agree("dew point", found, expected, within=tolerance, unit="K", source=source)


def test_frost_point_values(outside: Outside) -> None:
    dew = moist.dew_point([0.0, -10.0], [0.8, 0.9])
    outside.agree(
        "frost point", moist.frost_point(dew), [-2.684, -10.07], within=0.05, unit="K",
        source="PsychroLib at 0 °C; AE96 over ice by hand for -10 °C and 90 % over water",
    )  # fmt: skip


def test_vapour_pressure_deficit_is_that_of_the_surface() -> None:
    vapour = moist.vapour_pressure(moist.dew_point([20.0, 35.0, 10.0], [0.5, 0.3, 0.9]))
    air = moist.vapour_pressure_deficit([20.0, 35.0, 10.0], vapour)
    # es (1 - RH) of AE96 by hand, kPa; 0.5 % is the accuracy of AE96.
    np.testing.assert_allclose(air, [1.167, 3.932, 0.1226], rtol=0.005)
    assert moist.vapour_pressure_deficit(30.0, vapour[0]) > air[0]
    assert moist.vapour_pressure_deficit(5.0, vapour[0]) < 0.0


@given(st.floats(-40, 50), st.floats(0, 1))
def test_dew_point_never_above_temperature(temp: float, humidity: float) -> None:
    assert moist.dew_point(temp, humidity) <= temp


@given(st.floats(-40, 50), st.floats(0.01, 1))
def test_humidity_round_trip(temp: float, humidity: float) -> None:
    back = moist.relative_humidity(temp, moist.dew_point(temp, humidity))
    assert back == pytest.approx(humidity, rel=1e-9)


@given(st.floats(-40, 40), st.floats(0.02, 0.98), st.floats(0.001, 5))
def test_dew_point_rises_with_both(temp: float, humidity: float, more: float) -> None:
    assert moist.dew_point(temp + more, humidity) > moist.dew_point(temp, humidity)
    damper = humidity + more * (1 - humidity) / 5
    assert moist.dew_point(temp, damper) >= moist.dew_point(temp, humidity)


@given(st.floats(-40, 40), st.floats(-40, 40))
def test_one_meaning_of_condensing(surface: float, dew: float) -> None:
    spread = float(surface - moist.condensation_point(surface, dew))
    excess = float(moist.vapour_pressure_deficit(surface, moist.vapour_pressure(dew)))
    # 0.01 K and 0.0005 kPa around 0 degC, where the water and the ice curve cross.
    if abs(spread) > 0.01:
        assert (spread < 0) == (excess < 0)


def test_frost_forms_before_dew_would() -> None:
    points = moist.condensation_point([2.0, 0.0, -1.0], [-3.0, -3.0, -3.0])
    assert points[0] == points[1] == -3.0
    assert points[2] == pytest.approx(-2.65, abs=0.01)
    assert moist.frost_point(4.0) == 4.0


@pytest.mark.parametrize(
    ("temp_f", "humidity", "expected", "tolerance", "source"),
    [
        (96, 0.65, 121.0, 0.6, NWS_CHART),  # worked example beside the chart
        (80, 0.40, 80, 0.6, NWS_CHART),
        (90, 0.50, 95, 0.6, NWS_CHART),
        (90, 0.70, 106, 0.6, NWS_CHART),
        (100, 0.40, 109, 0.6, NWS_CHART),
        (110, 0.40, 136, 0.6, NWS_CHART),
        (82, 0.95, 93.97, 0.02, "MetPy 1.7, damp and dry adjustment"),
        (95, 0.10, 89.45, 0.02, "MetPy 1.7, damp and dry adjustment"),
        (75, 0.50, 74.775, 0.001, "simple form averaged with the temperature, by hand"),
    ],
)
def test_heat_index_values(
    temp_f: float, humidity: float, expected: float, tolerance: float, source: str, outside: Outside
) -> None:
    index = fahrenheit(moist.heat_index(celsius(temp_f), humidity))
    outside.agree("heat index", index, expected, within=tolerance, unit="°F", source=source)


def test_heat_index_against_metpy(outside: Outside) -> None:
    import metpy.calc as mpcalc
    from metpy.units import units

    use = TEMP >= 28.0  # below, MetPy does not average the simple form with the temperature
    theirs = mpcalc.heat_index(
        TEMP[use] * units.degC, HUMIDITY[use] * units.dimensionless, mask_undefined=False
    ).m_as("degC")
    ours = moist.heat_index(TEMP[use], HUMIDITY[use])
    hot = fahrenheit(ours) >= 81.0
    theirs = np.asarray(theirs)[hot]
    outside.agree("heat index", ours[hot], theirs, within=0.01, unit="K", source=METPY)


def test_vapour_flux_is_nothing_at_equality_and_less_for_dew() -> None:
    vapour = moist.vapour_pressure(10.0)
    up, down = moist.vapour_flux([12.0, 8.0], vapour, 10.0)
    assert moist.vapour_flux(10.0, vapour, 10.0) == 0.0
    assert up > 0.0 > down
    assert -down / up == pytest.approx(0.4, rel=0.15)  # the curve itself bends by 13 %


def test_unknown_stays_unknown() -> None:
    nan = np.nan
    assert np.isnan(moist.dew_point([nan, 20.0], [0.5, nan])).all()
    assert np.isnan(moist.dew_point(20.0, -9.99))  # a missing-value mark is not bone dry
    assert np.isnan(moist.condensation_point([nan, 5.0], [3.0, nan])).all()
    assert np.isnan(moist.frost_point(nan))
    assert np.isnan(moist.heat_index([nan, 30.0], [0.5, nan])).all()
    assert np.isnan(moist.vapour_flux([nan, 5, 5], [8, nan, 8], [9, 9, nan])).all()
    assert np.isnan(moist.relative_humidity([nan, 5], [4, nan])).all()


def test_percent_is_refused() -> None:
    with pytest.raises(ValueError, match="Divide a percentage by 100"):
        moist.dew_point(20.0, [0.5, 65.0])


def test_moist_air_of_coolprop(outside: Outside) -> None:
    from CoolProp.HumidAirProp import HAPropsSI

    # Real moist air at sea-level pressure: a third opinion.
    dews = []
    for air in range(1, 51, 3):
        for humidity in (0.15, 0.3, 0.5, 0.7, 0.85, 0.99):
            state = ("T", air + 273.15, "P", 101325.0, "R", humidity)
            wanted = HAPropsSI("D", *state) - 273.15
            if wanted <= 0.5:
                continue
            dews.append((float(moist.dew_point(air, humidity)), wanted))
    outside.agree(
        "dew point above freezing", *np.transpose(dews), within=0.06, unit="K", source=COOLPROP
    )


def test_latent_heat_of_coolprop(outside: Outside) -> None:
    from CoolProp.CoolProp import PropsSI

    for temp in (1.0, 10.0, 20.0, 35.0, 50.0):
        steam, water = (PropsSI("H", "T", temp + 273.15, "Q", q, "Water") for q in (1, 0))
        outside.agree(
            "latent heat of evaporation, 1 to 50 °C", moist.latent_heat(temp), steam - water,
            within=0.1, unit="%", source=STEAM, why="what a straight line costs",
        )  # fmt: skip


def test_condensation_is_two_fifths_of_the_neutral_transfer() -> None:
    # Water 2017, 9, 607: 0.33-0.5 of the neutral one.
    vapour = float(moist.vapour_pressure(10.0))
    excess = float(moist.saturation_vapour_pressure(8.0)) - vapour
    share = moist.vapour_flux(8.0, vapour, 10.0) / (moist.vapour_transfer(10.0) * excess)
    assert share == pytest.approx(0.4)
