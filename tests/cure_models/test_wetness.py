"""The water film: evaporation, dew, and a store that never calls the unknown dry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import Outside

from cure_models import psychrometrics as moist
from cure_models import sky, wetness
from cure_models.arrays import FloatArray
from cure_models.surface import HeatBalance

CAPACITY = 0.5
SAME = 1e-9  # mm, the rounding of the store

amounts = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.0, 0.0, 0.02, 0.3, 4.0]) | st.floats(0, 2),
        st.sampled_from([0.0, 0.05, 0.4, 3.0]) | st.floats(0, 2),
    ),
    min_size=1,
    max_size=60,
)


def columns(rows: list[tuple[float, float]]) -> tuple[FloatArray, FloatArray]:
    gain, loss = np.array(rows, dtype=np.float64).T
    return gain, loss


def loop_store(
    gain: FloatArray, loss: FloatArray, capacity: float, start: float
) -> tuple[FloatArray, float, float, float]:
    """Film of each hour; what fell minus what ran off and dried; what is left."""
    film, ran_off, dried, wet = start, 0.0, 0.0, np.empty(gain.size)
    for k in range(gain.size):
        film += gain[k]
        ran_off += max(0.0, film - capacity)
        film = min(capacity, film)
        wet[k] = film
        dried += min(loss[k], film)
        film -= min(loss[k], film)
    return wet, film, ran_off, dried


@given(amounts, st.floats(0, CAPACITY))
def test_store_equals_a_loop_that_keeps_the_books(
    rows: list[tuple[float, float]], start: float
) -> None:
    gain, loss = columns(rows)
    wanted, left, ran_off, dried = loop_store(gain, loss, CAPACITY, start)
    assert start + gain.sum() == pytest.approx(left + ran_off + dried, abs=SAME)
    np.testing.assert_allclose(
        wetness.film_store(gain, loss, CAPACITY, start), wanted, rtol=0, atol=2 * SAME
    )


@settings(max_examples=200)
@given(
    amounts,
    st.lists(st.tuples(st.booleans(), st.integers(0, 59)), min_size=1, max_size=8),
    st.none() | st.floats(0, CAPACITY),
)
def test_a_hole_hides_numbers_and_changes_none(
    rows: list[tuple[float, float]], holes: list[tuple[bool, int]], start: float | None
) -> None:
    gain, loss = columns(rows)
    whole = wetness.film_store(gain, loss, CAPACITY, start)
    for in_gain, hour in holes:
        (gain if in_gain else loss)[hour % gain.size] = np.nan
    holed = wetness.film_store(gain, loss, CAPACITY, start)
    known = ~np.isnan(holed)
    assert not np.isnan(whole[known]).any()
    np.testing.assert_allclose(holed[known], whole[known], rtol=0, atol=2 * SAME)


@given(amounts, st.floats(0, CAPACITY))
def test_an_unknown_start_is_any_start(rows: list[tuple[float, float]], start: float) -> None:
    gain, loss = columns(rows)
    unknown = wetness.film_store(gain, loss, CAPACITY)
    known = ~np.isnan(unknown)
    from_start = wetness.film_store(gain, loss, CAPACITY, start)
    np.testing.assert_allclose(unknown[known], from_start[known], rtol=0, atol=2 * SAME)


@given(amounts, st.integers(0, 59), st.floats(0, 3))
def test_more_rain_never_less_water(
    rows: list[tuple[float, float]], hour: int, more: float
) -> None:
    gain, loss = columns(rows)
    before = wetness.film_store(gain, loss, CAPACITY, 0.0)
    gain[hour % gain.size] += more
    assert np.all(wetness.film_store(gain, loss, CAPACITY, 0.0) >= before - SAME)


@given(amounts)
def test_film_is_between_nothing_and_the_capacity(rows: list[tuple[float, float]]) -> None:
    wet = wetness.film_store(*columns(rows), CAPACITY, 0.1)
    assert np.all((wet >= 0.0) & (wet <= CAPACITY))


def test_a_trace_is_wet_in_its_hour() -> None:
    wet = wetness.film_store([0.0, 0.05, 0.0], [0.3, 0.3, 0.3], CAPACITY, 0.0)
    np.testing.assert_allclose(wet, [0.0, 0.05, 0.0])
    assert wet[2] == 0.0


def test_a_film_dries_to_exactly_nothing() -> None:
    wet = wetness.film_store([0.3, 0, 0, 0, 0], [0.1] * 5, CAPACITY, 0.0)
    np.testing.assert_allclose(wet[:3], [0.3, 0.2, 0.1])
    assert wet[3] == wet[4] == 0.0


def test_known_again_when_dried_or_full() -> None:
    nan = np.nan
    # A missing rain: unknown until even a full film has dried, two hours of 0.3 mm.
    wet = wetness.film_store([0, nan, 0, 0, 0], [0.3] * 5, CAPACITY, 0.0)
    np.testing.assert_array_equal(np.isnan(wet), [False, True, True, False, False])
    assert wet[3] == 0.0
    # A missing evaporation: unknown after it, until rain has filled the roof.
    wet = wetness.film_store([0.4, 0, 5.0, 0], [nan, 0.0, 0.0, 0.0], CAPACITY, 0.0)
    np.testing.assert_array_equal(np.isnan(wet), [False, True, False, False])
    np.testing.assert_allclose(wet[[0, 2, 3]], [0.4, CAPACITY, CAPACITY])
    # Nothing known at all.
    assert np.isnan(wetness.film_store([nan] * 3, [nan] * 3, CAPACITY)).all()
    # By night nothing dries, so an unknown start stays unknown.
    assert np.isnan(wetness.film_store(np.zeros(12), np.zeros(12), CAPACITY)).all()


def test_leading_axes_have_their_own_roofs() -> None:
    gain = np.array([[2.0, 0.0], [0.0, 0.0]])
    wet = wetness.film_store(gain, 0.1, np.array([0.2, 1.0]), np.array([0.0, 0.7]))
    np.testing.assert_allclose(wet, [[0.2, 0.1], [0.7, 0.6]])


def test_a_negative_amount_is_refused() -> None:
    with pytest.raises(ValueError, match="Dew is a gain"):
        wetness.film_store([0.0], [-0.1], CAPACITY, 0.0)


def test_dew_rates(outside: Outside) -> None:
    # 0.038 and 0.042 kg/(m2 h) before the stable-air factor.
    for air, humidity, wind, temp, expected in (
        (15.0, 0.9, 0.5, 11.0, 0.038),
        (12.0, 0.9, 1.0, 8.0, 0.042),
    ):
        vapour = moist.vapour_pressure(moist.dew_point(air, humidity))
        rate = -wetness.evaporation(temp, vapour, 5.7 + 3.8 * wind) / moist.CONDENSATION_SHARE
        outside.agree(
            "dew before the stable-air factor", rate, expected, within=12.0, unit="%",
            source="Lewis relation with densities at two temperatures, solved independently",
            why="ours takes pressures",
        )  # fmt: skip


def test_evaporation_of_a_wet_film(outside: Outside) -> None:
    # 23 degC, 50 %, walls at air temperature, hc 11.4: 0.151 mm/h, as in the surface test.
    vapour = moist.vapour_pressure(moist.dew_point(23.0, 0.5))
    walls = sky.black_radiation(23.0)
    film = HeatBalance(0.0, walls, 23.0, 0.0, 0.9, fixed_convection_w_m2_k=11.4).wet(vapour)
    outside.agree(
        "evaporation of a wet film in a laboratory",
        wetness.evaporation(film.temp_c, vapour, 11.4), 0.151, within=5.0, unit="%",
        source="solved independently with vapor densities at two temperatures",
    )  # fmt: skip


def test_a_night_of_dew_stays_below_the_radiative_ceiling(outside: Outside) -> None:
    # What clear skies can take away in a night, and more than dew gauges ever show.
    air, humidity, wind = np.meshgrid(
        np.arange(-5.0, 31.0, 5.0), [0.8, 0.9, 1.0], np.arange(0.0, 8.1, 0.5), indexing="ij"
    )
    dew = moist.dew_point(air, humidity)
    vapour = moist.vapour_pressure(dew)
    film = HeatBalance(0.0, sky.sky_longwave(air, dew, 0.0), air, wind, 0.95).wet(vapour)
    exchange = wetness.evaporation(film.temp_c, vapour, film.convection_w_m2_k)
    dew_mm = 14.0 * np.maximum(-exchange, 0.0)
    assert dew_mm.max() > 0.1
    outside.between(
        "dew of a night of 14 h, all climates", dew_mm, 0.0, 0.8, unit="mm",
        source="radiative ceiling of 0.8 mm",
    )  # fmt: skip


def test_unknown_stays_unknown() -> None:
    nan = np.nan
    assert np.isnan(wetness.evaporation([nan, 5, 5], [8, nan, 8], [9, 9, nan])).all()


def test_snow_lies_until_it_has_melted():
    air = np.r_[np.full(10, -3.0), np.full(20, 8.0)]
    fallen = np.r_[np.full(10, 2.0), np.zeros(20)]
    snow = wetness.snow_store(fallen, air)
    assert snow.lying_mm[9] == pytest.approx(20.0)
    # 8 degC melts 1.6 mm an hour: 20 mm are gone after 12.5 h.
    assert snow.lying_mm[10 + 12] > 0
    assert snow.lying_mm[10 + 13] == 0
    np.testing.assert_allclose(snow.melted_mm[10:22], 1.6)
    assert snow.melted_mm.sum() == pytest.approx(snow.fallen_mm.sum())


def test_rain_is_no_snow():
    snow = wetness.snow_store(np.array([2.0, 2.0]), np.array([5.0, 0.5]))
    assert list(snow.fallen_mm) == [0.0, 2.0]


def test_unknown_precipitation_in_the_cold_may_be_snow():
    snow = wetness.snow_store(np.array([np.nan, 0.0, 0.0]), np.array([-5.0, -5.0, -5.0]))
    assert np.isnan(snow.lying_mm).all()
    warm = wetness.snow_store(np.array([np.nan, 0.0]), np.array([15.0, 15.0]))
    assert (warm.lying_mm == 0).all()
    assert (warm.melted_mm == 0).all()


def test_wet_for_a_part_of_the_hour():
    share = wetness.wet_share([0.0, 0.1, 0.5, 0.3, np.nan], [0.4, 0.4, 0.4, 0.0, 0.4])
    np.testing.assert_allclose(share, [0.0, 0.25, 1.0, 1.0, np.nan])


@pytest.mark.parametrize(("capacity", "seed"), [(0.5, 1), (6.0, 2), (25.0, 3)])
def test_water_closes_over_a_year(capacity: float, seed: int, outside: Outside) -> None:
    """What came is what went: evaporated, run off, and still there; by a loop of its own."""
    rng = np.random.default_rng(seed)
    hours = 8760
    air = 8.0 - 14.0 * np.cos(2 * np.pi * np.arange(hours) / hours) + rng.normal(0, 4, hours)
    precipitation = np.where(rng.random(hours) < 0.08, rng.exponential(1.5, hours), 0.0)
    snow = wetness.snow_store(precipitation, air)
    came = precipitation - snow.fallen_mm + snow.melted_mm
    came = came + np.where(rng.random(hours) < 0.2, 0.03, 0.0)  # dew
    can_go = rng.exponential(0.15, hours)
    film = wetness.film_store(came, can_go, capacity, start=0.2)

    store, evaporated, ran_off, wanted = 0.2, 0.0, 0.0, []
    for k in range(hours):
        full = store + came[k]
        ran_off += max(full - capacity, 0.0)
        full = min(full, capacity)
        wanted.append(full)
        went = min(can_go[k], full)
        evaporated += went
        store = full - went
    outside.agree(
        "water on the roof, a year, three capacities", film, wanted,
        within=1e-9, unit="mm", source="a plain loop over the hours", why="rounding",
    )  # fmt: skip
    outside.agree(
        "water: came = evaporated + ran off + stays", 0.2 + came.sum(),
        evaporated + ran_off + store, within=1e-9, unit="mm", source="the sums of that loop",
        why="rounding",
    )  # fmt: skip
    # Snow: what fell has melted, or lies, or was more than is counted.
    assert snow.melted_mm.sum() <= snow.fallen_mm.sum() + 1e-9


def test_ponds_dry_after_the_film() -> None:
    rng = np.random.default_rng(4)
    came = np.where(rng.random(2000) < 0.05, rng.exponential(3.0, 2000), 0.0)
    can_go = rng.exponential(0.2, 2000)
    film = wetness.film_store(came, can_go, 0.5, start=0.0)
    pond = wetness.film_store(came, can_go, 6.0, start=0.0)
    assert (pond >= film).all()
    assert ((pond > 0) & (film == 0)).sum() > 200


def test_snow_falls_at_one_degree_and_rain_above() -> None:
    snow = wetness.snow_store([2.0, 2.0], [1.0, 1.1])
    assert list(snow.fallen_mm) == [2.0, 0.0]


def test_unknown_snow_is_25_mm_more_than_what_fell() -> None:
    air = np.r_[np.full(20, -3.0), np.full(40, 10.0)]
    fallen = np.r_[np.full(20, 2.0), np.zeros(40)]
    known = wetness.snow_store(fallen, air)
    assert known.lying_mm.max() == 40.0  # all of it lies
    unseen = wetness.snow_store(fallen, air, None)
    # (40 + 25) mm at 2 mm an hour are surely gone after 32.5 h of thaw, the 40 mm after 20.
    assert np.isnan(unseen.lying_mm[:40]).all()
    assert (unseen.lying_mm[53:] == 0).all()
    assert (known.lying_mm[40:] == 0).all()
