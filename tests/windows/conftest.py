"""Running the command in-process as a person would, and a small site to run it on."""

import shutil
import time
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import pytest
import typer.main
from ran_here import status_of
from urllib3.util import retry

DEMO_SITES = Path(__file__).parents[2] / "demo_sites"


@pytest.fixture(scope="session", autouse=True)
def commands_built_once():
    """Build the tree of all commands once: each run of one would take a tenth of a second for it.

    A command of a process of its own builds it as a user's does.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typer.main, "get_command", cache(typer.main.get_command))
        yield


@pytest.fixture
def dewgap(capsys, monkeypatch, tmp_path):
    """Run the command as its console script does; returns exit status, output and errors."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        capsys.readouterr()
        status = status_of(*arguments)
        told = capsys.readouterr()
        return status, told.out, told.err

    return run


@pytest.fixture
def good(dewgap):
    """Run a command that must work, and return its output; of windows there may be none."""

    def run(*arguments):
        status, out, err = dewgap(*arguments)
        allowed = (0, 3, 4) if arguments[0] == "windows" else (0,)
        assert (status in allowed, err) == (True, ""), (status, err)
        return out

    return run


@pytest.fixture
def fault(dewgap):
    """Run a command that must fail with one sentence, and return it."""

    def run(*arguments):
        status, out, err = dewgap(*arguments)
        assert (status, out) == (1, "")
        assert err.startswith("dewgap: ")
        sentence, _, step = err.removeprefix("dewgap: ").rstrip("\n").partition("\nNext: ")
        assert "\n" not in sentence + step
        return sentence

    return run


@pytest.fixture
def site(tmp_path):
    """Return a copy of a demo site with three days of weather."""
    folder = tmp_path / "site"
    shutil.copytree(DEMO_SITES / "cool_north", folder)
    lines = (folder / "weather.csv").read_text().splitlines(keepends=True)
    (folder / "weather.csv").write_text("".join(lines[: 4 + 96]))
    return folder


@pytest.fixture
def waits(monkeypatch):
    """Do not sleep between retries; return what was to be waited. [s]"""
    waited = []
    monkeypatch.setattr(retry, "time", SimpleNamespace(time=time.time, sleep=waited.append))
    return waited
