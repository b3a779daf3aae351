"""The demo: invented weather that is the same everywhere, and that shows what the tool can say."""

import gzip
import shutil

import numpy as np
import pytest

from windows.demo import DEMO, demo_folder, demo_jobs
from windows.demo_climate import CLIMATES
from windows.demo_county import COUNTY, COUNTY_SITES
from windows.demo_weather import write_all
from windows.gates import State
from windows.sources import read_weather

HOLDS = {"no_rain", "no_dew", "no_freeze"}


@pytest.fixture(scope="module")
def jobs():
    return demo_jobs()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Return what the generator writes anew, by its path below the folder of the demo sites."""
    folder = tmp_path_factory.mktemp("sites")
    for name in (*CLIMATES, *(f"{COUNTY}/{site}" for site in COUNTY_SITES)):
        (folder / name).mkdir(parents=True)
        shutil.copy(demo_folder() / name / "site.toml", folder / name)
    return {path.relative_to(folder): path.read_bytes() for path in write_all(folder, effort=1)}


def as_shipped(written):
    """Tell whether files are those that are shipped; packers differ in their bytes."""
    for path, content in written.items():
        plain = gzip.decompress if path.suffix == ".gz" else bytes
        assert plain(content) == plain((demo_folder() / path).read_bytes()), path


def test_the_generator_gives_the_shipped_files_byte_for_byte(written):
    own = {path: content for path, content in written.items() if COUNTY not in path.parts}
    assert {path.parent.name for path in own} == set(CLIMATES)
    as_shipped(own)


@pytest.mark.parametrize("name", CLIMATES)
def test_the_files_say_that_they_are_invented(name):
    folder = demo_folder() / name
    assert "invented" in (folder / "weather.csv").read_text(encoding="utf-8").splitlines()[0]
    assert "(invented)" in (folder / "site.toml").read_text(encoding="utf-8")


def test_every_site_and_climate_has_its_partner():
    sites = {path.parent.name for path in demo_folder().glob("*/site.toml")}
    assert set(DEMO) == set(CLIMATES) == sites
    county = {path.parent.name for path in (demo_folder() / COUNTY).glob("*/site.toml")}
    assert set(COUNTY_SITES) == county


def test_jobs_say_that_the_weather_is_invented(jobs):
    assert len(jobs) == sum(map(len, DEMO.values()))
    for job in jobs:
        assert "invented" in job.hours.provenance.describe()
        assert "invented" in job.site.name


def test_it_shows_goes_stops_and_unknowns(jobs):
    states = np.concatenate([job.found.hour[job.found.crew == State.OK] for job in jobs])
    assert {*states.tolist()} == set(State)
    for job in jobs:
        assert job.found.windows, job.site.name
    assert any(job.found.provisional for job in jobs)
    assert any(not window.robust for job in jobs for window in job.found.windows)
    assert any(entry.alone for job in jobs for entry in job.found.lost)


def test_it_shows_a_base_coat_that_the_weather_would_spoil(jobs):
    spoiled = {
        (job.coating.name, risk.gate.name)
        for job in jobs
        if "base" in job.coating.profile.roles
        for risk in job.found.at_risk
        if risk.gate.name in HOLDS
    }
    assert spoiled


def test_the_generator_gives_the_county_byte_for_byte(written):
    county = {path: content for path, content in written.items() if COUNTY in path.parts}
    assert len(county) == len(COUNTY_SITES) + 1
    as_shipped(county)


@pytest.mark.parametrize("name", COUNTY_SITES)
def test_the_files_of_the_county_say_that_they_are_invented(name):
    folder = demo_folder() / COUNTY / name
    assert "invented" in (folder / "weather.csv").read_text(encoding="utf-8").splitlines()[0]
    assert "(invented)" in (folder / "site.toml").read_text(encoding="utf-8")
    assert "invented" in (folder / "job.toml").read_text(encoding="utf-8").splitlines()[0]
    assert "Invented" in (folder.parent / "board.toml").read_text(encoding="utf-8").splitlines()[0]


def test_one_site_of_the_county_has_several_runs():
    hours = read_weather(demo_folder() / COUNTY / "cold_store" / "weather.csv")
    assert {name: run.shape[0] for name, run in hours.members.items()} == {
        "air_temp_c": 12, "dew_point_c": 12, "rain_mm": 12,
    }  # fmt: skip
