"""Taking the rows of a file into a log: what is known, what follows, what is new, what was changed.

Entries of an export are known where the log has them and adopted as they stand where they follow
its last one. A row without number and hash is a new entry, unless the log has all that it says: the
same table may be taken in again when rows were added to it. A row of an export that somebody edited
is refused, or becomes a correction if corrections are allowed. One fault, and nothing is taken.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import chain
from typing import TYPE_CHECKING

from windows.errors import DewgapError, LogError, LogMovedError
from windows.log.chain import linked
from windows.log.columns import template_csv
from windows.log.edited import compared, saying
from windows.log.entries import Draft
from windows.log.export import export_log, log_csv, log_json, log_parquet, log_schema
from windows.log.file_rows import read_entries
from windows.log.placing import Placing, chain_fault
from windows.log.told import told_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from zoneinfo import ZoneInfo

    from windows.log.entries import Body, Entry
    from windows.log.file_rows import Row
    from windows.log.store import FieldLog
    from windows.log.told import Told

__all__ = [
    "Import", "apply_import", "export_log", "log_csv", "log_json", "log_parquet", "log_schema",
    "not_in", "plan_import", "read_entries", "template_csv",
]  # fmt: skip


@dataclass(frozen=True)
class Import:
    """What is to be done with the rows of a file; ``known`` is how many the log has already.

    ``changed`` has the number of each entry that was edited, and its correction; ``after`` is the
    last entry of the log for which it was made.
    """

    adopt: tuple[Entry, ...] = ()
    new: tuple[Draft, ...] = ()
    known: int = 0
    changed: tuple[tuple[int, Draft], ...] = ()
    after: int | None = field(default=None, compare=False)


def plan_import(
    rows: Sequence[Row],
    log: FieldLog,
    *,
    author: str,
    zone: ZoneInfo,
    kind: str | None = None,
    correct: bool = False,
    settle: Callable[[Body], Body] = lambda body: body,
) -> Import:
    """Return what is to be done with the rows of a file; nothing is written yet.

    Parameters
    ----------
    rows
        From `windows.log.file_rows.read_entries`.
    log
        The log that they are for, which may be empty.
    author
        Who writes corrections, and new entries whose row names nobody.
    zone
        The site's clock, for times without an offset.
    kind
        Kind of rows that name none.
    correct
        Take a row that was edited as a correction of its entry.
    settle
        Returns what is new in the names of the job, or raises `DewgapError`. Entries are compared
        with those of the log afterwards.

    Raises
    ------
    LogError
        If a row cannot be taken: the first fault with its place, and how many there are more.
    """
    told: list[Told] = []
    faults: dict[str, str] = {}
    for row in rows:
        try:
            told.append(told_of(row, kind, zone))
        except ValueError as wrong:
            faults[row.place] = str(wrong)
    _refuse(rows, faults)
    exported = [(each, each.entry) for each in told if each.entry is not None]
    fresh = [each for each in told if each.entry is None]
    _refuse(rows, _doubled(exported))
    head = log.head
    later = sorted(
        ((each, entry) for each, entry in exported if entry.number > head[0]),
        key=lambda pair: pair[1].number,
    )
    adopt = tuple(entry for _, entry in later)
    earlier = [(each, entry) for each, entry in exported if entry.number <= head[0]]
    held = {entry.number: entry for entry in log.entries()} if earlier else {}
    placing = Placing(log, adopt)
    known, changed, faults = compared(earlier, held, placing, author, correct, settle)
    broken = chain_fault(later, head)
    if broken is not None:
        faults |= dict([broken])
    drafts = []
    for each in fresh:
        try:
            drafts.append(Draft(each.author or author, settle(each.body), each.corrects))
        except DewgapError as wrong:
            faults[each.place] = str(wrong)
    _refuse(rows, faults)
    new = []
    for each, draft, is_new in zip(fresh, drafts, _are_new(log, drafts, adopt), strict=True):
        found = placing.fault(draft) if is_new else None
        if found is not None:
            faults[each.place] = found
        if is_new:
            new.append(draft)
    _refuse(rows, faults)
    return Import(adopt, tuple(new), known + len(drafts) - len(new), tuple(changed), head[0])


def apply_import(
    plan: Import, log: FieldLog, *, written: datetime | None = None
) -> tuple[Entry, ...]:
    """Write what `plan_import` planned, all of it or nothing; return the entries written.

    Parameters
    ----------
    plan
        The plan; its drafts may have been given flags meanwhile.
    log
        The log for which it was made.
    written
        When the new entries are written; now, where it is not given.

    Raises
    ------
    LogMovedError
        If others have written to the log since.
    LogError
        If it cannot be written to.
    """
    drafts = (*plan.new, *(draft for _, draft in plan.changed))
    if not plan.adopt:
        return log.append(drafts, written=written, after=plan.after)
    # All in one go, so that what follows the adopted entries is bound to them here.
    moment = (written or datetime.now(UTC)).astimezone(UTC).replace(microsecond=0)
    entries = list(plan.adopt)
    for draft in drafts:
        entries.append(linked(draft, entries[-1].number + 1, moment, entries[-1].hash))
    if log.head[0] != plan.after:
        raise LogMovedError(f"{log.path}: another program has written to the log; try again")
    log.adopt(entries)
    return tuple(entries)


def not_in(log: FieldLog, drafts: Sequence[Draft]) -> tuple[tuple[Draft, ...], int]:
    """Return the drafts of which a log has no entry that says the same, and how many it has.

    Two that say the same are two, where the log has only one. Flags do not count, nor what stands
    beside a reading, for they are added on entry; and an entry that was corrected since counts,
    lest its old fault come back.
    """
    are_new = _are_new(log, drafts)
    new = tuple(draft for draft, is_new in zip(drafts, are_new, strict=True) if is_new)
    return new, len(drafts) - len(new)


def _are_new(log: FieldLog, drafts: Sequence[Draft], adopt: Iterable[Entry] = ()) -> list[bool]:
    """Tell of each draft whether neither a log nor what it is to adopt says the same."""
    if not drafts:
        return []
    kinds = {draft.body.kind for draft in drafts}
    times = [draft.body.at for draft in drafts]
    entries = chain(log.entries(*kinds, start=min(times), end=max(times)), adopt)
    held = Counter(saying(entry.body, entry.corrects) for entry in entries)
    found = []
    for draft in drafts:
        said = saying(draft.body, draft.corrects)
        found.append(held[said] == 0)
        held[said] -= held[said] > 0
    return found


def _refuse(rows: Sequence[Row], faults: Mapping[str, str]) -> None:
    """Raise the fault of the first row that has one, with how many more rows have."""
    if not faults:
        return
    place = next(row.place for row in rows if row.place in faults)
    more = len(faults) - 1
    told = f" ({more} more row{'s have' if more > 1 else ' has'} a fault)" if more else ""
    raise LogError(f"{place}: {faults[place]}{told}")


def _doubled(exported: Iterable[tuple[Told, Entry]]) -> dict[str, str]:
    seen: set[int] = set()
    faults = {}
    for told, entry in exported:
        if entry.number in seen:
            faults[told.place] = (
                f"entry {entry.number} is in the file twice; delete the row, or clear number, "
                "written, previous and hash of a new entry"
            )
        seen.add(entry.number)
    return faults
