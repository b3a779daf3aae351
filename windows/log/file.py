"""The file of a log: opened with its settings, or made apart and given its name when finished.

What is written is on the disk when a transaction ends: write-ahead logging with a sync at every
commit (https://www.sqlite.org/wal.html, https://www.sqlite.org/pragma.html#pragma_synchronous).
"""

from __future__ import annotations

import os
import sqlite3
import stat
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from windows.errors import LogError, LogMovedError
from windows.log.schema import PAGE_SIZE, SETTINGS, check_format, migrate
from windows.log.sqlite_errors import PATIENCE_S

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["connect", "connect_log", "connect_new", "new_file", "publish"]


def connect(path: Path, how: str) -> sqlite3.Connection:
    """Open a file that exists, with the settings of a log; errors are those of sqlite3."""
    db = sqlite3.connect(
        f"{path.absolute().as_uri()}?{how}", uri=True, timeout=PATIENCE_S, isolation_level=None
    )
    # A damaged text is still read, so that its entry can be named.
    db.text_factory = _text
    try:
        for setting in SETTINGS:
            db.execute(setting)
    except BaseException:
        db.close()
        raise
    return db


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "surrogateescape")


def connect_log(path: Path, *, read_only: bool) -> sqlite3.Connection:
    """Open the file of a log in the format of this version; errors are those of sqlite3, and:

    Raises
    ------
    LogError
        If there is none, or it is not one, is damaged, or is newer than this version.
    """
    _check_file(path)
    if not read_only:
        db = connect(path, "mode=rw")
    elif os.access(path.parent, os.W_OK) or _has_content(path.with_name(f"{path.name}-wal")):
        db = connect(path, "mode=ro")
    else:
        # Nobody can write there and nothing waits beside the file: it is read as it is.
        db = connect(path, "mode=ro&immutable=1")
    try:
        check_format(path, db, read_only)
    except BaseException:
        db.close()
        raise
    return db


def _check_file(path: Path) -> None:
    try:
        found = path.stat()
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise LogError(
            f"{path}: there is no log yet: dewgap log place or read begins one"
        ) from None
    except OSError as fault:
        raise LogError(
            f"{path}: cannot be read ({fault.strerror}); change the rights of the file"
        ) from None
    if stat.S_ISDIR(found.st_mode):
        raise LogError(f"{path}: is a folder; name the file of the log")
    if found.st_size == 0:
        raise LogError(f"{path}: is empty, not a field log; put a backup in its place")


def _has_content(path: Path) -> bool:
    try:
        return path.stat().st_size > 0
    except OSError:
        return False


def connect_new(made: Path) -> sqlite3.Connection:
    """Make the file of a log without entries; errors are those of sqlite3."""
    db = sqlite3.connect(made, isolation_level=None)
    try:
        db.execute(f"PRAGMA page_size = {PAGE_SIZE}")
        db.execute("PRAGMA journal_mode = WAL")
        for setting in SETTINGS:
            db.execute(setting)
        migrate(db, 0)
    except BaseException:
        db.close()
        raise
    return db


@contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """Refuse a path that exists; give one in a folder beside it that goes away afterwards.

    Raises
    ------
    LogMovedError
        If the path exists, or comes to exist meanwhile.
    LogError
        If its folder cannot be written to.
    """
    if os.path.lexists(path):
        raise LogMovedError(f"{path}: exists already and is not written over; name a new file")
    try:
        with tempfile.TemporaryDirectory(
            dir=path.parent, prefix=".dewgap-", ignore_cleanup_errors=True
        ) as folder:
            yield Path(folder) / "new"
    except FileExistsError:
        raise LogMovedError(f"{path}: was made meanwhile by another; name a new file") from None
    except OSError as fault:
        raise LogError(
            f"{path}: cannot be written ({fault.strerror}); name a file in a folder that exists, "
            "has room and is yours to write to"
        ) from None


def publish(made: Path, path: Path) -> None:
    """Give a finished file its name, at once and never over another file.

    Raises
    ------
    FileExistsError
        If the name was taken meanwhile.
    """
    try:
        os.link(made, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        made.rename(path)
    with suppress(OSError):  # the name is on the disk too; Windows does not open folders
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
