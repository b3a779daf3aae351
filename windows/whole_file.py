"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from windows.errors import OutputError

__all__ = ["write_whole"]

_SQLITE = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat.html, section 1.3.1


def write_whole(path: Path | str, content: str | bytes) -> Path:
    """Write a file under a temporary name and rename it; return its path.

    A link is followed, and what is no file (a device, a pipe) is written to as it is. A database is
    never written over: it may be the log of a job.

    Raises
    ------
    OutputError
        If the folder is missing or cannot be written to; an older file is then left as it was.
    """
    path = Path(path)
    if os.path.isdir(path):
        raise OutputError(f"{path}: is a folder; name a file in it")
    data = (
        content
        if isinstance(content, bytes)
        else content.encode("utf-8", errors="backslashreplace")
    )
    try:
        whole = Path(os.path.realpath(path))
        if _is_database(whole):
            raise OutputError(f"{path}: is a database, as a log is one; name another file")
        if whole.exists() and not whole.is_file():
            whole.write_bytes(data)
        else:
            _replace(whole, data)
    except OSError as fault:
        raise OutputError(
            f"{path}: cannot be written ({fault.strerror}); name a file in a folder that exists, "
            "has room and is yours to write to"
        ) from None
    return path


def _is_database(path: Path) -> bool:
    """Tell whether a file is a database, or has the name of what waits beside one."""
    for ending in ("-wal", "-shm", "-journal"):
        if path.name.endswith(ending) and path.name != ending:
            path = path.with_name(path.name.removesuffix(ending))
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(len(_SQLITE)) == _SQLITE


def _replace(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".dewgap-")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        temporary.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
