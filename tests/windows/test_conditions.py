"""Conditions at the roof: what is measured wins, what is unknown stays so, and simple sanity."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from cure_models import load_profile, psychrometrics
from cure_models.coating import resolve
from windows.conditions import conditions, roof_conditions
from windows.gates import State, check_coating
from windows.hours import Provenance, check_hours
from windows.job import run_job
from windows.site import Site

NAN = float("nan")
NIGHT, NOON = 5, 17  # rows of a day that begins at midnight UTC: 00:00 and 12:00 by the sun
DRY = {"air_temp_c": 22.0, "dew_point_c": 8.0, "wind_m_s": 3.0, "rain_mm": 0.0, "cloud": 0.2}


def site(deck="metal_insulated", absorptance=0.8, emittance=0.9):
    return Site.model_validate(
        {
            "name": "a roof",
            "latitude": 40.0,
            "longitude": -75.0,
            "elevation": "0 m",
            "timezone": "America/New_York",
            "roof": {"area": "1,000 m2", "deck": deck},
            "surface": {"name": "x", "absorptance": absorptance, "emittance": emittance},
            "crew": {"start": "07:00", "end": "17:00"},
        }
    )


def table(hours=48, day="2026-06-15", **given):
    """Hours of steady weather, but for what is given; None takes a column away."""
    columns = {
        name: np.broadcast_to(np.asarray(value, dtype=np.float64), hours).copy()
        for name, value in (DRY | given).items() if value is not None
    }  # fmt: skip
    times = pd.date_range(day, periods=hours, freq="h", tz="UTC")
    return check_hours(columns, times, Provenance("test", "a test"))


def at_roof(coating="acrylic", roof=None, start_wet_mm=None, **given):
    return conditions(
        table(**given), roof or site(), resolve(load_profile(coating)), start_wet_mm=start_wet_mm
    )


def only(value, row, other, hours=48):
    values = np.full(hours, other, dtype=np.float64)
    values[row] = value
    return values


def test_a_measured_surface_wins_over_the_heat_balance():
    measured = 20 + np.linspace(0, 10, 48)
    measured[7] = NAN
    found = at_roof(surface_temp_c=measured)
    np.testing.assert_array_equal(found.surface_temp_c, np.round(measured, 4))
    np.testing.assert_allclose(found.spread_c, np.round(measured, 4) - 8.0, atol=1e-9)
    assert np.isnan(found.surface_temp_c[7])  # a hole is not filled from the model
    assert np.isnan(found.spread_c[7])
    assert np.isnan(found.vpd_kpa[7])


def test_a_measured_surface_moves_the_film_too():
    model = at_roof("urethane_aromatic_two_part").surface_temp_c
    as_modelled = at_roof("urethane_aromatic_two_part", surface_temp_c=model)
    warmer = at_roof("urethane_aromatic_two_part", surface_temp_c=model + 5)
    np.testing.assert_allclose(
        as_modelled.cure_rate, at_roof("urethane_aromatic_two_part").cure_rate, atol=1e-4
    )
    assert (warmer.cure_rate >= as_modelled.cure_rate).all()
    assert (warmer.cure_rate > as_modelled.cure_rate * 1.2)[NIGHT]


def test_measured_irradiance_wins_over_the_clear_sky():
    ghi = only(333.0, NOON, 500.0)
    found = at_roof(ghi_w_m2=ghi)
    assert found.ghi_w_m2[NOON] == 333.0
    assert found.ghi_w_m2[NIGHT] == 0.0  # whatever the instrument says
    sunnier = at_roof(ghi_w_m2=only(800.0, NOON, 500.0))
    assert sunnier.surface_temp_c[NOON] > found.surface_temp_c[NOON] + 5
    assert at_roof(ghi_w_m2=only(-3.0, NOON, 500.0)).ghi_w_m2[NOON] == 0.0


def test_night_has_no_irradiance_even_where_the_value_is_unknown():
    for given in ({"ghi_w_m2": NAN}, {"cloud": NAN, "longwave_w_m2": 330.0}):
        found = at_roof(**given)
        assert found.ghi_w_m2[NIGHT] == 0.0
        assert np.isnan(found.ghi_w_m2[NOON])
        assert not np.isnan(found.surface_temp_c[NIGHT + 2])
        assert np.isnan(found.surface_temp_c[NOON])


def test_unknown_cloud_hides_the_surface_also_by_night():
    found = at_roof(cloud=NAN)
    assert np.isnan(found.surface_temp_c).all()
    assert found.ghi_w_m2[NIGHT] == 0.0
    found = at_roof(cloud=None)
    assert np.isnan(found.surface_temp_c).all()


def test_cloud_dims_the_sun_and_warms_the_night():
    clear, overcast = at_roof(cloud=0.0), at_roof(cloud=1.0)
    assert overcast.ghi_w_m2[NOON] == pytest.approx(0.25 * clear.ghi_w_m2[NOON], rel=1e-3)
    assert overcast.surface_temp_c[NOON] < clear.surface_temp_c[NOON] - 10
    assert overcast.surface_temp_c[NIGHT] > clear.surface_temp_c[NIGHT] + 2


def test_moisture_is_derived_only_where_a_column_is_wholly_absent():
    humidity = at_roof().rel_humidity
    assert humidity == pytest.approx(psychrometrics.relative_humidity(22.0, 8.0), abs=1e-4)
    from_humidity = at_roof(dew_point_c=None, rel_humidity=0.41)
    assert from_humidity.dew_point_c == pytest.approx(
        psychrometrics.dew_point(22.0, 0.41), abs=1e-4
    )
    assert (from_humidity.rel_humidity == 0.41).all()
    both = at_roof(rel_humidity=only(NAN, NOON, 0.5))
    assert np.isnan(both.rel_humidity[NOON])
    assert both.dew_point_c[NOON] == 8.0
    other = at_roof(rel_humidity=0.5, dew_point_c=only(NAN, NOON, 8.0))
    assert np.isnan(other.dew_point_c[NOON])
    assert np.isnan(other.spread_c[NOON])


def test_a_trace_wets_the_surface_in_its_hour():
    found = at_roof(rain_trace=only(1, NOON, 0), start_wet_mm=0.0)
    assert found.wet_mm[NOON - 1] == 0
    assert found.wet_mm[NOON] == pytest.approx(0.05)
    assert found.wet_mm[NOON + 1] == 0  # a noon in June dries it at once
    assert found.cure_rate[NOON] == 0
    assert found.cure_rate[NOON - 1] > 0
    assert found.rain_mm[NOON] == 0


def test_an_unknown_trace_leaves_the_film_unknown():
    found = at_roof(rain_trace=only(NAN, NOON, 0), start_wet_mm=0.0)
    assert np.isnan(found.wet_mm[NOON])
    assert np.isnan(found.cure_rate[NOON])
    assert found.wet_mm[NOON + 2] == 0


def test_rain_wets_stops_drying_and_runs_off_above_the_film():
    found = at_roof(rain_mm=only(9.0, NIGHT, 0.0), start_wet_mm=0.0)
    assert found.wet_mm[NIGHT] == pytest.approx(0.5)
    assert found.cure_rate[NIGHT] == 0
    assert 0 < found.wet_mm[NIGHT + 1] <= 0.5
    assert found.wet_mm[NOON] == 0


def test_a_roof_that_nobody_looked_at_is_unknown_until_it_must_have_dried():
    found = at_roof()
    assert np.isnan(found.wet_mm[0])
    assert found.wet_mm[NOON] == 0
    known = np.flatnonzero(~np.isnan(found.wet_mm))
    assert np.array_equal(known, np.arange(known[0], 48))
    assert 1 <= known[0] <= 16
    looked = at_roof(start_wet_mm=0.0)
    assert (looked.wet_mm == 0).all()

    states = check_coating(resolve(load_profile("acrylic")), found).gates["surface_dry"]
    assert (states[: known[0]] == State.UNKNOWN).all()
    assert (states[known[0] :] == State.OK).all()
    job = run_job(site(), load_profile("acrylic"), table(), start_wet_mm=0.0)
    assert (job.checked.gates["surface_dry"] == State.OK).all()
    wet = run_job(site(), load_profile("acrylic"), table(), start_wet_mm=0.4)
    assert wet.checked.gates["surface_dry"][0] == State.BLOCKED


def test_a_hot_dry_noon():
    found = at_roof(air_temp_c=34.0, dew_point_c=6.0, wind_m_s=1.5, cloud=0.0)
    assert 60 < found.surface_temp_c[NOON] < 95
    assert found.spread_c[NOON] > 50
    assert found.wet_mm[NOON] == 0
    assert found.cure_rate[NOON] == 2.0  # at its cap


def test_dew_on_a_clear_calm_humid_night_and_none_under_a_dry_overcast():
    humid = at_roof(air_temp_c=18.0, dew_point_c=16.5, wind_m_s=0.5, cloud=0.0, start_wet_mm=0.0)
    assert humid.spread_c[NIGHT] < 0
    assert humid.wet_mm[NIGHT] > 0
    assert humid.cure_rate[NIGHT] == 0
    assert 0 < humid.wet_mm.max() <= 0.5
    dry = at_roof(air_temp_c=18.0, dew_point_c=8.0, wind_m_s=3.0, cloud=1.0, start_wet_mm=0.0)
    assert dry.spread_c.min() > 5
    assert (dry.wet_mm == 0).all()
    assert (dry.cure_rate > 0).all()


def test_a_bare_metal_deck_does_not_promise_a_warm_night():
    """By night the new film radiates, so bright metal counts as the film, and by day as itself."""
    metal = at_roof(roof=site(emittance=0.2), cloud=0.0)
    dull = at_roof(roof=site(emittance=0.9), cloud=0.0)
    assert metal.surface_temp_c[NIGHT + 1] == pytest.approx(dull.surface_temp_c[NIGHT + 1], abs=0.1)
    assert metal.surface_temp_c[NOON] > dull.surface_temp_c[NOON] + 5


def test_a_heavy_deck_lags():
    light = at_roof(roof=site("standing_seam")).surface_temp_c
    heavy = at_roof(roof=site("concrete")).surface_temp_c
    assert np.argmax(heavy[:30]) > np.argmax(light[:30])
    assert np.ptp(heavy) < np.ptp(light)


def test_what_is_printed_is_what_is_decided_on():
    # 9.99996 degC prints as 10.0000, the limit of 50 degF; 9.9999 does not.
    for air, state in ((9.99996, State.OK), (9.9999, State.BLOCKED)):
        found = at_roof(air_temp_c=air, dew_point_c=2.0)
        gates = check_coating(resolve(load_profile("acrylic")), found).gates
        assert (gates["air_temp_min"] == state).all()
    decimals = {"rain_mm": 3, "wet_mm": 5, "vpd_kpa": 5, "cure_rate": 6}
    rng = np.random.default_rng(1)
    found = at_roof(air_temp_c=rng.normal(20, 3, 48), rain_mm=rng.exponential(0.1, 48))
    for name in ("air_temp_c", "surface_temp_c", "spread_c", "rel_humidity", *decimals):
        values = found.quantity(name)
        printed = np.array([float(f"{v:.{decimals.get(name, 4)}f}") for v in values])
        np.testing.assert_array_equal(values, printed)


def test_columns_that_the_source_lacks_are_named_absent():
    assert at_roof().absent == {"gust_m_s", "rain_prob", "pressure_hpa", "thunder_prob"}
    assert "gust_m_s" not in at_roof(gust_m_s=NAN).absent


def test_many_series_at_once_equal_each_alone():
    rng = np.random.default_rng(5)
    shape = (3, 72)
    air = rng.normal(15, 4, shape)
    weather = {
        "air_temp_c": air,
        "dew_point_c": air - rng.uniform(0.2, 8, shape),
        "wind_m_s": rng.uniform(0, 8, shape),
        "rain_mm": rng.choice([0.0, 1.0], size=shape, p=[0.95, 0.05]),
        "cloud": rng.uniform(0, 1, shape),
    }
    weather["cloud"][1, 30:33] = NAN
    seconds = 1_780_000_000.0 // 3600 * 3600 + 3600 * np.arange(72)
    coating = resolve(load_profile("silicone_high_solids"))
    together = roof_conditions(weather, seconds, site("concrete"), coating)
    for k in range(3):
        alone = roof_conditions(
            {name: values[k] for name, values in weather.items()},
            seconds, site("concrete"), coating,
        )  # fmt: skip
        for name in ("surface_temp_c", "spread_c", "wet_mm", "cure_rate", "ghi_w_m2"):
            np.testing.assert_allclose(
                together.quantity(name)[k], alone.quantity(name), atol=1.1e-4, err_msg=name
            )


def test_a_film_thicker_than_the_reference_only_slows_the_cure():
    coating = resolve(load_profile("acrylic"))
    thick = replace(coating, dry_film_um=2 * coating.dry_film_um)
    hours = table()
    once, twice = conditions(hours, site(), coating), conditions(hours, site(), thick)
    np.testing.assert_allclose(twice.cure_rate, once.cure_rate / 2, atol=1e-6)
    np.testing.assert_array_equal(twice.surface_temp_c, once.surface_temp_c)
