"""Where entries may be written: they follow the last one, and what they correct is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.log.chain import is_whole
from windows.log.entries import Opening, Repair, Withdrawal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.log.entries import Draft, Entry
    from windows.log.store import FieldLog
    from windows.log.told import Told

__all__ = ["Placing", "chain_fault"]

_LASTING = (Opening, Withdrawal, Repair)


def chain_fault(
    later: Sequence[tuple[Told, Entry]], head: tuple[int, str]
) -> tuple[str, str] | None:
    """Return the place of the first entry that does not follow the last one of a log, and why.

    A hole is no fault if a ``repair`` after it declares it.
    """
    declared = {
        hole: entry.number
        for _, entry in later
        if isinstance(entry.body, Repair)
        for hole in entry.body.missing
    }
    number, before = head
    for told, entry in later:
        hole = (number + 1, entry.number - 1)
        fault = None
        if not is_whole(entry):
            fault = (
                f"entry {entry.number} was changed after it was exported, and the log does not "
                "have it yet; use the export as it was written, and correct it then"
            )
        elif hole[0] <= hole[1] and declared.get(hole, 0) < entry.number:
            gone = f"{hole[0]} is" if hole[0] == hole[1] else f"{hole[0]} to {hole[1]} are"
            fault = (
                f"entry {entry.number} does not follow entry {number} of the log, for {gone} "
                "missing; take an export of all entries"
            )
        elif hole[0] > hole[1] and entry.previous != before:
            fault = (
                f"entry {entry.number} was bound to another entry {number} than the log has; the "
                "file is of another log: import it into a log of its own"
                if number
                else "the first entry is bound to one before it; use the export as it was written"
            )
        elif isinstance(entry.body, Opening) != (entry.number == 1):
            fault = f"entry {entry.number}: the first entry of a log, and only it, is an opening"
        if fault is not None:
            return told.place, fault
        number, before = entry.number, entry.hash
    return None


class Placing:
    """Whether drafts may be written: what they correct must be there, and stand."""

    def __init__(self, log: FieldLog, adopt: Sequence[Entry]) -> None:
        self._log = log
        self._adopt = {entry.number: entry for entry in adopt}
        self._replaced = {e.corrects: e for e in adopt if e.corrects is not None}
        self._claimed: set[int] = set()
        self._last = adopt[-1].number if adopt else log.head[0]

    def fault(self, draft: Draft) -> str | None:
        """Return why a draft cannot be written, None if it can; it then claims what it corrects."""
        kind, number = draft.body.kind, draft.corrects
        if isinstance(draft.body, (Opening, Repair)) and number is None:
            return f"an entry of kind {kind} is not written by hand; delete the row"
        if not draft.author:
            return "author is missing; fill it in, or tell who writes"
        if number is None:
            if isinstance(draft.body, Withdrawal):
                return "a withdrawal takes an entry back; write its number under corrects"
            return None
        mine = self._adopt.get(number) or self._log.get(number)
        if mine is None:
            return f"there is no entry {number} to correct; the last one is {self._last}"
        if isinstance(mine.body, _LASTING):
            return f"entry {number} is of kind {mine.kind}, which nobody corrects or withdraws"
        if kind not in {mine.kind, Withdrawal.kind}:
            return f"entry {number} is of kind {mine.kind}, not {kind}; mend corrects or the kind"
        by = self.instead_of(number)
        if by is not None:
            gone = isinstance(by.body, Withdrawal)
            return f"entry {number} was " + (
                f"withdrawn by entry {by.number} since; write a new entry"
                if gone
                else f"corrected by entry {by.number} since; correct that one, or export anew"
            )
        if number in self._claimed:
            return f"entry {number} is corrected twice in the file; keep one of the rows"
        self._claimed.add(number)
        return None

    def instead_of(self, number: int) -> Entry | None:
        """Return the last entry in the place of one, None if it stands."""
        found = None
        if number not in self._adopt:
            last = self._log.latest(number)
            found = self._log.get(last) if last != number else None
        at = number if found is None else found.number
        while at in self._replaced:
            found = self._replaced[at]
            at = found.number
        return found
