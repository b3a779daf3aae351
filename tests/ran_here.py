"""A command without a process of its own, for fixtures that several tests share."""

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from types import SimpleNamespace

import pytest

from windows.cli import main


def ran_here(*arguments, cwd, err=None):
    """Run the command in this process: one of its own takes a second to begin.

    ``err`` is what to write its errors to, for who reads them meanwhile.
    """
    out, err = io.StringIO(), io.StringIO() if err is None else err
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.chdir(cwd)
        patch.setattr(sys, "argv", ["dewgap", *(str(each) for each in arguments)])
        try:
            main()
        except SystemExit as end:
            status = end.code or 0
        else:
            status = 0
    return SimpleNamespace(status=status, out=out.getvalue(), err=err.getvalue())
