"""Save what is whole of a damaged log into a new file; the damaged one is only read.

Rows come from SQLite as far as it can read a copy, and from the bytes of all pages, wherever they
lie: in the file, in the write-ahead log beside it, in pages that nothing points to any more. A row
is kept only if its hash proves it, so that it cannot matter where it was found. What is lost is
told by a ``repair`` entry at the end.
"""

from __future__ import annotations

import hashlib
import sqlite3
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

from windows.errors import LogError
from windows.log.chain import FIRST, linked
from windows.log.entries import Draft, Repair
from windows.log.file import connect, new_file, publish
from windows.log.pages import is_cut, rows_in
from windows.log.proof import verify
from windows.log.rows import as_entry, as_row
from windows.log.rules import name_of
from windows.log.schema import FORMAT
from windows.log.store import begin_log, open_log
from windows.log.table import LogTable

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from windows.log.rows import Row

__all__ = ["Repaired", "repair"]

_MOST_HOLES = 10_000  # in one entry
_LEAST_ROW = 150  # a row takes more: two hashes of 64 letters and two times of 20. [bytes]


@dataclass(frozen=True)
class Repaired:
    """What was saved of a damaged log.

    ``kept`` is how many of its entries, ``missing`` the first and last number of each hole,
    ``doubtful`` of how many numbers two different whole entries were found (the one is kept with
    which the chain goes on), ``head`` the hash of the last entry of the new file. ``told`` says
    what is known of the losses, nothing where there are none.
    """

    kept: int
    missing: tuple[tuple[int, int], ...]
    doubtful: int
    head: str
    told: str = ""


def repair(damaged: Path, to: Path, author: str) -> Repaired:
    """Save what is whole of a damaged log into a new file.

    A log without a fault is copied as it is. Otherwise a ``repair`` entry follows what was saved,
    with the holes; what came after the last entry that was found cannot be known.

    Parameters
    ----------
    damaged
        The file; the one of that name with ``-wal`` is read too, if there is one.
    to
        A new file.
    author
        Who writes the ``repair`` entry.

    Raises
    ------
    LogError
        If nothing whole is in the file, or the new one exists or cannot be written.
    """
    name = name_of(author, to)
    main = _read(damaged)
    wal = _read(damaged.with_name(damaged.name + "-wal"), missing=b"")
    with new_file(to) as made:
        found = _Found()
        healthy = _by_sql(damaged, main, wal, made.with_name("copy"), found)
        if not healthy:
            found.scan(main, wal)
        kept = found.chosen()
        if not kept:
            raise LogError(
                f"{damaged}: no whole entry of a field log is in it; nothing was written, put a "
                "backup in its place"
            )
        last = kept[-1][0] if healthy else found.last_seen(kept[-1][0], len(main) + len(wal))
        missing = _holes([row[0] for row in kept], last)
        words = "" if healthy else _words(len(kept), missing, last)
        told = [] if healthy else _told(kept, missing, last, hashlib.sha256(main), name, words)
        with begin_log(made) as log:
            log.insert_rows([*kept, *told])
            proof = verify(log)
        if not proof.ok:
            raise LogError(
                f"{damaged}: what was found in it does not make a log ({proof.faults[0]}); nothing "
                "was written, put a backup in its place"
            )
        publish(made, to)
    return Repaired(len(kept), tuple(missing), found.doubtful, proof.head, words)


def _read(path: Path, missing: bytes | None = None) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        if missing is not None:
            return missing
        raise LogError(f"{path}: there is no such file; name the damaged log") from None
    except (OSError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or fault
        raise LogError(f"{path}: cannot be read ({why}); name the file of the log") from None


def _told(
    kept: list[Row],
    missing: list[tuple[int, int]],
    last: int,
    source: hashlib._Hash,
    author: str,
    words: str,
) -> list[Row]:
    """Return the rows of the entries that tell of the repair; one, but for a great many holes."""
    now = datetime.now(UTC).replace(microsecond=0)
    previous = str(kept[-1][9])
    rows: list[Row] = []
    for k in range(0, max(1, len(missing)), _MOST_HOLES):
        body = Repair(
            at=now,
            missing=tuple(missing[k : k + _MOST_HOLES]),
            source_sha256=source.hexdigest(),
            note=words,
        )
        entry = linked(Draft(author, body), last + 1 + len(rows), now, previous)
        rows.append(as_row(entry))
        previous = entry.hash
    return rows


def _words(kept: int, missing: list[tuple[int, int]], last: int) -> str:
    lost = sum(b - a + 1 for a, b in missing)
    return (
        f"A damaged file: {kept} entries were saved and {lost} are known to be lost. Whether "
        f"others followed entry {last} is not known."
    )


def _holes(numbers: Iterable[int], last: int) -> list[tuple[int, int]]:
    """Return the first and last number of each hole among numbers from 1 to the last."""
    holes, before = [], 0
    for number in [*numbers, last + 1]:
        if number > before + 1:
            holes.append((before + 1, number - 1))
        before = number
    return holes


class _Candidate(NamedTuple):
    """A whole row, and whether SQLite gave it: then it was committed."""

    row: Row
    committed: bool


@dataclass
class _Found:
    """The whole rows that were found, by number and hash, and the numbers of those that are not."""

    whole: dict[int, dict[str, _Candidate]] = field(default_factory=dict)
    broken: list[Row] = field(default_factory=list)

    def take(self, row: Row, *, committed: bool) -> None:
        """Keep a row if its hash proves it."""
        if as_entry(row) is None:
            self.broken.append(row)
        elif row[0] > 0:
            self.whole.setdefault(row[0], {}).setdefault(row[9], _Candidate(row, committed))

    def scan(self, main: bytes, wal: bytes) -> None:
        """Take all rows that stand anywhere in the bytes of a file and its write-ahead log."""
        for row in dict.fromkeys(rows_in(main, wal)):
            self.take(row, committed=False)
        # A row whose number alone was damaged: it is known from the entry that it continues.
        numbers = {its_hash: n for n, rows in self.whole.items() for its_hash in rows}
        for row in self.broken[:]:
            before = numbers.get(row[8]) if isinstance(row[8], str) else None
            if before is not None and row[0] != before + 1:
                mended = (before + 1, *row[1:])
                if as_entry(mended) is not None:
                    self.broken.remove(row)
                    self.take(mended, committed=False)
                    numbers[row[9]] = before + 1

    @property
    def doubtful(self) -> int:
        """How many numbers have two different whole rows."""
        return sum(len(rows) > 1 for rows in self.whole.values())

    def last_seen(self, last: int, size: int) -> int:
        """Return the greatest number that is believable, even if its row is not whole.

        A file has no room for more entries than its bytes; a number beyond was itself damaged.
        """
        most = last + size // _LEAST_ROW
        numbers = (row[0] for row in self.broken if type(row[0]) is int)
        return max((number for number in numbers if last < number <= most), default=last)

    def chosen(self) -> list[Row]:
        """Return as many rows as go together, one a number, each bound to the one before it.

        Where two choices keep as many, the one with more rows that were surely committed.
        """
        best: _Kept | None = None  # of all up to the number before the last
        recent: list[_Kept] = []
        before = 0
        for number in sorted(self.whole):
            if number > before + 1:
                best, recent = _better([best, *recent]), []
            here = []
            for candidate in self.whole[number].values():
                if number == 1 and candidate.row[8] != FIRST:
                    continue
                bound = [kept for kept in recent if kept.row[9] == candidate.row[8]]
                on = _better([best, *bound])
                count, sure = (on.count, on.sure) if on else (0, 0)
                here.append(_Kept(candidate.row, on, count + 1, sure + candidate.committed))
            best, recent, before = _better([best, *recent]), here, number
        kept, rows = _better([best, *recent]), []
        while kept is not None:
            rows.append(kept.row)
            kept = kept.before
        return rows[::-1]


@dataclass(frozen=True, eq=False, repr=False)
class _Kept:
    """A row that is kept, what was kept before it, and how many rows that makes."""

    row: Row
    before: _Kept | None
    count: int
    sure: int


def _better(choices: Iterable[_Kept | None]) -> _Kept | None:
    some = [kept for kept in choices if kept is not None]
    return max(some, key=lambda kept: (kept.count, kept.sure), default=None)


def _by_sql(damaged: Path, main: bytes, wal: bytes, copy: Path, found: _Found) -> bool:
    """Take the rows that SQLite reads from a copy; return whether the log has no fault.

    Raises
    ------
    LogError
        If the file is whole but of a newer version of this program, which can read more of it.
    """
    try:
        copy.write_bytes(main)
        if wal:
            copy.with_name(copy.name + "-wal").write_bytes(wal)
        db = connect(copy, "mode=rw")
    except sqlite3.Error:
        return False
    try:
        for row in LogTable(copy, db).rows():
            found.take(row, committed=True)
        followed = db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()[1]
        whole = db.execute("PRAGMA integrity_check(1)").fetchone()[0] == "ok"
        version = db.execute("PRAGMA user_version").fetchone()[0]
    except sqlite3.Error:
        return False
    finally:
        db.close()
    if whole and version > FORMAT and found.broken:
        raise LogError(
            f"{damaged}: was written by a newer version of dewgap (format {version}, this one "
            f"knows {FORMAT}), which can save more of it; update dewgap"
        )
    try:
        with open_log(copy) as log:
            return verify(log).ok and not is_cut(wal, followed)
    except LogError:
        return False
