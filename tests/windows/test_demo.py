"""The demo: invented weather that is the same everywhere, and that shows what the tool can say."""

import gzip
import shutil

import numpy as np
import pytest

from windows.demo import DEMO, demo_folder, demo_jobs
from windows.demo_weather import CLIMATES, write_all
from windows.gates import State

HOLDS = {"no_rain", "no_dew", "no_freeze"}


@pytest.fixture(scope="module")
def jobs():
    return demo_jobs()


def test_the_generator_gives_the_shipped_files_byte_for_byte(tmp_path):
    for name in CLIMATES:
        (tmp_path / name).mkdir()
        shutil.copy(demo_folder() / name / "site.toml", tmp_path / name)
    written = write_all(tmp_path)
    assert {path.parent.name for path in written} == set(CLIMATES)
    for path in written:
        shipped = demo_folder() / path.parent.name / path.name
        plain = gzip.decompress if path.suffix == ".gz" else bytes  # packers differ in their bytes
        assert plain(path.read_bytes()) == plain(shipped.read_bytes())


@pytest.mark.parametrize("name", CLIMATES)
def test_the_files_say_that_they_are_invented(name):
    folder = demo_folder() / name
    assert "invented" in (folder / "weather.csv").read_text(encoding="utf-8").splitlines()[0]
    assert "(invented)" in (folder / "site.toml").read_text(encoding="utf-8")


def test_every_site_and_climate_has_its_partner():
    assert set(DEMO) == set(CLIMATES) == {p.name for p in demo_folder().iterdir() if p.is_dir()}


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
