"""Rows of a file to checked entries; a fault names its row, its column and the way out."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter, ValidationError

from cure_models.toml_input import BOUNDS
from cure_models.units import from_si
from windows.errors import did_you_mean
from windows.log.cells import moment, shown
from windows.log.columns import CONVERTED, nested
from windows.log.entries import KINDS, Entry
from windows.log.fields import Name

if TYPE_CHECKING:
    from collections.abc import Mapping
    from zoneinfo import ZoneInfo

    from windows.log.entries import Body
    from windows.log.file_rows import Row

__all__ = ["Told", "told_of"]

_NAME: TypeAdapter[str] = TypeAdapter(Name)
_WRITTEN = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z")
_HASH = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True)
class Told:
    """What a row says: an entry as it was exported, or (``entry`` is None) a new one.

    ``author`` and ``corrects`` are those of a new one; no author where the row names none.
    """

    place: str
    body: Body
    author: str
    corrects: int | None
    entry: Entry | None


def told_of(row: Row, kind: str | None, zone: ZoneInfo) -> Told:
    """Return what a row says, each field checked by the model of its kind.

    Parameters
    ----------
    row
        From `windows.log.file_rows.read_entries`.
    kind
        Kind of rows that name none.
    zone
        Clock by which a time without an offset is.

    Raises
    ------
    ValueError
        With the first fault of the row, without its place.
    """
    cells = row.cells
    name = cells.get("kind", kind)
    if name is None:
        raise ValueError("kind is missing; fill it in, or name the kind of all such rows")
    if not isinstance(name, str) or name.strip() not in KINDS:
        raise ValueError(f"kind is {shown(name)}; {did_you_mean(str(name)[:40], KINDS)}")
    model = KINDS[name.strip()]
    number, its_hash = _whole(cells, "number"), cells.get("hash")
    if (number is None) != (its_hash is None):
        there, gone = ("number", "hash") if its_hash is None else ("hash", "number")
        raise ValueError(
            f"it has a {there} and no {gone}; leave both as they were exported, or clear both for "
            "a new entry"
        )
    body = _body(model, row, zone)
    author = _author(cells)
    corrects = _whole(cells, "corrects")
    if number is None:
        for column in ("written", "previous"):
            if column in cells:
                raise ValueError(
                    f"{column} of a new entry is set when it is written; clear the cell"
                )
        return Told(row.place, body, author, corrects, None)
    if not author:
        raise ValueError("author is missing; put it back as it was exported")
    entry = Entry(
        number, _written(cells), author, corrects, body, _hash(cells, "previous"),
        _hash(cells, "hash"),
    )  # fmt: skip
    return Told(row.place, body, author, corrects, entry)


def _whole(cells: Mapping[str, object], column: str) -> int | None:
    given = cells.get(column)
    if isinstance(given, str) and re.fullmatch(r"[0-9]{1,16}(\.0+)?", given.strip()):
        given = int(given.strip().partition(".")[0])
    elif isinstance(given, float) and given.is_integer() and abs(given) < 1e15:
        given = int(given)  # a column of whole numbers with gaps, as data frames keep it
    if given is None:
        return None
    if not isinstance(given, int) or isinstance(given, bool) or not 1 <= given < 2**53:
        raise ValueError(f"{column} is {shown(given)}, not the number of an entry; mend it")
    return given


def _author(cells: Mapping[str, object]) -> str:
    given = cells.get("author", "")
    try:
        return _NAME.validate_python(given) if given != "" else ""
    except ValidationError:
        raise ValueError(f"author is {shown(given)}, not a name on one line; mend it") from None


def _written(cells: Mapping[str, object]) -> datetime:
    given = cells.get("written")
    if isinstance(given, datetime) and given.tzinfo is not None:
        return given.astimezone(UTC).replace(microsecond=0)
    try:
        if isinstance(given, str) and _WRITTEN.fullmatch(given.strip()):
            return datetime.fromisoformat(given.strip()).astimezone(UTC)
    except ValueError:
        pass
    raise ValueError(
        f"written is {shown(given)}; put it back as it was exported, as 2026-06-08T15:00:00Z"
        if given is not None
        else "written is missing; put it back as it was exported"
    )


def _hash(cells: Mapping[str, object], column: str) -> str:
    given = cells.get(column)
    if not isinstance(given, str) or not _HASH.fullmatch(given.strip()):
        raise ValueError(
            f"{column} is {'missing' if given is None else shown(given)}; put it back as it was "
            "exported: 64 digits of 0-9 and a-f"
        )
    return given.strip()


def _body(model: type[Body], row: Row, zone: ZoneInfo) -> Body:
    """Return the body of a row; ValueError with its first fault."""
    if row.body is None:
        fields = nested(row.cells, model.kind, zone)
    else:
        fields = dict(row.body)
        for name in ("at", "end"):
            if isinstance(fields.get(name), str):
                fields[name] = _moment_of(name, fields[name], zone)
    try:
        return model.model_validate(fields)
    except ValidationError as found:
        # An unknown key first: a misspelt key is also missing under its right name.
        faults = sorted(
            found.errors(include_url=False), key=lambda each: each["type"] != "extra_forbidden"
        )
        raise ValueError(_sentence(model, faults[0], row)) from None


def _moment_of(name: str, given: object, zone: ZoneInfo) -> object:
    try:
        return moment(given, zone)
    except ValueError as fault:
        raise ValueError(f"{name}: {fault}") from None


_MEND = {
    "missing": "is missing; fill it in",
    "string_too_short": "is empty; fill it in",
    "string_pattern_mismatch": "is no SHA-256; it has 64 digits of 0-9 and a-f",
    "string_type": "must be a text",
    "bool_type": "must be true or false",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "tuple_type": "must be a list",
    "model_type": "must be an object",
    "finite_number": "must be a finite number",
    "date_type": "must be a date, as 2026-07-03",
}


def _sentence(model: type[Body], fault: Any, row: Row) -> str:
    """Return a fault of a field in the words and the unit of the column that it was given in."""
    path = [str(part + 1) if isinstance(part, int) else part for part in fault["loc"]]
    kind, given = fault["type"], fault["input"]
    if kind == "value_error" and not path:
        return str(fault["ctx"]["error"])
    field, unit = path[0], ""
    if row.body is None:
        if field == "beside":
            path = ["_".join(path[:2]), *path[2:]]
            field = path[0]
        asked = next((c for c, (f, _) in CONVERTED.items() if f == field and c in row.cells), None)
        if asked is not None:
            path[0], unit = asked, CONVERTED[asked][1]
    told = " ".join(path)
    if kind == "extra_forbidden":
        return f"key {shown(told)} is not known; {did_you_mean(path[-1][:40], model.model_fields)}"
    if kind == "value_error":
        return f"{told}: {fault['ctx']['error']}"
    if kind in BOUNDS:
        words, name = BOUNDS[kind]
        limit, value = fault["ctx"][name], given
        if unit:
            limit, value = from_si(limit, unit), from_si(given, unit)
        of = f" {unit}" if unit else ""
        return f"{told} must be {words} {limit:g}{of}, but is {value:g}; mend it"
    if kind == "literal_error":
        return f"{told} must be {fault['ctx']['expected']}, but is {shown(given)}"
    if kind == "string_too_long":
        return f"{told} has more than {fault['ctx']['max_length']} characters; shorten it"
    if kind == "too_long":
        return f"{told} has more than {fault['ctx']['max_length']} parts; use several entries"
    if kind in _MEND:
        return f"{told} {_MEND[kind]}" + ("" if kind == "missing" else f", but is {shown(given)}")
    message = fault["msg"]
    return f"{told}: {message[0].lower()}{message[1:]}; it is {shown(given)}"

