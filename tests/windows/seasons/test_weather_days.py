"""Days that a contract counts and days that a coating loses, against tables worked out by hand."""

import csv
import io
import json
import tomllib
from dataclasses import replace
from datetime import time
from importlib.resources import files
from pathlib import Path
from typing import get_args

import numpy as np
import pandas as pd
import pytest
from pydantic import BaseModel
from weather_record import LEAST_H, ZONE, Record, contract, rain_day, write_record

from cure_models.sourced import BASES
from windows.errors import SiteError
from windows.gates import State
from windows.reports.weather_days_table import contract_dict
from windows.seasons.contract import Contract, contract_names, load_contract
from windows.seasons.weather_days import FIGURES, UNINSURED, over_years, weather_days

NO, YES, OPEN = State.OK, State.BLOCKED, State.UNKNOWN
RAIN = 0.254  # 0.01 in, the least rain that counts


def states(found, what="counted"):
    """Return the state of each contract work day of the record by date."""
    days = found.days
    inside = days.scheduled & (days.by_date(np.ones(days.day.size, dtype=bool)) > 0)
    return {
        str(day): State(state)
        for day, state in zip(days.date[inside], getattr(found, what)[inside], strict=True)
    }


def test_a_month_of_the_half_day_rule_worked_out_by_hand():
    """March 2026, 22 work days, shift 07:00 to 17:00 (10 h): half are 5 h; a window takes 4 h."""
    record = Record("2026-03-01", "2026-03-31")
    spoil = record.spoil
    # 2: 5 h of rain, just half: counted. The coating has 12:00 to 17:00: workable.
    spoil("2026-03-02", "rain_mm", RAIN, 7, 12)
    spoil("2026-03-02", "coating", YES, 7, 12)
    # 3: 4 h of rain: not counted. The coating has 3 h: lost, so to be priced.
    spoil("2026-03-03", "rain_mm", RAIN, 7, 11)
    spoil("2026-03-03", "coating", YES, 7, 14)
    # 4: rain all day, nothing for the coating: both.
    spoil("2026-03-04", "rain_mm", 3.0)
    spoil("2026-03-04", "coating", YES)
    # 5: dry; 3 h and 3 h with one between: no 4 h in a row: lost, to be priced.
    spoil("2026-03-05", "coating", YES, 10, 11)
    spoil("2026-03-05", "coating", YES, 14, 17)
    # 6: 10 h of rain a little below 0.01 in: neither.
    spoil("2026-03-06", "rain_mm", 0.253)
    # 9, the first work day of summer time: 5 h below freezing: counted; coating lost: both.
    spoil("2026-03-09", "air_temp_c", -0.1, 12, 17)
    spoil("2026-03-09", "coating", YES)
    # 10: wind of just 25 mph, and just 32 F: not beyond: neither.
    spoil("2026-03-10", "wind_m_s", 11.176)
    spoil("2026-03-10", "air_temp_c", 0.0)
    # 11: above 25 mph all day: counted, the coating does not mind: workable.
    spoil("2026-03-11", "wind_m_s", 11.2)
    # 12: rain 4 h, not known 3 h: 4 to 7 of 10: not known.
    spoil("2026-03-12", "rain_mm", RAIN, 7, 11)
    spoil("2026-03-12", "rain_mm", np.nan, 12, 15)
    # 13: not known 4 h, dry else: at most 4 of 10: not counted, workable: neither.
    spoil("2026-03-13", "rain_mm", np.nan, 7, 11)
    # 14, a Saturday: rain and no coating all day: no contract work day.
    spoil("2026-03-14", "rain_mm", 9.0)
    spoil("2026-03-14", "coating", YES)
    # 16: rain 5 h, the rest not known: counted whatever it was; coating lost: both.
    spoil("2026-03-16", "rain_mm", RAIN, 7, 12)
    spoil("2026-03-16", "rain_mm", np.nan, 12, 17)
    spoil("2026-03-16", "coating", YES)
    # 17: the coating is not known all day: not known.
    spoil("2026-03-17", "coating", OPEN)
    # 18: not known for 3 h only, blocked else: no 4 h can be had: lost, to be priced.
    spoil("2026-03-18", "coating", YES)
    spoil("2026-03-18", "coating", OPEN, 7, 10)

    months = record.by(load_contract("federal_half_day")).months()
    assert (months.year.tolist(), months.month.tolist()) == ([2026], [3])
    assert months.left_out == ()
    assert {name: values.tolist() for name, values in months.figures.items()} == {
        "scheduled": [22],
        "counted": [5],  # 2 4 9 11 16
        "lost": [6],  # 3 4 5 9 16 18
        "both": [3],  # 4 9 16
        "lost_only": [3],  # 3 5 18
        "lost_dry": [2],  # 5 18
        "counted_only": [2],  # 2 11
        "unknown": [2],  # 12 17
    }
    march = over_years(months)[2]
    assert march.mostly == "air_temp_min"  # the one gate of the record
    assert march.years == (2026,)
    assert march.figures[UNINSURED].mean == 1  # 6 - 5


@pytest.mark.parametrize(
    ("limit", "inclusive", "rain", "state"),
    [
        ("0.10 in", True, 2.54, YES),
        ("0.10 in", True, 2.53, NO),
        ("0.10 in", False, 2.54, NO),
        ("0.2 in", False, 5.08, NO),
        ("0.2 in", False, 5.09, YES),
    ],
)
def test_rain_of_the_day_at_its_limit(limit, inclusive, rain, state):
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "rain_mm", rain / 2, 0, 1)
    record.spoil("2026-05-05", "rain_mm", rain / 2, 23, 24)
    found = states(record.by(rain_day(limit, inclusive=inclusive)))
    assert found.pop("2026-05-05") == state
    assert set(found.values()) == {NO}


@pytest.mark.parametrize(("mean", "state"), [(4.4444, NO), (4.4443, YES)])
def test_mean_temperature_of_the_day_at_40_degrees(mean, state):
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "air_temp_c", mean - 3, 0, 12)
    record.spoil("2026-05-05", "air_temp_c", mean + 3, 12, 24)
    assert states(record.by(load_contract("state_fifth_inch_and_cold")))["2026-05-05"] == state


@pytest.mark.parametrize(("hours", "state"), [(4, NO), (5, YES)])
def test_less_than_sixty_percent_left_is_more_than_four_hours_of_ten_lost(hours, state):
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "rain_mm", 1.0, 7, 7 + hours)
    assert states(record.by(load_contract("state_sixty_percent")))["2026-05-05"] == state


@pytest.mark.parametrize(("hours", "state"), [(5, NO), (6, YES)])
def test_more_than_five_hours(hours, state):
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "rain_mm", 1.0, 7, 7 + hours)
    assert states(record.by(load_contract("lease_five_hours")))["2026-05-05"] == state


def test_a_shift_that_the_record_cuts_is_not_known_unless_it_holds_a_window():
    """The record ends at 13:00 on Tuesday May 12, the shift at 17:00."""
    for blocked, lost in ((YES, OPEN), (NO, NO)):
        record = Record("2026-05-01", "2026-05-12")
        record.spoil("2026-05-12", "coating", blocked)
        record.cut(11)
        assert states(record.by(rain_day()), "lost")["2026-05-12"] == lost
        assert states(record.by(rain_day()))["2026-05-12"] == OPEN
        assert states(record.by(load_contract("federal_half_day")))["2026-05-12"] == NO
        record.cut(2)
        assert states(record.by(load_contract("federal_half_day")))["2026-05-12"] == OPEN


def test_a_deck_that_is_wet_for_half_the_shift_loses_the_day_only_where_the_contract_says_so():
    record = Record("2026-05-01", "2026-05-31")
    job = record.job()
    water = np.zeros(len(record.index))
    for day, end in (("2026-05-05", 12), ("2026-05-06", 11), ("2026-05-07", 12)):
        rows = (record.local.strftime("%Y-%m-%d") == day) & (record.local.hour < end)
        water[rows] = 0.1 if day != "2026-05-07" else np.nan
    job = replace(job, conditions=replace(job.conditions, wet_mm=water))
    wet = states(weather_days(job, load_contract("federal_half_day_wet_deck")))
    assert [wet[f"2026-05-0{day}"] for day in (5, 6, 7, 8)] == [YES, NO, OPEN, NO]
    dry = states(weather_days(job, load_contract("federal_half_day")))
    assert set(dry.values()) == {NO}


def test_a_missing_hour_can_hold_any_rain_but_takes_none_away():
    record = Record("2026-05-01", "2026-05-31")
    record.spoil("2026-05-05", "rain_mm", np.nan, 3, 4)
    record.spoil("2026-05-06", "rain_mm", np.nan, 3, 4)
    record.spoil("2026-05-06", "rain_mm", 2.6, 20, 21)
    record.spoil("2026-05-07", "air_temp_c", np.nan, 3, 4)
    found = states(record.by(rain_day()))
    assert (found["2026-05-05"], found["2026-05-06"], found["2026-05-07"]) == (OPEN, YES, NO)
    cold = states(record.by(load_contract("state_fifth_inch_and_cold")))
    assert cold["2026-05-07"] == OPEN


@pytest.mark.parametrize("day", ["2026-03-08", "2026-11-01"])
def test_days_of_23_and_25_hours_are_whole(day):
    record = Record(f"{day[:8]}01", day)
    record.spoil(day, "rain_mm", 2.54, 23, 24)
    assert states(record.by(rain_day(week=7)))[day] == YES
    record.columns["rain_mm"][:] = 0
    assert states(record.by(rain_day(week=7)))[day] == NO


def test_rain_of_a_block_across_midnight_may_have_fallen_on_either_side():
    record = Record("2026-05-01", "2026-05-31")
    record.columns["rain_block_h"] = np.ones(len(record.index))
    rows = np.flatnonzero(record.local == pd.Timestamp("2026-05-05 22:00", tz=ZONE))[0]
    record.columns["rain_block_h"][rows : rows + 4] = 4
    record.columns["rain_mm"][rows : rows + 4] = 0.75  # 3 mm in 4 h: each day had 0 to 3
    found = states(record.by(rain_day()))
    assert (found["2026-05-05"], found["2026-05-06"], found["2026-05-07"]) == (OPEN, OPEN, NO)
    record.spoil("2026-05-06", "rain_mm", 2.0, 12, 13)  # 2 to 5 mm
    record.spoil("2026-05-05", "rain_mm", 2.6, 12, 13)  # 2.6 to 5.6 mm
    found = states(record.by(rain_day()))
    assert (found["2026-05-05"], found["2026-05-06"]) == (YES, OPEN)


def test_rain_of_a_block_may_have_fallen_in_any_hour_of_it():
    record = Record("2026-05-01", "2026-05-31")
    record.columns["rain_block_h"] = np.ones(len(record.index))
    record.spoil("2026-05-05", "rain_block_h", 10)
    record.spoil("2026-05-05", "rain_mm", 1.0)
    found = states(record.by(load_contract("federal_half_day")))
    assert found["2026-05-05"] == OPEN  # a cloudburst of an hour, or ten hours of rain


@pytest.mark.parametrize(("week", "days"), [(5, 20), (6, 25), (7, 30)])
def test_work_days_are_those_of_the_week_without_the_holiday(week, days):
    """May 2026: 21 weekdays, 5 Saturdays, 5 Sundays; Memorial Day is Monday 25."""
    record = Record("2026-05-01", "2026-05-31", holidays="US", work_days=("Tue",))
    record.spoil("2026-05-25", "rain_mm", 9.0, 0, 24)
    months = record.by(rain_day(week=week)).months()
    assert months.figures["scheduled"].tolist() == [days]
    assert months.figures["counted"].tolist() == [0]


def test_a_month_counts_with_nine_tenths_known_for_contract_and_coating():
    """Twenty days of ten hours: two days may be open, not more; of the coating twenty hours."""
    holidays = {"holidays": "US"}
    record = Record("2026-05-01", "2026-05-31", **holidays)
    for day in ("2026-05-05", "2026-05-06"):
        record.spoil(day, "rain_mm", np.nan)
        record.spoil(day, "coating", OPEN)
    found = record.by(rain_day()).months()
    assert found.figures["unknown"].tolist() == [2]
    record.spoil("2026-05-07", "rain_mm", np.nan, 12, 13)
    assert record.by(rain_day()).months().left_out == ((2026, 5),)
    record.spoil("2026-05-07", "rain_mm", 0.0, 12, 13)
    assert record.by(rain_day()).months().left_out == ()
    record.spoil("2026-05-07", "coating", OPEN, 7, 8)
    assert record.by(rain_day()).months().left_out == ((2026, 5),)


def test_a_month_that_the_record_holds_in_part_is_left_out():
    record = Record("2026-05-01", "2026-06-20")
    months = record.by(rain_day()).months()
    assert (months.month.tolist(), months.left_out) == ([5], ((2026, 6),))


def test_percentiles_over_the_years_are_those_of_whole_years():
    record = Record("2021-05-01", "2025-05-31")
    wet = {2021: 4, 2022: 0, 2023: 2, 2024: 1, 2025: 9}
    for year, days in wet.items():
        work = pd.bdate_range(f"{year}-05-01", f"{year}-05-31")[:days]
        for day in work.strftime("%Y-%m-%d"):
            record.spoil(day, "rain_mm", 9.0)
    of = over_years(record.by(rain_day()).months())
    may = of[4].figures["counted"]
    assert (may.years, may.mean, may.p50, may.p80) == (5, 3.2, 2, 4)
    assert of[5].years == (2021, 2022, 2023, 2024)


def test_taking_values_away_never_makes_a_day_counted_or_good():
    """Of three answers only UNKNOWN may come about."""
    random = np.random.default_rng(1)
    record = Record("2026-05-01", "2026-05-31")
    hours = len(record.index)
    record.columns["rain_mm"] = np.where(random.random(hours) < 0.1, random.random(hours) * 3, 0)
    record.columns["air_temp_c"] = random.normal(4, 5, hours).clip(-20, 30)
    record.coating = random.choice([NO, YES], hours).astype(np.int8)
    rules = [load_contract(name) for name in contract_names()]
    before = [record.by(rule) for rule in rules]
    gone = random.random(hours) < 0.1
    record.columns["rain_mm"][gone] = np.nan
    record.columns["air_temp_c"][random.random(hours) < 0.1] = np.nan
    record.coating[gone] = OPEN
    changed = 0
    for rule, old in zip(rules, before, strict=True):
        new = record.by(rule)
        for what in ("counted", "lost"):
            was, now = getattr(old, what), getattr(new, what)
            assert ((now == was) | (now == OPEN)).all()
            changed += (now != was).sum()
    assert changed


def plainly(record, local, rule, day, water):
    """Whether a contract counts a day, and the coating loses it, hour by hour and in words.

    ``local`` are the times of the record on the site's clock, as plain ones: pandas would make each
    of them anew at every look.
    """
    hours = [n for n, time in enumerate(local) if str(time.date()) == day]
    shift = [n for n in hours if 7 <= local[n].hour < 17]
    rain, air, wind = (record.columns[key] for key in ("rain_mm", "air_temp_c", "wind_m_s"))
    hour, whole = rule.hour, rule.day
    bad = 0
    for n in shift if hour else []:
        wet = rain[n] >= hour.rain.limit  # the shipped ones: at least, below, more than
        on_roof = hour.wet is not None and water[n] > hour.wet.limit
        bad += wet or on_roof or air[n] < hour.cold.limit or wind[n] > hour.wind.limit
    counted = False
    if rule.lost:
        needed = rule.lost.hours or rule.lost.share * len(shift)
        counted = bad >= needed if rule.lost.inclusive else bad > needed
    if whole:
        fallen = sum(rain[n] for n in hours)
        counted |= fallen >= whole.rain.limit if whole.rain.inclusive else fallen > whole.rain.limit
        if whole.cold:
            counted |= sum(air[n] for n in hours) / len(hours) < whole.cold.limit
    run = best = 0
    for n in shift:
        run = run + 1 if record.coating[n] == NO else 0
        best = max(best, run)
    return YES if counted else NO, YES if best < LEAST_H else NO


@pytest.mark.parametrize("name", contract_names())
def test_every_contract_against_a_plain_count(name, outside):
    random = np.random.default_rng(7)
    record = Record("2026-03-01", "2026-04-30")
    hours = len(record.index)
    record.columns["rain_mm"] = np.round(
        np.where(random.random(hours) < 0.25, random.random(hours) * 3, 0), 2
    )
    record.columns["air_temp_c"] = np.round(random.normal(3, 5, hours), 2)
    record.columns["wind_m_s"] = np.round(random.normal(8, 3, hours).clip(0), 2)
    record.coating = random.choice([NO, YES], hours, p=[0.7, 0.3]).astype(np.int8)
    rule = load_contract(name)
    found = record.by(rule)
    counted, lost = states(found), states(found, "lost")
    water = found.job.conditions.wet_mm
    local = record.local.to_pydatetime()
    plain = {day: plainly(record, local, rule, day, water) for day in counted}
    outside.equal(
        "days that count and days lost, two months, every contract",
        {day: (counted[day], lost[day]) for day in counted}, plain,
        source="a plain count over the hours",
    )  # fmt: skip
    assert {state for state, _ in plain.values()} == {NO, YES}


# --- contract files -------------------------------------------------------------------------------


def test_every_number_of_a_shipped_contract_has_a_source_that_says_how_it_is_known():
    text = (files("windows") / "contracts.toml").read_text(encoding="utf-8")

    def sources(table):
        for key, value in table.items():
            if key == "source":
                yield value
            elif isinstance(value, dict):
                yield from sources(value)

    assert all(source.startswith(BASES) for source in sources(tomllib.loads(text)))


def keys_of(model=Contract):
    for name, field in model.model_fields.items():
        yield field.alias or name
        for inner in (field.annotation, *get_args(field.annotation)):
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                yield from keys_of(inner)


def test_the_page_names_every_contract_and_every_key_of_a_file(tmp_path):
    page = (Path(__file__).parents[3] / "docs" / "weather_days.md").read_text(encoding="utf-8")
    assert {"from", "from_day", "unless_critical", "inclusive"} <= set(keys_of())
    assert [key for key in (*contract_names(), *keys_of()) if f"`{key}`" not in page] == []
    path = tmp_path / "ours.toml"
    path.write_text(page.partition("```toml\n")[2].partition("```")[0])
    assert load_contract(str(path)).week == 6


OWN = """
title = "Ours"
source = "contract 12, section 3"
week = 6
[lost]
hours = "4 h"
inclusive = true
source = "3.1"
[hour.rain]
limit = "1 mm"
inclusive = true
source = "3.2"
[winter]
from = "12-15"
to = "02-28"
source = "3.3"
"""


def test_a_contract_of_ones_own(tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text(OWN)
    own = load_contract(str(path))
    assert (own.name, own.week, own.lost.hours) == ("ours", 6, 4)
    assert own.limits["hour.rain"].limit == 1
    assert list(own.limits) == ["hour.rain"]


def test_a_contract_without_limits_of_its_own_takes_the_usual_ones(tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text(OWN.replace('[hour.rain]\nlimit = "1 mm"\ninclusive = true\n', "[notice]\n"
                                'days = 7\nafter = "day"\n'))  # fmt: skip
    assert list(load_contract(str(path)).limits) == ["hour.rain", "hour.cold", "hour.wind"]


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ("week = 6", "weak = 6", ["key 'weak' is not known", "week"]),
        ("week = 6", "week = 4", ["key 'week'", "4"]),
        ('"1 mm"', '"1 mph"', ["key 'hour.rain.limit'", "mm, in"]),
        ('"1 mm"', "1", ["key 'hour.rain.limit'", "no unit"]),
        ('"1 mm"', '"0 mm"', ["must be above zero"]),
        ("inclusive = true\nsource = \"3.2\"", 'source = "3.2"', ["inclusive' is missing"]),
        ('hours = "4 h"', 'hours = "4 h"\nshare = "50 %"', ["either share or hours"]),
        ('hours = "4 h"', 'share = "150 %"', ["at most 100 %"]),
        ('hours = "4 h"', 'hours = "0 h"', ["must be above zero"]),
        ('"12-15"', '"31-12"', ["key 'winter.from'", '"12-01"']),
        ("[winter]", "[sommer]", ["key 'sommer' is not known"]),
        ("week = 6", "week = 6\nanticipated = { days = [1, 2], source = \"x\" }", ["twelve"]),
        ("week = 6", 'week = 6\nnotice = { days = 7, after = "lunch", source = "x" }', ["after"]),
        ("week = 6", "week = ", ["not valid TOML"]),
    ],
)  # fmt: skip
def test_faults_of_a_contract_file_are_one_sentence(tmp_path, old, new, parts):
    assert old in OWN
    path = tmp_path / "ours.toml"
    path.write_text(OWN.replace(old, new))
    with pytest.raises(SiteError) as caught:
        load_contract(str(path))
    told = str(caught.value)
    assert told.startswith(f"{path}: ")
    assert "\n" not in told
    for part in parts:
        assert part in told


def test_a_part_hour_of_the_shift_is_never_adverse_but_the_share_counts_of_it():
    """07:00 to 17:30 is ten whole hours and a half: half of it are 5 h 15 min, so six hours."""
    for hours, state in ((5, NO), (6, YES)):
        record = Record("2026-03-01", "2026-03-31", end=time(17, 30))
        record.spoil("2026-03-04", "rain_mm", RAIN, 7, 7 + hours)
        found = record.by(load_contract("federal_half_day"))
        assert states(found)["2026-03-04"] == state
        assert found.adverse_h.sum() == hours


def test_days_of_the_winter_and_too_few_in_a_row_are_none_of_the_contract():
    record = Record("2026-11-01", "2026-12-31")
    for day in ("2026-11-10", "2026-11-11", "2026-12-10"):
        record.spoil(day, "rain_mm", 9.0)
        record.spoil(day, "coating", YES)
    rules = {"winter": {"from": "12-01", "to": "04-30"}, "only_consecutive": {"days": 3}}
    for key, counted, priced in (
        (None, [2, 1], [0, 0]), ("winter", [2, 0], [0, 1]), ("only_consecutive", [0, 0], [2, 1]),
    ):  # fmt: skip
        keys = {} if key is None else {key: rules[key] | {"source": "own choice"}}
        months = record.by(rain_day(**keys)).months()
        assert months.figures["counted"].tolist() == counted
        assert months.figures["lost_only"].tolist() == priced
        assert months.by_contract.tolist() == [2, 1]


SHIPPED = {
    "federal_half_day": (5, 0.5, None, True, {}, (1.4, 1.2, 1.0), (10, "delay_begin"), None),
    "federal_half_day_wet_deck": (
        5, 0.5, None, True, {"hour.wet": 0.0}, (1.4, 1.2, 1.0), (10, "delay_begin"), None,
    ),
    "state_sixty_percent": (5, 0.4, None, False, {}, None, None, None),
    "state_winter_break": (
        5, 0.5, None, False, {}, (1.4, 1.2, 1.0), (30, "delay_end"),
        (8, 8, 7, 6, 0, 0, 0, 0, 0, 0, 0, 6),
    ),
    "lease_five_hours": (
        5, None, 5.0, False, {}, (1.0, 1.0, 1.0), None, (7, 7, 4, 3, 1, 1, 0, 0, 0, 2, 2, 2),
    ),
    "county_tenth_inch": (7, None, None, None, {"day.rain": 2.54}, None, None, None),
    "state_fifth_inch_and_cold": (
        5, None, None, None, {"day.rain": 5.08, "day.cold": 40 / 9}, None, None, None,
    ),
    "state_half_inch": (
        5, None, None, None, {"day.rain": 12.7}, None, (10, "month_end"), None,
    ),
    "owner_ten_in_a_row": (5, 0.5, None, True, {}, None, None, (0,) * 12),
}  # fmt: skip
USUAL = {"hour.rain": 0.254, "hour.cold": 0.0, "hour.wind": 11.176}


@pytest.mark.parametrize("name", SHIPPED)
def test_the_numbers_of_the_shipped_contracts(name):
    """Written out again from the documents, in SI by hand: 0.10 in 2.54 mm, 40 degF 4.44 degC."""
    week, share, hours, inclusive, limits, factor, notice, table = SHIPPED[name]
    found = load_contract(name)
    assert found.week == week
    lost = found.lost and (found.lost.share, found.lost.hours, found.lost.inclusive)
    assert lost == (None if inclusive is None else (share, hours, inclusive))
    expected = (USUAL if inclusive is not None else {}) | limits
    assert {k: limit.limit for k, limit in found.limits.items()} == pytest.approx(expected)
    assert (found.calendar_days and found.calendar_days.factor) == factor
    assert (found.notice and (found.notice.days, found.notice.after)) == notice
    assert (found.anticipated and found.anticipated.days) == table
    assert set(SHIPPED) == set(contract_names())
    winter = found.winter and (found.winter.first, found.winter.last, found.winter.unless_critical)
    assert winter == (((12, 1), (4, 30), True) if name == "state_winter_break" else None)
    row = found.only_consecutive and (found.only_consecutive.days, found.only_consecutive.from_day)
    assert row == ((10, 11) if name == "owner_ten_in_a_row" else None)


def test_contracts_that_count_nothing_are_refused():
    with pytest.raises(ValueError, match="nothing makes a day adverse"):
        contract()
    with pytest.raises(ValueError, match="hour is given without lost"):
        contract(hour={"rain": {"limit": "1 mm", "inclusive": True, "source": "x"}})


# --- the command ----------------------------------------------------------------------------------


@pytest.fixture
def record_file(tmp_path):
    """Three months of hours at the demo's place: dry, with rain in a few shifts of May."""
    return write_record(tmp_path / "hours.csv", "2026-04-01", "2026-06-30", "America/Chicago")


ASK = ("--coating", "acrylic", "--contract", "county_tenth_inch")


def test_the_command_shows_both_columns_and_says_that_the_contract_governs(
    good, site, record_file
):
    out = good("weather-days", site, *ASK, "--years", record_file)
    assert out.count("The contract's own wording governs") == 1
    row = next(line.split() for line in out.splitlines() if line.startswith("May"))
    assert row[:4] == ["May", "1", "30.0", "3.0"]  # 31 days without Memorial Day, 3 wet ones
    assert "day.rain  rain 0.10 in or more, in a day" in out
    si = good("weather-days", site, *ASK, "--years", record_file, "--units", "si")
    assert "2.5 mm or more" in si


def test_csv_and_json_of_the_command_hold_the_same(good, site, record_file, tmp_path):
    path = tmp_path / "days.csv"
    told = json.loads(
        good("weather-days", site, *ASK, "--years", record_file, "--csv", path, "--json")
    )
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    assert [row["month"] for row in rows] == ["4", "5", "6"]
    may = told["months"][4]
    assert may["years"] == [2026]
    for name in (*FIGURES, UNINSURED):
        assert float(rows[1][name]) == may["figures"][name]["mean"]
    assert told["contract"]["day"]["rain"]["limit"] == pytest.approx(2.54)
    assert "legal advice" in told["governs"][0]


def test_the_list_shows_every_contract_with_its_sources(good):
    out = good("weather-days", "--list")
    for name in contract_names():
        assert f"({name})" in out
    assert "FAR 52.249-10" in out
    assert "no legal advice" in out


@pytest.mark.parametrize("words", [("--list", "--json"), ("--json", "--list")])
def test_the_list_as_json_is_that_of_their_file(good, words):
    told = json.loads(good("weather-days", *words))
    by_name = {each["name"]: each for each in told["contracts"]}
    assert [*by_name] == list(contract_names())
    assert by_name["county_tenth_inch"] == contract_dict(load_contract("county_tenth_inch"))
    assert "no legal advice" in told["governs"]


@pytest.mark.parametrize(
    ("changed", "part"),
    [
        (("--contract", "county_tenth_in"), "did you mean 'county_tenth_inch'?"),
        (("--contract", "none.toml"), "none.toml: no such file"),
        (("--coating", "acryl"), "is not known"),
    ],
)
def test_faults_of_the_command_are_one_sentence(fault, site, record_file, changed, part):
    assert part in fault("weather-days", site, *ASK, "--years", record_file, *changed)


def test_a_forecast_says_nothing(fault, site):
    assert "forecast" in fault("weather-days", site, *ASK, "--years", site / "weather.csv")


def test_a_record_without_a_whole_month_is_refused(fault, site, tmp_path):
    short = write_record(tmp_path / "s.csv", "2026-05-03", "2026-05-20", "America/Chicago")
    assert "no month has 90 %" in fault("weather-days", site, *ASK, "--years", short)


def test_the_csv_is_not_written_over_the_record(fault, site, record_file):
    told = fault("weather-days", site, *ASK, "--years", record_file, "--csv", record_file)
    assert "name another file" in told
