"""The board as JSON and CSV: everything is said, by a strict schema, and promises come back."""

import copy
import csv
import io
import json
from dataclasses import fields, replace
from datetime import timedelta

import board_cases
import board_folder
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from outside import library

from windows.board.make import load_jobs
from windows.board.promise import Promise
from windows.board.result import Assignment, Board, BoardSite, Danger, Deadline, SiteState, Work
from windows.board.strips import day_strips
from windows.decision import Decision, Verdict
from windows.errors import OutputError
from windows.odds.chance import Method
from windows.reports.board_csv import board_csv
from windows.reports.board_json import board_dict, board_schema, promises_of
from windows.safety import GOVERNS
from windows.weather_choice import WeatherChoice

SCHEMA = json.loads(board_schema())
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)
RICH = board_cases.rich()
TOLD = board_dict(RICH)


def small():
    """Return a board with one of each thing that it can hold, quick to check over and over."""
    told = copy.deepcopy(TOLD)
    for name in ("crews", "sites", "assignments", "undone", "deadlines", "moved", "faults"):
        told[name] = told[name][:1]
    told["days"] = told["days"][:2]
    told["sites"][0]["strips"] = told["sites"][0]["strips"][:1]
    told["sites"][0]["strips"][0]["hours"] = told["sites"][0]["strips"][0]["hours"][:1]
    return told


SMALL = small()
NAN = float("nan")


def faults(told):
    return [fault.message for fault in VALIDATOR.iter_errors(told)]


# ------------------------------------------------------------------------------------ the schema


def test_the_schema_is_one_and_says_which():
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert SCHEMA["properties"]["schema"]["const"] == TOLD["schema"] == 1
    assert {"date", "date-time"} <= set(VALIDATOR.format_checker.checkers)


@pytest.mark.parametrize(
    "board",
    [RICH, board_cases.empty(), board_cases.big(3, 2, 4)],
    ids=["rich", "empty", "big"],
)
def test_every_board_keeps_to_it(board, outside):
    told = board_dict(board)
    outside.equal(
        "faults of a board's JSON by its schema, three boards", faults(told), [], points=1,
        source=library("jsonschema", "with formats"),
    )  # fmt: skip
    assert faults(told | {"changed": ["new: base on A"]}) == []
    assert json.loads(json.dumps(told, allow_nan=False)) == told


def objects(schema):
    """Yield every schema of an object in a schema."""
    if isinstance(schema, dict):
        if schema.get("type") == "object":
            yield schema
        for value in schema.values():
            yield from objects(value)


UNITS = {"_c": "[degC]", "_m_s": "[m/s]", "_mm": "[mm]", "_m2": "[m2]", "_h": "[h]"}


def test_every_key_is_described_with_its_unit_and_no_other_is_allowed():
    found = list(objects(SCHEMA))
    assert len(found) == 18
    for one in found:
        assert one["additionalProperties"] is False
        assert set(one["required"]) == set(one["properties"]) - {"changed"}
        for name, told in one["properties"].items():
            assert len(told["description"]) > 5, name
            kinds = told.get("type", [])
            if "number" in kinds:
                assert "[" in told["description"] or name == "margin", name
            if "integer" in kinds:
                assert "[count]" in told["description"] or name in ("layer", "schema"), name
            for ending, unit in UNITS.items():
                if name.endswith(ending):
                    assert unit in told["description"], name
            if "$ref" in told and told["$ref"].endswith("/time"):
                assert "[UTC]" in told["description"], name


def test_the_names_of_all_members_are_those_of_the_schema():
    defs = {name: part["properties"] for name, part in SCHEMA["$defs"].items() if
            "properties" in part}  # fmt: skip
    for members, told in (
        (SiteState, defs["site"]["state"]), (Method, defs["chance"]["method"]),
        (Verdict, defs["decision"]["verdict"]), (Danger, defs["deadline"]["danger"]),
    ):  # fmt: skip
        assert told["enum"] == [each.name.lower() for each in members]
        assert all(f"{name}: " in told["description"] for name in told["enum"])


def paths(told, at=()):
    """Yield the place of every value."""
    yield at
    if isinstance(told, dict):
        for key, value in told.items():
            yield from paths(value, (*at, key))
    elif isinstance(told, list) and told:
        yield from paths(told[0], (*at, 0))


def changed(told, at, change):
    """Return a copy in which the holder of a place was changed."""
    told = copy.deepcopy(told)
    holder = told
    for key in at[:-1]:
        holder = holder[key]
    change(holder, at[-1])
    return told


PLACES = [at for at in paths(SMALL) if at]


@pytest.mark.parametrize("at", [p for p in PLACES if isinstance(p[-1], str)], ids=str)
def test_no_key_may_be_missing_or_of_another_kind(at):
    assert faults(SMALL) == []
    assert faults(changed(SMALL, at, lambda holder, key: holder.pop(key)))
    assert faults(changed(SMALL, at, lambda holder, key: holder.update({key: {"a": []}})))
    assert faults(changed(SMALL, at, lambda holder, key: holder.update({f"{key}_": 1})))


@pytest.mark.parametrize(
    ("at", "value"),
    [
        (("now",), "2026-05-07T22:30:00"), (("now",), "2026-05-07T22:30:00+00:00"),
        (("now",), "2026-13-07T22:30:00Z"), (("now",), "2026-05-07"), (("now",), None),
        (("days", 0), "2026-02-30"), (("days", 0), "May 8"), (("days", 1), "2026-05-08"),
        (("schema",), 2), (("schema",), "1"), (("area_m2",), -1.0), (("area_m2",), "9"),
        (("sites", 0, "state"), "Planned"), (("sites", 0, "laid"), -1),
        (("sites", 0, "laid"), 1.5), (("sites", 0, "stale"), 0),
        (("sites", 0, "strips", 0, "hours", 0, "state"), "OK"),
        (("sites", 0, "strips", 0, "hours", 0, "rain_prob"), 1.1),
        (("sites", 0, "strips", 0, "hours", 0, "rain_mm"), -0.1),
        (("sites", 0, "strips", 0, "hours", 0, "rain_block_h"), 0),
        (("assignments", 0, "works"), []),
        (("assignments", 0, "works", 0, "layer"), 0),
        (("assignments", 0, "works", 0, "chance", "low"), -0.01),
        (("assignments", 0, "works", 0, "chance", "low"), None),
        (("assignments", 0, "works", 0, "chance", "method"), "share of forecast runs"),
        (("assignments", 0, "works", 0, "tightest", "unit"), "degF"),
        (("assignments", 0, "decision", "verdict"), "GO"),
        (("assignments", 0, "decision", "decide_by"), None),
        (("deadlines", 0, "danger"), "in time"), (("changed",), "text"), (("changed",), [1]),
    ],
    ids=str,
)  # fmt: skip
def test_values_that_cannot_be_are_refused(at, value):
    assert faults(changed(SMALL, at, lambda holder, key: holder.__setitem__(key, value)))


# ---------------------------------------------------------------------------------- what is told


def test_nothing_of_the_board_is_left_out():
    def names(kind, *apart):
        return {field.name for field in fields(kind)} - set(apart)

    site, visit = TOLD["sites"][0], TOLD["assignments"][0]
    assert names(Board) <= set(TOLD)
    assert names(BoardSite, "zone") <= set(site)
    assert names(Assignment) <= set(visit)
    assert names(Decision) == set(visit["decision"])
    assert names(Deadline) == set(TOLD["deadlines"][0])
    assert names(Work, "placement") <= set(visit["works"][0])
    assert TOLD["governs"] == GOVERNS
    assert [each["key"] for each in TOLD["sites"]] == [each.key for each in RICH.sites]
    assert TOLD["crews"][0]["idle"] == [
        {"day": "2026-05-11", "why": "rain on every site that it may work on"},
        {"day": "2026-05-13", "why": "not a work day"},
    ]


def test_a_work_is_told_in_si_and_utc():
    visit = TOLD["assignments"][0]
    assert (visit["day"], visit["arrive"]) == ("2026-05-08", "2026-05-08T11:30:00Z")
    work = visit["works"][0]
    assert work["chance"] == {"low": 0.81, "estimate": 0.88, "high": 0.93, "method": "members"}
    assert work["tightest"] == {
        "gate": "spread_min", "quantity": "spread_c", "margin": 2.9, "unit": "K",
    }  # fmt: skip
    assert (work["layer"], work["cover_by"]) == (1, "2026-05-12T19:00:00Z")
    assert TOLD["assignments"][4]["works"][0]["tightest"] is None
    assert TOLD["assignments"][7]["decision"] is None
    assert TOLD["assignments"][1]["decision"]["verdict"] == "go_until"


@pytest.mark.parametrize(
    "folder", ["sites", "/home/someone/sites", "../sites/", "C:\\Users\\someone\\sites"]
)
def test_no_path_is_handed_on(folder):
    assert board_dict(replace(RICH, folder=folder))["folder"] == "sites"


def test_what_is_not_known_is_null_and_never_nan():
    visit = RICH.assignments[0]
    lost = replace(visit.decision, break_even=float("inf"), cost_go=NAN, lost=NAN)
    strip = RICH.sites[0].strips[0]
    hour = replace(
        strip.hours[0], rain_prob=NAN, air_temp_c=NAN, chance=None, rain_prob_block_h=NAN,
        rain_block_h=6.0,
    )  # fmt: skip
    site = replace(RICH.sites[0], strips=(replace(strip, hours=(hour,)),))
    board = replace(
        RICH, sites=(site, *RICH.sites[1:]), expected_m2=NAN,
        assignments=(replace(visit, decision=lost), *RICH.assignments[1:]),
    )  # fmt: skip
    told = board_dict(board)
    json.dumps(told, allow_nan=False)
    assert faults(told) == []
    decision = told["assignments"][0]["decision"]
    assert (decision["break_even"], decision["cost_go"], decision["lost"]) == (None, None, None)
    first = told["sites"][0]["strips"][0]["hours"][0]
    assert (first["rain_prob"], first["air_temp_c"], first["chance"]) == (None, None, None)
    assert (first["rain_prob_block_h"], first["rain_block_h"]) == (None, 6.0)
    assert told["expected_m2"] is None


def test_every_layer_of_a_day_has_its_strip_and_spans_their_length(tmp_path):
    steps = np.arange(240)
    csv = board_folder.weather(
        rain_prob=np.where(steps % 24 < 12, 0.0, 0.1), rain_prob_block_h=12.0, rain_block_h=6.0
    )
    folder = board_folder.folder_of(tmp_path / "jobs", csv=csv)
    board, _ = board_folder.board_of(folder)
    (site,) = board.sites
    layers = {}
    for each in board.assignments:
        for work in each.works:
            layers.setdefault(each.day, set()).add(work.placement.layer_name)
    told = {}
    for strip in site.strips:
        told.setdefault(strip.day, []).append(strip.layer_name)
    assert layers
    assert {day: set(told[day]) for day in layers} == layers
    assert all(len(set(names)) == len(names) for names in told.values())
    hours = [hour for strip in site.strips for hour in strip.hours]
    assert {hour.rain_prob for hour in hours} == {0.0, 0.1}
    assert {(hour.rain_prob_block_h, hour.rain_block_h) for hour in hours} == {(12.0, 6.0)}
    assert faults(board_dict(board)) == []


def test_hours_are_told_for_each_layer_that_is_planned_on_a_day(tmp_path):
    folder = board_folder.folder_of(tmp_path / "jobs")
    loaded = load_jobs(folder, WeatherChoice(), board_folder.NOW)
    (job,) = loaded.jobs
    days = [pd.Timestamp("2026-06-01").date(), pd.Timestamp("2026-06-02").date()]
    found = day_strips(job, days, {days[0]: (0, 1), days[1]: (7,)})  # 7: no such layer any more
    assert [(strip.day, strip.layer_name) for strip in found] == [
        (days[0], "base"), (days[0], "top"), (days[1], "base"),
    ]  # fmt: skip
    assert all(hour.rain_block_h == hour.rain_prob_block_h == 1.0 for hour in found[0].hours)


# ----------------------------------------------------------------------------------- the way back


def test_promises_come_back_as_they_were():
    promises = promises_of(json.dumps(TOLD), "board.json")
    given = [(each, work) for each in RICH.assignments for work in each.works]
    assert len(promises) == len(given)
    for promise, (each, work) in zip(promises, given, strict=True):
        placed = work.placement
        assert promise == Promise(
            each.crew, each.site, placed.piece, placed.section, placed.layer, placed.layer_name,
            placed.start, placed.end, each.day, placed.area_m2, placed.coating,
        )  # fmt: skip
    assert str(promises[0].start.tz) == "UTC"
    assert promises_of(json.dumps(board_dict(board_cases.empty())), "x") == ()


def refused(text, *parts):
    with pytest.raises(OutputError) as caught:
        promises_of(text, "old.json")
    told = str(caught.value)
    assert told.startswith("old.json: ")
    assert told.endswith("name another file, or delete it to begin anew")
    assert "\n" not in told
    assert all(part in told for part in parts)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "3", "null", '"x"', "{}", '{"schema": 1}', '{"schema": true}',
             '{"schema": 1, "assignments": 3}', '{"schema": 1, "assignments": [{}]}',
             '{"schema": 1.0, "assignments": []}', "[" * 100_000, '{"schema": ' + "9" * 5000 + "}",
             '{"site": "a", "plan": {"placements": []}}', "\ud800"],
)  # fmt: skip
def test_what_is_no_board_is_refused(text):
    refused(text, "is not a board")


def test_a_board_of_another_form_is_refused_by_its_number():
    refused(json.dumps(TOLD | {"schema": 2}), "form 2", "reads form 1")


@pytest.mark.parametrize(
    ("at", "value"),
    [
        (("crew",), 3), (("site",), None), (("day",), "2026-02-30"), (("day",), 20260508),
        (("works",), 3), (("works", 0, "start"), None), (("works", 0, "start"), "NaT"),
        (("works", 0, "start"), 3), (("works", 0, "start"), "2026-05-08T12:00:00"),
        (("works", 0, "start"), "9999999-01-01T00:00:00Z"),
        (("works", 0, "end"), "2026-05-08T12:00:00Z"), (("works", 0, "layer"), 0),
        (("works", 0, "layer"), 1.0), (("works", 0, "layer"), True), (("works", 0, "piece"), []),
        (("works", 0, "layer_name"), None), (("works", 0, "section"), 1),
    ],
    ids=str,
)  # fmt: skip
def test_a_damaged_promise_is_refused(at, value):
    told = changed(
        SMALL, ("assignments", 0, *at), lambda holder, key: holder.__setitem__(key, value)
    )
    refused(json.dumps(told), "is not a board")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["crew", "site", "works", "start", "layer"]), inner),
    max_leaves=8,
)


@given(JSON)
def test_any_json_is_taken_or_refused(value):
    text = json.dumps({"schema": 1, "assignments": value})
    try:
        assert promises_of(text, "old.json") == ()
    except OutputError:
        refused(text, "is not a board")


# ----------------------------------------------------------------------------------------- CSV


def rows(board):
    return list(csv.DictReader(io.StringIO(board_csv(board))))


def test_a_row_for_each_work():
    told = rows(RICH)
    assert len(told) == 13
    first = told[0]
    assert first["crew"] == board_cases.NASTY_CREW
    assert first["site_name"] == board_cases.NASTY
    assert (first["site"], first["layer"], first["area_m2"]) == ("depot", "1", "300.0")
    assert first["start_local"] == "2026-05-08T08:00:00-04:00"
    assert pd.Timestamp(first["start_local"]) == pd.Timestamp(first["start_utc"])
    assert first["arrive_utc"] == "2026-05-08T11:30:00Z"
    assert [first[f"chance_{name}"] for name in ("low", "estimate", "high", "method")] == [
        "0.81", "0.88", "0.93", "share of forecast runs",
    ]  # fmt: skip
    assert [first[f"tightest_{name}"] for name in ("gate", "margin", "unit")] == [
        "spread_min", "2.9", "K",
    ]  # fmt: skip
    assert (first["verdict"], first["stop_at_utc"]) == ("go", "2026-05-08T19:30:00Z")
    assert first["decide_by_local"] == "2026-05-07T17:00:00-04:00"
    assert first["promised"] == "yes"
    assert first["cautions"] == f"{board_cases.EDGE.text} {board_cases.WIND.text}"


def test_old_weather_stands_in_the_row():
    told = {(row["site"], row["stale_weather"]) for row in rows(RICH)}
    assert told == {("depot", "no"), ("mesa", "no"), ("yard", "yes")}


def test_local_times_are_those_of_each_site():
    mesa = next(row for row in rows(RICH) if row["site"] == "mesa")
    assert mesa["start_local"].endswith("T09:00:00-06:00")


def test_what_is_not_known_is_an_empty_cell():
    told = rows(RICH)
    unknown = next(row for row in told if row["piece"] == "Bay 1")
    assert (unknown["chance_low"], unknown["chance_estimate"]) == ("0.0", "")
    assert unknown["tightest_gate"] == unknown["tightest_margin"] == ""
    last = told[-1]
    assert last["verdict"] == last["stop_at_utc"] == last["decide_by_utc"] == ""
    wait = next(row for row in told if row["verdict"] == "wait")
    assert wait["stop_at_local"] == wait["stop_at_utc"] == ""


def test_a_board_without_work_has_its_headings():
    assert board_csv(board_cases.empty()).count("\n") == 1


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@a", "\tx"])
def test_no_cell_is_a_formula(name):
    visit = RICH.assignments[0]
    work = visit.works[0]
    placed = replace(work.placement, piece=name, section=name, coating=name)
    sites = tuple(replace(site, name=name) for site in RICH.sites)
    visit = replace(visit, crew=name, works=(replace(work, placement=placed),))
    (row,) = rows(replace(RICH, assignments=(visit,), sites=sites))
    for column in ("crew", "site_name", "piece", "section", "coating"):
        assert row[column] == f"'{name}"


def test_times_between_seconds_are_told_to_the_second():
    visit = RICH.assignments[0]
    odd = replace(visit, arrive=visit.arrive + timedelta(milliseconds=700))
    (row, *_) = rows(replace(RICH, assignments=(odd,)))
    assert row["arrive_local"] == "2026-05-08T07:30:00-04:00"
    assert row["arrive_utc"] == "2026-05-08T11:30:00Z"
