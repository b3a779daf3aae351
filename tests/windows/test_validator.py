"""The independent check of plans: a good plan passes, and each broken one fails by its rule."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import plan_cases as cases
import pytest
from plan_cases import placement

from cure_models import load_profile
from cure_models.system import load_system
from windows.gates import State, combine
from windows.job_file import JobFile, Material
from windows.layers import system_hours
from windows.safety import safety_stops
from windows.site import load_site
from windows.sources import read_weather
from windows.substrate import substrate_states
from windows.validator import LayerHours, validate
from windows.work_rate import rate_m2_h

NAN = float("nan")
DEMO = Path(__file__).parents[2] / "demo_sites"
A, B = cases.piece("A"), cases.piece("B")
NOW = cases.local("2026-06-01 07:00")
LATER = cases.local("2026-06-10 12:00")


@pytest.fixture(scope="module")
def acrylic(tmp_path_factory):
    return cases.hours(tmp_path_factory.mktemp("acrylic"))


@pytest.fixture(scope="module")
def urethane(tmp_path_factory):
    return cases.hours(tmp_path_factory.mktemp("urethane"), cases.URETHANE)


def good(found, one=A, two=B):
    """Base on Tuesday and top on Wednesday, on two pieces of three hours each."""
    return [
        placement(found, one, 0, "06-02 07:30", "06-02 10:30"),
        placement(found, two, 0, "06-02 11:00", "06-02 14:00"),
        placement(found, one, 1, "06-03 08:00", "06-03 11:00"),
        placement(found, two, 1, "06-03 13:30", "06-03 16:30"),
    ]


def rules(found, placements, pieces=(A, B), job=None, now=NOW, **options):
    return {each.rule for each in broken(found, placements, pieces, job, now, **options)}


def broken(found, placements, pieces=(A, B), job=None, now=NOW, **options):
    return validate(placements, pieces, job or cases.job(), found, now, **options)


def changed(found, at, **changes):
    """Return the good plan with one placement changed."""
    plan = good(found)
    plan[at] = replace(plan[at], **changes)
    return plan


def test_a_good_plan_passes_in_any_order(acrylic):
    assert broken(acrylic, good(acrylic)) == ()
    assert broken(acrylic, good(acrylic)[::-1]) == ()
    assert broken(acrylic, []) == ()
    assert [each.opens is None for each in good(acrylic)] == [False] * 4
    # 336 h lie beyond the data; a last layer has no deadline.
    assert [each.due is None for each in good(acrylic)] == [
        each.layer == 1 for each in good(acrylic)
    ]


@pytest.mark.parametrize(
    "change",
    [
        {"area_m2": 299.0},
        {"area_m2": NAN},
        {"section": "B"},
        {"layer_name": "top"},
        {"coating": "silicone_solvent"},
    ],
)
def test_names_and_areas_are_those_of_the_job(acrylic, change):
    (found,) = broken(acrylic, changed(acrylic, 0, **change))
    assert (found.placement, found.rule) == ("A, layer 1 (base)", "known")


def test_a_piece_or_a_layer_that_is_not_there(acrylic):
    other = placement(acrylic, A, 0, "06-04 08:00", "06-04 11:00")
    for change in ({"piece": "Z"}, {"layer": 2}, {"layer": -1}):
        assert rules(acrylic, [*good(acrylic), replace(other, **change)]) == {"known"}


def test_a_layer_comes_once(acrylic):
    again = placement(acrylic, A, 0, "06-04 08:00", "06-04 11:00")
    (found,) = broken(acrylic, [*good(acrylic), again])
    assert (found.placement, found.rule) == ("A, layer 1 (base)", "repeat")
    assert found.text == "the layer is planned twice, at 2026-06-02 07:30 and at 2026-06-04 08:00"
    laid = cases.piece("A", laid=[cases.record(0, "2026-06-01 08:00", "2026-06-01 11:00")])
    now = cases.local("2026-06-01 12:00")
    assert rules(acrylic, good(acrylic), (laid, B), now=now) == {"repeat"}


def test_layers_come_in_order(acrylic):
    first, second, third, fourth = good(acrylic)
    (found,) = broken(acrylic, [second, third, fourth])
    assert (found.placement, found.rule) == ("A, layer 2 (top)", "order")
    assert found.text == "layer 1 below it is neither laid nor planned"
    late = placement(acrylic, A, 0, "06-04 08:00", "06-04 11:00")
    assert rules(acrylic, [second, third, fourth, late]) == {"order", "opens"}
    before = placement(acrylic, A, 1, "06-02 10:00", "06-02 13:00")
    assert {"order", "opens", "overlap"} == rules(acrylic, [first, before])


def test_nothing_is_planned_before_now_or_after_the_weather(acrylic):
    assert rules(acrylic, good(acrylic), now=good(acrylic)[0].start) == set()
    (found,) = broken(acrylic, good(acrylic), now=cases.local("2026-06-02 08:00"))
    assert (found.placement, found.rule) == ("A, layer 1 (base)", "past")
    plan = good(acrylic)
    plan[3] = placement(acrylic, B, 1, "06-12 08:00", "06-12 11:00")
    assert rules(acrylic, plan) == {"data"}
    early = placement(acrylic, A, 0, "05-29 08:00", "05-29 11:00")
    assert rules(acrylic, [early]) == {"data", "past"}


def test_the_crew_needs_its_time(acrylic):
    minute = pd.Timedelta(minutes=1)
    short = changed(acrylic, 0, end=good(acrylic)[0].end - minute)
    (found,) = broken(acrylic, short)
    assert (found.placement, found.rule) == ("A, layer 1 (base)", "crew")
    assert found.text == "the work takes 180.0 min and is given 179.0 min"
    second = changed(acrylic, 0, end=good(acrylic)[0].end - pd.Timedelta(seconds=1))
    assert broken(acrylic, second) == ()
    nothing = changed(acrylic, 0, end=good(acrylic)[0].start)
    assert "crew" in rules(acrylic, nothing)


def test_rates_by_name_by_number_and_by_the_pump(acrylic):
    by_number = cases.job(rates={1: "100 m2/h", "top": "100 m2/h"})
    assert broken(acrylic, good(acrylic), job=by_number) == ()
    assert rules(acrylic, good(acrylic), job=cases.job(rates={"top": "100 m2/h"})) == set()
    for layer, area in ((0, 300.0), (1, 500.0)):
        pumped = cases.job(rates={}, pump="2 gal/min", trigger_share=0.2)
        took = area / rate_m2_h(acrylic.system, layer, pumped)
        lay = cases.piece("A", area=area)
        record = [cases.record(0, "2026-06-01 08:00", "2026-06-01 11:00")][:layer]
        lay = replace(lay, laid=tuple(record))
        start = cases.local("2026-06-03 09:00")
        for spare, expected in ((2, set()), (-2, {"crew"})):
            end = start + pd.Timedelta(seconds=round(3600 * took) + spare)
            made = placement(acrylic, lay, layer, start, end)
            assert rules(acrylic, [made], (lay,), pumped) == expected


def test_texture_and_loss_take_more_material_and_time(acrylic):
    rough = cases.job(rates={}).model_copy(
        update={"material": Material(loss=0.2, texture=1.5)}
    )  # fmt: skip
    hours = 300.0 / rate_m2_h(acrylic.system, 0, rough)
    assert hours == pytest.approx(300 / rate_m2_h(acrylic.system, 0, cases.job(rates={}))
                                  * 1.5 * 0.9 / 0.8)  # fmt: skip
    start = cases.local("2026-06-02 08:00")
    for spare, expected in ((2, set()), (-2, {"crew"})):
        end = start + pd.Timedelta(seconds=round(3600 * hours) + spare)
        assert rules(acrylic, [placement(acrylic, A, 0, start, end)], job=rough) == expected


def test_strips_take_their_share_of_the_time(acrylic):
    base, top = acrylic.system.layers
    strips = base.model_copy(update={"area_share": 0.5})
    found = replace(acrylic, system=replace(acrylic.system, layers=(strips, top)))
    for end, expected in (("09:30", set()), ("09:29", {"crew"})):
        assert rules(found, [placement(found, A, 0, "06-02 08:00", f"06-02 {end}")]) == expected


def test_without_solids_and_rate_nobody_knows_the_time(tmp_path):
    found = cases.hours(tmp_path, cases.FOAM)
    made = placement(found, A, 0, "06-02 08:00", "06-02 09:00")
    (fault,) = broken(found, [made], job=cases.job(), open_beyond=True)[:1]
    assert fault.rule == "crew"
    assert fault.text == "nothing tells how much the crew lays in an hour"


@pytest.mark.parametrize(
    ("start", "end", "text"),
    [
        ("06-02 07:15", "06-02 10:15", "15 min of the shift are left for setting up"),
        ("06-02 13:45", "06-02 16:45", "15 min of the shift are left for cleaning up"),
        ("06-02 16:00", "06-02 19:00", "does not lie in one shift"),
        ("06-02 06:00", "06-02 09:00", "does not lie in one shift"),
        ("06-06 08:00", "06-06 11:00", "nobody works in the shift of Sat 2026-06-06"),
    ],
)
def test_work_lies_in_a_shift(acrylic, start, end, text):
    made = placement(acrylic, A, 0, start, end)
    (found,) = broken(acrylic, [made])
    assert found.rule == "shift"
    assert text in found.text


def test_set_up_and_clean_up_may_take_no_time(acrylic):
    made = placement(acrylic, A, 0, "06-02 07:00", "06-02 17:00")
    assert broken(acrylic, [made], job=cases.job(set_up="0 h", clean_up="0 h")) == ()


def test_the_shift_of_a_placement_is_told_right(acrylic):
    (found,) = broken(acrylic, changed(acrylic, 0, shift=date(2026, 6, 1)))
    assert (found.rule, found.text) == (
        "shift", "the shift is given as 2026-06-01 and is 2026-06-02",
    )  # fmt: skip


def test_an_extra_day_is_worked_unless_it_is_off(tmp_path):
    saturday = cases.job(extra_days=["Sat"])
    for crew, expected in (
        ({}, set()),
        ({"days_off": ["2026-06-06"]}, {"shift"}),
        ({"holidays": "US"}, set()),
    ):
        found = cases.hours(tmp_path, **crew)
        made = placement(found, A, 0, "06-06 08:00", "06-06 11:00")
        assert rules(found, [made], job=saturday) == expected
    # 4 July 2026 is a Saturday and a holiday.
    july = cases.weather(start="2026-06-29T00:00Z")
    for holidays, expected in (({}, set()), ({"holidays": "US"}, {"shift"})):
        found = cases.hours(tmp_path, table=july, **holidays)
        made = placement(found, A, 0, "07-04 08:00", "07-04 11:00")
        assert rules(found, [made], job=saturday) == expected


def test_a_shift_past_midnight_belongs_to_the_day_it_began(tmp_path):
    night = {"start": "20:00", "end": "04:00"}
    found = cases.without_gates(cases.hours(tmp_path, **night))
    made = placement(found, A, 0, "06-06 00:30", "06-06 03:30")  # Friday's shift
    made = replace(made, shift=date(2026, 6, 5))
    assert broken(found, [made]) == ()
    assert rules(found, [replace(made, shift=date(2026, 6, 6))]) == {"shift"}
    over = placement(found, A, 0, "06-05 22:30", "06-06 01:30")
    assert broken(found, [over]) == ()
    saturday = placement(found, A, 0, "06-06 20:30", "06-06 23:30")
    assert rules(found, [saturday]) == {"shift"}


@pytest.mark.parametrize(
    ("start", "shift", "on", "real", "inside"),
    [
        # Put on: 02:00 is 03:00. The shift from 00:00 to 08:00 has seven hours.
        ("2026-03-05T00:00Z", ("00:00", "08:00"), "2026-03-08", ("05:30Z", "11:30Z"), True),
        ("2026-03-05T00:00Z", ("00:00", "08:00"), "2026-03-08", ("05:30Z", "12:00Z"), False),
        ("2026-03-05T00:00Z", ("00:00", "08:00"), "2026-03-08", ("05:15Z", "11:15Z"), False),
        ("2026-03-05T00:00Z", ("02:30", "08:00"), "2026-03-08", ("07:30Z", "11:30Z"), True),
        ("2026-03-05T00:00Z", ("02:30", "08:00"), "2026-03-08", ("07:15Z", "11:15Z"), False),
        # Put back: 02:00 is 01:00 again. The shift has nine hours.
        ("2026-10-29T00:00Z", ("00:00", "08:00"), "2026-11-01", ("04:30Z", "12:30Z"), True),
        ("2026-10-29T00:00Z", ("00:00", "08:00"), "2026-11-01", ("04:30Z", "12:45Z"), False),
        # 01:30 comes twice: the shift is left at the first 02:00 and begun again.
        ("2026-10-29T00:00Z", ("01:30", "08:00"), "2026-11-01", ("07:00Z", "12:00Z"), True),
        ("2026-10-29T00:00Z", ("01:30", "08:00"), "2026-11-01", ("06:45Z", "12:00Z"), False),
        ("2026-10-29T00:00Z", ("01:30", "08:00"), "2026-11-01", ("05:30Z", "12:00Z"), False),
    ],
)
def test_shifts_keep_to_the_clock_when_it_changes(tmp_path, start, shift, on, real, inside):
    table = cases.weather(start=start)
    crew = {"start": shift[0], "end": shift[1], "work_days": ["Sun"]}
    found = cases.without_gates(cases.hours(tmp_path, table=table, **crew))
    first, last = (pd.Timestamp(f"{on}T{each}") for each in real)
    lay = cases.piece("A", area=100 * (last - first) / pd.Timedelta(hours=1))
    made = replace(placement(found, lay, 0, first, last), shift=date.fromisoformat(on))
    assert rules(found, [made], (lay,), now=found.hours.index[0]) == (
        set() if inside else {"shift"}
    )


def test_one_crew_is_in_one_place(acrylic):
    first, _, third, _ = good(acrylic)
    clash = placement(acrylic, B, 0, "06-02 10:00", "06-02 13:00")
    (found,) = broken(acrylic, [first, clash, *good(acrylic)[2:]])
    assert (found.placement, found.rule) == ("B, layer 1 (base)", "overlap")
    assert "the crew is at A, layer 1 (base) until 2026-06-02 10:30" in found.text
    hasty = placement(acrylic, B, 0, "06-02 10:45", "06-02 13:45")
    (found,) = broken(acrylic, [first, hasty, *good(acrylic)[2:]])
    assert (found.placement, found.rule) == ("B, layer 1 (base)", "overlap")
    assert "15 min lie between it and A, layer 1 (base), and a move takes 30 min" in found.text
    assert broken(acrylic, [first, hasty, *good(acrylic)[2:]], job=cases.job(move="0.25 h")) == ()
    far = [first, clash, third, placement(acrylic, B, 1, "06-03 10:45", "06-03 13:45")]
    assert [each.placement for each in broken(acrylic, far) if each.rule == "overlap"] == [
        "B, layer 1 (base)", "B, layer 2 (top)",
    ]  # fmt: skip


def test_a_move_takes_its_time_within_a_shift_only(tmp_path):
    found = cases.hours(tmp_path, start="07:00", end="06:59")
    found = cases.without_gates(found)
    first = placement(found, A, 0, "06-03 03:59", "06-03 06:59", shift=date(2026, 6, 2))
    second = placement(found, B, 0, "06-03 07:00", "06-03 10:00")
    job = cases.job(set_up="0 h", clean_up="0 h", move="0.5 h")
    assert broken(found, [first, second], job=job) == ()


def row_of(found, when):
    return int(found.moment(cases.local(when)))


def test_rain_before_the_film_is_safe(tmp_path, acrylic):
    """Rain until the rain-safe of the last row breaks the base; rain after it does not."""
    first, last = row_of(acrylic, "2026-06-02 07:00"), row_of(acrylic, "2026-06-02 10:00")
    clock = LayerHours(acrylic.jobs[0])
    safe = clock.milestone("rain_safe", last)
    assert 3600 * (last + 10) > safe > 3600 * (last + 4)
    until = -(-safe // 3600)
    for row in (first, last + 3, until - 1, until):
        table = cases.weather(rain_mm={row: 2.0})
        found = cases.hours(tmp_path, table=table)
        made = placement(found, A, 0, "06-02 07:30", "06-02 10:30")
        told = broken(found, [made])
        changed = LayerHours(found.jobs[0]).milestone("rain_safe", last)
        assert ({each.rule for each in told} == {"gate"}) == (3600 * row < changed)
        if told:
            assert "rain in the hour until rain-safe: blocked" in told[0].text


def test_the_first_bad_hour_is_told_once(tmp_path):
    found = cases.hours(tmp_path, table=cases.weather(wind_m_s={37: 12.0, 38: 12.0}))
    (fault,) = broken(found, [placement(found, A, 0, "06-02 07:30", "06-02 10:30")])
    assert fault.rule == "gate"
    assert "in the hour from 2026-06-02 09:00" in fault.text
    assert "wind while spraying, most: blocked" in fault.text


RETARDER = (("base", "butyl", "20 mil", ""), cases.ACRYLIC[1])
DRY = {"kind": "built_up", "moisture": "10 %", "moisture_limit": "20 %", "method": "a meter"}


@pytest.mark.parametrize(
    "ground",
    [
        {"dry_out": "30 h"},
        {"dry_out": "2.5 h"},
        DRY | {"read_at": "2026-06-02 06:30"},
        DRY | {"read_at": "2026-05-31 06:30"},
        DRY | {"read_at": "2026-06-03 06:30", "dry_out": "30 h"},
    ],
)
def test_a_film_that_holds_moisture_in_needs_a_dry_roof(tmp_path, ground):
    """Hour for hour as the planner has it, rain and unknown rain among them."""
    rain = {3: 2.0, 50: 0.2, 90: NAN, 130: 0.1, 180: 2.0}
    found = cases.without_gates(cases.hours(tmp_path, RETARDER, cases.weather(rain_mm=rain)))
    given = {"kind": "built_up"} | ground
    job = JobFile.model_validate({"crew": cases.RATES, "substrate": given})
    conditions = found.jobs[0].conditions
    expected = substrate_states(
        job, found.site, found.hours.index, conditions.rain_most_mm
    )
    assert State.BLOCKED in expected
    assert State.UNKNOWN in expected
    pieces = [cases.piece(f"P{row}", area=100.0) for row in range(len(expected))]
    plan = [
        placement(found, on, 0, start, start + pd.Timedelta(hours=1))
        for on, start in zip(pieces, found.hours.index, strict=True)
    ]
    told = {
        each.placement: each.text
        for each in broken(found, plan, pieces, job, LATER) if each.rule == "substrate"
    }  # fmt: skip
    for on, state in zip(pieces, expected, strict=True):
        text = told.get(f"{on.name}, layer 1 (base)", "")
        assert (text == "") == (state == State.OK)
        assert ("not known" in text) == (state == State.UNKNOWN)


def test_a_roof_that_is_wet_or_unknown_takes_no_film_that_holds_moisture_in(tmp_path, acrylic):
    found = cases.hours(tmp_path, RETARDER)
    made = placement(found, A, 0, "06-02 08:00", "06-02 11:00")
    wet = DRY | {"moisture": "30 %", "read_at": "2026-06-01 06:30", "dry_out": "5 h"}
    for ground, expected in (
        ({}, {"substrate"}),
        ({"substrate": {"kind": "built_up"}}, {"substrate"}),
        ({"substrate": wet}, {"substrate"}),
        ({"substrate": wet | {"moisture": "20 %"}}, set()),
    ):
        job = JobFile.model_validate({"crew": cases.RATES} | ground)
        assert rules(found, [made], job=job, open_beyond=True) == expected
    assert broken(acrylic, good(acrylic)[:1]) == ()  # acrylic lets it out


def test_a_safety_stop_breaks_a_plan(tmp_path):
    found = cases.hours(tmp_path, table=cases.weather(gust_m_s={37: 25.0}))
    (fault,) = broken(found, [placement(found, A, 0, "06-02 07:30", "06-02 10:30")])
    assert fault.rule == "gate"
    assert "safety, gust" in fault.text


@pytest.mark.parametrize("column", ["rain_mm", "air_temp_c", "rel_humidity"])
def test_what_is_not_known_breaks_a_plan(tmp_path, acrylic, column):
    """In every hour from the first row to the rain-safe of the last, whatever hold needs it."""
    first, last = row_of(acrylic, "2026-06-02 07:00"), row_of(acrylic, "2026-06-02 10:00")
    made = placement(acrylic, A, 0, "06-02 07:30", "06-02 10:30")
    assert broken(acrylic, [made]) == ()
    end = LayerHours(acrylic.jobs[0]).milestone("rain_safe", last)
    for row in range(first, -(-end // 3600)):
        found = cases.hours(tmp_path, table=cases.weather(**{column: {row: NAN}}))
        told = broken(found, [placement(found, A, 0, "06-02 07:30", "06-02 10:30")])
        assert [each.rule for each in told if each.rule != "clocks"] == ["gate"]
        assert "not known" in told[0].text


def test_a_value_taken_away_mends_nothing(tmp_path):
    rng = np.random.default_rng(7)
    rain = {row_of(cases.hours(tmp_path), "2026-06-02 13:00"): 2.0}
    worst = {"gate", "opens", "walk", "due"}
    for _ in range(12):
        table = cases.weather(rain_mm=rain)
        frame = table.frame.copy()
        for name in ("air_temp_c", "dew_point_c", "cloud", "wind_m_s", "rain_mm"):
            rows = rng.integers(0, len(frame), 6)
            frame.loc[frame.index[rows], name] = NAN
        found = cases.hours(tmp_path, cases.URETHANE, replace(table, frame=frame))
        over = cases.piece("B", over=["A"])
        plan = [
            placement(found, A, 0, "06-02 08:00", "06-02 11:00"),
            placement(found, over, 0, "06-02 11:30", "06-02 14:30"),
            placement(found, A, 1, "06-02 15:00", "06-02 16:00"),
            placement(found, over, 1, "06-09 12:00", "06-09 15:00"),
        ]
        assert worst <= rules(found, plan, (A, over))


def test_the_next_layer_waits_until_recoat_opens(acrylic):
    base = good(acrylic)[1]
    assert cases.local("2026-06-03 07:00") < base.opens < cases.local("2026-06-03 08:00")
    free = cases.job(set_up="0 h", clean_up="0 h")
    for shift, expected in ((-60, {"opens"}), (0, set())):
        start = base.opens + pd.Timedelta(seconds=shift)
        top = placement(acrylic, B, 1, start, start + pd.Timedelta(hours=3))
        assert rules(acrylic, [base, top], job=free) == expected


def test_a_layer_that_does_not_open_in_the_data_takes_none(acrylic):
    base = placement(acrylic, A, 0, "06-10 08:00", "06-10 11:00")
    assert base.opens is None
    top = placement(acrylic, A, 1, "06-10 13:00", "06-10 16:00")
    told = broken(acrylic, [base, top])
    assert [each.text for each in told if each.rule == "opens"] == [
        "it is not known when layer 1 below it opens"
    ]


def test_the_next_layer_keeps_the_deadline_of_the_one_below(urethane):
    base = placement(urethane, A, 0, "06-02 08:30", "06-02 11:30")
    assert base.due == cases.local("2026-06-04 08:00")  # 48 h from the start of the first hour
    in_time = placement(urethane, A, 1, "06-03 13:00", "06-03 16:00")
    assert broken(urethane, [base, in_time]) == ()
    late = placement(urethane, A, 1, "06-04 07:30", "06-04 10:30")
    (found,) = broken(urethane, [base, late])
    assert (found.placement, found.rule) == ("A, layer 2 (top)", "due")
    assert found.text == (
        "its last hour ends at 2026-06-04 11:00, and the deadline of layer 1 below it is "
        "2026-06-04 08:00"
    )


def test_a_last_hour_that_is_only_touched_ends_before_the_deadline_too(urethane):
    small = cases.piece("A", area=100.0)
    base = placement(urethane, small, 0, "06-02 11:30", "06-02 12:30")
    assert base.due == cases.local("2026-06-04 11:00")
    for start, end, expected in (
        ("06-04 10:00", "06-04 11:00", set()),
        ("06-04 10:15", "06-04 11:15", {"due"}),
    ):
        top = placement(urethane, small, 1, start, end)
        assert rules(urethane, [base, top], (small,)) == expected


def test_a_dose_of_ultraviolet_covers_too(tmp_path):
    dose = 'cover_by_uv_dose = { value = 40, unit = "SED", source = "own choice" }'
    layers = (("base", "acrylic", "13 mil", dose), cases.ACRYLIC[1])
    found = cases.hours(tmp_path, layers)
    first = row_of(found, "2026-06-02 08:00")
    summed = np.cumsum(found.jobs[0].conditions.uv_dose_sed[first:])
    at = int(np.argmax(summed >= 40))
    share = 1 - (summed[at] - 40) / found.jobs[0].conditions.uv_dose_sed[first + at]
    due = LayerHours(found.jobs[0]).due(first)[0]
    assert due == pytest.approx(3600 * (first + at + share), abs=1)
    base = placement(found, A, 0, "06-02 08:00", "06-02 11:00")
    assert base.due == found.time(due / 3600)
    top = placement(found, A, 1, "06-04 08:00", "06-04 11:00")
    assert rules(found, [base, top]) == {"due"}
    assert rules(found, [base]) == {"cover"}


def test_a_dose_is_reached_inside_an_hour_that_must_not_be_touched(tmp_path):
    dose = 'cover_by_uv_dose = { value = 63, unit = "SED", source = "own choice" }'
    found = cases.hours(tmp_path, (("base", "acrylic", "13 mil", dose), cases.ACRYLIC[1]))
    small = cases.piece("A", area=100.0)
    base = placement(found, small, 0, "06-02 08:00", "06-02 09:00")
    free = cases.job(set_up="0 h")
    minutes = pd.Timedelta(minutes=5)
    assert base.due > base.due.floor("h") + 2 * minutes
    assert base.due > cases.local("2026-06-03 08:00")
    for end, expected in ((base.due.floor("h"), set()), (base.due - minutes, {"due"})):
        top = placement(found, small, 1, end - pd.Timedelta(hours=1), end)
        assert rules(found, [base, top], (small,), free) == expected


def test_the_earlier_of_clock_and_dose_counts(tmp_path):
    for sed, by_clock in ((1000, True), (60, True), (5, False)):
        both = (
            f'cover_by_uv_dose = {{ value = {sed}, unit = "SED", source = "own choice" }}\n'
            'cover_by = { value = 20, unit = "h", source = "own choice" }'
        )
        found = cases.hours(tmp_path, (("base", "acrylic", "13 mil", both), cases.ACRYLIC[1]))
        ends = LayerHours(found.jobs[0]).deadlines(10)
        assert (ends["cover_by"] == 3600 * 30) == by_clock
        assert ends["cover_by"] <= 3600 * 30
        dark = LayerHours(found.jobs[0]).deadlines(239)["cover_by"]
        assert dark is None  # neither is inside the data


def test_a_dose_that_is_not_known_is_no_deadline_to_rely_on(tmp_path):
    dose = 'cover_by_uv_dose = { value = 90, unit = "SED", source = "own choice" }'
    layers = (("base", "acrylic", "13 mil", dose), cases.ACRYLIC[1])
    found = cases.hours(tmp_path, layers)
    base, top = good(found)[::2]
    assert broken(found, [base, top]) == ()
    row = row_of(found, "2026-06-02 12:00")
    job = found.jobs[0]
    taken = job.conditions.uv_dose_sed.copy()
    taken[row] = NAN
    job = replace(job, conditions=replace(job.conditions, uv_dose_sed=taken))
    blind = replace(found, jobs=(job, found.jobs[1]))
    base = replace(base, due=None)
    assert rules(blind, [base, top]) == {"due"}
    assert rules(blind, [base], open_beyond=True) == {"cover"}


def test_a_layer_that_must_be_covered_is(urethane, acrylic):
    base = placement(urethane, A, 0, "06-02 08:00", "06-02 11:00")
    (found,) = broken(urethane, [base])
    assert (found.placement, found.rule) == ("A, layer 1 (base)", "cover")
    assert rules(urethane, [base], open_beyond=True) == {"cover"}  # it is due inside the data
    late = placement(urethane, A, 0, "06-09 08:00", "06-09 11:00")
    assert late.due == cases.local("2026-06-11 08:00")  # beyond the data, and known all the same
    assert rules(urethane, [late]) == {"cover"}
    assert rules(urethane, [late], open_beyond=True) == set()
    assert rules(acrylic, good(acrylic)[:2]) == set()  # stable, and closes after the data


def test_a_deadline_inside_the_data_calls_for_the_next_layer(tmp_path):
    found = cases.hours(tmp_path, table=cases.weather(days=20))
    base = placement(found, A, 0, "06-02 08:00", "06-02 11:00")
    assert base.due == cases.local("2026-06-16 08:00")
    assert rules(found, [base], open_beyond=True) == {"cover"}
    assert rules(found, [base, placement(found, A, 1, "06-03 13:00", "06-03 16:00")]) == set()


def test_what_is_laid_keeps_its_clocks(urethane):
    laid = cases.piece("A", laid=[cases.record(0, "2026-06-01 11:20", "2026-06-01 14:20")])
    now = cases.local("2026-06-01 15:00")
    last = row_of(urethane, "2026-06-01 14:00")
    opens = LayerHours(urethane.jobs[0]).milestone("recoat_opens", last)
    assert urethane.time(opens / 3600) > cases.local("2026-06-02 10:00")
    for start, end, expected in (
        ("06-02 08:00", "06-02 11:00", {"opens"}),
        ("06-02 13:00", "06-02 16:00", set()),
        ("06-03 08:30", "06-03 11:30", {"due"}),  # 48 h from 11:00, in which the film was begun
    ):
        top = placement(urethane, laid, 1, start, end)
        assert rules(urethane, [top], (laid,), now=now) == expected
    before = cases.piece("A", laid=[cases.record(0, "2026-05-30 08:00", "2026-05-30 11:00")])
    top = placement(urethane, before, 1, "06-01 07:30", "06-01 10:30")
    assert rules(urethane, [top], (before,)) == {"opens", "due"}  # long ago, and nobody knows more
    during = cases.piece("A", laid=[cases.record(0, "2026-06-02 08:00", "2026-06-02 11:00")])
    top = placement(urethane, during, 1, "06-02 10:00", "06-02 13:00")
    assert {"order", "opens"} <= rules(urethane, [top], (during,))


def test_what_was_prepared_again_has_its_deadlines_anew(urethane):
    old = cases.record(0, "2026-06-01 08:00", "2026-06-01 11:00")
    top = placement(urethane, A, 1, "06-05 08:00", "06-05 11:00")
    again = replace(old, prepared=cases.local("2026-06-03 12:20"))
    for record, expected in ((old, {"due"}), (again, set())):
        assert rules(urethane, [top], (cases.piece("A", laid=[record]),)) == expected
    late = placement(urethane, A, 1, "06-05 10:00", "06-05 13:00")  # 48 h from 12:00
    assert rules(urethane, [late], (cases.piece("A", laid=[again]),)) == {"due"}


FOAM_JOB = cases.job(
    rates={"foam": "100 m2/h", "base": "100 m2/h", "finish": "100 m2/h"}, move="0.5 h"
)


def test_foam_and_its_base_lie_in_one_shift(tmp_path):
    found = cases.hours(tmp_path, cases.FOAM)
    small = cases.piece("A", area=200.0)
    foam = placement(found, small, 0, "06-02 07:30", "06-02 09:30")
    base = placement(found, small, 1, "06-02 14:00", "06-02 16:00")
    finish = placement(found, small, 2, "06-03 13:00", "06-03 15:00")
    assert broken(found, [foam, base, finish], (small,), FOAM_JOB) == ()
    base = placement(found, small, 1, "06-03 08:00", "06-03 10:00")
    finish = placement(found, small, 2, "06-04 07:30", "06-04 09:30")
    told = rules(found, [foam, base, finish], (small,), FOAM_JOB)
    assert told == {"same_shift", "due"}  # foam is due within ten hours as well
    now = cases.local("2026-06-02 10:00")
    laid = replace(small, laid=(cases.record(0, "2026-06-02 05:00", "2026-06-02 07:00"),))
    # Of foam that is laid already only the deadline counts.
    base = placement(found, laid, 1, "06-02 12:00", "06-02 14:00")
    finish = placement(found, laid, 2, "06-03 13:00", "06-03 15:00")
    assert broken(found, [base, finish], (laid,), FOAM_JOB, now) == ()


def test_nobody_walks_over_a_fresh_film(acrylic):
    over = cases.piece("B", over=["A"])
    first, second, third, fourth = good(acrylic, two=over)
    told = broken(acrylic, [first, second, third, fourth], (A, over))
    assert {(each.placement, each.rule) for each in told} == {
        ("B, layer 1 (base)", "walk"), ("B, layer 2 (top)", "walk"),
    }  # fmt: skip
    opens = first.opens.tz_convert("America/New_York")
    assert told[0].text == (
        "the way over A, layer 1 (base) is closed from 2026-06-02 07:30 to "
        f"{opens:%Y-%m-%d %H:%M:%S}"
    )
    # The far piece first, then back over the way: base of B, base of A; top of B, top of A.
    plan = [
        placement(acrylic, over, 0, "06-02 07:30", "06-02 10:30"),
        placement(acrylic, A, 0, "06-02 11:00", "06-02 14:00"),
        placement(acrylic, over, 1, "06-04 07:30", "06-04 10:30"),
        placement(acrylic, A, 1, "06-04 11:00", "06-04 14:00"),
    ]
    assert broken(acrylic, plan, (A, over)) == ()
    # What is laid on the way closes it too, while it is inside the data.
    laid = cases.piece("A", laid=[cases.record(0, "2026-06-01 13:00", "2026-06-01 16:00")])
    now = cases.local("2026-06-01 17:00")
    early = placement(acrylic, over, 0, "06-02 07:30", "06-02 10:30")
    assert rules(acrylic, [early], (laid, over), now=now) == {"walk"}
    old = cases.piece("A", laid=[cases.record(0, "2026-05-20 13:00", "2026-05-20 16:00")])
    assert rules(acrylic, [early], (old, over), now=now) == set()


def test_a_way_that_is_not_known_to_open_stays_closed(acrylic):
    over = cases.piece("B", over=["A"])
    way = placement(acrylic, A, 0, "06-10 07:30", "06-10 10:30")
    made = placement(acrylic, over, 0, "06-10 11:00", "06-10 14:00")
    told = [each for each in broken(acrylic, [way, made], (A, over)) if each.rule == "walk"]
    assert "a time that is not known" in told[0].text


def test_the_bare_area_stays_under_its_cap(urethane):
    plan = [
        placement(urethane, A, 0, "06-02 07:30", "06-02 10:30"),
        placement(urethane, B, 0, "06-02 11:00", "06-02 14:00"),
        placement(urethane, A, 1, "06-03 08:00", "06-03 11:00"),
        placement(urethane, B, 1, "06-03 13:30", "06-03 16:30"),
    ]
    assert broken(urethane, plan, job=cases.job(open_area="600 m2")) == ()
    (found,) = broken(urethane, plan, job=cases.job(open_area="599 m2"))
    assert (found.placement, found.rule) == ("B, layer 1 (base)", "open_area")
    assert found.text == "from 2026-06-02 11:00 on 600 m2 lie bare, and 599 m2 may"
    one_by_one = [
        plan[0],
        plan[2],
        placement(urethane, B, 0, "06-03 11:30", "06-03 14:30"),
        placement(urethane, B, 1, "06-05 08:00", "06-05 10:00"),
    ]
    assert "open_area" not in rules(urethane, one_by_one, job=cases.job(open_area="300 m2"))
    # What is laid and bare counts; a cover takes it away when it ends.
    laid = cases.piece("A", laid=[cases.record(0, "2026-06-01 08:00", "2026-06-01 11:00")])
    now = cases.local("2026-06-01 12:00")
    small = cases.job(open_area="300 m2")
    more = [plan[1], plan[3]]
    assert rules(urethane, more, (laid, B), small, now) == {"open_area"}
    top = placement(urethane, laid, 1, "06-02 10:30", "06-02 13:30")
    base = placement(urethane, B, 0, "06-02 14:00", "06-02 16:30")
    half = cases.piece("B", area=250.0)
    covered = [top, replace(base, area_m2=250.0), replace(plan[3], area_m2=250.0)]
    assert rules(urethane, covered, (laid, half), small, now) == set()


def test_what_lies_bare_already_is_not_the_fault_of_what_covers_it(tmp_path):
    layers = (("primer", "primer_epoxy", "4 mil", ""), *cases.URETHANE)
    found = cases.hours(tmp_path, layers)
    laid = [
        cases.piece(name, laid=[cases.record(0, "2026-06-01 08:00", "2026-06-01 11:00")])
        for name in "AB"
    ]
    plan = [
        placement(found, laid[0], 1, "06-02 08:00", "06-02 11:00"),
        placement(found, laid[0], 2, "06-03 12:30", "06-03 15:30"),
    ]
    now = cases.local("2026-06-01 12:00")
    assert rules(found, plan, laid, cases.job(open_area="300 m2"), now) == set()
    more = cases.piece("C")
    rates = {"primer": "100 m2/h", "base": "100 m2/h", "top": "100 m2/h"}
    primed = placement(found, more, 0, "06-02 11:30", "06-02 14:30")
    for cap, expected in (("800 m2", True), ("900 m2", False)):
        job = cases.job(rates=rates, open_area=cap)
        told = broken(found, [*plan, primed], (*laid, more), job, now)
        assert ("open_area" in {each.rule for each in told}) == expected


def test_the_clocks_of_a_placement_are_told_right(urethane):
    base = placement(urethane, A, 0, "06-02 08:00", "06-02 11:00")
    top = placement(urethane, A, 1, "06-03 13:00", "06-03 16:00")
    second = pd.Timedelta(seconds=1)
    assert broken(urethane, [replace(base, due=base.due + second), top]) == ()
    for change in (
        {"opens": None},
        {"opens": base.opens + 2 * second},
        {"due": None},
        {"due": base.due - 2 * second},
    ):
        told = broken(urethane, [replace(base, **change), top])
        assert [(each.placement, each.rule) for each in told] == [("A, layer 1 (base)", "clocks")]
    assert rules(urethane, [base, replace(top, due=base.due)]) == {"clocks"}  # the last has none
    beyond = placement(urethane, A, 0, "06-09 08:00", "06-09 11:00")
    assert beyond.due == beyond.start + pd.Timedelta(hours=48)
    hidden = replace(beyond, due=None)
    assert rules(urethane, [hidden], open_beyond=True) == {"clocks"}
    unknown = placement(urethane, A, 0, "06-10 08:00", "06-10 11:00")
    told = rules(urethane, [replace(unknown, opens=base.opens)], open_beyond=True)
    assert "clocks" in told


@pytest.mark.parametrize(
    ("wet", "value", "expected"),
    [
        ({}, 2.0, {"extra_days"}),
        ({"2026-06-03"}, 2.0, set()),
        ({"2026-06-03"}, NAN, {"extra_days"}),  # a day of which nothing is known is not lost
        ({"2026-05-29", "2026-06-06"}, 2.0, {"extra_days"}),  # of the week before, and no work day
    ],
)
def test_an_extra_day_after_rain_only(tmp_path, wet, value, expected):
    table = cases.weather(days=14, start="2026-05-28T00:00Z")
    local = table.index.tz_convert("America/New_York")
    rows = {
        row: value for row, at in enumerate(local) if f"{at:%Y-%m-%d}" in wet and 5 <= at.hour < 18
    }
    table = cases.weather(days=14, start="2026-05-28T00:00Z", rain_mm=rows)
    found = cases.hours(tmp_path, table=table)
    job = cases.job(extra_days=["Sat", "Sun"], extra_days_only_after_rain=True)
    made = placement(found, A, 0, "06-07 08:00", "06-07 11:00")
    assert rules(found, [made], job=job) == expected
    regular = placement(found, A, 0, "06-05 08:00", "06-05 11:00")
    assert rules(found, [regular], job=job) == set()


def test_one_valid_hour_saves_a_work_day(tmp_path):
    rows = {row: 2.0 for row in range(24 + 4, 48 + 4) if row != 24 + 14}
    found = cases.hours(tmp_path, table=cases.weather(rain_mm=rows))
    assert rows  # Tuesday rains all day but for one hour, too wet to work in
    job = cases.job(extra_days=["Sat"], extra_days_only_after_rain=True)
    made = placement(found, A, 0, "06-06 08:00", "06-06 11:00")
    assert rules(found, [made], job=job) == set()
    free = cases.without_gates(found)  # every hour is valid
    assert "extra_days" in rules(free, [made], job=job)


def test_only_hours_wholly_in_the_shift_save_a_work_day(tmp_path):
    cold = {24 + 4 + hour: 0.0 for hour in range(7, 17)}  # Tuesday, but for 06:00 and 17:00
    found = cases.hours(
        tmp_path, table=cases.weather(air_temp_c=cold), start="06:30", end="17:30"
    )  # fmt: skip
    jobs = tuple(
        replace(
            job,
            coating=replace(
                job.coating,
                gates=tuple(gate for gate in job.coating.gates if gate.name == "air_temp_min"),
            ),
        )
        for job in found.jobs
    )
    found = replace(found, jobs=jobs)
    job = cases.job(extra_days=["Sat"], extra_days_only_after_rain=True)
    made = placement(found, A, 0, "06-06 08:00", "06-06 11:00")
    assert rules(found, [made], job=job) == set()


def test_all_that_is_wrong_is_told(urethane):
    wrong = placement(urethane, A, 1, "06-06 06:00", "06-06 08:00", area_m2=1.0, opens=None)
    told = broken(urethane, [wrong], now=LATER)
    assert {each.rule for each in told} == {"known", "past", "crew", "shift", "order", "clocks"}
    assert len({(each.placement, each.rule) for each in told}) == len(told)


# The cure clock and holds, worked by hand.


def by_hand(acrylic, rows=12, gates=(), clock=None, least=None, stage=0.0, **given):
    """Return a layer's hours with made-up rates: rain-safe after 0.9 h of cure."""
    job = acrylic.jobs[0]
    arrays = {
        name: np.broadcast_to(np.asarray(value, dtype=np.float64), rows)
        for name, value in ({"cure_rate": 0.3, "cure_rate_late": 0.3} | given).items()
    }
    chosen = tuple(
        replace(gate, clock_h=clock if gate.clock_h else None)
        for gate in job.coating.gates if gate.name in gates
    )  # fmt: skip
    coating = replace(
        job.coating,
        gates=chosen,
        milestones={"rain_safe": 0.9},
        milestone_clock_min_h={} if least is None else {"rain_safe": least},
        first_stage_h=stage,
    )
    hours = replace(job.hours, frame=job.hours.frame.iloc[:rows])
    return LayerHours(
        replace(job, hours=hours, coating=coating, conditions=replace(job.conditions, **arrays))
    )


def rates(*values, rows=12):
    return np.array([*values, *[values[-1]] * (rows - len(values))])


def test_cure_counts_from_the_end_of_the_row(acrylic):
    assert by_hand(acrylic).milestone("rain_safe", 2) == 3600 * 6
    # 0.3 + 0.3 + 0.3 falls just short of 0.9 and must not wait for hours without cure.
    stops = rates(0.3, 0.3, 0.3, 0.3, 0.0)
    assert by_hand(acrylic, cure_rate=stops, cure_rate_late=stops).milestone("rain_safe", 0) == (
        3600 * 4
    )
    half = by_hand(acrylic, cure_rate=0.6, cure_rate_late=0.6)
    assert half.milestone("rain_safe", 0) == 3600 * 2.5
    staged = by_hand(acrylic, stage=0.45, cure_rate=0.6, cure_rate_late=0.3)
    assert staged.milestone("rain_safe", 0) == 3600 * (1 + 0.75 + 1.5)
    assert by_hand(acrylic, least=7.0).milestone("rain_safe", 2) == 3600 * 10
    assert by_hand(acrylic, least=1.0).milestone("rain_safe", 2) == 3600 * 6
    assert by_hand(acrylic).milestone("rain_safe", 9) is None


def test_holds_until_a_milestone(acrylic):
    def state(row, **given):
        given = {"rain_most_mm": 0.0} | given
        return by_hand(acrylic, gates={"no_rain"}, **given).checks(row)[
            "rain in the hour until rain-safe"
        ]

    def rain(row, value=2.0):
        values = np.zeros(12)
        values[row] = value
        return values

    assert [state(2, rain_most_mm=rain(row)) for row in (1, 2, 5, 6)] == [
        State.OK, State.BLOCKED, State.BLOCKED, State.OK,
    ]  # fmt: skip
    assert state(2, rain_most_mm=rain(5, NAN)) is State.UNKNOWN
    assert state(2, rain_most_mm=rain(6, NAN)) is State.OK
    assert state(2, rain_most_mm=rain(2, 0.2)) is State.BLOCKED  # at the threshold it counts
    assert state(9) is State.UNKNOWN
    assert state(9, rain_most_mm=rain(11)) is State.BLOCKED
    # A rate that is not known in row 4: to its end the film is not safe, and then nobody knows.
    blind = rates(0.3, 0.3, 0.3, 0.3, NAN)
    for row, expected in ((4, State.BLOCKED), (5, State.UNKNOWN)):
        for given in ({"cure_rate": blind}, {"cure_rate_late": blind}):
            known = {"cure_rate": blind, "cure_rate_late": blind} if row == 4 else given
            assert state(2, rain_most_mm=rain(row), stage=0.45, **known) is expected
    assert state(2, rain_most_mm=rain(9), least=7.0, cure_rate_late=blind) is State.BLOCKED
    # A clock minimum that ends after the data.
    assert state(2, least=9.0) is State.OK
    assert state(2, least=9.5) is State.UNKNOWN


def test_holds_for_clock_hours(acrylic):
    def state(row, clock, **given):
        given = {"film_temp_c": 20.0} | given
        found = by_hand(acrylic, gates={"no_freeze"}, clock=clock, **given)
        return found.checks(row)["film temperature, freeze hold"]

    frost = rates(20.0, 20.0, 20.0, 20.0, 20.0, -5.0)
    assert [state(2, clock, film_temp_c=frost) for clock in (3.0, 3.5, 4.0)] == [
        State.OK, State.BLOCKED, State.BLOCKED,
    ]  # fmt: skip
    assert state(2, 10.0) is State.OK
    assert state(2, 10.5) is State.UNKNOWN
    assert state(2, 4.0, film_temp_c=rates(0.0)) is State.OK  # a value at its limit


# Agreement with what finds windows: two readings of one definition.


@pytest.mark.parametrize("coating", ["silicone_high_solids", "urethane_aromatic"])
def test_valid_hours_are_those_of_the_main_job(tmp_path, coating, outside):
    """Each hour of a real site as a plan of its own: it stands where the hour is valid."""
    site = load_site(DEMO / "high_desert")
    table = read_weather(DEMO / "high_desert" / "weather.csv")
    film = load_profile(coating).film["dry_per_coat"].si
    system = cases.system(tmp_path, [("only", coating, f"{film} um", "")])
    found = system_hours(site, system, table)
    job = cases.job(rates={"only": "100 m2/h"}, set_up="0 h", clean_up="0 h", move="0 h")
    pieces, plan = [], []
    for row, start in enumerate(table.index):
        on = cases.piece(f"P{row}", area=100.0)
        made = placement(found, on, 0, "06-01 08:00", "06-01 09:00")
        opens = found.jobs[0].checked.milestones["recoat_opens"][row]
        moment = start.tz_convert(site.zone)
        plan.append(
            replace(
                made,
                shift=moment.date(),
                start=start,
                end=start + pd.Timedelta(hours=1),
                opens=None if np.isnan(opens) else found.time(float(opens)),
                due=None,
            )
        )
        pieces.append(on)
    told = validate(plan, pieces, job, found, table.index[0])
    assert {each.rule for each in told} == {"gate", "shift"}
    bad = {each.placement for each in told}
    valid = np.array([f"{on.name}, layer 1 (only)" not in bad for on in pieces])
    assert valid.any()
    outside.equal(
        "valid hours of a site, two coatings", found.jobs[0].found.hour == State.OK, valid,
        source="the validator of plans, which shares no code",
    )  # fmt: skip


@pytest.mark.exhaustive(every=5)  # of each site, each system and both limits
@pytest.mark.parametrize("limits", ["generic", "careful"])
@pytest.mark.parametrize("name", ["spf_urethane", "acrylic_two_coat", "emulsion_one_ply_acrylic"])
@pytest.mark.parametrize("folder", ["high_desert", "gulf_coast", "cool_north"])
def test_states_and_clocks_are_those_of_the_main_job(folder, name, limits, outside):
    told = {"source": "the validator of plans, which shares no code"}
    site = load_site(DEMO / folder)
    table = read_weather(DEMO / folder / "weather.csv")
    frame = table.frame.copy()
    frame.loc[frame.index[[60, 131]], "air_temp_c"] = NAN
    frame.loc[frame.index[[200]], "rain_mm"] = NAN
    found = system_hours(site, load_system(name), replace(table, frame=frame), limits=limits)
    for job in found.jobs:
        mine, rows = LayerHours(job), range(len(table.index))
        stops = safety_stops(job.conditions, job.site).values()
        expected = combine(job.checked.state, *stops)
        states = np.array([mine.state(row) for row in rows])
        outside.equal("verdict of every hour, three sites and systems", expected, states, **told)
        for milestone, times in job.checked.milestones.items():
            seconds = [mine.milestone(milestone, row) for row in rows]
            ours = np.array([NAN if at is None else at for at in seconds])
            # Half a second of a clock minimum that is no whole second; there is none here.
            close = {"within": 1e-3, "unit": "s", "unknown_alike": True}
            if not np.isnan(ours).all():
                outside.agree("every milestone", times * 3600, ours, **close, **told)
        for deadline, times in job.checked.deadlines.items():
            ends = [mine.deadlines(row)[deadline] for row in rows]
            if not np.isnan(ends).all():
                outside.agree("every deadline", times * 3600, ends, **close, **told)
