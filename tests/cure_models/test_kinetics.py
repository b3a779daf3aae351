"""Cure rates: one at the reference, hand-derived values, and the ways in which weather bends them.

Temperatures below are at 23 degC and 50 % unless said; check values are calculated from the laws.
"""

from dataclasses import replace

import numpy as np
import pytest

from cure_models import coating_names, load_profile
from cure_models.coating import Reference, resolve
from cure_models.kinetics import arrhenius, cure_rate, drying_wind
from cure_models.psychrometrics import dew_point

LAB = {"temp_c": 23.0, "rel_humidity": 0.5, "roof_wind_m_s": 1.5}
LAWS = {
    "evaporation": "acrylic",
    "moisture": "silicone_high_solids",
    "reaction": "urethane_aromatic_two_part",
    "solvent": "butyl",
}


def rate(coating, film_c, air_c, humidity, wind, wetted=0.0):
    film_c, air_c, humidity, wind, wetted = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (film_c, air_c, humidity, wind, wetted))
    )
    return cure_rate(
        coating,
        film_temp_c=film_c,
        dew_point_c=dew_point(air_c, humidity),
        air_temp_c=air_c,
        roof_wind_m_s=wind,
        wetted=wetted,
    )


def lab_coating(law, **parameters):
    """A coating of a law whose reference is 23 degC, 50 % and 1.5 m/s."""
    coating = resolve(load_profile(LAWS[law]))
    return replace(
        coating,
        reference=Reference(**LAB, dry_film_um=coating.dry_film_um),
        rate=replace(coating.rate, **parameters),
    )


WATER = lab_coating("evaporation", cap=2.0, temp_min_c=5.0, humidity_stop=0.9)
MOISTURE = lab_coating("moisture", cap=2.0, temp_min_c=2.0, activation_energy_kj_mol=20.0)
TWO_PART = lab_coating("reaction", cap=4.0, temp_min_c=5.0, activation_energy_kj_mol=50.0)


@pytest.mark.parametrize("name", coating_names())
@pytest.mark.parametrize("limits", ["generic", "careful"])
def test_one_at_the_reference_condition(name, limits):
    coating = resolve(load_profile(name), limits=limits)
    ref = coating.reference
    assert ref.temp_c > coating.rate.temp_min_c
    found = rate(coating, ref.temp_c, ref.temp_c, ref.rel_humidity, ref.roof_wind_m_s)
    assert found == pytest.approx(1.0, abs=1e-12)


# Film, air, humidity, wind; rates of the three laws, calculated apart from this code with another
# Magnus form. Those that are stopped or capped are exact, the others agree within 0.3 % or 0.001.
TABLE = [
    (23, 23, 0.50, 1.5, 1.000, 1.000, 1.000),
    (25, 25, 0.50, 1.5, 1.128, 1.191, 1.146),
    (15, 15, 0.60, 2.0, 0.577, 0.581, 0.569),
    (10, 10, 0.70, 2.0, 0.311, 0.422, 0.394),
    (10, 10, 0.905, 1.0, 0.0, None, 0.394),
    (4, 8, 0.60, 2.0, 0.0, 0.263, 0.0),
    (35, 28, 0.45, 2.0, 2.0, 1.662, 2.205),
    (50, 32, 0.35, 3.0, 2.0, 2.0, 4.0),
    (30, 30, 0.80, 1.0, 0.491, 2.0, 1.598),
    (40, 35, 0.15, 4.0, 2.0, 0.934, 3.011),
    (23, 23, 0.20, 1.5, 1.600, 0.400, 1.000),
    (18, 20, 0.85, 1.0, 0.044, 1.231, 0.706),
]


@pytest.mark.parametrize("row", TABLE)
def test_the_table_of_rates(row):
    *weather, water, moisture, two_part = row
    for coating, expected in ((WATER, water), (MOISTURE, moisture), (TWO_PART, two_part)):
        if expected in (0.0, coating.rate.cap):
            assert rate(coating, *weather) == expected
        elif expected is not None:
            assert rate(coating, *weather) == pytest.approx(expected, rel=3e-3, abs=1e-3)


def test_humid_air_and_dry_air_rank_the_laws_the_other_way_round():
    humid = [float(rate(c, 30, 30, 0.8, 1.0)) for c in (WATER, TWO_PART, MOISTURE)]
    dry = [float(rate(c, 23, 23, 0.2, 1.5)) for c in (MOISTURE, TWO_PART, WATER)]
    assert humid == sorted(humid)
    assert dry == sorted(dry)


@pytest.mark.parametrize(
    ("energy", "reference", "temp", "expected"),
    [
        *((50.0, 23.0, t, r) for t, r in zip(
            (5, 10, 15, 30, 35, 40), (0.269, 0.394, 0.569, 1.598, 2.205, 3.011), strict=True)),
        *((41.5, 20.0, t, r) for t, r in ((10, 0.5481), (30, 1.7536), (40, 2.9668))),
        (47.837, 10.0, 20.0, 2.0),
        (51.216, 20.0, 30.0, 2.0),
        (52.252, 23.0, 33.0, 2.0),
    ],
)  # fmt: skip
def test_arrhenius(energy, reference, temp, expected):
    """Doubling for 10 degC takes 47.8 to 52.3 kJ/mol from cold to warm; derived by hand."""
    assert arrhenius(temp, reference, energy) == pytest.approx(expected, abs=1e-3)


def test_drying_wind_is_that_of_menzel():
    """At 5 km/h and 23 degC, 50 %: 0.245 kg/m2h for 0.315 (e0 - ea) times the factor."""
    assert drying_wind(0.0) == pytest.approx(0.253)
    assert 0.315 * 0.5 * 2.808 * drying_wind(5 / 3.6) == pytest.approx(0.245, abs=1e-3)


def rising(values):
    return bool(np.all(np.diff(values) >= 0) and values[-1] > values[0])


HUMIDITY = np.linspace(0.05, 1.0, 40)
WARMTH = np.linspace(-10, 60, 141)
WIND = np.linspace(0, 20, 41)


def test_evaporation_rises_with_warmth_and_wind_and_falls_with_humidity():
    assert rising(rate(WATER, WARMTH, WARMTH, 0.5, 1.5))
    assert rising(rate(WATER, WARMTH, 20.0, 0.5, 1.5))
    assert rising(rate(WATER, 20.0, 20.0, 0.7, WIND))
    assert rising(-rate(WATER, 20.0, 20.0, HUMIDITY, 1.5))


def test_moisture_cure_rises_with_humidity_and_warmth_and_knows_no_wind():
    assert rising(rate(MOISTURE, 20.0, 20.0, HUMIDITY, 1.5))
    assert rising(rate(MOISTURE, WARMTH, WARMTH, 0.5, 1.5))
    assert rising(rate(MOISTURE, WARMTH, 20.0, 0.5, 1.5))
    assert np.ptp(rate(MOISTURE, 20.0, 20.0, 0.5, WIND)) == 0


def test_a_reaction_knows_neither_humidity_nor_wind():
    assert rising(rate(TWO_PART, WARMTH, 20.0, 0.5, 1.5))
    assert np.ptp(rate(TWO_PART, 20.0, 20.0, HUMIDITY, 1.5)) == 0
    assert np.ptp(rate(TWO_PART, 20.0, 20.0, 0.5, WIND)) == 0


def test_wind_helps_solvent_out_between_bounds():
    solvent = lab_coating("solvent", cap=4.0)
    by_wind = rate(solvent, 23.0, 23.0, 0.5, [0.0, 0.375, 1.5, 3.0, 3.375, 20.0])
    assert by_wind == pytest.approx([0.5, 0.5, 1.0, np.sqrt(2), 1.5, 1.5])
    assert np.ptp(rate(solvent, 23.0, 23.0, HUMIDITY, 1.5)) == 0


def test_water_does_not_leave_a_wet_or_cold_film_nor_enter_nearly_saturated_air():
    assert rate(WATER, 20.0, 20.0, 0.5, 1.5, wetted=1.0) == 0
    assert rate(WATER, 5.0, 20.0, 0.2, 1.5) > 0  # at the film-forming temperature
    assert rate(WATER, 4.99, 20.0, 0.2, 1.5) == 0
    assert rate(WATER, 30.0, 20.0, 0.895, 1.5) > 0
    assert rate(WATER, 30.0, 20.0, 0.905, 1.5) == 0
    assert rate(WATER, 12.0, 20.0, 0.7, 1.5) == 0  # a film below the dew point of 14.4 degC


def test_rain_does_not_stop_a_reaction_or_moisture_cure():
    for coating in (MOISTURE, TWO_PART):
        dry, wet = (rate(coating, 20.0, 20.0, 0.5, 1.5, w) for w in (0.0, 1.0))
        assert dry == wet > 0


@pytest.mark.parametrize("name", coating_names())
def test_finite_and_never_negative(name):
    coating = resolve(load_profile(name))
    film, humidity, wind = np.meshgrid(
        np.linspace(-30, 80, 56), np.linspace(0.01, 1, 34), np.linspace(0, 20, 11)
    )
    found = rate(coating, film, np.clip(film, -40, 50), humidity, wind)
    assert np.isfinite(found).all()
    assert found.min() >= 0
    assert found.max() == coating.rate.cap
    assert (found[film < coating.rate.temp_min_c] == 0).all()


USED = {
    "evaporation": {"film_temp_c", "dew_point_c", "air_temp_c", "roof_wind_m_s", "wetted"},
    "moisture": {"film_temp_c", "dew_point_c"},
    "reaction": {"film_temp_c"},
    "solvent": {"film_temp_c", "roof_wind_m_s"},
}


@pytest.mark.parametrize("law", LAWS)
def test_an_unknown_input_that_the_law_uses_gives_an_unknown_rate(law):
    coating = resolve(load_profile(LAWS[law]))
    names = ("film_temp_c", "dew_point_c", "air_temp_c", "roof_wind_m_s", "wetted")
    known = dict(zip(names, np.array([20.0, 10.0, 20.0, 2.0, 0.0]), strict=True))
    # Also where a known value alone would stop the cure: the hour is not known all the same.
    for base in (known, known | {"film_temp_c": -20.0}, known | {"wetted": 1.0}):
        sure = cure_rate(coating, **{k: np.asarray(v) for k, v in base.items()})
        for unknown in names:
            hour = {k: np.asarray(np.nan if k == unknown else v) for k, v in base.items()}
            found = cure_rate(coating, **hour)
            assert np.isnan(found) if unknown in USED[law] else found == sure, unknown


@pytest.mark.parametrize("name", coating_names())
def test_a_thicker_film_never_has_a_higher_rate(name):
    profile = load_profile(name)
    own = profile.film["dry_per_coat"].si
    films = own * np.array([0.25, 0.5, 1.0, 1.25, 2.0, 5.0])
    rates = [float(rate(resolve(profile, dry_film_um=f), 20.0, 20.0, 0.5, 1.5)) for f in films]
    assert rates == sorted(rates, reverse=True)
    assert rates[0] == rates[2]  # a thin film earns no credit
    power = profile.rate["thickness_exponent"].si
    assert rates[4] == pytest.approx(rates[2] / 2**power)
