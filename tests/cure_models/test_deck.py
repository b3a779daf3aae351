"""Heat stored in a deck: equal to a slow loop, and a hole hides numbers without changing any."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import Outside

from cure_models.arrays import FloatArray
from cure_models.deck import lagged_temperature


def loop_lag(
    steady: FloatArray, conductance: FloatArray, capacity: float, start: float
) -> FloatArray:
    """Hour means of the endless relaxation."""
    mean, state = np.empty(steady.size), start
    for k in range(steady.size):
        folds = 3600.0 * conductance[k] / capacity
        left = np.exp(-folds)
        mean[k] = steady[k] + (state - steady[k]) * (1.0 - left) / folds
        state = steady[k] + (state - steady[k]) * left
    return mean


def week(seed: int, hours: int = 168) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    day = np.maximum(np.sin(np.arange(hours) * np.pi / 12.0), -0.15)
    return 15.0 + 40.0 * day + rng.normal(0.0, 3.0, hours), rng.uniform(9.0, 40.0, hours)


@pytest.mark.parametrize("capacity", [5e3, 12e3, 60e3, 230e3, 1e6])
def test_lag_equals_a_loop(capacity: float) -> None:
    steady, conductance = week(1)
    lagged = lagged_temperature(steady, conductance, capacity, 10.0)
    # 1e-3 of the range of temperatures is where the memory is cut off.
    wanted = loop_lag(steady, conductance, capacity, 10.0)
    np.testing.assert_allclose(lagged, wanted, atol=1e-3 * (np.ptp(steady) + 10.0))


def test_lag_equals_fine_steps(outside: Outside) -> None:
    steady, conductance = week(2, 24)
    temp, means = 12.0, []
    for target, flow in zip(steady, conductance, strict=True):
        total = 0.0
        for _ in range(3600):
            total += temp
            temp += flow * (target - temp) / 60e3
        means.append(total / 3600)
    lagged = lagged_temperature(steady, conductance, 60e3, 12.0)
    outside.agree(
        "lag of a deck, hour means", lagged, means, within=0.05, unit="K",
        source="3,600 explicit steps an hour",
    )  # fmt: skip


def test_no_heat_capacity_is_the_steady_state() -> None:
    steady, conductance = week(3)
    np.testing.assert_array_equal(
        lagged_temperature(steady, conductance, 0.0, np.nan), steady
    )


def test_heavy_decks_swing_less() -> None:
    steady, conductance = week(4)
    decks = np.array([5e3, 60e3, 230e3])
    lagged = lagged_temperature(steady, conductance, decks)
    assert lagged.shape == (3, steady.size)
    assert np.all(np.diff(np.std(lagged, axis=-1)) < 0.0)
    row = lagged_temperature(steady, conductance, 60e3)
    np.testing.assert_allclose(lagged[1], row, atol=1e-9)


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    capacity=st.sampled_from([0.0, 1.0, 5e3, 12e3, 60e3, 230e3]),
    holes=st.lists(st.integers(0, 71), max_size=6),
    known_start=st.booleans(),
)
def test_a_hole_hides_numbers_and_changes_none(
    seed: int, capacity: float, holes: list[int], known_start: bool
) -> None:
    steady, conductance = week(seed, 72)
    start = 20.0 if known_start else None
    whole = lagged_temperature(steady, conductance, capacity, start)
    assert not np.isnan(whole).any()
    for series in range(2):
        torn = [steady.copy(), conductance.copy()]
        torn[series][holes] = np.nan
        holed = lagged_temperature(torn[0], torn[1], capacity, start)
        known = ~np.isnan(holed)
        assert not known[holes].any()
        np.testing.assert_allclose(holed[known], whole[known], rtol=0, atol=1e-9)
    lost = lagged_temperature(steady, conductance, capacity, np.nan)
    known = ~np.isnan(lost)
    from_start = lagged_temperature(steady, conductance, capacity, 20.0)
    np.testing.assert_allclose(lost[known], from_start[known], rtol=0, atol=1e-9)


def test_a_light_deck_is_known_again_at_once_and_a_heavy_one_within_days() -> None:
    steady = np.full(72, 20.0)
    steady[10] = np.nan
    light = np.isnan(lagged_temperature(steady, 18.0, 5e3))
    assert list(np.flatnonzero(light)) == [10, 11]
    heavy = np.isnan(lagged_temperature(steady, 18.0, 230e3))
    assert heavy.sum() < 36
    assert not heavy[46:].any()


def test_lag_of_nothing() -> None:
    assert lagged_temperature([], [], 60e3).shape == (0,)
    assert np.isnan(lagged_temperature([np.nan] * 3, 10.0, 60e3, 5.0)).all()
