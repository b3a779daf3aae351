"""Where output files may be written, and what was written to them earlier."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from windows.errors import OutputError
from windows.whole_file import write_whole

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

__all__ = ["apart", "check_place", "read_earlier", "write_whole"]


def apart(outputs: Sequence[Path], inputs: Sequence[Path]) -> None:
    """Refuse to write a file over one that is read, or over another that is written.

    Raises
    ------
    OutputError
        If two of them are one file.
    """
    taken = {os.path.realpath(path) for path in inputs}
    for path in outputs:
        real = os.path.realpath(path)
        if real in taken:
            raise OutputError(f"{path}: is read, or written as another output; name another file")
        taken.add(real)


def check_place(path: Path) -> None:
    """Refuse a place to which nothing can be written, before the work for it is done.

    Raises
    ------
    OutputError
        If it is a folder, or lies in none.
    """
    if os.path.isdir(path):
        raise OutputError(f"{path}: is a folder; name a file in it")
    if not os.path.isdir(path.absolute().parent):
        raise OutputError(f"{path}: its folder does not exist; name a file in one that does")


def read_earlier(path: Path) -> bytes | None:
    """Return what was written to a file earlier, None if there is no such file.

    Raises
    ------
    OutputError
        If there is something that cannot be read.
    """
    if not os.path.exists(path):
        return None
    try:
        return path.read_bytes()
    except OSError as fault:
        raise OutputError(
            f"{path}: cannot be read ({fault.strerror}); name another file"
        ) from None
