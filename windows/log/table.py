"""The table of an open log as it is read: every entry is proved by its own hash.

Several programs may read and write at once; a reader sees whole batches only.
"""

from __future__ import annotations

import json
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from sqlite3 import Error
from typing import TYPE_CHECKING, Self

from windows.errors import LogError
from windows.log.chain import FIRST, told
from windows.log.entries import kinds_of
from windows.log.rows import CHANGED, SELECT, as_entry
from windows.log.sqlite_errors import sentences

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from sqlite3 import Connection

    from windows.log.entries import Entry
    from windows.log.rows import Row

__all__ = ["LogTable"]

_AT_ONCE = 1000  # rows read in one statement, so that no lock and no memory is held for long


_ASKED = """
    number > ?1 AND (?2 IS NULL OR coalesce("end", at) >= ?2) AND (?3 IS NULL OR at <= ?3)
    AND (NOT ?4 OR (
        kind <> 'withdrawal'
        AND NOT EXISTS (SELECT 1 FROM entry AS e WHERE e.corrects = entry.number)
    ))
    ORDER BY number
"""
_OF_ALL = f"SELECT number FROM entry WHERE {_ASKED}"
# By the index of kinds and times.
_OF_KINDS = (
    f"SELECT number FROM entry WHERE kind IN (SELECT value FROM json_each(?5)) AND {_ASKED}"
)

class LogTable:
    """An open log to read. Close it, or use it in a ``with`` statement.

    Parameters
    ----------
    path
        The file of the log.
    db
        A connection to it, without transactions of its own (``isolation_level=None``).
    """

    def __init__(self, path: Path, db: Connection) -> None:
        self.path = path
        self._db = db

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; what was written is in it either way."""
        with sentences(self.path):
            self._db.close()

    @property
    def head(self) -> tuple[int, str]:
        """Number and hash of the last entry; (0, 64 zeros) of a log without any."""
        with sentences(self.path):
            row = self._db.execute(
                "SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1"
            ).fetchone()
        return (0, FIRST) if row is None else (row[0], str(row[1]))

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
        with sentences(self.path):
            asked: list[object] = [after, first, last, standing]
            numbers = self._db.execute(
                _OF_KINDS if kinds else _OF_ALL, [*asked, json.dumps(kinds)] if kinds else asked
            ).fetchall()
        yield from self._numbered(numbers)

    def _numbered(self, numbers: list[tuple[int]]) -> Iterator[Entry]:
        for k in range(0, len(numbers), _AT_ONCE):
            some = [number for (number,) in numbers[k : k + _AT_ONCE]]
            with sentences(self.path):
                rows = self._db.execute(
                    f"{SELECT} WHERE number IN (SELECT value FROM json_each(?)) ORDER BY number",
                    (json.dumps(some),),
                ).fetchall()
            for row in rows:
                yield self._whole(row)

    def readings_to_learn(self, start: datetime, end: datetime) -> Iterator[Entry]:
        """Return the readings of a time that stand; of those of loggers one an hour.

        Whoever learns from them takes a day as one: more of an hour add nothing but time. Of an
        hour there is one of each logger and section, of each set of values that it has read, and
        beside each source.
        """
        with sentences(self.path):
            numbers = self._db.execute(
                """
                SELECT min(number) FROM entry
                WHERE kind = 'reading' AND at BETWEEN ?1 AND ?2
                AND NOT EXISTS (SELECT 1 FROM entry AS e WHERE e.corrects = entry.number)
                GROUP BY CASE json_extract(body, '$.occasion') WHEN 'logger'
                    THEN json_array(
                        substr(at, 1, 13), json_extract(body, '$.section', '$.instruments'),
                        json_extract(body, '$.beside.source', '$.beside.model'),
                        json_extract(body, '$.air_temp_c') IS NULL,
                        json_extract(body, '$.surface_temp_c') IS NULL,
                        json_extract(body, '$.rel_humidity') IS NULL,
                        json_extract(body, '$.dew_point_c') IS NULL
                    )
                    ELSE number
                END
                ORDER BY 1
                """,
                (told(_aware(start)), told(_aware(end))),
            ).fetchall()
        return self._numbered(numbers)

    def with_photos(self) -> Iterator[Entry]:
        """Return the entries that name photos, by number."""
        with sentences(self.path):
            numbers = self._db.execute(
                "SELECT number FROM entry WHERE body LIKE '%\"photos\":%' ORDER BY number"
            ).fetchall()
        return self._numbered(numbers)

    def corrections(self) -> Iterator[Entry]:
        """Return all entries that correct or withdraw another, and those others, by number."""
        with sentences(self.path):
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
        with sentences(self.path):
            row = self._db.execute(f"{SELECT} WHERE number = ?", (number,)).fetchone()
        return None if row is None else self._whole(row)

    def latest(self, number: int) -> int:
        """Return the number of the last correction of an entry, its own if it has none.

        Of an entry that was taken back it is the number of the withdrawal.

        Raises
        ------
        LogError
            If there is no such entry.
        """
        if self.kind_of(number) is None:
            raise LogError(f"{self.path}: there is no entry {number}; {self.how_many()}")
        with sentences(self.path):
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

    def kind_of(self, number: int) -> str | None:
        """Return the kind of the entry of a number as it stands, None if there is none."""
        if not 0 < number < 2**63:
            return None
        with sentences(self.path):
            row = self._db.execute("SELECT kind FROM entry WHERE number = ?", (number,)).fetchone()
        return None if row is None else str(row[0])

    def how_many(self) -> str:
        """Return which entry is the last, as a part of a sentence."""
        last = self.head[0]
        return f"the last one is {last}" if last else "the log has none yet"

    def rows(self) -> Iterator[Row]:
        """Return the rows of the table by number, as they are; errors are those of sqlite3."""
        yield from self._db.execute(f"{SELECT} ORDER BY number")

    def repairs(self) -> list[Row]:
        """Return the rows that tell of repairs, as they are; errors are those of sqlite3."""
        return self._db.execute(f"{SELECT} WHERE kind = 'repair'").fetchall()

    def damage(self) -> Iterator[str]:
        """Return what SQLite finds wrong with the file; errors are those of sqlite3."""
        for (line,) in self._db.execute("PRAGMA integrity_check(10)"):
            if line != "ok":
                yield " ".join(str(line).split())

    def without_origin(self) -> Iterator[tuple[int, object]]:
        """Return each entry that corrects one that is not there, and which that is."""
        for _, number, *_ in self._db.execute("PRAGMA foreign_key_check"):
            row = self._db.execute("SELECT corrects FROM entry WHERE number = ?", (number,))
            yield number, next(row, (None,))[0]

    @contextmanager
    def one_view(self) -> Iterator[None]:
        """See the file as it is now for as long as this lasts, while others write."""
        with sentences(self.path):
            self._db.execute("BEGIN")
            try:
                yield
            finally:
                with suppress(Error):
                    self._db.execute("ROLLBACK")

    def _whole(self, row: Row) -> Entry:
        entry = as_entry(row)
        if entry is None:
            raise LogError(f"{self.path}: entry {row[0]} {CHANGED}; run: dewgap log verify")
        return entry


def _aware(when: datetime) -> datetime:
    if when.utcoffset() is None:
        raise LogError(f"{when} is not a moment with an offset; give its zone")
    return when.astimezone(UTC)
