"""Save what is whole of a damaged log into a new file; the damaged one is only read.

Rows come from SQLite as far as it can read a copy, and from the bytes of all pages, wherever they
lie: in the file, in the write-ahead log beside it, in pages that nothing points to any more. A row
is kept only if its hash proves it, so that it cannot matter where it was found. What is lost is
told by a ``repair`` entry at the end.

Of the formats: https://www.sqlite.org/fileformat2.html (pages 1.6, records 2.1, the write-ahead log
4.1 and 4.2).
"""

from __future__ import annotations

import hashlib
import re
import sqlite3
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from windows.errors import LogError
from windows.log.chain import FIRST, linked
from windows.log.entries import Draft, Repair
from windows.log.store import (
    FORMAT,
    PAGE_SIZE,
    FieldLog,
    as_entry,
    as_row,
    connect,
    create_empty,
    name_of,
    new_file,
    open_log,
    publish,
    verify,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from windows.log.store import Row

__all__ = ["Repaired", "repair"]

_MOST_HOLES = 10_000  # in one entry
_LEAST_ROW = 150  # a row takes more: two hashes of 64 letters and two times of 20. [bytes]

_WAL_HEADER, _FRAME_HEADER = 32, 24
_FRAME = _FRAME_HEADER + PAGE_SIZE
_MAGIC = 0x377F0682  # its last bit tells the order of the bytes of the checksums

# What a row of the table begins with: the length of this head, then how each column is kept. The
# number stands before the head, not in the row (0); a text of n bytes is 13 + 2 n, so that times
# are 53 and hashes 141, in base 128 with the high bit set on all digits but the last.
_HEAD = re.compile(
    rb"([\x0d-\x12])\x00([\x0f-\x7f])\x35([\x00\x35])\x35"
    rb"([\x0d-\x7f]|[\x81-\xff][\x00-\x7f])([\x00-\x06\x08\x09])"
    rb"([\x0d-\x7f]|[\x81-\xff][\x80-\xff]{0,3}[\x00-\x7f])\x81\x0d\x81\x0d",
    re.DOTALL,
)
_INTEGER_BYTES = (0, 1, 2, 3, 4, 6, 8, 8, 0, 0)
_MOST_ROW = 2**27  # far more than any entry may say; a greater length was itself damaged


@dataclass(frozen=True)
class Repaired:
    """What was saved of a damaged log.

    ``kept`` is how many of its entries, ``missing`` the first and last number of each hole,
    ``doubtful`` of how many numbers two different whole entries were found (the one is kept with
    which the chain goes on), ``head`` the hash of the last entry of the new file.
    """

    kept: int
    missing: tuple[tuple[int, int], ...]
    doubtful: int
    head: str


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
        told = [] if healthy else _told(kept, missing, last, hashlib.sha256(main), name)
        with create_empty(made) as log:
            log.insert_rows([*kept, *told])
            proof = verify(log)
        if not proof.ok:
            raise LogError(
                f"{damaged}: what was found in it does not make a log ({proof.faults[0]}); nothing "
                "was written, put a backup in its place"
            )
        publish(made, to)
    return Repaired(len(kept), tuple(missing), found.doubtful, proof.head)


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
    kept: list[Row], missing: list[tuple[int, int]], last: int, source: hashlib._Hash, author: str
) -> list[Row]:
    """Return the rows of the entries that tell of the repair; one, but for a great many holes."""
    now = datetime.now(UTC).replace(microsecond=0)
    lost = sum(b - a + 1 for a, b in missing)
    previous = str(kept[-1][9])
    rows: list[Row] = []
    for k in range(0, max(1, len(missing)), _MOST_HOLES):
        body = Repair(
            at=now,
            missing=tuple(missing[k : k + _MOST_HOLES]),
            source_sha256=source.hexdigest(),
            note=f"A damaged file: {len(kept)} entries were saved and {lost} are known to be "
            f"lost. Whether others followed entry {last} is not known.",
        )
        entry = linked(Draft(author, body), last + 1 + len(rows), now, previous)
        rows.append(as_row(entry))
        previous = entry.hash
    return rows


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
        for row in dict.fromkeys(_rows(main, wal)):
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
        for row in FieldLog(copy, db).rows():
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
            return verify(log).ok and not _is_cut(wal, followed)
    except LogError:
        return False


def _is_cut(wal: bytes, followed: int) -> bool:
    """Tell whether the log beside the file has a commit beyond where SQLite could follow it.

    Frames of a transaction that was never committed, and those left of an earlier use of the file,
    may lie there too: they are no damage.
    """
    frames = range(max(0, followed), (len(wal) - _WAL_HEADER) // _FRAME)
    if frames and not _holds(wal):
        return True
    for k in frames:
        head = wal[_WAL_HEADER + k * _FRAME :][:_FRAME_HEADER]
        if head[4:8] != bytes(4) and head[8:16] == wal[16:24]:
            return True
    return False


def _holds(wal: bytes) -> bool:
    """Tell whether the first 32 bytes of a write-ahead log are as they were written."""
    magic = int.from_bytes(wal[:4], "big")
    order: Literal["big", "little"] = "big" if magic & 1 else "little"
    first = second = 0
    for k in range(0, 24, 8):
        first = (first + int.from_bytes(wal[k : k + 4], order) + second) % 2**32
        second = (second + int.from_bytes(wal[k + 4 : k + 8], order) + first) % 2**32
    told = wal[24:28], wal[28:32]
    return magic & ~1 == _MAGIC and told == (first.to_bytes(4, "big"), second.to_bytes(4, "big"))


def _rows(main: bytes, wal: bytes) -> Iterator[Row]:
    """Return what looks like a row, from all pages of a file and its write-ahead log."""
    frames = range(_WAL_HEADER, len(wal) - _FRAME + 1, _FRAME)
    logged = {int.from_bytes(wal[at : at + 4], "big"): at + _FRAME_HEADER for at in frames}

    def changed(number: int) -> bytes:
        at = logged.get(number)
        return kept(number) if at is None else wal[at : at + PAGE_SIZE]

    def kept(number: int) -> bytes:
        return main[(number - 1) * PAGE_SIZE : number * PAGE_SIZE] if number > 0 else b""

    ways = (kept, changed) if logged else (kept,)
    for at in range(0, len(main), PAGE_SIZE):
        yield from _rows_of_page(main[at : at + PAGE_SIZE], ways)
    for at in frames:
        yield from _rows_of_page(wal[at + _FRAME_HEADER : at + _FRAME], ways)


def _rows_of_page(page: bytes, ways: tuple[Callable[[int], bytes], ...]) -> Iterator[Row]:
    """Return what looks like a row in a page.

    A long one goes on in other pages; ``ways`` are those to find a page by its number.
    """
    for match in _HEAD.finditer(page):
        start, head = match.start(), match[0]
        columns = _digits(head[2:])
        size = len(head) + sum(map(_bytes_of, columns))
        here = _local(size)
        if head[0] != len(head) or size > _MOST_ROW or start + here > len(page):
            continue
        number = _number_before(page, start)
        if here == size:
            yield _row(number, columns, page[start + len(head) : start + size])
            continue
        following = int.from_bytes(page[start + here : start + here + 4], "big")
        for way in ways:
            rest = _rest(following, size - here, way)
            yield _row(number, columns, page[start + len(head) : start + here] + rest)


def _digits(head: bytes) -> list[int]:
    """Return the numbers in base 128 that bytes hold, high digits first."""
    told, number = [], 0
    for byte in head:
        number = number << 7 | byte & 0x7F
        if byte < 0x80:
            told.append(number)
            number = 0
    return told


def _number_before(page: bytes, start: int) -> int:
    """Return the number in base 128 that ends before a place: that of the row."""
    first = start - 1
    while first > max(0, start - 8) and page[first - 1] >= 0x80:
        first -= 1
    return next(iter(_digits(page[max(0, first) : start])), 0)


def _bytes_of(column: int) -> int:
    return _INTEGER_BYTES[column] if column < 12 else (column - 12) // 2


def _local(size: int) -> int:
    """Return how many bytes of a row stand in its own page (file format, 1.6)."""
    if size <= PAGE_SIZE - 35:
        return size
    least = (PAGE_SIZE - 12) * 32 // 255 - 23
    most = least + (size - least) % (PAGE_SIZE - 4)
    return most if most <= PAGE_SIZE - 35 else least


def _rest(number: int, size: int, way: Callable[[int], bytes]) -> bytes:
    """Return what follows in other pages, each of which names the next; less if one is missing."""
    parts, left = [], size
    while left > 0 and len(page := way(number)) == PAGE_SIZE:
        parts.append(page[4 : 4 + left])
        left -= len(parts[-1])
        number = int.from_bytes(page[:4], "big")
    return b"".join(parts)


def _row(number: int, columns: list[int], content: bytes) -> Row:
    values: list[Any] = [number]
    at = 0
    for column in columns:
        raw = content[at : at + _bytes_of(column)]
        at += _bytes_of(column)
        if column >= 12:
            values.append(raw.decode("utf-8", "surrogateescape"))
        elif column > 7:
            values.append(column - 8)
        else:
            values.append(int.from_bytes(raw, "big", signed=True) if column else None)
    kind, when, end, written, author, corrects, body, previous, its_hash = values[1:]
    return number, kind, when, end, written, author, corrects, body, previous, its_hash
