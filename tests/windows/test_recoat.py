"""Recoat and cover-by of a laid layer, worked by hand in weather in which an hour cures an hour."""

import numpy as np
import pandas as pd
import plan_cases
import pytest
from even_cure import figure, own_system
from how_many import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cure_models.remedies import preparation, protection
from cure_models.system import load_system
from windows.cover import Verdict
from windows.crew import shifts
from windows.errors import HoursError
from windows.gates import State
from windows.layers import system_hours
from windows.pieces import LaidRecord
from windows.recoat import check_cover

NEW_YORK = "America/New_York"
MONDAY = "2026-06-01T04:00Z"
"""Midnight of Monday 1 June in New York, UTC-4."""


def layers_of(system, days=10, start=MONDAY, limits="generic", crew=None, **weather):
    """Return the layers of a system in steady weather, but for what is given."""
    table = plan_cases.weather(days, start, **weather)
    site = plan_cases.site(**(crew or {}))
    return system_hours(site, system, table, limits=limits, start_wet_mm=0.0)


def local(text):
    """Return a time by the clock of New York."""
    return pd.Timestamp(text, tz=NEW_YORK)


def june(text):
    """Return "1 09:00" as a time of June."""
    day, clock = text.split()
    return local(f"2026-06-{int(day):02d} {clock}")


def laid(start, end, prepared=None):
    return LaidRecord(0, *(t if t is None else june(t).tz_convert("UTC")
                       for t in (start, end, prepared)))  # fmt: skip


def check(found, start="1 09:00", end="1 12:00", now="1 12:00", prepared=None, **more):
    """Check a base laid on Monday 09:00-12:00, unless said otherwise."""
    return check_cover(found, laid(start, end, prepared), june(now).tz_convert("UTC"), **more)


def spans(windows):
    """Return windows as local text: "2 07:00-17:00"."""
    told = []
    for each in windows:
        start, end = (t.tz_convert(NEW_YORK) for t in (each.start, each.end))
        assert each.hours == (end - start) / pd.Timedelta(hours=1)
        assert start.date() == end.date()
        told.append(f"{start.day} {start:%H:%M}-{end:%H:%M}")
    return told


# (a) Whole hours: base on Monday 09:00-12:00, crew 07:00-17:00.


def test_opening_counts_from_the_end_and_closing_from_the_start(tmp_path):
    found = layers_of(own_system(tmp_path, "12 h", recoat_closes="48 h"))
    cover = check(found)
    # 12 h of cure from the end, 12:00: midnight. 48 clock hours from the start: Wednesday 09:00.
    assert cover.opens == june("2 00:00")
    assert cover.due == june("3 09:00")
    # All of Tuesday's shift, and of Wednesday's the two hours that end by 09:00.
    assert spans(cover.left) == ["2 07:00-17:00", "3 07:00-09:00"]
    assert cover.verdict is Verdict.NOT_YET_OPEN
    assert cover.provisional == ()
    assert (cover.placed_start, cover.placed_end) == (june("1 09:00"), june("1 12:00"))


@pytest.mark.parametrize(
    ("opens", "at", "first"),
    [
        ("19 h", "2 07:00", "2 07:00-17:00"),  # opens with the shift
        ("19.5 h", "2 07:30", "2 08:00-17:00"),  # a begun hour is no recoat hour
        ("20 h", "2 08:00", "2 08:00-17:00"),
        ("4 h", "1 16:00", "1 16:00-17:00"),  # the same shift
        ("4.25 h", "1 16:15", "2 07:00-17:00"),
        ("0 h", "1 12:00", "1 12:00-17:00"),
        ("90 min", "1 13:30", "1 14:00-17:00"),
        ("2 d", "3 12:00", "3 12:00-17:00"),
    ],
)
def test_first_recoat_hour_begins_at_or_after_opening(tmp_path, opens, at, first):
    cover = check(layers_of(own_system(tmp_path, opens, recoat_closes="120 h")))
    assert cover.opens == june(at)
    assert spans(cover.left)[0] == first


@pytest.mark.parametrize(
    ("closes", "last"),
    [
        # Laid from Monday 09:00; the hour must end by then.
        ("26 h", "2 07:00-11:00"), ("26.5 h", "2 07:00-11:00"), ("27 h", "2 07:00-12:00"),
        ("31.9 h", "2 07:00-16:00"), ("32 h", "2 07:00-17:00"),
    ],
)  # fmt: skip
def test_last_recoat_hour_ends_by_the_deadline(tmp_path, closes, last):
    assert spans(check(layers_of(own_system(tmp_path, recoat_closes=closes))).left) == [last]


def test_the_earlier_of_closing_and_cover_by_is_due(tmp_path):
    for closes, cover_by, due in (("48 h", "30 h", "2 15:00"), ("30 h", "48 h", "2 15:00")):
        cover = check(
            layers_of(own_system(tmp_path, recoat_closes=closes, cover_by=cover_by))
        )
        assert cover.due == june(due)
        assert spans(cover.left) == ["2 07:00-15:00"]
        assert {each.name: each.at for each in cover.deadlines} == {
            "recoat_closes": june("1 09:00") + pd.Timedelta(closes),
            "cover_by": june("1 09:00") + pd.Timedelta(cover_by),
        }


def test_a_clock_minimum_must_have_passed_as_well(tmp_path):
    # 12 h of cure from Monday 12:00 is midnight; 24 h by the clock is Tuesday 12:00.
    system = own_system(
        tmp_path, recoat_closes="48 h", between=f"opens_clock_min = {figure('24 h')}"
    )
    cover = check(layers_of(system))
    assert cover.opens == june("2 12:00")
    assert spans(cover.left) == ["2 12:00-17:00", "3 07:00-09:00"]


def test_without_a_deadline_every_window_to_the_end_of_the_weather_is_left(tmp_path):
    cover = check(layers_of(own_system(tmp_path), days=4))
    assert cover.due is None
    assert cover.deadlines == ()
    # The hold-free top may be laid in the last hour of the weather.
    assert spans(cover.left) == ["2 07:00-17:00", "3 07:00-17:00", "4 07:00-17:00"]
    assert cover.verdict is Verdict.NOT_YET_OPEN


# (b) Minutes: the first hour that is touched for hazards, the end of the last one for cure.


def test_placement_with_minutes(tmp_path):
    found = layers_of(own_system(tmp_path, "12 h", recoat_closes="48 h"))
    cover = check(found, "1 08:20", "1 12:10", "1 13:00")
    assert cover.opens == june("2 01:00")  # 12 h from the end of the hour of 12:10, 13:00
    assert cover.due == june("3 08:00")  # 48 h from the start of the hour of 08:20
    assert spans(cover.left) == ["2 07:00-17:00", "3 07:00-08:00"]
    assert cover.placed_start == june("1 08:20")


@pytest.mark.parametrize(
    ("start", "end", "opens", "due"),
    [
        ("1 09:00", "1 12:00", "2 00:00", "3 09:00"),
        ("1 09:59", "1 12:00", "2 00:00", "3 09:00"),
        ("1 08:59", "1 11:01", "2 00:00", "3 08:00"),
        ("1 09:00", "1 12:01", "2 01:00", "3 09:00"),
        ("1 09:10", "1 09:20", "1 22:00", "3 09:00"),  # within an hour: 10:00 and 12 h
    ],
)
def test_touched_hours_count_whole(tmp_path, start, end, opens, due):
    found = layers_of(own_system(tmp_path, "12 h", recoat_closes="48 h"))
    cover = check(found, start, end, "1 13:00")
    assert (cover.opens, cover.due) == (june(opens), june(due))


# (c) A deadline by night.


def test_deadline_at_night(tmp_path):
    # 41 h from Monday 09:00 is Wednesday 02:00: the last recoat hour is Tuesday 16:00-17:00.
    cover = check(layers_of(own_system(tmp_path, recoat_closes="41 h")), now="2 08:00")
    assert cover.due == june("3 02:00")
    assert spans(cover.left) == ["2 08:00-17:00"]
    assert cover.verdict is Verdict.IN_TIME


def test_opening_and_deadline_in_one_night_leave_nothing(tmp_path):
    # Opens Monday 12:00 + 6 h = 18:00; closes Monday 09:00 + 21 h = Tuesday 06:00.
    cover = check(layers_of(own_system(tmp_path, "6 h", recoat_closes="21 h")))
    assert (cover.opens, cover.due) == (june("1 18:00"), june("2 06:00"))
    assert cover.left == cover.provisional == ()
    assert cover.verdict is Verdict.NONE_LEFT


def test_a_run_shorter_than_the_least_window_is_none(tmp_path):
    # Closing at 09:00 leaves two hours on Wednesday: too few for a window of three.
    cover = check(layers_of(own_system(tmp_path, recoat_closes="48 h", least=3)))
    assert spans(cover.left) == ["2 07:00-17:00"]


def test_days_off_hold_no_window(tmp_path):
    # Laid on Friday 5 June; 72 h later is Monday 09:00, with the weekend between.
    found = layers_of(own_system(tmp_path, recoat_closes="72 h"), days=9)
    cover = check(found, "5 09:00", "5 12:00", "5 12:00")
    assert spans(cover.left) == ["8 07:00-09:00"]
    every_day = {"work_days": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")}
    found = layers_of(own_system(tmp_path, recoat_closes="72 h"), days=9, crew=every_day)
    cover = check(found, "5 09:00", "5 12:00", "5 12:00")
    assert spans(cover.left) == ["6 07:00-17:00", "7 07:00-17:00", "8 07:00-09:00"]


# (d) Days of 23 and 25 hours: Sundays 8 March and 1 November 2026.

EVERY_DAY = {"work_days": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")}


def on_a_clock_change(folder, start, day, opens, closes):
    system = own_system(folder, opens, recoat_closes=closes)
    found = layers_of(system, 5, start, crew=EVERY_DAY)
    record = LaidRecord(0, *(local(f"{day} {t}").tz_convert("UTC") for t in ("09:00", "12:00")))
    return check_cover(found, record, record.end)


def test_spring_forward_closes_an_hour_later_by_the_wall(tmp_path):
    # Laid on Saturday 7 March (UTC-5). 24 elapsed hours from 09:00 are Sunday 10:00 (UTC-4), 18
    # from 12:00 are Sunday 07:00.
    cover = on_a_clock_change(tmp_path, "2026-03-06T05:00Z", "2026-03-07", "18 h", "24 h")
    assert cover.opens == local("2026-03-08 07:00")
    assert cover.due == local("2026-03-08 10:00")
    assert cover.due - cover.placed_start == pd.Timedelta(hours=24)
    assert spans(cover.left) == ["8 07:00-10:00"]


def test_fall_back_closes_an_hour_earlier_by_the_wall(tmp_path):
    # Laid on Saturday 31 October (UTC-4). 24 elapsed hours from 09:00 are Sunday 08:00 (UTC-5),
    # 18 from 12:00 are Sunday 05:00.
    cover = on_a_clock_change(tmp_path, "2026-10-30T04:00Z", "2026-10-31", "18 h", "24 h")
    assert cover.opens == local("2026-11-01 05:00")
    assert cover.due == local("2026-11-01 08:00")
    assert spans(cover.left) == ["1 07:00-08:00"]
    # An hour less is at 07:00: nothing of the shift.
    cover = on_a_clock_change(tmp_path, "2026-10-30T04:00Z", "2026-10-31", "18 h", "23 h")
    assert cover.verdict is Verdict.NONE_LEFT


def test_crew_hours_follow_the_wall_across_the_change(tmp_path):
    cover = on_a_clock_change(tmp_path, "2026-10-30T04:00Z", "2026-10-31", "18 h", "72 h")
    assert spans(cover.left) == ["1 07:00-17:00", "2 07:00-17:00", "3 07:00-08:00"]


@pytest.mark.parametrize(
    ("start", "day", "hours"),
    [
        ("2026-10-30T04:00Z", "2026-10-31", [9, 8]),  # 22:00 to 06:00 is nine hours in autumn
        ("2026-03-06T05:00Z", "2026-03-07", [7, 8]),  # and seven in spring
    ],
)
def test_night_shift_through_the_change(tmp_path, start, day, hours):
    night = EVERY_DAY | {"start": "22:00", "end": "06:00"}
    found = layers_of(own_system(tmp_path, "6 h"), 4, start, crew=night)
    record = LaidRecord(0, *(local(f"{day} {t}").tz_convert("UTC") for t in ("09:00", "12:00")))
    left = check_cover(found, record, record.end).left
    assert [each.hours for each in left[:2]] == hours
    first = left[0].start.tz_convert(NEW_YORK), left[0].end.tz_convert(NEW_YORK)
    assert [f"{each:%H:%M}" for each in first] == ["22:00", "06:00"]


def test_a_zone_of_half_an_hour(tmp_path):
    # Rows are hours of UTC, so they begin at half past in India, UTC+5:30. Laid on Tuesday
    # 09:00-12:00, touched 08:30-12:30: opens 12 h after 12:30, closes 48 h after 08:30. The shift
    # 07:00-17:00 holds the rows from 07:30 to 16:30.
    zone = "Asia/Kolkata"
    system = own_system(tmp_path, "12 h", recoat_closes="48 h")
    site = plan_cases.site().model_copy(update={"timezone": zone})
    table = plan_cases.weather(5, "2026-06-01T00:00Z")
    found = system_hours(site, system, table, start_wet_mm=0.0)
    start, end = (pd.Timestamp(f"2026-06-02 {t}", tz=zone).tz_convert("UTC")
                  for t in ("09:00", "12:00"))  # fmt: skip
    cover = check_cover(found, LaidRecord(0, start, end), end)
    assert cover.opens == pd.Timestamp("2026-06-03 00:30", tz=zone)
    assert cover.due == pd.Timestamp("2026-06-04 08:30", tz=zone)
    assert [(each.start, each.end) for each in cover.left] == [
        (pd.Timestamp("2026-06-03 07:30", tz=zone), pd.Timestamp("2026-06-03 16:30", tz=zone)),
        (pd.Timestamp("2026-06-04 07:30", tz=zone), pd.Timestamp("2026-06-04 08:30", tz=zone)),
    ]


# (e) Data that end, and gaps.


def test_weather_that_ends_before_opening(tmp_path):
    # Opens Tuesday 00:00 + 36 h more: Wednesday 12:00, when the weather has ended.
    system = own_system(tmp_path, "48 h", recoat_closes="96 h")
    cover = check(layers_of(system, days=2))
    assert cover.opens is None
    assert cover.milestones == {"recoat_opens": None}
    assert cover.left == ()
    assert cover.verdict is Verdict.UNDETERMINED
    assert cover.data_end == june("3 00:00")


def test_weather_that_ends_before_the_deadline(tmp_path):
    # Too cold to lay the top on Tuesday; the deadline is on Friday, the weather ends before.
    cold = dict.fromkeys(range(24, 48), 0.0)
    system = own_system(tmp_path, recoat_closes="96 h")
    cover = check(layers_of(system, days=2, air_temp_c=cold))
    assert cover.left == cover.provisional == ()
    assert cover.verdict is Verdict.UNDETERMINED
    # With the weather to the deadline and as cold, it is known that none is left.
    cold = dict.fromkeys(range(24, 144), 0.0)
    cover = check(layers_of(system, days=6, air_temp_c=cold))
    assert cover.verdict is Verdict.NONE_LEFT


def test_deadline_at_the_very_end_of_the_weather_is_known(tmp_path):
    # Monday 09:00 + 39 h is Wednesday 00:00, where the weather ends; Tuesday is too cold.
    cold = dict.fromkeys(range(24, 48), 0.0)
    for closes, verdict in (("39 h", Verdict.NONE_LEFT), ("40 h", Verdict.UNDETERMINED)):
        system = own_system(tmp_path, recoat_closes=closes)
        assert check(layers_of(system, days=2, air_temp_c=cold)).verdict is verdict


def gap(*rows):
    return dict.fromkeys(rows, float("nan"))


def test_unknown_cure_before_opening_makes_every_window_provisional(tmp_path):
    # Nobody knows Monday 18:00-19:00, so nobody knows when the film has cured for 12 h.
    system = own_system(tmp_path, recoat_closes="48 h")
    cover = check(layers_of(system, air_temp_c=gap(18)))
    assert cover.opens is None
    assert cover.left == ()
    assert spans(cover.provisional) == ["2 07:00-17:00", "3 07:00-09:00"]
    assert not any(each.known for each in cover.provisional)
    assert cover.verdict is Verdict.UNDETERMINED


def test_before_the_unknown_hour_the_film_is_known_to_be_closed(tmp_path):
    # 30 h of cure: by Tuesday 12:00 the film has at most 24. Unknown from then on.
    system = own_system(tmp_path, "30 h", recoat_closes="48 h")
    cover = check(layers_of(system, air_temp_c=gap(36)))
    assert spans(cover.provisional) == ["2 12:00-17:00", "3 07:00-09:00"]


def test_unknown_cure_after_opening_does_not_matter(tmp_path):
    system = own_system(tmp_path, recoat_closes="48 h")
    cover = check(layers_of(system, air_temp_c=gap(24)))  # Tuesday 00:00, when it has opened
    assert cover.opens == june("2 00:00")
    assert spans(cover.left) == ["2 07:00-17:00", "3 07:00-09:00"]


# (f) Unknown hours are no window. An unknown gust stops the crew in its own hour only.


def test_unknown_hours_split_a_window(tmp_path):
    system = own_system(tmp_path, recoat_closes="30 h")  # to Tuesday 15:00
    cover = check(layers_of(system, gust_m_s=gap(24 + 10)), now="2 06:00")
    assert spans(cover.left) == ["2 07:00-10:00", "2 11:00-15:00"]
    assert spans(cover.provisional) == ["2 07:00-15:00"]
    assert cover.verdict is Verdict.IN_TIME


def test_only_unknown_hours_never_make_cover_in_time(tmp_path):
    system = own_system(tmp_path, recoat_closes="30 h")
    cover = check(layers_of(system, gust_m_s=gap(*range(31, 41))), now="2 06:00")
    assert cover.left == ()
    assert spans(cover.provisional) == ["2 07:00-15:00"]
    assert cover.verdict is Verdict.UNDETERMINED


# (g) Overdue, covered, last layer, the present.


@pytest.mark.parametrize(
    ("now", "verdict", "windows"),
    [
        ("1 12:00", Verdict.NOT_YET_OPEN, ["2 07:00-17:00", "3 07:00-09:00"]),
        ("1 23:59", Verdict.NOT_YET_OPEN, ["2 07:00-17:00", "3 07:00-09:00"]),
        ("2 00:00", Verdict.IN_TIME, ["2 07:00-17:00", "3 07:00-09:00"]),
        ("2 12:00", Verdict.IN_TIME, ["2 12:00-17:00", "3 07:00-09:00"]),
        ("2 12:01", Verdict.IN_TIME, ["2 13:00-17:00", "3 07:00-09:00"]),
        ("3 08:00", Verdict.IN_TIME, ["3 08:00-09:00"]),
        ("3 08:01", Verdict.NONE_LEFT, []),
        ("3 08:59", Verdict.NONE_LEFT, []),
        ("3 09:00", Verdict.OVERDUE, []),
        ("5 09:00", Verdict.OVERDUE, []),
    ],
)
def test_what_is_left_as_time_passes(tmp_path, now, verdict, windows):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"))
    cover = check(found, now=now)
    assert cover.verdict is verdict
    assert spans(cover.left) == windows
    assert cover.now == june(now)


def test_covered_whenever_it_was(tmp_path):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"))
    for now in ("1 12:00", "5 09:00"):
        cover = check(found, now=now, covered=True)
        assert cover.verdict is Verdict.COVERED
        assert cover.advice == ()


def test_nothing_has_to_follow_the_last_layer(tmp_path):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"))
    start, end = (june(t).tz_convert("UTC") for t in ("2 09:00", "2 12:00"))
    cover = check_cover(found, LaidRecord(1, start, end), june("5 12:00").tz_convert("UTC"))
    assert cover.verdict is Verdict.COVERED
    assert cover.left == cover.provisional == cover.advice == ()


@pytest.mark.parametrize(
    ("start", "end", "now"),
    [
        ("1 09:00", "1 12:00", "9 00:01"),  # the present after the weather
        ("2 09:00", "2 12:00", "1 08:00"),  # placement inside, present inside: allowed below
    ],
)
def test_present_outside_the_weather(tmp_path, start, end, now):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"), days=8)
    if now.startswith("9"):
        with pytest.raises(HoursError, match="--now for another moment"):
            check(found, start, end, now)
    else:
        check(found, start, end, now)


def test_placement_outside_the_weather(tmp_path):
    found = layers_of(own_system(tmp_path), days=2, start="2026-06-02T04:00Z")
    with pytest.raises(HoursError, match="begins before the placement"):
        check(found, "1 22:00", "2 01:00", "2 12:00")
    check(found, "2 00:00", "2 01:00", "2 12:00")  # from the first hour on
    with pytest.raises(HoursError, match="lies outside the weather"):
        check(found, "3 22:00", "4 00:01", "3 23:00")


# (h) Advice where no window is left.


def test_no_window_left_is_told_what_to_do(tmp_path):
    cold = dict.fromkeys(range(24, 72), 0.0)
    for water_based in (False, True):
        system = own_system(tmp_path, recoat_closes="48 h", water_based=water_based)
        found, profile = layers_of(system, air_temp_c=cold), system.profiles[0]
        waiting = check(found, now="1 12:00")
        assert waiting.verdict is Verdict.NONE_LEFT
        assert waiting.advice == (*protection(profile, opened=False), preparation(profile))
        opened = check(found, now="2 12:00")
        assert opened.advice == (*protection(profile, opened=True), preparation(profile))
        assert len(opened.advice) == len(waiting.advice) + 1
        assert len(opened.advice) == 3 + water_based
        assert all(each.text and each.source for each in opened.advice)


def test_overdue_is_told_the_preparation_of_its_chemistry_only(tmp_path):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"))
    (advice,) = check(found, now="3 10:00").advice
    assert "abrade" in advice.text
    assert check(found, now="2 10:00").advice == ()


# (i) A deadline of weak basis.


def urethane(folder, *lines):
    """Return aromatic under aliphatic urethane, the base's own deadlines in its coating file."""
    (folder / "mine.toml").write_text('based_on = "urethane_aromatic"\n' + "\n".join(lines))
    return plan_cases.system(
        folder,
        (("base", "mine.toml", "16 mil", ""), ("top", "urethane_aliphatic", "10 mil", "")),
    )


def test_generic_deadline_of_what_must_be_covered_is_no_promise(tmp_path):
    found = layers_of(urethane(tmp_path))
    cover = check(found, now="1 12:00")
    assert cover.left
    assert cover.verdict is Verdict.DATA_SHEET
    closes, by = cover.deadlines
    assert (closes.at, closes.earliest, closes.latest) == tuple(
        june(t) for t in ("3 09:00", "2 09:00", "4 09:00")  # 48 h, 24 to 72 h
    )
    assert (by.at, by.earliest, by.latest) == tuple(
        june(t) for t in ("4 09:00", "2 09:00", "8 09:00")  # 72 h, 24 to 168 h
    )
    assert not closes.firm
    assert not by.firm


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        ((), Verdict.DATA_SHEET), (("cover_by",), Verdict.DATA_SHEET),
        (("recoat_closes",), Verdict.DATA_SHEET),
        (("recoat_closes", "cover_by"), Verdict.IN_TIME),
    ],
)  # fmt: skip
def test_both_deadlines_of_the_data_sheet_make_it_a_promise(tmp_path, given, verdict):
    lines = [f"deadlines.{name} = {figure('72 h')}" for name in given]
    found = layers_of(urethane(tmp_path, *lines))
    # 16 h of the reference, slower at 20 degC: it has opened by Wednesday, and closes at 09:00.
    cover = check(found, now="2 14:00")
    assert cover.opens < june("2 14:00")
    assert cover.verdict is verdict
    assert {d.name for d in cover.deadlines if d.firm} == set(given)
    assert all((each.earliest == each.latest) is each.firm for each in cover.deadlines)


def test_weak_deadline_of_what_may_stay_bare_is_a_promise_before_its_earliest_end(tmp_path):
    # Closes 120 h, 48 to 200: the earliest end is Wednesday 09:00.
    weak = {"recoat_closes": "120 h 48 200", "source": "from memory, unverified"}
    cover = check(layers_of(own_system(tmp_path, **weak)), now="2 07:00")
    assert spans(cover.left)[0] == "2 07:00-17:00"
    assert cover.verdict is Verdict.IN_TIME
    cold = dict.fromkeys(range(24, 60), 0.0)  # nothing before Wednesday 12:00
    cover = check(layers_of(own_system(tmp_path, **weak), air_temp_c=cold), now="2 07:00")
    assert spans(cover.left)[0] == "3 12:00-17:00"
    assert cover.verdict is Verdict.DATA_SHEET


def test_a_range_of_strong_basis_is_firm(tmp_path):
    system = own_system(tmp_path, cover_by="48 h 24 72", source="standard: x")
    cover = check(layers_of(system), now="2 07:00")
    assert cover.verdict is Verdict.IN_TIME
    assert cover.deadlines[0].firm


# (j) A dose of ultraviolet.


def dose_after(found, start_row, sed):
    """Return when a dose is reached, adding the hours up one by one."""
    total = 0.0
    for row, dose in enumerate(found.jobs[0].conditions.uv_dose_sed):
        if row < start_row:
            continue
        if total + dose >= sed:
            return row + (sed - total) / dose
        total += dose
    return None


@pytest.mark.parametrize(
    ("sed", "clock", "dose_first"), [(20, "72 h", True), (20, "3 h", False), (60, "72 h", True)]
)
def test_the_first_of_clock_and_dose(tmp_path, sed, clock, dose_first):
    system = own_system(tmp_path, "1 h", cover_by=clock, cover_by_uv_dose=f"{sed} SED")
    found = layers_of(system, cloud=0.0)
    cover = check(found)
    by_dose = found.time(dose_after(found, 9, sed))
    by_clock = (june("1 09:00") + pd.Timedelta(clock)).tz_convert("UTC")
    assert (by_dose < by_clock) is dose_first
    assert abs(cover.due - min(by_dose, by_clock)) <= pd.Timedelta(seconds=1)
    (by,) = cover.deadlines
    assert by.name == "cover_by"


def test_dose_alone_is_a_deadline_by_which_hours_must_end(tmp_path):
    system = own_system(tmp_path, "1 h", cover_by_uv_dose="40 SED")
    found = layers_of(system, cloud=0.0)
    cover = check(found)
    assert cover.due is not None
    assert all(each.end <= cover.due for each in cover.left)
    assert system.must_be_covered(0)


def test_dose_that_the_weather_does_not_reach_is_not_known(tmp_path):
    system = own_system(tmp_path, "1 h", cover_by_uv_dose="4000 SED")
    cover = check(layers_of(system, days=3), now="1 14:00")
    assert cover.due is None
    assert cover.deadlines[0].at is None
    assert cover.left
    assert cover.verdict is Verdict.IN_TIME


def test_unknown_sky_lets_all_the_ultraviolet_through(tmp_path):
    system = own_system(tmp_path, "1 h", cover_by_uv_dose="40 SED")
    clear, cloudy, unknown = (
        check(layers_of(system, cloud=sky)).due for sky in (0.0, 1.0, float("nan"))
    )
    assert clear < cloudy
    assert unknown == clear


# (k) Prepared again.


def test_prepared_again_restarts_the_deadlines_and_not_the_cure(tmp_path):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"))
    late = check(found, now="4 06:30")
    assert late.verdict is Verdict.OVERDUE
    again = check(found, now="4 06:30", prepared="4 06:30")
    # From the start of the hour, Thursday 06:00, 48 h: Saturday 06:00.
    assert again.due == june("6 06:00")
    assert again.opens == june("2 00:00")
    assert spans(again.left) == ["4 07:00-17:00", "5 07:00-17:00"]
    assert again.verdict is Verdict.IN_TIME
    assert {each.at for each in again.deadlines} == {june("6 06:00")}


def test_prepared_again_restarts_the_dose(tmp_path):
    system = own_system(tmp_path, "1 h", cover_by_uv_dose="40 SED")
    found = layers_of(system, cloud=0.0)
    again = check(found, now="4 08:00", prepared="4 07:00")
    expected = found.time(dose_after(found, 3 * 24 + 7, 40))
    assert abs(again.due - expected) <= pd.Timedelta(seconds=1)


def test_prepared_again_at_the_last_moment_of_the_weather(tmp_path):
    found = layers_of(own_system(tmp_path, recoat_closes="48 h"), days=3)
    cover = check(found, now="4 00:00", prepared="4 00:00")
    assert cover.verdict is Verdict.UNDETERMINED


# (l) Ends of ranges, and values taken away.

SHIPPED = ("acrylic_two_coat", "urethane_moisture_aliphatic", "silicone_two_coat", "spf_silicone",
           "spray_rubber_acrylic", "polyurea_aliphatic")  # fmt: skip


def lively(seed, days=8):
    """Return an invented week with nights, wind, cloud and rain, by a seed."""
    draw = np.random.default_rng(seed)
    hour = np.arange(24 * days)
    swing = -np.cos((hour % 24 - 9) / 24 * 2 * np.pi)
    return {
        "air_temp_c": 18 + 8 * swing + np.repeat(draw.normal(0, 4, days), 24),
        "rel_humidity": np.clip(0.55 - 0.2 * swing + np.repeat(draw.normal(0, 0.1, days), 24),
                                0.2, 1.0),
        "wind_m_s": draw.uniform(0.5, 6.0, 24 * days),
        "cloud": np.clip(draw.normal(0.5, 0.3, 24 * days), 0, 1),
        "rain_mm": np.where(draw.random(24 * days) < 0.03, 1.0, 0.0),
    }  # fmt: skip


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("seed", range(3))
def test_careful_ends_open_no_earlier_and_are_due_no_later(name, seed):
    system, weather = load_system(name), lively(seed)
    found = {
        limits: layers_of(system, 8, limits=limits, **weather)
        for limits in ("careful", "generic", "lenient")
    }
    for layer in range(len(system.layers) - 1):
        for start, end in (("1 09:00", "1 12:00"), ("2 07:20", "2 10:10"), ("3 12:00", "3 16:00")):
            record = LaidRecord(layer, *(june(t).tz_convert("UTC") for t in (start, end)))
            covers = [
                check_cover(found[limits], record, record.end)
                for limits in ("lenient", "generic", "careful")
            ]
            never = pd.Timestamp("2100-01-01", tz="UTC")
            opens = [each.opens or never for each in covers]
            due = [each.due or never for each in covers]
            assert opens == sorted(opens)
            assert due == sorted(due, reverse=True)
            for each in covers:
                for deadline in each.deadlines:
                    ends = (deadline.earliest or never, deadline.latest or never)
                    assert ends[0] <= (deadline.at or never) <= ends[1]


# The same, hour by hour, from the definitions alone.


def by_definition(cure, states, shift, first, last, opens_h, closes_h, now, least):
    """Return opening, sure windows, provisional ones and verdict, in hours since the first row."""
    hours = len(cure)
    opens, gained, hour = None, 0.0, last + 1
    while hour < hours and not np.isnan(cure[hour]):
        if gained + cure[hour] >= opens_h - 1e-9:
            opens = hour + (opens_h - gained) / cure[hour] if cure[hour] else float(hour)
            break
        gained += cure[hour]
        hour += 1
    blind = hour  # the first hour that is not known, or the end
    due = first + closes_h
    answer = []
    for row in range(hours):
        state = states[row]
        if opens is None:
            state = State.BLOCKED if row < blind else max(state, State.UNKNOWN)
        elif row < opens:
            state = State.BLOCKED
        if row < now or row + 1 > due or shift[row] < 0:
            state = State.BLOCKED
        answer.append(state)

    def found(allowed):
        runs, begin = [], None
        for row in range(hours + 1):
            inside = row < hours and answer[row] <= allowed
            if begin is not None and (not inside or shift[row] != shift[begin]):
                if row - begin >= least:
                    runs.append((begin, row))
                begin = None
            if inside and begin is None:
                begin = row
        return runs

    sure = found(State.OK)
    maybe = [(a, b) for a, b in found(State.UNKNOWN) if State.UNKNOWN in answer[a:b]]
    if now >= due:
        verdict = Verdict.OVERDUE
    elif sure:
        verdict = Verdict.IN_TIME if opens is not None and now >= opens else Verdict.NOT_YET_OPEN
    elif maybe or due > hours:
        verdict = Verdict.UNDETERMINED
    else:
        verdict = Verdict.NONE_LEFT
    return opens, sure, maybe, verdict


@settings(
    max_examples=examples(60), derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(
    opens=st.sampled_from(["0 h", "3 h", "7.5 h", "12 h", "30 h", "50 h"]),
    closes=st.sampled_from(["52 h", "60 h", "71.5 h", "96 h", "200 h"]),
    least=st.integers(1, 4),
    first=st.integers(0, 60),
    length=st.integers(1, 5),
    later=st.floats(0, 80),
    cold=st.sets(st.integers(0, 119), max_size=30),
    gusts=st.sets(st.integers(0, 119), max_size=20),
    gaps=st.sets(st.integers(0, 119), max_size=2),
)  # fmt: skip
def test_against_the_definitions(
    outside, tmp_path, opens, closes, least, first, length, later, cold, gusts, gaps
):
    system = own_system(tmp_path, opens, recoat_closes=closes, least=least)
    found = layers_of(
        system, 5, air_temp_c=dict.fromkeys(cold, 0.0) | gap(*gaps), gust_m_s=gap(*gusts)
    )
    last = first + length - 1
    now = min(last + 1 + later, 120.0)
    cover = check_cover(
        found, LaidRecord(0, found.time(first), found.time(last + 1)), found.time(now)
    )
    job, start = found.jobs[0], found.hours.index[0]
    at, sure, maybe, verdict = by_definition(
        job.conditions.cure_rate, found.jobs[1].found.hour, shifts(found.hours.index, found.site),
        first, last, float(opens.split()[0]), float(closes.split()[0]),
        found.moment(found.time(now)), least,
    )  # fmt: skip

    def rows(windows):
        return [
            tuple(int((t - start) / pd.Timedelta(hours=1)) for t in (each.start, each.end))
            for each in windows
        ]

    answer = rows(cover.left), rows(cover.provisional), cover.verdict, cover.opens
    outside.equal(
        "opening, windows left, provisional ones and verdict, random weathers", answer,
        (sure, maybe, verdict, None if at is None else found.time(at)), points=1,
        source="an hour-by-hour reading of the definitions",
    )  # fmt: skip


def test_the_next_layer_lies_on_the_film_below_it(tmp_path):
    found = layers_of(own_system(tmp_path))
    film = found.system.profiles[0].film
    assert found.jobs[0].site.surface == found.site.surface
    assert found.jobs[1].site.surface.absorptance == film["absorptance"].si
    assert found.jobs[1].site.surface.emittance == film["emittance"].si


# What must be true of verdicts when values are taken away.

SURE = (Verdict.NOT_YET_OPEN, Verdict.IN_TIME)
TAKEN = ("air_temp_c", "rel_humidity", "wind_m_s", "gust_m_s", "cloud", "rain_mm", "rain_trace")


def hours_of(windows):
    return {
        hour for each in windows for hour in pd.date_range(each.start, each.end, freq="h")[:-1]
    }


def check_less_known(system, weather, holes, days=8):
    """Check that a system is promised nothing more with values of its weather taken away."""
    poorer = {name: np.broadcast_to(values, 24 * days).astype(float)
              for name, values in (plan_cases.STEADY | weather).items()}  # fmt: skip
    for name, first, length in holes:
        poorer[name] = poorer[name].copy()
        poorer[name][first : first + length] = np.nan
    known = layers_of(system, days, **weather)
    less = layers_of(system, days, **poorer)
    for layer in range(len(system.layers) - 1):
        for start, end, now in (
            ("1 09:00", "1 12:00", "1 12:00"), ("2 07:20", "2 10:10", "3 09:30"),
        ):  # fmt: skip
            record = LaidRecord(layer, *(june(t).tz_convert("UTC") for t in (start, end)))
            moment = june(now).tz_convert("UTC")
            before, after = (check_cover(each, record, moment) for each in (known, less))
            assert hours_of(after.left) <= hours_of(before.left)
            assert after.verdict not in SURE or before.verdict in SURE
            if after.opens is not None:
                assert before.opens is not None
                assert after.opens >= before.opens


@settings(max_examples=examples(25), derandomize=True)
@given(
    name=st.sampled_from(SHIPPED),
    seed=st.integers(0, 30),
    holes=st.lists(
        st.tuples(st.sampled_from(TAKEN), st.integers(0, 191), st.integers(1, 12)),
        min_size=1, max_size=6,
    ),
)  # fmt: skip
def test_taking_values_away_never_adds_a_promise(name, seed, holes):
    check_less_known(load_system(name), lively(seed), holes)


@pytest.mark.exhaustive(every=5)  # of each column and each system
@pytest.mark.parametrize("column", TAKEN)
@pytest.mark.parametrize("name", SHIPPED)
def test_a_column_that_is_wholly_unknown_promises_nothing_more(name, column):
    check_less_known(load_system(name), lively(4), [(column, 0, 192)])


def test_a_hole_does_not_turn_the_data_sheet_into_a_promise(tmp_path):
    # Closes 120 h, 48 to 200 from Monday 09:00: the earliest end is Wednesday 09:00. Tuesday is too
    # cold. Wednesday's window 07:00-17:00 holds two hours before that end; with 09:00 unknown the
    # window is 07:00-09:00. What is promised must not be more than before.
    system = own_system(tmp_path, recoat_closes="120 h 48 200", source="from memory, unverified")
    cold = dict.fromkeys(range(24, 48), 0.0)
    whole, holed = (
        check(layers_of(system, air_temp_c=cold, gust_m_s=gust), now="2 06:00")
        for gust in ({}, gap(48 + 9))
    )
    assert spans(holed.left)[0] == "3 07:00-09:00"
    assert holed.verdict not in SURE or whole.verdict in SURE


def test_a_clock_minimum_is_known_whatever_the_cure_does(tmp_path):
    # Unknown cure on Monday 18:00, but 48 clock hours from 12:00 last to Wednesday 12:00, and the
    # film closes on Wednesday 09:00: no window can be left.
    system = own_system(
        tmp_path, between=f"opens_clock_min = {figure('48 h')}", recoat_closes="48 h"
    )
    cover = check(layers_of(system, air_temp_c=gap(18)))
    assert spans(cover.provisional) == []
    assert cover.verdict is Verdict.NONE_LEFT


def test_a_closing_after_the_weather_is_not_due_while_a_dose_may_come_first(tmp_path):
    # The dose is not reached in three days; closing is on day 10. Nobody knows which is first.
    system = own_system(tmp_path, "1 h", recoat_closes="240 h", cover_by_uv_dose="400 SED")
    cover = check(layers_of(system, days=3), now="1 14:00")
    assert {each.name: each.at is None for each in cover.deadlines} == {
        "recoat_closes": False, "cover_by": True
    }  # fmt: skip
    assert cover.due is None
