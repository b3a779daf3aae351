"""Taking a file into the log of a job: an export, a table filled in by hand, a logger's table."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import pandas as pd

from windows.errors import LogError
from windows.field.checked import flagged, laid_by_file, with_beside
from windows.field.choose import ended
from windows.field.enter import at_log
from windows.field.told import moment
from windows.log.chain import FIRST, linked
from windows.log.entries import (
    Draft,
    Instrument,
    Opening,
    Placement,
    Preparation,
    Rain,
    Reading,
    standing,
)
from windows.log.exchange import apply_import, not_in, plan_import

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.field.desk import Desk
    from windows.log.entries import Body, Entry
    from windows.log.file_rows import Row
    from windows.log.store import FieldLog

__all__ = ["Taken", "take_readings", "take_rows"]

_ASKED = (Placement.kind, Preparation.kind, Instrument.kind, Reading.kind, Rain.kind)
"""Kinds that an entry is checked against."""

_UNWRITTEN = 2**40
"""Numbers from here on stand for entries that have none yet."""


@dataclass(frozen=True)
class Taken:
    """What came of a file: entries written, and how many of its rows the log had already."""

    entries: tuple[Entry, ...]
    known: int


def take_rows(
    at: Desk, rows: Sequence[Row], author: str, *, kind: str | None, corrections: bool
) -> Taken:
    """Take in the rows of an export or of a table filled in by hand, all of them or none.

    New entries are checked like any other, each with all the others of the file beside it.

    Raises
    ------
    LogError
        If a row has a fault, or the log cannot take it.
    """
    if not rows:
        raise LogError("the file has no row to take in; fill some in below its header")

    def work(log: FieldLog) -> Taken:
        plan = plan_import(
            rows, log, author=author, zone=at.site.zone, kind=kind, correct=corrections,
            settle=lambda body: _settled(at, body),
        )  # fmt: skip
        _of_this_site(at, plan.adopt)
        replaced = {entry.corrects for entry in plan.adopt}
        before = [e for e in log.entries(*_ASKED, standing=True) if e.number not in replaced]
        before += [entry for entry in standing(plan.adopt) if entry.kind in _ASKED]
        # In the order in which they will be written.
        drafts = [*plan.new, *(draft for _, draft in plan.changed)]
        bodies = [entry.body for entry in (*before, *plan.adopt)]
        bodies += [draft.body for draft in drafts]
        told = _checked(at, drafts, [*before, *laid_by_file(at, bodies)])
        changed = zip((number for number, _ in plan.changed), told[len(plan.new) :], strict=True)
        checked = replace(plan, new=told[: len(plan.new)], changed=tuple(changed))
        return Taken(apply_import(checked, log), plan.known)

    # An export of a whole log begins with its own opening.
    whole = any(row.cells.get("kind") == Opening.kind for row in rows)
    return at_log(at, author, work, opens=not whole)


def take_readings(at: Desk, readings: Sequence[Reading], author: str) -> Taken:
    """Take in the readings of a logger, with what the source says of their hours beside each.

    They are not flagged one by one: a logger reads also when nobody works.

    Raises
    ------
    LogError
        If one is still to come, or the log cannot take them.
    """
    for reading in readings:
        _done(at, reading)

    def work(log: FieldLog) -> Taken:
        seen = log.head[0]
        fresh, known = not_in(log, [Draft(author, reading) for reading in readings])
        placements = list(log.entries(Placement.kind, standing=True))
        bodies = [draft.body for draft in fresh if isinstance(draft.body, Reading)]
        drafts = [Draft(author, body) for body in with_beside(at, bodies, placements)]
        return Taken(log.append(drafts, after=seen), known)

    return at_log(at, author, work)


def _of_this_site(at: Desk, entries: Sequence[Entry]) -> None:
    """Refuse the log of another site.

    Raises
    ------
    LogError
        If its opening names one.
    """
    for body in (entry.body for entry in entries if isinstance(entry.body, Opening)):
        if (body.site, body.zone) != (at.site.name, at.site.zone.key):
            raise LogError(
                f"the file is the log of {body.site} ({body.zone}), and this is {at.site.name} "
                f"({at.site.zone.key}); take it in at its own site"
            )


def _checked(at: Desk, drafts: Sequence[Draft], before: Sequence[Entry]) -> tuple[Draft, ...]:
    """Return drafts with their flags; the order of the rows of a file makes no difference.

    Each is checked against what the log has and the others of the file, of placements those begun
    before it, without what it corrects, and what others of the file correct.
    """
    replaced = {draft.corrects for draft in drafts}
    entries = [entry for entry in before if entry.number not in replaced]
    entries += [
        linked(draft, _UNWRITTEN + n, at.now.to_pydatetime(), FIRST)
        for n, draft in enumerate(drafts)
        if draft.body.kind in _ASKED
    ]
    # Of thousands of readings none has a part in the checks of another, and the weather of all is
    # worked out at once.
    few = [entry for entry in entries if not isinstance(entry.body, Reading)]
    where = [n for n, draft in enumerate(drafts) if isinstance(draft.body, Reading)]
    readings = [drafts[n].body for n in where]
    told = with_beside(at, [r for r in readings if isinstance(r, Reading)], few)
    bodies: dict[int, Body] = dict(zip(where, told, strict=True))
    made = []
    for n, draft in enumerate(drafts):
        some = few if n in bodies else entries
        beside = [entry for entry in some if _counts(entry, _UNWRITTEN + n, draft.body)]
        made.append(replace(draft, body=flagged(at, bodies.get(n, draft.body), beside)))
    return tuple(made)


def _counts(other: Entry, number: int, body: Body) -> bool:
    """Tell whether another entry has a part in the checks of one of the file."""
    if other.number == number:
        return False
    if isinstance(other.body, Placement) and other.number >= _UNWRITTEN:
        return (other.at, other.number) < (body.at, number)
    return True


def _settled(at: Desk, body: Body) -> Body:
    """Return a body whose section and layer are the job's own, and whose times have come.

    Raises
    ------
    LogError
        If they are not, or have not.
    """
    _done(at, body)
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


def _done(at: Desk, body: Body) -> None:
    """Refuse what is still to come.

    Raises
    ------
    LogError
        If it is.
    """
    if pd.Timestamp(ended(body)) > at.now:
        raise LogError(
            f"{moment(ended(body), at.site.zone)} is still to come; a log holds what is done: mend "
            "the time, or give --now"
        )
