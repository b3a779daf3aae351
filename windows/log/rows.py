"""Rows of the table of a log: an entry as its columns, proved by its hash when it is read."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

from windows.log.chain import canonical_body, told
from windows.log.entries import KINDS, Entry

if TYPE_CHECKING:
    from windows.log.entries import Body, Draft

__all__ = ["CHANGED", "INSERT", "SELECT", "Row", "as_entry", "as_row", "bound", "proved_row"]

Row = tuple[Any, Any, Any, Any, Any, Any, Any, Any, Any, Any]
"""A row of the table as read, in the order of its columns; a damaged one has anything in it."""

SELECT = """
    SELECT number, kind, at, "end", written, author, corrects, body, previous, hash FROM entry
"""
"""Reads rows of the table; what it is asked for follows."""

INSERT = "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
"""Writes a row."""

CHANGED = "is not what was written: its hash is another"
"""What is told of a row that its hash does not prove."""

_quoted = json.JSONEncoder(ensure_ascii=False).encode


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
    return _row(entry, canonical_body(entry.body).decode("utf-8"))


def bound(
    draft: Draft, body: str, number: int, written: datetime, previous: str
) -> tuple[Entry, Row]:
    """Return a draft as an entry bound to the one before it, and its row."""
    its_hash = _row_hash(
        number, draft.body.kind, told(written), draft.author, draft.corrects, body, previous
    )
    entry = Entry(number, written, draft.author, draft.corrects, draft.body, previous, its_hash)
    return entry, _row(entry, body)


def proved_row(entry: Entry) -> Row | None:
    """Return the row of an entry, None if its hash is another or it would not be read back."""
    try:
        row = as_row(entry)
        return row if as_entry(row) == entry else None
    except ValueError:
        return None


def _row(entry: Entry, body: str) -> Row:
    return (
        entry.number, entry.kind, told(entry.at), _end_of(entry.body), told(entry.written),
        entry.author, entry.corrects, body, entry.previous, entry.hash,
    )  # fmt: skip


def _end_of(body: Body) -> str | None:
    end = body.__dict__.get("end")  # ten times as fast as getattr of what a body may not have
    return None if end is None else told(end)


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
