"""Bars and signs of work: on a terminal only, and never where it is to be quiet."""

import io
import sys

import pytest

from windows.cli.printing import is_silent, silenced
from windows.cli.progress import bar, busy


class Screen(io.StringIO):
    """A terminal that remembers what was shown."""

    def isatty(self):
        return True


def watched(monkeypatch):
    """Put a terminal where errors go; within a test, since capturing begins anew with each."""
    shown = Screen()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return shown


def work():
    with bar("years", 3) as told:
        told("2021 fetched")
    with busy("laying the job"):
        pass


def test_a_terminal_shows_what_is_being_done(monkeypatch, capsys):
    screen = watched(monkeypatch)
    work()
    assert "2021 fetched" in screen.getvalue()
    assert "1/3" in screen.getvalue()
    assert "laying the job" in screen.getvalue()
    assert capsys.readouterr().out == ""


def test_nothing_is_shown_where_it_is_to_be_quiet(monkeypatch):
    screen = watched(monkeypatch)
    with silenced(True):
        work()
    assert screen.getvalue() == ""
    assert not is_silent()


def test_nothing_is_shown_where_nobody_looks(monkeypatch):
    pipe = io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    work()
    assert pipe.getvalue() == ""


def test_nothing_is_shown_where_there_are_no_errors_to_write_to(monkeypatch):
    monkeypatch.setattr(sys, "stderr", None)
    with busy("laying the job"):
        pass


def test_a_fault_meanwhile_goes_through_and_leaves_the_monkeypatch(monkeypatch):
    screen = watched(monkeypatch)
    with pytest.raises(ValueError, match="no"), busy("laying the job"):
        raise ValueError("no")
    assert screen.getvalue().endswith("\x1b[2K")
