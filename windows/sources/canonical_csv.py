"""Canonical CSV: the hourly table as it is, one row an hour.

Label ``time_utc`` is the START of the hour, ISO 8601 with ``Z`` or an offset. The other columns are
those of `windows.hours.COLUMNS`, in any order; an empty cell is unknown. ``NAME_flag`` holds the
flags of a column, ``NAME[1]``, ``NAME[2]`` ... the further runs of an ensemble. Lines on top that
begin with ``#`` may tell where the hours come from: ``# source:``, ``# issued:`` (a time),
``# note:`` and the others of `windows.provenance.Provenance`.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, get_args

import numpy as np
import pandas as pd

from windows.errors import HoursError, did_you_mean
from windows.flags import Flag, from_words, to_words
from windows.hours import COLUMNS, HourlyTable, check_hours
from windows.provenance import KINDS, Kind, Location, Provenance
from windows.sources import csv_cells

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray

NAME = "canonical"
HELP = "canonical CSV: a header with time_utc and columns such as air_temp_c, rain_mm"
KIND = "file"

__all__ = ["HELP", "KIND", "NAME", "parse", "recognises", "write"]

_TIME = "time_utc"
_NAMES = frozenset({_TIME, *COLUMNS})
_FLAG = "_flag"
_RUN = re.compile(r"(\w+)\[(\d{1,3})\]$")
_OTHER_SEPARATORS = (";", "\t", "|")


def recognises(head: str) -> bool:
    """Tell whether the header names time_utc or any other canonical column."""
    header = head.splitlines()[0].lower()
    return any(_NAMES & set(_cells(header, mark)) for mark in (",", *_OTHER_SEPARATORS))


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip().strip('"') for cell in line.split(separator)]


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a canonical CSV.

    Raises
    ------
    HoursError
        If the text is not a table, a column is unknown, a time or a number cannot be read, or the
        checks of `windows.hours.check_hours` fail.
    """
    lines, top = csv_cells.lines_of(content, place)
    provenance = _provenance(lines[:top], place)
    cells = csv_cells.rows(lines, top, place, _check_names)
    times = csv_cells.times(
        cells[_TIME], place, "write the start of the hour as 2026-05-01T18:00Z"
    )
    names = [str(name) for name in cells]
    values = {
        name: csv_cells.numbers(cells[name], place, truth=name == "rain_trace")
        for name in names
        if name != _TIME and not name.endswith(_FLAG)
    }
    flags = {
        name.removesuffix(_FLAG): _flags(cells[name], place)
        for name in names
        if name.endswith(_FLAG)
    }
    return check_hours(
        {name: column for name, column in values.items() if name in COLUMNS},
        times,
        provenance,
        flags={name: column for name, column in flags.items() if column.any()},
        members=_members(values, place),
    )


def _members(values: dict[str, FloatArray], place: str) -> dict[str, FloatArray]:
    """Return the runs of an ensemble, the column itself first."""
    runs: dict[str, list[tuple[int, FloatArray]]] = {}
    for name, column in values.items():
        if found := _RUN.match(name):
            runs.setdefault(found[1], []).append((int(found[2]), column))
    counts = {len(columns) for columns in runs.values()}
    if len(counts) > 1:
        raise HoursError(f"{place}: columns have different numbers of runs; give each all of them")
    return {
        name: np.stack([values[name], *(c for _, c in sorted(columns, key=lambda run: run[0]))])
        for name, columns in runs.items()
    }


def _flags(cells: pd.Series[str], place: str) -> np.ndarray:
    codes, words = pd.factorize(cells)
    found = np.zeros(len(words), dtype=np.int64)
    for number, text in enumerate(words):
        try:
            found[number] = from_words(str(text))
        except KeyError:
            line = cells.index[int(np.argmax(codes == number))]
            raise HoursError(
                f"{place}: line {line}: {cells.name} is '{text}', no flag; the flags are "
                f"{', '.join(str(flag.name).lower() for flag in Flag)}"
            ) from None
    return found[codes]


def _check_names(names: list[str], where: str) -> None:
    for number, name in enumerate(names, 1):
        if not name:
            raise HoursError(f"{where}: column {number} has no name; name it or delete it")
        run = _RUN.match(name)
        stem = run[1] if run else name.removesuffix(_FLAG)
        if name not in _NAMES and stem not in COLUMNS:
            raise HoursError(
                f"{where}: column '{name}' is not known: rename or delete it; "
                f"{did_you_mean(name.lower(), _NAMES)}"
            )
        if stem not in names:
            raise HoursError(f"{where}: column '{name}' is there without '{stem}'; add that one")
        if names.count(name) > 1:
            raise HoursError(f"{where}: column '{name}' is there twice; keep one of them")
    if _TIME not in names:
        raise HoursError(f"{where}: column '{_TIME}' is missing; add the start of each hour in UTC")


def _provenance(remarks: list[str], place: str) -> Provenance:
    told: dict[str, list[str]] = {}
    for line in remarks:
        key, _, value = line.lstrip("# ").partition(":")
        told.setdefault(key.strip().lower(), []).append(value.strip())

    def first(key: str) -> str:
        return told.get(key, [""])[0]

    kind = first("kind") or "not told"
    if kind not in KINDS:
        raise HoursError(
            f"{place}: '# kind: {kind}' is not known; write {', '.join(get_args(Kind))}"
        )
    return Provenance(
        first("source") or "canonical CSV",
        place,
        _moment("issued", told.get("issued"), place),
        tuple(note for note in told.get("note", []) if note),
        kind=kind,
        retrieved=_moment("fetched", told.get("fetched"), place),
        stale=first("stale").lower() in {"true", "yes", "1"},
        location=_location(first("location"), place),
        attribution=first("attribution"),
    )


def _moment(key: str, told: list[str] | None, place: str) -> pd.Timestamp | None:
    if told is None:
        return None
    given = told[0]
    stamps, fault = csv_cells.stamps([given])
    if fault.any():
        wrong = csv_cells.fault_of_time(given, stamps[0])
        raise HoursError(
            f"{place}: '# {key}: {given}' {wrong}; write it as 2026-05-01T18:00Z, or delete the "
            "line"
        )
    return stamps[0]


def _location(given: str, place: str) -> Location | None:
    """Return ``NAME; LATITUDE; LONGITUDE; ELEVATION`` in degrees and metres."""
    if not given:
        return None
    name, *parts = [part.strip() for part in given.split(";")]
    try:
        latitude, longitude, *height = [float(part) for part in parts if part]
    except ValueError:
        raise HoursError(
            f"{place}: '# location: {given}' cannot be read; write name; latitude; longitude; "
            "metres"
        ) from None
    return Location(name, latitude, longitude, height[0] if height else None)


def write(table: HourlyTable) -> bytes:
    """Return a table as canonical CSV: what `parse` reads again, equal.

    Rain and temperatures keep every digit; flags and the runs of an ensemble have columns of their
    own.
    """
    frame = table.frame.copy()
    for name, flags in table.flags.items():
        if flags.any() and name in frame:
            at = list(frame.columns).index(name) + 1
            frame.insert(at, f"{name}{_FLAG}", [to_words(flag) for flag in flags])
    runs = {
        f"{name}[{number}]": run
        for name, members in table.members.items()
        for number, run in enumerate(members[1:], 1)
    }
    frame = pd.concat([frame, pd.DataFrame(runs, index=frame.index)], axis=1)
    frame.index = pd.Index(table.index.strftime("%Y-%m-%dT%H:%MZ"), name=_TIME)
    text = io.StringIO()
    text.writelines(f"{line}\n" for line in _remarks(table))
    frame.to_csv(text, lineterminator="\n")
    return text.getvalue().encode()


def _remarks(table: HourlyTable) -> list[str]:
    told = table.provenance
    lines = [f"# source: {told.source}", f"# kind: {told.kind}"]
    for key, when in (("issued", told.issued), ("fetched", told.retrieved)):
        if when is not None:
            lines.append(f"# {key}: {when:%Y-%m-%dT%H:%M:%SZ}")
    if told.stale:
        lines.append("# stale: true")
    if told.location is not None:
        where = told.location
        height = "" if where.elevation_m is None else f"; {where.elevation_m:g}"
        name = where.name.replace(";", ",")
        lines.append(f"# location: {name}; {where.latitude:.4f}; {where.longitude:.4f}{height}")
    if told.attribution:
        lines.append(f"# attribution: {told.attribution}")
    # What the reader finds by itself (hours that are missing) it will find again.
    lines += [f"# note: {note}" for note in dict.fromkeys((*told.notes, *table.warnings))]
    return [" ".join(line.splitlines()) for line in lines]
