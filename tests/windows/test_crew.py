"""Crew hours against a rule that looks up every minute on the site's wall clock."""

from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from how_many import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st
from reference_windows import shift_day

from cure_models import load_profile
from windows.crew import NO_SHIFT, shifts
from windows.hours import check_hours
from windows.job import run_job
from windows.provenance import Provenance
from windows.site import Site

ALL_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
EPOCH = date(1970, 1, 1)


def site(zone="America/New_York", start="07:00", end="17:00", **crew):
    return Site.model_validate(
        {
            "name": "a roof",
            "latitude": 40.64,
            "longitude": -73.78,
            "elevation": "4 m",
            "timezone": zone,
            "roof": {"area": "1,000 m2", "deck": "wood"},
            "surface": {"name": "gray", "absorptance": 0.6, "emittance": 0.9},
            "crew": {"start": start, "end": end, "work_days": ALL_DAYS} | crew,
        }
    )


def local_hours(day, zone="America/New_York", minute=0):
    """Rows that begin on a local day."""
    start = pd.Timestamp(day, tz=zone) + pd.Timedelta(minutes=minute)
    end = pd.Timestamp(date.fromisoformat(day) + timedelta(days=1), tz=zone)
    return pd.date_range(start, end, freq="h", inclusive="left").tz_convert("UTC")


def clock(index, found, zone="America/New_York"):
    """The local clock of the rows inside a shift."""
    return [f"{t:%H:%M}" for t in index[found != NO_SHIFT].tz_convert(zone)]


def days(found):
    return {EPOCH + timedelta(days=int(day)) for day in found if day != NO_SHIFT}


def test_only_whole_hours_count():
    index = local_hours("2026-05-06")
    assert clock(index, shifts(index, site())) == [f"{h:02d}:00" for h in range(7, 17)]
    found = shifts(index, site(start="06:30", end="16:30"))
    assert clock(index, found) == [f"{h:02d}:00" for h in range(7, 16)]


def test_rows_on_the_half_hour_in_an_indian_zone():
    zone = "Asia/Kolkata"
    index = pd.date_range("2026-05-05T18:00Z", periods=24, freq="h")  # 23:30 by the clock
    found = shifts(index, site(zone, "07:00", "10:00"))
    assert clock(index, found, zone) == ["07:30", "08:30"]
    found = shifts(index, site(zone, "07:30", "10:30"))
    assert clock(index, found, zone) == ["07:30", "08:30", "09:30"]


def test_zone_of_three_quarters():
    index = pd.date_range("2026-05-05T18:00Z", periods=24, freq="h")
    found = shifts(index, site("Asia/Kathmandu", "07:00", "10:00"))
    assert clock(index, found, "Asia/Kathmandu") == ["07:45", "08:45"]


def test_night_shift_belongs_to_the_day_on_which_it_began():
    index = local_hours("2026-05-06").append(local_hours("2026-05-07"))
    found = shifts(index, site(start="22:00", end="02:00", work_days=["Wed"]))
    assert clock(index, found) == ["22:00", "23:00", "00:00", "01:00"]
    assert days(found) == {date(2026, 5, 6)}


def test_shift_that_ends_at_midnight():
    index = local_hours("2026-05-06")
    found = shifts(index, site(start="21:00", end="00:00"))
    assert clock(index, found) == ["21:00", "22:00", "23:00"]


def test_day_off_takes_the_whole_night_shift_and_not_the_one_before():
    index = pd.date_range("2026-07-02T16:00Z", periods=72, freq="h")
    night = site(start="22:00", end="02:00", days_off=[date(2026, 7, 4)])
    assert days(shifts(index, night)) == {date(2026, 7, 2), date(2026, 7, 3)}
    found = shifts(index, night)
    inside = index[found != NO_SHIFT].tz_convert("America/New_York")
    assert {str(t.date()) for t in inside} == {"2026-07-02", "2026-07-03", "2026-07-04"}


def test_holiday_and_weekday_shut_a_day():
    index = pd.date_range("2026-11-23T05:00Z", periods=7 * 24, freq="h")
    work = ["Mon", "Tue", "Wed", "Thu", "Fri"]
    open_days = days(shifts(index, site(work_days=work)))
    assert open_days == {date(2026, 11, day) for day in range(23, 28)}
    thanksgiving = days(shifts(index, site(work_days=work, holidays="US")))
    assert open_days - thanksgiving == {date(2026, 11, 26)}


@pytest.mark.parametrize(("day", "length"), [("2026-03-08", 23), ("2026-11-01", 25)])
def test_days_of_clock_changes_have_their_own_number_of_hours(day, length):
    index = local_hours(day)
    assert len(index) == length
    found = shifts(index, site(start="00:00", end="23:59"))
    assert (found != NO_SHIFT).sum() == length - 1, "the last hour is not whole"
    assert clock(index, shifts(index, site())) == [f"{h:02d}:00" for h in range(7, 17)]


def test_shift_over_the_night_of_a_clock_change_has_an_hour_less_or_more():
    spring = pd.date_range("2026-03-07T12:00Z", periods=36, freq="h")
    found = shifts(spring, site(start="22:00", end="06:00", work_days=["Sat"]))
    assert clock(spring, found) == ["22:00", "23:00", "00:00", "01:00", "03:00", "04:00", "05:00"]
    autumn = pd.date_range("2026-10-31T12:00Z", periods=36, freq="h")
    found = shifts(autumn, site(start="22:00", end="06:00", work_days=["Sat"]))
    assert (found != NO_SHIFT).sum() == 9
    assert clock(autumn, found).count("01:00") == 2


def test_hour_in_which_the_clock_is_put_on_does_not_reach_past_the_shift():
    # 01:30 standard time to 03:30 summer time is one hour by the watch.
    index = pd.date_range("2026-03-08T05:30Z", periods=4, freq="h")
    found = shifts(index, site(start="00:00", end="03:00"))
    assert clock(index, found) == ["00:30"]


zones = st.sampled_from(
    [
        *("America/New_York", "America/Chicago", "America/Phoenix", "America/St_Johns"),
        *("Asia/Kolkata", "Asia/Kathmandu", "Australia/Lord_Howe", "Pacific/Chatham"),
        *("Europe/London", "Africa/Casablanca", "UTC"),
    ]
)
minutes = st.integers(0, 95).map(lambda n: f"{n // 4:02d}:{n % 4 * 15:02d}")
starts = st.one_of(
    st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 28)),
    st.sampled_from(
        [
            *(datetime(2026, 3, 7, 20), datetime(2026, 10, 31, 20), datetime(2026, 3, 28, 18)),
            *(datetime(2026, 4, 4, 8), datetime(2026, 10, 3, 8), datetime(2026, 10, 24, 18)),
        ]
    ),
).map(lambda t: t.replace(minute=t.minute // 15 * 15, second=0, microsecond=0))


@settings(deadline=None)
@example("America/New_York", "00:00", "03:00", datetime(2026, 3, 8, 0, 30), set())
@example("Australia/Lord_Howe", "01:00", "02:30", datetime(2026, 10, 3, 10, 15), set())
@example("Australia/Lord_Howe", "22:00", "02:00", datetime(2026, 4, 4, 8), set())
@given(zone=zones, start=minutes, end=minutes, first=starts, off=st.sets(st.integers(0, 6)))
def test_equals_the_rule_that_looks_up_every_minute(outside, zone, start, end, first, off):
    if start == end:
        end = "23:59" if start != "23:59" else "00:00"
    work = [day for n, day in enumerate(ALL_DAYS) if n not in off] or ["Mon"]
    index = pd.date_range(first, periods=30, freq="h", tz="UTC")
    crew = {
        "zone": zone,
        "start": start,
        "end": end,
        "weekdays": {ALL_DAYS.index(day) for day in work},
        "holidays": {date(2026, 3, 8), date(2026, 7, 3)},
    }
    place = site(zone, start, end, work_days=work, days_off=sorted(crew["holidays"]))
    expected = [shift_day(t.to_pydatetime(), crew) for t in index]
    found = [
        None if day == NO_SHIFT else EPOCH + timedelta(days=int(day))
        for day in shifts(index, place)
    ]
    outside.equal(
        "shift days of hours, random zones, shifts and days", found, expected,
        source="the rule of tests/reference_windows.py that looks up every minute",
    )  # fmt: skip


def weather(n):
    hour = np.arange(n)
    return check_hours(
        {
            "air_temp_c": 20 + 6 * np.sin((hour - 9) / 24 * 2 * np.pi),
            "dew_point_c": np.full(n, 8.0),
            "wind_m_s": np.full(n, 3.0),
            "rain_mm": np.where(hour % 41 == 40, 2.0, 0.0),
            "cloud": np.full(n, 0.3),
        },
        pd.date_range("2026-03-06T00:00Z", periods=n, freq="h"),
        Provenance("made up", "here"),
    )


HOURS = weather(120)
ACRYLIC = load_profile("acrylic")


@settings(deadline=None, max_examples=examples(40))
@given(zone=zones, other=zones)
def test_zone_changes_crew_hours_and_nothing_else(zone, other):
    one, two = (run_job(site(z), ACRYLIC, HOURS) for z in (zone, other))
    assert one.checked.gates.keys() == two.checked.gates.keys()
    for name, states in one.checked.gates.items():
        np.testing.assert_array_equal(states, two.checked.gates[name])
    np.testing.assert_array_equal(one.checked.state, two.checked.state)
    np.testing.assert_array_equal(one.found.safety, two.found.safety)
    both = one.found.crew == two.found.crew
    np.testing.assert_array_equal(one.found.hour[both], two.found.hour[both])
