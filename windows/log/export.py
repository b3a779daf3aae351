"""A log as JSON, CSV and Parquet: `windows.log.file_rows` reads each of them again, all of it."""

from __future__ import annotations

import csv
import io
import json
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from windows.errors import LogError
from windows.log.cells import cell_of
from windows.log.chain import canonical_body, told
from windows.log.columns import columns_of, flat, form_of
from windows.log.file_rows import FORMAT, VERSION, require_parquet

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from windows.log.entries import Entry

__all__ = ["entry_line", "export_log", "log_csv", "log_json", "log_parquet", "log_schema"]

_ENDINGS: dict[str, Literal["csv", "json", "parquet"]] = {
    ".csv": "csv", ".json": "json", ".parquet": "parquet",
}  # fmt: skip


def export_log(
    entries: Iterable[Entry],
    form: Literal["csv", "json", "parquet"] | None,
    to: Path,
) -> str | bytes:
    """Return entries in a form; without one, in that of a file's ending.

    Raises
    ------
    LogError
        If the ending is that of none.
    DewgapError
        If Parquet is wanted and pyarrow is not installed.
    """
    form = form or _ENDINGS.get(to.suffix.lower())
    if form is None:
        raise LogError(
            f"{to}: its ending does not say in which form; end it with {', '.join(_ENDINGS)}, or "
            "give --format"
        )
    if form == "parquet":
        return log_parquet(entries)
    return log_csv(entries) if form == "csv" else log_json(entries)


def log_schema() -> str:
    """Return the JSON Schema (2020-12) of `log_json`."""
    return (files("windows.log") / "log.schema.json").read_text(encoding="utf-8")


def log_json(entries: Iterable[Entry]) -> str:
    """Return entries as JSON, one on a line, bodies in canonical form.

    Valid by `log_schema`; `windows.log.chain.digest` says how any program can prove a hash.
    """
    inner = ",\n".join(entry_line(entry) for entry in entries)
    return f'{{"format": "{FORMAT}", "version": {VERSION}, "entries": [\n{inner}\n]}}\n'


def entry_line(entry: Entry) -> str:
    """Return an entry as JSON, its body in the very text of which its hash is made."""
    head = {
        "number": entry.number,
        "kind": entry.kind,
        "written": told(entry.written),
        "author": entry.author,
        "corrects": entry.corrects,
    }
    tail = {"previous": entry.previous, "hash": entry.hash}
    body = canonical_body(entry.body).decode("utf-8")
    return f'{json.dumps(head, ensure_ascii=False)[:-1]}, "body": {body}, {json.dumps(tail)[1:]}'


def log_csv(entries: Iterable[Entry]) -> str:
    """Return entries as one flat table: `windows.log.columns`.

    No text in it begins like a formula: one that would has an apostrophe before it, which is taken
    off on reading. A table of some entries cannot be taken into another log, for its chain has
    holes.
    """
    chosen = list(entries)
    columns = columns_of({entry.kind for entry in chosen})
    forms = {name: form_of(name) for name in columns}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for entry in chosen:
        cells = flat(entry)
        writer.writerow([cell_of(forms[c], cells[c]) if c in cells else "" for c in columns])
    return out.getvalue()


def _types(pa: Any) -> dict[str, Any]:
    """Return the types of Parquet by the form of a column."""
    return {
        "text": pa.string(),
        "number": pa.float64(),
        "truth": pa.bool_(),
        "time": pa.timestamp("ms", tz="UTC"),
        "day": pa.date32(),
        "texts": pa.list_(pa.string()),
        "films": pa.list_(pa.struct([("film_um", pa.float64()), ("where", pa.string())])),
        "photos": pa.list_(
            pa.struct([("file", pa.string()), ("sha256", pa.string()), ("size", pa.int64())])
        ),
        "spans": pa.list_(pa.list_(pa.int64())),
    }


def log_parquet(entries: Iterable[Entry]) -> bytes:
    """Return entries as Parquet, in the columns of `log_csv`.

    Times are moments in UTC, and lists are lists (of structs for wet film and photos), not texts:
    nobody edits Parquet by hand, and a program should not have to take a text apart.

    Raises
    ------
    DewgapError
        If pyarrow is not installed.
    """
    pa = require_parquet()
    chosen = list(entries)
    types = _types(pa)
    columns: dict[str, list[object]] = {
        name: [None] * len(chosen) for name in columns_of({entry.kind for entry in chosen})
    }
    for row, entry in enumerate(chosen):
        for name, value in flat(entry).items():
            columns[name][row] = _plain(form_of(name), value)
    fields = []
    for name in columns:
        whole = name in {"number", "corrects"}
        fields.append(pa.field(name, pa.int64() if whole else types[form_of(name) or "text"]))
    table = pa.Table.from_pydict(columns, schema=pa.schema(fields))
    out = pa.BufferOutputStream()
    pa.parquet.write_table(table, out, compression="zstd", write_page_checksum=True)
    content: bytes = out.getvalue().to_pybytes()
    return content


def _plain(form: str, value: Any) -> object:
    """Return a value as pyarrow takes it."""
    return [each.model_dump() for each in value] if form in {"films", "photos"} else value
