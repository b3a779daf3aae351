"""Windows and hours as frames say what the commands say, and the unknown stays unknown."""

import csv
import io
import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from windows import (
    DewgapError,
    coating_names,
    find_windows,
    hour_by_hour,
    hours_from,
    load_profile,
    load_site,
    read_weather,
)
from windows.demo import DEMO
from windows.provenance import Location
from windows.safety import GOVERNS

SITES = Path(__file__).parents[3] / "demo_sites"
CASES = [(site, coating) for site, coatings in DEMO.items() for coating in coatings]
GATE_STATES = {"OK", "BLOCKED", "UNKNOWN"}


@cache  # tables are not changed, but for copies of them
def as_read(site):
    return load_site(SITES / site), read_weather(SITES / site / "weather.csv")


def given(site, **changed):
    """Return a demo site and its hours, columns changed."""
    place, hours = as_read(site)
    return place, replace(hours, frame=hours.frame.assign(**changed))


def utc(when):
    """Return a time as JSON tells it."""
    return None if pd.isna(when) else f"{when.tz_convert('UTC'):%Y-%m-%dT%H:%M:%SZ}"


@pytest.mark.parametrize(("site", "coating"), CASES)
def test_windows_are_those_that_the_command_tells(good, site, coating):
    told = json.loads(good("windows", SITES / site, "--coating", coating, "--json"))["jobs"][0]
    place, hours = given(site)
    frame = find_windows(place, coating, hours)
    sure = frame[frame["state"] == "OK"].to_dict("records")
    assert len(sure) == len(told["windows"])
    for row, window in zip(sure, told["windows"], strict=True):
        assert (row["site"], row["coating"]) == (told["site"], told["coating"])
        for name in ("start", "end"):
            assert utc(row[f"{name}_local"]) == window[name]
        assert (row["window"], row["hours"]) == (window["number"], window["hours"])
        assert (row["tightest_gate"] or None) == window["tightest_gate"]
        assert row["tightest_margin"] == pytest.approx(window["tightest_margin"], abs=5e-5)
        assert (row["confidence"] == "robust") == window["robust"]
        assert row["decided_by"] == ", ".join([*window["decided_by"], *window["undecided"]])
        for end in ("first", "last"):
            safe = window[f"{end}_hour_milestones"].get("rain_safe")
            assert utc(row[f"rain_safe_{end}_local"]) == safe
        assert utc(row["stop_at_local"]) == (window["stop"] or {"at": None})["at"]
        assert utc(row["hazard_local"]) == (window["stop"] or {"hazard": None})["hazard"]
        bounds = window["dry_chance_bounds"] or (np.nan, np.nan)
        assert [row["dry_chance_low"], row["dry_chance_high"]] == pytest.approx(bounds, nan_ok=True)
        likely = row["rain_likely"]
        assert (None if pd.isna(likely) else likely) is window["rain_likely"]
        assert row["cautions"].splitlines() == [each["text"] for each in window["cautions"]]
        assert row["closed_by"]
    maybe = frame[frame["state"] == "UNKNOWN"].to_dict("records")
    assert [
        (utc(row["start_local"]), utc(row["end_local"]), row["missing"]) for row in maybe
    ] == [(run["start"], run["end"], ", ".join(run["missing"])) for run in told["provisional"]]
    assert len(sure) + len(maybe) == len(frame)
    assert frame["start_local"].is_monotonic_increasing
    assert frame.attrs["governs"] == GOVERNS == told["governs"]


@pytest.mark.parametrize(("site", "coating"), [CASES[0], CASES[3], CASES[4]])
def test_every_hour_is_that_of_the_csv(good, site, coating):
    text = good("hours", SITES / site, "--coating", coating, "--csv", "-")
    rows = list(csv.DictReader(io.StringIO(text)))
    place, hours = given(site)
    frame = hour_by_hour(place, coating, hours)
    added = ["why", "cautions"]
    in_csv = [name for name in rows[0] if name not in ("time_utc", "hour")]
    assert [name for name in frame if name not in ("state", *added)] == in_csv
    assert [utc(when) for when in frame.index] == [row["time_utc"] for row in rows]
    assert [when.isoformat() for when in frame["time_local"]] == [row["time_local"] for row in rows]
    assert frame["state"].tolist() == [row["hour"] for row in rows]
    for name in in_csv[1:]:
        texts = [row[name] for row in rows]
        if name.endswith("_at"):
            assert [utc(when) or "" for when in frame[name]] == texts
        elif name.startswith("gate_"):
            assert frame[name].tolist() == texts
            assert set(texts) <= GATE_STATES
        else:
            values = [float(text) if text else np.nan for text in texts]
            np.testing.assert_array_equal(frame[name].astype("Float64").to_numpy(float), values)


def test_why_names_what_blocks_an_hour_and_what_is_not_known_there():
    site, hours = given("cool_north")
    frame = hour_by_hour(site, "acrylic", hours)
    gates = frame.filter(like="gate_")
    for state, gate, why, cautions in zip(
        frame["state"], gates.itertuples(index=False), frame["why"], frame["cautions"], strict=True
    ):
        names = {name.removeprefix("gate_"): each for name, each in gate._asdict().items()}
        blocked = [name for name, each in names.items() if each == "BLOCKED"]
        unknown = [f"{name}?" for name, each in names.items() if each == "UNKNOWN"]
        assert why.split(", ") == ([*blocked, *unknown] or [""])
        assert bool(blocked) == (state == "BLOCKED")
        assert (state == "OK") == (why == "") == (cautions != "")


def test_the_hours_of_a_window_are_those_that_carry_its_number():
    site, hours = given("cool_north")
    found = find_windows(site, "acrylic", hours)
    each = hour_by_hour(site, "acrylic", hours)
    sure = found[found["state"] == "OK"].set_index("window")
    counted = each.groupby("window")["state"].agg(["size", "unique"])
    assert counted["size"].to_dict() == sure["hours"].to_dict()
    assert all(list(states) == ["OK"] for states in counted["unique"])
    first = each[each["window"] == 1]
    assert sure.loc[1, "start_local"] == first["time_local"].iloc[0]
    assert sure.loc[1, "cautions"] == first["cautions"].iloc[0]


@pytest.mark.parametrize("column", ["rain_mm", "air_temp_c", "wind_m_s"])
def test_what_is_not_known_is_never_a_go(column):
    site, hours = given("cool_north", **{column: np.nan})
    found = find_windows(site, "acrylic", hours)
    assert len(found) > 0
    assert (found["state"] == "UNKNOWN").all()
    assert found["hours"].isna().all()
    assert found["window"].isna().all()
    assert (found["missing"] != "").all()
    assert (found["confidence"] == "").all()
    each = hour_by_hour(site, "acrylic", hours)
    assert set(each["state"]) == {"BLOCKED", "UNKNOWN"}
    assert each["window"].isna().all()


def test_taking_values_away_adds_no_go():
    site, hours = given("cool_north")
    before = hour_by_hour(site, "acrylic", hours)["state"] == "OK"
    holes = hours.frame.copy()
    rng = np.random.default_rng(5)
    holes = holes.mask(rng.random(holes.shape) < 0.02)
    after = hour_by_hour(site, "acrylic", hours_from(holes))["state"] == "OK"
    assert not (after & ~before).any()
    assert (before & ~after).any()


def test_nothing_found_has_the_columns_and_types_all_the_same():
    site, hours = given("cool_north")
    some = find_windows(site, "acrylic", hours)
    none = find_windows(site, "acrylic", replace(hours, frame=hours.frame.assign(rain_mm=5.0)))
    assert len(none) == 0
    assert none.dtypes.equals(some.dtypes)
    assert str(none["start_local"].dtype) == "datetime64[ns, America/Chicago]"


def test_the_last_window_of_the_hours_is_closed_by_their_end():
    site, hours = given("high_desert")
    found = find_windows(site, "silicone_high_solids", hours)
    first = found[found["state"] == "OK"].iloc[0]
    short = replace(hours, frame=hours.frame.loc[: first["end_local"] - pd.Timedelta("2h")])
    last = find_windows(site, "silicone_high_solids", short).iloc[-1]
    assert last["state"] == "UNKNOWN"  # its holds reach beyond the hours
    assert first["closed_by"] == "crew_hours"


def test_a_coating_may_be_a_name_a_profile_or_a_file(tmp_path):
    site, hours = given("cool_north")
    path = tmp_path / "mine.toml"
    path.write_text('based_on = "acrylic"\ntitle = "Mine"\n')
    by_name = find_windows(site, "acrylic", hours)
    pd.testing.assert_frame_equal(find_windows(site, load_profile("acrylic"), hours), by_name)
    own = find_windows(site, str(path), hours)
    assert own["coating"].unique().tolist() == ["mine"]
    pd.testing.assert_frame_equal(own.drop(columns="coating"), by_name.drop(columns="coating"))


def test_every_coating_has_frames_of_the_same_columns():
    site, hours = given("gulf_coast")
    frames = [find_windows(site, name, hours) for name in coating_names()[::4]]
    assert all(frame.dtypes.equals(frames[0].dtypes) for frame in frames)
    assert len(pd.concat(frames)) == sum(map(len, frames))


def test_options_are_those_of_the_command(good):
    words = ("--dry-film", "900 um", "--limits", "lenient", "--dry-at-start")
    told = json.loads(
        good("windows", SITES / "gulf_coast", "--coating", "acrylic", *words, "--json")
    )
    site, hours = given("gulf_coast")
    frame = find_windows(
        site, "acrylic", hours, dry_film_um=900, limits="lenient", dry_at_start=True
    )
    sure = frame[frame["state"] == "OK"]
    assert [utc(when) for when in sure["start_local"]] == [
        window["start"] for window in told["jobs"][0]["windows"]
    ]


def test_readings_in_a_log_count_as_they_do_for_the_command(dewgap, site):
    dewgap("log", "import", site, SITES / "cool_north" / "field_log.json", "--by", "W. O.")
    log = site / "log.sqlite"
    told = json.loads(dewgap("windows", site, "--coating", "acrylic", "--json")[1])["jobs"][0]
    hours = read_weather(site / "weather.csv")
    frame = find_windows(load_site(site), "acrylic", hours, log=log)
    assert any("log" in note for note in frame.attrs["notes"])
    without = find_windows(load_site(site), "acrylic", hours)
    assert frame["tightest_margin"].tolist() != without["tightest_margin"].tolist()
    sure = frame[frame["state"] == "OK"]
    assert [utc(when) for when in sure["end_local"]] == [each["end"] for each in told["windows"]]
    assert sure["tightest_margin"].tolist() == pytest.approx(
        [each["tightest_margin"] for each in told["windows"]], abs=5e-5
    )


def test_weather_of_another_place_and_an_old_forecast_are_told():
    site, hours = given("cool_north")
    told = replace(
        hours.provenance, kind="forecast", location=Location("Far", site.latitude - 2, -92.0)
    )
    notes = find_windows(site, "acrylic", replace(hours, provenance=told)).attrs["notes"]
    assert any(note.startswith("ANOTHER PLACE: weather of Far, 222 km") for note in notes)
    assert any(note.startswith("OLD FORECAST") for note in notes)


def test_faults_are_one_sentence(tmp_path):
    site, hours = given("cool_north")
    with pytest.raises(DewgapError, match="did you mean 'acrylic'"):
        find_windows(site, "acrilic", hours)
    with pytest.raises(DewgapError, match="there is no such log; name the log of the job"):
        find_windows(site, "acrylic", hours, log=tmp_path / "none")
    with pytest.raises(DewgapError, match="dry_film_um: -5"):
        hour_by_hour(site, "acrylic", hours, dry_film_um=-5.0)
