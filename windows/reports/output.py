"""Write output files whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from windows.errors import OutputError

__all__ = ["write_whole"]


def write_whole(path: Path | str, text: str) -> Path:
    """Write a text file under a temporary name and rename it; return its path.

    Raises
    ------
    OutputError
        If the folder is missing or cannot be written to; an older file is then left as it was.
    """
    path = Path(path)
    try:
        with tempfile.NamedTemporaryFile(
            "w",
            encoding="utf-8",
            newline="",
            dir=path.parent,
            prefix=f".{path.name}.",
            delete=False,
        ) as file:
            temporary = Path(file.name)
            file.write(text)
    except OSError as fault:
        raise OutputError(
            f"{path}: cannot be written ({fault.strerror}); name a folder that exists and that "
            "you may write to"
        ) from None
    try:
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except OSError as fault:
        temporary.unlink(missing_ok=True)
        raise OutputError(
            f"{path}: cannot be replaced ({fault.strerror}); close it or choose another name"
        ) from None
    return path


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
