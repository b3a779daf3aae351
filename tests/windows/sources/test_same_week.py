"""One invented week in every format gives the same windows: labels, units and zones at once.

The formats differ in what they can say (rain in sums of six hours, humidity in whole percent, sky
in eighths), so the week is one that all of them can tell: see tests/invented_week.py.
"""

import io
import json

import invented_week as week
import numpy as np
import pandas as pd
import pytest

from cure_models import load_profile
from windows.demo import demo_folder
from windows.gates import State
from windows.job import run_job
from windows.site import load_site
from windows.sources import FORMATS, read_weather


def without_sun(content):
    """Return a canonical CSV without a column that says nothing: it would mean unknown."""
    table = pd.read_csv(io.BytesIO(content), comment="#", dtype=str, keep_default_na=False)
    return table.drop(columns="ghi_w_m2").to_csv(index=False).encode()


WRITERS = week.WRITERS | {"canonical": lambda table: without_sun(week.canonical(table))}
COATINGS = ("acrylic", "silicone_high_solids", "asphalt_emulsion", "urethane_aromatic")
EDGE = pd.Timedelta(days=1)


@pytest.fixture(scope="module")
def site():
    found = load_site(demo_folder() / "cool_north")
    return found.model_copy(
        update={
            "latitude": week.LATITUDE,
            "longitude": week.LONGITUDE,
            "elevation": week.ELEVATION_M,
            "timezone": "America/New_York",
        }
    )


@pytest.fixture(scope="module")
def truth():
    """The week; the sun is left to be worked out from the sky, since half the formats lack it."""
    return week.truth().assign(ghi_w_m2=np.nan)


def reread(folder, name, table):
    """Return a table as it comes back from a file of a format."""
    path, how = folder / f"{name}.dat", None
    path.write_bytes(WRITERS[name](table))
    if name == "logger":
        how = folder / "mapping.toml"
        how.write_text(week.logger_mapping(sun=False))
    return read_weather(path, mapping=how)


@pytest.fixture(scope="module")
def tables(truth, tmp_path_factory):
    folder = tmp_path_factory.mktemp("week")
    found = {name: reread(folder, name, truth) for name in WRITERS}
    for name, hours in found.items():
        assert hours.provenance.read_as == name
    return found


def windows(job):
    """Return the windows that do not touch the first or last day, which formats cut otherwise."""
    return [
        (window.start, window.end)
        for window in job.found.windows
        if window.start >= week.START + EDGE and window.end <= week.END - 2 * EDGE
    ]


def test_every_format_of_a_file_is_there():
    assert set(FORMATS) - set(WRITERS) == {"open_meteo_archive", "open_meteo_ensemble"}


@pytest.mark.parametrize("coating", COATINGS)
def test_same_windows(coating, tables, site, outside):
    profile = load_profile(coating)
    found = {name: windows(run_job(site, profile, hours)) for name, hours in tables.items()}
    assert len(found["canonical"]) >= 2
    outside.equal(
        "windows of one week in every format of a file, four coatings", found,
        dict.fromkeys(found, found["canonical"]),
        source="an invented week, written from the formats' documents",
    )  # fmt: skip


def test_same_values(tables, truth):
    for name, hours in tables.items():
        for column in ("air_temp_c", "wind_m_s", "cloud", "rain_mm"):
            ours = hours.frame[column].reindex(truth.index[2:-2])
            told = truth[column][2:-2]
            if column == "rain_mm" and "rain_block_h" in hours.frame:
                ours, told = (each.resample("6h").sum(min_count=4) for each in (ours, told))
            np.testing.assert_allclose(
                ours.fillna(told), told, atol=1e-3, err_msg=f"{name} {column}"
            )
            assert ours.isna().mean() < 0.02, f"{name} {column}"


def test_hours_of_a_week_with_gaps_are_ok_nowhere_else(truth, site, tmp_path):
    """Taking values away in any format makes no hour OK that was not."""
    rng = np.random.default_rng(7)
    profile = load_profile("acrylic")
    for name in WRITERS:
        holes = truth.mask(rng.uniform(size=truth.shape) < 0.03)
        verdicts = []
        for table in (truth, holes):
            hours = reread(tmp_path, name, table)
            state = run_job(site, profile, hours).checked.state
            verdicts.append(pd.Series(state == State.OK, index=hours.index))
        whole, less = verdicts
        assert whole.any()
        assert not (less & ~whole.reindex(less.index, fill_value=False)).any(), name


def test_json_told_as_text_is_recognised_with_its_keys_in_any_order(truth, tmp_path):
    for name in ("nws", "open_meteo", "met_norway"):
        path = tmp_path / name
        path.write_text(json.dumps(json.loads(WRITERS[name](truth)), sort_keys=True, indent=1))
        assert read_weather(path).provenance.read_as == name
