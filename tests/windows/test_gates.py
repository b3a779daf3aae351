"""Gates on hand-worked hours: limits at equality, the three answers, and holds."""

from dataclasses import fields, replace

import numpy as np
import pytest
from mild_hour import MILD

from cure_models import coating_names, load_profile
from cure_models.coating import resolve
from windows.conditions import Conditions
from windows.gates import (
    State,
    check,
    check_coating,
    combine,
    deadlines,
    gate_quantities,
    margin,
)

OK, UNKNOWN, BLOCKED = State.OK, State.UNKNOWN, State.BLOCKED
NAN = float("nan")


def mild(hours, **given):
    """Conditions of hours in which everything is fine, but for what is given."""
    assert set(MILD) == {f.name for f in fields(Conditions)} - {"absent"}
    if "cure_rate" in given:
        given = {"cure_rate_late": given["cure_rate"]} | given
    arrays = {
        name: np.broadcast_to(np.asarray(given.get(name, value), dtype=np.float64), hours)
        for name, value in MILD.items()
    }
    return Conditions(**arrays, absent=frozenset())


def coating(*gates, rain_safe=3.0, clock_min=None, hold_h=None):
    """An acrylic with some of its gates only, and one milestone."""
    whole = resolve(load_profile("acrylic"))
    kept = tuple(
        replace(g, clock_h=hold_h) if hold_h and g.clock_h else g
        for g in whole.gates
        if g.name in gates
    )
    assert {g.name for g in kept} == set(gates)
    return replace(
        whole,
        gates=kept,
        first_stage_h=0.0,
        milestones={"rain_safe": rain_safe, "dew_safe": 2.0},
        milestone_clock_min_h={"rain_safe": clock_min} if clock_min else {},
    )


def hold(rain, rate, **options):
    """States of the rain hold in each hour."""
    conditions = mild(len(rain), rain_most_mm=rain, cure_rate=rate)
    return check_coating(coating("no_rain", **options), conditions).gates["no_rain"].tolist()


@pytest.mark.parametrize("name", ["spread_min", "humidity_max", "no_rain", "air_temp_max"])
def test_limits_at_equality(name):
    (gate,) = (g for g in resolve(load_profile("acrylic")).gates if g.name == name)
    low, high = np.nextafter(gate.limit, -np.inf), np.nextafter(gate.limit, np.inf)
    found = check(np.array([low, gate.limit, high, NAN]), gate).tolist()
    expected = {
        "spread_min": [BLOCKED, OK, OK, UNKNOWN],
        "humidity_max": [OK, OK, BLOCKED, UNKNOWN],
        "air_temp_max": [OK, OK, BLOCKED, UNKNOWN],
        "no_rain": [OK, BLOCKED, BLOCKED, UNKNOWN],  # at the threshold it rains
    }
    assert found == expected[name]


def test_a_value_equal_to_the_limit_of_the_sheet_passes_in_any_unit():
    """40 degF, read in degF, rounded as every condition is, is not below a limit of 40 degF."""
    failing = set()
    for name in coating_names():
        for limits in ("generic", "careful"):
            coating = resolve(load_profile(name), limits=limits)
            for gate in coating.gates:
                end = "value"
                if limits == "careful":
                    end = "hi" if gate.rule.sense == "min" else "lo"
                value = np.round(np.array([gate.sourced.end(end)]), 4)
                expected = OK if gate.rule.inclusive else BLOCKED
                if check(value, gate) != [expected]:
                    failing.add((name, limits, gate.name))
    assert not failing


def test_an_exclusive_least_value():
    (gate,) = (g for g in resolve(load_profile("acrylic")).gates if g.name == "spread_min")
    strict = replace(gate, rule=replace(gate.rule, inclusive=False), limit=3.0)
    assert check(np.array([2.9, 3.0, 3.1]), strict).tolist() == [BLOCKED, BLOCKED, OK]


def test_infinite_values_are_known():
    (gate,) = (g for g in resolve(load_profile("acrylic")).gates if g.name == "spread_min")
    assert check(np.array([-np.inf, np.inf]), gate).tolist() == [BLOCKED, OK]


def test_states_take_a_byte_an_hour():
    """Thirty years of hours at a hundred sites are held at once."""
    checked = check_coating(coating("spread_min", "no_rain"), mild(6))
    assert {name: s.dtype for name, s in checked.gates.items()} == {
        "spread_min": np.int8, "no_rain": np.int8,
    }  # fmt: skip
    assert checked.state.dtype == np.int8


def test_margin_is_positive_on_the_good_side():
    gates = {g.name: g for g in resolve(load_profile("acrylic")).gates}
    assert margin(np.array([12.0]), replace(gates["air_temp_min"], limit=10.0)) == [2.0]
    assert margin(np.array([12.0]), replace(gates["air_temp_max"], limit=10.0)) == [-2.0]


def test_combining():
    one, other = (x.ravel() for x in np.meshgrid(list(State), list(State)))
    found = dict(zip(zip(one.tolist(), other.tolist(), strict=True),
                     combine(one, other).tolist(), strict=True))  # fmt: skip
    assert found == {
        (OK, OK): OK,
        (OK, UNKNOWN): UNKNOWN,
        (OK, BLOCKED): BLOCKED,
        (UNKNOWN, OK): UNKNOWN,
        (UNKNOWN, UNKNOWN): UNKNOWN,
        (UNKNOWN, BLOCKED): BLOCKED,
        (BLOCKED, OK): BLOCKED,
        (BLOCKED, UNKNOWN): BLOCKED,
        (BLOCKED, BLOCKED): BLOCKED,
    }


def test_hold_covers_the_placement_hour_and_all_up_to_the_milestone():
    # Three hours of cure from the end of hour h: safe at h + 4, so hours h to h + 3 count.
    rain = [0, 0, 0, 0, 0, 1.0, 0, 0, 0, 0, 0, 0]
    states = hold(rain, 1.0)
    assert states[:9] == [OK, OK, BLOCKED, BLOCKED, BLOCKED, BLOCKED, OK, OK, OK]
    assert states[9:] == [UNKNOWN] * 3  # the data end before they are safe


def test_milestone_inside_an_hour_holds_that_hour_too():
    # Rate 2: three hours of cure take 1.5 h, so the hold ends in hour h + 2.
    assert hold([0, 0, 1.0, 0, 0, 0], 2.0)[:4] == [BLOCKED, BLOCKED, BLOCKED, OK]


def test_data_that_end_exactly_at_the_milestone_are_enough():
    assert hold([0, 0, 0, 0], 1.0) == [OK, UNKNOWN, UNKNOWN, UNKNOWN]


def test_a_hold_whose_end_is_unknown():
    rate = [1, 1, NAN, 1, 1, 1, 1, 1]
    dry = [0.0] * 8
    assert hold(dry, rate)[:3] == [UNKNOWN, UNKNOWN, OK]
    # Rain in the hour before the gap, or in the gap's own hour, is surely inside the hold.
    assert hold([0, 1, 0, 0, 0, 0, 0, 0], rate)[0] == BLOCKED
    assert hold([0, 0, 1, 0, 0, 0, 0, 0], rate)[0] == BLOCKED
    # After the gap nobody knows whether the film was still at risk.
    assert hold([0, 0, 0, 1, 0, 0, 0, 0], rate)[0] == UNKNOWN


def test_known_rain_wins_over_unknown_rain_in_the_same_hold():
    assert hold([0, NAN, 1, 0, 0, 0], 1.0)[0] == BLOCKED
    assert hold([0, NAN, 0, 0, 0, 0], 1.0)[0] == UNKNOWN
    assert hold([NAN, 0, 0, 0, 0, 0], 1.0)[0] == UNKNOWN
    assert hold([0, 0, 0, 0, NAN, 0], 1.0)[0] == OK  # after the hold


def test_rain_before_the_end_of_the_data_blocks_all_the_same():
    assert hold([0, 0, 1.0], 0.1) == [BLOCKED, BLOCKED, BLOCKED]
    assert hold([0, 1.0, 0], 0.1) == [BLOCKED, BLOCKED, UNKNOWN]


def test_a_clock_minimum_is_certain_whatever_the_cure_does():
    rate = [1, NAN, 1, 1, 1, 1, 1, 1]
    # From h + 1 four hours by the clock: hours 0 to 4 are inside for a film placed in hour 0.
    inside, outside = ([0.0] * 8 for _ in range(2))
    inside[4] = outside[5] = 1.0
    assert hold(inside, rate)[0] == UNKNOWN  # by cure alone nobody knows
    assert hold(inside, rate, clock_min=4.0)[0] == BLOCKED
    assert hold(outside, rate, clock_min=4.0)[0] == UNKNOWN
    # And it lengthens a known hold.
    assert hold(inside, 3.0)[0] == OK
    assert hold(inside, 3.0, clock_min=4.0)[0] == BLOCKED
    assert hold(outside, 3.0, clock_min=4.0)[0] == OK
    assert hold(inside, 3.0, clock_min=3.5)[0] == BLOCKED  # half of hour 4 counts


def test_clock_holds_count_from_the_start_of_placement():
    surface = [5, 5, 5, -1, 5, 5, 5, 5]
    conditions = mild(8, film_temp_c=surface, cure_rate=NAN)
    gates = check_coating(coating("no_freeze", hold_h=3.0), conditions).gates
    # Hours h, h + 1, h + 2; the cure, here unknown, has no say. From hour 6 on the data end.
    assert gates["no_freeze"].tolist() == [
        OK, BLOCKED, BLOCKED, BLOCKED, OK, OK, UNKNOWN, UNKNOWN,
    ]  # fmt: skip


def test_rising_holds_the_limit_of_the_least_air_temperature():
    air = [12, 12, 12, 9, 12, 12, 12, 12]
    conditions = mild(8, air_temp_c=air)
    checked = check_coating(coating("air_temp_min", "rising", hold_h=2.0), conditions)
    assert [g.limit for g in checked.coating.gates] == pytest.approx([10.0, 10.0])
    assert checked.gates["air_temp_min"].tolist() == [OK, OK, OK, BLOCKED, OK, OK, OK, OK]
    assert checked.gates["rising"].tolist() == [
        OK, OK, BLOCKED, BLOCKED, OK, OK, OK, UNKNOWN,
    ]  # fmt: skip


def test_hold_ends_are_the_first_hour_that_is_not_surely_inside():
    conditions = mild(8, cure_rate=[1, 1, 1, 1, NAN, 1, 1, 1])
    ends = check_coating(coating("no_rain"), conditions).hold_ends["no_rain"]
    #  0: hours 1, 2, 3 -> 4; 1 to 3: into the unknown hour 4; 4: hours 5, 6, 7 -> 8
    assert ends.tolist() == [4, 5, 5, 5, 8, 8, 8, 8]


def test_milestones_count_both_stages_and_their_own_clock_minimum_only():
    rates = {"cure_rate": 2.0, "cure_rate_late": 0.5}
    two = replace(
        coating("no_rain", rain_safe=1.5),
        first_stage_h=1.0, milestone_clock_min_h={"dew_safe": 4.0},
    )  # fmt: skip
    times = check_coating(two, mild(8, **rates)).milestones
    # Down at 1: one hour of cure at rate 2 until 1.5, the other half at 0.5 until 2.5.
    assert times["rain_safe"][0] == 2.5
    # Two hours of cure are there at 3.5, but four hours by the clock not before 5.
    assert times["dew_safe"][0] == 5.0
    quick = check_coating(coating("no_rain", rain_safe=1.0), mild(8, cure_rate=4.0)).milestones
    assert quick["rain_safe"][0] == 1.25  # no minimum: not even one hour


# Six hours of 1 SED each, a dose of 3 SED; the data end at 6. By the clock, dose, deadlines, due.
DEADLINES = {
    "none": ({}, None, {}, [np.inf] * 6),
    "by the clock, also past the data": (
        {"recoat_closes": 24.0}, None,
        {"recoat_closes": [24, 25, 26, 27, 28, 29]}, [24, 25, 26, 27, 28, 29],
    ),
    "by the dose, not known where the data end before it": (
        {}, 3.0, {"cover_by": [3, 4, 5, 6, NAN, NAN]}, [3, 4, 5, 6, NAN, NAN],
    ),
    "dose before the clock, also where the clock ends after the data": (
        {"cover_by": 5.0}, 3.0, {"cover_by": [3, 4, 5, 6, NAN, NAN]}, [3, 4, 5, 6, NAN, NAN],
    ),
    "clock before the dose, known where it ends with the data": (
        {"cover_by": 2.0}, 3.0, {"cover_by": [2, 3, 4, 5, 6, NAN]}, [2, 3, 4, 5, 6, NAN],
    ),
    "the earlier of two": (
        {"recoat_closes": 1.0, "cover_by": 5.0}, 3.0,
        {"recoat_closes": [1, 2, 3, 4, 5, 6], "cover_by": [3, 4, 5, 6, NAN, NAN]},
        [1, 2, 3, 4, 5, 6],
    ),
    "a dose never reached may come before a clock that ends after the data": (
        {"recoat_closes": 3.0}, 9.0,
        {"recoat_closes": [3, 4, 5, 6, 7, 8], "cover_by": [NAN] * 6}, [3, 4, 5, 6, NAN, NAN],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", DEADLINES)
def test_deadlines_by_clock_and_by_dose(case):
    by_clock, dose, expected, due = DEADLINES[case]
    foam = replace(coating(), deadlines_h=by_clock, cover_by_dose_sed=dose)
    checked = check_coating(foam, mild(6, uv_dose_sed=1.0))
    assert set(checked.deadlines) == set(expected)
    for name, times in expected.items():
        np.testing.assert_array_equal(checked.deadlines[name], times, name)
    np.testing.assert_array_equal(checked.due, due)


def test_deadlines_of_many_series_at_once():
    dose = np.array([[1.0] * 6, [3.0] * 6])
    foam = replace(coating(), deadlines_h={"cover_by": 2.0}, cover_by_dose_sed=3.0)
    found = deadlines(foam, mild((2, 6), uv_dose_sed=dose))
    np.testing.assert_array_equal(
        found["cover_by"], [[2, 3, 4, 5, 6, NAN], [1, 2, 3, 4, 5, 6]]
    )


@pytest.mark.parametrize(
    ("gates", "dose", "read"),
    [
        ((), None, set()),
        ((), 3.0, {"uv_dose_sed"}),
        (("spread_min", "no_rain"), None, {"spread_c", "rain_most_mm"}),
        (("wind_max_spray",), 3.0, {"wind_m_s", "uv_dose_sed"}),
    ],
)
def test_what_is_read(gates, dose, read):
    found = gate_quantities(replace(coating(*gates), cover_by_dose_sed=dose))
    assert found == {"cure_rate", "cure_rate_late"} | read


def test_many_series_at_once_equal_each_alone():
    rng = np.random.default_rng(3)
    shape = (2, 3, 90)
    hole = rng.random(shape) < 0.02
    series = {
        "air_temp_c": rng.normal(12, 5, shape),
        "spread_c": rng.normal(6, 4, shape),
        "surface_temp_c": rng.normal(8, 6, shape),
        "rain_most_mm": rng.choice([0.0, 0.1, 2.0], size=shape, p=[0.93, 0.02, 0.05]),
        "cure_rate": np.where(hole, NAN, rng.choice([0.0, 0.5, 1.7], size=shape)),
        "rel_humidity": np.where(hole, NAN, rng.uniform(0.3, 1.0, shape)),
    }
    whole = resolve(load_profile("acrylic"))
    together = check_coating(whole, mild(shape, **series))
    assert set(np.unique(together.state)) == set(State)
    for i, j in np.ndindex(2, 3):
        alone = check_coating(whole, mild(90, **{n: v[i, j] for n, v in series.items()}))
        assert np.array_equal(together.state[i, j], alone.state)
        for name, states in alone.gates.items():
            assert np.array_equal(together.gates[name][i, j], states), name
        for name, times in alone.milestones.items():
            np.testing.assert_array_equal(together.milestones[name][i, j], times)
        for name, end in alone.hold_ends.items():
            assert np.array_equal(together.hold_ends[name][i, j], end), name
