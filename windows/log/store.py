"""The file of the field log: one SQLite file a job, to which entries are added and nothing else.

What `FieldLog.append` has returned is on the disk: write-ahead logging with a sync at every commit
(https://www.sqlite.org/wal.html, https://www.sqlite.org/pragma.html#pragma_synchronous). Triggers
refuse any change, and every row is proved by its own hash as it is read. Several programs may read
and write at once.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
import stat
import tempfile
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from pydantic import TypeAdapter

from windows.errors import LogError
from windows.log.chain import FIRST, canonical_body, told
from windows.log.entries import (
    KINDS,
    Draft,
    Entry,
    Name,
    Opening,
    Repair,
    Utc,
    Withdrawal,
    kinds_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from windows.log.entries import Body

__all__ = [
    "FORMAT", "PAGE_SIZE", "FieldLog", "Row", "Verified", "as_entry", "as_row", "connect",
    "create_empty", "create_log", "name_of", "new_file", "open_log", "publish", "verify",
]  # fmt: skip

Row = tuple[Any, Any, Any, Any, Any, Any, Any, Any, Any, Any]
"""A row of the table as read, in the order of its columns; a damaged one has anything in it."""

PAGE_SIZE = 4096
"""Of a page of the file, fixed so that the pages of a damaged one can be found. [bytes]"""

_APPLICATION_ID = 0x44657747  # "DewG" in the file's header, at byte 68
_PATIENCE_S = 30.0  # own choice: a batch of 100,000 entries holds the lock for some ten seconds
_AT_ONCE = 1000  # rows read in one statement, so that no lock and no memory is held for long
_MOST_TOLD = 100  # faults and notes told one by one
_CHANGED = "is not what was written: its hash is another"
_LASTING = frozenset({"opening", "withdrawal", "repair"})  # kinds that are never corrected

# Version N of a file is the number of these that it has had; each runs in one transaction. A new
# one is added at the end and sets the next user_version; those that are here are never edited.
_MIGRATIONS: tuple[str, ...] = (
    """
    CREATE TABLE entry (
        number   INTEGER PRIMARY KEY CHECK (number > 0),
        kind     TEXT NOT NULL CHECK (typeof(kind) = 'text' AND kind <> ''),
        at       TEXT NOT NULL CHECK (typeof(at) = 'text' AND at GLOB '????-??-??T??:??:??Z'),
        "end"    TEXT CHECK (
            "end" IS NULL
            OR (typeof("end") = 'text' AND "end" GLOB '????-??-??T??:??:??Z' AND "end" > at)
        ),
        written  TEXT NOT NULL
            CHECK (typeof(written) = 'text' AND written GLOB '????-??-??T??:??:??Z'),
        author   TEXT NOT NULL CHECK (typeof(author) = 'text' AND author <> ''),
        corrects INTEGER REFERENCES entry (number)
            CHECK (corrects IS NULL OR (typeof(corrects) = 'integer' AND corrects < number)),
        body     TEXT NOT NULL CHECK (typeof(body) = 'text' AND body LIKE '{%}'),
        previous TEXT NOT NULL CHECK (
            typeof(previous) = 'text' AND length(previous) = 64
            AND previous NOT GLOB '*[^0-9a-f]*'
        ),
        hash     TEXT NOT NULL UNIQUE CHECK (
            typeof(hash) = 'text' AND length(hash) = 64 AND hash NOT GLOB '*[^0-9a-f]*'
        )
    );
    CREATE INDEX entry_by_kind ON entry (kind, at, "end");
    CREATE INDEX entry_by_corrects ON entry (corrects) WHERE corrects IS NOT NULL;
    CREATE TRIGGER entry_is_not_changed BEFORE UPDATE ON entry BEGIN
        SELECT RAISE(ABORT, 'an entry of a field log is never changed; write a correction');
    END;
    CREATE TRIGGER entry_is_not_deleted BEFORE DELETE ON entry BEGIN
        SELECT RAISE(ABORT, 'an entry of a field log is never deleted; write a withdrawal');
    END;
    CREATE TRIGGER entry_is_not_replaced BEFORE INSERT ON entry
    WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.number OR hash = NEW.hash) BEGIN
        SELECT RAISE(ABORT, 'an entry of a field log is never replaced; write a correction');
    END;
    PRAGMA application_id = 1147500359;
    PRAGMA user_version = 1;
    """,
)

FORMAT = len(_MIGRATIONS)
"""The version of the file that this version of the program writes."""

_SETTINGS = (
    "PRAGMA foreign_keys = ON",
    "PRAGMA synchronous = FULL",
    "PRAGMA fullfsync = ON",  # on macOS a plain fsync leaves data in the disk's own cache
    "PRAGMA cache_size = -65536",  # 64 MB: the index of the hashes of a large batch stays in it
    "PRAGMA trusted_schema = OFF",
    "PRAGMA cell_size_check = ON",
)
_quoted = json.JSONEncoder(ensure_ascii=False).encode
_NAME: TypeAdapter[str] = TypeAdapter(Name)
_UTC: TypeAdapter[datetime] = TypeAdapter(Utc)


class FieldLog:
    """An open log. Close it, or use it in a ``with`` statement.

    Parameters
    ----------
    path
        The file of the log.
    db
        A connection to it, without transactions of its own (``isolation_level=None``).
    """

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was written is in it either way."""
        with _sentences(self.path):
            self._db.close()

    @property
    def head(self) -> tuple[int, str]:
        """Number and hash of the last entry; (0, 64 zeros) of a log without any."""
        with _sentences(self.path):
            row = self._db.execute(
                "SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1"
            ).fetchone()
        return (0, FIRST) if row is None else (row[0], str(row[1]))

    def append(
        self, drafts: Sequence[Draft], *, written: datetime | None = None
    ) -> tuple[Entry, ...]:
        """Write entries, all or none of them; return them with their numbers and hashes.

        Parameters
        ----------
        drafts
            What is to be written, in order.
        written
            When they were written; now, where it is not given. Kept to the whole second.

        Raises
        ------
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
            entries = []
            for draft, body in ready:
                number += 1
                self._check_place(draft, number)
                entry, row = _bound(draft, body, number, moment, previous)
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
            chain = _Chain(_declared([*self.entries("repair"), *entries]), *self.head)
            for entry in entries:
                row = _proved_row(entry)
                fault = chain.follow(entry)
                if row is None:
                    fault = f"entry {entry.number} {_CHANGED}"
                elif isinstance(entry.body, Opening) != (entry.number == 1):
                    fault = f"entry {entry.number}: {_wrong_opening(entry.number == 1)}"
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

    def entries(
        self,
        *kinds: str,
        after: int = 0,
        start: datetime | None = None,
        end: datetime | None = None,
        standing: bool = False,
    ) -> Iterator[Entry]:
        """Return entries by number, as many as there are when the first is asked for.

        Parameters
        ----------
        kinds
            Names of kinds; all of them where none is given.
        after
            Only those with a greater number.
        start, end
            Only those whose time, from ``at`` to their end if they have one, shares a moment with
            the time from ``start`` to ``end``, both ends included.
        standing
            Only those that were not corrected or withdrawn since, and no withdrawal.

        Raises
        ------
        LogError
            At an entry that was changed after it was written.
        """
        some = kinds_of(kinds)
        # A moment within a second is after that second: rounded up.
        first = None if start is None else told(_aware(start) + timedelta(microseconds=999_999))
        last = None if end is None else told(_aware(end))
        return self._found(some, min(after, 2**63 - 1), first, last, standing)

    def _found(
        self, kinds: tuple[str, ...], after: int, first: str | None, last: str | None,
        standing: bool,
    ) -> Iterator[Entry]:  # fmt: skip
        with _sentences(self.path):
            numbers = self._db.execute(
                """
                SELECT number FROM entry
                WHERE number > ?1
                AND (?2 IS NULL OR coalesce("end", at) >= ?2) AND (?3 IS NULL OR at <= ?3)
                AND (?4 = '[]' OR kind IN (SELECT value FROM json_each(?4)))
                AND (NOT ?5 OR (
                    kind <> 'withdrawal'
                    AND NOT EXISTS (SELECT 1 FROM entry AS e WHERE e.corrects = entry.number)
                ))
                ORDER BY number
                """,
                (after, first, last, json.dumps(kinds), standing),
            ).fetchall()
        yield from self._numbered(numbers)

    def _numbered(self, numbers: list[tuple[int]]) -> Iterator[Entry]:
        for k in range(0, len(numbers), _AT_ONCE):
            some = [number for (number,) in numbers[k : k + _AT_ONCE]]
            with _sentences(self.path):
                rows = self._db.execute(
                    """
                    SELECT number, kind, at, "end", written, author, corrects, body, previous, hash
                    FROM entry WHERE number IN (SELECT value FROM json_each(?)) ORDER BY number
                    """,
                    (json.dumps(some),),
                ).fetchall()
            for row in rows:
                yield self._whole(row)

    def corrections(self) -> Iterator[Entry]:
        """Return all entries that correct or withdraw another, and those others, by number."""
        with _sentences(self.path):
            numbers = self._db.execute(
                """
                SELECT number FROM entry WHERE corrects IS NOT NULL
                UNION
                SELECT corrects FROM entry WHERE corrects IS NOT NULL
                ORDER BY number
                """
            ).fetchall()
        return self._numbered(numbers)

    def get(self, number: int) -> Entry | None:
        """Return the entry of a number, None if there is none."""
        if not 0 < number < 2**63:
            return None
        with _sentences(self.path):
            row = self._db.execute(
                """
                SELECT number, kind, at, "end", written, author, corrects, body, previous, hash
                FROM entry WHERE number = ?
                """,
                (number,),
            ).fetchone()
        return None if row is None else self._whole(row)

    def latest(self, number: int) -> int:
        """Return the number of the last correction of an entry, its own if it has none.

        Of an entry that was taken back it is the number of the withdrawal.

        Raises
        ------
        LogError
            If there is no such entry.
        """
        if self._kind_of(number) is None:
            raise LogError(f"{self.path}: there is no entry {number}; {self._how_many()}")
        with _sentences(self.path):
            row = self._db.execute(
                """
                WITH RECURSIVE line (number) AS (
                    SELECT ?
                    UNION
                    SELECT entry.number FROM entry JOIN line ON entry.corrects = line.number
                )
                SELECT max(number) FROM line
                """,
                (number,),
            ).fetchone()
        return int(row[0])

    def backup(self, to: Path) -> int:
        """Copy the log to a new file while it is in use; return how many entries the copy has.

        Raises
        ------
        LogError
            If the file exists or cannot be written, or if the copy has a fault: it is then not
            left there.
        """
        with new_file(to) as made:
            with _sentences(self.path, to):
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

    def rows(self) -> Iterator[Row]:
        """Return the rows of the table by number, as they are; errors are those of sqlite3."""
        yield from self._db.execute(
            """
            SELECT number, kind, at, "end", written, author, corrects, body, previous, hash
            FROM entry ORDER BY number
            """
        )

    @contextmanager
    def _writing(self, *, foreign_keys: bool = True) -> Iterator[None]:
        """Hold the one lock for writing; what was written within is kept whole or not at all."""
        with _sentences(self.path):
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
        self._db.execute("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)

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
        if isinstance(draft.body, Opening) != (number == 1):
            raise LogError(f"{self.path}: {_wrong_opening(number == 1)}")
        if draft.corrects is None:
            if isinstance(draft.body, Withdrawal):
                raise LogError(f"{self.path}: a withdrawal takes an entry back; name its number")
            return
        old = draft.corrects
        kind = self._kind_of(old)
        if kind is None:
            fault = f"there is no entry {old} to correct; {self._how_many()}"
        elif kind in _LASTING:
            fault = f"entry {old} is of kind {kind}, which is neither corrected nor withdrawn"
        elif (last := self.latest(old)) != old:
            fault = (
                f"entry {old} was withdrawn by {last}; write a new entry"
                if self._kind_of(last) == Withdrawal.kind
                else f"entry {old} was corrected by {last}; correct {last}"
            )
        elif not isinstance(draft.body, Withdrawal) and draft.body.kind != kind:
            fault = (
                f"entry {old} is of kind {kind}, not {draft.body.kind}; correct it by one of its "
                "own kind, or withdraw it"
            )
        else:
            return
        raise LogError(f"{self.path}: {fault}")

    def _not_there(self, number: int, corrects: int, chain: _Chain) -> str | None:
        """Return why what an entry corrects is neither an earlier entry nor one declared lost."""
        if corrects < number and (chain.is_lost(corrects) or self._kind_of(corrects) is not None):
            return None
        return _no_earlier(number, corrects)

    def _kind_of(self, number: int) -> str | None:
        if not 0 < number < 2**63:
            return None
        with _sentences(self.path):
            row = self._db.execute("SELECT kind FROM entry WHERE number = ?", (number,)).fetchone()
        return None if row is None else str(row[0])

    def _how_many(self) -> str:
        last = self.head[0]
        return f"the last one is {last}" if last else "the log has none yet"

    def _whole(self, row: Row) -> Entry:
        entry = as_entry(row)
        if entry is None:
            raise LogError(
                f"{self.path}: entry {row[0]} {_CHANGED}; run: dewgap log verify"
            )
        return entry


def create_log(path: Path, opening: Opening, author: str) -> FieldLog:
    """Begin a log with its first entry, in a new file.

    Raises
    ------
    LogError
        If the file exists or cannot be written.
    """
    return _created(path, (Draft(author, opening),))


def create_empty(path: Path) -> FieldLog:
    """Make the file of a log without entries, for those of an export.

    Raises
    ------
    LogError
        If the file exists or cannot be written.
    """
    return _created(path, ())


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
    _check_file(path)
    with _sentences(path):
        if not read_only:
            db = connect(path, "mode=rw")
        elif os.access(path.parent, os.W_OK) or _has_content(_beside(path, "-wal")):
            db = connect(path, "mode=ro")
        else:
            # Nobody can write there and nothing waits beside the file: it is read as it is.
            db = connect(path, "mode=ro&immutable=1")
        try:
            _check_format(path, db, read_only)
            log = FieldLog(path, db)
            _ = log.head
        except BaseException:
            db.close()
            raise
    return log


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


def verify(log: FieldLog, known_head: str | None = None) -> Verified:
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
    with _sentences(log.path):
        # One view of the file for all of it, while others write.
        log._db.execute("BEGIN")
        try:
            proof.read(log)
        finally:
            with suppress(sqlite3.Error):
                log._db.execute("ROLLBACK")
    return proof.found()


def as_entry(row: Row) -> Entry | None:
    """Return the entry of a row, None if the row is not what was written.

    The hash is worked out from the texts of the row as they stand, so that not even a body that
    says the same in other bytes passes.
    """
    number, kind, at, end, written, author, corrects, body, previous, its_hash = row
    texts = {type(text) for text in (kind, at, written, author, body, previous, its_hash)}
    if (
        texts != {str}
        or type(number) is not int
        or not (corrects is None or type(corrects) is int)
        or _row_hash(number, kind, written, author, corrects, body, previous) != its_hash
    ):
        return None
    try:
        moment = datetime.fromisoformat(written)
        told_body = KINDS[kind].model_validate_json(body)
    except (KeyError, ValueError):
        return None
    if (at, end, written) != (told(told_body.at), _end_of(told_body), told(moment)):
        return None
    return Entry(number, moment, author, corrects, told_body, previous, its_hash)


def as_row(entry: Entry) -> Row:
    """Return the row of an entry."""
    return (
        entry.number, entry.kind, told(entry.at), _end_of(entry.body), told(entry.written),
        entry.author, entry.corrects, canonical_body(entry.body).decode("utf-8"), entry.previous,
        entry.hash,
    )  # fmt: skip


def name_of(author: str, path: Path) -> str:
    """Return who writes, as a name on one line; LogError if it is none."""
    try:
        name = _NAME.validate_python(author)
    except ValueError:
        name = ""
    if not name:
        raise LogError(
            f"{path}: an author {str(author)[:60]!r} is not a name on one line; tell who writes"
        )
    return name


@contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """Refuse a path that exists; give one in a folder beside it that goes away afterwards.

    Raises
    ------
    LogError
        If the path exists, or its folder cannot be written to.
    """
    if os.path.lexists(path):
        raise LogError(f"{path}: exists already and is not written over; name a new file")
    try:
        with tempfile.TemporaryDirectory(
            dir=path.parent, prefix=".dewgap-", ignore_cleanup_errors=True
        ) as folder:
            yield Path(folder) / "new"
    except FileExistsError:
        raise LogError(f"{path}: was made meanwhile by another; name a new file") from None
    except OSError as fault:
        raise LogError(
            f"{path}: cannot be written ({fault.strerror}); name a file in a folder that exists, "
            "has room and is yours to write to"
        ) from None


def publish(made: Path, path: Path) -> None:
    """Give a finished file its name, at once and never over another file.

    Raises
    ------
    FileExistsError
        If the name was taken meanwhile.
    """
    try:
        os.link(made, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        made.rename(path)
    with suppress(OSError):  # the name is on the disk too; Windows does not open folders
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


@dataclass
class _Chain:
    """Where a chain has come to, and the holes on the way."""

    declared: dict[tuple[int, int], int]
    number: int = 0
    hash: str = FIRST
    missing: list[tuple[int, int]] = field(default_factory=list)

    def follow(self, entry: Entry) -> str | None:
        """Go on to an entry; return why it does not follow."""
        return self.step(entry.number, entry.previous, entry.hash, entry.body)

    def step(self, number: int, previous: str, its_hash: str, body: Body | None) -> str | None:
        """Go on to a row; return why it does not follow."""
        before, first = self.number, self.number + 1
        fault = None
        if number < first:
            return f"entry {number} does not come after entry {before}"
        if number == first:
            if previous != self.hash:
                fault = f"entry {number} does not continue " + (
                    f"entry {before} as it stands" if before else "nothing, as the first must"
                )
        else:
            hole = (first, number - 1)
            self.missing.append(hole)
            mine = isinstance(body, Repair) and hole in body.missing
            if self.declared.get(hole, 0) < number:
                fault = f"{_span(hole)} missing"
            elif mine and previous != self.hash:
                # A repair that follows the hole itself was bound to the last entry that was left.
                fault = f"entry {number} does not continue entry {before} as it stands"
        self.number, self.hash = number, its_hash
        return fault

    def is_lost(self, number: int) -> bool:
        """Tell whether a number lies in a declared hole."""
        return any(first <= number <= last for first, last in self.declared)


@dataclass
class _Proof:
    """What is found while the rows of a log are read."""

    wanted: str | None
    entries: int = 0
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    chain: _Chain = field(default_factory=lambda: _Chain({}))
    contains_head: bool = False

    def read(self, log: FieldLog) -> None:
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

    def _rows(self, log: FieldLog) -> None:
        repairs = log._db.execute(
            """
            SELECT number, kind, at, "end", written, author, corrects, body, previous, hash
            FROM entry WHERE kind = 'repair'
            """
        ).fetchall()
        self.chain.declared = _declared([e for e in map(as_entry, repairs) if e is not None])
        numbers: set[int] = set()
        written = ""
        for row in log.rows():
            entry = as_entry(row)
            number = row[0]
            self.entries += 1
            if entry is None:
                self.faults.append(f"entry {number} {_CHANGED}")
                fault = self.chain.step(number, str(row[8]), str(row[9]), None)
            else:
                fault = self.chain.follow(entry)
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
                    f"{_span(hole)} lost, as entry {self.chain.declared[hole]} declares"
                )

    def _entry(self, entry: Entry, numbers: set[int], written: str) -> None:
        if isinstance(entry.body, Opening) != (entry.number == 1):
            self.faults.append(f"entry {entry.number}: {_wrong_opening(entry.number == 1)}")
        if entry.corrects is not None and entry.corrects not in numbers:
            if self.chain.is_lost(entry.corrects):
                self.notes.append(f"entry {entry.number} corrects {entry.corrects}, which is lost")
            else:
                self.faults.append(_no_earlier(entry.number, entry.corrects))
        if told(entry.written) < written:
            self.notes.append(
                f"entry {entry.number} was written at {told(entry.written)} by the clock, before "
                f"the one before it at {written}"
            )
        if self.wanted is not None and entry.hash.startswith(self.wanted):
            self.contains_head = True

    def _file(self, log: FieldLog) -> None:
        for (line,) in log._db.execute("PRAGMA integrity_check(10)"):
            if line != "ok":
                told_line = " ".join(str(line).split())
                self.faults.append(f"the file is damaged ({told_line}); run: dewgap log repair")
        for _, number, *_ in log._db.execute("PRAGMA foreign_key_check"):
            row = log._db.execute("SELECT corrects FROM entry WHERE number = ?", (number,))
            names = next(row, (None,))[0]
            if type(names) is not int or not self.chain.is_lost(names):
                self.faults.append(_no_earlier(number, names))

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


def _declared(entries: Sequence[Entry]) -> dict[tuple[int, int], int]:
    """Return each hole that is declared, with the number of the last entry that declares it."""
    return {
        hole: entry.number
        for entry in entries
        if isinstance(entry.body, Repair)
        for hole in entry.body.missing
    }


def _no_earlier(number: int, corrects: object) -> str:
    return f"entry {number} corrects {corrects}, which is no earlier entry"


def _span(hole: tuple[int, int]) -> str:
    first, last = hole
    return f"entry {first} is" if first == last else f"entries {first} to {last} are"


def _wrong_opening(first: bool) -> str:
    return (
        "the first entry of a log must be an opening"
        if first
        else "an opening is the first entry of a log and no later one"
    )


def _row_hash(
    number: int, kind: str, written: str, author: str, corrects: int | None, body: str,
    previous: str,
) -> str:  # fmt: skip
    """Return what `windows.log.chain.digest` returns, from the texts of a row.

    Python's JSON of a string is that of RFC 8785. Bytes that are no UTF-8 go through as they are.
    """
    line = (
        f'{{"author":{_quoted(author)},"body":{_quoted(body)},'
        f'"corrects":{"null" if corrects is None else corrects},"kind":{_quoted(kind)},'
        f'"number":{number},"previous":{_quoted(previous)},"written":{_quoted(written)}}}'
    )
    return hashlib.sha256(line.encode("utf-8", "surrogateescape")).hexdigest()


def _bound(
    draft: Draft, body: str, number: int, written: datetime, previous: str
) -> tuple[Entry, Row]:
    """Return a draft as an entry bound to the one before it, and its row."""
    kind, corrects, moment = draft.body.kind, draft.corrects, told(written)
    its_hash = _row_hash(number, kind, moment, draft.author, corrects, body, previous)
    entry = Entry(number, written, draft.author, corrects, draft.body, previous, its_hash)
    return entry, (
        number, kind, told(entry.at), _end_of(draft.body), moment, draft.author, corrects, body,
        previous, its_hash,
    )  # fmt: skip


def _end_of(body: Body) -> str | None:
    end = body.__dict__.get("end")  # ten times as fast as getattr of what a body may not have
    return None if end is None else told(end)


def _proved_row(entry: Entry) -> Row | None:
    """Return the row of an entry, None if its hash is another or it would not be read back."""
    try:
        row = as_row(entry)
        return row if as_entry(row) == entry else None
    except ValueError:
        return None


def _aware(when: datetime) -> datetime:
    if when.utcoffset() is None:
        raise LogError(f"{when} is not a moment with an offset; give its zone")
    return when.astimezone(UTC)


def _created(path: Path, drafts: Sequence[Draft]) -> FieldLog:
    with new_file(path) as made:
        with _sentences(path):
            db = sqlite3.connect(made, isolation_level=None)
            try:
                db.execute("PRAGMA page_size = 4096")
                db.execute("PRAGMA journal_mode = WAL")
                for setting in _SETTINGS:
                    db.execute(setting)
                _migrate(db, 0)
                FieldLog(path, db).append(drafts)
            finally:
                db.close()
        publish(made, path)
    return open_log(path)


def _migrate(db: sqlite3.Connection, version: int) -> None:
    """Bring a file to the format of this version, one migration in one transaction."""
    for script in _MIGRATIONS[version:]:
        db.execute("BEGIN IMMEDIATE")
        try:
            statement = ""
            for line in script.splitlines(keepends=True):
                statement += line
                if sqlite3.complete_statement(statement):
                    db.execute(statement)
                    statement = ""
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise


def connect(path: Path, how: str) -> sqlite3.Connection:
    """Open a file that exists, with the settings of a log; errors are those of sqlite3."""
    db = sqlite3.connect(
        f"{path.absolute().as_uri()}?{how}", uri=True, timeout=_PATIENCE_S, isolation_level=None
    )
    # A damaged text is still read, so that its entry can be named.
    db.text_factory = _text
    try:
        for setting in _SETTINGS:
            db.execute(setting)
    except BaseException:
        db.close()
        raise
    return db


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "surrogateescape")


def _check_file(path: Path) -> None:
    try:
        found = path.stat()
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise LogError(
            f"{path}: there is no log yet: dewgap log place or read begins one"
        ) from None
    except OSError as fault:
        raise LogError(
            f"{path}: cannot be read ({fault.strerror}); change the rights of the file"
        ) from None
    if stat.S_ISDIR(found.st_mode):
        raise LogError(f"{path}: is a folder; name the file of the log")
    if found.st_size == 0:
        raise LogError(f"{path}: is empty, not a field log; put a backup in its place")


def _check_format(path: Path, db: sqlite3.Connection, read_only: bool) -> None:
    application = db.execute("PRAGMA application_id").fetchone()[0]
    version = db.execute("PRAGMA user_version").fetchone()[0]
    known = FORMAT
    if application != _APPLICATION_ID:
        raise LogError(
            f"{path}: is not a field log but another database; name the file of the log, or, if "
            "it was one, run: dewgap log repair"
        )
    if version > known:
        raise LogError(
            f"{path}: was written by a newer version of dewgap (format {version}, this one knows "
            f"{known}); update dewgap"
        )
    if version < 1:
        raise LogError(f"{path}: {_DAMAGED}")
    if version < known:
        if read_only:
            raise LogError(
                f"{path}: was written by an older version of dewgap (format {version}); open it "
                "once for writing, which brings it up to date"
            )
        _migrate(db, version)


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(path.name + ending)


def _has_content(path: Path) -> bool:
    try:
        return path.stat().st_size > 0
    except OSError:
        return False


_DAMAGED = "is damaged; keep it as it is and run: dewgap log repair"
_FULL = "there is no room on the disk; nothing of this entry was written; make room and try again"
_WHY = {
    sqlite3.SQLITE_BUSY: (
        f"is being written to by another program for over {_PATIENCE_S:.0f} seconds; try again "
        "when that is done"
    ),
    sqlite3.SQLITE_LOCKED: "is in use by another part of this program; try again",
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR_SHMSIZE: _FULL,
    sqlite3.SQLITE_READONLY: (
        "cannot be written to; change the rights of the file and its folder, or work on a copy"
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "cannot be opened; look whether the file and its folder may be read and written to, or "
        "work on a copy of it and of the file of that name with -wal"
    ),
    sqlite3.SQLITE_PERM: "cannot be opened; change the rights of the file",
    sqlite3.SQLITE_NOTADB: (
        "is not a field log; name the file of the log, or, if it was one, run: dewgap log repair"
    ),
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    # An error of SQL can only come from a table that is not as it was made.
    sqlite3.SQLITE_ERROR: _DAMAGED,
}
"""What an error of SQLite means for who reads it: https://www.sqlite.org/rescode.html."""


@contextmanager
def _sentences(path: Path, to: Path | None = None) -> Iterator[None]:
    """Tell errors of SQLite in one sentence; ``to`` is the file written to if it is another."""
    try:
        yield
    except sqlite3.Error as fault:
        code = getattr(fault, "sqlite_errorcode", None)
        if code is None:
            why = f"cannot be used ({fault}); open it again"
        elif code & 0xFF == sqlite3.SQLITE_IOERR and code not in _WHY:
            why = (
                f"could not be read or written ({fault}); nothing of this entry was written; look "
                "whether the disk has room and is whole, and try again"
            )
        else:
            why = _WHY.get(code) or _WHY.get(code & 0xFF) or f"cannot be used ({fault})"
        where = to if to is not None and why != _DAMAGED else path
        raise LogError(f"{where}: {why}") from None
