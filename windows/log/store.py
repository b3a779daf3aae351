"""A field log: one SQLite file a job, to which entries are added and nothing else.

What `FieldLog.append` has returned is on the disk. Triggers refuse any change, and every row is
proved by its own hash as it is read. Several programs may read and write at once.
"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from pydantic import TypeAdapter

from windows.errors import LogError, LogMovedError
from windows.log.chain import canonical_body
from windows.log.entries import KINDS, Draft
from windows.log.fields import Utc
from windows.log.file import connect_log, connect_new, new_file, publish
from windows.log.proof import verify
from windows.log.rows import CHANGED, INSERT, bound, proved_row
from windows.log.rules import Chain, declared, name_of, no_earlier, refusal, wrong_opening
from windows.log.sqlite_errors import FULL, sentences
from windows.log.table import LogTable

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from windows.log.entries import Entry
    from windows.log.rows import Row
    from windows.log.rules import Why

__all__ = ["FieldLog", "begin_log", "open_log"]

_UTC: TypeAdapter[datetime] = TypeAdapter(Utc)
_REFUSED: Mapping[Why, str] = {
    "no number": "a withdrawal takes an entry back; name its number",
    "not there": "there is no entry {old} to correct; {last}",
    "lasting": "entry {old} is of kind {kind}, which is neither corrected nor withdrawn",
    "withdrawn": "entry {old} was withdrawn by {by}; write a new entry",
    "corrected": "entry {old} was corrected by {by}; correct {by}",
    "other kind": "entry {old} is of kind {kind}, not {new}; correct it by one of its own kind, or "
    "withdraw it",
}


class FieldLog(LogTable):
    """An open log, to which entries can be added. Close it, or use it in a ``with`` statement."""

    def append(
        self,
        drafts: Sequence[Draft],
        *,
        written: datetime | None = None,
        after: int | None = None,
    ) -> tuple[Entry, ...]:
        """Write entries, all or none of them; return them with their numbers and hashes.

        Parameters
        ----------
        drafts
            What is to be written, in order.
        written
            When they were written; now, where it is not given. Kept to the whole second.
        after
            The last entry that whoever made the drafts has seen; None if that does not matter.

        Raises
        ------
        LogMovedError
            If others have written since ``after``.
        LogError
            If one of them breaks a rule of the log, or the file cannot be written to.
        """
        moment = self._moment(written)
        names = {author: name_of(author, self.path) for author in {d.author for d in drafts}}
        ready = [(Draft(names[d.author], d.body, d.corrects), self._body(d)) for d in drafts]
        if not ready:
            return ()
        with self._writing():
            number, previous = self.head
            if after is not None and number != after:
                raise LogMovedError(
                    f"{self.path}: another program has written to the log meanwhile; nothing of "
                    "this was written, try again"
                )
            entries = []
            for draft, body in ready:
                number += 1
                self._check_place(draft, number)
                entry, row = bound(draft, body, number, moment, previous)
                self._insert(row)
                entries.append(entry)
                previous = entry.hash
        return tuple(entries)

    def adopt(self, entries: Sequence[Entry]) -> None:
        """Write entries as they stand, numbers and hashes and all: those of an export.

        They must continue this log. A hole in their numbers is taken if a ``repair`` among them
        declares it, so that an export of a repaired log comes back.

        Raises
        ------
        LogError
            If one was changed or does not follow; nothing is then written.
        """
        if not entries:
            return
        with self._writing(foreign_keys=False):
            chain = Chain(declared([*self.entries("repair"), *entries]), *self.head)
            for entry in entries:
                row = proved_row(entry)
                fault = chain.follow(entry.number, entry.previous, entry.hash, entry.body)
                if row is None:
                    fault = f"entry {entry.number} {CHANGED}"
                elif (wrong := wrong_opening(entry.body, entry.number)) is not None:
                    fault = f"entry {entry.number}: {wrong}"
                elif fault is None and entry.corrects is not None:
                    fault = self._not_there(entry.number, entry.corrects, chain)
                if row is None or fault is not None:
                    raise LogError(f"{self.path}: {fault}; nothing was taken, export it anew")
                self._insert(row)

    def insert_rows(self, rows: Sequence[Row]) -> None:
        """Write the whole rows of a damaged log to a new one, over any hole in their numbers."""
        with self._writing(foreign_keys=False):
            for row in rows:
                self._insert(row)

    def backup(self, to: Path) -> int:
        """Copy the log to a new file while it is in use; return how many entries the copy has.

        Raises
        ------
        LogError
            If the file exists or cannot be written, or if the copy has a fault: it is then not
            left there.
        """
        with new_file(to) as made:
            with sentences(self.path, to):
                copy = sqlite3.connect(made, isolation_level=None)
                try:
                    self._db.backup(copy)
                finally:
                    copy.close()
            with open_log(made) as log:
                found = verify(log)
            if found.faults:
                raise LogError(
                    f"{self.path}: was not copied, because {found.faults[0]}; "
                    "run: dewgap log verify"
                )
            publish(made, to)
        return found.entries

    def _settle(self) -> None:
        """Bring all that was written into the file itself, which is to be moved without the rest.

        Closing does so too, but is silent if there is no room for it.
        """
        with sentences(self.path):
            busy, *_ = self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy:
            raise LogError(f"{self.path}: {FULL}")

    @contextmanager
    def _writing(self, *, foreign_keys: bool = True) -> Iterator[None]:
        """Hold the one lock for writing; what was written within is kept whole or not at all."""
        with sentences(self.path):
            if not foreign_keys:  # has no effect within a transaction
                self._db.execute("PRAGMA foreign_keys = OFF")
            try:
                self._db.execute("BEGIN IMMEDIATE")
                yield
                self._db.execute("COMMIT")
            finally:
                with suppress(sqlite3.Error):
                    if self._db.in_transaction:
                        self._db.execute("ROLLBACK")
                    self._db.execute("PRAGMA foreign_keys = ON")

    def _insert(self, row: Row) -> None:
        self._db.execute(INSERT, row)

    def _moment(self, written: datetime | None) -> datetime:
        try:
            return _UTC.validate_python(datetime.now(UTC) if written is None else written)
        except ValueError:
            raise LogError(
                f"{self.path}: {written} is not when an entry was written; give a moment with an "
                "offset, or set the clock"
            ) from None

    def _body(self, draft: Draft) -> str:
        """Return the body of a draft as it is kept, and as it can be read again."""
        kind = KINDS.get(draft.body.kind)
        try:
            body = canonical_body(draft.body).decode("utf-8")
            same = kind is not None and kind.model_validate_json(body) == draft.body
        except ValueError:
            same = False
        if not same:
            raise LogError(
                f"{self.path}: an entry of kind {draft.body.kind or 'none'} could not be read back "
                "as it was given; fill in names that are empty and shorten long texts"
            )
        return body

    def _check_place(self, draft: Draft, number: int) -> None:
        """Refuse an opening that is not the first entry, and a correction of what cannot be."""
        fault = wrong_opening(draft.body, number)
        if fault is None and (refused := refusal(draft, self.kind_of, self._instead_of)):
            fault = refused.told(_REFUSED, self.how_many())
        if fault is not None:
            raise LogError(f"{self.path}: {fault}")

    def _instead_of(self, number: int) -> tuple[int, str] | None:
        last = self.latest(number)
        return None if last == number else (last, str(self.kind_of(last)))

    def _not_there(self, number: int, corrects: int, chain: Chain) -> str | None:
        """Return why what an entry corrects is neither an earlier entry nor one declared lost."""
        if corrects < number and (chain.is_lost(corrects) or self.kind_of(corrects) is not None):
            return None
        return no_earlier(number, corrects)


@contextmanager
def begin_log(path: Path, first: Sequence[Draft] = ()) -> Iterator[FieldLog]:
    """Give a new log, which gets its name when all is written to it; if that fails there is none.

    Parameters
    ----------
    path
        Where it is to be.
    first
        Its first entries, an opening before all; none for those of an export, which has its own.

    Raises
    ------
    LogMovedError
        If there is one already, also if another program has begun it meanwhile.
    LogError
        If it cannot be written.
    """
    with new_file(path) as made:
        with sentences(path):
            db = connect_new(made)
        with FieldLog(path, db) as log:
            log.append(first)
            yield log
            log._settle()
        publish(made, path)


def open_log(path: Path, *, read_only: bool = False) -> FieldLog:
    """Open the log of a file.

    Parameters
    ----------
    path
        The file.
    read_only
        Never write to it; a file in a folder that cannot be written to is read too.

    Raises
    ------
    LogError
        If there is none, or it is not one, is damaged, or is newer than this version.
    """
    with sentences(path):
        log = FieldLog(path, connect_log(path, read_only=read_only))
        try:
            _ = log.head
        except BaseException:
            log.close()
            raise
    return log
