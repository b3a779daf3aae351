"""The command as a person meets it: help, faults in one sentence, files whole, plain pipes."""

import contextlib
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from windows.errors import OutputError
from windows.reports.output import write_whole

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
SCRIPT = Path(sys.executable).with_name("dewgap")


@pytest.fixture
def cloudless(site):
    """Return a site whose weather has no cloud column."""
    lines = (site / "weather.csv").read_text().splitlines()
    at = lines[3].split(",").index("cloud")
    rows = [line.split(",") for line in lines[3:]]
    kept = [",".join(cell for n, cell in enumerate(row) if n != at) for row in rows]
    (site / "weather.csv").write_text("\n".join(kept) + "\n")
    return site


# --- help and usage ----------------------------------------------------------------------------


def test_help_names_the_first_step_and_every_command(good):
    text = good("--help")
    assert "Start with: dewgap demo" in text
    for command in ("demo", "windows", "hours", "dry", "cure", "calibrate", "coatings"):
        assert re.search(rf"\b{command} ", text)


def test_version(good):
    assert re.fullmatch(r"dewgap \d+\.\d+\.\d+\n", good("--version"))


@pytest.mark.parametrize(
    "arguments",
    [
        ["windows", "site", "--coating", "acrylic", "--colour", "red"],
        ["windows", "site", "--coating", "acrylic", "--units", "metric"],
        ["windows", "site", "--coating", "acrylic", "--assume-cloud", "half"],
        ["windows", "--coating", "acrylic"],
        ["hours", "site"],
        ["coatings", "show"],
        ["coatings", "show", "acrylic", "--method", "brush"],
        ["window"],
    ],
)
def test_wrong_usage_ends_with_status_2_and_names_the_help(dewgap, arguments):
    status, out, err = dewgap(*arguments)
    assert (status, out) == (2, "")
    assert "--help" in err
    assert "Traceback" not in err


# --- faults of the input -------------------------------------------------------------------------


def test_unknown_coating_suggests_the_near_name(fault, site):
    for command in (["windows", site, "--coating"], ["hours", site, "--coating"]):
        assert "coating 'acrilic' is not known; did you mean 'acrylic'?" in fault(
            *command, "acrilic"
        )
    assert "did you mean 'acrylic'?" in fault("coatings", "show", "acrilic")


def test_own_coating_that_is_not_there(fault, tmp_path):
    assert fault("coatings", "check", "acrylic") == "acrylic: no such file; check the path"
    assert fault("coatings", "check", tmp_path) == (
        f"{tmp_path}: cannot be read (Is a directory); name a readable file"
    )
    assert "mine.toml: no such file" in fault("coatings", "show", "mine.toml")


def test_missing_site_weather_and_folder(fault, site, tmp_path):
    assert "nowhere: no such file" in fault("windows", "nowhere", "--coating", "acrylic")
    assert "no such file" in fault("windows", tmp_path, "--coating", "acrylic")
    assert "File name too long" in fault("windows", "x" * 300, "--coating", "acrylic")
    (site / "weather.csv").unlink()
    assert fault("windows", site, "--coating", "acrylic") == (
        f"{site / 'weather.csv'}: there is no such file, and neither --weather nor --source is "
        "given; name a weather file, or a service (dewgap weather sources)"
    )
    assert "no such weather file" in fault(
        "windows", site, "--coating", "acrylic", "--weather", "x.csv"
    )
    assert "Is a directory" in fault("hours", site, "--coating", "acrylic", "--weather", tmp_path)


def test_site_file_and_its_folder_find_the_same_weather(good, site):
    whole = good("windows", site, "--coating", "acrylic", "--json")
    assert good("windows", site / "site.toml", "--coating", "acrylic", "--json") == whole


def test_fault_of_a_weather_file_reaches_the_screen_as_one_line(fault, site):
    (site / "weather.csv").write_text("time_utc,air_temp_c\nsoon,1\n")
    assert "line 2: time_utc 'soon' is not a time" in fault("windows", site, "--coating", "acrylic")


@pytest.mark.parametrize(
    ("days", "parts"),
    [
        (["--from", "2026-09-24", "--to", "2026-09-23"], ["--from 2026-09-24 is after --to"]),
        (["--from", "2030-01-01"], ["there are no hours between the dates", "2026-09-21 05:00"]),
        (["--to", "2020-01-01"], ["there are no hours between the dates"]),
        (["--from", "soon"], ["--from 'soon' is not a date; write it as 2026-05-01"]),
        (["--to", "2026-02-30"], ["--to '2026-02-30' is not a date"]),
        (["--from", "09/24/2026"], ["is not a date"]),
        (["--from", "0001-01-01"], ["--from 0001-01-01 is not a year of the weather"]),
        (["--to", "9999-12-31"], ["--to 9999-12-31 is not a year of the weather"]),
    ],
)
def test_days_that_cannot_be(fault, site, days, parts):
    text = fault("windows", site, "--coating", "acrylic", *days)
    for part in parts:
        assert part in text


def test_days_are_local_and_the_last_is_whole(good, site):
    one_day = ["--from", "2026-09-22", "--to", "2026-09-22"]
    text = good("windows", site, "--coating", "acrylic", *one_day, "--json")
    for window in json.loads(text)["jobs"][0]["windows"]:
        assert window["start"] >= "2026-09-22T05:00:00Z"
        assert window["end"] <= "2026-09-23T05:00:00Z"
    assert json.loads(text)["jobs"][0]["crew_hours"] == 10


def test_assumed_cloud(good, fault, site):
    text = fault("windows", site, "--coating", "acrylic", "--assume-cloud", "0.4")
    assert "the table has column 'cloud'" in text
    assert text.endswith("drop the assumption")


@pytest.mark.parametrize("cover", ["1.5", "-0.1", "40", "nan"])
def test_assumed_cloud_out_of_range(fault, cloudless, cover):
    text = fault("windows", cloudless, "--coating", "acrylic", "--assume-cloud", cover)
    assert text == f"an assumed cloud of {float(cover):g} is not possible; give 0 to 1 (fraction)"


def test_assumed_cloud_is_shown_as_assumed(good, cloudless):
    text = good("windows", cloudless, "--coating", "acrylic", "--assume-cloud", "0.4")
    assert "cloud is assumed to be 0.4 in every hour" in text


@pytest.mark.parametrize("film", ["thick", "24", "24 ft", "-3 mil", "0 mil", "nan mil", ""])
def test_film_that_cannot_be(fault, site, film):
    assert "film" in fault("windows", site, "--coating", "acrylic", "--dry-film", film)


# --- files that are written ------------------------------------------------------------------

OUTPUTS = [["windows", "--page"], ["hours", "--csv"], ["demo", "--page"]]


def write(command, option, site, out):
    where = [] if command == "demo" else [site, "--coating", "acrylic"]
    return [command, *where, option, out]


@pytest.mark.parametrize(("command", "option"), OUTPUTS)
def test_output_into_a_missing_folder(fault, site, tmp_path, command, option):
    text = fault(*write(command, option, site, tmp_path / "no" / "out"))
    # The demo looks before its work, the others find out when they write.
    why = {"demo": "its folder does not exist; name a file in one that does"}.get(
        command, "cannot be written (No such file or directory)"
    )
    assert f"{tmp_path / 'no' / 'out'}: {why}" in text
    assert not (tmp_path / "no").exists()


@pytest.mark.parametrize(("command", "option"), OUTPUTS)
def test_output_onto_a_folder(fault, site, tmp_path, command, option):
    (tmp_path / "folder").mkdir()
    text = fault(*write(command, option, site, tmp_path / "folder"))
    assert text == f"{tmp_path / 'folder'}: is a folder; name a file in it"
    assert list((tmp_path / "folder").iterdir()) == []


def test_output_below_a_file(fault, site, tmp_path):
    (tmp_path / "file").write_text("old")
    assert "Not a directory" in fault(*write("hours", "--csv", site, tmp_path / "file" / "out"))
    assert (tmp_path / "file").read_text() == "old"


@pytest.mark.parametrize("step", ["open", "write", "rename"])
def test_failing_disk_leaves_the_old_file_and_nothing_else(
    fault, site, tmp_path, monkeypatch, step
):
    out = tmp_path / "folder" / "out.csv"
    out.parent.mkdir()
    out.write_text("old")
    real = os.fdopen

    class Full(io.FileIO):
        def write(self, data):
            super().write(data[:10])
            raise OSError(28, "No space left on device")

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    def full(handle, mode, *more):
        return Full(handle, mode) if mode == "wb" else real(handle, mode, *more)

    if step == "open":
        monkeypatch.setattr("tempfile.mkstemp", refuse)
    elif step == "write":
        monkeypatch.setattr(os, "fdopen", full)
    else:
        monkeypatch.setattr(os, "replace", refuse)
        monkeypatch.setattr(Path, "replace", refuse)
    text = fault("hours", site, "--coating", "acrylic", "--csv", out)
    reason = "No space left on device" if step == "write" else "Permission denied"
    assert text == (
        f"{out}: cannot be written ({reason}); name a file in a folder that exists, has room and "
        "is yours to write to"
    )
    assert out.read_text() == "old"
    assert [path.name for path in out.parent.iterdir()] == ["out.csv"]


def test_file_is_replaced_whole_with_its_rights(tmp_path):
    out = tmp_path / "out.txt"
    out.write_text("a longer old text")
    out.chmod(0o640)
    assert write_whole(out, "new\n") == out
    assert out.read_bytes() == b"new\n"
    assert out.stat().st_mode & 0o777 == 0o640
    fresh = write_whole(tmp_path / ("n" * 250), "x")
    mask = os.umask(0)
    os.umask(mask)
    assert fresh.stat().st_mode & 0o777 == 0o666 & ~mask
    assert len(list(tmp_path.iterdir())) == 2


def test_link_is_followed(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to(tmp_path / "real.txt")
    write_whole(tmp_path / "link.txt", "new")
    assert (tmp_path / "real.txt").read_text() == "new"
    assert (tmp_path / "link.txt").is_symlink()


def test_pipe_is_written_to_and_not_replaced(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(pipe, "text")
        assert os.read(reader, 100) == b"text"
    finally:
        os.close(reader)
    assert pipe.is_fifo()


def test_a_file_fault_that_nobody_foresaw_names_its_file(fault, site, monkeypatch):
    def refuse(_):
        raise PermissionError(13, "Permission denied", "roof/site.toml")

    monkeypatch.setattr("windows.site.load_site", refuse)
    assert fault("windows", site, "--coating", "acrylic") == (
        "roof/site.toml: cannot be read or written (Permission denied); check that it is there, "
        "that it is yours, and that its disk has room"
    )


def test_writing_tells_the_name_that_was_given(tmp_path):
    with pytest.raises(OutputError, match=re.escape(f"{tmp_path / 'a' / 'b'}: cannot be written")):
        write_whole(tmp_path / "a" / "b", "x")


def test_csv_on_the_screen_is_the_csv_of_the_file(good, site, tmp_path):
    screen = good("hours", site, "--coating", "acrylic", "--csv", "-")
    told = good("hours", site, "--coating", "acrylic", "--csv", "out.csv")
    assert (tmp_path / "out.csv").read_text() == screen
    assert f"96 hours, {screen.splitlines()[0].count(',') + 1} columns" in told
    assert not (tmp_path / "-").exists()


def test_an_hour_on_the_screen_tells_why(good, site):
    """A gust that is not known leaves only the stop for people open; a storm stops them."""
    lines = (site / "weather.csv").read_text().splitlines()
    gusts = {"2026-09-22T15:00Z": "", "2026-09-22T16:00Z": "25.0", "2026-09-21T15:00Z": "25.0"}
    for n, line in enumerate(lines):
        when, *cells = line.split(",")
        if when in gusts:
            lines[n] = ",".join([when, *cells[:4], gusts[when], *cells[5:]])
    (site / "weather.csv").write_text("\n".join(lines) + "\n")
    shown = good("hours", site, "--coating", "acrylic").splitlines()
    told = {line[:16]: re.split("  +", line)[-2:] for line in shown}
    assert told["Tue Sep 22 10:00"] == ["UNKNOWN", "STOP crew safety?"]
    assert told["Tue Sep 22 11:00"] == ["BLOCKED", "STOP crew safety"]
    assert told["Mon Sep 21 10:00"] == ["BLOCKED", "STOP crew safety, no_rain"]


def test_two_tables_for_one_screen_are_refused(fault, site):
    text = fault("hours", site, "--coating", "acrylic", "--csv", "-", "--json")
    assert "both want the screen" in text


# --- what is printed ---------------------------------------------------------------------------


def strict(text):
    def refuse(token):
        raise AssertionError(f"{token} is not JSON")

    return json.loads(text, parse_constant=refuse)


def test_json_of_every_command_is_json(good, site, cloudless, tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('based_on = "acrylic"\n')
    where = [site, "--coating", "acrylic"]
    hours = strict(good("hours", *where, "--json"))["hours"]
    assert len(hours) == 96
    assert {row["surface_temp_c"] for row in hours} == {None}, "unknown is null"
    assert len(strict(good("windows", *where, "--coating", "sebs", "--json"))["jobs"]) == 2
    assert "acrylic" in [entry["name"] for entry in strict(good("coatings", "list", "--json"))]
    assert strict(good("coatings", "show", "acrylic", "--json"))["gates"]
    assert strict(good("coatings", "check", own, "--json"))["sound"] is True
    demo = strict(good("demo", "--json"))
    assert len({job["site"] for job in demo["jobs"]}) == 3
    assert Path(demo["page"]).read_text().lower().startswith("<!doctype html>")


@pytest.mark.parametrize("command", ["windows", "hours"])
def test_units(good, site, command):
    us = good(command, site, "--coating", "acrylic")
    si = good(command, site, "--coating", "acrylic", "--units", "si")
    assert "°F" in us
    assert "°C" not in us
    assert "°C" in si
    assert "°F" not in si
    assert "°C" in good("coatings", "show", "acrylic", "--units", "si")


def test_page_in_si(good, site, tmp_path):
    good("windows", site, "--coating", "acrylic", "--units", "si", "--page", "p.html")
    assert "°C" in (tmp_path / "p.html").read_text()


def test_same_coating_twice_is_shown_once(good, site):
    one = good("windows", site, "--coating", "acrylic", "--json")
    assert good("windows", site, "--coating", "acrylic", "--coating", "acrylic", "--json") == one


# --- the console script ------------------------------------------------------------------------


def script(*arguments, **options):
    environment = {**os.environ, "COLUMNS": "80"} | options.pop("env", {})
    return subprocess.run(
        [SCRIPT, *(str(a) for a in arguments)],
        capture_output=True,
        timeout=60,
        check=False,
        env=environment,
        **options,
    )


@pytest.fixture
def zoned(site):
    """Return a site that tells its zone, so that no process loads a map of the world for it."""
    text = (site / "site.toml").read_text()
    (site / "site.toml").write_text(f'timezone = "America/Chicago"\n{text}')
    return site


def test_script_tells_a_fault_in_one_line_and_no_traceback():
    found = script("coatings", "show", "acrilic")
    assert found.returncode == 1
    assert found.stdout == b""
    assert found.stderr.startswith(b"dewgap: coating 'acrilic' is not known; did you mean")
    assert found.stderr.count(b"\n") == 2
    assert found.stderr.endswith(b"\nNext: dewgap coatings list\n")


def test_piped_output_is_plain(zoned):
    found = script("windows", zoned, "--coating", "acrylic", env={"TERM": "xterm-256color"})
    assert (found.returncode, found.stderr) == (0, b"")
    assert b"\x1b" not in found.stdout
    assert "°F" in found.stdout.decode()
    assert max(len(line) for line in found.stdout.decode().splitlines()) > 80, "nothing is cut"


def test_output_that_has_no_sign_for_a_letter(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('based_on = "acrylic"\ntitle = "Pøint"\n', encoding="utf-8")
    for more in ([], ["--json"]):
        found = script("coatings", "show", own, *more, env={"PYTHONIOENCODING": "ascii"})
        assert (found.returncode, found.stderr) == (0, b"")
    assert json.loads(found.stdout)["title"] == "Pøint"


def test_reader_that_goes_away_is_no_fault(zoned):
    process = subprocess.Popen(
        [SCRIPT, "hours", str(zoned), "--coating", "acrylic", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    with contextlib.closing(process.stdout) as out:
        assert out.read(1) == b"{"
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait(timeout=60) in {0, 1}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_full_disk_behind_the_output_is_one_line():
    with open("/dev/full", "wb") as full:
        found = subprocess.run(
            [SCRIPT, "coatings", "show", "acrylic"],
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )
    assert found.returncode == 1
    assert found.stderr == b"dewgap: the output cannot be written (No space left on device)\n"
