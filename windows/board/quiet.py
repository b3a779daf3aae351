"""Keep what a solver's own library prints away from the output of a command."""

from __future__ import annotations

import ctypes
import os
import sys
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["no_output"]


@contextmanager
def no_output() -> Iterator[None]:
    """Send what is written to the standard output meanwhile to nowhere.

    HiGHS prints a line of its own now and then although it is told not to, and in the midst of JSON
    that is one line too many. It writes through the buffer of C, which has to be emptied in time.
    """
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
        kept = os.dup(1)
    except OSError:  # there is no output to keep clean
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        with suppress(OSError, TypeError, AttributeError):  # no such library by that name
            ctypes.CDLL(None).fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
