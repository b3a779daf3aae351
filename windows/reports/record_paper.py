"""The application record as a paper: what stands on it, and in what order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from windows.log.entries import Instrument, Placement, Repair
from windows.reports.paper import Facts, Heading, Paper, Paragraphs, Signatures, Table
from windows.reports.record_conditions import condition_blocks, due_blocks
from windows.reports.record_laid import deadline_blocks, placement_blocks, total_blocks
from windows.reports.record_tested import tested_blocks
from windows.reports.record_words import (
    NOT_RECORDED,
    Telling,
    entries_told,
    kind_told,
    long_date,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.field.record_result import Record
    from windows.log.entries import Entry
    from windows.reports.paper import Block
    from windows.reports.wording import Wording

__all__ = ["record_paper"]

_SIGNING = ("Applicator", "Superintendent", "Inspector or owner's representative")
_HEAD_DIGITS, _PHOTO_DIGITS = 16, 12


def record_paper(record: Record, words: Wording) -> Paper:
    """Return the paper of an application record; its times are by the site's own clock."""
    tell = Telling(words, record.zone, record.day)
    day = _of(record)
    title = "Daily application record" if record.day is not None else "Application record"
    return Paper(
        title=title,
        subject=f"{record.site.name}, {day}",
        running=f"{record.site.name}: {title.lower()}, {day}",
        foot=f"Log of {entries_told(record.entries)}, "
        f"last hash {record.head[:_HEAD_DIGITS]}",
        now=record.now,
        blocks=tuple(_blocks(record, tell)),
    )


def _of(record: Record) -> str:
    """Return what a record is of."""
    return "whole job" if record.day is None else long_date(record.day)


def _blocks(record: Record, tell: Telling) -> Iterable[Block]:
    yield _top(record, tell)
    if record.empty:
        told = "in this log" if record.day is None else f"on {long_date(record.day)}"
        yield Paragraphs((f"Nothing was recorded {told}.",))
    yield from total_blocks(record, tell)
    yield from placement_blocks(record, tell)
    yield from deadline_blocks(record, tell)
    yield from condition_blocks(record, tell)
    yield from due_blocks(record, tell)
    yield from tested_blocks(record, tell)
    yield from _notes(record, tell)
    yield from _instruments(record)
    yield from _corrections(record, tell)
    yield from _chain(record)
    yield Heading("Signatures")
    yield Signatures(
        f"Signed for this record: {record.site.name}, {_of(record)}; log up to entry "
        f"{record.entries}, last hash {record.head[:_HEAD_DIGITS]}.",
        _SIGNING,
    )


def _top(record: Record, tell: Telling) -> Facts:
    system = record.system
    when = record.since or record.now
    facts = [
        ("Site", record.site.name),
        (
            "System",
            f"{system.title} ({system.name}; "
            + ("generic values, not a data sheet)" if system.generic else "own values)"),
        ),
    ]
    if record.day is not None:
        facts.append(("Day", long_date(record.day)))
    if record.since is not None and record.until is not None:
        facts.append(("Recorded", tell.span(record.since, record.until)))
    facts += [
        ("Time zone", f"{tell.words.offset(when)}; all times are by the site's clock"),
        ("Log", f"{entries_told(record.entries)}; {_log_name(record.opening)}"),
        ("Last hash", record.head),
        ("Made", pd.Timestamp(record.now).tz_convert(tell.zone).strftime("%Y-%m-%d %H:%M")),
    ]
    return Facts(tuple(facts))


def _log_name(opening: Entry | None) -> str:
    if opening is None:
        return "its opening is not among the entries of this record"
    name = getattr(opening.body, "log", "")
    return f"number {name}, opened {opening.at:%Y-%m-%d} UTC by {opening.author}"


def _notes(record: Record, tell: Telling) -> Iterable[Block]:
    # Those of a placement stand with it.
    flags = [each for each in record.flags if not isinstance(each[0].body, Placement)]
    if flags:
        yield Heading("Told by the checks on entry")
        flagged = [
            (
                *tell.start(entry), kind_told(entry.kind),
                text if count == 1 else f"{text} ({count:,} times from here on)",
            )
            for entry, text, count in flags
        ]  # fmt: skip
        yield Table(("Entry", "Time", "Kind", "What"), tuple(flagged))
    if record.notes:
        yield Heading("Notes")
        rows = [
            (*tell.start(entry), kind_told(entry.kind), entry.body.note, entry.author)
            for entry in record.notes
        ]
        yield Table(("Entry", "Time", "Kind", "Note", "By"), tuple(rows))
    if record.photos:
        yield Heading("Photos")
        pictures = [
            (
                *tell.start(entry), photo.file, photo.sha256[:_PHOTO_DIGITS],
                f"{photo.size:,} bytes",
            )
            for entry in record.photos for photo in entry.body.photos
        ]  # fmt: skip
        yield Table(
            ("Entry", "Time", "File", f"SHA-256, first {_PHOTO_DIGITS}", "Size"),
            tuple(pictures),
        )


def _instruments(record: Record) -> Iterable[Block]:
    if not (record.instruments or record.unknown_instruments):
        return
    yield Heading("Instruments")
    rows = []
    for entry in record.instruments:
        body = entry.body
        assert isinstance(body, Instrument)
        maker = " ".join(part for part in (body.maker, body.model) if part)
        last, due = (
            NOT_RECORDED if each is None else each.isoformat()
            for each in (body.calibrated, body.due)
        )
        rows.append((str(entry.number), body.serial, body.what, maker or NOT_RECORDED, last, due))
    rows += [
        ("none", serial, NOT_RECORDED, NOT_RECORDED, NOT_RECORDED, NOT_RECORDED)
        for serial in record.unknown_instruments
    ]
    yield Table(
        ("Entry", "Serial", "What", "Maker, model", "Last calibration", "Next calibration"),
        tuple(rows),
    )


def _corrections(record: Record, tell: Telling) -> Iterable[Block]:
    if record.corrected:
        yield Heading("Corrected and withdrawn")
        rows = [
            (
                str(each.old), kind_told(each.kind),
                f"{'withdrawn' if each.withdrawn else 'corrected'} by entry {each.by_entry}",
                each.author, tell.clock(each.written), each.why or NOT_RECORDED,
            )
            for each in record.corrected
        ]  # fmt: skip
        yield Table(("Entry", "Kind", "What", "By", "Written", "Why"), tuple(rows))
        yield Paragraphs(
            ("The old entries stay in the log; this record shows what stands.",), small=True
        )
    if record.repairs:
        yield Heading("Repairs of the log")
        repaired = []
        for entry in record.repairs:
            body = entry.body
            assert isinstance(body, Repair)
            lost, digits = _numbers(body.missing), body.source_sha256
            what = "\n".join(part for part in (lost, body.note) if part)
            repaired.append((*tell.start(entry), what, digits, entry.author))
        yield Table(
            ("Entry", "Time", "Entries lost", "SHA-256 of the damaged file", "By"),
            tuple(repaired),
        )


def _chain(record: Record) -> Iterable[Block]:
    chain = record.chain
    yield Heading("The log behind this record")
    lines = [
        "The log is only ever added to: each entry holds the SHA-256 of the one before it, so "
        "that a change of any breaks all after it. The last hash stands for all of them: "
        f"{record.head}",
    ]
    whole = chain.to_head and not chain.missing and chain.first == 1
    if record.repairs:
        lines.append(
            "THE LOG WAS DAMAGED AND REPAIRED: entries are, or may be, missing, and this record "
            "shows what was saved."
        )
    if not chain.count:
        lines.append("No entry was given for this record.")
    elif whole and chain.linked:
        lines.append(f"This record was made of entries 1 to {chain.last}, all that the log has; "
                     "each fits the one before it.")  # fmt: skip
    else:
        lines.append(f"This record was made of {entries_told(chain.count)} of the log, "
                     f"from {chain.first} to {chain.last}.")  # fmt: skip
    if not chain.linked:
        lines.append("THEY DO NOT FIT TOGETHER: the hash of an entry is not the one told.")
    if record.day is None and not whole and chain.count:
        holes = [(1, chain.first - 1)] if chain.first > 1 else []
        holes += chain.missing
        if not chain.to_head:
            holes.append((chain.last + 1, record.entries))
        lines.append(f"Not among them: {_numbers(holes) or 'the last of the log as it is now'}.")
    yield Paragraphs(tuple(lines))


def _numbers(spans: Iterable[tuple[int, int]]) -> str:
    """Return spans of numbers, as ``"3, 7 to 9"``."""
    return ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in spans if a <= b)
