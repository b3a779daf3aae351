"""Rows of an export that somebody edited: what differs, and the correction that it makes."""

from __future__ import annotations

from math import isclose
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from windows.errors import DewgapError
from windows.log.cells import cell_of, shown
from windows.log.chain import canonical_body
from windows.log.columns import flat, form_of
from windows.log.entries import Draft

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from windows.log.entries import Body, Entry
    from windows.log.placing import Placing
    from windows.log.told import Told

__all__ = ["compared", "saying"]

_CUT = 1e-6
"""Share by which a number may differ and still be the same: spreadsheets cut long numbers when they
save (15 digits at most, often 10). No instrument on a roof reads so finely. (own choice)"""
_ADDED: dict[str, object] = {"flags": (), "beside": None}
_FIXED = ("kind", "written", "author", "corrects", "previous")


def saying(body: Body, corrects: int | None) -> tuple[str, int | None, bytes]:
    """Return what tells apart what people say in entries.

    Flags do not count, nor what stands beside a reading: they are added on entry.
    """
    added = {name: empty for name, empty in _ADDED.items() if getattr(body, name, empty) != empty}
    return body.kind, corrects, canonical_body(body.model_copy(update=added) if added else body)


def compared(
    earlier: Sequence[tuple[Told, Entry]],
    held: Mapping[int, Entry],
    placing: Placing,
    author: str,
    correct: bool,
    settle: Callable[[Body], Body],
) -> tuple[int, list[tuple[int, Draft]], dict[str, str]]:
    """Return how many rows say what a log has, corrections of those that do not, and faults.

    Parameters
    ----------
    earlier
        Rows with entries whose numbers the log has.
    held
        The entries of the log by number.
    placing
        Says whether a correction may be written.
    author
        Who writes corrections.
    correct
        Whether corrections are allowed.
    settle
        Returns a body in the names of the job, or raises `DewgapError`.

    Returns
    -------
    tuple
        The count; number and correction of each edited entry; each fault by the place of its row.
    """
    known = 0
    changed: list[tuple[int, Draft]] = []
    faults: dict[str, str] = {}
    for told, entry in earlier:
        mine = held.get(entry.number)
        if mine == entry:
            known += 1
            continue
        if mine is None or mine.hash != entry.hash:
            faults[told.place] = _other_log(entry.number, mine)
            continue
        ours, theirs = flat(mine), flat(entry)
        differ = [
            name
            for name in dict.fromkeys((*theirs, *ours))
            if not _same(ours.get(name), theirs.get(name))
        ]
        if not differ:
            known += 1
            continue
        try:
            body = settle(_merged(mine.body, entry.body))
        except DewgapError as wrong:
            faults[told.place] = str(wrong)
            continue
        draft = Draft(author, body, entry.number)
        by = placing.instead_of(entry.number)
        if by is not None and saying(by.body, None) == saying(draft.body, None):
            known += 1  # the correction that this row made when it was taken in before
            continue
        fault = _fault(entry.number, differ, ours, theirs, correct) or placing.fault(draft)
        if fault is not None:
            faults[told.place] = fault
        changed.append((entry.number, draft))
    return known, changed, faults


def _other_log(number: int, mine: Entry | None) -> str:
    if mine is None:
        return (
            f"entry {number} is one that the log has lost and declares so; import the file into a "
            "log of its own"
        )
    return (
        f"entry {number} has another hash than entry {number} of the log; the file is of another "
        "log: import it into a log of its own"
    )


def _fault(
    number: int,
    differ: Sequence[str],
    ours: Mapping[str, object],
    theirs: Mapping[str, object],
    correct: bool,
) -> str | None:
    """Return why an edited row is not taken, None if it is."""
    fixed = [name for name in differ if name in _FIXED]
    told = fixed or differ
    was = [_cell(each, told[0]) for each in (ours, theirs)]
    what = f"{told[0]} was {was[0]} and is {was[1]}"
    what += f", {', '.join(told[1:])} too" if told[1:] else ""
    if fixed:
        return (
            f"entry {number} was changed where nothing can be corrected: {what}; put it back as it "
            "was exported"
        )
    if not correct:
        return (
            f"entry {number} was changed after it was exported: {what}; allow corrections to write "
            "it as one, or put it back"
        )
    return None


def _cell(cells: Mapping[str, object], name: str) -> str:
    return shown(cell_of(form_of(name), cells[name])) if name in cells else "empty"


def _same(ours: Any, theirs: Any) -> bool:
    """Tell whether two values of a field say the same, but for a number that was cut."""
    if isinstance(ours, float) and isinstance(theirs, float):
        return isclose(ours, theirs, rel_tol=_CUT, abs_tol=0)
    if isinstance(ours, BaseModel) and isinstance(theirs, BaseModel):
        return all(_same(getattr(ours, name), value) for name, value in theirs)
    if isinstance(ours, tuple) and isinstance(theirs, tuple):
        return len(ours) == len(theirs) and all(map(_same, ours, theirs))
    return bool(ours == theirs)


def _merged(ours: Body, theirs: Body) -> Body:
    """Return their body with our numbers where theirs are the same but cut."""
    return theirs.model_copy(
        update={
            name: mine for name, mine in ours
            if name in type(theirs).model_fields and _same(mine, getattr(theirs, name))
        }
    )  # fmt: skip
