"""Windows and reasons on small tables worked by hand."""

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
from mild_hour import MILD

from cure_models import load_profile
from cure_models.coating import resolve
from windows.conditions import Conditions
from windows.crew import NO_SHIFT
from windows.gates import State, check_coating
from windows.safety import stop_label
from windows.search import search
from windows.site import SafetyStops

NAN = float("nan")
START = pd.Timestamp("2026-05-04T12:00Z")
ALL = ("air_temp_min", "spread_min", "wind_max_spray", "no_dew", "no_rain")


def at(hours):
    return START + pd.Timedelta(hours=hours)


def find(hours, *, gates=ALL, shift=None, stops=None, milestones=None, **given):
    """Search hours in which everything is fine, but for what is given."""
    if "cure_rate" in given:
        given = {"cure_rate_late": given["cure_rate"]} | given
    arrays = {
        f.name: np.broadcast_to(np.asarray(given.get(f.name, MILD[f.name]), np.float64), hours)
        for f in fields(Conditions) if f.name != "absent"
    }  # fmt: skip
    conditions = Conditions(**arrays, absent=frozenset())
    profile = load_profile("acrylic")
    generic, careful = (
        replace(
            whole,
            gates=tuple(g for g in whole.gates if g.name in gates),
            first_stage_h=0.0,
            milestones=milestones or {"dew_safe": 1.0, "rain_safe": 2.0},
        )
        for whole in (resolve(profile), resolve(profile, limits="careful"))
    )
    fine = np.zeros(hours, dtype=np.int8)
    return search(
        check_coating(generic, conditions),
        check_coating(careful, conditions),
        conditions,
        pd.date_range(START, periods=hours, freq="h"),
        np.zeros(hours, dtype=np.int64) if shift is None else np.array(shift, dtype=np.int64),
        {"wind": fine} if stops is None else stops,
        SafetyStops(),
    )


def spans(found):
    return [(w.start, w.end) for w in found]


def test_a_window_is_a_run_of_at_least_three_goes():
    air = [20] * 14
    air[2] = air[7] = 5  # goes: 0 1 | 3 4 5 6 | 8 to 11, then the data end before rain-safe
    found = find(14, air_temp_c=air)
    assert spans(found.windows) == [(at(3), at(7)), (at(8), at(12))]
    assert [(w.number, w.hours) for w in found.windows] == [(1, 4), (2, 4)]
    assert found.window_number.tolist() == [0, 0, 0, 1, 1, 1, 1, 0, 2, 2, 2, 2, 0, 0]


def test_a_window_lies_in_one_shift():
    off = NO_SHIFT
    found = find(14, shift=[1, 1, 1, 1, 2, 2, 2, off, off, 3, 3, off, off, off])
    assert spans(found.windows) == [(at(0), at(4)), (at(4), at(7))]
    assert found.crew_hours == 9
    assert (found.hour[[7, 8, 11, 12, 13]] == State.BLOCKED).all()


def test_a_search_keeps_the_hours_that_it_looked_at():
    stop = np.array([0, 0, 1, 2], dtype=np.int8)
    found = find(4, shift=[0, 0, 0, NO_SHIFT], stops={"wind": stop, "heat": stop * 0})
    assert found.index.equals(pd.date_range(START, periods=4, freq="h"))
    assert found.crew.tolist() == [State.OK] * 3 + [State.BLOCKED]
    assert found.safety.tolist() == [State.OK] * 2 + [State.UNKNOWN, State.BLOCKED]
    kept = (found.window_number, found.crew, found.safety, found.hour)
    assert [array.dtype for array in kept] == [np.int64, np.int8, np.int8, np.int8]


def test_milestones_of_the_first_and_the_last_hour():
    (window,) = find(12, cure_rate=0.5, shift=[0] * 4 + [NO_SHIFT] * 8).windows
    assert window.first == {"dew_safe": at(3), "rain_safe": at(5)}
    assert window.last == {"dew_safe": at(6), "rain_safe": at(8)}
    (window,) = find(
        12, shift=[0] * 4 + [NO_SHIFT] * 8,
        milestones={"dew_safe": 1.0, "rain_safe": 2.0, "cured": 9.0},
    ).windows  # fmt: skip
    assert window.first["cured"] == at(10)
    assert window.last["cured"] is None  # the data end first


def test_tightest_gate_by_errors_of_a_forecast():
    on = [0] * 3 + [NO_SHIFT] * 7
    # Air 3 K over its limit of 10: 1.6 errors of 1.9 K. Wind 1.7056 below 15 mph: 0.9 of 2 m/s.
    (window,) = find(10, shift=on, air_temp_c=[13] * 10, wind_m_s=[4, 5, 3] + [4] * 7).windows
    assert window.tightest.gate.name == "wind_max_spray"
    assert window.tightest.margin == pytest.approx(15 * 0.44704 - 5)
    (window,) = find(10, shift=on, air_temp_c=[13, 11, 13] + [13] * 7, wind_m_s=3).windows
    assert window.tightest.gate.name == "air_temp_min"
    assert window.tightest.margin == pytest.approx(1.0)


def test_tightest_gate_of_unlike_units():
    """A twentieth of humidity is half an error of a forecast, half a degree a quarter of one."""
    limits = {g.name: g.limit for g in resolve(load_profile("acrylic")).gates}
    given = {
        "rel_humidity": limits["humidity_max"] - 0.05, "air_temp_c": limits["air_temp_min"] + 0.5,
    }  # fmt: skip
    (window,) = find(3, gates=("air_temp_min", "humidity_max"), **given).windows
    assert window.tightest.gate.name == "air_temp_min"
    assert window.tightest.margin == pytest.approx(0.5)


def test_tightest_gate_looks_to_the_end_of_the_last_hold():
    on = [0] * 3 + [NO_SHIFT] * 7
    # The film of the last hour, 2, is dew-safe at 4: the spread of hour 3 counts, of hour 4 not.
    spread = [15, 15, 15, 0.5, 0.1, 15, 15, 15, 15, 15]
    (window,) = find(10, shift=on, film_spread_c=spread).windows
    assert window.tightest.gate.name == "no_dew"
    assert window.tightest.margin == pytest.approx(0.5)


def test_no_tightest_gate_without_one_that_has_a_margin():
    (window,) = find(8, gates=("no_rain",), shift=[0] * 3 + [NO_SHIFT] * 5).windows
    assert window.tightest is None


def test_robust_or_on_what_it_depends():
    on = [0] * 3 + [NO_SHIFT] * 7
    (calm,) = find(10, shift=on).windows
    assert calm.robust
    assert calm.decided_by == ()
    # 5 m/s is below the 15 mph (6.7) of a generic sheet, and above the careful 10 mph (4.5).
    (windy,) = find(10, shift=on, wind_m_s=[2, 5, 2] + [2] * 7, spread_c=3.0).windows
    assert not windy.robust
    assert [g.name for g in windy.decided_by] == ["spread_min", "wind_max_spray"]
    assert windy.undecided == ()


def test_not_robust_where_the_careful_hold_reaches_past_the_data():
    on = [0] * 4 + [NO_SHIFT] * 2
    found = find(6, gates=("no_freeze",), shift=on)
    assert not found.windows  # 24 h of no frost cannot be seen
    (window,) = find(28, gates=("no_freeze",), shift=[0] * 4 + [NO_SHIFT] * 24).windows
    assert not window.robust  # nor the careful 72 h
    assert window.decided_by == ()
    assert [g.name for g in window.undecided] == ["no_freeze"]


def test_dry_chance_between_its_bounds():
    on = [0] * 3 + [NO_SHIFT] * 7
    # The film of hour 2 is rain-safe at 5, so hours 0 to 4 must stay dry.
    chance = [0.1, 0.2, 0.3, 0.4, 0.5, 0.99, 0.99, 0.99, 0.99, 0.99]
    (window,) = find(10, shift=on, rain_prob=chance).windows
    assert window.dry_chance == pytest.approx((0.9 * 0.8 * 0.7 * 0.6 * 0.5, 1 - 0.5))
    # From hour 2 on: hours 2 to 6, whatever came before.
    (window,) = find(10, shift=[NO_SHIFT] * 2 + on[:-2], rain_prob=[0.9, 0.9] + [0.2] * 8).windows
    assert window.dry_chance == pytest.approx((0.8**5, 0.8))
    chance[4] = NAN
    (window,) = find(10, shift=on, rain_prob=chance).windows
    assert window.dry_chance is None
    (window,) = find(10, gates=("air_temp_min",), shift=on).windows
    assert window.dry_chance is None  # a coating that rain does not hurt


def test_runs_at_risk_tell_hazard_and_safe_time():
    rain = [0.0] * 12
    rain[6] = 1.0
    # Rain-safe after 2 h: films of hours 4 to 6 (and hour 6 itself) meet the rain.
    (risk,) = find(12, rain_most_mm=rain).at_risk
    assert (risk.start, risk.end, risk.hours) == (at(4), at(7), 3)
    assert risk.gate.name == "no_rain"
    assert risk.hazard == at(6)
    assert risk.safe == at(7)


def test_only_hours_in_which_a_coat_could_be_laid_are_at_risk():
    rain, air = [0.0] * 12, [20.0] * 12
    rain[6], air[4] = 1.0, 5.0
    shift = [0] * 6 + [NO_SHIFT] * 6
    (risk,) = find(12, rain_most_mm=rain, air_temp_c=air, shift=shift).at_risk
    assert (risk.start, risk.end) == (at(5), at(6))
    stop = np.zeros(12, dtype=np.int8)
    stop[5] = State.BLOCKED
    stopped = find(12, rain_most_mm=rain, air_temp_c=air, shift=shift, stops={"wind": stop})
    assert not stopped.at_risk


@pytest.mark.parametrize(
    ("rain", "dew", "crew_from", "told"),
    [
        # Rain spoils the films of two hours before, dew those of one; the earlier start is first,
        (3, 9, 0, [("no_rain", 1, 3), ("no_dew", 8, 9)]),
        (9, 3, 0, [("no_dew", 2, 3), ("no_rain", 7, 9)]),
        # and of one start the earlier hazard.
        (6, 5, 4, [("no_dew", 4, 5), ("no_rain", 4, 6)]),
        (5, 6, 5, [("no_rain", 5, 5), ("no_dew", 5, 6)]),
    ],
)
def test_runs_at_risk_in_the_order_of_time(rain, dew, crew_from, told):
    hour = np.arange(12)
    found = find(
        12,
        rain_most_mm=hour == rain,
        film_spread_c=np.where(hour == dew, -1.0, 14.0),
        shift=np.where(hour < crew_from, NO_SHIFT, 0),
    )
    assert [(risk.gate.name, risk.start, risk.hazard) for risk in found.at_risk] == [
        (name, at(start), at(hazard)) for name, start, hazard in told
    ]


def test_a_hold_by_the_clock_tells_no_safe_time():
    film = [5.0] * 10 + [-5.0] + [5.0] * 29
    shift = [0] * 3 + [NO_SHIFT] * 37
    (risk,) = find(40, gates=("no_freeze",), film_temp_c=film, shift=shift).at_risk
    assert (risk.start, risk.end, risk.hazard, risk.safe) == (at(0), at(3), at(10), None)


def test_safe_time_is_left_out_where_the_data_end_first():
    (risk,) = find(6, rain_most_mm=[0, 0, 0, 0, 0, 1], shift=[NO_SHIFT] * 4 + [0] * 2).at_risk
    assert risk.safe is None
    assert risk.hazard == at(5)


def test_provisional_runs_say_what_is_missing():
    on = [0] * 4 + [NO_SHIFT] * 8

    def missing(**given):
        found = find(12, shift=on, **given)
        assert not found.windows
        (run,) = found.provisional
        assert (run.start, run.end, run.hours) == (at(0), at(4), 4)
        return run.missing

    hole = [2, 2, NAN] + [2] * 9
    assert missing(wind_m_s=hole) == ("wind_max_spray: wind_m_s is unknown",)
    assert missing(rain_most_mm=[0, 0, NAN] + [0] * 9) == ("no_rain: rain_most_mm is unknown",)
    assert missing(cure_rate=[1, 1, NAN] + [1] * 9) == (
        "no_dew: the cure rate is unknown",
        "no_rain: the cure rate is unknown",
    )
    stop = np.array([0, 0, 1] + [0] * 9, dtype=np.int8)
    assert missing(stops={"heat": stop}) == ("safety_heat: its weather is unknown",)


def test_provisional_runs_that_begin_later_look_at_their_own_hours():
    late = [NO_SHIFT] * 4 + [0] * 4 + [NO_SHIFT] * 6
    (run,) = find(14, shift=late, wind_m_s=[NAN] * 4 + [2, 2, NAN] + [2] * 7).provisional
    assert (run.start, run.end, run.hours) == (at(4), at(8), 4)
    assert run.missing == ("wind_max_spray: wind_m_s is unknown",)
    # A hold asks for hours after the run: the film of hour 6 is rain-safe at 9.
    three = [NO_SHIFT] * 4 + [0] * 3 + [NO_SHIFT] * 7
    (run,) = find(14, shift=three, rain_most_mm=[0] * 8 + [NAN] + [0] * 5).provisional
    assert (run.start, run.end) == (at(4), at(7))
    assert run.missing == ("no_rain: rain_most_mm is unknown",)


def test_the_end_of_the_data_is_a_reason():
    (run,) = find(5).provisional
    assert (run.start, run.end) == (at(0), at(5))
    assert run.missing == (
        "no_dew: the data end before dew-safe",
        "no_rain: the data end before rain-safe",
    )
    (run,) = find(5, gates=("no_freeze",)).provisional
    assert run.missing == ("no_freeze: the data end before 24 h",)


def test_nothing_is_provisional_where_it_is_known_to_be_lost():
    found = find(12, wind_m_s=NAN, air_temp_c=5.0)
    assert not found.provisional
    assert not found.windows
    assert (found.hour == State.BLOCKED).all()


def test_lost_hours_alone_and_together():
    wind = [9, 9, 2, 9, 2, 2, NAN, 2, 9, 2]
    air = [5, 20, 5, 20, 20, 20, 20, 20, 5, 20]
    shift = [0] * 8 + [NO_SHIFT] * 2
    found = find(10, gates=("air_temp_min", "wind_max_spray"), wind_m_s=wind, air_temp_c=air,
                 shift=shift)  # fmt: skip
    lost = {entry.name: (entry.blocked, entry.alone, entry.unknown) for entry in found.lost}
    assert lost == {
        "wind_max_spray": (3, 2, 1),
        "air_temp_min": (2, 1, 0),
        "safety_wind": (0, 0, 0),
    }
    assert found.crew_hours == 8
    # Most hours first; a limit of the coating and one of the crew's by their own words.
    assert [(entry.name, entry.label) for entry in found.lost] == [
        ("wind_max_spray", "wind while spraying, most"),
        ("air_temp_min", "air temperature, least"),
        ("safety_wind", stop_label("wind", SafetyStops())),
    ]


def test_lost_hours_of_as_many_are_told_by_name():
    found = find(4, gates=("wind_max_spray", "air_temp_min"))
    assert [entry.name for entry in found.lost] == ["air_temp_min", "safety_wind", "wind_max_spray"]


def test_rain_is_likely_where_no_hour_can_save_it():
    on = [0] * 3 + [NO_SHIFT] * 7

    def likely(chance, **options):
        (window,) = find(10, shift=on, rain_prob=chance, **options).windows
        return window.rain_likely

    assert likely(0.49) is False  # at best, hours wholly dependent: 1 - 0.49
    assert likely(0.5) is False
    assert likely([0.1, 0.1, 0.1, 0.1, 0.51, 0.1, 0.1, 0.1, 0.1, 0.1])
    assert not likely([0.1] * 5 + [0.9] * 5)  # after the film is rain-safe
    assert likely(NAN) is None
    assert likely(0.9, gates=("air_temp_min",)) is None  # nothing waits for it to be rain-safe


def test_a_chance_of_several_hours_counts_once():
    on = [0] * 3 + [NO_SHIFT] * 7
    # Hours 0 to 4 stay dry: the blocks of hours 0 to 2 and 3 to 5, the second met in part.
    chance = [0.1] * 3 + [0.4] * 3 + [0.9] * 4
    (window,) = find(10, shift=on, rain_prob=chance, rain_prob_block_h=3.0).windows
    assert window.dry_chance == pytest.approx((0.9 * 0.6, 0.6))
    # A window from hour 2 on begins in the last hour of a block, which counts as well.
    (window,) = find(
        10, shift=[NO_SHIFT] * 2 + on[:-2], rain_prob=chance, rain_prob_block_h=3.0
    ).windows
    assert window.dry_chance == pytest.approx((0.9 * 0.6 * 0.1, 0.1))


def test_the_stop_of_a_window():
    on = [0] * 4 + [NO_SHIFT] * 8
    (window,) = find(12, shift=on, rain_most_mm=[0] * 8 + [1] + [0] * 3).windows
    # Rain at 8; rain-safe two hours after being down, dew-safe one hour before the data end.
    stop = window.stop
    assert (stop.gate.name, stop.at, stop.hazard, stop.known) == ("no_rain", at(6), at(8), True)
    (window,) = find(12, shift=on).windows
    stop = window.stop
    assert (stop.gate.name, stop.at, stop.hazard, stop.known) == ("no_rain", at(10), at(12), False)
    (window,) = find(12, gates=("air_temp_min",), shift=on).windows
    assert window.stop is None


@pytest.mark.parametrize(("hour", "told"), [(1, False), (2, True), (4, True), (5, False)])
def test_cautions_are_those_of_the_hours_of_the_window(hour, told):
    thunder = np.zeros(10)
    thunder[hour] = 0.9
    (window,) = find(
        10, thunder_prob=thunder, shift=[NO_SHIFT] * 2 + [0] * 3 + [NO_SHIFT] * 5
    ).windows
    assert any("ightning" in caution.text for caution in window.cautions) == told
