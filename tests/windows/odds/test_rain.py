"""The chance of no rain: a table of twenty numbers, every course of a chain, and laws."""

from fractions import Fraction
from itertools import product

import numpy as np
import plain_odds as plain
import pytest
from hypothesis import given
from hypothesis import strategies as st

from windows.odds.rain import Periods, both, chain_factors, chain_persistence, products

ROUNDING = 1e-12
"""Some dozens of products of doubles of about 1: their rounding is below 1e-14."""

probs = st.one_of(st.floats(0, 1), st.sampled_from([0.0, 0.1, 0.5, 1.0]))
some_probs = st.lists(probs, min_size=1, max_size=12)
periods = st.lists(st.tuples(probs, st.sampled_from([1, 1, 3, 6])), min_size=1, max_size=6)


def one(hours):
    return np.array([0]), np.array([hours])


def hourly(values):
    return Periods.of(np.array(values, dtype=float), np.ones(len(values)))


def laid(given):
    """Periods on rows."""
    return Periods.of(
        np.repeat([p for p, _ in given], [h for _, h in given]).astype(float),
        np.repeat([h for _, h in given], [h for _, h in given]).astype(float),
    )


def chain(values, persistence):
    values = np.array(values, dtype=float)
    return float(np.prod(chain_factors(values, np.array(persistence))))


# --- the table ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("p", "hours"), plain.TABLE)
def test_the_table_of_twenty_numbers(p, hours, outside):
    table = hourly([p] * hours)
    chains = [
        table.chain(np.full(hours, persistence), *one(hours)) for persistence in plain.PERSISTENCES
    ]
    dry = [table.dependent(*one(hours)), *chains, table.independent(*one(hours))]
    outside.equal(
        "chances of rain, independent, chained and dependent hours",
        tuple(round(1 - float(each[0]), 2) for each in dry), plain.TABLE[p, hours],
        source="a published table of the same formulas, to 0.01",
    )  # fmt: skip
    closed = [1 - plain.constant_chain(p, persistence, hours) for persistence in plain.PERSISTENCES]
    assert tuple(round(each, 2) for each in closed) == plain.TABLE[p, hours][1:4]


# --- the plain reference itself -------------------------------------------------------------------


def test_every_course_of_the_plain_chain_gives_each_hour_its_probability():
    """All 2^n courses, in fractions: chances add up to 1, every hour is as wet as told."""
    some = [Fraction(1, 10), Fraction(3, 10), Fraction(1, 5), Fraction(1, 20), Fraction(9, 10)]
    for persistence in (Fraction(1, 10), Fraction(13, 20), Fraction(1)):
        found = plain.courses(some, persistence)
        assert sum(found.values()) == 1
        assert min(found.values()) >= 0
        for k, p in enumerate(some):
            assert sum(chance for course, chance in found.items() if course[k]) == p


def test_the_plain_chain_persists_as_asked_where_that_is_possible():
    found = plain.courses([Fraction(1, 10)] * 4, Fraction(13, 20))
    wet_wet = sum(chance for course, chance in found.items() if course[1] and course[2])
    assert wet_wet / Fraction(1, 10) == Fraction(13, 20)


def test_the_plain_chain_is_the_closed_formula_for_one_probability():
    fifth, half = Fraction(1, 5), Fraction(1, 2)
    for p, persistence in product((fifth, fifth / 4), (half, 4 * fifth)):
        after_dry = p * (1 - persistence) / (1 - p)
        assert plain.chain([p] * 6, persistence) == (1 - p) * (1 - after_dry) ** 5


def test_the_plain_chain_is_what_a_simulation_of_it_gives(outside):
    some = [0.1, 0.3, 0.2, 0.05, 0.4, 0.4]
    runs = 40_000
    share = plain.simulated_chain(some, 0.65, runs, seed=1)
    chance = plain.chain(some, 0.65)
    error = (chance * (1 - chance) / runs) ** 0.5
    outside.agree(
        "dry chance of the plain chain, in standard errors", chance / error, share / error,
        within=4, unit="", source="a simulation of 40,000 runs",
    )  # fmt: skip


# --- the fast chain -------------------------------------------------------------------------------


@given(st.lists(probs, min_size=1, max_size=8), st.floats(0, 1))
def test_the_chain_is_the_plain_one(outside, values, persistence):
    outside.agree(
        "chain with changing chances", chain(values, persistence),
        float(plain.chain(values, persistence)), within=1e-9, unit="",
        source="every course counted out, tests/plain_odds.py", why="rounding",
    )  # fmt: skip


@given(st.floats(0, 0.99), st.floats(0, 1), st.integers(1, 40))
def test_with_one_probability_the_chain_is_the_closed_formula(p, persistence, hours):
    persistence = max(p, persistence)
    closed = plain.constant_chain(p, persistence, hours)
    assert chain([p] * hours, persistence) == pytest.approx(closed, abs=ROUNDING)


@given(some_probs, st.floats(0, 1))
def test_the_chain_lies_between_the_bounds(values, persistence):
    found = chain(values, persistence)
    assert plain.independent(values) - ROUNDING <= found <= plain.dependent(values) + ROUNDING
    assert found >= 1 - sum(values) - ROUNDING  # rain that excludes itself is the least of all


@given(some_probs, st.floats(0, 1))
def test_more_hours_are_never_likelier_dry(values, persistence):
    count = len(values)
    table = hourly(values)
    starts, ends = np.zeros(count, dtype=int), np.arange(1, count + 1)
    for found in (
        table.chain(np.full(count, persistence), starts, ends),
        table.independent(starts, ends),
        table.dependent(starts, ends),
    ):
        assert (np.diff(found) <= 0).all()


@given(some_probs, st.floats(0, 1), st.floats(0, 1))
def test_more_persistence_is_never_wetter(values, one_share, other):
    less, more = sorted((one_share, other))
    assert chain(values, less) <= chain(values, more) + ROUNDING


@given(st.floats(0, 1), st.integers(1, 24))
def test_the_ends_of_persistence_are_the_bounds(p, hours):
    """At p11 = 1 exactly, at p11 = p to the rounding of a power."""
    assert chain([p] * hours, 1.0) == 1 - p
    assert chain([p] * hours, p) == pytest.approx((1 - p) ** hours, abs=ROUNDING)


@given(some_probs)
def test_without_persistence_the_chain_is_independent(values):
    assert chain(values, 0.0) == pytest.approx(plain.independent(values), abs=1e-9)


@given(some_probs, st.floats(0, 1))
def test_persistence_is_kept_where_both_chances_are_probabilities(values, persistence):
    values = np.array(values)
    kept = chain_persistence(values, np.array(persistence))
    assert ((kept >= values[1:]) & (kept <= 1)).all()
    factors = chain_factors(values, np.array(persistence))
    assert ((factors >= 0) & (factors <= 1)).all()


def test_a_persistence_that_is_not_known_leaves_the_chain_unknown():
    assert np.isnan(chain([0.1, 0.2], np.nan))
    assert chain([0.1], np.nan) == 0.9


# --- periods --------------------------------------------------------------------------------------


def test_a_period_counts_once_however_many_of_its_hours_are_met():
    table = laid([(0.4, 6), (0.3, 6)])
    starts, ends = np.array([0, 0, 2, 5]), np.array([6, 12, 8, 7])
    assert table.independent(starts, ends).tolist() == pytest.approx([0.6, 0.42, 0.42, 0.42])
    assert table.in_one(starts, ends).tolist() == [True, False, False, False]


def test_the_most_of_a_part_of_a_period():
    table = laid([(0.6, 6), (0.2, 6)])
    starts = np.array([0, 0, 0, 0, 1, 5, 5])
    ends = np.array([6, 5, 3, 1, 4, 12, 7])
    # 6 of 6 hours; 5 and 3 of 6: half; 1 of 6; 3 of 6; the second whole, of the first a sixth.
    expected = [0.4, 0.7, 0.7, 0.9, 0.7, 0.8, 1 - 0.1]
    assert table.dependent(starts, ends).tolist() == pytest.approx(expected)


def test_half_a_period_is_at_least_half_as_wet_where_no_hour_is_drier_than_the_others():
    """It rains in the period with 3/5: in one hour, each as likely, or in all of them."""
    p = Fraction(3, 5)
    for in_one_hour in (Fraction(0), Fraction(1, 2), Fraction(1)):
        ways = [({k}, p * in_one_hour / 6) for k in range(6)]
        ways.append((set(range(6)), p * (1 - in_one_hour)))
        wet_half = sum(chance for wet, chance in ways if wet & {0, 1, 2})
        assert p / 2 <= wet_half <= p


@given(periods, st.data())
def test_periods_are_those_of_the_plain_reference(outside, given_periods, data):
    table = laid(given_periods)
    size = table.rain_prob.size
    first = data.draw(st.integers(0, size - 1))
    end = data.draw(st.integers(first + 1, size))
    span = np.array([first]), np.array([end])

    def share(before_h, length_h):
        return 0.3 + 0.05 * before_h + 0.01 * length_h

    lengths = [h for _, h in given_periods]
    persistence = np.full(size, np.nan)
    begins = np.flatnonzero(table.begins)
    assert begins.size == len(lengths)
    for row, before_h, length_h in zip(begins[1:], lengths, lengths[1:], strict=False):
        persistence[row] = share(before_h, length_h)
    low, high = plain.bounds(given_periods, first, end)
    found = float(table.chain(persistence, *span)[0])
    outside.agree(
        "chance of periods of several hours: bounds",
        [float(table.independent(*span)[0]), float(table.dependent(*span)[0])], [low, high],
        within=ROUNDING, unit="", source="a plain reference, tests/plain_odds.py", why="rounding",
    )  # fmt: skip
    outside.agree(
        "the same: estimate", found, plain.estimate(given_periods, first, end, share),
        within=1e-9, unit="", source="a plain reference, tests/plain_odds.py", why="rounding",
    )  # fmt: skip
    assert low - ROUNDING <= found <= high + ROUNDING
    assert bool(table.in_one(*span)[0]) == (len(plain.met(given_periods, first, end)) == 1)


@given(periods, st.data())
def test_longer_spans_are_never_likelier_dry(given_periods, data):
    table = laid(given_periods)
    size = table.rain_prob.size
    first = data.draw(st.integers(0, size - 1))
    ends = np.arange(first + 1, size + 1)
    starts = np.full(ends.size, first)
    persistence = np.full(size, 0.6)
    for found in (
        table.independent(starts, ends),
        table.dependent(starts, ends),
        table.chain(persistence, starts, ends),
    ):
        assert (np.diff(found) <= 0).all()


@given(periods, st.data())
def test_an_unknown_probability_makes_every_span_with_it_unknown(given_periods, data):
    table = laid(given_periods)
    size = table.rain_prob.size
    hole = data.draw(st.integers(0, size - 1))
    values = table.rain_prob.copy()
    values[hole] = np.nan
    holed = Periods.of(values, table.length_h)
    starts, ends = np.triu_indices(size)
    ends = ends + 1
    known = holed.known(starts, ends)
    assert not known[(starts <= hole) & (hole < ends)].any()
    persistence = np.full(size, 0.6)
    for before, after in (
        (table.independent(starts, ends), holed.independent(starts, ends)),
        (table.dependent(starts, ends), holed.dependent(starts, ends)),
        (table.chain(persistence, starts, ends), holed.chain(persistence, starts, ends)),
    ):
        assert (np.isnan(after) == ~known).all()
        assert (before[known] == after[known]).all()


def test_periods_after_a_hole_are_unknown_until_a_new_one_surely_begins():
    """Of rows 1 to 5 nobody knows whether 1 to 3 are one period, or 1 and 2, or 1 alone."""
    told = np.array([np.nan, 0.5, 0.5, 0.5, 0.5, 0.5, 0.2, 0.2, 0.2, 0.1, 0.1])
    length = np.array([3.0] * 9 + [1.0] * 2)
    table = Periods.of(told, length)
    assert np.isnan(table.rain_prob).tolist() == [True] * 6 + [False] * 5
    assert np.flatnonzero(table.begins[6:]).tolist() == [0, 3, 4]
    hourly_again = Periods.of(np.array([np.nan, 0.5, 0.5]), np.ones(3))
    assert np.isnan(hourly_again.rain_prob).tolist() == [True, False, False]
    no_length = Periods.of(np.array([0.5, 0.5]), np.array([np.nan, 1.0]))
    assert np.isnan(no_length.rain_prob).tolist() == [True, False]


def test_products_of_no_row_and_of_the_last():
    values = np.array([0.5, 0.0, 0.25])
    assert products(values, np.array([0, 3, 2, 0]), np.array([0, 3, 3, 3])).tolist() == [
        1.0, 1.0, 0.25, 0.0,
    ]  # fmt: skip
    assert products(values, np.array([], dtype=int), np.array([], dtype=int)).tolist() == []


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_bounds_of_two_things_hold_the_independent_answer(chance, width, other):
    low, high = chance * width, chance
    least, most = both(np.array(low), np.array(high), np.array(other))
    assert least - ROUNDING <= low * other
    assert high * other <= most + ROUNDING


def test_bounds_of_two_things_are_reached():
    """Of ten equal cases 8 have the one and 7 the other: 5 to 7 have both."""
    shared = [len(set(range(8)) & {(k + shift) % 10 for k in range(7)}) for shift in range(10)]
    least, most = both(np.array(0.8), np.array(0.8), np.array(0.7))
    assert (round(float(least), 9), float(most)) == (min(shared) / 10, max(shared) / 10)
