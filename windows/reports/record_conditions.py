"""The conditions, in an application record: readings, what loggers read, rain, and what was due."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.field.record_result import LOGGER_RANGES
from windows.log.entries import Rain
from windows.reports.paper import Heading, Paragraphs, Table
from windows.reports.record_words import NOT_KNOWN, NOT_READ, NOT_RECORDED, place_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.field.record_result import LoggerSpan, Measured, Record
    from windows.log.entries import Entry
    from windows.reports.paper import Block
    from windows.reports.record_words import Telling

__all__ = ["condition_blocks", "due_blocks"]

_LOGGER_HEADS = ("Air", "Surface", "Humidity", "Dew point", "Spread", "Wind", "Gust")
_DIMENSIONS = {
    "air_temp_c": "temperature", "surface_temp_c": "temperature", "rel_humidity": "fraction",
    "dew_point_c": "temperature", "wind_m_s": "speed", "gust_m_s": "speed",
}  # fmt: skip


def condition_blocks(record: Record, tell: Telling) -> Iterable[Block]:
    """Return the readings, those of loggers by spans, and the rain that was seen."""
    if not (record.readings or record.logger or record.rain):
        return
    yield Heading("Conditions")
    if record.readings:
        yield Table(
            (
                "Entry", "Time, place", "Air", "Surface", "Humidity", "Dew point", "Spread",
                "Wind", "Sky", "By",
            ),
            tuple(_reading(each, tell) for each in record.readings),
        )  # fmt: skip
        yield Paragraphs(
            (
                "Dew point is worked out from air and humidity; with * it is what the "
                "instrument told. Spread is surface less dew point, below freezing less frost "
                "point.",
                "On the second line of a row, after 'source': what the weather source has for "
                "that hour, and the surface as it was modelled, both uncorrected.",
            ),
            small=True,
        )
    if record.logger:
        yield Heading("Readings of loggers", 3)
        yield Table(
            ("Entries", "From", "Section", "Count", *_LOGGER_HEADS),
            tuple(_logged(each, tell) for each in record.logger),
        )
        span = "hour" if record.day is not None else "local day"
        yield Paragraphs(
            (f"Of the readings of a logger each {span} is told by least and greatest, with "
             "their count where some are lacking; each reading stands in the log.",),
            small=True,
        )  # fmt: skip
    if record.rain:
        yield Heading("Rain seen", 3)
        yield Table(
            ("Entry", "From", "To", "Section", "Amount"),
            tuple(_rain(each, tell) for each in record.rain),
        )


def _reading(each: Measured, tell: Telling) -> tuple[str, ...]:
    body, words = each.body, tell.words
    own = "" if each.computed or each.dew_point_c is None else "*"
    wind = tell.value(body.wind_m_s, "speed")
    if body.gust_m_s is not None:
        wind += f", gust {tell.value(body.gust_m_s, 'speed')}"
    if body.wind_from_deg is not None:
        wind += f", from {tell.value(body.wind_from_deg, 'angle')}"
    told_by = "; ".join(part for part in (", ".join(body.instruments), body.occasion) if part)
    cells = [
        str(each.entry.number),
        f"{tell.clock(each.entry.at)}, {place_of(body)}",
        tell.value(body.air_temp_c, "temperature"),
        tell.value(body.surface_temp_c, "temperature"),
        tell.value(body.rel_humidity, "fraction"),
        tell.value(each.dew_point_c, "temperature", NOT_KNOWN) + own,
        NOT_KNOWN if each.spread_k is None else words.value(each.spread_k, "difference"),
        wind,
        NOT_READ if body.cloud is None else f"{words.value(body.cloud, 'fraction')} cloud",
        f"{each.entry.author}{f' ({told_by})' if told_by else ''}",
    ]
    beside = body.beside
    if beside is None:
        return tuple(cells)
    issued = "" if beside.issued is None else f", issued {tell.clock(beside.issued)}"
    told = (
        "", f"source: {beside.source or NOT_RECORDED}{issued}",
        tell.value(beside.air_temp_c, "temperature", NOT_KNOWN),
        tell.value(beside.surface_temp_c, "temperature", NOT_KNOWN),
        tell.value(beside.rel_humidity, "fraction", NOT_KNOWN),
        tell.value(beside.dew_point_c, "temperature", NOT_KNOWN),
        "", tell.value(beside.wind_m_s, "speed", NOT_KNOWN), "", "",
    )  # fmt: skip
    return tuple(
        f"{cell}\n{'' if n == 1 else 'source '}{more}" if more else cell
        for n, (cell, more) in enumerate(zip(cells, told, strict=True))
    )


def _logged(each: LoggerSpan, tell: Telling) -> tuple[str, ...]:
    cells = []
    for name in LOGGER_RANGES:
        if name not in each.ranges:
            cells.append(NOT_READ)
            continue
        least, most, count = each.ranges[name]
        told = [
            tell.words.value(end, "difference")
            if name == "spread_k"
            else tell.value(end, _DIMENSIONS[name])
            for end in (least, most)
        ]
        cells.append(
            (told[0] if told[0] == told[1] else " to ".join(told))
            + ("" if count == each.count else f" ({count:,})")
        )
    numbers = f"{each.first_number} to {each.last_number}"
    return (
        numbers if each.count > 1 else str(each.first_number), tell.clock(each.start),
        each.section or NOT_RECORDED, f"{each.count:,}", *cells,
    )  # fmt: skip


def _rain(entry: Entry, tell: Telling) -> tuple[str, ...]:
    body = entry.body
    assert isinstance(body, Rain)
    return (
        str(entry.number), tell.clock(body.at),
        "end not recorded" if body.end is None else tell.clock(body.end),
        body.section or NOT_RECORDED, tell.value(body.rain_mm, "water", "not measured"),
    )  # fmt: skip


def due_blocks(record: Record, tell: Telling) -> Iterable[Block]:
    """Return the readings that were due, and which entry met each."""
    if not record.due:
        return
    yield Heading("Readings due")
    rows = []
    for each in record.due:
        told = f"entry {each.met_by}"
        if each.met_by is None:
            told = "MISSED" if each.overdue else ("not yet due" if each.coming else "due now")
        place = ", ".join(part for part in (each.section, each.layer) if part)
        rows.append(
            (
                each.what, place or "the work",
                tell.span(each.start, each.end), told,
            )
        )  # fmt: skip
    yield Table(("What", "Section, layer", "Due", "Read"), tuple(rows), numbered=False)
