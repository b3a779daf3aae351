"""Photos of a log: files in the job's folder, kept by name, length and SHA-256, never by copy."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from windows.errors import LogError
from windows.log.entries import Photo

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.log.entries import Entry

__all__ = ["changed_photos", "photo_of"]

_LOG = "log.sqlite"


def photo_of(folder: Path, path: Path) -> Photo:
    """Return a photo by reference; its name is told from the job's folder.

    Raises
    ------
    LogError
        If it is no file that can be read, or lies outside the folder, through a link too.
    """
    real, home = Path(os.path.realpath(path)), Path(os.path.realpath(folder))
    if not real.is_relative_to(home):
        raise LogError(
            f"{path}: lies outside the job's folder {folder}, and a log names nothing outside it; "
            "copy the photo into the folder and name it there"
        )
    name = real.relative_to(home).as_posix()
    if not name.isprintable():
        raise LogError(f"{path!s}: its name has control characters; rename the photo")
    if real.name.startswith(_LOG) and real.parent == home:
        raise LogError(f"{path}: is the log itself; name a photo")
    if real.exists() and not real.is_file():
        raise LogError(f"{path}: is no file; name a photo")  # a pipe would never end
    try:
        content = real.read_bytes()
    except OSError as fault:
        raise LogError(f"{path}: cannot be read ({fault.strerror}); name a photo") from None
    return Photo(file=name, sha256=hashlib.sha256(content).hexdigest(), size=len(content))


def changed_photos(folder: Path, entries: Iterable[Entry]) -> list[str]:
    """Return what is no longer as the log has it, a sentence for each photo that is not."""
    told = []
    for entry in entries:
        for photo in entry.body.photos:
            state = _state(folder, photo)
            if state:
                told.append(f"entry {entry.number}: photo {photo.file} {state}")
    return told


def _state(folder: Path, photo: Photo) -> str:
    """Return what is wrong with a photo. A name that leads out of the folder is not followed."""
    home = Path(os.path.realpath(folder))
    path = Path(os.path.realpath(home / photo.file))
    if path.exists() and not path.is_file():
        return "is no file any more"
    if not path.is_relative_to(home):
        return "is named outside the job's folder; it is not looked at"
    try:
        content = path.read_bytes()
    except OSError:
        return "is not there"
    same = hashlib.sha256(content).hexdigest() == photo.sha256
    return "" if same else "is not the one that was entered"
