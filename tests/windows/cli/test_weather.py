"""``dewgap weather`` and the options that choose weather, run as a person would."""

import gzip
import json
import re
import time
from datetime import timedelta

import invented_week as week
import loopback
import numpy as np
import pandas as pd
import pytest

from windows.answer import Kept
from windows.provenance import distance_km
from windows.site import load_site
from windows.sources import SOURCES, read_weather
from windows.weather import forecast_for

SITE_POINT = "/points/40.0000,-83.0000"
CELL = "/gridpoints/ILN/1,2"


def now():
    return pd.Timestamp.now("UTC")


def coming_days():
    """The invented week, begun yesterday."""
    table = week.truth().assign(ghi_w_m2=np.nan)
    table.index += now().floor("D") - pd.Timedelta(days=1) - table.index[0]
    return table


@pytest.fixture
def place(site):
    """A site in the invented week's place."""
    text = (site / "site.toml").read_text()
    text = re.sub(r"(?m)^latitude = .*", "latitude = 40.0", text)
    text = re.sub(r"(?m)^longitude = .*", "longitude = -83.0", text)
    text = re.sub(r"(?m)^elevation = .*", 'elevation = "250 m"', text)
    (site / "site.toml").write_text(text)
    (site / "weather.csv").unlink()
    return site


@pytest.fixture
def server(monkeypatch, tmp_path):
    """A server that knows the coming days, named in the settings."""
    with loopback.serving() as found:
        table = coming_days()
        body = json.loads(week.nws(table))
        body["properties"]["updateTime"] = (now() - pd.Timedelta(hours=2)).isoformat()
        found.give(SITE_POINT, {"properties": {"gridId": "ILN", "gridX": 1, "gridY": 2}})
        found.give(CELL, body)
        found.give("/v1/forecast", week.open_meteo(table))
        for key, path in (("NWS", ""), ("MET_NORWAY", "/norway"), ("OPEN_METEO", "/v1"),
                          ("OPEN_METEO_ARCHIVE", "/v1"), ("METEOSTAT", "")):  # fmt: skip
            monkeypatch.setenv(f"DEWGAP_{key}_URL", f"{found.url}{path}")
        monkeypatch.setenv("DEWGAP_CONTACT", "office@example.org")
        monkeypatch.setenv("DEWGAP_CACHE_DIR", str(tmp_path / "cache"))
        monkeypatch.setenv("DEWGAP_SETTINGS", "")
        yield found


def test_sources_are_listed_with_what_is_set(good, server, monkeypatch):
    monkeypatch.setenv("DEWGAP_OPEN_METEO_KEY", "s3cret")
    out = good("weather", "sources")
    assert all(source.NAME in out for source in SOURCES)
    assert "contact: office@example.org" in out
    assert "open_meteo_key: set" in out
    assert "s3cret" not in out + good("weather", "sources", "--json")


def test_windows_of_a_fetched_forecast_tell_source_age_and_credit(good, place, server):
    out = good("windows", place, "--coating", "acrylic", "--source", "auto")
    line = next(text for text in out.splitlines() if text.startswith("Weather: "))
    assert "National Weather Service" in line
    assert "read as nws; issued " in line
    assert "2 h ago; fetched " in line
    assert "0 min ago" in line
    assert "Forecast: US National Weather Service (public domain)" in out
    told = json.loads(
        good("windows", place, "--coating", "acrylic", "--source", "nws", "--json", "--offline")
    )["jobs"][0]["weather"]
    assert told["read_as"] == "nws"
    assert told["stale"] is False
    assert told["issued"] < told["retrieved"]
    assert sum(asked.path == CELL for asked in server.asked) == 1


def test_page_tells_source_age_and_credit(good, place, server):
    good("windows", place, "--coating", "acrylic", "--source", "open_meteo", "--page", "w.html")
    page = (place.parent / "w.html").read_text()
    assert "Weather data by Open-Meteo.com" in page
    assert "fetched " in page


def test_fetch_and_convert_write_what_gives_the_same_windows(good, place, server, tmp_path):
    def spans(*how):
        found = json.loads(good("windows", place, "--coating", "acrylic", "--json", *how))
        return [(w["start"], w["end"]) for w in found["jobs"][0]["windows"]]

    fetched = spans("--source", "nws")
    good("weather", "fetch", place, "--source", "nws", "--out", "week.csv.gz")
    good("weather", "convert", "week.csv.gz", "--out", "week.csv")
    plain = read_weather(tmp_path / "week.csv")
    assert gzip.decompress((tmp_path / "week.csv.gz").read_bytes()).startswith(
        b"# source: National"
    )
    assert plain.provenance.kind == "forecast"
    assert plain.frame["rain_block_h"].max() == 6
    assert spans("--weather", "week.csv") == spans("--weather", "week.csv.gz") == fetched


def test_stale_forecast_is_marked_on_screen_page_and_json(good, place, server, monkeypatch):
    kept = Kept(timedelta(seconds=1), timedelta(hours=6))
    monkeypatch.setattr("windows.sources.open_meteo._KEPT", kept)
    asked = ("windows", place, "--coating", "acrylic", "--source", "open_meteo")
    good(*asked)
    server.fail("/v1/forecast", loopback.reason(503, "The service is overloaded"), always=True)
    time.sleep(1.1)  # before sleeping is made short
    monkeypatch.setattr("urllib3.util.retry.time.sleep", lambda seconds: None)
    out = good(*asked, "--page", "s.html")
    page, told = (place.parent / "s.html").read_text(), json.loads(good(*asked, "--json"))
    assert told["jobs"][0]["weather"]["stale"] is True
    for text in (out, page, json.dumps(told)):
        assert "The service is overloaded" in text
    for text in (out, page):
        assert "STALE" in text


def test_source_and_file_together_are_refused(fault, place, server):
    text = fault("windows", place, "--coating", "acrylic", "--source", "nws", "--weather", "x.csv")
    assert text.startswith("--source asks a service")
    assert "no forecast source 'nsw'; did you mean 'nws'" in fault(
        "windows", place, "--coating", "acrylic", "--source", "nsw"
    )
    assert "no weather format 'epx'; did you mean 'epw'" in fault(
        "weather", "check", place / "site.toml", "--format", "epx"
    )


def test_far_weather_is_said_to_be_that_of_another_place(good, site, tmp_path):
    hours = week.epw(week.truth())
    (tmp_path / "far.epw").write_bytes(hours)
    out = good("windows", site, "--coating", "acrylic", "--weather", tmp_path / "far.epw")
    assert "ANOTHER PLACE: weather of " in out
    assert " km (" in out


def test_check_tells_what_is_known_and_what_is_doubtful(good, tmp_path):
    table = week.truth()
    table.loc[table.index[50:54], "air_temp_c"] = np.nan
    table.loc[table.index[100], "air_temp_c"] += 9.0
    (tmp_path / "week.csv").write_bytes(week.canonical(table))
    out = good("weather", "check", "week.csv", "--out", "flagged.csv")
    assert re.search(r"air_temp_c +degC +98.3% .* 4 h", out)
    assert re.search(r"air_temp_c +step +2 ", out)
    assert re.search(r"dew_point_c +consistency +1 ", out)
    flagged = read_weather(tmp_path / "flagged.csv")
    assert flagged.flags["air_temp_c"].astype(bool).sum() == 2
    pd.testing.assert_frame_equal(flagged.frame, read_weather(tmp_path / "week.csv").frame)
    told = json.loads(good("weather", "check", "week.csv", "--json"))
    assert {flag["column"] for flag in told["flags"]} >= {"air_temp_c", "dew_point_c"}


def test_cache_is_shown_and_cleared(good, place, server):
    good("weather", "fetch", place, "--source", "open_meteo", "--out", "w.csv")
    assert "/v1/forecast" in good("weather", "cache")
    assert len(json.loads(good("weather", "cache", "--json"))["answers"]) == 1
    assert "0 answers kept" in good("weather", "cache", "--clear")


def test_a_mapping_is_begun_for_a_logger(good, fault, tmp_path):
    (tmp_path / "log.csv").write_bytes(week.logger(week.truth()))
    text = good("weather", "mapping", "log.csv")
    assert '[columns.air_temp_c]\ncolumn = "air_degF"\nunit = "degF"' in text
    assert 'timezone = "..."' in text
    assert "a logger's table needs --mapping" in fault(
        "weather", "convert", "log.csv", "--out", "x.csv"
    )
    (tmp_path / "open.toml").write_text(text)
    assert "open.toml: key 'timezone': '...' is neither" in fault(
        "weather", "convert", "log.csv", "--mapping", "open.toml", "--out", "x.csv"
    )
    assert not (tmp_path / "x.csv").exists()


def years_of(*years):
    """Hours of whole years, as a station's yearly files."""
    index = pd.date_range(f"{years[0]}-01-01", f"{years[-1] + 1}-01-01", freq="h", tz="UTC")
    hour = np.arange(len(index))
    table = pd.DataFrame(
        {
            "air_temp_c": np.round(12 + 8 * np.sin(hour / 8766 * 2 * np.pi), 1),
            "rel_humidity": 0.6, "dew_point_c": 4.0, "wind_m_s": 3.0, "gust_m_s": 5.0,
            "rain_mm": np.where(hour % 71 == 0, 1.0, 0.0), "cloud": 0.5, "ghi_w_m2": np.nan,
            "pressure_hpa": 1010.0,
        },
        index=index[:],
    )  # fmt: skip
    return {year: week.meteostat_year(table, year) for year in years}


def test_history_is_fetched_resumed_and_told_by_month(good, fault, place, server, monkeypatch):
    monkeypatch.setattr("urllib3.util.retry.time.sleep", lambda seconds: None)
    last = now().year - 1
    files = years_of(last - 2, last - 1, last)
    server.give("/stations.db", loopback.stations(("99001", 40.1, -83.0, "1990-01-01")))
    for year, content in files.items():
        server.give(f"/hourly/{year}/99001.csv.gz", content)
    server.fail(f"/hourly/{last}/99001.csv.gz", loopback.Reply(500), always=True)
    asked = ("weather", "history", place, "--years", "3", "--out", "h.csv.gz")
    text = fault(*asked)
    assert "2 years are kept: ask again to go on" in text
    assert not (place.parent / "h.csv.gz").exists()
    server.heal()
    count = len(server.asked)
    out = good(*asked)
    assert "Years: 2 from the cache, 1 fetched" in out
    assert [asked.path for asked in server.asked[count:]] == [f"/hourly/{last}/99001.csv.gz"]
    assert re.search(r"Feb +100% +100% +100% +3 +none", out)
    hours = read_weather(place.parent / "h.csv.gz")
    assert hours.provenance.kind == "observed"
    assert distance_km(40.0, -83.0, hours.provenance.location.latitude, -83.0) < 12
    assert hours.frame["rain_mm"].isna().sum() <= 1


def test_history_refuses_a_typical_year_with_the_reason(fault, place, tmp_path):
    (tmp_path / "year.epw").write_bytes(week.epw(week.truth()))
    text = fault("weather", "history", place, "--file", tmp_path / "year.epw", "--out", "h.csv")
    assert "is a typical year" in text
    assert "no odds can rest on it" in text


@pytest.mark.parametrize(
    ("latitude", "longitude", "expected"),
    [
        (40.0, -83.0, "nws"), (21.3, -157.8, "nws"), (18.4, -66.1, "nws"), (13.4, 144.8, "nws"),
        (45.4, -75.7, "met_norway"), (51.5, -0.1, "met_norway"),
    ],
)  # fmt: skip
def test_default_service(site, latitude, longitude, expected):
    place = load_site(site).model_copy(update={"latitude": latitude, "longitude": longitude})
    assert forecast_for(place) == expected
