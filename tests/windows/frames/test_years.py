"""Seasons and bids as frames say what ``dewgap season`` and ``dewgap bid`` write as CSV."""

import csv
import gzip
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from windows import (
    DewgapError,
    count_workable_days,
    hours_from,
    load_site,
    read_weather,
    replay_bid,
)
from windows.frames.season import years_given
from windows.safety import GOVERNS

FOLDER = Path(__file__).parents[3] / "demo_sites" / "cool_north"
NOW = "2027-01-04T08:00"
BY = date(2027, 9, 15)


@pytest.fixture(scope="module")
def few(tmp_path_factory):
    """Return a file with two of the invented years, to keep the tests quick."""
    path = tmp_path_factory.mktemp("years") / "two.csv.gz"
    lines = gzip.decompress((FOLDER / "years.csv.gz").read_bytes()).splitlines(keepends=True)
    path.write_bytes(gzip.compress(b"".join(lines[: 5 + 2 * 8766]), 1))
    return path


def rows_of(path):
    """Return the rows of a CSV file."""
    return list(csv.DictReader(path.read_text().splitlines()))


def same(frame, rows):
    """Hold a frame against the rows of a CSV: numbers to its four decimals, dates, text."""
    assert list(frame.columns) == list(rows[0])
    assert len(frame) == len(rows)
    for name in frame:
        cells = [row[name] for row in rows]
        if pd.api.types.is_datetime64_any_dtype(frame[name]):
            told = ["" if pd.isna(day) else f"{day:%Y-%m-%d}" for day in frame[name]]
            assert told == cells
        elif pd.api.types.is_numeric_dtype(frame[name]):
            values = frame[name].astype("Float64").to_numpy(float, na_value=np.nan)
            values = np.where(np.isinf(values), np.nan, values)  # no end is empty in the CSV
            np.testing.assert_allclose(
                values, [float(cell) if cell else np.nan for cell in cells], atol=5.1e-5
            )
        else:
            assert frame[name].tolist() == cells


def test_months_and_weeks_are_those_of_the_csv(good, few, tmp_path):
    good("season", FOLDER, "--coating", "acrylic", "--years", few, "--csv", "months.csv")
    rows = rows_of(tmp_path / "months.csv")
    by_file = count_workable_days(load_site(FOLDER), "acrylic", few)
    same(by_file, rows)
    by_hours = count_workable_days(load_site(FOLDER), "acrylic", read_weather(few))
    pd.testing.assert_frame_equal(by_hours, by_file)
    assert by_hours.attrs == by_file.attrs
    assert by_file["workable days P80"].isna().all()  # of two years
    assert by_file.attrs["governs"] == GOVERNS
    assert "no month is left out" in by_file.attrs["notes"]

    weeks = count_workable_days(load_site(FOLDER), "acrylic", few, weeks=True)
    assert weeks["ISO week"].tolist() == list(range(1, len(weeks) + 1))
    assert weeks["work days"].sum() == pytest.approx(by_file["work days"].sum(), rel=0.03)


def test_months_that_are_not_known_are_left_out_and_not_dry(few):
    hours = read_weather(few)
    is_july = hours.index.tz_convert("America/Chicago").month == 7
    holes = hours_from(hours.frame.assign(rain_mm=hours.frame["rain_mm"].mask(is_july)))
    season = count_workable_days(load_site(FOLDER), "acrylic", holes).set_index("month")
    assert season.loc["Jul", "years"] == 0
    assert season.loc["Jul", "left out"] == 2
    assert season.loc["Jul", ["workable days mean", "valid hours P50"]].isna().all()
    assert season.loc["Jul", "costs most"] == ""
    assert season.loc["Jun", "years"] == 2


def test_start_weeks_are_those_of_the_csv(good, few, tmp_path):
    words = ("--years", few, "--now", NOW)
    good("bid", FOLDER, *words, "--by", BY, "--csv", "starts.csv")
    rows = rows_of(tmp_path / "starts.csv")
    frame = replay_bid(FOLDER, by=BY, now=NOW, years=few)
    same(frame, rows)
    assert frame["finish P50"].notna().any()
    assert frame["finish P80"].isna().all()
    assert frame.attrs["governs"] == GOVERNS
    assert any(note.startswith("Best start: ") for note in frame.attrs["notes"])
    late = frame[frame["start week of"] > pd.Timestamp(BY)]
    assert late[f"chance to finish by {BY} [%]"].isna().all()

    good("bid", FOLDER, *words, "--area", "900 m2", "--crew-rate", "250 m2/h", "--csv", "x.csv")
    other = replay_bid(FOLDER, area_m2=900, crew_rate_m2_h=250, now=NOW, years=read_weather(few))
    same(other, rows_of(tmp_path / "x.csv"))


def test_what_cannot_be_a_bid_is_refused_with_one_sentence(few, tmp_path):
    (tmp_path / "site.toml").write_text((FOLDER / "site.toml").read_text())
    for words, part in (
        ({"by": date(2026, 9, 1)}, "by 2026-09-01 is past: today is 2027-01-04"),
        ({"area_m2": 0.0}, "area_m2: 0.0 is not a number from"),
        ({"crew_rate_m2_h": float("nan")}, "crew_rate_m2_h: nan is not a number from"),
        ({"now": "today"}, "now: 'today' is not a time"),
    ):
        with pytest.raises(DewgapError, match=part):
            replay_bid(FOLDER, **({"now": NOW, "years": few} | words))
    with pytest.raises(DewgapError, match=r"years\.csv\.gz: there is no such file; add it, or "):
        replay_bid(tmp_path, now=NOW, system="acrylic_two_coat")


def test_a_forecast_says_nothing_of_a_season(few):
    hours = read_weather(few)
    told = replace(hours, provenance=replace(hours.provenance, kind="forecast"))
    with pytest.raises(DewgapError, match="is a forecast, and says nothing of a season"):
        count_workable_days(load_site(FOLDER), "acrylic", told)
    with pytest.raises(DewgapError, match="no such weather file"):
        count_workable_days(load_site(FOLDER), "acrylic", FOLDER / "none.csv")


def test_what_years_lack_is_told_alike_for_a_file_and_for_a_table(few):
    site, hours = load_site(FOLDER), read_weather(few)
    frame = hours.frame.assign(cloud=hours.frame["cloud"].where(hours.frame.index.hour < 12))
    warned = years_given(replace(hours, frame=frame), site).warnings
    assert any(note.startswith("cloud is known in ") for note in warned)
    assert years_given(few, site).warnings == years_given(hours, site).warnings
    none = replace(hours, frame=hours.frame.assign(wind_m_s=np.nan))
    with pytest.raises(DewgapError, match="column 'wind_m_s' has no value at all"):
        years_given(none, site)
