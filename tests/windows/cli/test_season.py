"""``dewgap season`` and ``dewgap bid`` run as a person would: shown, written, refused."""

import csv
import gzip
import io
import json
from calendar import month_abbr
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from windows.safety import GOVERNS

DEMO = Path(__file__).parents[3] / "demo_sites"
NOW = ("--now", "2027-01-04T08:00")
FEW = ("--coating", "acrylic")


@pytest.fixture(scope="module")
def three_years(tmp_path_factory):
    """Return a file with three of the invented years, to keep the tests quick."""
    path = tmp_path_factory.mktemp("years") / "three.csv.gz"
    return shortened(path, 3)


@pytest.fixture(scope="module")
def one_year(tmp_path_factory):
    """Return a file with the first of them: enough where nothing is told of several."""
    return shortened(tmp_path_factory.mktemp("years") / "one.csv.gz", 1)


def shortened(path, years, change=lambda frame: frame):
    """Write the first of the invented years of the cool site, perhaps changed."""
    lines = gzip.decompress((DEMO / "cool_north" / "years.csv.gz").read_bytes()).decode()
    head = [line for line in lines.splitlines() if line.startswith("#")]
    frame = pd.read_csv(io.StringIO(lines), comment="#", index_col="time_utc")
    frame = change(frame[frame.index < f"{2011 + years}-01-01T06"])
    body = "\n".join(head) + "\n" + frame.to_csv(lineterminator="\n")
    path.write_bytes(gzip.compress(body.encode(), 1))
    return path


def test_a_season_of_the_demo_site(good, three_years, tmp_path):
    told = good("season", DEMO / "cool_north", *FEW, "--years", three_years, "--weeks",
                "--csv", "months.csv", "--excel", "season.xlsx")  # fmt: skip
    assert "3 years (2011-2013), 100.0% of crew hours known" in told
    assert "invented years for the demo" in told
    assert "no month is left out" in told
    assert "Practical season, 3 season years: first day P50 " in told
    assert "no trend is told from fewer than five years" in told
    assert GOVERNS in told
    rows = list(csv.DictReader(io.StringIO((tmp_path / "months.csv").read_text())))
    assert [row["month"] for row in rows] == list(month_abbr[1:])
    assert rows[0]["workable days P50"] == "0.0"
    assert rows[0]["workable days P80"] == ""
    assert float(rows[6]["workable days P50"]) > 5
    assert f"\nJul  {float(rows[6]['work days']):.1f} " in told


def test_the_workbook_has_numbers_dates_and_no_formulas(good, three_years, tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    name = '=cmd|"x"!A1'
    site = (DEMO / "cool_north" / "site.toml").read_text()
    old = next(line for line in site.splitlines() if line.startswith("name = "))
    (tmp_path / "site.toml").write_text(site.replace(old, f"name = '{name}'"))
    (tmp_path / "job.toml").write_text((DEMO / "cool_north" / "job.toml").read_text())
    good("season", tmp_path, *FEW, "--years", three_years, "--excel", "s.xlsx")
    good("bid", tmp_path, "--years", three_years, *NOW, "--excel", "b.xlsx")
    book = openpyxl.load_workbook(tmp_path / "s.xlsx")
    assert book.sheetnames == ["Months", "Weeks", "Years", "Method"]
    months = book["Months"]
    assert isinstance(months["C8"].value, float)
    assert months["C8"].number_format == "0.0"
    assert [row[0].value for row in book["Years"].iter_rows(min_row=2)] == [2011, 2012, 2013]
    assert book["Method"]["B2"].value == name
    assert book["Method"]["B2"].data_type == "s"
    starts = openpyxl.load_workbook(tmp_path / "b.xlsx")["Start weeks"]
    assert starts["A2"].value == datetime(2027, 1, 4)
    for name in ("s.xlsx", "b.xlsx"):
        sheets = openpyxl.load_workbook(tmp_path / name).worksheets
        assert all(cell.data_type != "f" for sheet in sheets for row in sheet for cell in row)
        assert any("cmd" in str(cell.value) for sheet in sheets for row in sheet for cell in row)


def test_a_season_as_json(good, three_years):
    told = json.loads(good("season", DEMO / "cool_north", *FEW, "--years", three_years, "--json"))
    july = told["months"][6]
    assert july["years"] == [2011, 2012, 2013]
    assert 0 < july["workable_days"]["p50"] <= july["work_days"] + 2
    assert july["workable_days"]["p20"] is None  # of three years
    assert told["trends_per_decade"]["air_temp_k"] is None
    assert len(told["weeks"]) in (52, 53)


def test_a_bid_of_the_demo_site(good, three_years, tmp_path):
    told = good("bid", DEMO / "cool_north", "--years", three_years, *NOW, "--by", "2027-09-15",
                "--start", "2027-07-04", "--csv", "starts.csv")  # fmt: skip
    assert "in 3 parts, 4 layers, one crew" in told
    assert "P80: not told from fewer than 5 years." in told
    # 4 July 2027 is a Sunday, and the 5th is the holiday in its place.
    assert "No crew works on Jul 4 2027 (day off or holiday): it begins on Jul 6." in told
    assert "Not this way: " in told
    assert GOVERNS in told
    rows = list(csv.DictReader(io.StringIO((tmp_path / "starts.csv").read_text())))
    assert len(rows) == 52
    first = rows[0]
    assert first["start week of"] == "2027-01-04"
    days = int(first["calendar days P50"])
    finish = date.fromisoformat(first["finish P50"])
    assert abs((finish - date(2027, 1, 4)).days + 1 - days) <= 4
    assert first["calendar days P80"] == ""
    late = next(row for row in rows if row["start week of"] == "2027-09-20")
    assert late["chance to finish by 2027-09-15 [%]"] == ""


def test_a_bid_as_json_in_si(good, three_years):
    told = json.loads(
        good("bid", DEMO / "cool_north", "--area", "1,000 m2", "--crew-rate", "200 m2/h",
             "--years", three_years, *NOW, "--json")
    )  # fmt: skip
    assert sum(part["area_m2"] for part in told["parts"]) == pytest.approx(1000)
    assert max(part["area_m2"] for part in told["parts"]) <= 600
    week = next(w for w in told["start_weeks"] if w["monday"] == "2027-06-07")
    assert week["calendar_days"]["years"] == 3
    assert week["calendar_days"]["p80"] is None
    assert told["best_start"] is not None
    assert {year["year"] for year in week["by_year"]} == {2011, 2012, 2013}


def test_units_change_the_words_and_no_figure(good, one_year):
    us = good("bid", DEMO / "cool_north", "--years", one_year, *NOW)
    si = good("bid", DEMO / "cool_north", "--years", one_year, *NOW, "--units", "si")
    assert "15000 ft²" in us
    assert "1394 m²" in si
    assert us.split("start week of")[1] == si.split("start week of")[1]


def test_a_stricter_limit_never_adds_a_workable_day(good, one_year):
    told = {
        limits: json.loads(
            good("season", DEMO / "cool_north", *FEW, "--years", one_year, "--limits", limits,
                 "--json")
        )
        for limits in ("careful", "generic", "lenient")
    }  # fmt: skip
    for month in range(12):
        days = [
            told[limits]["months"][month]["workable_days"]["mean"]
            for limits in ("careful", "generic", "lenient")
        ]
        assert days == sorted(days)


def test_files_join_to_one_record(good, tmp_path):
    one = shortened(tmp_path / "a.csv.gz", 1)
    rest = shortened(tmp_path / "b.csv.gz", 2, lambda f: f[f.index >= "2012-01-01T06"])
    both = shortened(tmp_path / "c.csv.gz", 2)
    joined = good("season", DEMO / "cool_north", *FEW, "--years", one, "--years", rest, "--json")
    whole = good("season", DEMO / "cool_north", *FEW, "--years", both, "--json")
    assert json.loads(joined)["months"] == json.loads(whole)["months"]


def test_assumed_cloud_fills_only_what_is_missing_and_says_how_much(good, tmp_path):
    def broken(frame):
        cloud = frame["cloud"].copy()
        cloud[np.arange(len(cloud)) % 3 == 0] = np.nan
        return frame.assign(cloud=cloud)

    years = shortened(tmp_path / "holes.csv.gz", 1, broken)
    told = good("season", DEMO / "cool_north", *FEW, "--years", years)
    assert "cloud is known in 67% of the hours" in told
    assert "left out for want of known hours: " in told
    assert "Jul 2011" in told
    told = good("season", DEMO / "cool_north", *FEW, "--years", years, "--assume-cloud", 0.5)
    assert "cloud is assumed to be 0.5 in the 33% of hours that lack it" in told
    assert "no month is left out" in told


def test_what_cannot_be_a_season_is_told_in_a_sentence(fault, tmp_path, one_year):
    cool = DEMO / "cool_north"
    told = fault("season", DEMO / "high_desert", *FEW)
    assert "years.csv.gz: there is no such file, and --years is not given" in told
    told = fault("season", cool, *FEW, "--years", tmp_path / "none.csv")
    assert "none.csv" in told
    told = fault("season", cool, *FEW, "--years", one_year, "--years", "history")
    assert "--years history fetches all years" in told
    dry = shortened(tmp_path / "dry.csv.gz", 1, lambda f: f.assign(rain_mm=np.nan))
    told = fault("season", cool, *FEW, "--years", dry)
    assert "column 'rain_mm' has no value at all" in told
    assert told == fault("bid", cool, "--years", dry, *NOW)
    told = fault("season", cool, *FEW, "--years", one_year, "--assume-cloud", 3)
    assert "an assumed cloud of 3 is not possible" in told
    told = fault("season", cool, *FEW, "--years", one_year, "--excel", cool / "site.toml")
    assert "is read, or written as another output" in told
    told = fault("season", cool, *FEW, "--years", one_year, "--csv", one_year)
    assert "is read, or written as another output" in told


def test_options_of_a_fetch_need_a_fetch(fault, one_year):
    told = fault("season", DEMO / "cool_north", *FEW, "--years", one_year, "--source", "nope")
    assert "give them with --years history" in told
    told = fault("season", DEMO / "cool_north", *FEW, "--years", "history", "--source", "nope")
    assert "no history source 'nope'" in told


def test_nothing_is_written_over_what_is_read(fault, one_year, tmp_path):
    own = tmp_path / "ours.toml"
    own.write_text((DEMO / "cool_north" / "job.toml").read_text())
    before = own.read_text()
    cool = DEMO / "cool_north"
    told = fault("bid", cool, "--job", own, "--years", one_year, *NOW, "--csv", own)
    assert "is read, or written as another output" in told
    coat = tmp_path / "coat.toml"
    coat.write_text('based_on = "acrylic"\nname = "coat"\ntitle = "ours"\n')
    told = fault("season", cool, "--coating", coat, "--years", one_year, "--csv", coat)
    assert "is read, or written as another output" in told
    told = fault("bid", cool, "--years", one_year, *NOW, "--csv", "a.x", "--page", "a.x")
    assert "is read, or written as another output" in told
    assert own.read_text() == before
    assert not (tmp_path / "a.x").exists()


def test_what_cannot_be_a_bid_is_told_in_a_sentence(fault, one_year):
    cool = (DEMO / "cool_north", "--years", one_year, *NOW)
    assert "--by 2026-01-01 is past" in fault("bid", *cool, "--by", "2026-01-01")
    assert "--by 'soon' is not a date" in fault("bid", *cool, "--by", "soon")
    assert "--start" in fault("bid", *cool, "--start", "2027-02-30")
    assert "--start 2026-07-06 is past" in fault("bid", *cool, "--start", "2026-07-06")
    told = fault("bid", *cool, "--by", "2027-05-01", "--start", "2027-06-01")
    assert "--by 2027-05-01 is before --start 2027-06-01" in told
    assert "--area" in fault("bid", *cool, "--area", "20,000")
    assert "--area" in fault("bid", *cool, "--area", "0 ft2")
    assert "--crew-rate" in fault("bid", *cool, "--crew-rate", "-5 ft2/h")
    told = fault("bid", *cool, "--crew-rate", "100 ft2/h")
    assert "at a stretch, and no shift has more than" in told


def test_a_typical_year_and_a_forecast_are_no_record(fault, tmp_path):
    text = (DEMO / "cool_north" / "weather.csv").read_text()
    for kind, words in (("typical", "is a typical year"), ("forecast", "is a forecast"),
                        ("not told", "is a forecast")):  # fmt: skip
        path = tmp_path / f"{kind}.csv"
        path.write_text(text if kind == "not told" else f"# kind: {kind}\n{text}")
        told = fault("season", DEMO / "cool_north", *FEW, "--years", path)
        assert words in told
