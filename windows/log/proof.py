"""The proof of a log: nothing was changed, taken out or put in since it was written."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from windows.errors import LogError
from windows.log.chain import told
from windows.log.rows import CHANGED, as_entry
from windows.log.rules import Chain, declared, entries_of, no_earlier, wrong_opening

if TYPE_CHECKING:
    from windows.log.entries import Entry
    from windows.log.table import LogTable

__all__ = ["Verified", "verify"]

_MOST_TOLD = 100  # faults and notes told one by one


@dataclass(frozen=True)
class Verified:
    """What the proof of a log found.

    ``entries`` is how many there are and ``head`` the hash of the last. ``missing`` are the first
    and last number of each hole; one that a ``repair`` declares is in ``notes``, any other in
    ``faults``. ``contains_head`` tells whether the known hash is that of an entry, None if none was
    given.
    """

    entries: int
    head: str
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    missing: tuple[tuple[int, int], ...]
    contains_head: bool | None

    @property
    def ok(self) -> bool:
        """Whether nothing was changed, taken out or put in."""
        return not self.faults and self.contains_head is not False


def verify(log: LogTable, known_head: str | None = None) -> Verified:
    """Prove a log: each row by its hash, the chain of them, and the file itself.

    A chain cannot tell that its last entries were cut off: for that, give the hash that an earlier
    record showed.

    Parameters
    ----------
    log
        An open log.
    known_head
        The hash of an entry, or at least its first 12 digits.

    Raises
    ------
    LogError
        If ``known_head`` is no such hash, or the file can no longer be read at all.
    """
    wanted = None if known_head is None else known_head.strip().lower()
    if wanted is not None and not re.fullmatch("[0-9a-f]{12,64}", wanted):
        raise LogError(
            f"{known_head!r} is not the hash of an entry; give its 64 digits of 0-9 and a-f, or at "
            "least the first 12"
        )
    proof = _Proof(wanted)
    with log.one_view():
        proof.read(log)
    return proof.found()


@dataclass
class _Proof:
    """What is found while the rows of a log are read."""

    wanted: str | None
    entries: int = 0
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    chain: Chain = field(default_factory=lambda: Chain({}))
    contains_head: bool = False

    def read(self, log: LogTable) -> None:
        """Read all rows, then let SQLite check the file."""
        try:
            self._rows(log)
        except sqlite3.DatabaseError as fault:
            self.faults.append(
                f"the file is damaged after entry {self.chain.number} ({fault}); "
                "run: dewgap log repair"
            )
        try:
            self._file(log)
        except sqlite3.DatabaseError as fault:
            self.faults.append(f"the file is damaged ({fault}); run: dewgap log repair")

    def _rows(self, log: LogTable) -> None:
        repairs = [each for each in map(as_entry, log.repairs()) if each is not None]
        self.chain.declared = declared(repairs)
        numbers: set[int] = set()
        written = ""
        for row in log.rows():
            entry = as_entry(row)
            number = row[0]
            self.entries += 1
            if entry is None:
                self.faults.append(f"entry {number} {CHANGED}")
                fault = self.chain.follow(number, str(row[8]), str(row[9]), None)
            else:
                fault = self.chain.follow(number, entry.previous, entry.hash, entry.body)
                self._entry(entry, numbers, written)
                written = row[4]
            if fault is not None:
                self.faults.append(fault)
            numbers.add(number)
        if self.entries == 0:
            self.notes.append("the log has no entries")
        for hole in self.chain.missing:
            if hole in self.chain.declared:
                self.notes.append(
                    f"{entries_of(hole)} lost, as entry {self.chain.declared[hole]} declares"
                )

    def _entry(self, entry: Entry, numbers: set[int], written: str) -> None:
        fault = wrong_opening(entry.body, entry.number)
        if fault is not None:
            self.faults.append(f"entry {entry.number}: {fault}")
        if entry.corrects is not None and entry.corrects not in numbers:
            if self.chain.is_lost(entry.corrects):
                self.notes.append(f"entry {entry.number} corrects {entry.corrects}, which is lost")
            else:
                self.faults.append(no_earlier(entry.number, entry.corrects))
        if told(entry.written) < written:
            self.notes.append(
                f"entry {entry.number} was written at {told(entry.written)} by the clock, before "
                f"the one before it at {written}"
            )
        if self.wanted is not None and entry.hash.startswith(self.wanted):
            self.contains_head = True

    def _file(self, log: LogTable) -> None:
        for damage in log.damage():
            self.faults.append(f"the file is damaged ({damage}); run: dewgap log repair")
        for number, names in log.without_origin():
            if type(names) is not int or not self.chain.is_lost(names):
                self.faults.append(no_earlier(number, names))

    def found(self) -> Verified:
        """Return what was found, each thing once."""
        return Verified(
            self.entries, self.chain.hash, _some(self.faults), _some(self.notes),
            tuple(self.chain.missing), None if self.wanted is None else self.contains_head,
        )  # fmt: skip


def _some(lines: list[str]) -> tuple[str, ...]:
    once = list(dict.fromkeys(lines))
    more = len(once) - _MOST_TOLD
    return tuple(once[:_MOST_TOLD] + ([f"and {more} more of the kind"] if more > 0 else []))
