"""The rows of an export or of a table filled in by hand, unchecked.

What a file is, is told by what is in it, never by its name.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, Any

from windows.errors import LogError, did_you_mean
from windows.log.cells import shown, unguarded
from windows.log.columns import check_header
from windows.parquet import pyarrow

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

__all__ = ["FORMAT", "VERSION", "Row", "read_entries", "require_parquet"]

FORMAT, VERSION = "dewgap-log", 1
"""What the JSON says that it is, and the version of that form."""

_ENTRY = ("number", "kind", "written", "author", "corrects", "body", "previous", "hash")
_LONGEST_CELL = 8_000_000
"""Ten thousand readings of wet film with their places fit. [characters]"""
_LARGEST_TABLE = 2 * 1024**3
"""A larger Parquet file is none of a log's, or made to fill the memory. [bytes]"""
_DELIMITERS = (",", ";", "\t")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True)
class Row:
    """An entry as a file has it, unchecked: what it says by column, and where it stands.

    ``body`` holds the fields of an entry of JSON, None where the cells have them.
    """

    place: str
    cells: Mapping[str, object]
    body: Mapping[str, object] | None = None


def require_parquet() -> Any:
    """Return the library that reads and writes Parquet.

    Raises
    ------
    DewgapError
        If it is not installed.
    """
    return pyarrow(
        "a log as Parquet needs the extra cluster: pip install pyarrow; CSV and JSON do without"
    )


def read_entries(content: bytes, where: str) -> list[Row]:
    """Return the rows of an export or of a table filled in by hand.

    Parameters
    ----------
    content
        JSON, Parquet, or CSV with commas, semicolons or tabs.
    where
        Name of the file, for faults.

    Raises
    ------
    LogError
        If it is none of them, is damaged, or has a column that no entry has.
    """
    if content[:4] == b"PAR1":
        return list(_parquet_rows(content, where))
    text = _text(content, where)
    if not text.strip():
        raise LogError(f"{where}: the file is empty; give an export of a log, or a filled template")
    return list(
        _json_rows(text, where) if text.lstrip()[0] in "{[" else _csv_rows(text, where)
    )


def _text(content: bytes, where: str) -> str:
    try:
        return content.decode("utf-16" if content[:2] in _UTF16 else "utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise LogError(
            f"{where}: line {line} is not UTF-8 text; save the file as UTF-8 (in a spreadsheet "
            "'CSV UTF-8')"
        ) from None


def _csv_rows(text: str, where: str) -> Iterator[Row]:
    """Return the rows of a table with a value in them, each at the line on which it begins."""
    lines = text.splitlines()
    first = next(n for n, line in enumerate(lines) if line.strip())
    delimiter = max(_DELIMITERS, key=lines[first].count)
    before = csv.field_size_limit(_LONGEST_CELL)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        names: list[str] = []
        line = 1
        for cells in reader:
            place, line = f"{where}: line {line}", reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if names:
                yield _csv_row(cells, names, place)
            else:
                names = [cell.strip() for cell in cells]
                check_header([name for name in names if name], place)
    except csv.Error as fault:
        long = "field larger" in str(fault)
        raise LogError(
            f"{where}: line {line} has a cell of more than {_LONGEST_CELL} characters; no entry is "
            "so long"
            if long
            else f"{where}: line {line} has a quotation mark that does not close, or text after "
            "one; double a quotation mark inside a cell"
        ) from None
    finally:
        csv.field_size_limit(before)


def _csv_row(cells: Sequence[str], names: Sequence[str], place: str) -> Row:
    for column, cell in enumerate(cells):
        if cell.strip() and (column >= len(names) or not names[column]):
            raise LogError(
                f"{place}: {shown(cell)} stands in column {column + 1}, which has no name; name "
                "the column, or put a text with a delimiter in quotation marks"
            )
    return Row(
        place, {name: unguarded(cell) for name, cell in zip(names, cells, strict=False)
                if cell.strip()}
    )  # fmt: skip


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is no value of JSON")


def _distinct(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key is there twice")
    return found


def _json_rows(text: str, where: str) -> Iterator[Row]:
    try:
        data = json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_distinct)
    except json.JSONDecodeError as fault:
        why = fault.msg.lower().removesuffix(" at")
        raise LogError(
            f"{where}: line {fault.lineno} is not valid JSON ({why}); use the export as it was "
            "written"
        ) from None
    except (ValueError, RecursionError) as fault:
        why = str(fault) if "JSON" in str(fault) or "twice" in str(fault) else "no log is like it"
        raise LogError(
            f"{where}: not valid JSON ({why}); use the export as it was written"
        ) from None
    entries = data.get("entries") if isinstance(data, dict) else None
    if not isinstance(data, dict) or data.get("format") != FORMAT or not isinstance(entries, list):
        raise LogError(
            f'{where}: not the export of a log, which has "format": "{FORMAT}" and "entries"; give '
            "another file"
        )
    if data.get("version") != VERSION or isinstance(data.get("version"), bool):
        raise LogError(
            f"{where}: it is version {shown(data.get('version'))} of the form of a log, and this "
            f"program reads {VERSION}; use the program that wrote it, or a newer one"
        )
    for key in data:
        if key not in {"format", "version", "entries"}:
            raise LogError(
                f"{where}: key {shown(key)} is not known; use the export as it was written"
            )
    for position, each in enumerate(entries, 1):
        yield _json_row(each, f"{where}: entry {position} of the file")


def _json_row(given: object, place: str) -> Row:
    if not isinstance(given, dict) or not isinstance(given.get("body"), dict):
        raise LogError(f'{place} is no entry with a "body"; use the export as it was written')
    for key in given:
        if key not in _ENTRY:
            near = did_you_mean(key[:40], _ENTRY)
            raise LogError(f"{place}: key {shown(key)} is not known; {near}")
    cells = {name: v for name, v in given.items() if name != "body" and v is not None}
    return Row(place, cells, given["body"])


def _parquet_rows(content: bytes, where: str) -> Iterator[Row]:
    pa = require_parquet()
    try:
        file = pa.parquet.ParquetFile(pa.BufferReader(content), page_checksum_verification=True)
        groups = [file.metadata.row_group(n) for n in range(file.metadata.num_row_groups)]
        if sum(group.total_byte_size for group in groups) > _LARGEST_TABLE:
            raise LogError(f"{where}: the table is larger than 2 GB; no log is; give another file")
        check_header(file.schema_arrow.names, where)
        rows = file.read(use_threads=False).to_pylist()
    except (pa.ArrowException, OSError, ValueError, KeyError, TypeError, OverflowError):
        raise LogError(
            f"{where}: the Parquet file is damaged; use the export as it was written"
        ) from None
    for position, cells in enumerate(rows, 1):
        given = {name: value for name, value in cells.items() if not _empty(value)}
        if given:
            yield Row(f"{where}: row {position}", given)


def _empty(value: object) -> bool:
    if isinstance(value, float):
        return isnan(value)
    return value is None or (isinstance(value, (str, list)) and not value)
