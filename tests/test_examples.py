"""The example scripts of the docs: each runs as it stands and says what it should."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from windows.safety import GOVERNS

FOLDER = Path(__file__).parents[1] / "docs" / "examples"
SCRIPTS = sorted(path.stem for path in FOLDER.glob("*.py"))
LONGEST = 70


def told(name, tmp_path):
    """Run a script as a person would, in another folder; return the lines it prints."""
    done = subprocess.run(
        [sys.executable, "-W", "error", FOLDER / f"{name}.py"],
        capture_output=True, text=True, encoding="utf-8", cwd=tmp_path, check=False,
        env={"PYTHONIOENCODING": "utf-8", "PATH": ""},
    )  # fmt: skip
    assert done.stderr == ""
    assert done.returncode == 0
    assert list(tmp_path.iterdir()) == []  # it leaves nothing behind
    return done.stdout.splitlines()


def test_all_are_there():
    assert SCRIPTS == ["data", "estimator", "scheduler", "superintendent"]


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_is_short_and_uses_public_names_alone(name):
    text = (FOLDER / f"{name}.py").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST
    used = set(re.findall(r"^from (\w[\w.]*) import", text, re.MULTILINE))
    assert {module for module in used if module.startswith("windows")} == {
        "windows", "windows.demo"
    }  # fmt: skip


def test_the_scheduler_sees_windows_the_unknown_and_the_plan(tmp_path):
    lines = told("scheduler", tmp_path)
    assert lines[0] == "Juniper Bench school gym (invented)"
    assert "silicone_high_solids: 8 windows, 78 h" in lines
    windows = [line for line in lines if "closed by" in line]
    assert len(windows) == 8 + 6
    assert all("depends on the data sheet" in line or "robust" in line for line in windows)
    assert any("NOT KNOWN: surface_dry: wet_mm is unknown" in line for line in lines)
    assert any(line.startswith("9 of 9 layers of sections laid by Mon May 18") for line in lines)
    work = [line for line in lines if re.match(r"  \w{3} May \d\d \d\d:\d\d to .*: \w+ \(", line)]
    assert len(work) == 9
    cautions = lines[lines.index("Cautions that go with this plan") + 1 : -1]
    assert any(line.startswith("  - Fall edge") for line in cautions)
    assert any(line.startswith("  - Data sheet: 'base', recoat closes") for line in cautions)
    assert len(cautions) == len(set(cautions))
    assert lines[-1] == GOVERNS


def test_the_estimator_sees_months_and_starts(tmp_path):
    lines = told("estimator", tmp_path)
    months = [line.split() for line in lines if re.match(r" +(Apr|May|Jun|Jul|Aug|Sep|Oct) ", line)]
    assert len(months) == 7
    for _, scheduled, p20, p50, cost in months:
        assert 0 <= float(p20) <= float(p50) <= float(scheduled)
        assert cost in {"no_rain", "rising"}
    starts = [line.split() for line in lines if re.match(r" +2027-\d\d-\d\d 2027", line)]
    assert len(starts) == 8
    assert all(start < p50 <= p80 and int(chance) >= 80 for start, p50, p80, _, chance in starts)
    assert "- Best start: week of Jun 21 2027, P80 23 calendar days." in lines
    assert lines[-1] == GOVERNS


def test_the_superintendent_sees_what_lies_bare_and_tomorrow(tmp_path):
    lines = told("superintendent", tmp_path)
    assert lines[0] == "2 bare layers at Tamarack Point cold store (invented)"
    assert lines.index("B, primer: NO WINDOW LEFT") < lines.index(
        "A, base: DEPENDS ON THE DATA SHEET"
    )
    assert "  down before Mon Sep 28 12:00" in lines
    assert "  some data sheets say Tue Sep 22 12:00: see yours" in lines
    assert "  - wash, and lay the primer again" in lines
    assert "  - Rain before set runs off as a stain: plug or watch drains and downspouts." in lines
    hours = lines[lines.index("Acrylic on 2026-09-23") + 1 : -1]
    assert [line.split()[0] for line in hours] == [f"{hour:02d}:00" for hour in range(7, 17)]
    assert [line.split("point  ")[1] for line in hours][2:6] == [
        "OK", "OK", "OK", "BLOCKED wind_max_spray"
    ]  # fmt: skip
    assert lines[-1] == GOVERNS


def test_the_data_person_sees_the_fault_of_the_unit_and_the_joined_table(tmp_path):
    lines = told("data", tmp_path)
    assert lines[0].startswith("As it came: DataFrame: column 'air_temp_f' is not known: convert")
    table = [line.split() for line in lines if "(invented)" in line and line[-1].isdigit()]
    assert [row[-3:] for row in table] == [
        ["24", "29", "78"], ["11", "7", "35"], ["38", "31", "43"]
    ]  # fmt: skip
    assert "Rows by state: {'OK': 50, 'UNKNOWN': 17}" in lines
    assert any(re.match(r"gate_no_rain +22 +27$", line) for line in lines)
    assert any(line.startswith("Fall edge: ") for line in lines)
    assert lines[-1] == GOVERNS
