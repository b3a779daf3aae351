"""Canonical CSV: the hourly table as it is, one row an hour.

Label ``time_utc`` is the START of the hour, ISO 8601 with ``Z`` or an offset. The other columns are
those of `windows.hours.COLUMNS`, in any order; an empty cell is unknown. Lines on top that begin
with ``#`` may tell ``# source:``, ``# issued:`` (a time) and ``# note:``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.errors import HoursError, did_you_mean
from windows.hours import COLUMNS, check_hours
from windows.provenance import Provenance
from windows.sources import csv_cells

if TYPE_CHECKING:
    from windows.hours import HourlyTable

NAME = "canonical CSV"
HELP = "a header with time_utc and columns such as air_temp_c, rain_mm"

__all__ = ["HELP", "NAME", "parse", "recognises"]

_TIME = "time_utc"
_NAMES = frozenset({_TIME, *COLUMNS})
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
    names, rows, numbers = csv_cells.rows(lines, top, place, _check_names)
    by_name = dict(zip(names, zip(*rows, strict=True), strict=True)) if rows else {}
    times = csv_cells.times(
        _TIME, by_name.get(_TIME, ()), place, numbers,
        "write the start of the hour as 2026-05-01T18:00Z",
    )  # fmt: skip
    columns = {
        name: csv_cells.numbers(
            name, by_name.get(name, ()), place, numbers, truth=name == "rain_trace"
        )
        for name in names
        if name != _TIME
    }
    return check_hours(columns, times, provenance)


def _check_names(names: list[str], where: str) -> None:
    for number, name in enumerate(names, 1):
        if not name:
            raise HoursError(f"{where}: column {number} has no name; name it or delete it")
        if name not in _NAMES:
            raise HoursError(
                f"{where}: column '{name}' is not known: rename or delete it; "
                f"{did_you_mean(name.lower(), _NAMES)}"
            )
        if names.count(name) > 1:
            raise HoursError(f"{where}: column '{name}' is there twice; keep one of them")
    if _TIME not in names:
        raise HoursError(f"{where}: column '{_TIME}' is missing; add the start of each hour in UTC")


def _provenance(remarks: list[str], place: str) -> Provenance:
    told: dict[str, list[str]] = {}
    for line in remarks:
        key, _, value = line.lstrip("# ").partition(":")
        told.setdefault(key.strip().lower(), []).append(value.strip())
    issued = None
    if "issued" in told:
        given = told["issued"][0]
        stamps, fault = csv_cells.stamps([given])
        if fault.any():
            wrong = csv_cells.fault_of_time(given, stamps[0])
            raise HoursError(
                f"{place}: '# issued: {given}' {wrong}; write it as 2026-05-01T18:00Z, or delete "
                "the line"
            )
        issued = stamps[0]
    source = told.get("source", [NAME])[0] or NAME
    return Provenance(source, place, issued, tuple(note for note in told.get("note", []) if note))
