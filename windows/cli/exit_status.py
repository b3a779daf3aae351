"""The exit statuses of every command; what they mean for each stands in the reference."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["ExitStatus"]


class ExitStatus(IntEnum):
    """How a command ended, for whoever started it."""

    DONE = 0
    """Done; where a question was asked, the answer is a yes."""
    ERROR = 1
    """A fault of the input, the machine, or what was to be proved."""
    USAGE = 2
    """The command line itself is wrong: click says it and points to ``--help``."""
    NO = 3
    """A whole answer, and it is no: no window left, nothing laid, nobody sent, a coat stranded."""
    UNDETERMINED = 4
    """What is not known decides: get longer or better weather, or readings, and ask again."""
