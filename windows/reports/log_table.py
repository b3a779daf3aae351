"""Entries of a field log as lines, rows of a table, and JSON."""

from __future__ import annotations

import json
from collections import Counter
from functools import singledispatch
from typing import TYPE_CHECKING, Any

import pandas as pd

from windows.field.moist_air import computed
from windows.log.chain import told
from windows.log.entries import (
    Adhesion,
    Covering,
    DryFilm,
    Instrument,
    Moisture,
    Note,
    Opening,
    Placement,
    Preparation,
    Rain,
    Reading,
    Repair,
    Withdrawal,
)
from windows.log.export import entry_line
from windows.reports.wording import Wording  # what is told of each kind is found by its types

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.field.due import Due
    from windows.field.record_result import Record
    from windows.log.entries import Body, Entry

__all__ = [
    "COLUMNS", "due_dict", "due_told", "entry_dict", "entry_rows", "entry_told",
    "record_told",
]  # fmt: skip

COLUMNS = ("#", "when", "kind", "what", "by", "flags")


def entry_told(entry: Entry, words: Wording) -> str:
    """Return what an entry says, on one line."""
    when = pd.Timestamp(entry.at)
    place = words.clock(when)
    body = entry.body
    if isinstance(body, Placement | Rain | Covering) and body.end is not None:
        place = f"{words.day(when)} {words.hours(when, pd.Timestamp(body.end))}"
    return f"{_kind(entry)}, {place}: {_what(body, words)}"


def _kind(entry: Entry) -> str:
    name = entry.kind.replace("_", " ")
    if entry.corrects is None:
        return name
    withdrawn = isinstance(entry.body, Withdrawal)
    return f"{name} of {entry.corrects}" if withdrawn else f"{name} (in place of {entry.corrects})"


def _what(body: Body, words: Wording) -> str:
    """Return the words of a body, without its time."""
    photos = f"{len(body.photos)} photos" if body.photos else None
    return ", ".join(part for part in (*_parts(body, words), body.note, photos) if part)


@singledispatch
def _parts(body: Body, words: Wording) -> list[str | None]:
    """Return what is to be told of a body, by its kind; what is None or empty is left out."""
    return []


@_parts.register
def _(body: Opening, words: Wording) -> list[str | None]:
    return [f"log of {body.site}", body.system]


@_parts.register
def _(body: Placement, words: Wording) -> list[str | None]:
    return [
        f"{body.layer} on {body.section}", words.value(body.area_m2, "area"),
        _value(body.volume_l, "volume", words),
        f"{len(body.wet_film)} wet film readings" if body.wet_film else None,
        body.method, body.crew,
    ]  # fmt: skip


@_parts.register
def _(body: Reading, words: Wording) -> list[str | None]:
    made = computed(body)
    return [
        body.section, body.where, _named("air", body.air_temp_c, "temperature", words),
        _named("surface", body.surface_temp_c, "temperature", words),
        _named("RH", body.rel_humidity, "fraction", words),
        _named("dew point", made.dew_point_c, "temperature", words),
        _named("spread", made.spread_k, "difference", words),
        _named("wind", body.wind_m_s, "speed", words), body.occasion,
    ]  # fmt: skip


@_parts.register
def _(body: Moisture, words: Wording) -> list[str | None]:
    read, limit = (words.value(value, "fraction") for value in (body.moisture, body.limit))
    return [body.section, f"{read} by {body.method}", f"limit {limit}"]


@_parts.register
def _(body: Adhesion, words: Wording) -> list[str | None]:
    return [
        body.section, body.layer, _value(body.pull_off_kpa, "stress", words),
        _value(body.peel_n_m, "peel", words), body.failure, "passes" if body.passes else "FAILS",
    ]  # fmt: skip


@_parts.register
def _(body: DryFilm, words: Wording) -> list[str | None]:
    return [body.section, body.layer, words.value(body.film_um, "film"), body.method]


@_parts.register
def _(body: Rain, words: Wording) -> list[str | None]:
    return [body.section, _value(body.rain_mm, "water", words) or "amount not measured"]


@_parts.register
def _(body: Covering, words: Wording) -> list[str | None]:
    return [body.section, body.layer, body.what]


@_parts.register
def _(body: Preparation, words: Wording) -> list[str | None]:
    return [f"{body.layer} on {body.section}", body.what]


@_parts.register
def _(body: Instrument, words: Wording) -> list[str | None]:
    due = "not known" if body.due is None else f"{body.due}"
    return [body.what, body.serial, f"next calibration {due}"]


@_parts.register
def _(body: Repair, words: Wording) -> list[str | None]:
    holes = ", ".join(f"{first} to {last}" for first, last in body.missing) or "none known"
    return [f"entries lost: {holes}"]


@_parts.register
def _(body: Note, words: Wording) -> list[str | None]:
    return [body.section, body.layer]


def _named(name: str, value: float | None, dimension: str, words: Wording) -> str | None:
    return None if value is None else f"{name} {words.value(value, dimension)}"


def _value(value: float | None, dimension: str, words: Wording) -> str | None:
    return None if value is None else words.value(value, dimension)


def entry_rows(
    entries: Iterable[Entry], corrections: Iterable[Entry], words: Wording
) -> list[list[str]]:
    """Return a row for each entry; one that no longer stands says what became of it.

    ``corrections`` has the entries that correct or withdraw others.
    """
    fates = {
        entry.corrects: f"{'withdrawn' if isinstance(entry.body, Withdrawal) else 'replaced'} by "
        f"{entry.number}"
        for entry in corrections
        if entry.corrects is not None
    }
    return [
        [
            str(entry.number), words.clock(pd.Timestamp(entry.at)),
            ", ".join(part for part in (_kind(entry), fates.get(entry.number)) if part),
            _what(entry.body, words), entry.author, str(len(entry.body.flags) or ""),
        ]
        for entry in entries
    ]  # fmt: skip


def entry_dict(entry: Entry) -> dict[str, Any]:
    """Return an entry for JSON, as an export has it. SI, UTC."""
    found: dict[str, Any] = json.loads(entry_line(entry))
    return found


def due_told(each: Due, words: Wording) -> str:
    """Return a reading that is due: whether it was taken, is missed, or when it is to be taken."""
    place = " on ".join(part for part in (each.layer, each.section) if part)
    start = pd.Timestamp(each.start)
    if each.met_by is not None:
        state = f"taken, entry {each.met_by}"
    elif each.overdue:
        state = "MISSED"
    else:
        state = f"to be taken from {words.clock(start, start)} on" if each.coming else "DUE NOW"
    span = words.hours(start, pd.Timestamp(each.end))
    return f"{each.what}, {span}{f', {place}' if place else ''}: {state}"


def due_dict(each: Due) -> dict[str, Any]:
    """Return a due reading for JSON."""
    return {
        "for": each.what,
        "section": each.section,
        "layer": each.layer,
        "start": told(each.start),
        "end": told(each.end),
        "met_by": each.met_by,
        "overdue": each.overdue,
        "coming": each.coming,
    }


def record_told(record: Record) -> list[str]:
    """Return what is on a record, in numbers."""
    judged = [each for clock in record.clocks for each in clock.judged]
    fates = Counter(each.told for each in judged)
    by_logger = sum(span.count for span in record.logger)
    lines = [
        f"placements {len(record.placements)}, readings by hand {len(record.readings)}, of loggers "
        f"{by_logger}, flags {len(record.flags)}, corrections {len(record.corrected)}",
        f"readings due {len(record.due)}, not taken "
        f"{sum(each.met_by is None for each in record.due)}",
    ]
    if judged:
        told = ", ".join(f"{count} {fate.value}" for fate, count in fates.items())
        lines.append(f"openings and deadlines: {told}")
    return lines
