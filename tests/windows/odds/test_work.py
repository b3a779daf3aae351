"""The odds of a piece of work: which rule answers, what it says, and laws that never break."""

from dataclasses import fields, replace
from fractions import Fraction
from itertools import product
from math import nan
from pathlib import Path

import numpy as np
import pandas as pd
import plain_odds as plain
import plain_site
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mild_hour import MILD
from outside import library
from scipy.stats import norm

from cure_models import load_profile
from cure_models.coating import resolve
from windows.conditions import Conditions
from windows.gates import State, check_coating
from windows.hours import check_hours
from windows.job import CheckedHours, check_job, run_job
from windows.odds.chance import Chance, Method
from windows.odds.climate import climate_of
from windows.odds.forecast_error import ForecastError, load_forecast_error
from windows.odds.work import METHODS, member_exposure, member_states, work_odds
from windows.provenance import Provenance
from windows.site import load_site
from windows.sources import read_weather

ROUNDING = 1e-12
"""Some dozens of products of doubles of about 1: their rounding is below 1e-14."""
START = pd.Timestamp("2026-05-04T12:00Z")
SITE = plain_site.site()
NO_ERROR = ForecastError(
    "none, for tests", np.array([1]), np.zeros(1), np.full(1, 1e-9), np.zeros(1), np.full(1, 1e-9)
)
"""Forecasts that come true: mild hours hold for sure."""


def case(rain_prob, *, length=None, rain_safe=1.0, gates=("no_rain",), issued=None, **given):
    """A coating checked in mild hours with these probabilities of rain.

    A coat is rain-safe ``rain_safe`` hours after the end of the hour in which it is laid.
    """
    hours = len(rain_prob)
    given = {"cure_rate_late": given.get("cure_rate", 1.0)} | given
    arrays = {
        f.name: np.broadcast_to(np.asarray(given.get(f.name, MILD[f.name]), np.float64), hours)
        for f in fields(Conditions) if f.name != "absent"
    }  # fmt: skip
    whole = resolve(load_profile("acrylic"))
    coating = replace(
        whole,
        gates=tuple(gate for gate in whole.gates if gate.name in gates),
        first_stage_h=0.0,
        milestones={"dew_safe": 2.0, "rain_safe": rain_safe},
        milestone_clock_min_h={},
    )
    assert {gate.name for gate in coating.gates} == set(gates)
    columns = {
        name: np.full(hours, MILD[name])
        for name in ("air_temp_c", "dew_point_c", "wind_m_s", "rain_mm")
    }
    columns["rain_prob"] = np.array(rain_prob, dtype=float)
    if length is not None:
        columns["rain_prob_block_h"] = np.array(length, dtype=float)
    table = check_hours(
        columns, pd.date_range(START, periods=hours, freq="h"),
        Provenance("invented", "weather.csv", kind="forecast", issued=issued),
    )  # fmt: skip
    conditions = Conditions(**arrays, absent=frozenset())
    return CheckedHours(
        SITE, coating, table, conditions, check_coating(coating, conditions), {}
    )


def odds(each, *, climate=None, error=NO_ERROR, members=None, now=START):
    """Return the odds; runs are given four times over, since few are not taken."""
    if members is not None:
        members = np.tile(members, (4, 1))
    return work_odds(each, now=now, climate=climate, error=error, member_checks=members)


@pytest.fixture(scope="module")
def climate():
    """Eleven years with rain from 18:00 to 20:00 UTC on every second day, and no other."""
    index = pd.date_range("2010-01-01T00:00Z", "2021-01-01T00:00Z", freq="h", inclusive="left")
    day = np.arange(len(index)) // 24
    wet = (index.hour >= 18) & (index.hour < 20) & (day % 2 == 0)
    names = ("air_temp_c", "dew_point_c", "wind_m_s")
    columns = {name: np.full(len(index), MILD[name]) for name in names}
    found, why = climate_of(
        check_hours(
            columns | {"rain_mm": np.where(wet, 2.0, 0.0)}, index,
            Provenance("invented", "years.csv", kind="observed"),
        )
    )  # fmt: skip
    assert why == ""
    return found


# --- the order of the rules -----------------------------------------------------------------------


def test_hourly_probabilities_give_bounds_without_years():
    """Laid in rows 1 and 2, rain-safe an hour later: rows 1 to 3 must be dry."""
    found = odds(case([0.9, 0.1, 0.2, 0.05, 0.9])).chance(1, 3)
    assert found.method is Method.BOUNDS
    assert found.low == pytest.approx(0.9 * 0.8 * 0.95)
    assert found.high == pytest.approx(0.8)
    assert found.estimate is None
    assert found.careful == found.low


def test_hourly_probabilities_give_a_chain_with_the_persistence_of_the_month(climate):
    """Of every two wet hours of the invented years one is followed by another."""
    assert climate.persistence.tolist() == [0.5] * 12
    probs = [0.1, 0.2, 0.05, 0.3]
    found = odds(case([0.9, *probs, 0.9]), climate=climate).chance(1, 4)
    assert found.method is Method.CHAIN
    assert found.estimate == pytest.approx(plain.chain(probs, 0.5))
    assert found.low < found.estimate < found.high


def test_a_month_of_which_the_persistence_is_not_known_has_bounds_only(climate):
    unknown = replace(climate, wet_before=0 * climate.wet_before)  # never any rain
    assert np.isnan(unknown.period_persistence(1, 1)).all()
    assert odds(case([0.1] * 4), climate=unknown).chance(0, 2).method is Method.BOUNDS


def test_bounds_that_are_one_are_an_estimate():
    found = odds(case([0.0, 0.3, 0.0, 0.0])).chance(0, 2)
    assert found == Chance(0.7, 0.7, 0.7, Method.BOUNDS)


def test_a_span_in_one_period_has_its_probability_once(climate):
    each = case([0.3] * 6 + [0.1] * 6, length=[6] * 12)
    for years in (None, climate):
        whole, part = odds(each, climate=years).of([0, 0], [5, 1]), odds(each).chance(0, 1)
        assert [METHODS[m] for m in whole.method] == [Method.PERIOD] * 2
        assert whole.estimate.tolist() == whole.low.tolist() == [0.7, 0.7]
        assert whole.high[0] == 0.7  # rows 0 to 5: all of it
        assert part.high == pytest.approx(1 - 0.3 / 3)  # rows 0 and 1: a third


def test_several_periods_count_once_each_and_chain_by_their_own_persistence(climate):
    each = case([0.3] * 6 + [0.1] * 6, length=[6] * 12)
    bounds = odds(each).chance(2, 8)
    assert bounds.method is Method.BOUNDS
    assert bounds.low == pytest.approx(0.7 * 0.9)
    found = odds(each, climate=climate).chance(2, 8)
    assert found.method is Method.CHAIN
    persistence = climate.period_persistence(6, 6)[4]
    assert 0 < persistence < 0.5
    assert found.estimate == pytest.approx(plain.chain([0.3, 0.1], persistence))


def test_hours_that_turn_into_periods_chain_with_the_persistence_of_the_pair(climate):
    each = case([0.2, 0.2, 0.25, 0.25, 0.25, 0.1, 0.1, 0.1], length=[1, 1, 3, 3, 3, 3, 3, 3])
    pairs = {
        (1, 1): climate.persistence[4],
        (1, 3): climate.period_persistence(1, 3)[4],
        (3, 3): climate.period_persistence(3, 3)[4],
    }
    expected = plain.estimate(
        [(0.2, 1), (0.2, 1), (0.25, 3), (0.1, 3)], 0, 7, lambda before, now: pairs[before, now]
    )
    assert odds(each, climate=climate).chance(0, 6).estimate == pytest.approx(expected)


def test_without_probabilities_the_climate_of_the_same_hours_answers(climate):
    """From 12:00 UTC: dry for sure up to 18:00, on every second day after."""
    each = case([nan] * 12)
    assert odds(each, climate=climate).chance(0, 5) == Chance(1.0, 1.0, 1.0, Method.CLIMATE)
    found = odds(each, climate=climate).chance(4, 8)  # 16:00 to 21:00
    assert found.method is Method.CLIMATE
    assert found.low == found.estimate == found.high == pytest.approx(0.5, abs=0.02)
    assert odds(each).chance(0, 5) == Chance(0.0, None, 1.0, Method.UNKNOWN)


def test_a_hole_in_the_probabilities_is_not_filled_by_the_climate(climate):
    each = case([0.1, 0.3, nan, 0.1])
    for years in (None, climate):  # the climate: dry for sure
        assert odds(each, climate=years).chance(0, 3) == Chance(0.0, None, 1.0, Method.UNKNOWN)
    assert odds(each).chance(0, 1).method is Method.BOUNDS  # rows 0 and 1 are known


def test_no_answer_where_the_end_of_the_rain_hold_is_not_known(climate):
    rate = np.ones(6)
    rate[3] = nan
    each = case([0.1] * 6, cure_rate=rate)
    for years in (None, climate):
        found = odds(each, climate=years).of([0, 1, 2, 4, 5], [1, 2, 3, 5, 6])
        methods = [METHODS[m] for m in found.method]
        # Row 2 is safe when the unknown hour has passed; the film of row 5 after the data end.
        assert [m is Method.UNKNOWN for m in methods] == [False, False, True, False, True]
        assert (found.low[2], found.high[2], found.careful[2]) == (0, 1, 0)


def test_a_coating_that_rain_does_not_harm_has_no_rain_to_fear():
    found = odds(case([0.9] * 4, gates=("air_temp_min",))).chance(0, 2)
    assert found == Chance(1.0, 1.0, 1.0, Method.BOUNDS)


def test_probabilities_are_taken_as_they_come_true():
    error = replace(
        NO_ERROR, rain_prob_told=np.array([0.0, 1.0]), rain_prob_found=np.array([0.0, 0.5])
    )
    found = odds(case([0.2, 0.4, 0.9]), error=error).chance(0, 1)
    assert (found.low, found.high) == (pytest.approx(0.9 * 0.8), pytest.approx(0.8))


def test_periods_stay_two_where_they_come_true_alike():
    error = replace(
        NO_ERROR, rain_prob_told=np.array([0.1, 0.2, 1.0]), rain_prob_found=np.full(3, 0.5)
    )
    each = case([0.2] * 2 + [0.4] * 3, length=[3] * 5)  # the first began before the table
    found = odds(each, error=error).chance(1, 2)
    assert found.low == pytest.approx(0.25)


# --- runs of an ensemble --------------------------------------------------------------------------


def runs(rain, **options):
    """Gates of a coating in runs with this rain, and the checked first of them."""
    rain = np.array(rain, dtype=bool)
    each = case(rain.mean(axis=0), **options)
    states = []
    for run in rain:
        conditions = replace(each.conditions, rain_most_mm=np.where(run, 1.0, 0.0))
        states.append(check_coating(each.coating, conditions).state)
    return each, np.array(states)


def test_independent_runs_are_the_independent_bound(outside):
    """All 4^5 ways in which five hours can each be wet in one of four cases."""
    rain = [[case == 0 for case in way] for way in product(range(4), repeat=5)]
    each, states = runs(rain)
    for after in (1, 2, 3, 4):
        by_runs = odds(each, members=states).chance(0, after)
        assert by_runs.method is Method.MEMBERS
        assert by_runs.low == by_runs.estimate == by_runs.high
        outside.equal(
            "share of runs whose hours are independent", by_runs.estimate,
            odds(each).chance(0, after).low, source="the independent bound, all 4^5 ways",
        )  # fmt: skip
        assert by_runs.estimate == 0.75 ** (after + 1)


def test_wholly_dependent_runs_are_the_dependent_bound(outside):
    """Eight runs: the wetter hour is wet in all in which the drier one is."""
    wet_in = [1, 3, 2, 0, 5, 5]
    rain = [[run < count for count in wet_in] for run in range(8)]
    each, states = runs(rain)
    for first, after in ((0, 1), (0, 3), (2, 3), (1, 5), (3, 4)):
        by_runs = odds(each, members=states).chance(first, after)
        outside.equal(
            "share of runs that are wet together", by_runs.estimate,
            odds(each).chance(first, after).high, source="the dependent bound",
        )  # fmt: skip


def test_runs_of_a_chain_are_the_chain(climate):
    """Every course of a chain with persistence 1/2 and p = 1/4, as often as it is likely."""
    courses = plain.courses([Fraction(1, 4)] * 3, Fraction(1, 2))  # wet after dry: 1/6
    counts = {course: chance * 4 * 6**2 for course, chance in courses.items()}
    assert all(count.denominator == 1 for count in counts.values())
    each, states = runs([course for course, count in counts.items() for _ in range(int(count))])
    by_runs = odds(each, members=states).chance(0, 2)
    assert by_runs.estimate == pytest.approx(odds(each, climate=climate).chance(0, 2).estimate)


def test_a_run_that_cannot_answer_counts_as_lost_and_for_the_most_as_held():
    each = case([0.25] * 6)
    states = np.zeros((4, 6), dtype=np.int8)
    states[0, 1], states[1, 2], states[2, 2] = State.BLOCKED, State.UNKNOWN, State.OK
    found = odds(each, members=states).chance(0, 3)
    assert found == Chance(0.5, 0.5, 0.75, Method.MEMBERS)


def test_few_runs_are_no_share():
    each = case([0.25] * 6)
    few = np.zeros((9, 6), dtype=np.int8)
    given = {"now": START, "climate": None, "error": NO_ERROR}
    assert work_odds(each, **given, member_checks=few).chance(0, 3) == odds(each).chance(0, 3)
    many = np.zeros((10, 6), dtype=np.int8)
    found = work_odds(each, **given, member_checks=many).chance(0, 3)
    assert found == Chance(1.0, 1.0, 1.0, Method.MEMBERS)


def test_runs_of_which_none_can_answer_leave_it_to_the_other_rules():
    each = case([0.25] * 6)
    states = np.full((4, 6), State.UNKNOWN, dtype=np.int8)
    assert odds(each, members=states).chance(0, 3) == odds(each).chance(0, 3)
    states[2, 1] = State.BLOCKED
    found = odds(each, members=states).chance(0, 3)
    assert found == Chance(0.0, 0.0, 0.75, Method.MEMBERS)


def ensemble(**members):
    """Three days of mild weather with runs, the first of which the table shows."""
    hours = 72
    index = pd.date_range(START.normalize(), periods=hours, freq="h")
    columns = {
        "air_temp_c": np.full(hours, 22.0), "dew_point_c": np.full(hours, 8.0),
        "wind_m_s": np.full(hours, 2.0), "rain_mm": np.zeros(hours), "cloud": np.full(hours, 0.3),
    }  # fmt: skip
    stacked = {name: np.array(values, dtype=float) for name, values in members.items()}
    columns |= {name: values[0] for name, values in stacked.items()}
    return check_hours(
        columns, index, Provenance("invented", "runs.csv", kind="forecast"), members=stacked
    )


def test_every_run_is_checked_as_a_table_of_its_own():
    dice = np.random.default_rng(5)
    rain = np.where(dice.random((4, 72)) < 0.03, 2.0, 0.0)
    air = 14 + 8 * dice.random((4, 1)) + 6 * np.sin(np.arange(72) / 24 * 2 * np.pi - 2.5)
    rain[1, 60] = air[2, 50] = nan
    profile = load_profile("silicone_high_solids")
    found = member_states(SITE, profile, ensemble(rain_mm=rain, air_temp_c=air), start_wet_mm=0.0)
    assert found.shape == (4, 72)
    seen = set()
    for run in range(4):
        table = ensemble(rain_mm=rain[[run]], air_temp_c=air[[run]])
        alone = member_states(SITE, profile, table, start_wet_mm=0.0)
        assert (found[run] == alone[0]).all()
        seen |= set(found[run].tolist())
    assert seen == {State.OK, State.UNKNOWN, State.BLOCKED}
    assert len({tuple(states) for states in found.tolist()}) == 4


def test_a_run_alone_is_the_check_of_the_table():
    table = ensemble(rain_mm=np.zeros((2, 72)))
    profile = load_profile("acrylic")
    by_table = check_job(SITE, profile, table, dry_film_um=300.0).checked.state
    shared = member_exposure(table, SITE)
    for exposure in (None, shared):
        found = member_states(SITE, profile, table, dry_film_um=300.0, exposure=exposure)
        assert (found == by_table).all()


def test_a_table_without_runs_has_no_states_of_runs():
    assert member_states(SITE, load_profile("acrylic"), ensemble()) is None


# --- temperature ----------------------------------------------------------------------------------

ERROR = ForecastError(
    "for tests", np.array([1, 2]), np.array([0.0, 1.0]), np.array([2.0, 3.0]),
    np.zeros(2), np.array([2.0, 4.0]),
)  # fmt: skip


def test_temperature_errors_take_their_share_of_the_chance(outside):
    """Air 20 degC, at least 10 degC is asked for: 10 K are five errors; 12 degC are one."""
    each = case([0.1] * 5, gates=("no_rain", "air_temp_min"), air_temp_c=[20, 20, 12, 20, 20])
    (gate,) = (g for g in each.coating.gates if g.name == "air_temp_min")
    assert gate.limit == 10.0
    warm = norm.cdf((12 - 10) / 2)
    found = odds(each, error=ERROR).chance(1, 3)
    bounds = odds(each).chance(1, 3)
    outside.agree(
        "bounds of rain and temperature together", [found.low, found.high],
        [bounds.low + warm - 1, min(bounds.high, warm)], within=1e-6, unit="",
        source=library("scipy", "normal error"), why="rounding",
    )  # fmt: skip
    assert odds(each, error=ERROR).chance(0, 1).high == pytest.approx(0.9)  # five errors away


def test_the_estimate_takes_rain_and_temperature_as_independent(climate):
    each = case([0.1] * 5, gates=("no_rain", "air_temp_min"), air_temp_c=[20, 20, 12, 20, 20])
    both = odds(each, error=ERROR, climate=climate).chance(1, 3)
    rain = odds(each, climate=climate).chance(1, 3)
    assert both.estimate == pytest.approx(rain.estimate * norm.cdf(1.0))


def test_lead_days_count_from_the_earlier_of_issue_and_now():
    air = [11.0] * 30
    options = {"gates": ("no_rain", "air_temp_min"), "air_temp_c": air}
    first_day, second_day = norm.cdf(1 / 2), norm.cdf((1 - 1) / 3)
    cases = (
        (None, START, first_day),
        (START - pd.Timedelta(hours=24), START, second_day),
        (None, START - pd.Timedelta(hours=24), second_day),
        (START, START - pd.Timedelta(hours=24), second_day),
        (START + pd.Timedelta(hours=2), START, first_day),
    )
    for issued, now, expected in cases:
        each = case([0.0] * 30, issued=issued, **options)
        found = odds(each, error=ERROR, now=now).chance(0, 1)
        assert found.estimate == pytest.approx(expected)


def test_a_hold_is_watched_until_its_own_end():
    """Dew-safe two hours after the hour of laying: row 3 counts for row 1, row 4 does not."""
    spread = [14.0, 14.0, 14.0, 4.0, -9.0, 14.0, 14.0, 14.0]
    each = case([0.0] * 8, gates=("no_rain", "no_dew"), film_spread_c=spread)
    (gate,) = (g for g in each.coating.gates if g.name == "no_dew")
    found = odds(each, error=ERROR).chance(1, 2)
    assert found.estimate == pytest.approx(norm.cdf((4.0 - gate.limit) / np.hypot(2.0, 2.0)))
    assert odds(each, error=ERROR).chance(2, 3).careful < 1e-3


def test_a_hold_whose_end_is_not_known_leaves_no_answer():
    """Five hours: the film of row 3 is rain-safe when the data end, and dew-safe after."""
    each = case([0.0] * 5, gates=("no_rain", "no_dew"))
    found = odds(each).of([2, 3], [3, 4])
    assert [METHODS[m] is Method.UNKNOWN for m in found.method] == [False, True]
    assert odds(case([0.0] * 5)).chance(3, 4).estimate == 1.0


def test_a_temperature_that_is_not_known_leaves_no_answer():
    each = case([0.0] * 4, gates=("no_rain", "air_temp_min"), air_temp_c=[20, nan, 20, 20])
    found = odds(each).of([0, 1, 2], [1, 2, 3])
    assert [METHODS[m] is Method.UNKNOWN for m in found.method] == [False, True, False]


def test_limits_of_both_senses_are_one_error_between_two():
    each = case([0.0] * 3, gates=("no_rain", "air_temp_min", "surface_temp_max"), air_temp_c=12.0)
    limit = {gate.name: gate.limit for gate in each.coating.gates}
    near = replace(
        each, conditions=replace(
            each.conditions, dry_surface_temp_c=np.full(3, limit["surface_temp_max"] - 3.0)
        ),
    )  # fmt: skip
    found = odds(near, error=ERROR).chance(0, 1)
    assert found.estimate == pytest.approx(norm.cdf(1.0) + norm.cdf(1.5) - 1)


# --- laws -----------------------------------------------------------------------------------------

probs = st.one_of(st.floats(0, 1), st.sampled_from([0.0, 0.1, 0.5, 1.0, nan]))
tables = st.lists(st.tuples(probs, st.sampled_from([1, 1, 3])), min_size=4, max_size=8)


def laid(given_periods, air):
    rain = [p for p, h in given_periods for _ in range(h)]
    length = [h for _, h in given_periods for _ in range(h)]
    return case(
        rain, length=length, gates=("no_rain", "air_temp_min"), air_temp_c=np.resize(air, len(rain))
    )


def all_works(hours):
    first, after = np.triu_indices(hours)
    return first, after + 1


@given(tables, st.lists(st.floats(5, 25), min_size=1, max_size=5), st.booleans())
def test_bounds_hold_the_estimate_and_longer_works_hold_no_better(climate, rain, air, with_years):
    each = laid(rain, air)
    size = len(each.hours.index)
    first, after = all_works(size)
    found = odds(each, climate=climate if with_years else None, error=ERROR).of(first, after)
    assert ((found.low >= 0) & (found.low <= found.high) & (found.high <= 1)).all()
    known = ~np.isnan(found.estimate)
    assert (found.low[known] <= found.estimate[known]).all()
    assert (found.estimate[known] <= found.high[known]).all()
    assert ((found.careful >= 0) & (found.careful <= 1)).all()
    for begin in range(size):
        rows = (first == begin) & (found.method != METHODS.index(Method.UNKNOWN))
        same = [found.method[rows] == METHODS.index(m) for m in (Method.BOUNDS, Method.CHAIN)]
        for kind in same:
            for array in (found.low, found.estimate, found.high):
                values = array[rows][kind]
                assert (np.diff(values[~np.isnan(values)]) <= ROUNDING).all()


@given(tables, st.data())
def test_an_unknown_value_never_raises_the_chance(rain, data):
    """Without years: with them, what is not known is taken from the climate, and said so."""
    each = laid(rain, [15.0])
    size = len(each.hours.index)
    first, after = all_works(size)
    before = odds(each, error=ERROR).of(first, after)
    hole = data.draw(st.integers(0, size - 1))
    what = data.draw(st.sampled_from(["rain_prob", "air_temp_c", "cure_rate"]))
    if what == "rain_prob":
        frame = each.hours.frame.copy()
        frame.iloc[hole, frame.columns.get_loc("rain_prob")] = nan
        holed = replace(each, hours=replace(each.hours, frame=frame))
    else:
        values = each.conditions.quantity(what).copy()
        values[hole] = nan
        more = {"cure_rate_late": values} if what == "cure_rate" else {}
        conditions = replace(each.conditions, **{what: values}, **more)
        holed = replace(
            each, conditions=conditions, checked=check_coating(each.coating, conditions)
        )
    less = odds(holed, error=ERROR).of(first, after)
    assert (less.careful <= before.careful + ROUNDING).all()
    assert (less.low <= before.low + ROUNDING).all()
    assert (less.high >= before.high - ROUNDING).all()


@given(st.integers(0, 2**32 - 1))
def test_an_unknown_hour_of_a_run_never_raises_its_share(seed):
    dice = np.random.default_rng(seed)
    states = dice.integers(0, 3, (6, 5)).astype(np.int8)
    each = case([0.5] * 5)
    first, after = all_works(5)
    before = odds(each, members=states).of(first, after)
    holed = states.copy()
    holed[dice.integers(6), dice.integers(5)] = State.UNKNOWN
    less = odds(each, members=holed).of(first, after)
    by_runs = less.method == METHODS.index(Method.MEMBERS)
    assert (less.careful <= before.careful)[by_runs].all()


def test_many_works_at_once_are_each_by_itself(climate):
    each = laid([(0.1, 1), (0.3, 3), (nan, 1), (0.2, 3), (0.2, 3)], [11.0, 14.0])
    found = odds(each, climate=climate, error=ERROR)
    first, after = all_works(len(each.hours.index))
    many = found.of(first, after)
    for k in range(first.size):
        assert many.at(k) == found.chance(int(first[k]), int(after[k]))
    assert found.of([], []).low.size == 0
    assert {METHODS[m] for m in many.method} >= {Method.CHAIN, Method.PERIOD, Method.UNKNOWN}


def test_a_lean_check_has_the_same_odds():
    table = ensemble(rain_prob=np.full((1, 72), 0.1))
    profile = load_profile("silicone_high_solids")
    found = [
        work_odds(
            check_job(SITE, profile, table, lean=lean), now=START, climate=None,
            error=load_forecast_error(),
        ).of(np.arange(30, 40), np.arange(33, 43))
        for lean in (False, True)
    ]  # fmt: skip
    for name in ("low", "high", "method"):
        assert (getattr(found[0], name) == getattr(found[1], name)).all()
    assert found[0].high.max() > 0


def test_bounds_of_rain_are_those_that_a_window_tells():
    """Real checks of a demo site: hourly probabilities, so both have the same two bounds."""
    folder = Path(__file__).parents[3] / "demo_sites" / "gulf_coast"
    job = run_job(
        load_site(folder / "site.toml"), load_profile("silicone_high_solids"),
        read_weather(folder / "weather.csv"),
    )  # fmt: skip
    told = {
        (window.start, window.end): window.dry_chance
        for window in job.found.windows
        if window.dry_chance is not None
    }
    assert len(told) > 3
    first, after = (job.hours.index.get_indexer([span[k] for span in told]) for k in (0, 1))
    found = odds(job).rain.of(first, after)
    expected = np.array(list(told.values()))
    assert found.low == pytest.approx(expected[:, 0], abs=ROUNDING)
    assert found.high == pytest.approx(expected[:, 1], abs=ROUNDING)


def test_a_forecast_without_a_time_of_issue_counts_from_when_it_was_fetched():
    each = case([0.1] * 6, gates=("no_rain", "air_temp_min"))
    told = each.hours.provenance
    found = []
    for times in ({"issued": START - pd.Timedelta(days=3)},
                  {"issued": None, "retrieved": START - pd.Timedelta(days=3)},
                  {"issued": None, "retrieved": None}):  # fmt: skip
        hours = replace(each.hours, provenance=replace(told, **times))
        found.append(odds(replace(each, hours=hours), error=ERROR).chance(0, 2))
    assert found[0] == found[1]
    assert found[0].careful < found[2].careful
