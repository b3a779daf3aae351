"""The cure clock on cases worked by hand: cure counts from the end of the placement hour."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cure_models.clock import milestone_time, start_clock

NAN = float("nan")


def times(rates, equivalent_h, clock_min_h=0.0):
    return milestone_time(start_clock(np.array(rates)), equivalent_h, clock_min_h)


def same(found, expected):
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-9)


def test_nothing_to_gain_is_reached_at_the_end_of_the_placement_hour():
    same(times([1, 0, 0, 1], 0.0), [1, 2, 3, 4])
    same(times([1, NAN, NAN, 1], 0.0), [1, 2, 3, 4])  # nothing unknown is needed


def test_whole_hours():
    # Placed in hour 0: hours 1 and 2 give two hours of cure. The last two rows lack data.
    same(times([9, 1, 1, 1], 2.0), [3, 4, NAN, NAN])
    same(times([9, 2, 2, 2], 4.0), [3, 4, NAN, NAN])


def test_inside_an_hour():
    same(times([1, 0.5, 0.8, 1], 0.9), [2.5, 3.1, 3.9, NAN])
    same(times([1, 4, 1], 1.0), [1.25, 3, NAN])


def test_to_the_nearest_second():
    # A third of an hour at rate 0.7: 0.47619 h is 1714.29 s.
    same(times([1, 0.7], 1 / 3), [1 + 1714 / 3600, NAN])


def test_a_milestone_reached_just_as_the_night_begins_does_not_wait_for_the_morning():
    # 0.3 + 0.3 + 0.3 is a little below 0.9 in floats; then a night of nothing.
    assert 0.3 + 0.3 + 0.3 < 0.9
    same(times([1, 0.3, 0.3, 0.3, 0, 0, 1], 0.9)[0], 4)
    same(times([1, 0.3, 0.3, 0.3, NAN], 0.9)[0], 4)
    same(times([1, 0.3, 0.3, 0.3], 0.9)[0], 4)


def test_short_of_it_before_the_night_waits_for_the_morning():
    same(times([1, 0.5, 0.4, 0, 0, 0.2], 1.0)[0], 5.5)


def test_no_cure_yet_begins_when_cure_begins():
    # Rates of zero first: the milestone is reached in the hour that brings the cure.
    same(times([1, 0, 0, 1, 1], 0.5), [3.5, 3.5, 3.5, 4.5, NAN])


def test_an_unknown_hour_hides_all_that_is_reached_after_it():
    found = times([1, 1, 1, NAN, 1, 1, 1], 2.0)
    #  placed in 0: 1, 2 -> 3 o'clock, before the gap; in 1 and 2 through it; in 3: hours 4, 5
    same(found, [3, NAN, NAN, 6, 7, NAN, NAN])


def test_the_placement_hour_itself_may_be_unknown():
    same(times([NAN, 1, 1], 1.0), [2, 3, NAN])


def test_clock_minimum():
    same(times([1, 2, 2, 2, 2], 2.0, 3.0), [4, 5, 6, 7, NAN])  # clock binds, also past the data
    same(times([1, 0.5, 0.5, 0.5, 0.5], 1.0, 0.5), [3, 4, 5, NAN, NAN])  # cure binds
    same(times([1, 1, NAN, 1], 2.0, 1.0), [NAN, NAN, NAN, NAN])  # cure unknown: so is both


def test_no_data_beyond_the_end_is_not_a_milestone():
    assert np.isnan(times([1, 1, 1], 5.0)).all()
    assert np.isnan(times([NAN, NAN], 1.0)).all()


def test_many_series_at_once_equal_each_alone():
    rng = np.random.default_rng(7)
    rates = rng.choice([0.0, 0.3, 1.0, 2.0, NAN], size=(2, 3, 60), p=[0.3, 0.2, 0.3, 0.17, 0.03])
    clock = start_clock(rates)
    assert clock.hours == 60
    for needed, least in ((0.0, 0.0), (1.7, 0.0), (4.0, 3.0)):
        together = milestone_time(clock, needed, least)
        for i, j in np.ndindex(2, 3):
            np.testing.assert_array_equal(together[i, j], times(rates[i, j], needed, least))


def plain(rates, h, needed):
    """Hours from the first row at which a loop over the hours finds the milestone."""
    gained = 0.0
    for k in range(h + 1, len(rates)):
        if np.isnan(rates[k]):
            return NAN
        if gained + rates[k] >= needed:
            return k + (needed - gained) / rates[k]
        gained += rates[k]
    return NAN


rate_lists = st.lists(
    st.one_of(st.just(0.0), st.just(NAN), st.floats(0.001, 4.0)), min_size=1, max_size=40
)


@settings(max_examples=150, deadline=None)
@given(rate_lists, st.floats(0.05, 20.0))
def test_equals_a_plain_loop(rates, needed):
    found = times(rates, needed)
    expected = np.array([plain(rates, h, needed) for h in range(len(rates))])
    # At a tie a rounding error may decide between two readings a night apart; skip those cases.
    near = np.array([plain(rates, h, needed + 1e-6) for h in range(len(rates))])
    clear = np.isnan(expected) == np.isnan(near)
    clear &= np.isnan(expected) | (np.abs(near - expected) < 0.01)
    low = np.array([plain(rates, h, needed - 1e-6) for h in range(len(rates))])
    clear &= (np.isnan(expected) == np.isnan(low)) & (
        np.isnan(expected) | (np.abs(low - expected) < 0.01)
    )
    np.testing.assert_allclose(found[clear], expected[clear], rtol=0, atol=0.51 / 3600)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.floats(0.05, 3.0), min_size=30, max_size=60),
    st.integers(1, 6),
    st.integers(1, 6),
)
def test_cure_adds_up(rates, one, other):
    """Cure gained in two steps is cure gained in one: the running sum knows no order."""
    clock = start_clock(np.array(rates))
    gained = np.array([clock.running[k] for k in (0, one, one + other)])
    assert gained[2] - gained[0] == pytest.approx(sum(rates[: one + other]))
    # With the first milestone at a whole hour, the second counts on from there.
    target = sum(rates[1 : 1 + one])
    first = milestone_time(clock, target)[0]
    assert first == pytest.approx(1 + one, abs=1 / 3600)
    second = milestone_time(clock, target + 0.7)[0]
    onward = milestone_time(clock, 0.7)[one]
    assert second == pytest.approx(onward, abs=1 / 3600)


@settings(max_examples=100, deadline=None)
@given(rate_lists, st.floats(0.0, 10.0), st.floats(0.0, 5.0))
def test_never_before_the_end_of_placement_and_later_for_more_cure(rates, needed, more):
    soon, late = times(rates, needed), times(rates, needed + more)
    known = ~np.isnan(soon)
    assert (soon[known] >= np.arange(1, len(rates) + 1)[known]).all()
    assert np.all(np.isnan(late) | (late >= soon))
    steps = np.diff(soon)
    assert np.all(np.isnan(steps) | (steps >= 0))  # placed later, cured later
