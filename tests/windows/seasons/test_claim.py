"""The ledger of a claim against one worked out by hand; winter, days in a row, notice, reasons."""

import csv
import io
import json
from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest
from weather_record import Record, contract, rain_day, write_record

from windows.errors import HoursError
from windows.gates import State
from windows.reports.claim_table import cause_text, claim_notes, day_rows, ledger_rows
from windows.reports.wording import Wording
from windows.safety import safety_stops
from windows.seasons.claim import claim
from windows.seasons.claim_input import (
    anticipated_of_contract,
    anticipated_of_years,
    given_anticipated,
    month_of,
    read_critical,
)
from windows.seasons.claim_result import Anticipated
from windows.seasons.contract import CalendarDays, Winter, load_contract
from windows.seasons.weather_days import weather_days

PUBLISHED = "7 8 5 3 4 3 2 2 6 4 6 8"  # an example of a published lecture, January to December
NONE = Anticipated((0,) * 12, "none")
MAY = (date(2026, 5, 1), date(2026, 5, 31))
YES, OPEN = State.BLOCKED, State.UNKNOWN


def rule(**keys):
    """Return a rule of 0.10 in a day with more keys, each with its source."""
    return rain_day(**{key: {"source": "own choice"} | told for key, told in keys.items()})


def wet(record, *days, rain=5.0):
    for day in days:
        record.spoil(day, "rain_mm", rain)
    return record


def ledger(record, by, first, last, anticipated=NONE, critical=None):
    log = None if critical is None else frozenset(map(date.fromisoformat, critical))
    return claim(
        record.by(by), date.fromisoformat(first), date.fromisoformat(last), anticipated, log
    )


def out_of(found):
    return {str(each.day): each.out for each in found.days}


def notices(found):
    return {str(each.day): str(each.notice) for each in found.days}


def test_the_worked_ledger(outside):
    """March: 9 days lost, 2 without critical work: 7; 5 anticipated: 2 x 1.4 = 2.8, so 3."""
    lost = [f"2026-03-{day:02d}" for day in (2, 3, 5, 6, 11, 17, 18, 24, 31)]
    work = [f"2026-03-{day:02d}" for day in range(1, 32) if day not in (6, 24)]
    record = wet(Record("2026-03-01", "2026-03-31"), *lost)
    record.spoil("2026-03-12", "coating", YES)  # only the coating loses it
    expected = given_anticipated(PUBLISHED, "--anticipated")
    found = ledger(
        record, load_contract("federal_half_day"), "2026-03-01", "2026-03-31", expected, work
    )
    (march,) = found.months
    assert (march.scheduled, march.lost, march.critical, march.claimable) == (22, 9, 7, 7)
    outside.equal(
        "a month of the half-day rule: anticipated 5, 2 work days over, 3 calendar days",
        (march.anticipated, march.excess, march.calendar_days), (5, 2, 3), points=1,
        source="worked by hand with the anticipated table of a published slide",
    )  # fmt: skip
    assert march.whole
    assert march.notice == date(2026, 3, 12)  # ten days after the delay of March 2 began
    out = out_of(found)
    assert out.pop("2026-03-12") == "only the coating loses it"
    assert {day for day, why in out.items() if why == "no critical work"} == {
        "2026-03-06", "2026-03-24",
    }  # fmt: skip
    assert list(out) == lost


def test_without_a_log_every_work_day_has_critical_work():
    record = wet(Record("2026-03-01", "2026-03-31"), "2026-03-02", "2026-03-03")
    found = ledger(record, rain_day(), "2026-03-01", "2026-03-31")
    assert not found.with_log
    assert (found.months[0].lost, found.months[0].critical) == (2, 2)
    assert found.months[0].calendar_days is None  # the contract names no factor


def test_a_month_with_fewer_days_than_anticipated_has_no_excess():
    record = wet(Record("2026-03-01", "2026-03-31"), "2026-03-02")
    by = load_contract("federal_half_day")
    found = ledger(record, by, "2026-03-01", "2026-03-31", given_anticipated(PUBLISHED, "-a"))
    assert (found.months[0].excess, found.months[0].calendar_days) == (0, 0)


def test_days_that_are_not_known_stand_apart():
    record = wet(Record("2026-03-01", "2026-03-31"), "2026-03-02")
    record.spoil("2026-03-03", "rain_mm", np.nan)
    record.spoil("2026-03-03", "coating", YES)
    record.spoil("2026-03-04", "coating", OPEN)
    record.spoil("2026-03-02", "coating", OPEN)
    found = ledger(record, rain_day(), "2026-03-01", "2026-03-31")
    assert [(str(each.day), each.what) for each in found.open_days] == [
        ("2026-03-03", "the contract's rule"), ("2026-03-04", "the coating"),
    ]  # fmt: skip
    assert [(str(each.day), each.by_coating) for each in found.days] == [("2026-03-02", None)]
    assert found.months[0].lost == 1


def test_months_stand_in_the_order_of_the_calendar_and_parts_say_so():
    record = wet(Record("2025-11-15", "2026-01-31"), "2025-12-01", "2026-01-30", "2026-01-05")
    found = ledger(record, rain_day(), "2025-12-01", "2026-01-15")
    assert [(m.year, m.month, m.whole, m.lost) for m in found.months] == [
        (2025, 12, True, 1), (2026, 1, False, 1),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("days", "week", "rounding", "calendar"),
    [
        (2, 5, "half_up", 3), (2, 5, "down", 2), (1, 5, "up", 2), (5, 5, "up", 7),
        (2, 6, "half_up", 2), (2, 7, "half_up", 2), (1, 6, "half_up", 1), (0, 5, "up", 0),
    ],
)  # fmt: skip
def test_calendar_days(days, week, rounding, calendar):
    told = CalendarDays(factor=(1.4, 1.2, 1.0), rounding=rounding, source="x")
    assert told.of(days, week) == calendar


def test_half_a_calendar_day_is_rounded_up():
    assert CalendarDays(factor=(1.25, 1.2, 1.0), source="x").of(2, 5) == 3
    assert CalendarDays(factor=(1.1, 1.2, 1.0), source="x").of(5, 5) == 6


# --- winter and days in a row ---------------------------------------------------------------------

WINTER = {"from": "12-01", "to": "04-30"}


@pytest.mark.parametrize(
    ("day", "inside"),
    [("2025-11-30", False), ("2025-12-01", True), ("2026-02-28", True), ("2028-02-29", True),
     ("2026-04-30", True), ("2026-05-01", False)],
)  # fmt: skip
def test_winter_goes_over_the_end_of_the_year(day, inside):
    winter = Winter.model_validate(WINTER | {"source": "x"})
    assert winter.holds(date.fromisoformat(day)) == inside


def test_winter_takes_days_out_unless_a_log_shows_critical_work():
    record = wet(Record("2026-04-01", "2026-05-31"), "2026-04-29", "2026-04-30", "2026-05-01")
    span = ("2026-04-01", "2026-05-31")
    shut = rule(winter=WINTER)
    assert out_of(ledger(record, shut, *span)) == {
        "2026-04-29": "in the winter", "2026-04-30": "in the winter", "2026-05-01": "",
    }  # fmt: skip
    log = ["2026-04-29", "2026-05-01"]
    assert out_of(ledger(record, shut, *span, critical=log))["2026-04-29"] == "in the winter"
    shown = rule(winter=WINTER | {"unless_critical": True})
    assert out_of(ledger(record, shown, *span))["2026-04-29"] == "in the winter"
    assert out_of(ledger(record, shown, *span, critical=log)) == {
        "2026-04-29": "", "2026-04-30": "no critical work", "2026-05-01": "",
    }  # fmt: skip


def test_only_days_in_a_row_count_over_weekend_holiday_and_month():
    """From Thursday May 21: 21, 22, 26 (25 is Memorial Day), 27, 28, 29, June 1: seven in a row."""
    spell = ["05-21", "05-22", "05-26", "05-27", "05-28", "05-29", "06-01"]
    record = Record("2026-05-01", "2026-06-30", holidays="US")
    wet(record, *(f"2026-{day}" for day in spell), "2026-06-10")
    span = ("2026-05-01", "2026-06-30")
    found = ledger(record, rule(only_consecutive={"days": 6, "from_day": 7}), *span)
    assert [day for day, out in out_of(found).items() if not out] == ["2026-06-01"]
    assert [month.claimable for month in found.months] == [0, 1]
    all_of = ledger(record, rule(only_consecutive={"days": 7}), *span)
    assert [month.claimable for month in all_of.months] == [6, 1]
    assert out_of(all_of)["2026-06-10"] == "not 7 in a row, from day 1 on"
    none = ledger(record, rule(only_consecutive={"days": 8}), *span)
    assert [month.claimable for month in none.months] == [0, 0]


def test_a_day_without_critical_work_ends_the_row():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-05", "2026-05-06", "2026-05-07")
    by = rule(only_consecutive={"days": 3})
    log = ["2026-05-05", "2026-05-07"]
    assert ledger(record, by, "2026-05-01", "2026-05-31").months[0].claimable == 3
    assert ledger(record, by, "2026-05-01", "2026-05-31", critical=log).months[0].claimable == 0


def test_a_day_that_is_not_known_ends_the_row():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-05", "2026-05-06", "2026-05-08")
    record.spoil("2026-05-07", "rain_mm", np.nan)
    found = ledger(record, rule(only_consecutive={"days": 3}), "2026-05-01", "2026-05-31")
    assert found.months[0].claimable == 0


# --- notice ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("after", "days", "due"),
    [
        ("day", 7, ["2026-01-05", "2026-01-06", "2026-01-08"]),
        ("delay_begin", 7, ["2026-01-05", "2026-01-05", "2026-01-05"]),
        ("delay_end", 30, ["2026-01-31", "2026-01-31", "2026-01-31"]),
        ("month_end", 10, ["2026-01-10", "2026-01-10", "2026-02-10"]),
    ],
)
def test_notice_over_the_end_of_the_year(after, days, due):
    """Lost: December 29, 30 and January 1; the 31st is a day off, so that they are one delay."""
    record = Record("2025-12-01", "2026-01-31", days_off=(date(2025, 12, 31),))
    wet(record, "2025-12-29", "2025-12-30", "2026-01-01")
    by = rule(notice={"days": days, "after": after})
    found = ledger(record, by, "2025-12-01", "2026-01-31")
    assert list(notices(found).values()) == due
    assert [str(month.notice) for month in found.months] == [due[0], due[2]]


def test_a_day_that_is_not_known_goes_on_with_a_delay_and_puts_no_notice_off():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-04", "2026-05-07", "2026-05-08")
    for day in ("2026-05-05", "2026-05-06"):
        record.spoil(day, "rain_mm", np.nan)
    span = ("2026-05-01", "2026-05-31")
    begun = ledger(record, rule(notice={"days": 10, "after": "delay_begin"}), *span)
    assert set(notices(begun).values()) == {"2026-05-14"}
    ended = ledger(record, rule(notice={"days": 10, "after": "delay_end"}), *span)
    assert list(notices(ended).values()) == ["2026-05-14", "2026-05-18", "2026-05-18"]


def test_a_record_that_begins_in_a_delay_says_so():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-01", "2026-05-04")
    by = rule(notice={"days": 10, "after": "delay_begin"})
    told = " ".join(claim_notes(ledger(record, by, "2026-05-01", "2026-05-31")))
    assert "The record begins in a delay" in told
    later = wet(Record("2026-05-01", "2026-05-31"), "2026-05-04")
    told = " ".join(claim_notes(ledger(later, by, "2026-05-01", "2026-05-31")))
    assert "The record begins in a delay" not in told


def test_no_notice_for_a_day_without_critical_work_or_of_the_coating_alone():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-05", "2026-05-06")
    record.spoil("2026-05-07", "coating", YES)
    by = rule(notice={"days": 7, "after": "day"})
    found = ledger(record, by, "2026-05-01", "2026-05-31", critical=["2026-05-05"])
    assert notices(found) == {
        "2026-05-05": "2026-05-12", "2026-05-06": "None", "2026-05-07": "None",
    }  # fmt: skip


# --- what decided ---------------------------------------------------------------------------------


def test_the_reason_of_a_day_has_value_limit_and_hour():
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "air_temp_c", -1.0, 7, 13)
    record.spoil("2026-05-05", "air_temp_c", -3.0, 9, 10)
    record.spoil("2026-05-05", "rain_mm", 1.0, 7, 9)
    found = ledger(record, load_contract("federal_half_day"), "2026-05-01", "2026-05-31")
    cause = found.days[0].cause
    assert (cause.name, cause.value, cause.limit, cause.bad) == ("hour.cold", -3, 0, "below")
    assert cause.at.tz_convert("America/New_York").hour == 9
    assert cause.hours == 6

    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "rain_mm", 1.0, 3, 5)
    record.spoil("2026-05-05", "rain_mm", 2.0, 22, 23)
    cause = ledger(record, rain_day(), "2026-05-01", "2026-05-31").days[0].cause
    assert (cause.name, cause.value, cause.bad) == ("day.rain", 4, "at or above")
    assert cause.limit == pytest.approx(2.54)
    assert cause.at.tz_convert("America/New_York").hour == 22


def test_hours_that_add_up_are_told_together():
    """Three hours of rain and three of frost lose a day of ten under a rule of five hours."""
    record = Record("2026-03-01", "2026-03-31")
    record.spoil("2026-03-04", "rain_mm", 1.0, 7, 10)
    record.spoil("2026-03-04", "air_temp_c", -2.0, 12, 15)
    found = ledger(record, load_contract("federal_half_day"), "2026-03-01", "2026-03-31")
    (day,) = found.days
    assert (day.adverse_h, day.shift_h, day.cause.hours) == (6, 10.0, 3)
    (row,) = day_rows(found, Wording("us", record.job().site.zone))
    assert "6 of 10 h" in row


def test_an_hour_of_another_day_is_told_with_its_date():
    record = Record("2026-03-01", "2026-03-31")
    record.spoil("2026-03-04", "rain_mm", 9.0)
    found = ledger(record, rain_day(), "2026-03-01", "2026-03-31")
    words = Wording("us", record.job().site.zone)
    own = replace(found.days[0], day=date(2026, 3, 3))
    assert day_rows(found, words)[0][6] == "07:00"
    assert day_rows(found, words)[0][4] == "-"  # the rule asks for no hours
    assert day_rows(replace(found, days=(own,)), words)[0][6] == "Wed Mar 4 07:00"


def test_calendar_days_of_several_months_are_rounded_once():
    """Two days in each of four months: 2.8 is 3 each, but eight are 11.2, so 11."""
    mondays = ("03-09", "03-16", "04-06", "04-13", "05-11", "05-18", "06-08", "06-15")
    record = wet(Record("2026-03-01", "2026-06-30"), *(f"2026-{day}" for day in mondays))
    by = load_contract("federal_half_day")
    found = ledger(record, by, "2026-03-01", "2026-06-30")
    rows = ledger_rows(found)
    assert [row[7] for row in rows] == ["3", "3", "3", "3", "11"]


def test_the_gate_that_blocks_most_hours_is_the_reason_of_the_coating():
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "coating", YES)
    record.spoil("2026-05-05", "air_temp_c", 6.0)
    record.spoil("2026-05-05", "air_temp_c", 4.0, 11, 12)
    day = ledger(record, rain_day(), "2026-05-01", "2026-05-31").days[0]
    assert (day.by_contract, day.by_coating) == (False, True)
    cause = day.cause
    assert (cause.name, cause.value, cause.bad, cause.hours) == ("air_temp_min", 4, "below", 10)
    assert cause.at.tz_convert("America/New_York").hour == 11


def test_a_stop_for_people_is_a_reason_and_so_is_a_shift_that_is_too_short():
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "wind_m_s", 12.0)
    job = record.job()
    stops = safety_stops(job.conditions, job.site)
    found = claim(weather_days(replace(job, stops=stops), rain_day()), *MAY, NONE, None)
    cause = found.days[0].cause
    assert (cause.name, cause.value, cause.hours) == ("safety_wind", None, 10)
    assert cause_text(cause, Wording("us")) == "safety_wind: mean wind at 10 m, most 25 mph; 10 h"

    short = Record("2026-05-01", "2026-05-31", end=time(9))
    cause = ledger(short, rain_day(), "2026-05-01", "2026-05-31").days[0].cause
    told = "min_window: shift, against the shortest window 2 h, below 4 h; 2 h"
    assert cause_text(cause, Wording("us")) == told


# --- anticipated days and the log -----------------------------------------------------------------


def test_anticipated_days_of_years_are_the_mean_rounded_half_up():
    record = Record("2024-05-01", "2025-05-31")
    wet(record, "2024-05-06", "2024-05-07", "2024-05-08")
    wet(record, "2025-05-05", "2025-05-06")
    found = anticipated_of_years(record.by(rain_day()).months())
    assert found.days == (0, 0, 0, 0, 3, 0, 0, 0, 0, 0, 0, 0)  # of May 2.5
    assert "1 to 2 years" in found.source
    assert "half up" in found.source


def test_a_month_without_years_has_no_anticipated_days():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-05")
    own = anticipated_of_years(record.by(rain_day()).months())
    assert own.days[5] is None
    other = Record("2026-06-01", "2026-06-30")
    with pytest.raises(HoursError, match="no year of the record counts for month 6"):
        ledger(other, rain_day(), "2026-06-01", "2026-06-30", own)


def test_the_contracts_own_table():
    assert anticipated_of_contract(load_contract("lease_five_hours")).days[0] == 7
    assert anticipated_of_contract(contract(**_RAIN)) is None


_RAIN = {"day": {"rain": {"limit": "1 mm", "inclusive": True, "source": "x"}}}


def test_anticipated_days_of_a_file(tmp_path):
    path = tmp_path / "days.txt"
    path.write_text("7, 8, 5, 3\n4 3 2 2\n6;4;6;8\n")
    assert given_anticipated(str(path), "-a") == given_anticipated(PUBLISHED, "-a")


@pytest.mark.parametrize("text", ["", "7 8 5", "7 " * 13, "7 8 5 3 4 3 2 2 6 4 6 8.5",
                                  "32 0 0 0 0 0 0 0 0 0 0 0"])  # fmt: skip
def test_anticipated_days_are_twelve_whole_numbers(text):
    with pytest.raises(HoursError, match="twelve whole numbers"):
        given_anticipated(text, "--anticipated")


@pytest.mark.parametrize("text", ["2026", "2026-13", "March", "2026-3", "0001-01"])
def test_a_month_is_written_as_2026_03(text):
    with pytest.raises(HoursError, match="is not a month"):
        month_of(text, "--month")


def test_december_has_31_days():
    assert month_of("2026-12", "--month") == (date(2026, 12, 1), date(2026, 12, 31))


def test_a_period_outside_the_record_is_refused():
    with pytest.raises(HoursError, match="holds 2026-05-01 to 2026-05-31, not all of 2027-05-01"):
        ledger(Record("2026-05-01", "2026-05-31"), rain_day(), "2027-05-01", "2027-05-31")


def test_a_log_may_say_yes_and_no(tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("date,critical\n2026-03-02,yes\n2026-03-03,no\n2026-03-04,X\n")
    assert read_critical(log) == {date(2026, 3, 2), date(2026, 3, 4)}
    log.write_text("date,critical\n2026-03-02,perhaps\n")
    with pytest.raises(HoursError, match="line 2: critical is 'perhaps'; write yes or no"):
        read_critical(log)


def test_a_log_without_a_day_of_the_period_says_so():
    record = wet(Record("2026-03-01", "2026-03-31"), "2026-03-04")
    found = ledger(record, rain_day(), "2026-03-01", "2026-03-31", critical=["2025-03-04"])
    assert "names no lost day" in " ".join(claim_notes(found))


def test_a_period_longer_than_the_record_is_refused():
    record = wet(Record("2026-03-01", "2026-03-31"), "2026-03-04")
    with pytest.raises(HoursError, match="holds 2026-03-01 to 2026-03-31, not all of 2026-01-01"):
        ledger(record, rain_day(), "2026-01-01", "2026-12-31")


def test_anticipated_days_count_also_where_the_coating_is_not_known():
    record = wet(Record("2026-05-01", "2026-05-31"), "2026-05-06", "2026-05-07")
    record.spoil("2026-05-06", "coating", OPEN)
    months = record.by(rain_day()).months()
    assert months.figures["counted"].tolist() == [1]
    assert anticipated_of_years(months).days[4] == 2


def test_a_log_is_a_table_with_dates(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Activity,Date\nbase coat,2026-03-02\n\n\"top, coat\",2026-03-03\n")
    assert read_critical(path) == {date(2026, 3, 2), date(2026, 3, 3)}


@pytest.mark.parametrize(
    ("content", "part"),
    [
        ("day\n2026-03-02\n", "no column 'date'"),
        ("date\n2026-03-02\n3/3/2026\n", "line 3: '3/3/2026' is not a date"),
        ("a,date\nx\n", "line 2: '' is not a date"),
        ("", "empty"),
    ],
)
def test_faults_of_a_log_are_one_sentence(tmp_path, content, part):
    path = tmp_path / "log.csv"
    path.write_text(content)
    with pytest.raises(HoursError) as caught:
        read_critical(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert part in str(caught.value)


# --- the command ----------------------------------------------------------------------------------

WET = [f"2026-03-{day:02d}" for day in (2, 3, 5, 6, 11, 17, 18, 24, 31)]
ASK = ("--coating", "acrylic", "--contract", "federal_half_day")
MARCH = ("--month", "2026-03")
GIVEN = ("--anticipated", PUBLISHED)


@pytest.fixture
def record_file(tmp_path):
    path = tmp_path / "hours.csv"
    return write_record(path, "2026-02-20", "2026-04-10", "America/Chicago", WET)


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log.csv"
    days = [f"2026-03-{day:02d},base coat" for day in range(1, 32) if day not in (6, 24)]
    path.write_text("\n".join(["date,work", *days]) + "\n")
    return path


def test_the_worked_ledger_comes_out_of_the_command(good, site, record_file, log):
    out = good("claim", site, *ASK, "--weather", record_file, *MARCH, *GIVEN, "--critical", log)
    row = next(line.split() for line in out.splitlines() if line.startswith("Mar 2026"))
    assert row[:9] == ["Mar", "2026", "22", "9", "7", "7", "5", "2", "3"]
    assert " ".join(row[9:]) == "Thu Mar 12, 2026"
    assert out.count("The contract's own wording governs") == 1
    assert "No daily log" not in out
    assert "no critical work" in out
    assert "hour.rain: rain in the hour 0.079 in, at or above 0.010 in" in out


def test_without_a_log_the_command_says_that_the_claim_cannot_be_shown(good, site, record_file):
    out = good("claim", site, *ASK, "--weather", record_file, *MARCH, *GIVEN)
    assert "the claim cannot be shown" in out
    row = next(line.split() for line in out.splitlines() if line.startswith("Mar 2026"))
    assert row[3:9] == ["9", "9", "9", "5", "4", "6"]  # 4 x 1.4 = 5.6


def test_anticipated_days_worked_out_of_years(good, site, record_file):
    asked = ("--weather", record_file, "--from", "2026-03-02", "--to", "2026-03-20")
    out = good("claim", site, *ASK, *asked, "--years", record_file)
    assert "worked out: the mean of 1 years" in out
    assert "Mar 2026 (part)" in out
    assert "A month that is not whole" in out


def test_json_and_csv_hold_the_same(good, site, record_file, log, tmp_path):
    path = tmp_path / "claim.csv"
    told = json.loads(good(
        "claim", site, *ASK, "--weather", record_file, *MARCH, *GIVEN, "--critical", log,
        "--csv", path, "--json",
    ))  # fmt: skip
    assert told["months"][0]["calendar_days"] == 3
    assert told["months"][0]["notice_by"] == "2026-03-12"
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    assert [row["date"] for row in rows if row["by_contract"] == "yes"] == WET
    assert [row["date"] for row in rows] == [day["date"] for day in told["days"]]
    assert float(rows[0]["value"]) == told["days"][0]["value"] == 2
    assert rows[0]["hour_local"] == "2026-03-02T07:00:00-06:00"
    assert told["daily_log"]


@pytest.mark.parametrize(
    ("changed", "part"),
    [
        ((), "give the period"),
        ((*MARCH, "--from", "2026-03-01"), "give the period"),
        (("--from", "2026-03-09", "--to", "2026-03-01"), "exchange them"),
        (("--from", "9 March", "--to", "2026-03-31"), "--from '9 March' is not a date"),
        (("--month", "3"), "--month '3' is not a month"),
        (("--month", "2025-03"), "not all of 2025-03-01 to 2025-03-31"),
        ((*MARCH, "--years", "x.csv"), "give one"),
        ((*MARCH, "--critical", "none.csv"), "none.csv: no such file"),
        ((*MARCH, "--contract", "half_day"), "contract 'half_day' is not known"),
        ((*MARCH, "--anticipated", "none.txt"), "none.txt: no such file"),
        ((*MARCH, "--anticipated", "1 2"), "twelve"),
        ((*MARCH, "--csv", "hours.csv"), "name another file"),
    ],
)
def test_faults_of_the_command_are_one_sentence(fault, site, record_file, changed, part):
    told = fault("claim", site, *ASK, "--weather", record_file, *GIVEN, *changed)
    assert part in told


def test_a_forecast_is_no_evidence(fault, site, record_file):
    told = fault("claim", site, *ASK, "--weather", site / "weather.csv", *MARCH, *GIVEN)
    assert "is a forecast" in told
    foretold = site / "foretold.csv"  # as saved answers of some services: no time of issue
    foretold.write_text(f"# kind: forecast\n{record_file.read_text()}")
    told = fault("claim", site, *ASK, "--weather", foretold, *MARCH, *GIVEN)
    assert "foretold.csv: is a forecast, and says nothing of" in told
