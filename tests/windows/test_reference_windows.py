"""The slow reference against cases worked out by hand, and the weather file that feeds it."""

import math
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import nyc_weather
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_windows import BLOCKED, OK, UNKNOWN, evaluate

NAN = math.nan
START = datetime(2024, 6, 3, tzinfo=UTC)  # a Monday
LETTER = {OK: "o", BLOCKED: "b", UNKNOWN: "u"}
WORKWEEK = {"zone": "UTC", "start": "07:00", "end": "17:00", "weekdays": {0, 1, 2, 3, 4}}


def at(hour, minute=0, second=0):
    return START + timedelta(hours=hour, minutes=minute, seconds=second)


def rows(count, start=START, **columns):
    """Good weather (20 degC, dry, one hour of cure per hour) but for the given columns."""
    good = {"air_temp_c": 20.0, "surface_temp_c": 20.0, "rain_mm": 0.0, "cure_rate": 1.0}
    table = []
    for k in range(count):
        row = {"time_utc": start + timedelta(hours=k), **good}
        row.update({name: values[k] for name, values in columns.items()})
        table.append(row)
    return table


def letters(states):
    return "".join(LETTER[state] for state in states)


AIR_MIN = {
    "name": "air_temp_min",
    "kind": "placement",
    "quantity": "air_temp_c",
    "sense": "min",
    "limit": 10.0,
    "inclusive": True,
}
NO_RAIN = {
    "name": "no_rain",
    "kind": "hold",
    "quantity": "rain_mm",
    "sense": "max",
    "limit": 0.2,
    "inclusive": False,
    "milestone": "rain_safe",
}
NO_FREEZE = {
    "name": "no_freeze",
    "kind": "hold",
    "quantity": "surface_temp_c",
    "sense": "min",
    "limit": 0.0,
    "inclusive": True,
    "clock_h": 3.0,
}


def coating(*gates, milestones=None, clock_min=None, min_window_h=1):
    return {
        "gates": list(gates),
        "milestones": milestones or {},
        "milestone_clock_min_h": clock_min or {},
        "min_window_h": min_window_h,
    }


def milestone(count, needed, rates, clock_min=None):
    clock = {} if clock_min is None else {"m": clock_min}
    made = coating(milestones={"m": needed}, clock_min=clock)
    return evaluate(rows(count, cure_rate=rates), made)["milestones"]["m"]


def rain_hold(needed, rain, rates=None, clock_min=None):
    clock = {} if clock_min is None else {"rain_safe": clock_min}
    made = coating(NO_RAIN, milestones={"rain_safe": needed}, clock_min=clock)
    columns = {"rain_mm": rain}
    if rates is not None:
        columns["cure_rate"] = rates
    return letters(evaluate(rows(len(rain), **columns), made)["gates"]["no_rain"])


# Placement gates


@pytest.mark.parametrize(
    ("sense", "inclusive", "expected"),
    [
        ("min", True, "boou"),  # 9.9 is below, 10 is equal and good
        ("min", False, "bbou"),
        ("max", True, "oobu"),
        ("max", False, "obbu"),  # as rain: blocks at the threshold
    ],
)
def test_a_placement_gate_compares_its_own_hour(sense, inclusive, expected):
    gate = {**AIR_MIN, "sense": sense, "inclusive": inclusive}
    result = evaluate(rows(4, air_temp_c=[9.9, 10.0, 10.1, NAN]), coating(gate))
    assert letters(result["gates"]["air_temp_min"]) == expected
    assert letters(result["hour"]) == expected


# The cure clock


def test_cure_counts_from_the_end_of_the_placement_hour():
    # Rate 1, E = 2: placed in hour 0, cure runs over hours 1 and 2, reached at 03:00. The rate of
    # the placement hour does not matter. From hour 2 the two hours of cure need the data to 05:00.
    assert milestone(4, 2.0, [NAN, 1.0, 1.0, 1.0]) == [at(3), at(4), None, None]


def test_a_milestone_is_linear_inside_an_hour():
    # E = 1 from hour 0: 0.75 in hour 1, the missing 0.25 at rate 0.5 takes half of hour 2.
    # From hour 1: 0.5 in hour 2, then 0.5 at rate 2 is a quarter of hour 3.
    # From hour 2: 1 at rate 2 is half of hour 3.
    assert milestone(4, 1.0, [0.0, 0.75, 0.5, 2.0]) == [at(2, 30), at(3, 15), at(3, 30), None]


def test_a_milestone_is_the_nearest_second():
    # E = 1 at rate 3: a third of an hour = 1200 s. E = 1 at rate 7: 514.29 s -> 514 s = 8 min 34 s.
    # E = 1 at rate 1.9: 1894.74 s -> 1895 s = 31 min 35 s.
    found = milestone(4, 1.0, [0.0, 3.0, 7.0, 1.9])
    assert found == [at(1, 20), at(2, 8, 34), at(3, 31, 35), None]


def test_the_earliest_moment_counts_when_the_rate_then_stops():
    # E = 1 is complete at the end of hour 1 = 02:00, though the clock then stands still.
    # From hour 1 on, nothing cures any more: the data end first.
    assert milestone(4, 1.0, [0.0, 1.0, 0.0, 0.0]) == [at(2), None, None, None]


def test_float_dust_does_not_delay_a_milestone():
    # 0.3 + 0.3 + 0.3 < 0.9 in floats, and hour 4 is unknown.
    assert 0.3 + 0.3 + 0.3 < 0.9
    assert milestone(5, 0.9, [0.3, 0.3, 0.3, 0.3, NAN])[0] == at(4)


def test_zero_hours_are_reached_at_the_end_of_the_placement_hour():
    # Even in the last row and with an unknown rate.
    assert milestone(2, 0.0, [1.0, NAN]) == [at(1), at(2)]


def test_an_unknown_rate_before_the_milestone_makes_it_unknown():
    # E = 2. From 0: 1 h in hour 1, then hour 2 unknown. From 1: hour 2 unknown.
    # From 2: hours 3 and 4 -> 05:00. From 3: hour 4 then the end.
    assert milestone(5, 2.0, [1.0, 1.0, NAN, 1.0, 1.0]) == [None, None, at(5), None, None]
    # Reached at 02:00, before the unknown hour 2 starts.
    assert milestone(3, 1.0, [1.0, 1.0, NAN])[0] == at(2)


def test_both_the_cure_and_the_clock_minimum_must_have_passed():
    # E = 1 at rate 1 gives h + 2; the clock minimum of 2.5 h gives h + 3.5, even past the data.
    assert milestone(3, 1.0, [1.0] * 3, clock_min=2.5) == [at(3, 30), at(4, 30), None]
    # At rate 0.25 the cure (4 h) is the later one: 1 + 4 = 5 against 1 + 2.5.
    assert milestone(6, 1.0, [0.25] * 6, clock_min=2.5)[0] == at(5)


# Hold gates


def test_a_hold_runs_from_the_start_of_its_hour_until_before_the_milestone():
    # E = 2 at rate 1: tau = h + 3, so the hold is h, h+1, h+2. Rain in hour 4 of 10 blocks
    # h = 2, 3, 4 and not 1 (tau = 4: hour 4 is not before it). h = 8, 9 run past the data
    # (tau needs hours 9, 10 and 10, 11); h = 7 ends at 10, the end of the data.
    assert rain_hold(2.0, [0, 0, 0, 0, 0.2, 0, 0, 0, 0, 0]) == "oobbboo" + "ouu"


def test_rain_below_the_threshold_does_not_break_a_hold():
    # E = 1: hold is h, h+1. 0.19 in hour 1 is good, 0.2 in hour 2 blocks h = 1 and 2 only.
    assert rain_hold(1.0, [0, 0.19, 0.2, 0, 0]) == "obbou"


def test_an_hour_that_the_milestone_only_touches_is_inside():
    # E = 1.5: tau = h + 2.5, so hour h + 2 (start h + 2 < tau) is inside: rain in hour 3 blocks 1.
    # h = 3 ends at 5.5, inside hour 5 of 6.
    assert rain_hold(1.5, [0, 0, 0, 1, 0, 0]) == "obbb" + "uu"
    assert rain_hold(1.5, [0, 0, 0, 1, 0, 0, 0]) == "obbb" + "ouu"


def test_slow_cure_makes_a_hold_longer():
    # E = 1 at rate 0.25: five hours h..h+4.
    assert rain_hold(1.0, [0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0], [0.25] * 11) == "obbbbb" + "ouuuu"


def test_unknown_rain_inside_a_hold():
    # E = 1: hold is h, h+1. Hour 2 unknown: h = 1, 2 unknown; the last row runs past the data.
    assert rain_hold(1.0, [0, 0, NAN, 0, 0]) == "ouuou"
    # Known rain in hour 3 beats the unknown hour 2 for h = 2.
    assert rain_hold(1.0, [0, 0, NAN, 1, 0]) == "oubbu"


def test_an_unknown_rate_leaves_the_hours_to_it_certainly_inside():
    # E = 3, rate unknown in hour 3: no milestone for h = 0, 1, 2. Hours h..3 are inside all the
    # same, so rain in hour 3 blocks them. h = 3 has cure in hours 4, 5, 6: tau = 7, blocked by
    # its own hour.
    rates = [1, 1, 1, NAN, 1, 1, 1, 1]
    assert rain_hold(3.0, [0, 0, 0, 1, 0, 0, 0, 0], rates) == "bbbb" + "ouuu"
    # Rain in hour 4 may come after the milestone for h = 0, 1, 2: unknown, not blocked. h = 3 and 4
    # are blocked by it; h = 4 ends at 8.
    assert rain_hold(3.0, [0, 0, 0, 0, 1, 0, 0, 0], rates) == "uuubb" + "uuu"


def test_the_end_of_the_data_leaves_all_hours_inside():
    # E = 9 is never reached in 4 rows: all hours from h on are inside. Rain in hour 2 blocks
    # h = 0, 1 and 2.
    assert rain_hold(9.0, [0, 0, 1, 0]) == "bbbu"
    # The last row is inside its own hold.
    assert rain_hold(9.0, [0, 0, 0, 1]) == "bbbb"


def test_a_clock_minimum_stretches_a_hold():
    # E = 1 (h + 2) with 3 h of clock: h + 4, the hold is h..h+3. h = 6 ends at 10, past 9 rows.
    assert rain_hold(1.0, [0, 0, 0, 0, 1, 0, 0, 0, 0], clock_min=3.0) == "obbbb" + "ouuu"


def test_a_clock_minimum_is_certainly_inside_though_the_cure_is_unknown():
    # Rate unknown in hour 1. For h = 0 hours 0..1 are inside by the cure, and 0..3 by the clock
    # (before 0 + 1 + 3 = 4): rain in hour 3 blocks. Rain in hour 4 leaves it unknown.
    rates = [1, NAN, 1, 1, 1, 1, 1, 1, 1]
    assert rain_hold(1.0, [0, 0, 0, 1, 0, 0, 0, 0, 0], rates, 3.0)[0] == "b"
    assert rain_hold(1.0, [0, 0, 0, 0, 1, 0, 0, 0, 0], rates, 3.0)[0] == "u"


def test_a_clock_hold_counts_from_the_start_of_its_hour():
    # 3 clock hours: h, h+1, h+2. Frost (-0.1) in hour 4 blocks 2, 3, 4; 0.0 in hour 0 is good.
    # The last two rows run past the data (6 + 3 = 9 is the end, 7 + 3 is past it).
    surface = [0.0, 5, 5, 5, -0.1, 5, 5, 5, 5]
    result = evaluate(rows(9, surface_temp_c=surface), coating(NO_FREEZE))
    assert letters(result["gates"]["no_freeze"]) == "oobbb" + "oouu"
    # A cure rate has no say in it.
    result = evaluate(rows(9, surface_temp_c=surface, cure_rate=[NAN] * 9), coating(NO_FREEZE))
    assert letters(result["gates"]["no_freeze"]) == "oobbb" + "oouu"


def test_part_of_a_clock_hour_counts_whole():
    # 1.5 clock hours from h: hours h and h + 1; h = 3 of 5 ends at 4.5, h = 4 past the data.
    gate = {**NO_FREEZE, "clock_h": 1.5}
    result = evaluate(rows(5, surface_temp_c=[5, 5, -1, 5, 5]), coating(gate))
    assert letters(result["gates"]["no_freeze"]) == "obbou"


# Combining


def test_blocked_beats_unknown_beats_ok():
    # air:    o u b u o o  (NaN in 1 and 3, 5 degC in 2)
    # freeze: o o o b b b  (1 clock hour; frost in 3, 4 and 5)
    freeze = {**NO_FREEZE, "clock_h": 1.0}
    table = rows(6, air_temp_c=[20, NAN, 5, NAN, 20, 20], surface_temp_c=[5, 5, 5, -1, -1, -1])
    result = evaluate(table, coating(AIR_MIN, freeze))
    assert letters(result["gates"]["air_temp_min"]) == "oubuoo"
    assert letters(result["gates"]["no_freeze"]) == "ooobbb"
    assert letters(result["hour"]) == "oubbbb"


def test_a_safety_stop_overrides_the_coating():
    result = evaluate(rows(3), coating(AIR_MIN), extra=[OK, BLOCKED, UNKNOWN])
    assert letters(result["gates"]["air_temp_min"]) == "ooo"
    assert letters(result["hour"]) == "obu"


# Crew hours


def inside(crew, start, count):
    """The first and the number of hours in crew hours, per run."""
    result = evaluate(rows(count, start=start), coating(), crew)
    return [(first, int((end - first) / timedelta(hours=1))) for first, end in result["windows"]]


def test_only_whole_hours_of_work_days_count():
    # Monday 3 June to Sunday 9 June 2024, Wednesday is a holiday.
    crew = {**WORKWEEK, "holidays": {date(2024, 6, 5)}}
    days = [0, 1, 3, 4]
    assert inside(crew, START, 7 * 24) == [(at(24 * day + 7), 10) for day in days]


def test_an_hour_that_is_partly_outside_the_shift_does_not_count():
    # 07:15 to 10:45: whole hours are 08 and 09 only.
    crew = {**WORKWEEK, "start": "07:15", "end": "10:45", "holidays": set()}
    assert inside(crew, START, 24) == [(at(8), 2)]


def test_a_zone_with_a_half_hour_offset():
    # Kolkata is UTC + 5:30: 07:00-17:00 local is 01:30-11:30 UTC; whole UTC hours are 02..10.
    crew = {**WORKWEEK, "zone": "Asia/Kolkata", "holidays": set()}
    assert inside(crew, START, 24) == [(at(2), 9)]


def test_the_local_day_and_not_the_utc_day_is_the_work_day():
    # Auckland is UTC + 12 in June. Its Monday 07:00-17:00 is Sunday 19:00 to Monday 05:00 UTC.
    # Its Saturday would start on Friday 19:00 UTC: not a work day.
    crew = {**WORKWEEK, "zone": "Pacific/Auckland", "holidays": set()}
    found = inside(crew, START - timedelta(days=1), 7 * 24)
    assert found == [(at(24 * day - 5), 10) for day in range(5)]


def test_days_of_23_and_25_hours():
    crew = {
        "zone": "America/New_York",
        "start": "00:00",
        "end": "06:00",
        "weekdays": {6},
        "holidays": set(),
    }
    # 10 March 2024: 00:00 EST = 05:00 UTC; 06:00 EDT = 10:00 UTC: five hours.
    spring = datetime(2024, 3, 10, tzinfo=UTC)
    assert inside(crew, spring, 24) == [(spring + timedelta(hours=5), 5)]
    # 3 November 2024: 00:00 EDT = 04:00 UTC; 06:00 EST = 11:00 UTC: seven hours.
    autumn = datetime(2024, 11, 3, tzinfo=UTC)
    assert inside(crew, autumn, 24) == [(autumn + timedelta(hours=4), 7)]


def test_a_night_shift_belongs_to_the_day_on_which_it_starts():
    # 22:00 to 04:00, Monday to Friday, Tuesday a holiday. Monday's shift runs into Tuesday;
    # Tuesday's does not start; Friday's runs into Saturday; Sunday's does not start.
    crew = {**WORKWEEK, "start": "22:00", "end": "04:00", "holidays": {date(2024, 6, 4)}}
    days = [0, 2, 3, 4]
    assert inside(crew, START, 8 * 24)[:4] == [(at(24 * day + 22), 6) for day in days]


def test_a_shift_that_ends_when_it_starts_lasts_a_day():
    crew = {**WORKWEEK, "start": "07:00", "end": "07:00", "weekdays": {0, 1}, "holidays": set()}
    # Two shifts of a day each that meet at 07:00 on Tuesday stay two runs.
    assert inside(crew, START, 72) == [(at(7), 24), (at(31), 24)]


def test_outside_the_shift_is_blocked_though_the_weather_is_unknown():
    crew = {**WORKWEEK, "start": "01:00", "end": "03:00", "holidays": set()}
    result = evaluate(rows(4, air_temp_c=[NAN, NAN, 20, 20]), coating(AIR_MIN), crew)
    assert letters(result["hour"]) == "buob"


# Windows


def spans(pairs):
    return [
        ((a - START) // timedelta(hours=1), (b - START) // timedelta(hours=1)) for a, b in pairs
    ]


def test_windows_are_maximal_runs_that_are_long_enough():
    # o o b o o o b o o o o: with a minimum of 3 h the first run is too short.
    air = [20, 20, 5, 20, 20, 20, 5, 20, 20, 20, 20]
    result = evaluate(rows(11, air_temp_c=air), coating(AIR_MIN, min_window_h=3))
    assert spans(result["windows"]) == [(3, 6), (7, 11)]
    assert result["window"] == [None] * 3 + [1] * 3 + [None] + [2] * 4
    assert result["provisional"] == []


def test_the_least_window_is_three_hours_when_nothing_is_said():
    made = coating(AIR_MIN)
    del made["min_window_h"]
    assert evaluate(rows(2), made)["windows"] == []
    assert spans(evaluate(rows(3), made)["windows"]) == [(0, 3)]


def test_unknown_hours_make_provisional_runs_and_never_windows():
    # o u o b o o o u b u b o o o, minimum 3: "o u o" could be a window; "o o o u" holds a window of
    # three and could be one of four; the lone "u" is too short; the last run is a plain window.
    air = [20, NAN, 20, 5, 20, 20, 20, NAN, 5, NAN, 5, 20, 20, 20]
    result = evaluate(rows(14, air_temp_c=air), coating(AIR_MIN, min_window_h=3))
    assert letters(result["hour"]) == "ouobooou" + "bub" + "ooo"
    assert spans(result["windows"]) == [(4, 7), (11, 14)]
    assert spans(result["provisional"]) == [(0, 3), (4, 8)]
    assert result["window"] == [None] * 4 + [1] * 3 + [None] * 4 + [2] * 3


def test_a_run_does_not_cross_from_one_shift_to_the_next():
    # Shifts of a day each that meet at midnight: two hours before and two after make no window of
    # three, neither OK nor provisional.
    crew = {**WORKWEEK, "start": "00:00", "end": "00:00", "holidays": set()}
    air = [5.0] * 22 + [20, 20, 20, NAN] + [5.0] * 22
    result = evaluate(rows(48, air_temp_c=air), coating(AIR_MIN, min_window_h=3), crew)
    assert (result["windows"], result["provisional"]) == ([], [])
    result = evaluate(rows(48, air_temp_c=air), coating(AIR_MIN, min_window_h=3))
    assert (spans(result["windows"]), spans(result["provisional"])) == ([(22, 25)], [(22, 26)])


def test_rows_must_be_consecutive_utc_hours():
    table = rows(4)
    with pytest.raises(ValueError, match="consecutive"):
        evaluate(table[:1] + table[2:], coating(AIR_MIN))


# What is decided stays decided


def some(*values):
    return st.sampled_from(values)


HOURS = st.lists(
    st.tuples(
        some(5.0, 20.0),  # air
        some(0.0, 0.0, 0.0, 1.0),  # rain
        some(-1.0, 5.0, 5.0),  # surface
        some(0.0, 0.25, 0.5, 1.0, 2.0),  # rate
        st.tuples(*[some(True, False, False, False)] * 4),  # which of them are missing
    ),
    min_size=1,
    max_size=14,
)


@settings(max_examples=examples(300), deadline=None)
@given(HOURS, some(0.0, 0.75, 2.0), some(None, 2.5), st.integers(min_value=0, max_value=13))
def test_missing_values_and_missing_rows_only_take_knowledge_away(hours, needed, clock, cut):
    clock_min = {} if clock is None else {"rain_safe": clock}
    made = coating(
        AIR_MIN, NO_RAIN, NO_FREEZE, milestones={"rain_safe": needed}, clock_min=clock_min
    )
    names = ("air_temp_c", "rain_mm", "surface_temp_c", "cure_rate")
    full = {name: [hour[i] for hour in hours] for i, name in enumerate(names)}
    holed = {name: [NAN if h[4][i] else h[i] for h in hours] for i, name in enumerate(names)}
    known = evaluate(rows(len(hours), **full), made)
    kept = max(1, len(hours) - cut)
    less = evaluate(rows(len(hours), **holed)[:kept], made)
    for name, states in [("hour", less["hour"]), *less["gates"].items()]:
        truth = known["hour"] if name == "hour" else known["gates"][name]
        for state, other in zip(states, truth, strict=False):
            assert state in (UNKNOWN, other)
    for moment, other in zip(
        less["milestones"]["rain_safe"], known["milestones"]["rain_safe"], strict=False
    ):
        assert moment in (None, other)


# The weather file


@pytest.mark.parametrize(
    ("origin", "count", "absent", "rain_hours", "rain_inches"),
    [("EWR", 8703, 27, 596, 43.88), ("JFK", 8706, 24, 576, 34.69), ("LGA", 8706, 24, 577, 38.14)],
)
def test_the_new_york_file_has_its_known_size_and_gaps(
    origin, count, absent, rain_hours, rain_inches
):
    assert len(nyc_weather.raw(origin)) == count
    table = nyc_weather.hours(origin)
    assert table[0]["time_utc"] == datetime(2013, 1, 1, 6, tzinfo=UTC)
    assert table[-1]["time_utc"] == datetime(2013, 12, 30, 23, tzinfo=UTC)
    steps = {b["time_utc"] - a["time_utc"] for a, b in pairwise(table)}
    assert steps == {timedelta(hours=1)}
    # The file never lacks rain in a row that it has, so unknown rain marks an absent row.
    gone = [row for row in table if math.isnan(row["rain_mm"])]
    assert len(gone) == absent == len(table) - count
    assert all(math.isnan(row[name]) for row in gone for name in nyc_weather.QUANTITIES)
    rain = [row["rain_mm"] for row in table if row["rain_mm"] > 0]
    assert len(rain) == rain_hours
    assert sum(rain) == pytest.approx(rain_inches * 25.4)
    assert min(rain) == pytest.approx(0.254)

    longest, times = [], {row["time_utc"] for row in gone}
    for first in sorted(times):
        if first - timedelta(hours=1) not in times:
            length = 1
            while first + timedelta(hours=length) in times:
                length += 1
            longest.append((length, first))
    top = max(length for length, _ in longest)
    assert [(n, first) for n, first in longest if n == top] == [
        (5, datetime(2013, 10, 26, tzinfo=UTC)),
        (5, datetime(2013, 11, 3, tzinfo=UTC)),
    ]


def test_the_new_york_file_in_the_units_of_the_project():
    table = nyc_weather.hours("EWR")
    # 39.02 degF, 26.06 degF, 59.37 %, 10.35702 mph (9 knots), 0 in, 1012 mb
    first = table[0]
    assert first["air_temp_c"] == pytest.approx(3.9)
    assert first["dew_point_c"] == pytest.approx(-3.3)
    assert first["rel_humidity"] == pytest.approx(0.5937)
    assert first["wind_m_s"] == pytest.approx(9 * 1852 / 3600, rel=1e-4)
    assert (first["rain_mm"], first["pressure_hpa"]) == (0.0, 1012.0)
    # The wind of 1048 mph is unknown; the rest of its row stays.
    bad = next(r for r in table if r["time_utc"] == datetime(2013, 2, 12, 8, tzinfo=UTC))
    assert math.isnan(bad["wind_m_s"])
    assert bad["air_temp_c"] == pytest.approx(3.9)
    for origin in nyc_weather.AIRPORTS:
        for row in nyc_weather.hours(origin):
            assert not row["wind_m_s"] > 30.0
            assert not row["rel_humidity"] > 1.0
            assert not row["dew_point_c"] > row["air_temp_c"]


def test_missing_cells_of_the_new_york_file():
    # Known rows without the value: (air, wind) per airport. Of EWR's wind one is missing and one
    # impossible.
    for origin, air, wind in [("EWR", 1, 2), ("JFK", 0, 3), ("LGA", 0, 0)]:
        there = [r for r in nyc_weather.hours(origin) if not math.isnan(r["rain_mm"])]
        assert sum(math.isnan(row["air_temp_c"]) for row in there) == air
        assert sum(math.isnan(row["wind_m_s"]) for row in there) == wind


def test_the_new_york_table_is_the_same_as_a_frame():
    frame = nyc_weather.table("JFK")
    assert frame.index.name == "time_utc"
    assert str(frame.index.tz) == "UTC"
    assert list(frame.columns) == list(nyc_weather.QUANTITIES)
    assert len(frame) == 8730
    assert int(frame["rain_mm"].isna().sum()) == 24
