"""What a log's file is to SQLite: its table, the triggers that refuse changes, its settings."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from windows.errors import LogError
from windows.log.sqlite_errors import DAMAGED

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FORMAT", "PAGE_SIZE", "SETTINGS", "check_format", "migrate"]

PAGE_SIZE = 4096
"""Of a page of the file, fixed so that the pages of a damaged one can be found. [bytes]"""

_APPLICATION_ID = 0x44657747  # "DewG" in the file's header, at byte 68

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

SETTINGS = (
    "PRAGMA foreign_keys = ON",
    "PRAGMA synchronous = FULL",
    "PRAGMA fullfsync = ON",  # on macOS a plain fsync leaves data in the disk's own cache
    "PRAGMA cache_size = -65536",  # 64 MB: the index of the hashes of a large batch stays in it
    "PRAGMA trusted_schema = OFF",
    "PRAGMA cell_size_check = ON",
)
"""What is set on every connection: https://www.sqlite.org/pragma.html."""


def migrate(db: sqlite3.Connection, version: int) -> None:
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


def check_format(path: Path, db: sqlite3.Connection, read_only: bool) -> None:
    """Bring an older file up to date; refuse a newer one, one that is read only, another database.

    Raises
    ------
    LogError
        If it is refused.
    """
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
        raise LogError(f"{path}: {DAMAGED}")
    if version < known:
        if read_only:
            raise LogError(
                f"{path}: was written by an older version of dewgap (format {version}); open it "
                "once for writing, which brings it up to date"
            )
        migrate(db, version)
