"""After a fault: the command that helps with it, by real commands; none where none helps."""

import re
import shlex
import shutil
import sqlite3
from pathlib import Path

import pytest

from windows.cli.next_step import STEPS

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
BY = ("--by", "Ann")


@pytest.fixture
def step(dewgap):
    """Run a command that must fail, and return the command it points to, None without."""

    def run(*arguments):
        status, out, err = dewgap(*arguments)
        assert (status, out) == (1, "")
        sentence, _, told = err.partition("\nNext: ")
        assert sentence.startswith("dewgap: ")
        return told.rstrip("\n") or None

    return run


@pytest.fixture
def roof(tmp_path, dewgap):
    """Return a demo site as it was typed."""
    shutil.copytree(DEMO_SITES / "cool_north", tmp_path / "roof")
    return "roof"


def test_unknown_names_lead_to_their_lists(step, roof, dewgap):
    assert step("windows", roof, "--coating", "acrilic") == "dewgap coatings list"
    assert step("quantities", roof, "--system", "acrilic") == "dewgap system list"
    assert (
        step("weather-days", roof, "--coating", "acrylic", "--contract", "county")
        == "dewgap weather-days --list"
    )
    assert (
        step("windows", roof, "--coating", "acrylic", "--source", "nvs")
        == "dewgap weather sources"
    )
    assert step("weather", "check", f"{roof}/weather.csv", "--format", "xml") == (
        "dewgap weather sources"
    )
    for command in ("coatings list", "system list", "weather-days --list", "weather sources"):
        assert dewgap(*command.split())[0] == 0


def test_a_site_without_weather_leads_to_the_fetch_of_it(step, roof, tmp_path):
    (tmp_path / roof / "weather.csv").unlink()
    assert step("windows", roof, "--coating", "acrylic") == (
        "dewgap weather fetch roof --source auto --out roof/weather.csv"
    )


def test_a_site_without_years_leads_to_the_fetch_of_them(step, roof, tmp_path):
    (tmp_path / roof / "years.csv.gz").unlink()
    assert step("season", roof, "--coating", "acrylic") == (
        "dewgap weather history roof --out roof/years.csv.gz"
    )


def test_a_bad_weather_file_leads_to_its_check(step, roof, tmp_path):
    weather = tmp_path / roof / "weather.csv"
    text = weather.read_text()
    weather.write_text(re.sub(r"(?m)^(2026-09-22T05:00Z),[^,]*", r"\1,9999", text))
    asked = ("windows", roof, "--coating", "acrylic")
    assert step(*asked) == "dewgap weather check roof/weather.csv"
    assert step("weather", "check", f"{roof}/weather.csv") is None  # it is the check itself


def test_a_logger_without_a_mapping_leads_to_the_beginning_of_one(step, dewgap, tmp_path):
    shutil.copy(DEMO_SITES / "logger.csv", tmp_path / "our logger.csv")
    told = step("weather", "convert", "our logger.csv", "--format", "logger", "--out", "x.csv")
    assert told == "dewgap weather mapping 'our logger.csv'"
    assert dewgap(*shlex.split(told)[1:])[0] == 0


def test_a_damaged_log_leads_to_its_repair(step, good, roof, tmp_path):
    good("log", "import", roof, f"{roof}/field_log.json", *BY)
    log = tmp_path / roof / "log.sqlite"
    for each in tmp_path.glob("roof/log.sqlite-*"):
        each.unlink()
    log.write_bytes(b"no database at all, " * 500)
    assert step("log", "show", roof) == "dewgap log repair roof --to saved.sqlite --by NAME"
    assert step("log", "repair", roof, "--to", "saved.sqlite", *BY) is None


def test_an_entry_that_was_changed_leads_to_the_proof(step, dewgap, good, roof, tmp_path):
    good("log", "import", roof, f"{roof}/field_log.json", *BY)
    with sqlite3.connect(tmp_path / roof / "log.sqlite") as log:
        log.execute("DROP TRIGGER IF EXISTS entry_is_not_changed")
        triggers = log.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            log.execute(f"DROP TRIGGER {name}")
        log.execute("UPDATE entry SET body = replace(body, 'Ann', 'Bob')")
        changed = log.execute("UPDATE entry SET body = replace(body, 'B-2071', 'B-9999')").rowcount
    log.close()
    assert changed
    status, _, err = dewgap("log", "export", roof, "--to", "out.json")
    assert status == 1
    assert err.endswith("\nNext: dewgap log verify roof\n")


def test_no_forecasts_lead_to_the_first_one_that_is_kept(step, roof, dewgap):
    asked = ("skill", roof, "--observed", f"{roof}/years.csv.gz")
    assert step(*asked) == "dewgap skill roof --store"
    assert dewgap("skill", roof, "--store")[0] == 0


def test_broken_settings_lead_to_the_doctor(step, roof, tmp_path, monkeypatch):
    (tmp_path / "settings.toml").write_text("contact = 3\n")
    monkeypatch.setenv("DEWGAP_SETTINGS", str(tmp_path / "settings.toml"))
    asked = ("windows", roof, "--coating", "acrylic", "--source", "open_meteo", "--offline")
    assert step(*asked) == "dewgap doctor"


def test_a_cache_leads_to_what_helps_in_the_same_folder(step, roof, dewgap, tmp_path):
    asked = ("windows", roof, "--coating", "acrylic", "--source", "open_meteo", "--offline",
             "--cache-dir", "my cache")  # fmt: skip
    (tmp_path / "my cache").mkdir()
    (tmp_path / "my cache" / "http.sqlite").write_bytes(b"no database at all, " * 500)
    told = step(*asked)
    assert told == "dewgap weather cache --clear --cache-dir 'my cache'"
    assert dewgap(*shlex.split(told)[1:])[0] == 0
    (tmp_path / "a file").write_text("")
    assert step(*asked[:-1], "a file") == "dewgap doctor --cache-dir 'a file'"


@pytest.mark.parametrize(
    "command",
    [
        ("windows", "nowhere", "--coating", "acrylic"),
        ("cure", "acrylic", "--temp", "hot"),
        ("windows", "roof", "--coating", "acrylic", "--from", "May"),
    ],
)
def test_where_no_command_is_sure_to_help_none_is_told(step, roof, command):
    assert step(*command) is None


def test_a_demo_site_that_is_not_here_leads_to_the_copy(step):
    assert step("windows", "demo_sites/cool_north", "--coating", "acrylic") == "dewgap demo --copy"


def test_every_step_is_of_an_error_that_people_see():
    assert all(issubclass(each.error, Exception) and each.command for each in STEPS)
