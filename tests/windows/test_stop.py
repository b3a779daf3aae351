"""Stop times: no coat laid by then is spoiled, and one laid later is."""

from dataclasses import fields, replace

import numpy as np
import pytest
from mild_hour import MILD

from cure_models import load_profile
from cure_models.coating import resolve
from windows.conditions import Conditions
from windows.gates import check_coating
from windows.stop import stop_hours

NAN = float("nan")


def check(hours, gates, *, first_stage_h=0.0, milestones=None, **given):
    arrays = {
        f.name: np.broadcast_to(np.asarray(given.get(f.name, MILD[f.name]), np.float64), hours)
        for f in fields(Conditions) if f.name != "absent"
    }  # fmt: skip
    conditions = Conditions(**arrays, absent=frozenset())
    whole = resolve(load_profile("acrylic"))
    coating = replace(
        whole,
        gates=tuple(g for g in whole.gates if g.name in gates),
        first_stage_h=first_stage_h,
        milestones=milestones or {"dew_safe": 4.0, "rain_safe": 8.0},
    )
    return check_coating(coating, conditions), conditions


def stop(hours, gates, end, **given):
    (found,) = stop_hours(*check(hours, gates, **given), np.array([end]))
    return found


def rain(hours, at, amount=2.0):
    values = np.zeros(hours)
    values[at] = amount
    return values


def test_the_next_rain_less_the_cure_that_it_takes():
    found = stop(40, {"no_rain"}, 9, rain_most_mm=rain(40, 20), cure_rate=1.0, cure_rate_late=1.0)
    assert (found.gate.name, found.at, found.hazard, found.known) == ("no_rain", 12.0, 20, True)
    slow = stop(40, {"no_rain"}, 3, rain_most_mm=rain(40, 20), cure_rate=0.5, cure_rate_late=0.5)
    assert slow.at == 4.0


def test_two_stages_are_walked_back_one_after_the_other():
    # 8 h: 6 at the late rate of 0.75 take 8 h, 2 at the first rate of 0.5 take 4 h.
    found = stop(
        40, {"no_rain"}, 3, rain_most_mm=rain(40, 20), cure_rate=0.5, cure_rate_late=0.75,
        first_stage_h=2.0,
    )  # fmt: skip
    assert found.at == pytest.approx(8.0, abs=1e-6)


def test_the_earliest_of_dew_and_rain_counts_and_a_passed_shower_does_not():
    spread = np.full(60, 5.0)
    spread[18] = -1.0
    both = {
        "rain_most_mm": rain(60, [2, 25]), "film_spread_c": spread, "cure_rate": 1.0,
        "cure_rate_late": 1.0,
    }  # fmt: skip
    found = stop(60, {"no_rain", "no_dew"}, 9, **both)
    assert (found.gate.name, found.at) == ("no_dew", 14.0)
    later = stop(60, {"no_rain", "no_dew"}, 19, **both)
    assert (later.gate.name, later.at) == ("no_rain", 17.0)


def test_a_hold_by_the_clock():
    cold = np.full(60, 10.0)
    cold[40] = -1.0
    found = stop(60, {"no_freeze"}, 9, film_temp_c=cold)
    clock_h = found.gate.clock_h
    assert clock_h is not None
    assert found.at == 40 - clock_h


def test_what_is_not_known_is_a_hazard_and_so_is_the_end_of_the_data():
    hole = np.zeros(40)
    hole[20] = NAN
    found = stop(40, {"no_rain"}, 5, rain_most_mm=hole, cure_rate=1.0, cure_rate_late=1.0)
    assert (found.at, found.known) == (12.0, False)
    found = stop(40, {"no_rain"}, 5, cure_rate=1.0, cure_rate_late=1.0)
    assert (found.hazard, found.at, found.known) == (40, 32.0, False)


def test_an_unknown_rate_counts_as_no_cure():
    rate = np.ones(40)
    rate[15] = NAN
    found = stop(
        40, {"no_rain"}, 3, rain_most_mm=rain(40, 20), cure_rate=rate, cure_rate_late=rate
    )
    assert found.at == 11.0


def test_a_coating_without_holds_has_no_stop():
    assert stop(40, {"air_temp_min"}, 5) is None
    assert stop(40, {"rising"}, 5) is None  # it asks about the start of the day


@pytest.mark.parametrize("seed", range(20))
def test_a_coat_down_by_then_is_safe_and_one_laid_an_hour_later_is_not(seed):
    """By the gate itself: the last hour that ends by the stop passes, the one after does not."""
    rng = np.random.default_rng(seed)
    rate = rng.choice([0.0, 0.3, 1.0, 1.7], 72)
    late = rng.choice([0.0, 0.4, 1.2], 72)
    given = {
        "rain_most_mm": rain(72, 60), "cure_rate": rate, "cure_rate_late": late,
        "first_stage_h": 1.5,
    }  # fmt: skip
    checked, conditions = check(72, {"no_rain"}, **given)
    (found,) = stop_hours(checked, conditions, np.array([10]))
    states = checked.gates["no_rain"]
    last = int(np.floor(found.at + 1e-6)) - 1
    if last >= 0:
        assert states[last] == 0
    assert (states[last + 1 : 60] != 0).all()
