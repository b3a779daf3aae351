"""The flat form of entries, one column a field: for spreadsheets, data frames, hand filling.

Names and units are those of `windows.log.entries`; how a value stands in its cell says
`windows.log.cells`. For hand filling there are columns in US units and in percent.
"""

from __future__ import annotations

from datetime import date, datetime
from types import UnionType
from typing import TYPE_CHECKING, Annotated, Any, Literal, Union, get_args, get_origin

from cure_models.units import UNITS
from windows.errors import LogError, did_you_mean
from windows.log.cells import read_cell, shown
from windows.log.entries import KINDS, Beside, Photo, WetFilm

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from zoneinfo import ZoneInfo

    from windows.log.entries import Entry

__all__ = [
    "CONVERTED", "FIELDS", "FORMS", "HEAD", "TAIL", "check_header", "columns_of", "flat", "form_of",
    "nested", "template_csv",
]  # fmt: skip

HEAD = ("number", "kind", "at", "end", "written", "author", "corrects")
"""The columns that every table begins with."""
TAIL = ("previous", "hash")
"""Those that it ends with."""

_BESIDE = "beside_"

CONVERTED: dict[str, tuple[str, str]] = {
    "air_temp_f": ("air_temp_c", "degF"),
    "surface_temp_f": ("surface_temp_c", "degF"),
    "dew_point_f": ("dew_point_c", "degF"),
    "rel_humidity_pct": ("rel_humidity", "%"),
    "cloud_pct": ("cloud", "%"),
    "moisture_pct": ("moisture", "%"),
    "limit_pct": ("limit", "%"),
    "wind_mph": ("wind_m_s", "mph"),
    "gust_mph": ("gust_m_s", "mph"),
    "area_ft2": ("area_m2", "ft2"),
    "volume_gal": ("volume_l", "gal"),
    "wet_film_mil": ("wet_film", "mil"),
    "film_mil": ("film_um", "mil"),
    "rain_in": ("rain_mm", "in"),
    "pull_off_psi": ("pull_off_kpa", "psi"),
    "peel_lbf_in": ("peel_n_m", "lbf/in"),
}
"""Column for hand filling: the field that it becomes, and its unit in `cure_models.units`."""

_PLAIN_FORMS = {str: "text", float: "number", bool: "truth", datetime: "time", date: "day"}


def _inner(annotation: Any) -> Any:
    """Return a type without its checks and without None."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (UnionType, Union):
        return _inner(next(arg for arg in get_args(annotation) if arg is not type(None)))
    return annotation


def _form(annotation: Any) -> str:
    """Return how a field is written in a cell."""
    inner = _inner(annotation)
    if get_origin(inner) is Literal:
        return "text"
    if get_origin(inner) is tuple:
        listed = _inner(get_args(inner)[0])
        return {str: "texts", WetFilm: "films", Photo: "photos"}.get(listed, "spans")
    return _PLAIN_FORMS[inner]


def _fields(kind: str) -> dict[str, str]:
    """Return the columns of a kind and their forms: its own first, then note, photos and flags."""
    found: dict[str, str] = {}
    for name, field in KINDS[kind].model_fields.items():
        if _inner(field.annotation) is Beside:
            for inner, each in Beside.model_fields.items():
                found[_BESIDE + inner] = _form(each.annotation)
        else:
            found[name] = _form(field.annotation)
    last = ("note", "photos", "flags")
    return {n: f for n, f in found.items() if n not in last} | {n: found[n] for n in last}


FIELDS: dict[str, dict[str, str]] = {kind: _fields(kind) for kind in KINDS}
"""Kind of entry: its columns and their forms."""

FORMS: dict[str, str] = {
    name: form for columns in FIELDS.values() for name, form in columns.items()
}
"""Column of any kind: text, number, truth, time, day, texts, films, photos or spans."""


def columns_of(kinds: Iterable[str]) -> list[str]:
    """Return the columns of a table of some kinds, each once, in a steady order."""
    wanted = set(kinds)
    own = dict.fromkeys(
        name
        for last in (False, True)
        for kind in KINDS
        if kind in wanted
        for name in FIELDS[kind]
        if name not in HEAD and (name in {"note", "photos", "flags"}) is last
    )
    return [*HEAD, *own, *TAIL]


def flat(entry: Entry) -> dict[str, object]:
    """Return an entry by its columns, without those that are empty.

    A ``beside`` has all its truths and its offset, so that one that says nothing else is seen.
    """
    found: dict[str, object] = {
        "number": entry.number,
        "kind": entry.kind,
        "written": entry.written,
        "author": entry.author,
        "corrects": entry.corrects,
        "previous": entry.previous,
        "hash": entry.hash,
    }
    fields: dict[str, Any] = dict(entry.body)
    beside = fields.pop("beside", None)
    found |= fields
    if beside is not None:
        found |= {_BESIDE + name: value for name, value in beside}
    return {name: value for name, value in found.items() if value not in (None, "", ())}



def form_of(column: str) -> str:
    """Return how a column is written in a cell; nothing where it is text that has no guard."""
    return FORMS.get(column) or {"written": "time", "author": "text"}.get(column, "")


def nested(cells: Mapping[str, object], kind: str, zone: ZoneInfo) -> dict[str, object]:
    """Return the fields of an entry of a kind from its cells, SI, as its model takes them.

    Parameters
    ----------
    cells
        By their columns, those of `HEAD` and `TAIL` among them; none is empty.
    kind
        Kind of the entry.
    zone
        Clock by which a time without an offset is.

    Raises
    ------
    ValueError
        If a cell cannot be read, or the kind has no such column.
    """
    forms = FIELDS[kind]
    found: dict[str, object] = {}
    beside: dict[str, object] = {}
    for column, given in cells.items():
        if column in HEAD + TAIL and column not in {"at", "end"}:
            continue
        name, unit = CONVERTED.get(column, (column, None))
        if name not in forms:
            raise ValueError(
                f"{column} is {shown(given)}, but a {kind} has no such column; clear the cell, or "
                "mend the kind"
            )
        try:
            value = read_cell(forms[name], given, unit, zone)
        except ValueError as fault:
            raise ValueError(f"{column}: {fault}") from None
        if name.startswith(_BESIDE):
            beside[name.removeprefix(_BESIDE)] = value
        else:
            found[name] = value
    if beside:
        found["beside"] = {"source": ""} | beside
    return found


# ---------------------------------------------------------------------------------------- headers


def check_header(names: Sequence[str], where: str) -> None:
    """Refuse a header with columns that no entry has, that come twice, or in two units.

    Raises
    ------
    LogError
        With the first fault.
    """
    known = {*HEAD, *TAIL, *FORMS, *CONVERTED}
    fields: dict[str, str] = {}
    for name in names:
        if name not in known:
            hint = did_you_mean(name[:40], known).partition("known: ")[0]  # too many to list
            raise LogError(
                f"{where}: column {shown(name)} is not known; {hint}take the columns of an export "
                "or of a template, and delete others"
            )
        field = CONVERTED.get(name, (name, ""))[0]
        if field in fields:
            first = fields[field]
            raise LogError(
                f"{where}: column '{name}' is there twice; delete one"
                if first == name
                else f"{where}: columns '{first}' and '{name}' are the same in two units; delete "
                "one"
            )
        fields[field] = name


def template_csv(kind: str, *, us: bool = False) -> str:
    """Return the header of a table to fill in by hand, in US or in SI units; shares in percent.

    Raises
    ------
    LogError
        If it is no kind that people fill in.
    """
    by_hand = [each for each in KINDS if each not in {"opening", "repair"}]
    if kind not in by_hand:
        raise LogError(f"'{kind}' is no kind to fill in; {did_you_mean(kind, by_hand)}")
    handy = {
        field: name for name, (field, unit) in CONVERTED.items() if us or UNITS[unit] == UNITS["%"]
    }
    fields = [
        handy.get(name, name)
        for name in FIELDS[kind]
        if name not in {"at", "end", "photos", "flags"} and not name.startswith(_BESIDE)
    ]
    span = ["end"] if "end" in FIELDS[kind] else []
    return ",".join(["kind", "at", *span, "author", "corrects", *fields]) + "\n"
