"""Hours in which the roof below a vapour retarder is known to be dry enough."""

import numpy as np
import pandas as pd
import plan_cases
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure_models import coating_names, load_profile
from cure_models.system import load_system, system_names
from cure_models.system_rules import first_retarder
from windows.errors import SiteError
from windows.gates import State
from windows.job_file import JobFile
from windows.rainy import rainy_mm
from windows.substrate import check_reading, substrate_states

START = pd.Timestamp("2026-06-01T04:00Z")
"""Midnight of Monday 1 June in New York, UTC-4."""
NAN = float("nan")
OK, UNKNOWN, BLOCKED = State.OK, State.UNKNOWN, State.BLOCKED
READING = {"moisture": "4 %", "moisture_limit": "5 %", "method": "meter"}


def states(rain, start=START, where="", now="2026-07-01T00:00Z", **ground):
    job = JobFile.model_validate({"where": where, "substrate": {"kind": "metal"} | ground})
    rain = np.asarray(rain, dtype=np.float64)
    index = pd.date_range(start, periods=len(rain), freq="h")
    check_reading(job, plan_cases.site(), pd.Timestamp(now))
    return substrate_states(job, plan_cases.site(), index, rain).tolist()


def dry(hours, **changed):
    """Return dry hours but for those given: row3=1.0 is a millimetre in row 3."""
    rain = np.zeros(hours)
    for row, value in changed.items():
        rain[int(row.removeprefix("row"))] = value
    return rain


def read(at, **more):
    return READING | {"read_at": at} | more


# The hours without rain that a job asks for.


def test_nobody_knows_what_fell_before_the_weather_begins():
    # Four hours without rain: the first hour with four before it is row 4.
    assert states(dry(7), dry_out="4 h") == [UNKNOWN] * 4 + [OK] * 3


def test_rain_blocks_its_hour_and_the_hours_after_it():
    # Rain in row 5 ends with it, at 6 h; dry four hours later, at 10 h.
    found = states(dry(12, row5=1.0), dry_out="4 h")
    assert found == [UNKNOWN] * 4 + [OK] + [BLOCKED] * 5 + [OK] * 2


def test_rain_at_the_start_is_known_to_block():
    assert states(dry(6, row0=1.0), dry_out="4 h") == [BLOCKED] * 5 + [OK]


@pytest.mark.parametrize(
    ("told", "blocked"), [("0 h", 1), ("30 min", 2), ("1 h", 2), ("1.5 h", 3), ("2 h", 3)]
)
def test_part_of_an_hour_counts_whole(told, blocked):
    found = states(dry(10, row4=1.0), dry_out=told)
    assert found[4:].count(BLOCKED) == blocked
    assert found[4 + blocked :] == [OK] * (6 - blocked)


def test_days_are_hours():
    found = states(dry(60, row0=1.0), dry_out="2 d")
    assert found == [BLOCKED] * 49 + [OK] * 11


@pytest.mark.parametrize(
    ("rain", "state"), [(0.0, OK), (0.19, OK), (0.2, BLOCKED), (5.0, BLOCKED), (NAN, UNKNOWN)]
)
def test_how_much_rain_counts(rain, state):
    found = states(dry(10, row5=rain), dry_out="2 h")
    assert found[5:8] == [state] * 3
    assert found[8:] == [OK, OK]


def test_unknown_rain_is_not_dry_and_known_rain_beside_it_blocks():
    found = states(dry(14, row5=NAN, row7=1.0), dry_out="3 h")
    # Row 5 reaches to row 8, row 7 to row 10: what is known to block wins.
    assert found == [UNKNOWN] * 3 + [OK] * 2 + [UNKNOWN] * 2 + [BLOCKED] * 4 + [OK] * 3


# A reading.


def test_before_the_reading_nothing_is_known():
    found = states(dry(12), **read("2026-06-01T05:00"))
    assert found == [UNKNOWN] * 5 + [OK] * 7


def test_a_reading_counts_from_its_own_hour():
    assert states(dry(8), **read("2026-06-01T05:40")) == [UNKNOWN] * 5 + [OK] * 3
    # Rain in the hour of the reading may have come after it.
    found = states(dry(8, row5=1.0), **read("2026-06-01T05:40"))
    assert found == [UNKNOWN] * 5 + [BLOCKED] * 3


def test_rain_before_the_reading_does_not_count_and_after_it_ends_it():
    found = states(dry(12, row2=9.0, row8=1.0), **read("2026-06-01T05:00"))
    assert found == [UNKNOWN] * 5 + [OK] * 3 + [BLOCKED] * 4


def test_unknown_rain_after_the_reading():
    found = states(dry(12, row7=NAN, row9=1.0), **read("2026-06-01T05:00"))
    assert found == [UNKNOWN] * 5 + [OK] * 2 + [UNKNOWN] * 2 + [BLOCKED] * 3


def test_a_reading_from_before_the_weather_is_not_enough():
    assert states(dry(5), **read("2026-05-31T23:59")) == [UNKNOWN] * 5
    # But rain in the weather is known to have wetted the roof since.
    assert states(dry(5, row2=1.0), **read("2026-05-30T12:00")) == [UNKNOWN] * 2 + [BLOCKED] * 3


def test_a_reading_after_the_weather():
    assert states(dry(5), **read("2026-06-09T12:00")) == [UNKNOWN] * 5


def test_a_reading_that_nobody_has_taken_yet():
    with pytest.raises(SiteError, match="2026-06-01 05:00 is in the future"):
        states(dry(8), now="2026-06-01T08:00Z", **read("2026-06-01T05:00"))


def test_a_reading_with_an_offset_is_that_moment():
    assert states(dry(8), **read("2026-06-01T09:00Z")) == [UNKNOWN] * 5 + [OK] * 3


@pytest.mark.parametrize("reading", ["0 %", "4.9 %", "5 %", "0.05 1"])
def test_a_reading_at_its_limit_is_dry(reading):
    assert OK in states(dry(8), **read("2026-06-01T05:00", moisture=reading))


def test_a_damp_roof_is_refused_in_one_sentence():
    with pytest.raises(SiteError) as caught:
        states(dry(8), where="job.toml", **read("2026-06-01T05:00", moisture="19 %"))
    assert str(caught.value).startswith("job.toml: the roof reads 19% moisture, above its limit")
    assert "dry it or cut out what is wet, and read again" in str(caught.value)


@pytest.mark.parametrize("job", [{}, {"substrate": {"kind": "metal"}}])
def test_nothing_known_is_told(job):
    index = pd.date_range(START, periods=5, freq="h")
    with pytest.raises(SiteError, match="nothing says that the roof below is dry"):
        substrate_states(JobFile.model_validate(job), plan_cases.site(), index, np.zeros(5))


# Reading and drying time together: either will do.


def test_the_better_of_reading_and_drying_time():
    # Read at 05:00; rain in row 7; dry again four hours after it, from row 12.
    found = states(dry(14, row7=1.0), **read("2026-06-01T05:00", dry_out="4 h"))
    assert found == [UNKNOWN] * 4 + [OK] * 3 + [BLOCKED] * 5 + [OK] * 2


def test_a_reading_after_rain_saves_the_drying_time():
    # Rain in row 2 would block to row 6, but at 05:00 somebody has read the roof as dry.
    found = states(dry(9, row2=1.0), **read("2026-06-01T05:00", dry_out="4 h"))
    assert found == [UNKNOWN] * 2 + [BLOCKED] * 3 + [OK] * 4


# What must be true of all of them.

RAIN = st.lists(st.sampled_from([0.0, 0.0, 0.0, 0.1, 0.2, 3.0, NAN]), min_size=1, max_size=60)
GROUND = st.fixed_dictionaries(
    {},
    optional={
        "dry_out": st.sampled_from(["0 h", "1 h", "5.5 h", "12 h", "2 d"]),
        "reading": st.sampled_from(
            ["2026-05-31T20:00", "2026-06-01T00:00", "2026-06-01T09:30", "2026-06-02T03:00"]
        ),
    },
).filter(bool)


def by(ground):
    told = dict(ground)
    at = told.pop("reading", None)
    return told if at is None else told | read(at)


@given(rain=RAIN, ground=GROUND, holes=st.sets(st.integers(0, 59)))
def test_unknown_rain_never_makes_a_roof_dry(rain, ground, holes):
    full = np.array(rain)
    poorer = full.copy()
    poorer[[h for h in holes if h < len(poorer)]] = NAN
    before, after = (np.array(states(each, **by(ground))) for each in (full, poorer))
    assert not ((after == OK) & (before != OK)).any()


@given(rain=RAIN, ground=GROUND)
def test_a_dry_hour_has_no_rain_and_nothing_unknown_since(rain, ground):
    found, full = states(rain, **by(ground)), np.array(rain)
    for row, state in enumerate(found):
        if state == OK:
            assert full[row] < 0.2  # also not NaN


@given(rain=RAIN, ground=GROUND, more=st.integers(0, 59))
def test_more_rain_never_makes_a_roof_dry(rain, ground, more):
    wetter = np.array(rain)
    wetter[more % len(wetter)] = 5.0
    before, after = (np.array(states(each, **by(ground))) for each in (rain, wetter))
    assert not ((after == OK) & (before != OK)).any()


@given(ground=GROUND)
def test_nothing_known_of_the_rain_is_never_dry(ground):
    assert OK not in states([NAN] * 60, **by(ground))


# Which layer it is that must not be laid on a damp roof.


def test_lowest_layer_that_holds_moisture_in():
    found = {name: first_retarder(load_system(name)) for name in system_names()}
    assert {name for name, layer in found.items() if layer is not None} == {
        "sebs_two_coat", "spf_butyl", "spray_rubber_acrylic"
    }  # fmt: skip
    assert (found["sebs_two_coat"], found["spf_butyl"]) == (0, 1)


@pytest.mark.parametrize("name", coating_names())
def test_the_roof_and_the_coatings_call_the_same_rain_rain(name):
    assert load_profile(name).gates["no_rain"].si == rainy_mm()
