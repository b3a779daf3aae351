"""Errors of SQLite in one sentence: what is wrong with a log's file, and how to mend it."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from windows.errors import LogError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["DAMAGED", "FULL", "PATIENCE_S", "sentences"]

PATIENCE_S = 30.0
"""How long one program waits for another to be done writing. A batch of 100,000 entries holds the
lock for some ten seconds. (own choice) [s]"""

DAMAGED = "is damaged; keep it as it is and run: dewgap log repair"
"""What is told of a file that cannot be read as a log."""

FULL = "there is no room on the disk; nothing of this entry was written; make room and try again"
_WHY = {
    sqlite3.SQLITE_BUSY: (
        f"is being written to by another program for over {PATIENCE_S:.0f} seconds; try again "
        "when that is done"
    ),
    sqlite3.SQLITE_LOCKED: "is in use by another part of this program; try again",
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_IOERR_SHMSIZE: FULL,
    sqlite3.SQLITE_READONLY: (
        "cannot be written to; change the rights of the file and its folder, or work on a copy"
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "cannot be opened; look whether the file and its folder may be read and written to, or "
        "work on a copy of it and of the file of that name with -wal"
    ),
    sqlite3.SQLITE_PERM: "cannot be opened; change the rights of the file",
    sqlite3.SQLITE_NOTADB: (
        "is not a field log; name the file of the log, or, if it was one, run: dewgap log repair"
    ),
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    # An error of SQL can only come from a table that is not as it was made.
    sqlite3.SQLITE_ERROR: DAMAGED,
}
"""What an error of SQLite means for who reads it: https://www.sqlite.org/rescode.html."""


@contextmanager
def sentences(path: Path, to: Path | None = None) -> Iterator[None]:
    """Tell errors of SQLite in one sentence; ``to`` is the file written to if it is another."""
    try:
        yield
    except sqlite3.Error as fault:
        code = getattr(fault, "sqlite_errorcode", None)
        if code is None:
            why = f"cannot be used ({fault}); open it again"
        elif code & 0xFF == sqlite3.SQLITE_IOERR and code not in _WHY:
            why = (
                f"could not be read or written ({fault}); nothing of this entry was written; look "
                "whether the disk has room and is whole, and try again"
            )
        else:
            why = _WHY.get(code) or _WHY.get(code & 0xFF) or f"cannot be used ({fault})"
        where = to if to is not None and why != DAMAGED else path
        raise LogError(f"{where}: {why}") from None
