"""Where entries may be written: they follow the last one, and what they correct is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.log.chain import is_whole
from windows.log.entries import Opening, Repair
from windows.log.rules import Chain, declared, refusal, span, wrong_opening

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from windows.log.entries import Draft, Entry
    from windows.log.rules import Why
    from windows.log.store import FieldLog
    from windows.log.told import Told

__all__ = ["Placing", "chain_fault"]

_REFUSED: Mapping[Why, str] = {
    "no number": "a withdrawal takes an entry back; write its number under corrects",
    "not there": "there is no entry {old} to correct; the last one is {last}",
    "lasting": "entry {old} is of kind {kind}, which nobody corrects or withdraws",
    "withdrawn": "entry {old} was withdrawn by entry {by} since; write a new entry",
    "corrected": "entry {old} was corrected by entry {by} since; correct that one, or export anew",
    "other kind": "entry {old} is of kind {kind}, not {new}; mend corrects or the kind",
}


def chain_fault(
    later: Sequence[tuple[Told, Entry]], head: tuple[int, str]
) -> tuple[str, str] | None:
    """Return the place of the first entry that does not follow the last one of a log, and why.

    A hole is no fault if a ``repair`` after it declares it.
    """
    chain = Chain(declared(entry for _, entry in later), *head)
    for told, entry in later:
        before, hole = chain.number, (chain.number + 1, entry.number - 1)
        broken = chain.step(entry.number, entry.previous, entry.hash, entry.body)
        fault = None
        if not is_whole(entry):
            fault = (
                f"entry {entry.number} was changed after it was exported, and the log does not "
                "have it yet; use the export as it was written, and correct it then"
            )
        elif broken == "hole":
            fault = (
                f"entry {entry.number} does not follow entry {before} of the log, for "
                f"{span(hole)} missing; take an export of all entries"
            )
        elif broken is not None:
            fault = (
                f"entry {entry.number} was bound to another entry {before} than the log has; the "
                "file is of another log: import it into a log of its own"
                if before
                else "the first entry is bound to one before it; use the export as it was written"
            )
        elif (wrong := wrong_opening(entry.body, entry.number)) is not None:
            fault = f"entry {entry.number}: {wrong}"
        if fault is not None:
            return told.place, fault
    return None


class Placing:
    """Whether drafts may be written: what they correct must be there, and stand."""

    def __init__(self, log: FieldLog, adopt: Sequence[Entry]) -> None:
        self._log = log
        self._adopt = {entry.number: entry for entry in adopt}
        # One that corrects itself or a later one is refused elsewhere; it would never end here.
        self._replaced = {e.corrects: e for e in adopt if e.corrects and e.corrects < e.number}
        self._claimed: set[int] = set()
        self._last = adopt[-1].number if adopt else log.head[0]

    def fault(self, draft: Draft) -> str | None:
        """Return why a draft cannot be written, None if it can; it then claims what it corrects."""
        kind, number = draft.body.kind, draft.corrects
        if isinstance(draft.body, (Opening, Repair)) and number is None:
            return f"an entry of kind {kind} is not written by hand; delete the row"
        if not draft.author:
            return "author is missing; fill it in, or tell who writes"
        refused = refusal(draft, self._kind_of, self._standing_for)
        if refused is not None:
            return refused.told(_REFUSED, str(self._last))
        if number in self._claimed:
            return f"entry {number} is corrected twice in the file; keep one of the rows"
        if number is not None:
            self._claimed.add(number)
        return None

    def _kind_of(self, number: int) -> str | None:
        entry = self._adopt.get(number) or self._log.get(number)
        return None if entry is None else entry.kind

    def _standing_for(self, number: int) -> tuple[int, str] | None:
        by = self.instead_of(number)
        return None if by is None else (by.number, by.kind)

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
