"""The examples of the help: every command and group has one, and each runs as it is printed."""

import json
import shlex
import subprocess
import sys
from pathlib import Path

import command_tree
import invented_week as week
import loopback
import numpy as np
import pandas as pd
import pytest
from demo_copy import copy_demo

from windows.site import load_site

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
SLOW = {"demo", "board", "portfolio", "bid", "season", "weather-days", "claim"}
"""Commands whose example is run once only, with --json; the pages of docs run them without."""
LEAVES, GROUPS = command_tree.leaves(), command_tree.groups()
EXAMPLES = [
    (name, example) for name, command in LEAVES.items() for example in command.examples
]
DEMONSTRATED = {"windows", "plan", "board", "demo"}
"""Commands whose answer can be a go."""


def coming_days():
    """The invented week, begun yesterday."""
    table = week.truth().assign(ghi_w_m2=np.nan)
    table.index += pd.Timestamp.now("UTC").floor("D") - pd.Timedelta(days=1) - table.index[0]
    return table


def station_year(year):
    """A year of hours as a station's file has them, each the same."""
    index = pd.date_range(f"{year}-01-01", f"{year + 1}-01-01", freq="h", tz="UTC")
    same = {"air_temp_c": 12.0, "rel_humidity": 0.6, "dew_point_c": 4.0, "wind_m_s": 3.0,
            "gust_m_s": 5.0, "rain_mm": 0.0, "cloud": 0.5, "ghi_w_m2": np.nan,
            "pressure_hpa": 1010.0}  # fmt: skip
    return week.meteostat_year(pd.DataFrame(same, index=index), year)


@pytest.fixture(scope="module")
def services():
    """Services on this machine that know the coming days and the last two years."""
    place, last = load_site(DEMO_SITES / "cool_north"), pd.Timestamp.now("UTC").year - 1
    station = ("99001", place.latitude, place.longitude, "1990-01-01")
    with loopback.serving() as server:
        server.give("/v1/forecast", week.open_meteo(coming_days()))
        server.give("/stations.db", loopback.stations(station))
        for year in (last - 1, last):
            server.give(f"/hourly/{year}/99001.csv.gz", station_year(year))
        yield server


@pytest.fixture(scope="module")
def scratch(tmp_path_factory):
    """Return the scratch folders with the demo sites, and what was run in each before."""
    made = {}

    def folder(name):
        if name not in made:
            made[name] = (tmp_path_factory.mktemp(name), set())
            copy_demo(made[name][0])
        return made[name]

    return folder


@pytest.fixture
def shown(scratch, services, dewgap, monkeypatch):
    """Run an example in a scratch folder, after what it says is to be run first."""
    monkeypatch.setenv("DEWGAP_OPEN_METEO_URL", f"{services.url}/v1")
    monkeypatch.setenv("DEWGAP_METEOSTAT_URL", services.url)
    monkeypatch.setenv("DEWGAP_SETTINGS", "")
    monkeypatch.setattr("windows.seasons.cluster.cores", lambda: 1)  # no processes for four sites
    monkeypatch.delenv("DEWGAP_BY", raising=False)

    def run(name, example, *more):
        folder, done = scratch("data" if more else "text")
        monkeypatch.chdir(folder)
        monkeypatch.setenv("DEWGAP_CACHE_DIR", str(folder / "cache"))
        for first in LEAVES[name].first:
            if first not in done:
                status, _, err = dewgap(*shlex.split(first)[1:])
                assert (status, err) == (0, "")
                done.add(first)
        # Two years of hours tell the same of the command as thirty, in a tenth of the time.
        words = shlex.split(example.replace("--years 30", "--years 2"))
        if name == "board":  # its best plan is proved in other tests
            words += ["--seconds", "0.5"]
        assert words[: 1 + len(name.split())] == ["dewgap", *name.split()]
        return dewgap(*words[1:], *more)

    return run


@pytest.mark.parametrize("name", [*LEAVES, *GROUPS])
def test_every_command_and_group_has_an_example_on_one_line_of_its_help(name, dewgap):
    command = {**LEAVES, **GROUPS}[name]
    assert command.examples
    status, text, _ = dewgap(*name.split(), "--help")
    assert status == 0
    lines = [line.strip() for line in text.splitlines()]
    for example in command.examples:
        assert f"Example: {example}" in lines
    for first in command.first:
        assert f"First: {first}" in lines


def test_the_example_of_a_group_is_one_of_its_commands():
    of_leaves = {example for _, example in EXAMPLES} | {"dewgap demo"}
    for command in GROUPS.values():
        for example in command.examples:
            words = shlex.split(example)
            assert any(shlex.split(each)[:3] == words[:3] for each in of_leaves)


@pytest.mark.exhaustive(every=4)
@pytest.mark.parametrize(
    ("name", "example"), [each for each in EXAMPLES if each[0] not in SLOW]
)
def test_the_example_runs_as_it_is_printed(name, example, shown):
    status, out, err = shown(name, example)
    assert status in (0, 3, 4), err
    assert err == ""
    assert out


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_the_example_gives_json_and_nothing_else(name, example, shown):
    status, out, err = shown(name, example, "--json", "--quiet")
    assert status in (0, 3, 4), err
    assert err == ""
    data = json.loads(out)
    if name in DEMONSTRATED:
        goes = list(goes_of(data))
        assert goes
        assert all(goes)


def goes_of(data):
    """Return the cautions of every window, and of every plan or assignment of a crew."""
    if isinstance(data, dict):
        for key, inner in data.items():
            if key in {"windows", "assignments"}:
                yield from (each["cautions"] for each in inner)
            elif key == "plan" and inner["placements"]:
                yield data["cautions"]
            yield from goes_of(inner)
    elif isinstance(data, list):
        for each in data:
            yield from goes_of(each)


@pytest.mark.parametrize("name", LEAVES)
def test_every_command_can_be_quiet_and_answer_in_json(name):
    options = {option for each in LEAVES[name].params for option in each.opts}
    assert {"--quiet", "--json"} <= options


def test_quiet_prints_nothing_and_still_writes(dewgap, scratch, monkeypatch):
    folder, _ = scratch("text")
    monkeypatch.chdir(folder)
    asked = ("windows", "demo_sites/cool_north", "--coating", "acrylic", "--page", "quiet.html")
    assert dewgap(*asked, "--quiet") == (0, "", "")
    page = (folder / "quiet.html").read_text(encoding="utf-8")
    assert "Cautions" in page or "caution" in page.lower()


def test_faults_show_although_it_is_quiet(dewgap):
    status, out, err = dewgap("coatings", "show", "acrilic", "--quiet")
    assert (status, out) == (1, "")
    assert "did you mean 'acrylic'?" in err


def test_what_was_asked_as_data_is_printed_although_it_is_quiet(dewgap):
    assert dewgap("log", "schema", "--quiet")[1].startswith("{")
    folder = DEMO_SITES / "cool_north"
    csv = dewgap("hours", folder, "--coating", "acrylic", "--csv", "-", "--quiet")[1]
    assert csv.count("\n") > 100
    assert "Times:" not in csv


def test_the_help_needs_no_heavy_library():
    code = "import windows.cli, sys; print(*{'numpy', 'pandas', 'pydantic'} & {*sys.modules})"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == ""


def test_the_demo_sites_can_be_copied_for_the_examples(dewgap, tmp_path):
    assert dewgap("demo", "--copy", "--quiet") == (0, "", "")
    assert (tmp_path / "demo_sites" / "cool_north" / "site.toml").is_file()
    status, _, err = dewgap("demo", "--copy")
    assert status == 1
    assert "is there already" in err
