"""Parts of a portfolio: a Parquet file a site, by which a broken run goes on where it was."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from windows.errors import DewgapError
from windows.parquet import pyarrow
from windows.seasons.portfolio import COLUMNS, summarise_site
from windows.sources.csv_cells import content_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from windows.seasons.portfolio import Asked, Cell, Row

__all__ = [
    "Part", "encode", "fingerprint", "join", "plan_part", "read_part", "require_parquet",
    "table_of", "to_csv", "to_parquet", "work_part",
]  # fmt: skip

_KEY = b"dewgap_fingerprint"
_TYPES = {"text": "string", "whole": "int32", "number": "float64"}
_SHOWN_DIGITS = 16


@dataclass(frozen=True)
class Part:
    """A row, the fingerprint of all that its result rests on, and the file of that result."""

    row: Row
    fingerprint: str
    path: Path


def require_parquet() -> Any:
    """Return the library that reads and writes Parquet.

    Raises
    ------
    DewgapError
        If it is not installed.
    """
    return pyarrow(
        "portfolio writes Parquet, which needs the extra cluster: pip install pyarrow"
    )


@cache
def _code() -> bytes:
    """Return what tells this program apart: its own files, and the calendars that it reads."""
    found = sha256()
    for package in ("windows", "cure_models"):
        root = Path(str(files(package)))
        for path in sorted(root.rglob("*")):
            if path.suffix in {".py", ".toml"}:
                found.update(str(path.relative_to(root)).encode() + path.read_bytes())
    for name in ("holidays", "tzdata", "numpy"):
        found.update(version(name).encode())
    return found.digest()


def fingerprint(row: Row, asked: Asked) -> str:
    """Return what tells the result of a row apart: sha256 of all that it rests on.

    Raises
    ------
    HoursError
        If one of the row's files cannot be read.
    """
    found = sha256()
    for content in (
        _code(),
        row.label.encode(),
        content_of(row.site, "site file"),
        content_of(row.years, "file of years"),
        f"{asked.limits} {asked.assume_cloud}".encode(),
        *(profile.model_dump_json(by_alias=True).encode() for profile in asked.coatings),
    ):
        found.update(len(content).to_bytes(8, "big") + content)
    return found.hexdigest()


def plan_part(row: Row, asked: Asked, folder: Path) -> Part:
    """Return the part of a row in the folder of parts. Raises as `fingerprint`."""
    mark = fingerprint(row, asked)
    name = re.sub(r"[^A-Za-z0-9]+", "-", row.label).strip("-")[:40] or "site"
    return Part(row, mark, folder / f"{name}-{mark[:_SHOWN_DIGITS]}.parquet")


def work_part(part: Part, asked: Asked, write: Callable[[Path, bytes], object]) -> str | None:
    """Work out a part and write it, unless it is there; return what went wrong, or None.

    ``write`` writes a file whole or not at all.
    """
    try:
        if read_part(part) is not None:  # the process that was to tell so has died
            return None
        if fingerprint(part.row, asked) != part.fingerprint:
            return (
                "its files have changed since the run began, or the worker has other code of "
                "dewgap; run again"
            )
        write(part.path, encode(summarise_site(part.row, asked), part.fingerprint))
    except DewgapError as fault:
        return str(fault)
    except Exception as fault:
        told = " ".join(str(fault).split())
        return f"cannot be worked out ({type(fault).__name__}: {told}); please report this"
    return None


def encode(rows: Sequence[dict[str, Cell]], mark: str = "") -> bytes:
    """Return rows as a Parquet file, with the fingerprint in its metadata."""
    table = require_parquet().Table.from_pylist(list(rows), schema=_schema(mark))
    return to_parquet(table)


def _schema(mark: str = "") -> Any:
    """Return the columns as pyarrow has them, each with its unit."""
    pa = require_parquet()
    fields = [
        pa.field(name, pa.type_for_alias(_TYPES[column.kind]), metadata={"unit": column.unit})
        for name, column in COLUMNS.items()
    ]
    return pa.schema(fields, metadata={_KEY: mark.encode()})


def to_parquet(table: Any) -> bytes:
    """Return a table of pyarrow as a Parquet file."""
    pa = require_parquet()
    out = pa.BufferOutputStream()
    pa.parquet.write_table(table, out, compression="zstd")
    content: bytes = out.getvalue().to_pybytes()
    return content


def to_csv(table: Any) -> bytes:
    """Return a table of pyarrow as CSV; no text in it begins like a formula."""
    pa = require_parquet()
    for place, column in enumerate(COLUMNS.values()):
        if column.kind == "text":
            plain = pa.compute.replace_substring_regex(table[column.name], r"^([=+@\t\r-])", r"'\1")
            table = table.set_column(place, column.name, plain)
    out = pa.BufferOutputStream()
    pa.csv.write_csv(table, out)
    content: bytes = out.getvalue().to_pybytes()
    return content


def table_of(content: bytes) -> Any:
    """Return the table of a Parquet file, as pyarrow has it."""
    pa = require_parquet()
    return pa.parquet.ParquetFile(pa.BufferReader(content)).read(use_threads=False)


def read_part(part: Part) -> Any:
    """Return the table of a part, as pyarrow has it; None if it is not there, whole and right."""
    pa = require_parquet()
    try:
        table = table_of(part.path.read_bytes())
    except (OSError, pa.ArrowException):
        return None
    marked = (table.schema.metadata or {}).get(_KEY, b"").decode()
    return table if marked == part.fingerprint and table.schema.equals(_schema()) else None


def join(tables: Sequence[Any]) -> Any:
    """Return the tables of parts as one."""
    empty = table_of(encode([]))
    return require_parquet().concat_tables(
        [empty, *(table.replace_schema_metadata(empty.schema.metadata) for table in tables)]
    )
