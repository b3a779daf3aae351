"""The scans against a plain loop over the hours; 1e-9 allows for a different order of adding."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cure_models.arrays import FloatArray
from cure_models.recurrence import clipped_sum, relax

LENGTHS = [0, 1, 2, 23, 25, 1000]
LEADS: list[tuple[int, ...]] = [(), (3,), (2, 2)]


def loop_relax(
    decay: FloatArray, target: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    state, states = start.copy(), np.empty(decay.shape)
    for k in range(decay.shape[-1]):
        states[..., k] = state
        state = target[..., k] + (state - target[..., k]) * decay[..., k]
    return states, state


def loop_clip(
    gain: FloatArray, loss: FloatArray, capacity: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    state, states = start.copy(), np.empty(gain.shape)
    for k in range(gain.shape[-1]):
        states[..., k] = state
        state = np.maximum(0.0, np.minimum(capacity, state + gain[..., k]) - loss[..., k])
    return states, state


@pytest.mark.parametrize("lead", LEADS)
@pytest.mark.parametrize("hours", LENGTHS)
@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_relax_equals_a_loop(lead: tuple[int, ...], hours: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    decay = rng.uniform(0.0, 1.0, (*lead, hours)) ** rng.choice([0.02, 1.0, 20.0])
    decay[rng.random(decay.shape) < 0.1] = rng.choice([0.0, 1.0])
    target, start = rng.normal(15.0, 20.0, (*lead, hours)), rng.normal(15.0, 20.0, lead)
    states, final = relax(decay, target, start)
    wanted, last = loop_relax(decay, target, np.asarray(start))
    assert states.shape == (*lead, hours)
    np.testing.assert_allclose(states, wanted, rtol=0, atol=1e-9)
    np.testing.assert_allclose(final, last, rtol=0, atol=1e-9)


@pytest.mark.parametrize("lead", LEADS)
@pytest.mark.parametrize("hours", LENGTHS)
@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_clipped_sum_equals_a_loop(lead: tuple[int, ...], hours: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    gain = rng.gamma(0.5, 1.0, (*lead, hours)) * (rng.random((*lead, hours)) < rng.random())
    loss = rng.gamma(1.0, 0.5, (*lead, hours)) * rng.choice([0.05, 1.0, 5.0])
    capacity = rng.uniform(0.0, 3.0, (*lead, 1))
    start = rng.uniform(0.0, 1.0, lead) * capacity[..., 0]
    states, final = clipped_sum(gain, loss, capacity, start)
    wanted, last = loop_clip(gain, loss, capacity[..., 0], np.asarray(start))
    assert states.shape == (*lead, hours)
    np.testing.assert_allclose(states, wanted, rtol=0, atol=1e-9)
    np.testing.assert_allclose(final, last, rtol=0, atol=1e-9)


@settings(max_examples=50, deadline=None)
@given(
    rows=st.lists(
        st.tuples(st.floats(0, 5), st.floats(0, 5), st.floats(0, 1), st.floats(-50, 90)),
        max_size=40,
    ),
    capacity=st.floats(0, 4),
)
def test_both_equal_a_loop_on_awkward_numbers(
    rows: list[tuple[float, float, float, float]], capacity: float
) -> None:
    gain, loss, decay, target = np.array(rows).reshape(-1, 4).T
    start, most = np.asarray(capacity / 2), np.asarray(capacity)
    np.testing.assert_allclose(
        clipped_sum(gain, loss, capacity, start)[0],
        loop_clip(gain, loss, most, start)[0],
        rtol=0,
        atol=1e-9,
    )
    np.testing.assert_allclose(
        relax(decay, target, 5.0)[0],
        loop_relax(decay, target, np.asarray(5.0))[0],
        rtol=0,
        atol=1e-9,
    )


def test_inputs_broadcast() -> None:
    states, final = relax(0.5, np.zeros(3), [8.0, 16.0])
    np.testing.assert_allclose(states, [[8, 4, 2], [16, 8, 4]])
    np.testing.assert_allclose(final, [1, 2])


def test_a_store_runs_over_and_runs_dry() -> None:
    # 1 + 3 runs over at 2; less 1; less 5 runs dry; and 2 - 1.
    states, final = clipped_sum([3.0, 0.0, 0.0, 2.0], [0.0, 1.0, 5.0, 1.0], 2.0, 1.0)
    np.testing.assert_allclose(states, [1, 2, 1, 0])
    assert final == 1.0


def test_no_hours_leave_the_start_as_it_is() -> None:
    for states, final in (
        relax(np.zeros((2, 0)), np.zeros((2, 0)), [8.0, 16.0]),
        clipped_sum(np.zeros((2, 0)), np.zeros((2, 0)), 99.0, [8.0, 16.0]),
    ):
        assert states.shape == (2, 0)
        np.testing.assert_array_equal(final, [8, 16])


def test_an_unknown_target_stays_unknown() -> None:
    states, final = relax([0.5, 0.5, 0.0], [1.0, np.nan, 3.0], 1.0)
    np.testing.assert_array_equal(states, [1.0, 1.0, np.nan])
    assert np.isnan(final)
