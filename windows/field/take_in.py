"""Taking a file into the log of a job: an export, a table filled in by hand, a logger's table."""

from __future__ import annotations

import os
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from windows.field.desk import flagged, laid_by_file, opening, with_beside
from windows.log.chain import FIRST, linked
from windows.log.entries import (
    Draft,
    Instrument,
    Opening,
    Placement,
    Preparation,
    Reading,
    standing,
)
from windows.log.exchange import apply_import, not_in, plan_import
from windows.log.store import create_empty, create_log, open_log

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from windows.field.desk import Desk
    from windows.log.entries import Body, Entry
    from windows.log.file_rows import Row
    from windows.log.store import FieldLog

__all__ = ["Taken", "take_readings", "take_rows"]


@dataclass(frozen=True)
class Taken:
    """What came of a file: entries written, and rows that the log had already."""

    entries: tuple[Entry, ...]
    known: int


def take_rows(
    at: Desk, rows: Sequence[Row], author: str, *, kind: str | None, corrections: bool
) -> Taken:
    """Take in the rows of an export or of a table filled in by hand, all of them or none.

    New entries are checked as if each had been entered on its own, one after the other.

    Raises
    ------
    LogError
        If a row has a fault, or the log cannot take it.
    """
    # An export of a whole log begins with its own opening.
    whole = any(row.cells.get("kind") == Opening.kind for row in rows)
    with _log(at, author, whole=whole) as log:
        plan = plan_import(
            rows, log, author=author, zone=at.site.zone, kind=kind, correct=corrections,
            settle=lambda body: _named(at, body),
        )  # fmt: skip
        replaced = {entry.corrects for entry in plan.adopt}
        before = [e for e in log.entries(*_ASKED, standing=True) if e.number not in replaced]
        before += [entry for entry in standing(plan.adopt) if entry.kind in _ASKED]
        # In the order in which they will be written.
        drafts = [*plan.new, *(draft for _, draft in plan.changed)]
        bodies = [*(entry.body for entry in before), *(draft.body for draft in drafts)]
        told = _checked(at, drafts, [*before, *laid_by_file(at, bodies)])
        changed = zip((number for number, _ in plan.changed), told[len(plan.new) :], strict=True)
        checked = replace(plan, new=told[: len(plan.new)], changed=tuple(changed))
        return Taken(apply_import(checked, log), plan.known)


def take_readings(at: Desk, readings: Sequence[Reading], author: str) -> Taken:
    """Take in the readings of a logger, with what the source says of their hours beside each.

    They are not flagged one by one: a logger reads also when nobody works.

    Raises
    ------
    LogError
        If the log cannot take them.
    """
    with _log(at, author, whole=False) as log:
        fresh, known = not_in(log, [Draft(author, reading) for reading in readings])
        placements = list(log.entries(Placement.kind, standing=True))
        bodies = [draft.body for draft in fresh if isinstance(draft.body, Reading)]
        drafts = [Draft(author, body) for body in with_beside(at, bodies, placements)]
        return Taken(log.append(drafts), known)


_ASKED = (Placement.kind, Preparation.kind, Instrument.kind, Reading.kind)
"""Kinds that an entry is checked against."""


@contextmanager
def _log(at: Desk, author: str, *, whole: bool) -> Iterator[FieldLog]:
    """Give the log, begun here if there is none; one that was begun in vain is taken away."""
    if os.path.exists(at.log):
        with open_log(at.log) as log:
            yield log
        return
    begun = create_empty(at.log) if whole else create_log(at.log, opening(at), author)
    head = begun.head
    try:
        with begun as log:
            yield log
    except BaseException:
        with open_log(at.log) as log:
            vain = log.head == head
        if vain:
            for ending in ("", "-wal", "-shm"):
                at.log.with_name(at.log.name + ending).unlink(missing_ok=True)
        raise


def _checked(at: Desk, drafts: Sequence[Draft], before: Sequence[Entry]) -> tuple[Draft, ...]:
    """Return drafts with their flags, each checked against what was before it in the file too.

    What a draft corrects is no longer there for it, and for those after it.
    """
    known, made = list(before), []
    for n, draft in enumerate(drafts):
        known = [entry for entry in known if entry.number != draft.corrects]
        body = flagged(at, draft.body, known)
        made.append(replace(draft, body=body))
        if body.kind in _ASKED:
            known.append(linked(made[-1], _UNWRITTEN + n, at.now.to_pydatetime(), FIRST))
    return tuple(made)


_UNWRITTEN = 2**40
"""Numbers from here on stand for entries that have none yet."""


def _named(at: Desk, body: Body) -> Body:
    """Return a body whose section and layer are the job's own.

    Raises
    ------
    LogError
        If they are not.
    """
    told = {}
    section, name = (getattr(body, field, "") for field in ("section", "layer"))
    if section:
        at.section(section)
    if name:
        layer = at.layer(name)
        told["layer"] = layer.name
        if isinstance(body, Placement) and not body.coating:
            told["coating"] = layer.coating
    return body.model_copy(update=told)
