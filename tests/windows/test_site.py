"""Site files: every fault is one sentence that names file and key, and days off shut days."""

import tomllib
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from cure_models import load_profile
from windows.crew import NO_SHIFT, shifts
from windows.errors import SiteError
from windows.hours import check_hours
from windows.job import run_job
from windows.provenance import Provenance
from windows.site import load_site

DEMO_SITES = Path(__file__).parents[2] / "demo_sites"
SITE = """name = "a roof"
latitude = 40.64
longitude = -73.78
elevation = "13 ft"
timezone = "America/New_York"

[roof]
area = "24,000 ft2"
deck = "metal_insulated"

[surface]
name = "gray membrane"
absorptance = 0.7
emittance = 0.9

[crew]
start = "07:00"
end = "17:30"
work_days = ["Mon", "Tue", "Wed", "Thu", "Fri"]
holidays = "US-NY"
days_off = [2026-07-02]
"""


def load(folder, *changes, add=""):
    text = SITE
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (folder / "site.toml").write_text(text + add)
    return load_site(folder)


def fault(folder, *changes, add=""):
    with pytest.raises(SiteError) as caught:
        load(folder, *changes, add=add)
    text = str(caught.value)
    where = f"{folder / 'site.toml'}: "
    assert text.startswith(where)
    assert "\n" not in text
    return text.removeprefix(where)


def test_values_are_read_into_si(tmp_path):
    site = load(
        tmp_path,
        ('deck = "metal_insulated"', 'deck = "metal_insulated"\nindoor = "50 degF"'),
        ('"07:00"', "07:00:00"),
        ('"17:30"', '"7:30"'),
        add='[safety]\nwind = "20 mph"\n',
    )
    assert site.elevation == pytest.approx(3.9624)
    assert site.roof.area == pytest.approx(2229.67, abs=0.01)
    assert site.roof.indoor == pytest.approx(10)
    assert site.safety.wind == pytest.approx(8.9408)
    assert (f"{site.crew.start:%H:%M}", f"{site.crew.end:%H:%M}") == ("07:00", "07:30")
    assert site.crew.days_off == (date(2026, 7, 2),)


FAULTS = {
    "unknown key": (
        ("latitude", "lattitude"),
        ["key 'lattitude' is not known", "did you mean 'latitude'?"],
    ),
    "unknown key in a table": (
        ("deck = ", "dek = "),
        ["key 'roof.dek' is not known", "did you mean 'deck'?"],
    ),
    "missing key": (('area = "24,000 ft2"\n', ""), ["key 'roof.area' is missing; add it"]),
    "text for a number": (
        ("40.64", '"40.64"'),
        ["key 'latitude' must be a number, without quotes"],
    ),
    "number for text": (('"a roof"', "5"), ["key 'name' must be text in quotes, but is 5"]),
    "truth": (
        ("emittance = 0.9", 'emittance = 0.9\nslick_when_wet = "yes"'),
        ["key 'surface.slick_when_wet' must be true or false"],
    ),
    "latitude 95": (("40.64", "95"), ["key 'latitude'", "at most 90, but is 95"]),
    "latitude nan": (("40.64", "nan"), ["key 'latitude'", "nan"]),
    "longitude": (("-73.78", "-273.78"), ["key 'longitude'", "-180"]),
    "absorptance 1.2": (
        ("0.7\n", "1.2\n"),
        ["key 'surface.absorptance'", "at most 1, but is 1.2"],
    ),
    "emittance 0": (
        ("emittance = 0.9", "emittance = 0"),
        ["key 'surface.emittance'", "must be above 0"],
    ),
    "negative area": (("24,000 ft2", "-5 ft2"), ["key 'roof.area': '-5 ft2' must be above zero"]),
    "area without a unit": (
        ('"24,000 ft2"', "24000"),
        ["key 'roof.area': 24000 has no unit", '"10 m2" or "10 ft2"'],
    ),
    "area without a unit, in quotes": (
        ("24,000 ft2", "24,000"),
        ["key 'roof.area': '24,000' is no area", "m2, ft2"],
    ),
    "area in feet": (
        ("24,000 ft2", "24000 ft"),
        ["key 'roof.area': 'ft' is a unit of height; area takes m2, ft2"],
    ),
    "height": (("13 ft", "30000 ft"), ["key 'elevation': '30000 ft' must be at most 6000 m"]),
    "depth": (("13 ft", "-2000 ft"), ["key 'elevation': '-2000 ft' must be at least -450 m"]),
    "unknown deck": (
        ("metal_insulated", "metal_insulatd"),
        ["key 'roof.deck': 'metal_insulatd' is not a known deck; did you mean 'metal_insulated'?"],
    ),
    "bad zone": (
        ("America/New_York", "America/New_Yrok"),
        [
            "key 'timezone': 'America/New_Yrok' is not an IANA zone; did you mean 'America/New_York"
        ],
    ),
    "zone of the machine": (
        ("America/New_York", "localtime"),
        ["key 'timezone': 'localtime' is not an IANA zone; write"],
    ),
    "empty zone": (("America/New_York", ""), ["key 'timezone': '' is not an IANA zone"]),
    "holiday region": (
        ("US-NY", "US-ZZ"),
        ["key 'crew.holidays': 'US-ZZ' is not a known holiday calendar", '"US" or "US-FL"'],
    ),
    "holiday name": (("US-NY", "New York"), ["key 'crew.holidays': 'New York' is not"]),
    "holiday half": (("US-NY", "US-"), ["key 'crew.holidays': 'US-' is not"]),
    "holiday none": (("US-NY", ""), ["key 'crew.holidays': '' is not"]),
    "holiday class": (("US-NY", "HolidayBase"), ["key 'crew.holidays': 'HolidayBase' is not"]),
    "shift of no hours": (
        ("17:30", "07:00"),
        ["key 'crew': start and end are the same time; give the shift some hours"],
    ),
    "no work days": (
        ('["Mon", "Tue", "Wed", "Thu", "Fri"]', "[]"),
        ["key 'crew': work_days is empty; name at least one day"],
    ),
    "work days without a list": (
        ('["Mon", "Tue", "Wed", "Thu", "Fri"]', '"Mon"'),
        ["key 'crew.work_days' must be a list in [ ]"],
    ),
    "day name": (
        ('"Fri"', '"Friday"'),
        ["key 'crew.work_days 5' must be 'Mon'", "but is 'Friday'"],
    ),
    "clock": (
        ("17:30", "5 pm"),
        ["key 'crew.end': '5 pm' is not a time of day", '"00:00" to "23:59"'],
    ),
    "clock 24": (
        ("17:30", "24:00"),
        ["key 'crew.end': '24:00' is not a time of day", '"00:00" to "23:59"'],
    ),
    "clock number": (('"17:30"', "17"), ["key 'crew.end': 17 is not a time of day"]),
    "clock seconds": (
        ('"17:30"', "17:30:30"),
        ["key 'crew.end': 17:30:30 is not a time of day to the minute"],
    ),
    "clock zone": (
        ("17:30", "17:30+02:00"),
        ["key 'crew.end': '17:30+02:00' is not a time of day"],
    ),
    "day off": (
        ("[2026-07-02]", '["soon"]'),
        ["key 'crew.days_off 1': 'soon' is not a date; write it as 2026-07-03"],
    ),
    "day off number": (("[2026-07-02]", "[86400]"), ["key 'crew.days_off 1': 86400 is not a date"]),
    "day off hour": (
        ("[2026-07-02]", "[2026-07-02T08:00:00]"),
        ["key 'crew.days_off 1': 2026-07-02T08:00:00 is not a date"],
    ),
    "method": (
        ('"America/New_York"', '"America/New_York"\nmethod = "brush"'),
        ["key 'method' must be 'spray' or 'roller', but is 'brush'"],
    ),
    "not TOML": (("[roof]", "[roof"), ["not valid TOML", "line 7", "mend that line"]),
    "key twice": (('"17:30"', '"17:30"\nstart = "08:00"'), ["not valid TOML"]),
}


@pytest.mark.parametrize(("change", "parts"), FAULTS.values(), ids=FAULTS)
def test_fault_is_one_plain_sentence(tmp_path, change, parts):
    text = fault(tmp_path, change)
    for part in parts:
        assert part in text


def test_safety_stop_without_a_unit(tmp_path):
    assert "key 'safety.wind': 20 has no unit" in fault(tmp_path, add="[safety]\nwind = 20\n")
    assert "'safety.gust': '0 mph' must be above zero" in fault(
        tmp_path, add='[safety]\ngust = "0 mph"\n'
    )


def test_missing_table_and_count_of_more_faults(tmp_path):
    assert fault(tmp_path, ("[surface]", "[surfaces]")).startswith("key 'surfaces' is not known")
    text = fault(tmp_path, ("40.64", "95"), ("-73.78", "-273.78"))
    assert text.endswith("(and 1 more fault)")


def test_files_that_cannot_be_read(tmp_path):
    def told(path):
        with pytest.raises(SiteError) as caught:
            load_site(path)
        return str(caught.value)

    assert told(tmp_path) == f"{tmp_path / 'site.toml'}: no such file; check the path"
    assert "no such file" in told(tmp_path / "other.toml")
    assert "File name too long" in told(tmp_path / ("x" * 300))
    (tmp_path / "empty.toml").write_text("\n")
    assert "the file is empty" in told(tmp_path / "empty.toml")
    (tmp_path / "latin.toml").write_bytes(b'name = "caf\xe9"')
    assert "not UTF-8 text at byte 11" in told(tmp_path / "latin.toml")
    (tmp_path / "binary.toml").write_bytes(bytes(range(128)))
    assert "not valid TOML" in told(tmp_path / "binary.toml")


def test_file_and_folder_are_the_same_site(tmp_path):
    assert load(tmp_path) == load_site(tmp_path / "site.toml") == load_site(str(tmp_path))


@pytest.mark.parametrize(
    ("name", "zone"),
    [
        ("cool_north", "America/Chicago"),
        ("gulf_coast", "America/Chicago"),
        ("high_desert", "America/Los_Angeles"),
    ],
)
def test_zone_of_the_demo_sites_is_found_from_their_coordinates(name, zone):
    site = load_site(DEMO_SITES / name)
    assert site.zone == ZoneInfo(zone)
    assert site.model_copy(update={"timezone": None}).zone == ZoneInfo(zone)
    given = "timezone" in tomllib.loads((DEMO_SITES / name / "site.toml").read_text())
    assert any(zone in text for text in site.warnings) is not given


def test_given_zone_wins_and_every_place_has_one(tmp_path):
    assert load(tmp_path, ("America/New_York", "Asia/Kolkata")).zone == ZoneInfo("Asia/Kolkata")
    site = load(tmp_path)
    for latitude in (-90, -45, 0, 71.2, 90):
        for longitude in (-180, -30, 0, 179.9, 180):
            place = {"timezone": None, "latitude": latitude, "longitude": longitude}
            assert site.model_copy(update=place).zone.key


def open_days(site, first, last):
    index = pd.date_range(first, last, freq="h", tz=site.zone).tz_convert("UTC")
    found = shifts(index, site)
    return {date(1970, 1, 1).fromordinal(719163 + int(d)).isoformat() for d in found[found >= 0]}


def test_holidays_and_days_off_shut_days(tmp_path):
    week = {f"2026-06-{day}" for day in (29, 30)} | {f"2026-07-0{day}" for day in (1, 2, 3)}
    bare = load(tmp_path, ('holidays = "US-NY"\n', ""), ("days_off = [2026-07-02]\n", ""))
    assert open_days(bare, "2026-06-28", "2026-07-05") == week
    # 4 July 2026 is a Saturday: the Friday before is the public holiday.
    shut = load(tmp_path)
    assert week - open_days(shut, "2026-06-28", "2026-07-05") == {"2026-07-02", "2026-07-03"}
    assert shut.crew.is_day_off(date(2026, 7, 3))
    assert not shut.crew.is_day_off(date(2026, 7, 1))
    assert shut.crew.is_day_off(date(2031, 12, 25)), "years are looked up as they come"


def test_region_has_holidays_of_its_own(tmp_path):
    texas = load(tmp_path, ("US-NY", "US-TX")).crew
    assert texas.is_day_off(date(2026, 3, 2))  # Independence Day of Texas, a Monday
    assert not load(tmp_path).crew.is_day_off(date(2026, 3, 2))


@pytest.mark.parametrize("latitude", [90, -90])
def test_site_at_the_pole_is_told_and_works(tmp_path, latitude):
    site = load(tmp_path, ("40.64", str(latitude)), ('timezone = "America/New_York"\n', ""))
    assert any("polar site" in text for text in site.warnings)
    n = 96
    hours = check_hours(
        {
            "air_temp_c": np.full(n, 15.0),
            "dew_point_c": np.full(n, 2.0),
            "wind_m_s": np.full(n, 3.0),
            "rain_mm": np.zeros(n),
            "cloud": np.full(n, 0.2),
        },
        pd.date_range("2026-06-22T00:00Z", periods=n, freq="h"),
        Provenance("made up", "here"),
    )
    job = run_job(site, load_profile("acrylic"), hours)
    assert (shifts(hours.index, site) != NO_SHIFT).sum() == job.found.crew_hours > 0
    surface = job.conditions.quantity("surface_temp_c")
    assert np.isfinite(surface).all()
    high_sun = job.conditions.quantity("sun_elevation_deg") > 0
    assert high_sun.all() if latitude > 0 else not high_sun.any()


def test_no_warning_for_a_plain_site(tmp_path):
    assert load(tmp_path).warnings == ()


def test_ponds_are_told_since_the_gates_do_not_wait_for_them(tmp_path):
    ponded = load(tmp_path, ("[roof]\n", "[roof]\nponded_share = 0.05\n"))
    assert [text for text in ponded.warnings if "5% of the roof ponds" in text]


@pytest.mark.parametrize(
    "line",
    [
        'pond_depth = "0.1 mm"\nponded_share = 0.05',
        "sky_view = 0.0", "sky_view = 1.1", "ponded_share = 1.5", "ponded_share = -0.1",
        'pond_depth = "0 in"', "pond_depth = 6", 'surface_offset = "40 K"',
        'surface_offset = "2 degC"',
    ],
)  # fmt: skip
def test_impossible_roofs(tmp_path, line):
    with pytest.raises(SiteError, match=r"roof"):
        load(tmp_path, ("[roof]\n", f"[roof]\n{line}\n"))
