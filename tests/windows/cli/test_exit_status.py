"""The exit status of commands, case by case, and the page that tells them."""

import re
import shutil
from pathlib import Path

import command_tree
import pytest

from windows.cli.exit_status import ExitStatus

ROOT = Path(__file__).parents[3]
DEMO_SITES = ROOT / "demo_sites"
PAGE = ROOT / "docs" / "reference" / "exit_statuses.md"
COATING = ("--coating", "acrylic")
RECOAT = ("recoat", "roof", "--system", "acrylic_reinforced", "--layer", "base", "--placed")
BASE = (*RECOAT, "2026-09-22T10:00", "2026-09-22T13:00", "--now")


@pytest.fixture
def roof(tmp_path):
    """Return a demo site as it was typed."""
    shutil.copytree(DEMO_SITES / "cool_north", tmp_path / "roof")
    return tmp_path / "roof"


def give_rain(roof, told):
    """Write the same into every cell of the rain."""
    path = roof / "weather.csv"
    lines = path.read_text().splitlines()
    at = lines[3].split(",").index("rain_mm")
    for n, line in enumerate(lines[4:], start=4):
        cells = line.split(",")
        lines[n] = ",".join(told if k == at else cell for k, cell in enumerate(cells))
    path.write_text("\n".join(lines) + "\n")


def without_rain(roof):
    """Let nobody know whether it rains."""
    give_rain(roof, "")


def always_wet(roof):
    """Let it rain in every hour."""
    give_rain(roof, "5.0")


def as_it_is(_roof):
    """Leave the site as it is."""


@pytest.mark.parametrize(
    ("status", "weather", "command"),
    [
        (0, as_it_is, ("windows", "roof", *COATING)),
        (0, as_it_is, ("dry", "roof")),
        (0, as_it_is, ("coatings", "show", "acrylic")),
        (0, as_it_is, ("system", "check", "acrylic_two_coat")),
        (0, as_it_is, ("weather", "check", "roof/weather.csv")),
        (0, as_it_is, ("doctor", "--no-network")),
        (0, as_it_is, ("recoat", DEMO_SITES / "gulf_coast", "--system", "acrylic_two_coat",
                       "--layer", "base", "--placed", "2026-06-08T10:00", "2026-06-08T13:30",
                       "--now", "2026-06-08T18:00")),
        (1, as_it_is, ("windows", "nowhere", *COATING)),
        (1, as_it_is, ("coatings", "show", "acrilic")),
        (1, as_it_is, ("system", "check", "acrylic_two_coat", "--over", "silicone")),
        (1, as_it_is, ("log", "verify", "roof")),
        (1, as_it_is, ("doctor", "--no-network", "--cache-dir", "roof/site.toml/x")),
        (2, as_it_is, ("windows", "roof")),
        (2, as_it_is, ("windows", "roof", *COATING, "--colour", "red")),
        (2, as_it_is, ("log", "read")),
        (2, as_it_is, ("nonsense",)),
        (2, as_it_is, ("weather", "nonsense")),
        (3, always_wet, ("windows", "roof", *COATING)),
        (3, always_wet, ("plan", "roof", "--now", "2026-09-22T17:00", "--seconds", "2")),
        (3, as_it_is, ("cover", "roof", "--now", "2026-09-22T17:00")),
        (4, without_rain, ("windows", "roof", *COATING)),
        (4, without_rain, (*BASE, "2026-09-22T18:00")),
        (4, without_rain, ("cover", "roof", "--now", "2026-09-22T17:00")),
    ],
    ids=lambda each: each.__name__ if callable(each) else None,
)  # fmt: skip
def test_the_status_of_a_command(dewgap, roof, status, weather, command):
    weather(roof)
    found, out, err = dewgap(*command)
    assert found == status, (out, err)
    assert bool(out) == (status in (0, 3, 4) or command[0] in {"system", "doctor"})
    if status == ExitStatus.USAGE:
        assert "--help" in err
    assert dewgap(*command, "--quiet")[0] == status


def test_the_names_are_those_of_the_page():
    rows = re.findall(r"(?m)^\| (\d) \|", PAGE.read_text(encoding="utf-8"))
    assert sorted(map(int, rows)) == sorted(ExitStatus)


def test_every_command_is_on_the_page():
    text = PAGE.read_text(encoding="utf-8")
    assert [name for name in command_tree.leaves() if f"`{name}`" not in text] == []


def test_no_other_command_is_on_the_page():
    named = set(re.findall(r"(?m)^\| (`[a-z][^|]*) \|", PAGE.read_text(encoding="utf-8")))
    names = {name for row in named for name in re.findall(r"`([^`]+)`", row)}
    assert names <= set(command_tree.leaves())
