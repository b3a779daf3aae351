"""Conditions at the roof: what is measured wins, what is unknown stays so, and simple sanity."""

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
from plain_site import site

from cure_models import load_profile, psychrometrics
from cure_models.coating import resolve
from windows.conditions import Conditions, coated, conditions, roof_in_weather
from windows.gates import State, check_coating
from windows.hours import check_hours
from windows.job import run_job
from windows.provenance import Provenance
from windows.safety import cautions

NAN = float("nan")
NIGHT, NOON = 5, 17  # rows of a day that begins at midnight UTC: 00:00 and 12:00 by the sun
DRY = {"air_temp_c": 22.0, "dew_point_c": 8.0, "wind_m_s": 3.0, "rain_mm": 0.0, "cloud": 0.2}


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
    name = "urethane_aromatic_two_part"
    plain = at_roof(name)
    as_modelled = at_roof(name, surface_temp_c=plain.dry_surface_temp_c)
    np.testing.assert_allclose(as_modelled.cure_rate, plain.cure_rate, atol=1e-4)
    colder = at_roof(name, surface_temp_c=plain.dry_surface_temp_c - 3)
    np.testing.assert_allclose(colder.film_temp_c, plain.film_temp_c - 3, atol=2e-4)


def test_a_roof_darker_than_the_site_says_does_not_warm_the_film():
    """A sensor far above the model tells of the old surface; the film gains one standard error."""
    believed = site(absorptance=0.3)
    plain = at_roof(roof=believed)
    error = (plain.surface_high_c - plain.surface_low_c) / 2
    truth = at_roof(roof=site(absorptance=0.95)).dry_surface_temp_c
    sensed = at_roof(roof=believed, surface_temp_c=truth)
    assert truth[NOON] > plain.dry_surface_temp_c[NOON] + 15
    assert (sensed.film_temp_c <= plain.film_temp_c + error + 2e-4).all()


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


def test_a_bare_metal_deck_does_not_promise_a_warm_night_to_the_film():
    """Placement asks the bright metal as it is; the holds ask the film, which radiates."""
    metal = at_roof(roof=site(emittance=0.2), cloud=0.0)
    dull = at_roof(roof=site(emittance=0.9), cloud=0.0)
    assert metal.surface_temp_c[NIGHT + 1] > dull.surface_temp_c[NIGHT + 1] + 3
    np.testing.assert_array_equal(metal.film_temp_c, dull.film_temp_c)
    assert metal.surface_temp_c[NOON] > dull.surface_temp_c[NOON] + 5
    # Gates read them so: the film on this metal freezes, the metal does not.
    cold = at_roof(
        roof=site(emittance=0.2), cloud=0.0, air_temp_c=3.0, dew_point_c=-8.0, start_wet_mm=0.0
    )
    gates = check_coating(resolve(load_profile("acrylic")), cold).gates
    assert cold.surface_temp_c[NIGHT] > 0 > cold.film_temp_c[NIGHT]
    assert gates["no_freeze"][NIGHT] == State.BLOCKED


def test_water_cools_a_roof_in_the_sun_and_dew_is_not_credited():
    rain = only(9.0, NOON, 0.0)
    for absorptance, least, most in ((0.2, 2, 14), (0.95, 15, 32)):
        roof = site(absorptance=absorptance)
        dry = at_roof(roof=roof, start_wet_mm=0.0)
        wet = at_roof(roof=roof, start_wet_mm=0.0, rain_mm=rain)
        drop = dry.surface_temp_c - wet.surface_temp_c
        assert least < drop[NOON] < most
        np.testing.assert_array_equal(dry.dry_surface_temp_c, wet.dry_surface_temp_c)
        assert drop[NOON - 1] == 0
        assert drop[NOON + 1] < drop[NOON]
    humid = at_roof(air_temp_c=18.0, dew_point_c=16.5, wind_m_s=0.5, cloud=0.0, start_wet_mm=0.0)
    assert humid.wet_mm[NIGHT] > 0
    assert humid.surface_temp_c[NIGHT] == humid.dry_surface_temp_c[NIGHT]


def test_a_roof_that_may_be_wet_is_taken_as_cold_as_a_wet_one():
    hole = at_roof(rain_mm=only(NAN, NOON, 0.0), start_wet_mm=0.0)
    soaked = at_roof(rain_mm=only(9.0, NOON, 0.0), start_wet_mm=0.0)
    assert np.isnan(hole.wet_mm[NOON])
    # The soaked one is dry again before the hour is over.
    assert hole.surface_temp_c[NOON] < soaked.surface_temp_c[NOON]
    # A limit on heat is asked of the dry roof: rain that may have fallen does not cool it.
    assert hole.dry_surface_temp_c[NOON] == at_roof().dry_surface_temp_c[NOON]
    gates = check_coating(resolve(load_profile("acrylic")), hole).gates
    assert gates["surface_temp_max"][NOON] == State.BLOCKED


def test_parapets_and_an_offset():
    open_roof, walled = at_roof(cloud=0.0), at_roof(roof=site(sky_view=0.5), cloud=0.0)
    assert walled.surface_temp_c[NIGHT] > open_roof.surface_temp_c[NIGHT] + 2
    assert walled.film_temp_c[NIGHT] > open_roof.film_temp_c[NIGHT] + 2
    moved = at_roof(roof=site(surface_offset="1.5 K"), cloud=0.0)
    for name in ("dry_surface_temp_c", "film_temp_c"):
        shift = moved.quantity(name) - open_roof.quantity(name)
        np.testing.assert_allclose(shift, 1.5, atol=2e-4)


def test_ponds_only_where_the_site_names_them():
    rain = only(9.0, NIGHT, 0.0)
    assert np.isnan(at_roof(rain_mm=rain, start_wet_mm=0.0).ponded_mm).all()
    found = at_roof(roof=site(ponded_share=0.05), rain_mm=rain, start_wet_mm=0.0)
    assert found.ponded_mm[NIGHT] == pytest.approx(6.0)
    assert (found.ponded_mm >= found.wet_mm).all()
    assert found.wet_mm[NOON] == 0 < found.ponded_mm[NOON]


def test_how_sure_the_surface_is():
    modelled = at_roof()
    width = (modelled.surface_high_c - modelled.surface_low_c) / 2
    middle = (modelled.surface_high_c + modelled.surface_low_c) / 2
    np.testing.assert_allclose(middle, modelled.dry_surface_temp_c, atol=2e-4)
    assert 0.5 < width[NIGHT] < 2.5
    assert 2 < width[NOON] < 6
    # Independent of this code, to first order: 20 W/m2 of sky over the conductance of a calm
    # night, about 0.9 x 5.2 + 3.8 x 1.8 + 1.3 = 12.8 W/m2K, gives 1.4 K; the wind adds a little.
    assert width[NIGHT] == pytest.approx(1.6, abs=0.3)
    measured = at_roof(ghi_w_m2=modelled.ghi_w_m2, longwave_w_m2=330.0)
    assert (measured.surface_high_c - measured.surface_low_c < 2 * width).all()
    sensor = at_roof(surface_temp_c=25.0)
    assert (sensor.surface_high_c == sensor.surface_low_c).all()


def test_snow_lies_melts_and_leaves_water():
    air = np.full(72, -4.0)
    air[30:] = 5.0
    found = at_roof(
        hours=72, day="2026-01-15", air_temp_c=air, dew_point_c=air - 2.0, cloud=1.0,
        rain_mm=only(3.0, 8, 0.0, 72), start_wet_mm=0.0,
    )  # fmt: skip
    assert found.wet_mm[9] == pytest.approx(3.0, abs=0.5)
    assert (found.wet_mm[9:33] > 0).all()
    assert found.wet_mm[33] > 0  # 3 mm at 1 mm an hour are gone at 33; the meltwater is not
    assert found.wet_mm[-1] == 0 or found.wet_mm[40] < 0.6


def test_the_data_sheet_s_own_stop_before_sunset(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        'based_on = "acrylic"\n[gates]\n'
        'before_sunset = { value = 2, unit = "h", source = "data sheet: page 1" }\n'
    )
    coating = resolve(load_profile(str(own)))
    found = conditions(table(), site(), coating)
    states = check_coating(coating, found).gates["before_sunset"]
    # Sunset at 40 N, 75 W on 15 June is about 00:31 UTC: the hour from 21 to 22 passes.
    assert list(states[20:26]) == [State.OK] * 2 + [State.BLOCKED] * 3 + [State.OK]
    assert found.hours_to_sunset[21] == pytest.approx(2.5, abs=0.05)
    # A place where the sun sets in the first half of an hour: that hour ends after it, too.
    early = conditions(table(), site().model_copy(update={"longitude": -72.0}), coating)
    assert early.hours_to_sunset[24] == pytest.approx(-0.68, abs=0.06)
    assert check_coating(coating, early).gates["before_sunset"][24] == State.BLOCKED


def test_fast_drying_is_told_and_blocks_nothing():
    hot = at_roof("asphalt_emulsion", air_temp_c=36.0, dew_point_c=4.0, wind_m_s=6.0, cloud=0.0)
    mild = at_roof("asphalt_emulsion", air_temp_c=15.0, dew_point_c=12.0, cloud=1.0)
    assert hot.film_drying_mm_h[NOON] > 1.0 > mild.film_drying_mm_h[NOON]
    told = [c.text for c in cautions(hot, resolve(load_profile("asphalt_emulsion")), NOON, 19)]
    assert any("skin" in text for text in told)
    calm = [c.text for c in cautions(mild, resolve(load_profile("asphalt_emulsion")), NOON, 19)]
    assert not any("skin" in text for text in calm)


def test_ultraviolet_of_an_unknown_sky_is_that_of_a_clear_one():
    clear, unknown = at_roof(cloud=0.0), at_roof(cloud=NAN, longwave_w_m2=330.0)
    assert np.isnan(unknown.uv_index[NOON])
    np.testing.assert_array_equal(unknown.uv_dose_sed, clear.uv_dose_sed)
    np.testing.assert_allclose(clear.uv_dose_sed, 0.9 * clear.uv_index, atol=1e-4)


def test_polar_day_and_a_deck_of_sixty_degrees():
    polar = at_roof(roof=site(latitude=80.0))
    assert (polar.hours_to_sunset == 23.5).all()
    for name in ("surface_temp_c", "cure_rate", "uv_index"):
        assert not np.isnan(polar.quantity(name)).any()
    dark = at_roof(roof=site(latitude=80.0), day="2026-12-15")
    assert (dark.ghi_w_m2 == 0).all()
    assert (dark.hours_to_sunset == -0.5).all()
    for name in ("acrylic", "polyurea", "butyl", "spf"):
        hot = at_roof(name, surface_temp_c=60.0, air_temp_c=40.0)
        assert (hot.cure_rate <= resolve(load_profile(name)).rate.cap).all()
        assert not np.isnan(hot.cure_rate).any()


@pytest.mark.parametrize(
    ("deck", "hours"), [("foam", 2), ("metal_insulated", 3), ("wood", 6), ("concrete", 30)]
)
def test_a_gap_is_forgotten_as_fast_as_the_deck_forgets(deck, hours):
    found = at_roof(roof=site(deck), hours=96, air_temp_c=only(NAN, 40, 22.0, 96))
    unknown = np.flatnonzero(np.isnan(found.surface_temp_c))
    assert unknown[0] == 40
    assert unknown[-1] <= 40 + hours
    assert np.array_equal(unknown, np.arange(40, unknown[-1] + 1))


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
    together = coated(roof_in_weather(weather, seconds, site("concrete")), coating)
    for k in range(3):
        columns = {name: values[k] for name, values in weather.items()}
        alone = coated(roof_in_weather(columns, seconds, site("concrete")), coating)
        for name in (f.name for f in fields(Conditions) if f.name != "absent"):
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


def test_deep_snow_does_not_vanish():
    air = np.full(240, -2.0)
    air[80:] = 11.0
    fall = np.zeros(240)
    fall[6:78] = 2.0  # 144 mm of water
    found = at_roof(
        hours=240, day="2026-01-10", air_temp_c=air, dew_point_c=air - 6, rain_mm=fall, cloud=0.5,
        start_wet_mm=0.0,
    )  # fmt: skip
    # 144 mm at 2.2 mm an hour take 65.5 h.
    assert (found.wet_mm[10:145] > 0).all()
    assert found.wet_mm[-1] == 0


def test_snow_from_before_the_table_is_unknown_unless_somebody_looked():
    air = np.r_[np.full(22, -5.0), np.full(98, 16.0)]
    winter = {"hours": 120, "day": "2026-03-10", "air_temp_c": air, "dew_point_c": air - 8}
    unseen, looked = at_roof(**winter), at_roof(**winter, start_wet_mm=0.0)
    # 25 mm at 3.2 mm an hour: eight hours of thaw.
    assert np.isnan(unseen.wet_mm[:29]).all()
    assert unseen.wet_mm[48] == 0
    assert (looked.wet_mm[:20] == 0).all()
    summer = at_roof(air_temp_c=16.0)
    assert summer.wet_mm[NOON] == 0


def test_less_sky_less_doubt_about_it():
    open_roof, walled = at_roof(), at_roof(roof=site(sky_view=0.3))
    width = open_roof.surface_high_c - open_roof.surface_low_c
    assert (walled.surface_high_c - walled.surface_low_c)[NIGHT] < 0.6 * width[NIGHT]
