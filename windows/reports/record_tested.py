"""What was tested and done beside the coats, in an application record, each in a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.field.choose import layer_number
from windows.log.entries import Adhesion, Covering, DryFilm, Moisture, Preparation
from windows.reports.paper import Heading, Table
from windows.reports.record_words import NOT_RECORDED, place_of, told_by

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cure_models.system import System
    from windows.field.record_result import Record
    from windows.log.entries import Entry
    from windows.reports.paper import Block
    from windows.reports.record_words import Telling

__all__ = ["tested_blocks"]


def tested_blocks(record: Record, tell: Telling) -> Iterable[Block]:
    """Return moisture, adhesion, dry film, covers and preparations."""
    tables: tuple[tuple[str, tuple[str, ...], tuple[tuple[str, ...], ...]], ...] = (
        (
            "Moisture of the roof below",
            ("Entry", "Time", "Place", "Moisture", "Limit", "Told", "Method", "By"),
            tuple(_moisture(each, tell) for each in record.moisture),
        ),
        (
            "Adhesion",
            ("Entry", "Time", "Place", "Pull-off", "Peel", "Failure", "Told", "Method", "By"),
            tuple(_adhesion(each, tell) for each in record.adhesion),
        ),
        (
            "Dry film, each measurement (not averaged)",
            ("No.", "Entry", "Time", "Place", "Dry film", "The system's", "Method", "By"),
            tuple(
                _dry_film(n, each, record.system, tell)
                for n, each in enumerate(record.dry_film, start=1)
            ),
        ),
        (
            "Covers",
            ("Entry", "From", "To", "Place", "What", "By"),
            tuple(_cover(each, tell) for each in record.covers),
        ),
        (
            "Prepared again",
            ("Entry", "Time", "Place", "What", "By"),
            tuple(_preparation(each, tell) for each in record.preparations),
        ),
    )
    for heading, columns, rows in tables:
        if rows:
            yield Heading(heading)
            yield Table(columns, rows, numbered=columns[0] == "Entry")


def _moisture(entry: Entry, tell: Telling) -> tuple[str, ...]:
    body = entry.body
    assert isinstance(body, Moisture)
    return (
        *tell.start(entry), place_of(body), tell.value(body.moisture, "fraction"),
        tell.value(body.limit, "fraction"),
        "within" if body.moisture <= body.limit else "ABOVE THE LIMIT",
        body.method, told_by(entry, body.instruments),
    )  # fmt: skip


def _adhesion(entry: Entry, tell: Telling) -> tuple[str, ...]:
    body = entry.body
    assert isinstance(body, Adhesion)
    return (
        *tell.start(entry), place_of(body),
        tell.value(body.pull_off_kpa, "stress", "not tested"),
        tell.value(body.peel_n_m, "peel", "not tested"),
        body.failure or NOT_RECORDED, "passes" if body.passes else "FAILS", body.method,
        told_by(entry, body.instruments),
    )  # fmt: skip


def _dry_film(number: int, entry: Entry, system: System, tell: Telling) -> tuple[str, ...]:
    body = entry.body
    assert isinstance(body, DryFilm)
    layer = layer_number(system, body.layer)
    wanted = None if layer is None else system.layers[layer].dry_film.si
    return (
        str(number), *tell.start(entry), place_of(body), tell.value(body.film_um, "film"),
        "no one layer" if wanted is None else tell.value(wanted, "film"),
        body.method, told_by(entry, body.instruments),
    )  # fmt: skip


def _cover(entry: Entry, tell: Telling) -> tuple[str, ...]:
    body = entry.body
    assert isinstance(body, Covering)
    off = "not taken off, as recorded" if body.end is None else tell.clock(body.end)
    return (*tell.start(entry), off, place_of(body), body.what, entry.author)


def _preparation(entry: Entry, tell: Telling) -> tuple[str, ...]:
    body = entry.body
    assert isinstance(body, Preparation)
    return (*tell.start(entry), place_of(body), body.what or NOT_RECORDED, entry.author)
