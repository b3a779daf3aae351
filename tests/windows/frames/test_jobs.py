"""Bare layers and plans as frames say what ``dewgap cover`` and ``dewgap plan`` say."""

import csv
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from windows import DewgapError, check_bare_layers, plan_job, planner, read_weather
from windows.frames.given import given_job
from windows.frames.shape import sheet_rows
from windows.reports.sheets import Sheet
from windows.safety import GOVERNS

SITES = Path(__file__).parents[3] / "demo_sites"
COVERS = {
    "cool_north": "2026-09-22T17:00",
    "gulf_coast": "2026-06-08T18:00",
    "high_desert": "2026-05-11T06:00",
}
STATES = {
    "covered": "OK",
    "not yet open": "OK",
    "cover in time": "OK",
    "depends on the data sheet": "UNKNOWN",
    "undetermined": "UNKNOWN",
    "no window left": "BLOCKED",
    "overdue": "BLOCKED",
}
RANK = {"OK": 0, "UNKNOWN": 4, "BLOCKED": 3}


def rows_of(path):
    """Return the rows of a CSV file."""
    return list(csv.DictReader(path.read_text().splitlines()))


def utc(when):
    """Return a time as JSON and CSV tell it."""
    return None if pd.isna(when) else f"{when.tz_convert('UTC'):%Y-%m-%dT%H:%M:%SZ}"


@pytest.mark.parametrize(("site", "now"), COVERS.items())
def test_bare_layers_are_those_that_the_command_tells(dewgap, site, now):
    status, out, _ = dewgap("cover", SITES / site, "--now", now, "--json")
    told = {(each["piece"], each["layer"]): each for each in json.loads(out)["bare_layers"]}
    frame = check_bare_layers(SITES / site, now=now)
    assert len(frame) == len(told)
    assert list(frame["cover_by_local"].dropna()) == sorted(frame["cover_by_local"].dropna())
    for row in frame.to_dict("records"):
        cover = told[row["piece"], row["layer"]]
        for name in ("section", "layer_name", "coating", "verdict", "longest_window_is_too_short"):
            assert row[name] == cover[name]
        for name in ("area_m2", "work_h"):
            assert row[name] == pytest.approx(cover[name])
        if cover["longest_window_is_too_short"]:
            assert row["state"] in {"UNKNOWN", "BLOCKED"}
        else:
            assert row["state"] == STATES[cover["verdict"]]
        assert [utc(row["placed_start_local"]), utc(row["placed_end_local"])] == cover["placed"]
        assert utc(row["opens_local"]) == cover["recoat_opens"]
        assert utc(row["cover_by_local"]) == cover["deadline"]
        earliest = [each["earliest"] for each in cover["deadlines"]]
        assert utc(row["cover_by_earliest_local"]) == (
            None if None in earliest or not earliest else min(earliest)
        )
        assert row["deadline_firm"] == all(each["firm"] for each in cover["deadlines"])
        left = cover["windows_left"]
        assert (row["windows_left"], row["windows_if_known"]) == (
            len(left), len(cover["provisional"])
        )  # fmt: skip
        assert utc(row["last_window_end_local"]) == (left[-1]["end"] if left else None)
        assert row["what_to_do"].splitlines() == [each["text"] for each in cover["what_to_do"]]
        texts = dict.fromkeys(each["text"] for one in left for each in one["cautions"])
        assert row["cautions"].splitlines() == list(texts)
        assert bool(row["hazards"]) == bool(cover["hazards"])
    statuses = {RANK[state] for state in frame["state"]}
    assert status == next((each for each in (3, 4) if each in statuses), 0)
    assert frame.attrs["governs"] == GOVERNS


@pytest.mark.parametrize(
    "now",
    [
        "2026-09-22T17:00",
        "2026-09-22T22:00Z",
        datetime(2026, 9, 22, 17),
        datetime(2026, 9, 22, 22, tzinfo=UTC),
        pd.Timestamp("2026-09-22T17:00", tz="America/Chicago"),
    ],
)
def test_now_is_by_the_clock_of_the_site_unless_it_has_a_zone(now):
    given = given_job(SITES / "cool_north", now, None, None)
    assert given.now == pd.Timestamp("2026-09-22T22:00Z")


def test_now_that_is_no_time_is_one_sentence():
    with pytest.raises(DewgapError, match=r"^now: 'noon' is not a time"):
        check_bare_layers(SITES / "cool_north", now="noon")


def test_a_deadline_that_is_not_known_is_no_reason_to_wait():
    """Rain that is not known in all hours to come leaves each layer undetermined or worse."""
    hours = read_weather(SITES / "cool_north" / "weather.csv")
    dim = replace(hours, frame=hours.frame.assign(rain_mm=np.nan))
    frame = check_bare_layers(SITES / "cool_north", now="2026-09-22T17:00", hours=dim)
    assert "OK" not in set(frame["state"])
    assert (frame["windows_left"] == 0).all()


def test_a_job_without_bare_layers_has_a_frame_of_the_same_types():
    some = check_bare_layers(SITES / "cool_north", now="2026-09-22T17:00")
    none = check_bare_layers(SITES / "high_desert", now="2026-05-11T06:00")
    assert len(none) == 0
    assert list(none.columns) == list(some.columns)
    same = [name for name in some if not name.endswith("_local")]
    assert none[same].dtypes.equals(some[same].dtypes)
    assert str(none["opens_local"].dtype) == "datetime64[ns, America/Los_Angeles]"


@pytest.fixture
def one_plan(monkeypatch):
    """Have command and frame plan once, since plans of one cost may differ; from the same job."""
    made = []
    plan_it = planner.make_plan

    def once(system, parts, job, now, *, before=(), **words):
        asked = (tuple(parts), job, now, before, words)
        if not made:
            made.append((plan_it(system, parts, job, now, before=before, **words), asked))
        planned, first = made[0]
        assert asked == first
        return planned

    monkeypatch.setattr(planner, "make_plan", once)
    monkeypatch.setattr("windows.frames.plan.make_plan", once)


@pytest.mark.parametrize("site", ["high_desert", "cool_north"])
@pytest.mark.usefixtures("one_plan")
def test_a_plan_is_that_of_the_csv(dewgap, tmp_path, site):
    now = COVERS[site]
    words = ("--now", now, "--seconds", "2")
    _, out, _ = dewgap("plan", SITES / site, *words, "--csv", "plan.csv", "--json")
    told, rows = json.loads(out), rows_of(tmp_path / "plan.csv")
    frame = plan_job(SITES / site, now=now, seconds=2)
    columns = list(rows[0])
    assert list(frame.columns) == [*columns, "state", "why", "cautions"]
    planned, left = frame[frame["state"] == "OK"], frame[frame["state"] != "OK"]
    assert len(planned) == told["plan"]["figures"]["placed"]
    assert len(frame) == told["plan"]["figures"]["of"]
    assert planned["end_utc"].max() == pd.Timestamp(told["plan"]["figures"]["finish"])
    assert left[["section", "why"]].to_numpy().tolist() == [
        [each["piece"], each["reason"]] for each in told["plan"]["left_out"]
    ]
    assert left[["start_utc", "end_local", "day", "area_m2"]].isna().all(axis=None)
    assert set(left["state"]) <= {"UNKNOWN", "BLOCKED"}
    assert (left["cautions"] == "").all()
    assert frame.attrs["governs"] == GOVERNS
    assert planned["cautions"].str.startswith("Fall edge").all()
    assert as_csv(planned[columns]) == rows


def as_csv(frame):
    """Return a frame as the rows of its CSV."""
    rows = []
    for row in frame.to_dict("records"):
        cells = {}
        for name, cell in row.items():
            if pd.isna(cell):
                cells[name] = ""
            elif name == "day":
                cells[name] = f"{cell:%Y-%m-%d}"
            elif isinstance(cell, pd.Timestamp):
                cells[name] = cell.isoformat() if name.endswith("_local") else utc(cell)
            else:
                cells[name] = {"True": "yes", "False": "no"}.get(str(cell), str(cell))
        rows.append(cells)
    return rows


def test_a_generic_deadline_goes_with_the_layers_that_rest_on_it():
    plan = plan_job(SITES / "high_desert", now=COVERS["high_desert"], seconds=1)
    says = plan["cautions"].str.contains("Data sheet: 'base', recoat closes")
    assert set(plan.loc[says, "layer_name"]) == {"base"}
    assert says.sum() == 3


def test_own_hours_take_the_place_of_the_file():
    hours = read_weather(SITES / "high_desert" / "weather.csv")
    wet = replace(hours, frame=hours.frame.assign(rain_mm=3.0, rain_prob=1.0))
    plan = plan_job(SITES / "high_desert", now=COVERS["high_desert"], hours=wet, seconds=1)
    assert set(plan["state"]) == {"BLOCKED"}
    dim = replace(hours, frame=hours.frame.assign(rain_mm=np.nan))
    plan = plan_job(SITES / "high_desert", now=COVERS["high_desert"], hours=dim, seconds=1)
    assert set(plan["state"]) == {"UNKNOWN"}
    later = hours.index[-1] + timedelta(days=9)
    with pytest.raises(DewgapError, match="weather"):
        plan_job(SITES / "high_desert", now=later.to_pydatetime(), seconds=1)


def test_what_is_missing_is_told_in_one_sentence(site, tmp_path):
    (site / "weather.csv").unlink()
    for call in (check_bare_layers, plan_job):
        with pytest.raises(DewgapError, match=r"add it, or give hours=read_weather\(\.\.\.\)"):
            call(site, now="2026-09-22T17:00")
        with pytest.raises(DewgapError, match="nowhere: no such file"):
            call(tmp_path / "nowhere")
        with pytest.raises(DewgapError, match="did you mean"):
            call(site, now="2026-09-22T17:00", system="acrylic_two_cout")


def test_pieces_named_like_formulas_keep_their_names():
    names = ["=A1", "+3", "-1", "@x", "'quoted", "plain", "NA", "7", "a, b", 'say "x"']
    sheet = Sheet("x", ("piece",), tuple((name,) for name in names))
    assert [row["piece"] for row in sheet_rows(sheet)] == names
