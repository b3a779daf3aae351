"""A command without a process of its own, for fixtures that several tests share."""

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from types import SimpleNamespace

import pytest

from windows.cli import main


def status_of(*words):
    """Run the command with these words, as its console script does; return its exit status."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["dewgap", *(str(each) for each in words)])
        try:
            main()
        except SystemExit as end:
            return end.code or 0
    return 0


def ran_here(*arguments, cwd, err=None):
    """Run the command in this process: one of its own takes a second to begin.

    ``err`` is what to write its errors to, for who reads them meanwhile.
    """
    out, err = io.StringIO(), io.StringIO() if err is None else err
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.chdir(cwd)
        status = status_of(*arguments)
    return SimpleNamespace(status=status, out=out.getvalue(), err=err.getvalue())
