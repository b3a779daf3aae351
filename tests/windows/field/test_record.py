"""The application record: what stands, whole numbers by hand, and nothing met that is not known."""

import time
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import plan_cases
import pytest
import record_cases
from even_cure import own_system
from record_cases import FT2, GAL, MIL, Log, local

from cure_models.system import load_system
from windows.field.moist_air import computed
from windows.field.record import record
from windows.field.record_result import Told
from windows.job_file import JobFile, Placed, Section
from windows.layers import system_hours
from windows.log.entries import Beside, Entry, Photo, Reading, WetFilm

TWO_COATS = "acrylic_two_coat"


def of(log, *, day=None, system=TWO_COATS, now="2026-06-08 12:00", weather=None, job=None, **more):
    """Return the record of a log; with ``weather``, in so many days of steady weather."""
    system = load_system(system) if isinstance(system, str) else system
    site = plan_cases.site()
    hours = None
    if weather is not None:
        table = plan_cases.weather(weather, "2026-06-01T00:00Z", **more)
        hours = system_hours(site, system, table, start_wet_mm=0.0)
    sections = tuple(Section(name=name, area="1000 ft2") for name in ("North", "South"))
    return record(
        log.entries, site=site, system=system, job=job or JobFile(section=sections),
        now=local(now), day=None if day is None else date.fromisoformat(day), head=log.head,
        in_weather=hours,
    )  # fmt: skip


def told(found, name):
    """Return what is told of a deadline of the first layer."""
    (judged,) = [each for each in found.clocks[0].judged if each.name == name]
    return judged.told


def test_totals_are_those_of_a_hand(outside):
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", volume_l=15 * GAL)
    log.placed("2026-06-02 08:00", "2026-06-02 12:00", section="South", volume_l=14 * GAL)
    log.placed("2026-06-03 08:00", "2026-06-03 12:00", layer="top")
    base, top = of(log).totals
    assert (base.layer, base.placements, base.measured) == ("base", 2, 2)
    outside.agree(
        "totals of a record: area, volume, spread",
        [base.area_m2, base.volume_l, base.spread_l_m2],
        [2000 * FT2, 29 * GAL, 29 * GAL / (2000 * FT2)], within=1e-4, unit="%", source="by hand",
        why="rounding",
    )  # fmt: skip
    assert (top.volume_l, top.spread_l_m2, top.measured) == (None, None, 0)


def test_the_spread_of_a_total_leaves_out_areas_without_a_volume():
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", volume_l=15 * GAL)
    log.placed("2026-06-02 08:00", "2026-06-02 12:00", section="South")
    (base,) = of(log).totals
    assert base.area_m2 == pytest.approx(2000 * FT2)
    assert (base.placements, base.measured) == (2, 1)
    assert base.spread_l_m2 == pytest.approx(15 * GAL / (1000 * FT2))


def test_strips_are_spread_over_their_share():
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", layer="seams", volume_l=10.0, area_m2=100.0)
    found = of(log, system="acrylic_metal", job=JobFile())
    assert found.placements[0].spread_l_m2 == pytest.approx(10 / 15)  # 15 % of the roof
    assert found.totals[0].spread_l_m2 == pytest.approx(10 / 15)


def test_a_corrected_placement_shows_the_new_and_names_the_old():
    log = Log()
    old = log.placed("2026-06-01 08:00", "2026-06-01 12:00", volume_l=5 * GAL)
    new = log.placed(
        "2026-06-01 08:00", "2026-06-01 12:00", volume_l=15 * GAL, corrects=old, note="misread"
    )
    gone = log.told("note", "2026-06-01 13:00", note="wrong roof")
    taken = log.withdraw(gone, "2026-06-01 14:00", "not this roof")
    found = of(log)
    assert [each.entry.number for each in found.placements] == [new]
    assert found.totals[0].volume_l == pytest.approx(15 * GAL)
    first, second = found.corrected
    assert (first.old, first.by_entry, first.withdrawn, first.why) == (old, new, False, "misread")
    assert (second.old, second.by_entry, second.withdrawn) == (gone, taken, True)
    assert (second.kind, second.why, second.author) == ("note", "not this roof", "A. Foreman")
    assert [entry.body.note for entry in found.notes] == ["misread"]


def test_a_correction_that_moves_an_entry_to_another_day_is_told_on_both():
    log = Log()
    old = log.read("2026-06-01 09:00")
    log.add(Reading(at=local("2026-06-02 09:00"), air_temp_c=1.0), old,
            written=local("2026-06-04 09:00"))  # fmt: skip
    days = {day: of(log, day=f"2026-06-0{day}") for day in (1, 2, 3, 4)}
    assert [len(days[day].corrected) for day in days] == [1, 1, 0, 1]
    assert [len(days[day].readings) for day in days] == [0, 1, 0, 0]


# --- days ---------------------------------------------------------------------------------------


def test_a_day_is_that_of_the_sites_clock():
    log = Log()
    late = log.read("2026-06-01 23:59")  # 03:59 of the 2nd in UTC
    early = log.read("2026-06-02 00:00")
    assert [e.entry.number for e in of(log, day="2026-06-01").readings] == [late]
    assert [e.entry.number for e in of(log, day="2026-06-02").readings] == [early]


@pytest.mark.parametrize(("day", "hours"), [("2026-03-08", 23), ("2026-11-01", 25)])
def test_a_day_on_which_clocks_change_has_all_its_hours(day, hours):
    log = Log(opened=f"{day} 00:00")
    start = local(f"{day} 00:00")
    for hour in range(-1, 26):
        log.add(Reading(at=start + timedelta(hours=hour), air_temp_c=10.0, occasion="logger"))
    found = of(log, day=day, now=f"{day} 23:59")
    assert sum(each.count for each in found.logger) == hours
    assert len(found.logger) == hours


def test_a_placement_past_midnight_is_on_both_days_and_one_that_ends_then_on_one():
    log = Log()
    log.placed("2026-06-01 22:00", "2026-06-02 02:00")
    log.placed("2026-06-02 22:00", "2026-06-03 00:00", section="South")
    assert [len(of(log, day=f"2026-06-0{day}").placements) for day in (1, 2, 3)] == [1, 2, 0]


def test_a_cover_lies_on_until_it_is_taken_off():
    log = Log()
    log.told("covering", "2026-06-01 16:00", section="North", what="sheet")
    log.told("covering", "2026-06-01 16:00", section="South", what="sheet", end="2026-06-02 07:00")
    assert [len(of(log, day=f"2026-06-0{day}").covers) for day in (1, 2, 3)] == [2, 2, 1]
    assert of(log, day="2026-06-03").since is None


def test_an_empty_day_and_a_log_with_only_its_opening_are_empty():
    log = Log()
    assert of(log).empty
    assert of(log).totals == ()
    assert of(log).opening.body.log == "L-1"
    log.read("2026-06-01 09:00")
    assert not of(log).empty
    assert of(log, day="2026-06-02").empty


def test_the_readings_of_a_day_do_not_need_the_others_and_are_quick():
    log = Log()
    log.placed("2026-06-02 08:00", "2026-06-02 12:00")
    start = local("2026-06-01 00:00")
    # Without checks and hashes: 40,000 entries are to be read, not made.
    body = Reading(at=start, air_temp_c=20.0, rel_humidity=0.5, section="North", occasion="logger")
    log.entries += [
        Entry(n, start, "logger", None, body.model_copy(
            update={"at": start + timedelta(minutes=n)}), "x", "x")
        for n in range(3, 40_003)
    ]  # fmt: skip
    began = time.perf_counter()
    found = of(log, day="2026-06-02", now="2026-09-01 00:00")
    assert sum(each.count for each in found.logger) == 24 * 60
    whole = of(log, now="2026-09-01 00:00")
    assert sum(each.count for each in whole.logger) == 40_000
    assert len(whole.logger) == 28  # 40,000 minutes are 27 days and a part
    assert time.perf_counter() - began < 12  # a hang, not a benchmark: 1 to 2 s where it was made


# --- readings -----------------------------------------------------------------------------------


def test_dew_point_and_spread_are_those_of_the_checks():
    log = Log()
    log.read("2026-06-01 09:00")
    log.read("2026-06-01 10:00", rel_humidity=None, dew_point_c=9.0)
    log.read("2026-06-01 11:00", surface_temp_c=-5.0, air_temp_c=-2.0)
    log.read("2026-06-01 12:00", rel_humidity=0.0, dew_point_c=3.0)  # a dead sensor
    log.read("2026-06-01 13:00", rel_humidity=None)
    found = of(log).readings
    for each in found:
        one = computed(each.body)
        assert each.dew_point_c == pytest.approx(one.dew_point_c)
        assert each.spread_k == pytest.approx(one.spread_k)
    assert [each.computed for each in found] == [True, False, True, False, False]
    assert (found[-1].dew_point_c, found[-1].spread_k) == (None, None)


def test_a_logger_is_told_by_its_ends_and_what_it_lacks_is_not():
    log = Log()
    for minute, air in ((0, 10.0), (20, 14.0), (40, None), (60, 30.0)):
        log.add(
            Reading(
                at=local("2026-06-01 09:00") + timedelta(minutes=minute), air_temp_c=air,
                surface_temp_c=20.0, section="North", occasion="logger", flags=("odd",),
            )
        )  # fmt: skip
    log.read("2026-06-01 09:10")
    found = of(log, day="2026-06-01")
    first, second = found.logger
    assert (first.count, first.ranges["air_temp_c"]) == (3, (10.0, 14.0, 2))
    assert (second.count, second.ranges["air_temp_c"]) == (1, (30.0, 30.0, 1))
    assert "dew_point_c" not in first.ranges
    assert first.start == local("2026-06-01 09:00")
    assert len(found.readings) == 1  # by hand: listed
    assert [(text, count) for _, text, count in found.flags] == [("odd", 4)]
    (day,) = of(log).logger
    assert day.ranges["air_temp_c"] == (10.0, 30.0, 3)


def test_instruments_are_those_used_and_one_without_an_entry_is_named():
    log = Log()
    log.told("instrument", "2026-06-01 06:10", serial="A", what="gauge", due=date(2026, 9, 1))
    log.told("instrument", "2026-06-02 06:10", serial="A", what="gauge", due=date(2027, 9, 1))
    log.told("instrument", "2026-06-01 06:10", serial="B", what="gauge")
    log.read("2026-06-03 09:00", instruments=("A", "C"))
    found = of(log, day="2026-06-03")
    assert [(e.body.serial, e.body.due) for e in found.instruments] == [("A", date(2027, 9, 1))]
    assert found.unknown_instruments == ("C",)
    assert {e.body.serial for e in of(log).instruments} == {"A", "B"}


def test_readings_due_are_told_with_what_meets_them():
    log = Log()
    read = log.read("2026-06-01 07:40", section="North")
    log.placed("2026-06-01 08:00", "2026-06-01 12:10")
    due = of(log, day="2026-06-01").due
    assert due
    assert due[0].met_by == read
    assert all(each.overdue for each in due[1:])
    assert of(log, day="2026-06-02").due == ()


# --- placements ---------------------------------------------------------------------------------


def test_a_placement_tells_its_film_its_coat_below_and_its_preparation():
    log = Log()
    base = log.placed("2026-06-01 08:00", "2026-06-01 12:00")
    log.told("preparation", "2026-06-03 07:00", section="North", layer="base", what="washed")
    films = tuple(WetFilm(film_um=film * MIL) for film in (24, 20, 26))
    log.placed("2026-06-03 09:00", "2026-06-03 12:00", layer="top", wet_film=films)
    first, second = of(log).placements
    assert (first.layer, first.below, first.since_below_h) == (0, None, None)
    assert first.since_prepared_h is None
    assert (second.layer, second.below.number, second.since_below_h) == (1, base, 45.0)
    assert second.since_prepared_h == 2.0
    assert (second.wet.needed, second.wet.taken, second.wet.below) == (10, 3, 1)
    assert second.wet.lowest_um == pytest.approx(20 * MIL)


def test_a_layer_that_the_system_has_not_is_recorded_and_nothing_is_known_of_it():
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", layer="tar")
    found = of(log, weather=8)
    assert found.placements[0].layer is None
    assert found.placements[0].wet is None
    assert [each.layer for each in found.totals] == ["tar"]
    (clock,) = found.clocks
    assert [each.told for each in clock.judged] == [Told.UNKNOWN]
    assert "tar" in clock.why


# --- deadlines ----------------------------------------------------------------------------------


@pytest.fixture
def firm(tmp_path):
    """Return a maker of systems whose figures are those of a data sheet."""

    def made(opens="12 h", **more):
        return own_system(tmp_path, opens, **more)

    return made


CLOSES = {"recoat_closes": "48 h"}
WEAK = {"recoat_closes": "48 h 24 72", "source": "own choice"}
DOSE = {"cover_by_uv_dose": "150 SED"}


def two_coats(top, **more):
    """Return a log of a base from 08:00 to 12:00 of June 1, and a top of two hours from a time."""
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00", **more)
    if top is not None:
        end = (local(top) + timedelta(hours=2)).astimezone(record_cases.NEW_YORK)
        log.placed(top, f"{end:%Y-%m-%d %H:%M}", layer="top")
    return log


@pytest.mark.parametrize(
    ("top", "now", "closes", "opens"),
    [
        ("2026-06-02 08:00", "2026-06-05 12:00", Told.MET, Told.MET),
        ("2026-06-03 05:59", "2026-06-05 12:00", Told.MET, Told.MET),
        ("2026-06-03 06:00", "2026-06-05 12:00", Told.MET, Told.MET),  # the last is down at 08:00
        ("2026-06-03 06:01", "2026-06-05 12:00", Told.MISSED, Told.MET),
        ("2026-06-03 07:59", "2026-06-05 12:00", Told.MISSED, Told.MET),  # begun in time
        ("2026-06-03 09:00", "2026-06-05 12:00", Told.MISSED, Told.MET),
        ("2026-06-01 23:59", "2026-06-05 12:00", Told.MET, Told.MISSED),  # ended after it opened
        ("2026-06-02 00:00", "2026-06-05 12:00", Told.MET, Told.MET),
        ("2026-06-01 23:00", "2026-06-05 12:00", Told.MET, Told.MISSED),
        (None, "2026-06-03 07:59", Told.OPEN, Told.OPEN),
        (None, "2026-06-03 08:00", Told.MISSED, Told.OPEN),
    ],
)
def test_a_deadline_is_judged_by_the_end_of_the_next_layer_and_the_opening_by_its_start(
    firm, top, now, closes, opens
):
    found = of(two_coats(top), system=firm(**CLOSES), weather=8, now=now)
    assert told(found, "recoat_closes") == closes
    assert told(found, "recoat_opens") == opens
    times = {each.name: each.at for each in found.clocks[0].judged}
    assert times["recoat_closes"] == local("2026-06-03 08:00")
    assert times["recoat_opens"] == local("2026-06-02 00:00")


def test_without_weather_the_clock_is_judged_and_the_cure_is_not_known(firm):
    found = of(two_coats("2026-06-02 08:00"), system=firm(**CLOSES))
    assert told(found, "recoat_closes") == Told.MET
    assert told(found, "recoat_opens") == Told.UNKNOWN
    assert "weather" in found.clocks[0].why


@pytest.mark.parametrize(
    ("top", "weather", "expected"),
    [
        ("2026-06-02 08:00", None, Told.UNKNOWN),
        ("2026-06-02 08:00", 8, Told.MET),
        ("2026-06-02 08:00", 1, Told.UNKNOWN),  # it ends before
        ("2026-06-02 08:00", 2, Told.MET),  # it ends after, and the dose is not reached by then
        ("2026-06-02 18:00", 2, Told.MET),  # the weather ends as the layer does, at 20:00
        ("2026-06-02 18:01", 2, Told.UNKNOWN),  # its last minute is not in the weather
        ("2026-06-02 19:59", 2, Told.UNKNOWN),
        ("2026-06-03 09:39", 8, Told.MET),  # the dose is reached at 11:39:35
        ("2026-06-03 09:40", 8, Told.MISSED),
        ("2026-06-07 08:00", 8, Told.MISSED),
        (None, None, Told.UNKNOWN),
        (None, 8, Told.MISSED),
    ],
)
def test_a_dose_of_ultraviolet_is_never_met_without_weather(firm, top, weather, expected):
    found = of(two_coats(top), system=firm(**DOSE, uv_stable=False), weather=weather, cloud=0.0)
    assert told(found, "cover_by") == expected


def test_a_dose_beside_a_clock_can_be_missed_but_not_met_without_weather(firm):
    system = firm(**DOSE, cover_by="48 h", uv_stable=False)
    assert told(of(two_coats("2026-06-02 08:00"), system=system), "cover_by") == Told.UNKNOWN
    assert told(of(two_coats("2026-06-03 06:00"), system=system), "cover_by") == Told.UNKNOWN
    assert told(of(two_coats("2026-06-03 06:01"), system=system), "cover_by") == Told.MISSED


@pytest.mark.parametrize(
    ("top", "stable", "expected"),
    [
        # The range is from 08:00 on June 2 to 08:00 on June 4.
        ("2026-06-02 05:59", True, Told.MET),
        ("2026-06-02 06:00", True, Told.MET),
        ("2026-06-02 06:01", True, Told.DATA_SHEET),
        ("2026-06-04 05:59", True, Told.DATA_SHEET),
        ("2026-06-04 06:00", True, Told.DATA_SHEET),
        ("2026-06-04 06:01", True, Told.MISSED),
        ("2026-06-02 06:00", False, Told.DATA_SHEET),
    ],
)
def test_a_weak_generic_deadline_is_the_data_sheets(firm, top, stable, expected):
    system = firm(**WEAK, uv_stable=stable)
    for weather in (None, 8):
        found = of(two_coats(top), system=system, weather=weather)
        assert told(found, "recoat_closes") == expected


@pytest.mark.parametrize("gone", ["air_temp_c", "rel_humidity", "wind_m_s", "cloud"])
def test_taking_weather_away_never_makes_a_deadline_met(firm, gone):
    system = firm(**DOSE, **CLOSES, uv_stable=False)
    for top in ("2026-06-02 08:00", "2026-06-04 08:00", None):
        log = two_coats(top)
        full = of(log, system=system, weather=8)
        holed = of(log, system=system, weather=8, **{gone: dict.fromkeys(range(14, 40), np.nan)})
        for before, after in zip(full.clocks[0].judged, holed.clocks[0].judged, strict=True):
            assert after.told in (before.told, Told.UNKNOWN, Told.MISSED)


def test_a_layer_prepared_again_counts_from_then_and_only_if_it_was_before_the_next(firm):
    log = Log()
    log.placed("2026-06-01 08:00", "2026-06-01 12:00")
    log.told("preparation", "2026-06-05 07:00", section="North", layer="base")
    log.placed("2026-06-05 09:00", "2026-06-05 11:00", layer="top")
    log.told("preparation", "2026-06-06 07:00", section="North", layer="base")
    found = of(log, system=firm(**CLOSES), weather=8)
    assert found.clocks[0].prepared == local("2026-06-05 07:00")
    assert told(found, "recoat_closes") == Told.MET


def test_the_same_shift_ends_with_the_crews_day(firm):
    system = firm("1 h", between="same_shift = true")
    same = of(two_coats("2026-06-01 14:00"), system=system)
    late = of(two_coats("2026-06-02 09:00"), system=system)
    assert (told(same, "same_shift"), told(late, "same_shift")) == (Told.MET, Told.MISSED)
    assert late.clocks[0].judged[-1].at == local("2026-06-01 17:00")


@pytest.mark.parametrize(
    ("top", "now", "expected"),
    [
        ("2026-06-01 14:59", "2026-06-08 12:00", Told.MET),
        ("2026-06-01 15:00", "2026-06-08 12:00", Told.MET),
        ("2026-06-01 15:01", "2026-06-08 12:00", Told.MISSED),
        ("2026-06-01 16:59", "2026-06-08 12:00", Told.MISSED),  # begun in the shift
        (None, "2026-06-01 16:59", Told.OPEN),
        (None, "2026-06-01 17:00", Told.MISSED),
    ],
)
def test_the_next_layer_must_end_in_the_same_shift(firm, top, now, expected):
    found = of(two_coats(top), system=firm("1 h", between="same_shift = true"), now=now)
    assert told(found, "same_shift") == expected


@pytest.mark.parametrize(("top", "expected"), [("15:00", Told.MET), ("15:01", Told.MISSED)])
def test_the_shift_is_that_in_which_a_layer_was_prepared_again(firm, top, expected):
    log = two_coats(None)
    log.told("preparation", "2026-06-03 07:30", section="North", layer="base")
    log.placed(f"2026-06-03 {top}", f"2026-06-03 17:{top[3:]}", layer="top")
    found = of(log, system=firm("1 h", between="same_shift = true"))
    assert told(found, "same_shift") == expected
    assert found.clocks[0].judged[-1].at == local("2026-06-03 17:00")


def test_parts_of_a_section_have_clocks_of_their_own(firm):
    log = Log()
    west = log.placed("2026-06-01 08:00", "2026-06-01 12:00", area_m2=400 * FT2)
    east = log.placed("2026-06-01 08:00", "2026-06-01 12:00", area_m2=600 * FT2)  # a second crew
    top = log.placed("2026-06-02 08:00", "2026-06-02 12:00", layer="top", area_m2=600 * FT2)
    found = of(log, system=firm(**CLOSES), now="2026-06-04 12:00")
    by_entry = {clock.number: clock for clock in found.clocks}
    assert by_entry[east].covered_by == top
    assert by_entry[east].covered_start == local("2026-06-02 08:00")
    assert by_entry[west].covered_by is None
    assert [each.told for each in by_entry[west].judged][-1] == Told.MISSED
    assert by_entry[top].last
    assert by_entry[top].judged == ()


def test_a_layer_laid_twice_is_not_known_rather_than_met(firm):
    log = two_coats("2026-06-02 08:00")
    log.placed("2026-06-02 14:00", "2026-06-02 15:00", layer="top")
    log.placed("2026-06-02 08:00", "2026-06-02 09:00", section="South")
    found = of(log, system=firm(**CLOSES))
    north = [clock for clock in found.clocks if clock.section == "North"]
    assert {each.told for clock in north for each in clock.judged} == {Told.UNKNOWN}
    assert all("laid there already" in clock.why for clock in north)
    assert [c.why for c in found.clocks if c.section == "South"] != [north[0].why]


def test_a_base_of_the_job_file_alone_is_covered_by_the_log(firm):
    began = pd.Timestamp(local("2026-06-01 08:00")) + pd.Timedelta(3, "us")
    placed = Placed(
        section="North", layer="base", start=began, end=pd.Timestamp(local("2026-06-01 12:00"))
    )
    job = JobFile(section=(Section(name="North", area="1000 ft2"),), placed=(placed,))
    log = Log()
    top = log.placed("2026-06-02 08:00", "2026-06-02 12:00", layer="top")
    found = of(log, system=firm(**CLOSES), job=job)
    assert (found.clocks[0].number, found.clocks[0].covered_by) == (None, top)
    assert found.clocks[0].start == began
    assert told(found, "recoat_closes") == Told.MET


def test_the_clocks_of_a_day_are_those_of_layers_that_were_bare_on_it(firm):
    log = two_coats("2026-06-03 07:00")
    system = firm(**CLOSES)
    counts = [len(of(log, day=f"2026-06-0{day}", system=system).clocks) for day in (1, 2, 3, 4)]
    assert counts == [1, 1, 2, 1]  # the top coat lies bare for good


# --- the rest -----------------------------------------------------------------------------------


def test_everything_else_is_on_the_record():
    log = Log()
    photo = Photo(file="a.jpg", sha256="0" * 64, size=3)
    log.told("moisture", "2026-06-01 06:30", moisture=0.1, limit=0.15, method="x")
    log.told("adhesion", "2026-06-01 06:31", method="x", passes=False)
    log.told("dry_film", "2026-06-01 06:32", section="North", film_um=300.0, method="slit")
    log.told("rain", "2026-06-01 06:33")
    log.told("note", "2026-06-01 06:34", photos=(photo,))
    log.read("2026-06-01 09:00", beside=Beside(source="x"))
    found = of(log, day="2026-06-01")
    for name in ("moisture", "adhesion", "dry_film", "rain", "photos", "readings"):
        assert len(getattr(found, name)) == 1, name
    assert found.notes == ()


def test_holes_and_links_of_the_entries_are_told():
    log = Log()
    for hour in range(6):
        log.read(f"2026-06-01 0{hour + 1}:00")
    whole = of(log).chain
    assert (whole.first, whole.last, whole.missing) == (1, 7, ())
    assert whole.linked
    assert whole.to_head
    head = log.head
    del log.entries[2:4]
    assert of(log).chain.missing == ((3, 4),)
    log.entries[-2] = replace(log.entries[-2], hash="f" * 64)
    assert not of(log).chain.linked
    log.entries.pop()
    found = record(
        log.entries, site=plan_cases.site(), system=load_system(TWO_COATS), job=JobFile(),
        now=local("2026-06-02 09:00"), day=None, head=head, in_weather=None,
    )  # fmt: skip
    assert not found.chain.to_head
    assert found.entries == 7
