"""``dewgap board`` run as a person would: shown, written, kept, served, refused."""

import _thread
import csv
import html
import http.client
import io
import json
import os
import re
import shlex
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import board_folder as folders
import invented_week
import loopback
import numpy as np
import pandas as pd
import pytest
from demo_copy import copy_county
from icalendar import Calendar
from jsonschema import Draft202012Validator
from ran_here import ran_here

from windows.safety import GOVERNS

ROOT = Path(__file__).parents[3]
COMMAND = (sys.executable, "-c", "from windows.cli import main; main()")
QUICK = ("--seconds", "3")
NOW = ("--now", "2026-06-01T05:00", *QUICK)  # of small folders: Monday, before work
EVENING = ("--now", "2026-06-10T18:00", "--seconds", "0.5")  # of the demo county
posix = pytest.mark.skipif(os.name != "posix", reason="sends a signal")


def as_child(*arguments, cwd, **given):
    """Start the command in a process of its own."""
    return subprocess.Popen(
        [*COMMAND, *(str(each) for each in arguments)], cwd=cwd, encoding="utf-8",
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}, **given,
    )  # fmt: skip


def contents(folder):
    """Return every file of a folder with what is in it."""
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def events(folder):
    """Return (SEQUENCE, STATUS, start, summary) of each event by its UID, of all calendars."""
    found = {}
    for path in sorted(folder.glob("*.ics")):
        for each in Calendar.from_ical(path.read_bytes()).walk("VEVENT"):
            assert each["UID"] not in found
            found[str(each["UID"])] = (
                int(each["SEQUENCE"]), str(each["STATUS"]), each["DTSTART"].dt, str(each["SUMMARY"])
            )  # fmt: skip
    return found


def works(told):
    """Return the crew and the day of each work, by site, piece and layer."""
    return {
        (each["site"], work["piece"], work["layer"]): (each["crew"], each["day"])
        for each in told["assignments"]
        for work in each["works"]
    }


def status_of(told):
    """Return the exit status that a board asks for, from its JSON."""
    if told["faults"]:
        return 1
    # A laid layer that nobody covers in time is worth a status that no scheduler overlooks.
    left = any(each["laid"] and each["danger"] in {"overdue", "no_cover"}
               for each in told["deadlines"])  # fmt: skip
    return 3 if left or (told["undone"] and not told["assignments"]) else 0


def weather_with(days, **given):
    """Return steady fine weather, but for the values given on some local days."""
    columns = {}
    for name, value in given.items():
        columns[name] = np.full(240, folders.FINE[name])
        for day in days:
            row = folders.row_of(f"{day} 00:00")
            columns[name][row : row + 24] = value
    return folders.weather(**columns)


def rain_on(*days):
    return weather_with(days, rain_mm=2.0, rain_prob=1.0)


WET = rain_on(*(f"2026-06-{day:02}" for day in range(1, 10)))


def offline(tmp_path):
    """Return the options of a service whose answer was never fetched."""
    return ("--source", "open_meteo_ensemble", "--offline", "--cache-dir", tmp_path / "empty")


@pytest.fixture
def small(tmp_path):
    """Return a folder of one site and one crew in fine weather."""
    return folders.folder_of(tmp_path / "jobs")


@pytest.fixture
def two(small):
    """Return a folder of two sites and one crew."""
    folders.add_site(small, "two", rates=folders.RATES)
    return small


# --- the demo county, as its first user runs it -------------------------------------------------


@pytest.fixture(scope="module")
def county(tmp_path_factory):
    """Return the first board of the demo county, and the second in the same weather."""
    here = tmp_path_factory.mktemp("county")
    copy_county(here / "tri_county")
    calendars = here / "calendars"
    calendars.mkdir()
    given = ("board", "tri_county", *EVENING, "--page", "board.html", "--csv", "board.csv",
             "--ics", "calendars", "--keep", "board.json")  # fmt: skip
    before = contents(here / "tri_county")
    first = ran_here(*given, cwd=here)
    written = {name: (here / name).read_bytes() for name in ("board.html", "board.csv")}
    kept, found = json.loads((here / "board.json").read_bytes()), events(calendars)
    second = ran_here(*given, "--json", cwd=here)
    return SimpleNamespace(
        here=here, first=first, kept=kept, events=found, second=second, again=events(calendars),
        written=written, untouched=contents(here / "tri_county") == before,
    )  # fmt: skip


def test_the_demo_county_on_the_screen(county):
    told = county.first
    assert (told.status, told.err) == (status_of(county.kept), "")
    parts = (
        "Wed Jun 10 2026, 18:00 CDT\n6 sites, 3 crews, ", "Deadlines, those in danger first",
        "Who goes where", "Crews without work", "Left out", "\nSites\n", "\nGo or wait",
        "Cautions that go with this work\n  - ", GOVERNS, "\nPage: ", "\nCSV: ", "\nCalendars: ",
        "\nBoard file: ",
    )  # fmt: skip
    places = [told.out.find(part) for part in parts]
    assert -1 not in places
    assert places == sorted(places)
    # The sentence that governs is the last of what is told; then come only the files.
    after = told.out[told.out.index(GOVERNS) + len(GOVERNS) :].strip().splitlines()
    assert [line.partition(": ")[2] for line in after] == [
        str(county.here / name) for name in ("board.html", "board.csv", "calendars", "board.json")
    ]
    assert "FAULT" not in told.out
    assert "Moved since" not in told.out
    for site in county.kept["sites"]:
        assert site["name"] in told.out
    finished = next(s for s in county.kept["sites"] if s["state"] == "finished")
    assert re.search(rf"(?m)^{re.escape(finished['name'])} +finished", told.out)
    assert "nan" not in told.out.lower().split()


def test_the_demo_county_is_written_whole_and_nothing_else(county):
    page = county.written["board.html"].decode()
    assert page.startswith("<!doctype html>") or page.startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")
    assert "</script>" in page
    rows = list(csv.DictReader(io.StringIO(county.written["board.csv"].decode())))
    assert len(rows) == len(works(county.kept)) > 0
    assert {(row["site"], row["piece"], int(row["layer"])) for row in rows} == set(
        works(county.kept)
    )
    laid = [e for e in county.events.values() if not e[3].startswith("deadline")]
    assert len(laid) == len(rows)
    assert {path.name for path in county.here.iterdir()} == {
        "tri_county", "board.html", "board.csv", "calendars", "board.json",
    }  # fmt: skip
    assert len(list((county.here / "calendars").iterdir())) == len(county.kept["crews"]) == 3
    assert county.untouched


def test_json_is_what_the_schema_says(county, good):
    schema = json.loads(good("board", "--schema"))
    Draft202012Validator.check_schema(schema)
    judge = Draft202012Validator(
        schema, format_checker=Draft202012Validator.FORMAT_CHECKER
    )
    told = json.loads(county.second.out)  # JSON and nothing else
    judge.validate(told)
    judge.validate(county.kept)
    assert json.loads((county.here / "board.json").read_bytes()) == told
    assert (county.second.status, county.second.err) == (status_of(told), "")
    assert told["governs"] == GOVERNS
    assert str(county.here) not in county.second.out  # no path of the machine


def test_a_second_board_in_the_same_weather_keeps_what_was_promised(county):
    told = json.loads(county.second.out)
    assert told["moved"] == []
    promised = {
        (each["site"], work["piece"], work["layer"])
        for each in told["assignments"] for work in each["works"] if work["promised"]
    }  # fmt: skip
    before = works(county.kept)
    # What starts within two days of now is a promise.
    soon = {key for key, (_, day) in before.items() if day <= "2026-06-12"}
    assert promised == soon
    assert {key: works(told)[key] for key in soon} == {key: before[key] for key in soon}


def test_calendars_keep_their_events_where_nothing_moved(county):
    assert set(county.events) <= set(county.again)
    for uid, event in county.again.items():
        sequence, status, start, _ = event
        assert status in {"CONFIRMED", "TENTATIVE", "CANCELLED"}
        was = county.events.get(uid)
        if was is not None and (was[1:3]) == (status, start):
            assert sequence == was[0]
    assert {event[0] for event in county.events.values()} == {0}


# --- small folders: status, units, weather that turns -----------------------------------------


def test_a_board_of_a_fine_week(good, small, tmp_path):
    told = good("board", small, *NOW, "--units", "si", "--page", "board.html")
    assert "2 visits" in told
    assert " m² planned is expected to hold" in told
    page = (tmp_path / "board.html").read_text()
    for us in ("ft²", "°F", " mph", "drive, mi"):
        assert us not in told
        assert us not in page
    assert "Moved" not in told
    assert "Left out" not in told


def test_nobody_is_sent_into_the_rain(dewgap, small):
    (small / "one" / "weather.csv").write_text(WET)
    status, out, err = dewgap("board", small, *NOW)
    assert (status, err) == (3, "")
    assert ", 0 visits; " in out
    assert "Who goes where" not in out
    assert "no valid hours" in out
    assert out.endswith(f"{GOVERNS}\n")


def test_a_laid_layer_that_nobody_covers_is_told_by_the_status(dewgap, tmp_path):
    # Red is sent to the one site, and may not lay what the other's primer waits for.
    jobs = folders.folder_of(tmp_path / "jobs", crews=({"name": "Red", "skills": ["acrylic"]},))
    folders.add_site(
        jobs, "late", system="urethane_two_part_aliphatic", kind="concrete",
        placed=[("A", "primer", "2026-05-31 13:00", "2026-05-31 15:00")],
    )  # fmt: skip
    status, out, err = dewgap("board", jobs, *NOW)
    assert (status, err) == (3, "")
    assert re.search("(?m)^no cover is planned before it +late +A, primer ", out)
    assert ", 2 visits; " in out


def test_weather_that_is_not_known_sends_nobody(dewgap, small):
    (small / "one" / "weather.csv").write_text(folders.weather(rain_mm=np.nan, rain_prob=np.nan))
    page = small / "board.html"
    status, out, err = dewgap("board", small, *NOW, "--page", page)
    assert (status, err) == (4, "")
    assert ", 0 visits; " in out
    for told in (out, page.read_text()):
        assert "UNDETERMINED: nobody is sent, and what is not known decides." in told
    status, out, err = dewgap("board", small, *NOW, "--json")
    assert (status, err) == (4, "")
    assert json.loads(out)["assignments"] == []


@pytest.mark.parametrize(
    ("crew", "site", "given"),
    [
        ({}, {}, {"rain_mm": 2.0, "rain_prob": 1.0}),
        ({"skills": ["silicone"]}, {}, {"rain_mm": np.nan, "rain_prob": np.nan}),
        ({"work_days": ["Sun"], "start": "18:00", "end": "20:00"}, {},
         {"rain_mm": np.nan, "rain_prob": np.nan}),
        ({}, {"needs": ["hoist"]}, {"rain_mm": np.nan, "rain_prob": np.nan}),
        ({}, {"sections": {"A": 9000.0}}, {"rain_mm": np.nan, "rain_prob": np.nan}),
    ],
    ids=["rain", "skills", "hours", "equipment", "length"],
)  # fmt: skip
def test_nobody_is_sent_whatever_turns_out(dewgap, tmp_path, crew, site, given):
    folder = folders.folder_of(
        tmp_path / "jobs", crews=(folders.RED | crew,), csv=folders.weather(**given), **site
    )
    status, out, err = dewgap("board", folder, *NOW)
    assert (status, err) == (3, "")
    assert "UNDETERMINED" not in out


@pytest.fixture
def told_of(tmp_path):
    """Return a command that writes what it is told to a file, and the file."""
    script, file = tmp_path / "teller.py", tmp_path / "told.json"
    script.write_text(f"import sys\nopen({str(file)!r}, 'w').write(sys.stdin.read())\n")
    return f"{shlex.quote(sys.executable)} {shlex.quote(str(script))}", file


def test_rain_on_a_promised_day_moves_the_work_and_tells_the_command(
    dewgap, two, told_of, tmp_path
):
    command, file = told_of
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    given = ("board", two, *NOW, "--keep", "board.json", "--ics", calendars, "--notify", command)
    status, out, err = dewgap(*given)
    assert status == 0
    assert err == ""
    assert re.search(r"^Notice: '.*' was told of \d+ changes$", out, re.MULTILINE)
    assert "Moved since" not in out
    first = json.loads(file.read_text())
    assert len(first["changed"]) >= 8  # as many as there are works
    assert first["now"] == "2026-06-01T09:00:00Z"
    kept = json.loads((tmp_path / "board.json").read_text())
    assert {key: first[key] for key in kept} == kept

    was = events(calendars)
    visit = kept["assignments"][0]
    assert visit["day"] <= "2026-06-02"  # within what is a promise
    (two / visit["site"] / "weather.csv").write_text(rain_on(visit["day"]))
    status, out, err = dewgap(*given)
    assert status == 0
    assert " was told of " in out
    told = json.loads(file.read_text())
    gone = [each for each in told["moved"] if each["site"] == visit["site"]]
    assert {(each["piece"], each["layer_name"]) for each in gone} >= {
        (work["piece"], work["layer_name"]) for work in visit["works"]
    }
    assert any(visit["site"] in line and "base" in line for line in told["changed"])
    table = out[out.index("Moved since the board that was kept") :].split("\n\n")[0]
    for each in gone:
        assert each["why"]
        row = next(
            line for line in table.splitlines()
            if line.startswith(visit["site"]) and f"{each['piece']}, {each['layer_name']}" in line
        )  # fmt: skip
        assert each["was"] in row
        assert each["why"] in row
    # The event stays and moves, with a higher number of its revision.
    now = events(calendars)
    assert set(was) <= set(now)
    assert any(now[uid][0] > was[uid][0] and now[uid][2] != was[uid][2] for uid in was)


def test_the_same_board_again_tells_nothing_and_keeps_every_calendar(
    good, small, told_of, tmp_path
):
    command, file = told_of
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    given = ("board", small, *NOW, "--keep", "board.json", "--ics", calendars, "--notify", command)
    good(*given)
    before = contents(calendars)
    file.unlink()
    out = good(*given)
    assert not file.exists()
    assert "Moved since" not in out
    assert contents(calendars) == before


def test_a_command_that_fails_costs_no_board_and_is_told_again(dewgap, small, told_of, tmp_path):
    given = ("board", small, *NOW, "--keep", "board.json", "--notify")
    status, out, err = dewgap(*given, f"{shlex.quote(sys.executable)} -c 'exit(7)'")
    assert status == 1
    assert GOVERNS in out
    assert re.fullmatch(r"'.*' was not told of \d+ changes: .*exit status 7.*\n", err)
    assert (tmp_path / "board.json").exists()
    command, file = told_of
    assert dewgap(*given, command)[0] == 0
    assert any(each.startswith("new: ") for each in json.loads(file.read_text())["changed"])


# --- faults that leave the board standing ------------------------------------------------------


def test_a_faulty_site_or_crew_leaves_the_others_standing(dewgap, two, tmp_path):
    with (two / "two" / "job.toml").open("a") as file:
        file.write("[[section]]\nname = 'C'\narea = 'much'\n")
    with (two / "board.toml").open("a") as file:
        file.write("[[crew]]\nname = 'Blue'\nstart = '25:99'\n")
    given = ("board", two, *NOW, "--page", "board.html", "--keep", "board.json")
    status, out, err = dewgap(*given)
    assert (status, err) == (1, "")
    faults = [line for line in out.splitlines() if line.startswith("FAULT: ")]
    assert len(faults) == 3
    assert "stay as they were" in faults[-1]  # nothing is called off for a crew that is not read
    assert not (tmp_path / "board.json").exists()
    assert any("job.toml" in line and "much" in line for line in faults)
    assert any("board.toml" in line and "25:99" in line for line in faults)
    told = json.loads(dewgap(*given, "--json")[1])
    assert {each["site"] for each in told["assignments"]} == {"one"}
    assert {each["crew"] for each in told["assignments"]} == {"Red"}
    assert len(told["faults"]) == 3
    assert "25:99" in html.unescape((tmp_path / "board.html").read_text())


@pytest.mark.parametrize("name", ["site.toml", "job.toml", "weather.csv"])
@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", None])
def test_whatever_a_file_of_a_site_holds_the_board_comes(dewgap, two, name, content):
    path = two / "one" / name
    path.unlink()
    if content is not None:
        path.write_bytes(content)
    status, out, err = dewgap("board", two, *NOW)
    assert err == ""
    if name == "site.toml" and content is None:  # a folder without it is no site
        assert status == 0
        return
    assert status == 1
    assert len(re.findall("(?m)^FAULT: one: ", out)) == 1
    assert "Red, Mon Jun 1, two" in out or re.search(r"(?m)^\w{3} Jun +\d+ +Red +two ", out)


def test_without_an_answer_each_site_is_at_fault_and_promises_stay(dewgap, good, two, tmp_path):
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    given = ("board", two, *NOW, "--keep", "board.json", "--ics", calendars)
    good(*given)
    kept = json.loads((tmp_path / "board.json").read_text())
    status, out, err = dewgap(*given, *offline(tmp_path), "--page", "board.html")
    assert (status, err) == (1, "")
    assert len(re.findall("(?m)^FAULT: (one|two): .*--offline", out)) == 2
    assert GOVERNS in out
    assert (tmp_path / "board.html").read_text().rstrip().endswith("</html>")
    # Nothing is known of them, which is no reason to call them off.
    promised = {key: who for key, who in works(kept).items() if who[1] <= "2026-06-02"}
    assert promised
    now = json.loads((tmp_path / "board.json").read_text())
    assert works(now) == promised
    for each in now["assignments"]:
        assert each["decision"] is None or each["decision"]["verdict"] == "not_known"
        assert {work["chance"]["method"] for work in each["works"]} == {"unknown"}
    called = [event[1] for event in events(calendars).values() if not event[3].startswith("dead")]
    assert called.count("TENTATIVE") == len(promised)
    # With an answer again all goes on as it was promised.
    good(*given)
    again = works(json.loads((tmp_path / "board.json").read_text()))
    assert {key: again[key] for key in promised} == promised


def test_what_cannot_be_told_is_not_told_as_in_time(dewgap, good, small, told_of, tmp_path):
    command, file = told_of
    good("board", small, *NOW, "--keep", "board.json")
    dewgap("board", small, *NOW, *offline(tmp_path), "--keep", "board.json", "--notify", command)
    changed = json.loads(file.read_text())["changed"]
    assert any(each.startswith("fault: one: ") for each in changed)
    assert [each for each in changed if ": in time" in each] == []


@pytest.fixture
def service(monkeypatch):
    """Return a server of ensemble forecasts on the loopback address, named in the settings."""
    with loopback.serving() as server:
        monkeypatch.setenv("DEWGAP_OPEN_METEO_ENSEMBLE_URL", f"{server.url}/v1")
        monkeypatch.setenv("DEWGAP_CONTACT", "somebody@example.org")
        yield server


def coming_days():
    """Return the invented week as an ensemble's answer, warm enough to coat in, begun today."""
    table = invented_week.truth()[: 7 * 24]
    table.index += pd.Timestamp.now("UTC").floor("D") - table.index[0]
    table = table.assign(
        air_temp_c=table["air_temp_c"] + 10, dew_point_c=table["dew_point_c"] + 2,
        rel_humidity=0.5,
    )  # fmt: skip
    answer = json.loads(invented_week.open_meteo(table))
    for part in ("hourly", "hourly_units"):
        del answer[part]["precipitation_probability"]
        for name in [each for each in answer[part] if each != "time"]:
            answer[part][f"{name}_member01"] = answer[part][name]
    return answer


def test_forecasts_of_a_service_and_its_absence(dewgap, service, small, tmp_path):
    # The invented week's own place, so that it is the forecast of this site.
    site = small / "one" / "site.toml"
    site.write_text(site.read_text().replace("longitude = -75.0", "longitude = -83.0"))
    service.give(loopback.ENSEMBLE, coming_days())
    given = ("board", small, *QUICK, "--source", "open_meteo_ensemble",
             "--cache-dir", tmp_path / "cache", "--keep", "board.json", "--store")  # fmt: skip
    status, out, err = dewgap(*given)
    assert err == ""
    assert status in {0, 3}  # by the hour of the day at which this runs
    assert "FAULT" not in out
    (site,) = json.loads((tmp_path / "board.json").read_text())["sites"]
    assert "Open-Meteo" in site["weather"]
    assert service.count(loopback.ENSEMBLE) == 1
    assert len(list((small / "one" / "forecasts").iterdir())) == 1

    service.fail(loopback.ENSEMBLE, loopback.page(404), always=True)
    status, out, err = dewgap(*given, "--cache-dir", tmp_path / "new")
    assert (status, err) == (1, "")
    assert len(re.findall("(?m)^FAULT: one: Open-Meteo", out)) == 1
    assert GOVERNS in out


# --- forecasts that are kept -------------------------------------------------------------------


def test_kept_forecasts_can_be_scored(good, two, tmp_path):
    good("board", two, *NOW, "--store")
    good("board", two, *NOW, "--store")  # a forecast that is kept already is no fault
    for name in ("one", "two"):
        (kept,) = (two / name / "forecasts").iterdir()
        assert kept.stat().st_size > 0
    came = tmp_path / "came.csv"
    came.write_text(folders.weather(issued=None, kind="observed", air_temp_c=21.0))
    told = good("skill", two / "one", "--observed", came)
    # It was foretold a degree colder than it came.
    assert re.search(r"(?m)^1 +1 +24 +100% +-1\.8 +1\.8 +0\.0 ", told)


# --- refused: one sentence, and nothing written ------------------------------------------------


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (("--notify", "cat"), "give --keep as well"),
        (("--serve", "0", "--json"), "leave --json out"),
        (("--ics", "nowhere"), "nowhere: is no folder"),
        (("--ics", "jobs/board.toml"), "is no folder"),
        (("--page", "nowhere/board.html"), "its folder does not exist"),
        (("--page", "jobs"), "is a folder"),
        (("--keep", "jobs"), "is a folder"),
        (("--page", "jobs/board.toml"), "is read, or written as another output"),
        (("--csv", "jobs/one/site.toml"), "is read, or written as another output"),
        (("--csv", "jobs/one/../one/job.toml"), "is read, or written as another output"),
        (("--page", "jobs/one/weather.csv"), "is read, or written as another output"),
        (("--keep", "jobs/one/weather.csv"), "is read, or written as another output"),
        (("--csv", "jobs/years.csv.gz"), "is read, or written as another output"),
        (("--csv", "jobs/one/years.csv.gz"), "is read, or written as another output"),
        (("--page", "jobs/forecast_error.toml"), "is read, or written as another output"),
        (("--page", "one.x", "--csv", "one.x"), "is read, or written as another output"),
        (("--page", "one.x", "--keep", "./one.x"), "is read, or written as another output"),
        (("--keep", "letter.txt"), "letter.txt: is not a board of dewgap board --json"),
        (("--keep", "list.json"), "list.json: is not a board of dewgap board --json"),
        (("--keep", "later.json"), "later.json: is a board of form 99"),
        (("--source", "nosuch"), "no forecast source 'nosuch'"),
        (("--now", "soon"), "--now: 'soon' is not a time"),
        (("--now", "2026-06-31T05:00"), "--now: '2026-06-31T05:00' is not a time"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence_and_nothing_is_written(
    fault, small, tmp_path, given, words
):
    (tmp_path / "letter.txt").write_text("Dear crew,\n")
    (tmp_path / "list.json").write_text("[]\n")
    (tmp_path / "later.json").write_text('{"schema": 99, "assignments": []}\n')
    before = contents(tmp_path)
    others = ("--page", "board.html") if "--page" not in given else ("--csv", "board.csv")
    # Of an option that is given twice the last one counts.
    told = fault("board", "jobs", *NOW, *others, *given)
    assert words in told
    assert contents(tmp_path) == before


@pytest.mark.parametrize(
    ("jobs", "words"),
    [
        ("missing", "missing: cannot be read (No such file or directory)"),
        ("letter.txt", "letter.txt: cannot be read (Not a directory)"),
        ("empty", "empty: holds no folder with a site.toml"),
    ],
)
def test_a_folder_that_is_none(fault, tmp_path, jobs, words):
    (tmp_path / "letter.txt").write_text("Dear crew,\n")
    (tmp_path / "empty" / "one").mkdir(parents=True)
    before = contents(tmp_path)
    assert words in fault("board", jobs, *NOW, "--page", "board.html", "--keep", "board.json")
    assert contents(tmp_path) == before


def test_no_folder_at_all(fault):
    assert fault("board") == "name the folder of the sites, as in dewgap board JOBS/"


def test_a_folder_of_one_faulty_site_file_and_a_link_to_an_input(fault, small, tmp_path):
    link = tmp_path / "link.csv"
    link.symlink_to(small / "one" / "weather.csv")
    before = contents(tmp_path)
    assert "is read" in fault("board", "jobs", *NOW, "--csv", link)
    assert contents(tmp_path) == before


# --- names are texts ---------------------------------------------------------------------------

SITE_NAME = """Fifth & "Main" <gym onload='x'> O'Neil 🏠 </script>"""
CREW_NAME = """Čenda's "A" <gym> & 🛠 </script>; é,"""


class Text(HTMLParser):
    """The text of a page, and the names of its elements."""

    def __init__(self):
        super().__init__()
        self.text, self.tags = [], set()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)

    def handle_data(self, data):
        self.text.append(data)


def test_names_are_texts_on_page_screen_and_in_calendars(good, tmp_path):
    jobs = tmp_path / "jobs <gym> & 'co' 🏠"
    folders.folder_of(jobs)
    folder = (jobs / "one").rename(jobs / """O'Neil "gym" & 🏠""")
    quoted = json.dumps(SITE_NAME, ensure_ascii=False)
    site = (folder / "site.toml").read_text().replace('name = "one"', f"name = {quoted}")
    (folder / "site.toml").write_text(site, encoding="utf-8")
    crew = json.dumps(CREW_NAME, ensure_ascii=False)
    (jobs / "board.toml").write_text(f"[[crew]]\nname = {crew}\n", encoding="utf-8")
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    told = good("board", jobs, *NOW, "--page", "board.html", "--csv", "board.csv",
                "--ics", calendars, "--keep", "board.json")  # fmt: skip
    assert SITE_NAME in told
    assert CREW_NAME in told

    page = Text()
    page.feed((tmp_path / "board.html").read_text(encoding="utf-8"))
    assert "gym" not in page.tags
    text = " ".join("".join(page.text).split())
    assert SITE_NAME in text
    assert CREW_NAME in text

    rows = list(csv.DictReader(io.StringIO((tmp_path / "board.csv").read_text(encoding="utf-8"))))
    assert {(row["site_name"], row["crew"]) for row in rows} == {(SITE_NAME, CREW_NAME)}

    (file,) = calendars.iterdir()
    assert file.name.isascii()
    calendar = Calendar.from_ical(file.read_bytes())
    found = [str(event["SUMMARY"]) for event in calendar.walk("VEVENT")]
    assert len(found) >= len(rows)
    assert all(SITE_NAME in each for each in found)
    unfolded = file.read_bytes().replace(b"\r\n ", b"").decode()
    assert CREW_NAME.replace(";", "\\;").replace(",", "\\,") in unfolded
    again = good("board", jobs, *NOW, "--ics", calendars, "--keep", "board.json")
    assert "Moved" not in again


# --- served --------------------------------------------------------------------------------------


@contextmanager
def served(*arguments, cwd):
    """Serve a board in a process of its own; gives the process and its port."""
    process = as_child("board", *arguments, "--serve", "0", cwd=cwd)
    try:
        first = process.stdout.readline()
        found = re.match(r"Serving at http://127\.0\.0\.1:(\d+)/", first)
        assert found, (first, process.poll() is not None and process.stderr.read())
        yield process, int(found[1])
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate(timeout=20)


def ask(port, path):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        assert answer.status == 200
        return answer.read().decode()
    finally:
        connection.close()


def until(true, seconds=30):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = true()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError("it did not come")


def made_once(folder, cwd):
    """Make a board and return its file."""
    ran_here("board", folder, *NOW, "--keep", "board.json", cwd=cwd)
    return (cwd / "board.json").read_bytes()


@posix
def test_a_served_board_follows_its_files_and_ends_with_ctrl_c(small, tmp_path):
    given = (small, *NOW, "--page", "board.html", "--keep", "board.json")
    kept = made_once(small, tmp_path)
    with served(*given, cwd=tmp_path) as (process, port):
        page, version = ask(port, "/"), ask(port, "/version")
        assert page.rstrip().endswith("</html>")
        assert GOVERNS in html.unescape(page)
        assert f'content="{version}"' in page
        assert 'class="fault' not in page
        visit = json.loads((tmp_path / "board.json").read_text())["assignments"][0]
        (small / visit["site"] / "weather.csv").write_text(rain_on(visit["day"]))
        newer = until(lambda: (now := ask(port, "/version")) != version and now)
        page = ask(port, "/")
        assert f'content="{newer}"' in page
        assert "Promises that moved" in page
        # What the board writes itself does not make it anew: nothing changes any more.
        written = (tmp_path / "board.html").stat().st_mtime_ns
        time.sleep(2.5)
        assert (tmp_path / "board.html").stat().st_mtime_ns == written
        assert (tmp_path / "board.json").read_bytes() == kept  # the evening's
        # A folder that cannot be read any more: the page stays, and says so.
        small.rename(tmp_path / "gone")
        until(lambda: ask(port, "/version") != newer)
        page = html.unescape(ask(port, "/"))
        assert "cannot be made anew" in page
        assert "Promises that moved" in page
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
    assert (process.returncode, err) == (0, "")
    assert "cannot be made anew" in out


@posix
def test_a_served_board_tells_its_address_under_quiet_too(small, tmp_path):
    err, over = io.StringIO(), threading.Event()

    def ctrl_c_when_it_is_told():
        end = time.monotonic() + 30
        # Not after a fault: the command is over then, and the tests would be ended.
        while not re.match("Serving at .*\n", err.getvalue()) and time.monotonic() < end:
            if over.wait(0.02):
                return
        if not over.is_set():
            os.kill(os.getpid(), signal.SIGINT)

    reader = threading.Thread(target=ctrl_c_when_it_is_told)
    reader.start()
    try:
        ended = ran_here("board", small, *NOW, "--serve", "0", "--quiet", cwd=tmp_path, err=err)
    finally:
        over.set()
        reader.join()
    assert re.fullmatch(r"Serving at http://127\.0\.0\.1:\d+/ .*\n", ended.err)
    assert (ended.status, ended.out) == (0, "")


@posix
def test_a_killed_board_leaves_no_half_file(two, tmp_path):
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    names = ("board.html", "board.csv", "board.json")
    given = (two, *NOW, "--page", names[0], "--csv", names[1], "--keep", names[2],
             "--ics", calendars)  # fmt: skip
    made_once(two, tmp_path)
    with served(*given, cwd=tmp_path) as (process, _):
        first = (tmp_path / names[0]).stat().st_mtime_ns
        (two / "one" / "weather.csv").write_text(rain_on("2026-06-01", "2026-06-02"))
        end = time.monotonic() + 30
        while (tmp_path / names[0]).stat().st_mtime_ns == first:
            assert time.monotonic() < end
            time.sleep(0.0002)
        process.kill()  # between the first of its files and the last
        process.wait(20)
    assert (tmp_path / names[0]).read_text().rstrip().endswith("</html>")
    rows = list(csv.DictReader(io.StringIO((tmp_path / names[1]).read_text())))
    assert all(None not in row.values() for row in rows)
    assert json.loads((tmp_path / names[2]).read_text())["schema"] == 1
    for path in calendars.glob("*.ics"):
        assert path.read_bytes().endswith(b"END:VCALENDAR\r\n")


def test_a_faulty_first_board_is_not_served(dewgap, small):
    (small / "one" / "site.toml").write_text("x = = 1\n")
    limit = threading.Timer(30, _thread.interrupt_main)  # ends what is served all the same
    limit.start()
    try:
        status, out, err = dewgap("board", small, *NOW, "--serve", "0")
    finally:
        limit.cancel()
    assert (status, out) == (1, "")
    assert err.startswith("dewgap: ")
    assert err.count("\n") == 1


# --- what reviews found ---------------------------------------------------------------------------


def test_a_crew_that_is_renamed_has_its_calendar_called_off(good, small, tmp_path):
    """Without a board that is kept, too: its own file tells whose it is."""
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    good("board", small, *NOW, "--ics", calendars)
    (old,) = calendars.iterdir()
    assert b"STATUS:CANCELLED" not in old.read_bytes()
    text = (small / "board.toml").read_text()
    (small / "board.toml").write_text(text.replace('"Red"', '"Scarlet"'))
    good("board", small, *NOW, "--ics", calendars)
    assert b"STATUS:CONFIRMED" not in old.read_bytes()
    assert b"STATUS:TENTATIVE" not in old.read_bytes()
    assert b"STATUS:CANCELLED" in old.read_bytes()
    assert len(list(calendars.iterdir())) == 2


def test_a_slip_in_the_company_file_leaves_board_and_calendars(dewgap, good, small, tmp_path):
    calendars = tmp_path / "calendars"
    calendars.mkdir()
    given = ("board", small, *NOW, "--keep", "board.json", "--ics", calendars)
    good(*given)
    kept, before = (tmp_path / "board.json").read_bytes(), contents(calendars)
    text = (small / "board.toml").read_text()
    (small / "board.toml").write_text(text + "bad = [\n")
    status, out, _ = dewgap(*given)
    assert status == 1
    assert "stay as they were" in out
    assert (tmp_path / "board.json").read_bytes() == kept
    assert contents(calendars) == before
    (small / "board.toml").write_text(text)
    assert "Moved since" not in good(*given)


def test_a_damaged_record_of_what_was_told_tells_all_as_new(dewgap, small, told_of, tmp_path):
    command, file = told_of
    (tmp_path / "board.json.told").write_text("{")
    status, _, err = dewgap("board", small, *NOW, "--keep", "board.json", "--notify", command)
    assert status == 0
    assert err.startswith("board.json.told: ")
    assert err.endswith("all is told as new\n")
    assert json.loads(file.read_text())["changed"]


@posix
def test_a_closed_output_costs_no_page(small, tmp_path):
    command = shlex.join([*COMMAND, "board", str(small), *NOW, "--page", "board.html"])
    done = subprocess.run(["sh", "-c", f"{command} >&-"], cwd=tmp_path, check=False, timeout=60,
                          capture_output=True, text=True,
                          env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "board.html").read_text().rstrip().endswith("</html>")
