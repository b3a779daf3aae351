"""Rows of a log from the bytes of its pages, wherever they lie and whatever points to them.

Of the formats: https://www.sqlite.org/fileformat2.html (pages 1.6, records 2.1, the write-ahead log
4.1 and 4.2).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Literal

from windows.log.schema import PAGE_SIZE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from windows.log.rows import Row

__all__ = ["is_cut", "rows_in"]

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


def is_cut(wal: bytes, followed: int) -> bool:
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


def rows_in(main: bytes, wal: bytes) -> Iterator[Row]:
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
