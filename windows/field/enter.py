"""Writing an entry: its fields checked, its flags told, the log begun if there is none."""

from __future__ import annotations

import os
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd

from cure_models.toml_input import validated
from windows.errors import LogError, LogMovedError
from windows.field.checked import flagged, known_to, laid_by_file, with_beside
from windows.log.entries import Draft, Opening, Reading
from windows.log.photos import photo_of
from windows.log.store import FieldLog, begin_log, open_log

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from windows.field.desk import Desk
    from windows.log.entries import Body, Entry

__all__ = ["at_log", "enter", "entry_at", "opening"]


Written = TypeVar("Written")


def enter(
    at: Desk,
    kind: type[Body],
    fields: dict[str, Any],
    photos: Sequence[Path],
    author: str,
    corrects: int | None,
) -> Entry:
    """Write one entry, with its flags, and return it as it stands in the log.

    Raises
    ------
    LogError
        If a field has a fault, a photo lies outside the job's folder, or the log cannot take it;
        nothing is written then.
    """
    pictures = [photo_of(at.folder, path) for path in photos]
    told = {name: _plain(value) for name, value in fields.items()} | {"photos": pictures}
    body = validated(kind, told, f"this {kind.kind.replace('_', ' ')}", LogError)
    known = known_to(at.log, body)
    before = [e for e in known if e.number != corrects]
    by_file = laid_by_file(at, [body, *(e.body for e in known)])
    if isinstance(body, Reading):
        (body,) = with_beside(at, [body], [*before, *by_file])
    body = flagged(at, body, [*before, *by_file])
    draft = Draft(author, body, corrects)
    return at_log(at, author, lambda log: log.append([draft])[0])


def at_log(
    at: Desk, author: str, work: Callable[[FieldLog], Written], *, opens: bool = True
) -> Written:
    """Do work that writes to the log, which is begun here if there is none.

    Another program may begin it, or write to it, at the same time: then it is all done anew. A log
    that is begun gets its name when all of the work is written, and is not there if that fails.

    Parameters
    ----------
    at, author
        Which log, and who begins it.
    work
        Writes to a log, and raises `LogMovedError` if others wrote since it looked.
    opens
        Whether a log that is begun gets an opening; entries of an export have their own.
    """
    for _ in range(_TRIES):
        try:
            return _once(at, author, work, opens=opens)
        except LogMovedError:
            continue
    return _once(at, author, work, opens=opens)


_TRIES = 4


def _once(
    at: Desk, author: str, work: Callable[[FieldLog], Written], *, opens: bool
) -> Written:
    if os.path.lexists(at.log):
        with open_log(at.log) as log:
            return work(log)
    first = [Draft(author, opening(at))] if opens else []
    with begin_log(at.log, first) as log:
        return work(log)


def entry_at(at: Desk, number: int) -> datetime:
    """Return when what an entry tells of was; the present if there is no such entry."""
    if os.path.exists(at.log):
        with open_log(at.log, read_only=True) as log:
            found = log.get(number)
        if found is not None:
            return found.at
    return at.now.to_pydatetime()


def opening(at: Desk) -> Opening:
    """Return the first entry of a job's log."""
    from uuid import uuid4

    return Opening(
        at=at.now.to_pydatetime(), log=uuid4().hex, site=at.site.name, zone=at.site.zone.key,
        system=at.system.name,
    )  # fmt: skip


def _plain(value: Any) -> Any:
    """Return a field as an entry takes it."""
    return value.to_pydatetime() if isinstance(value, pd.Timestamp) else value
