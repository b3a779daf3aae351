"""The application record as blocks, in words and units: what a page and a PDF are made of.

Every number stands as it was read, with one decimal more than elsewhere where it has one. Times are
by the site's clock; the short name of its offset stands with those that the clock has twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from windows.field.record import LOGGER_RANGES, Told
from windows.field.rules import field_rules
from windows.log.entries import (
    Adhesion,
    Covering,
    DryFilm,
    Instrument,
    Moisture,
    Placement,
    Preparation,
    Rain,
    Repair,
)

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date, datetime

    from windows.field.record import Judged, LaidLayer, LayerClock, LoggerSpan, Measured, Record
    from windows.log.entries import Body, Entry
    from windows.reports.wording import Wording

__all__ = [
    "Block", "Facts", "Heading", "Paper", "Paragraphs", "Signatures", "Table", "record_paper",
]  # fmt: skip

NOT_READ, NOT_KNOWN = "not read", "not known"
_NOT_TOLD = "not recorded"
_SIGNING = ("Applicator", "Superintendent", "Inspector or owner's representative")
_HEAD_DIGITS, _PHOTO_DIGITS = 16, 12
_TIED = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Heading:
    """A heading, of level 2 (a part) or 3 (within one)."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Facts:
    """Names and what is told of each."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table; a cell may have several lines. ``numbered``: its first column is entry numbers."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbered: bool = True


@dataclass(frozen=True)
class Paragraphs:
    """Texts; ``small`` are those that say how to read what is above or below."""

    lines: tuple[str, ...]
    small: bool = False


@dataclass(frozen=True)
class Signatures:
    """Places to sign, one for each who signs: name, signature, date; and what is signed."""

    statement: str
    places: tuple[str, ...]


Block = Heading | Facts | Table | Paragraphs | Signatures


@dataclass(frozen=True)
class Paper:
    """A paper: its title, what it is of, its blocks, and the line below each of its pages."""

    title: str
    subject: str
    running: str
    foot: str
    now: pd.Timestamp
    blocks: tuple[Block, ...]


def record_paper(record: Record, words: Wording) -> Paper:
    """Return the paper of an application record; its times are by the site's own clock."""
    tell = _Telling(record, words)
    day = tell.of()
    title = "Daily application record" if record.day is not None else "Application record"
    return Paper(
        title=title,
        subject=f"{record.site.name}, {day}",
        running=f"{record.site.name}: {title.lower()}, {day}",
        foot=f"Log of {tell.count(record.entries, 'entry')}, "
        f"last hash {record.head[:_HEAD_DIGITS]}",
        now=record.now,
        blocks=tuple(tell.blocks()),
    )


class _Telling:
    """A record told in words."""

    def __init__(self, record: Record, words: Wording) -> None:
        self.record = record
        self.words = words
        self.zone = record.zone

    # --- words ------------------------------------------------------------------------------

    def date(self, day: date) -> str:
        return f"{day:%A}, {day:%B} {day.day}, {day.year}"

    def of(self) -> str:
        """Return what the record is of."""
        return "whole job" if self.record.day is None else self.date(self.record.day)

    def clock(self, when: datetime | None, *, full: bool = False) -> str:
        """Return a local time, with its date unless it is that of the record and not ``full``."""
        if when is None:
            return NOT_KNOWN
        local = pd.Timestamp(when).tz_convert(self.zone).to_pydatetime()
        twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
        name = f" {local.tzname()}" if twice else ""
        if local.date() == self.record.day and not full:
            return f"{local:%H:%M}{name}"
        return f"{local:%Y-%m-%d %H:%M}{name}"

    def span(self, start: datetime, end: datetime | None) -> str:
        """Return a span of local time, the date of its end only where it is another."""
        told = self.clock(end)
        day = self.clock(start).split(" ")[0]
        return f"{self.clock(start)} to {told.removeprefix(f'{day} ')}"

    def value(self, si: float | None, dimension: str, unknown: str = NOT_READ) -> str:
        """Return a number with one decimal more than elsewhere, if it has one."""
        if si is None:
            return unknown
        coarse, fine = (self.words.value(si, dimension, finer=n) for n in (0, 1))
        unit = self.words.unit(dimension)
        numbers = [float(told.removesuffix(unit)) for told in (coarse, fine)]
        return coarse if numbers[0] == numbers[1] else fine

    @staticmethod
    def count(number: int, one: str, many: str = "") -> str:
        plural = many or (f"{one[:-1]}ies" if one.endswith("y") else f"{one}s")
        return f"{number:,} {one if number == 1 else plural}"

    def duration(self, hours: float | None) -> str:
        return NOT_KNOWN if hours is None else self.words.duration(hours)

    @staticmethod
    def place(body: Body) -> str:
        """Return section, layer and place of an entry, as far as it has them."""
        told = [getattr(body, name, "") for name in ("section", "layer", "where")]
        return ", ".join(part for part in told if part) or _NOT_TOLD

    # --- blocks -----------------------------------------------------------------------------

    def blocks(self) -> Iterable[Block]:
        record = self.record
        yield self.top()
        if record.empty:
            told = "in this log" if record.day is None else f"on {self.date(record.day)}"
            yield Paragraphs((f"Nothing was recorded {told}.",))
        yield from self.totals()
        yield from self.placements()
        yield from self.deadlines()
        yield from self.conditions()
        yield from self.due()
        yield from self.others()
        yield from self.notes()
        yield from self.instruments()
        yield from self.corrections()
        yield from self.chain()
        yield Heading("Signatures")
        yield Signatures(
            f"Signed for this record: {record.site.name}, {self.of()}; log up to entry "
            f"{record.entries}, last hash {record.head[:_HEAD_DIGITS]}.",
            _SIGNING,
        )

    def top(self) -> Facts:
        record, system = self.record, self.record.system
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
            facts.append(("Day", self.date(record.day)))
        if record.since is not None and record.until is not None:
            facts.append(("Recorded", self.span(record.since, record.until)))
        facts += [
            ("Time zone", f"{self.words.offset(when)}; all times are by the site's clock"),
            ("Log", f"{self.count(record.entries, 'entry')}; {_log_name(record.opening)}"),
            ("Last hash", record.head),
            ("Made", pd.Timestamp(record.now).tz_convert(self.zone).strftime("%Y-%m-%d %H:%M")),
        ]
        return Facts(tuple(facts))

    def totals(self) -> Iterable[Block]:
        record = self.record
        if not record.totals:
            return
        yield Heading("Laid, by layer" + ("" if record.day is None else " (whole placements)"))
        rows = []
        for each in record.totals:
            volume = self.value(each.volume_l, "volume", _NOT_TOLD)
            if 0 < each.measured < each.placements:
                volume += f" ({each.measured} of {each.placements} placements tell it)"
            rows.append(
                (
                    each.layer, str(each.placements), self.value(each.area_m2, "area"), volume,
                    self.value(each.spread_l_m2, "spread_rate", NOT_KNOWN),
                )
            )  # fmt: skip
        yield Table(
            ("Layer", "Placements", "Area", "Volume", "Spread"),
            tuple(rows),
            numbered=False,
        )
        yield Paragraphs(
            ("Areas are in plan; the spread is over those areas whose volume was recorded, of "
             "strips over their share of the roof.",),
            small=True,
        )  # fmt: skip

    def placements(self) -> Iterable[Block]:
        if not self.record.placements:
            return
        yield Heading("Placements")
        for each in self.record.placements:
            body = each.body
            name = "" if each.layer is None else self.record.system.layers[each.layer].name
            layer = body.layer if name in ("", body.layer) else f"{body.layer} ({name})"
            yield Heading(f"Entry {each.entry.number}: {body.section}, layer {layer}", 3)
            yield Facts(tuple(self.laid(each)))
            films = [
                f"{n}: {self.value(film.film_um, 'film')}{f' ({film.where})' if film.where else ''}"
                .replace(" ", _TIED)
                for n, film in enumerate(body.wet_film, start=1)
            ]
            if films:
                yield Paragraphs((f"Wet film, each reading: {'; '.join(films)}",))

    def laid(self, each: LaidLayer) -> Iterable[tuple[str, str]]:
        body = each.body
        hours = (body.end - body.at).total_seconds() / 3600
        yield (
            "Laid",
            f"{self.span(body.at, body.end)} ({self.duration(hours)})",
        )
        said = "" if each.recorded_coating else " (by the system; none was recorded)"
        yield "Coating", f"{each.coating}{said}" if each.coating else _NOT_TOLD
        yield "Batches", ", ".join(body.batches) or _NOT_TOLD
        yield "Area", self.value(body.area_m2, "area")
        yield "Volume", self.value(body.volume_l, "volume", _NOT_TOLD)
        yield "Spread", self.value(each.spread_l_m2, "spread_rate", NOT_KNOWN)
        yield from self.wet_film(each)
        yield "Crew", body.crew or _NOT_TOLD
        yield "Method", body.method or _NOT_TOLD
        yield "Direction of the passes", body.direction or _NOT_TOLD
        yield "Since the coat below", self.since_below(each)
        prepared = each.since_prepared_h
        yield (
            "Since preparation",
            "none recorded on this section" if prepared is None else self.duration(prepared),
        )
        old = each.entry.corrects
        corrects = "" if old is None else f"; corrects entry {old}"
        yield "Written by", f"{each.entry.author}, {self.clock(each.entry.written)}{corrects}"
        yield "Told on entry", "; ".join(body.flags) or "nothing"

    def wet_film(self, each: LaidLayer) -> Iterable[tuple[str, str]]:
        if each.layer is None:
            yield "Wet film", "no target: the system has no layer of this name"
            return
        check = each.wet
        if check is None:
            yield "Wet film", "none: a foam is not gauged wet"
            return
        yield (
            "Wet film, target",
            f"{self.value(check.target_um, 'film')} each pass ("
            + ("generic)" if self.record.system.generic else "by the system's own values)"),
        )
        each_m2 = self.value(field_rules().area_a_reading_m2, "area")
        yield "Readings", f"{check.taken} taken, {check.needed} needed (one for each {each_m2})"
        if check.taken:
            told = f"lowest {self.value(check.lowest_um, 'film')}; {check.below} below target"
            if check.cannot_tell:
                told += f", {check.cannot_tell} cannot tell (the next tooth is above it)"
            yield "Wet film, lowest", told

    def since_below(self, each: LaidLayer) -> str:
        if each.layer == 0:
            return "first layer of the system"
        if each.below is None:
            return "not known: no placement of the layer below is recorded before it"
        return f"{self.duration(each.since_below_h)} (entry {each.below.number})"

    def deadlines(self) -> Iterable[Block]:
        clocks = self.record.clocks
        if not clocks:
            return
        yield Heading("Recoat and deadlines")
        rows = [row for clock in clocks for row in self.clock_rows(clock)]
        yield Table(
            ("Entry", "Section, layer", "Laid", "Covered by the next", "What", "When", "Told"),
            tuple(rows),
        )
        lines = [
            "Deadlines count from the start of the layer, or from when it was prepared again; "
            "recoat opens by the cure of the layer in the weather of those hours. Each is judged "
            "by the start of the next layer. What is not known is not met.",
        ]
        every = [each for clock in clocks for each in clock.judged]
        if any(each.generic for each in every):
            lines.append(
                "Generic: a range across products and not the data sheet's own figure. Of those on "
                "a weak basis the data sheet decides whether they were met."
            )
        lines += dict.fromkeys(f"Not known: {clock.why}" for clock in clocks if clock.why)
        yield Paragraphs(tuple(lines), small=True)

    def clock_rows(self, clock: LayerClock) -> Iterable[tuple[str, ...]]:
        number = "job file" if clock.number is None else str(clock.number)
        place = f"{clock.piece}, {clock.layer}\n{self.value(clock.area_m2, 'area')}"
        laid = self.span(clock.start, clock.end)
        if clock.prepared is not None:
            laid += f"\nprepared again {self.clock(clock.prepared)}"
        covered = "not yet"
        if clock.last:
            covered = "nothing follows"
        elif clock.covered_start is not None:
            by = "job file" if clock.covered_by is None else f"entry {clock.covered_by}"
            covered = f"{self.span(clock.covered_start, clock.covered_end)} ({by})"
        elif any(each.name == "" for each in clock.judged):
            covered = NOT_KNOWN
        head = (number, place, laid, covered)
        if not clock.judged:
            none = "the last layer" if clock.last else "it has none"
            yield (*head, "deadlines", "none", none)
        for each in clock.judged:
            yield (*head, *self.judged(each, clock))
            head = (number, f"{clock.piece}, {clock.layer}", "as above", "as above")

    def judged(self, each: Judged, clock: LayerClock) -> tuple[str, str, str]:
        when = self.clock(each.at, full=True)
        if each.generic and each.earliest is not None and each.latest is not None:
            ends = [self.clock(end, full=True) for end in (each.earliest, each.latest)]
            when += f"\n{' to '.join(ends)} across products"
        told = str(each.told)
        if each.name == "recoat_opens":
            told = {Told.MISSED: "next layer begun before", Told.OPEN: "next layer not begun"}.get(
                each.told, told
            )
        elif (
            each.told is Told.MET
            and each.at is not None
            and clock.covered_end is not None
            and clock.covered_end > each.at
        ):
            told += ", but the next layer was finished after it"
        if each.basis:
            told += f"\n{'generic, ' if each.generic else ''}{each.basis}"
        return each.label, when, told

    def conditions(self) -> Iterable[Block]:
        record = self.record
        if not (record.readings or record.logger or record.rain):
            return
        yield Heading("Conditions")
        if record.readings:
            yield Table(
                (
                    "Entry", "Time, place", "Air", "Surface", "Humidity", "Dew point", "Spread",
                    "Wind", "Sky", "By",
                ),
                tuple(self.reading(each) for each in record.readings),
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
                tuple(self.logged(each) for each in record.logger),
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
                ("Entry", "From", "To", "Section", "Amount"), tuple(map(self.rain, record.rain))
            )

    def reading(self, each: Measured) -> tuple[str, ...]:
        body, words = each.body, self.words
        own = "" if each.computed or each.dew_point_c is None else "*"
        wind = self.value(body.wind_m_s, "speed")
        if body.gust_m_s is not None:
            wind += f", gust {self.value(body.gust_m_s, 'speed')}"
        if body.wind_from_deg is not None:
            wind += f", from {self.value(body.wind_from_deg, 'angle')}"
        told_by = "; ".join(part for part in (", ".join(body.instruments), body.occasion) if part)
        cells = [
            str(each.entry.number),
            f"{self.clock(each.entry.at)}, {self.place(body)}",
            self.value(body.air_temp_c, "temperature"),
            self.value(body.surface_temp_c, "temperature"),
            self.value(body.rel_humidity, "fraction"),
            self.value(each.dew_point_c, "temperature", NOT_KNOWN) + own,
            NOT_KNOWN if each.spread_k is None else words.value(each.spread_k, "difference"),
            wind,
            NOT_READ if body.cloud is None else f"{words.value(body.cloud, 'fraction')} cloud",
            f"{each.entry.author}{f' ({told_by})' if told_by else ''}",
        ]
        beside = body.beside
        if beside is None:
            return tuple(cells)
        issued = "" if beside.issued is None else f", issued {self.clock(beside.issued)}"
        told = (
            "", f"source: {beside.source or _NOT_TOLD}{issued}",
            self.value(beside.air_temp_c, "temperature", NOT_KNOWN),
            self.value(beside.surface_temp_c, "temperature", NOT_KNOWN),
            self.value(beside.rel_humidity, "fraction", NOT_KNOWN),
            self.value(beside.dew_point_c, "temperature", NOT_KNOWN),
            "", self.value(beside.wind_m_s, "speed", NOT_KNOWN), "", "",
        )  # fmt: skip
        return tuple(
            f"{cell}\n{'' if n == 1 else 'source '}{more}" if more else cell
            for n, (cell, more) in enumerate(zip(cells, told, strict=True))
        )

    def logged(self, each: LoggerSpan) -> tuple[str, ...]:
        cells = []
        for name in LOGGER_RANGES:
            if name not in each.ranges:
                cells.append(NOT_READ)
                continue
            least, most, count = each.ranges[name]
            told = [
                self.words.value(end, "difference")
                if name == "spread_k"
                else self.value(end, _DIMENSIONS[name])
                for end in (least, most)
            ]
            cells.append(
                (told[0] if told[0] == told[1] else " to ".join(told))
                + ("" if count == each.count else f" ({count:,})")
            )
        numbers = f"{each.first_number} to {each.last_number}"
        return (
            numbers if each.count > 1 else str(each.first_number), self.clock(each.start),
            each.section or _NOT_TOLD, f"{each.count:,}", *cells,
        )  # fmt: skip

    def rain(self, entry: Entry) -> tuple[str, ...]:
        body = entry.body
        assert isinstance(body, Rain)
        return (
            str(entry.number), self.clock(body.at),
            "end not recorded" if body.end is None else self.clock(body.end),
            body.section or _NOT_TOLD, self.value(body.rain_mm, "water", "not measured"),
        )  # fmt: skip

    def due(self) -> Iterable[Block]:
        if not self.record.due:
            return
        yield Heading("Readings due")
        rows = []
        for each in self.record.due:
            told = f"entry {each.met_by}"
            if each.met_by is None:
                told = "MISSED" if each.overdue else ("not yet due" if each.coming else "due now")
            place = ", ".join(part for part in (each.section, each.layer) if part)
            rows.append(
                (
                    each.what, place or "the work",
                    self.span(each.start, each.end), told,
                )
            )  # fmt: skip
        yield Table(("What", "Section, layer", "Due", "Read"), tuple(rows), numbered=False)

    def others(self) -> Iterable[Block]:
        """Tell moisture, adhesion, dry film, covers and preparations."""
        record = self.record
        tables: tuple[tuple[str, tuple[str, ...], tuple[tuple[str, ...], ...]], ...] = (
            (
                "Moisture of the roof below",
                ("Entry", "Time", "Place", "Moisture", "Limit", "Told", "Method", "By"),
                tuple(map(self.moisture, record.moisture)),
            ),
            (
                "Adhesion",
                ("Entry", "Time", "Place", "Pull-off", "Peel", "Failure", "Told", "Method", "By"),
                tuple(map(self.adhesion, record.adhesion)),
            ),
            (
                "Dry film, each measurement (not averaged)",
                ("No.", "Entry", "Time", "Place", "Dry film", "The system's", "Method", "By"),
                tuple(self.dry_film(n, e) for n, e in enumerate(record.dry_film, start=1)),
            ),
            (
                "Covers",
                ("Entry", "From", "To", "Place", "What", "By"),
                tuple(map(self.cover, record.covers)),
            ),
            (
                "Prepared again",
                ("Entry", "Time", "Place", "What", "By"),
                tuple(map(self.preparation, record.preparations)),
            ),
        )
        for heading, columns, rows in tables:
            if rows:
                yield Heading(heading)
                yield Table(columns, rows, numbered=columns[0] == "Entry")

    def moisture(self, entry: Entry) -> tuple[str, ...]:
        body = entry.body
        assert isinstance(body, Moisture)
        return (
            *self.start(entry), self.place(body), self.value(body.moisture, "fraction"),
            self.value(body.limit, "fraction"),
            "within" if body.moisture <= body.limit else "ABOVE THE LIMIT",
            body.method, _by(entry, body.instruments),
        )  # fmt: skip

    def adhesion(self, entry: Entry) -> tuple[str, ...]:
        body = entry.body
        assert isinstance(body, Adhesion)
        return (
            *self.start(entry), self.place(body),
            self.value(body.pull_off_kpa, "stress", "not tested"),
            self.value(body.peel_n_m, "peel", "not tested"),
            body.failure or _NOT_TOLD, "passes" if body.passes else "FAILS", body.method,
            _by(entry, body.instruments),
        )  # fmt: skip

    def dry_film(self, number: int, entry: Entry) -> tuple[str, ...]:
        body = entry.body
        assert isinstance(body, DryFilm)
        wanted = [each for each in self.record.system.layers if each.name == body.layer]
        return (
            str(number), *self.start(entry), self.place(body), self.value(body.film_um, "film"),
            self.value(wanted[0].dry_film.si, "film") if wanted else "no one layer",
            body.method, _by(entry, body.instruments),
        )  # fmt: skip

    def cover(self, entry: Entry) -> tuple[str, ...]:
        body = entry.body
        assert isinstance(body, Covering)
        off = "not taken off, as recorded" if body.end is None else self.clock(body.end)
        return (*self.start(entry), off, self.place(body), body.what, entry.author)

    def preparation(self, entry: Entry) -> tuple[str, ...]:
        body = entry.body
        assert isinstance(body, Preparation)
        return (*self.start(entry), self.place(body), body.what or _NOT_TOLD, entry.author)

    def start(self, entry: Entry) -> tuple[str, str]:
        return str(entry.number), self.clock(entry.at)

    def notes(self) -> Iterable[Block]:
        record = self.record
        # Those of a placement stand with it.
        flags = [each for each in record.flags if not isinstance(each[0].body, Placement)]
        if flags:
            yield Heading("Told by the checks on entry")
            flagged = [
                (
                    *self.start(entry), _kind(entry.kind),
                    text if count == 1 else f"{text} ({count:,} times from here on)",
                )
                for entry, text, count in flags
            ]  # fmt: skip
            yield Table(("Entry", "Time", "Kind", "What"), tuple(flagged))
        if record.notes:
            yield Heading("Notes")
            rows = [
                (*self.start(entry), _kind(entry.kind), entry.body.note, entry.author)
                for entry in record.notes
            ]
            yield Table(("Entry", "Time", "Kind", "Note", "By"), tuple(rows))
        if record.photos:
            yield Heading("Photos")
            pictures = [
                (
                    *self.start(entry), photo.file, photo.sha256[:_PHOTO_DIGITS],
                    f"{photo.size:,} bytes",
                )
                for entry in record.photos for photo in entry.body.photos
            ]  # fmt: skip
            yield Table(
                ("Entry", "Time", "File", f"SHA-256, first {_PHOTO_DIGITS}", "Size"),
                tuple(pictures),
            )

    def instruments(self) -> Iterable[Block]:
        record = self.record
        if not (record.instruments or record.unknown_instruments):
            return
        yield Heading("Instruments")
        rows = []
        for entry in record.instruments:
            body = entry.body
            assert isinstance(body, Instrument)
            maker = " ".join(part for part in (body.maker, body.model) if part)
            last, due = (
                _NOT_TOLD if each is None else each.isoformat()
                for each in (body.calibrated, body.due)
            )
            rows.append((str(entry.number), body.serial, body.what, maker or _NOT_TOLD, last, due))
        rows += [
            ("none", serial, _NOT_TOLD, _NOT_TOLD, _NOT_TOLD, _NOT_TOLD)
            for serial in record.unknown_instruments
        ]
        yield Table(
            ("Entry", "Serial", "What", "Maker, model", "Last calibration", "Next calibration"),
            tuple(rows),
        )

    def corrections(self) -> Iterable[Block]:
        record = self.record
        if record.corrected:
            yield Heading("Corrected and withdrawn")
            rows = [
                (
                    str(each.old), _kind(each.kind),
                    f"{'withdrawn' if each.withdrawn else 'corrected'} by entry {each.by_entry}",
                    each.author, self.clock(each.written), each.why or _NOT_TOLD,
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
                lost = ", ".join(
                    str(a) if a == b else f"{a} to {b}" for a, b in body.missing
                )
                digits = body.source_sha256
                repaired.append((*self.start(entry), lost or "none", digits, entry.author))
            yield Table(
                ("Entry", "Time", "Entries lost", "SHA-256 of the damaged file", "By"),
                tuple(repaired),
            )

    def chain(self) -> Iterable[Block]:
        record, chain = self.record, self.record.chain
        yield Heading("The log behind this record")
        lines = [
            "The log is only ever added to: each entry holds the SHA-256 of the one before it, so "
            "that a change of any breaks all after it. The last hash stands for all of them: "
            f"{record.head}",
        ]
        whole = chain.to_head and not chain.missing and chain.first == 1
        if not chain.count:
            lines.append("No entry was given for this record.")
        elif whole and chain.linked:
            lines.append(f"This record was made of entries 1 to {chain.last}, all of the log; each "
                         "fits the one before it.")  # fmt: skip
        else:
            lines.append(f"This record was made of {self.count(chain.count, 'entry')} of the log, "
                         f"from {chain.first} to {chain.last}.")  # fmt: skip
        if not chain.linked:
            lines.append("THEY DO NOT FIT TOGETHER: the hash of an entry is not the one told.")
        if record.day is None and not whole and chain.count:
            holes = [(1, chain.first - 1)] if chain.first > 1 else []
            holes += chain.missing
            if not chain.to_head:
                holes.append((chain.last + 1, record.entries))
            lost = ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in holes if a <= b)
            lines.append(f"Not among them: {lost or 'the last of the log as it is now'}.")
        yield Paragraphs(tuple(lines))


_LOGGER_HEADS = ("Air", "Surface", "Humidity", "Dew point", "Spread", "Wind", "Gust")
_DIMENSIONS = {
    "air_temp_c": "temperature", "surface_temp_c": "temperature", "rel_humidity": "fraction",
    "dew_point_c": "temperature", "wind_m_s": "speed", "gust_m_s": "speed",
}  # fmt: skip


def _kind(kind: str) -> str:
    return kind.replace("_", " ")


def _by(entry: Entry, instruments: tuple[str, ...]) -> str:
    return f"{entry.author} ({', '.join(instruments)})" if instruments else entry.author


def _log_name(opening: Entry | None) -> str:
    if opening is None:
        return "its opening is not among the entries of this record"
    name = getattr(opening.body, "log", "")
    return f"number {name}, opened {opening.at:%Y-%m-%d} UTC by {opening.author}"
