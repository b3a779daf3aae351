"""Keep forecasts as they were told: one file for each issue, whole or not at all."""

from __future__ import annotations

import gzip
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from windows.errors import DewgapError, HoursError, OutputError
from windows.sources import canonical_csv, read_weather
from windows.whole_file import write_whole

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from windows.hours import HourlyTable

__all__ = ["FOLDER", "Stored", "Unread", "issue_time", "keep_forecast", "stored"]

FOLDER = "forecasts"
"""Folder of kept forecasts beside the site file."""
_NAME = "%Y%m%dT%H%MZ"
_ENDINGS = (".csv", ".csv.gz")


@dataclass(frozen=True)
class Stored:
    """A forecast that was kept: its file, when it was issued, and its hours."""

    path: Path
    issued: pd.Timestamp
    hours: HourlyTable

    @property
    def source(self) -> str:
        """Who made it."""
        return self.hours.provenance.source


@dataclass(frozen=True)
class Unread:
    """A file among kept forecasts that is left out, and a sentence that says why."""

    path: Path
    text: str


def issue_time(hours: HourlyTable) -> pd.Timestamp:
    """Return when a forecast was issued, else fetched: leads count from it. UTC.

    Raises
    ------
    HoursError
        If the hours are no forecast, tell neither time, or end before it.
    """
    told = hours.provenance
    if told.kind not in {"forecast", "not told"}:
        raise HoursError(
            f"{told.place}: its hours are {told.kind}, not a forecast; only forecasts are kept and "
            "scored"
        )
    issued = told.issued if told.issued is not None else told.retrieved
    if issued is None:
        raise HoursError(
            f"{told.place}: tells no time of issue, so how far ahead its hours were told is not "
            "known; add the line '# issued: 2026-05-01T18:00Z' on top"
        )
    if issued > hours.index[-1]:
        raise HoursError(
            f"{told.place}: no hour of it begins after its issue at {issued:%Y-%m-%d %H:%M} UTC, "
            "so it foretells nothing; give a whole forecast"
        )
    return issued


def keep_forecast(folder: Path, hours: HourlyTable) -> Path | None:
    """Keep a forecast under the time of its issue; return its file, None if it is kept already.

    The folder is made if it is not there. A second source with an issue in the same minute gets a
    name of its own; a file that cannot be read any more is replaced.

    Raises
    ------
    HoursError
        If it is no forecast with a time of issue.
    OutputError
        If it cannot be written; nothing is then left behind.
    """
    stem = f"{issue_time(hours).tz_convert('UTC'):{_NAME}}"
    number = 1
    while True:
        path = folder / f"{stem}{'' if number == 1 else f'_{number}'}.csv.gz"
        if not os.path.exists(path):
            break
        try:
            kept = read_weather(path)
        except DewgapError:
            break
        if kept.provenance.source == hours.provenance.source:
            return None
        number += 1
    _write(path, gzip.compress(canonical_csv.write(hours), 6, mtime=0))
    return path


def stored(folder: Path) -> tuple[tuple[Stored, ...], tuple[Unread, ...]]:
    """Return the forecasts of a folder in the order of issue, and the files that cannot be used.

    An issue that is there twice counts once.

    Raises
    ------
    HoursError
        If there is no such folder, or no file in it.
    """
    try:
        paths = sorted(
            path for path in folder.iterdir()
            if path.name.endswith(_ENDINGS) and not path.name.startswith(".")
        )  # fmt: skip
    except OSError as fault:
        raise HoursError(
            f"{folder}: cannot be read as a folder of forecasts ({fault.strerror}); keep some "
            "first: dewgap skill SITE --store"
        ) from None
    if not paths:
        raise HoursError(
            f"{folder}: holds no forecast; keep some first: dewgap skill SITE --store"
        )
    found: list[Stored] = []
    unread: list[Unread] = []
    first: dict[tuple[str, pd.Timestamp], Path] = {}
    for path in paths:
        try:
            hours = read_weather(path)
            each = Stored(path, issue_time(hours), hours)
        except DewgapError as fault:
            unread.append(Unread(path, str(fault)))
            continue
        before = first.setdefault((each.source, each.issued), path)
        if before != path:
            unread.append(
                Unread(path, f"{path}: has the issue of {before.name}, which counts; delete one")
            )
            continue
        found.append(each)
    return tuple(sorted(found, key=lambda each: each.issued)), tuple(unread)


def _write(path: Path, content: bytes) -> None:
    """Write a file, its folder before it if that is not there."""
    try:
        path.parent.mkdir(exist_ok=True)
    except OSError as fault:
        raise OutputError(
            f"{path}: cannot be written ({fault.strerror}); name a folder that is yours to write "
            "to and has room"
        ) from None
    write_whole(path, content)
