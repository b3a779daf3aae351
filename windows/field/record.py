"""The application record of a day or a whole job: what a log says was done, and what it was like.

What stands is shown, with the number of its entry; what was corrected or withdrawn is listed beside
it. A film is never averaged. A deadline whose time is not known is never said to be met.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.limits import DEADLINES, MILESTONES
from cure_models.psychrometrics import condensation_point, dew_point
from windows.crew import NO_SHIFT, shifts
from windows.errors import DewgapError
from windows.field.due import due
from windows.field.rules import field_rules
from windows.field.wet_film import check_wet_film
from windows.job_file import JobFile, Section, pieces
from windows.log.entries import (
    Adhesion,
    Covering,
    DryFilm,
    Instrument,
    Moisture,
    Opening,
    Placement,
    Preparation,
    Rain,
    Reading,
    Repair,
    Withdrawal,
    standing,
)
from windows.log.laid import Laid
from windows.recoat import check_cover, is_weak

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from zoneinfo import ZoneInfo

    from cure_models.arrays import FloatArray
    from cure_models.profile import Sourced
    from cure_models.system import System
    from windows.field.due import Due
    from windows.field.wet_film import WetFilmCheck
    from windows.job_file import Record as JobRecord
    from windows.layers import SystemHours
    from windows.log.entries import Body, Entry
    from windows.site import Site

__all__ = [
    "LOGGER_RANGES", "Chain", "Corrected", "Judged", "LaidLayer", "LayerClock", "LoggerSpan",
    "Measured", "Record", "Told", "Total", "record",
]  # fmt: skip

LOGGER_RANGES = (
    "air_temp_c", "surface_temp_c", "rel_humidity", "dew_point_c", "spread_k", "wind_m_s",
    "gust_m_s",
)  # fmt: skip
"""What is told of the readings of a logger: least, greatest and count of each."""

_NEAR = timedelta(days=1)
"""Readings this far around the placements of a day are asked whether they meet what is due."""
_SECOND_NS = 10**9


class Told(StrEnum):
    """What a log can say of a deadline."""

    MET = "met"
    MISSED = "missed"
    OPEN = "open"
    DATA_SHEET = "the data sheet decides"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class LaidLayer:
    """A placement, and what follows from it.

    Attributes
    ----------
    layer
        Number from 0, None where the system has no such layer.
    coating
        The coating recorded, else the system's.
    spread_l_m2
        Volume over area, None where no volume is recorded. [L/m2]
    wet
        The wet film readings against target and count, None where the system has no such layer.
    below
        The last placement of the layer below on the section that had ended, if there is one.
    since_below_h, since_prepared_h
        From its end, and from the last preparation on the section, to this start. [h]
    """

    entry: Entry
    body: Placement
    layer: int | None
    coating: str
    recorded_coating: bool
    spread_l_m2: float | None
    wet: WetFilmCheck | None
    below: Entry | None
    since_below_h: float | None
    since_prepared_h: float | None


@dataclass(frozen=True)
class Measured:
    """A reading, with the dew point worked out from its air temperature and humidity. [degC, K]

    Where one of the two was not read, the dew point is the instrument's own and not ``computed``.
    """

    entry: Entry
    body: Reading
    dew_point_c: float | None
    computed: bool
    spread_k: float | None


@dataclass(frozen=True)
class LoggerSpan:
    """The readings of a logger on a section, from ``start`` to before ``end``.

    ``ranges`` has least, greatest and count by the names of `LOGGER_RANGES`; what was never read
    is not in it.
    """

    section: str
    start: pd.Timestamp
    end: pd.Timestamp
    count: int
    ranges: dict[str, tuple[float, float, int]]
    first_number: int
    last_number: int


@dataclass(frozen=True)
class Judged:
    """A time that a laid layer had to wait for or to be covered by, and what became of it.

    ``at`` is None where it is not known; ``earliest`` and ``latest`` are at the ends of a generic
    range. ``basis`` is how its figure is known.
    """

    name: str
    label: str
    at: pd.Timestamp | None
    earliest: pd.Timestamp | None
    latest: pd.Timestamp | None
    told: Told
    weak: bool
    generic: bool
    basis: str


@dataclass(frozen=True)
class LayerClock:
    """The clocks of a layer on a section, or on the part of one that was laid at once. [m2]

    Deadlines count from ``start``, or from ``prepared`` where it was prepared again. ``number`` is
    its entry, ``covered_by`` that of the next layer on it, None where the job file alone has it.
    ``why`` tells what is lacking for what is not known.
    """

    number: int | None
    section: str
    piece: str
    layer: str
    area_m2: float
    start: pd.Timestamp
    end: pd.Timestamp
    prepared: pd.Timestamp | None
    covered_by: int | None
    covered_start: pd.Timestamp | None
    covered_end: pd.Timestamp | None
    last: bool
    judged: tuple[Judged, ...]
    why: str


@dataclass(frozen=True)
class Total:
    """A layer over all sections: its area, and the volume of the placements that give one. [m2, L]

    ``measured_m2`` is the area of those, and ``spread_l_m2`` the volume over it.
    """

    layer: str
    placements: int
    area_m2: float
    volume_l: float | None
    measured: int
    measured_m2: float
    spread_l_m2: float | None


@dataclass(frozen=True)
class Corrected:
    """An entry that stands no more: by which it was corrected or taken back, by whom, when, why."""

    old: int
    kind: str
    by_entry: int
    withdrawn: bool
    author: str
    written: datetime
    why: str


@dataclass(frozen=True)
class Chain:
    """How the entries given hang together: ``missing`` are holes, ``linked`` tells of the hashes.

    ``to_head`` tells whether the last of them is the head of the log. A record of a day may be made
    of a part of the log: what is missing then is only not among the ``count`` entries given.
    """

    count: int
    first: int
    last: int
    missing: tuple[tuple[int, int], ...]
    linked: bool
    to_head: bool


@dataclass(frozen=True)
class Record:
    """What is on an application record. Times in UTC; what is None was not read or is not known.

    ``since`` and ``until`` are the first and last moment that something is told of; ``empty`` tells
    that nothing is, but perhaps a cover that lies on, and nothing was corrected.
    """

    site: Site
    system: System
    zone: ZoneInfo
    now: pd.Timestamp
    day: date | None
    since: pd.Timestamp | None
    until: pd.Timestamp | None
    empty: bool
    entries: int
    head: str
    chain: Chain
    opening: Entry | None
    placements: tuple[LaidLayer, ...]
    readings: tuple[Measured, ...]
    logger: tuple[LoggerSpan, ...]
    rain: tuple[Entry, ...]
    moisture: tuple[Entry, ...]
    adhesion: tuple[Entry, ...]
    dry_film: tuple[Entry, ...]
    covers: tuple[Entry, ...]
    preparations: tuple[Entry, ...]
    notes: tuple[Entry, ...]
    flags: tuple[tuple[Entry, str, int], ...]
    photos: tuple[Entry, ...]
    instruments: tuple[Entry, ...]
    unknown_instruments: tuple[str, ...]
    due: tuple[Due, ...]
    clocks: tuple[LayerClock, ...]
    totals: tuple[Total, ...]
    corrected: tuple[Corrected, ...]
    repairs: tuple[Entry, ...]


def record(
    entries: Sequence[Entry],
    *,
    site: Site,
    system: System,
    job: JobFile,
    now: datetime,
    day: date | None,
    head: tuple[int, str],
    in_weather: SystemHours | None,
) -> Record:
    """Return the record of a local day, or of the whole job.

    Parameters
    ----------
    entries
        Of the log, or of a span of it, with those that were corrected or withdrawn.
    site, system, job
        Where, what, and the sections.
    now
        The present: until then a layer may still be covered.
    day
        By the site's clock; None for the whole job.
    head
        Number and hash of the last entry of the log.
    in_weather
        The system in weather that holds the placements, for what only weather can tell: when
        recoat opened, and a deadline by a dose of ultraviolet.
    """
    present, zone = pd.Timestamp(now).tz_convert("UTC").floor("s"), site.zone
    told = sorted(entries, key=lambda entry: entry.number)
    stand = [e for e in standing(told) if not isinstance(e.body, Opening | Repair)]
    span = None if day is None else _local_day(day, zone)
    here = stand if span is None else [e for e in stand if _overlaps(e.body, *span)]
    laid, again = _of(stand, Placement), _of(stand, Preparation)
    instruments, unknown = _instruments(stand, here, span)
    corrected = _corrected(told, span)
    clocks = _clocks(laid, again, site, system, job, present, in_weather)
    # A cover that lies on was not laid on this day.
    dated = [
        e for e in here
        if span is None or e.at >= span[0] or not isinstance(e.body, Covering)
    ]  # fmt: skip
    return Record(
        site=site,
        system=system,
        zone=zone,
        now=present,
        day=day,
        since=min((pd.Timestamp(e.at) for e in dated), default=None),
        until=max((pd.Timestamp(_end(e.body)) for e in dated), default=None),
        empty=not dated and not corrected,
        entries=head[0],
        head=head[1],
        chain=_chain(told, head),
        opening=next((e for e in told if isinstance(e.body, Opening)), None),
        placements=tuple(_laid(e, laid, again, system) for e in _of(here, Placement)),
        readings=_measured([e for e in _of(here, Reading) if not _is_logger(e)]),
        logger=_logger([e for e in here if _is_logger(e)], zone, hourly=day is not None),
        rain=tuple(_of(here, Rain)),
        moisture=tuple(_of(here, Moisture)),
        adhesion=tuple(_of(here, Adhesion)),
        dry_film=tuple(_of(here, DryFilm)),
        covers=tuple(_of(here, Covering)),
        preparations=tuple(_of(here, Preparation)),
        notes=tuple(e for e in here if e.body.note),
        flags=_flags(here),
        photos=tuple(e for e in here if e.body.photos),
        instruments=instruments,
        unknown_instruments=unknown,
        due=_due(laid, stand, zone, present, day),
        clocks=tuple(c for c in clocks if span is None or _concerns(c, *span)),
        totals=_totals(_of(here, Placement), system),
        corrected=corrected,
        repairs=tuple(e for e in told if isinstance(e.body, Repair)),
    )


def _of(entries: Iterable[Entry], *kinds: type[Body]) -> list[Entry]:
    return [entry for entry in entries if isinstance(entry.body, kinds)]


def _local_day(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the first moment of a local day and that of the next: 23 to 25 h apart."""
    first, last = (
        datetime.combine(each, time(), zone).astimezone(UTC)
        for each in (day, day + timedelta(days=1))
    )
    return first, last


def _end(body: Body) -> datetime:
    """Return when what an entry tells of ended: when it began, where no end is told."""
    if isinstance(body, Placement | Covering | Rain) and body.end is not None:
        return body.end
    return body.at


def _overlaps(body: Body, start: datetime, end: datetime) -> bool:
    """Tell whether something was in a span; a cover that was not taken off lies on."""
    if body.at >= end:
        return False
    if body.at >= start:
        return True
    return _end(body) > start or (isinstance(body, Covering) and body.end is None)


def _is_logger(entry: Entry) -> bool:
    return isinstance(entry.body, Reading) and entry.body.occasion == "logger"


def _chain(told: list[Entry], head: tuple[int, str]) -> Chain:
    """Return how entries hang together, by numbers and hashes as they stand.

    Whether each says what it said is the log's own check, when it is read.
    """
    pairs = list(pairwise(told))
    missing = [(a.number + 1, b.number - 1) for a, b in pairs if b.number > a.number + 1]
    linked = all(b.previous == a.hash for a, b in pairs if b.number == a.number + 1)
    last = told[-1] if told else None
    return Chain(
        count=len(told),
        first=told[0].number if told else 0,
        last=last.number if last else 0,
        missing=tuple(missing),
        linked=linked,
        to_head=last is not None and (last.number, last.hash) == head,
    )


def _layer_number(system: System, name: str) -> int | None:
    try:
        return system.number(name)
    except DewgapError:
        return None


def _placement(entry: Entry) -> Placement:
    assert isinstance(entry.body, Placement)
    return entry.body


def _coated(body: Placement, system: System) -> float:
    """Return the area that the material lies on: of strips their share of it in plan. [m2]"""
    layer = _layer_number(system, body.layer)
    return body.area_m2 * (1.0 if layer is None else system.layers[layer].area_share)


def _laid(entry: Entry, laid: list[Entry], again: list[Entry], system: System) -> LaidLayer:
    """Return a placement with its coat below, its preparation and its wet film."""
    body = _placement(entry)
    layer = _layer_number(system, body.layer)
    below = None
    if layer:
        under = [
            e for e in laid
            if _placement(e).section == body.section and _end(e.body) <= body.at
            and _layer_number(system, _placement(e).layer) == layer - 1
        ]  # fmt: skip
        below = max(under, key=lambda e: (_end(e.body), e.number), default=None)
    prepared = [
        e.at for e in again
        if isinstance(e.body, Preparation) and e.body.section == body.section and e.at <= body.at
    ]  # fmt: skip
    return LaidLayer(
        entry=entry,
        body=body,
        layer=layer,
        coating=body.coating or ("" if layer is None else system.profiles[layer].title),
        recorded_coating=bool(body.coating),
        spread_l_m2=None if body.volume_l is None else body.volume_l / _coated(body, system),
        wet=None if layer is None else check_wet_film(body, system=system, layer=layer),
        below=below,
        since_below_h=None if below is None else _hours(_end(below.body), body.at),
        since_prepared_h=_hours(max(prepared), body.at) if prepared else None,
    )


def _hours(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(hours=1)


def _measured(entries: list[Entry]) -> tuple[Measured, ...]:
    found = []
    table = _values(entries)
    for n, entry in enumerate(entries):
        assert isinstance(entry.body, Reading)
        dew, spread = table["dew_point_c"][n], table["spread_k"][n]
        found.append(
            Measured(entry, entry.body, _none(dew), bool(table["computed"][n]), _none(spread))
        )  # fmt: skip
    return tuple(found)


def _none(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _values(entries: list[Entry]) -> dict[str, FloatArray]:
    """Return what was read as arrays of shape (entries,), NaN where not read. [SI]

    The dew point is that of air and humidity (``computed`` is 1), the instrument's own elsewhere.
    """
    bodies = [e.body for e in entries]

    def read(name: str) -> FloatArray:
        return np.array([getattr(b, name) for b in bodies], dtype=np.float64)  # None is NaN

    table = {
        name: read(name)
        for name in (
            "air_temp_c", "surface_temp_c", "rel_humidity", "dew_point_c", "wind_m_s", "gust_m_s"
        )
    }  # fmt: skip
    # As `windows.field.entry_checks.computed` has it of one reading.
    humidity = table["rel_humidity"]
    humidity = np.where(humidity >= field_rules().humidity_least, humidity, np.nan)
    dew = dew_point(table["air_temp_c"], humidity)
    table["computed"] = (~np.isnan(dew)).astype(np.float64)
    table["dew_point_c"] = np.where(np.isnan(dew), table["dew_point_c"], dew)
    surface = table["surface_temp_c"]
    table["spread_k"] = surface - condensation_point(surface, table["dew_point_c"])
    return table


def _logger(entries: list[Entry], zone: ZoneInfo, *, hourly: bool) -> tuple[LoggerSpan, ...]:
    """Return the readings of loggers by section and hour, or by section and local day."""
    if not entries:
        return ()
    table = pd.DataFrame(_values(entries))
    table["section"] = [getattr(e.body, "section", "") for e in entries]
    table["number"] = [e.number for e in entries]
    at = pd.DatetimeIndex([e.at for e in entries]).tz_convert("UTC")
    table["start"] = at.floor("h") if hourly else at.tz_convert(zone).normalize()
    found = []
    for keys, rows in table.groupby(["start", "section"], sort=True):
        start, section = rows["start"].iloc[0], keys[1]
        end = start + (pd.Timedelta(hours=1) if hourly else pd.DateOffset(days=1))
        ranges = {}
        for name in LOGGER_RANGES:
            known = rows[name].dropna()
            if len(known):
                ranges[name] = (float(known.min()), float(known.max()), len(known))
        found.append(
            LoggerSpan(
                str(section), start.tz_convert("UTC"), end.tz_convert("UTC"), len(rows), ranges,
                int(rows["number"].min()), int(rows["number"].max()),
            )
        )  # fmt: skip
    return tuple(found)


def _flags(entries: list[Entry]) -> tuple[tuple[Entry, str, int], ...]:
    """Return what the checks told on entry; of a logger each text once, with how often it came."""
    found: list[tuple[Entry, str, int]] = []
    repeated: dict[str, tuple[Entry, int]] = {}
    for entry in entries:
        for text in entry.body.flags:
            if _is_logger(entry):
                first, count = repeated.get(text, (entry, 0))
                repeated[text] = (first, count + 1)
            else:
                found.append((entry, text, 1))
    found += [(first, text, count) for text, (first, count) in repeated.items()]
    return tuple(sorted(found, key=lambda each: (each[0].at, each[0].number)))


def _instruments(
    stand: list[Entry], here: list[Entry], span: tuple[datetime, datetime] | None
) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Return the last entry of each instrument that was used, and serials without an entry.

    For a whole job the instruments that nobody used are told too.
    """
    used = {name for e in here for name in getattr(e.body, "instruments", ())}
    last: dict[str, Entry] = {}
    for entry in stand:
        if isinstance(entry.body, Instrument) and (span is None or entry.at < span[1]):
            last[entry.body.serial] = entry
    known = [
        entry for serial, entry in sorted(last.items())
        if span is None or serial in used or span[0] <= entry.at
    ]  # fmt: skip
    return tuple(known), tuple(sorted(used - set(last)))


def _due(
    laid: list[Entry],
    stand: list[Entry],
    zone: ZoneInfo,
    now: pd.Timestamp,
    day: date | None,
) -> tuple[Due, ...]:
    """Return the readings that were due, of a day or of all."""
    span = None if day is None else _local_day(day, zone)
    near = laid if span is None else [e for e in laid if _overlaps(e.body, *span)]
    if not near:
        return ()
    first = min(e.at for e in near) - _NEAR
    last = max(_end(e.body) for e in near) + _NEAR
    readings = [e for e in _of(stand, Reading) if first <= e.at <= last]
    return due(laid, readings, zone=zone, now=now.to_pydatetime(), day=day)


def _totals(placements: list[Entry], system: System) -> tuple[Total, ...]:
    """Return area and volume of each layer, in the order of the system, unknown layers last."""
    found: dict[str, list[Placement]] = {}
    for entry in placements:
        body = _placement(entry)
        number = _layer_number(system, body.layer)
        name = body.layer if number is None else system.layers[number].name
        found.setdefault(name, []).append(body)
    order = [layer.name for layer in system.layers]
    order += sorted(found.keys() - set(order))
    totals = []
    for name in order:
        if name not in found:
            continue
        measured = [each for each in found[name] if each.volume_l is not None]
        volume = sum(each.volume_l or 0.0 for each in measured)
        area = sum(_coated(each, system) for each in measured)
        totals.append(
            Total(
                layer=name,
                placements=len(found[name]),
                area_m2=sum(each.area_m2 for each in found[name]),
                volume_l=volume if measured else None,
                measured=len(measured),
                measured_m2=area,
                spread_l_m2=volume / area if measured else None,
            )
        )
    return tuple(totals)


def _corrected(
    told: list[Entry], span: tuple[datetime, datetime] | None
) -> tuple[Corrected, ...]:
    """Return what was corrected or taken back; of a day, where the old, the new or the hand is."""
    by_number = {entry.number: entry for entry in told}
    found = []
    for entry in told:
        if entry.corrects is None:
            continue
        old = by_number.get(entry.corrects)
        withdrawn = isinstance(entry.body, Withdrawal)
        if span is not None:
            there = old is not None and _overlaps(old.body, *span)
            there |= not withdrawn and _overlaps(entry.body, *span)
            if not there and not span[0] <= entry.written < span[1]:
                continue
        kind = old.kind if old is not None else ("entry" if withdrawn else entry.kind)
        found.append(
            Corrected(
                entry.corrects, kind, entry.number, withdrawn, entry.author, entry.written,
                entry.body.note,
            )
        )  # fmt: skip
    return tuple(found)


# --- clocks of the layers ---------------------------------------------------------------------


def _concerns(clock: LayerClock, start: datetime, end: datetime) -> bool:
    """Tell whether a layer was laid, lay bare or was covered in a span."""
    covered = clock.covered_end
    return clock.start < end and (covered is None or covered > start)


def _clocks(
    laid: list[Entry],
    again: list[Entry],
    site: Site,
    system: System,
    job: JobFile,
    now: pd.Timestamp,
    in_weather: SystemHours | None,
) -> tuple[LayerClock, ...]:
    """Return the clocks of every laid layer, section by section, each divided as it was laid."""
    found: list[LayerClock] = []
    for section in dict.fromkeys(_placement(e).section for e in laid):
        there = [e for e in laid if _placement(e).section == section]
        own = [e for e in again if getattr(e.body, "section", "") == section]
        try:
            parts = _parts(section, there, site, system, job, now)
        except DewgapError as fault:
            found += [_unclear(e, str(fault)) for e in there]
            continue
        for name, area, records in parts:
            for n, (number, each) in enumerate(records):
                cover = records[n + 1] if n + 1 < len(records) else None
                prepared = _prepared(each, None if cover is None else cover[1].start, own, system)
                found.append(
                    _clock(
                        number, section, (name, area), each, cover, prepared, site, system, now,
                        in_weather,
                    )
                )  # fmt: skip
    return tuple(sorted(found, key=lambda c: (c.start, c.number or 0, c.piece)))


def _unclear(entry: Entry, why: str) -> LayerClock:
    """Return a placement of which it is not clear on what it lies."""
    body = _placement(entry)
    judged = Judged("", "recoat and deadlines", None, None, None, Told.UNKNOWN, False, False, "")
    return LayerClock(
        number=entry.number, section=body.section, piece=body.section, layer=body.layer,
        area_m2=body.area_m2, start=pd.Timestamp(body.at), end=pd.Timestamp(body.end),
        prepared=None, covered_by=None, covered_start=None, covered_end=None, last=False,
        judged=(judged,), why=why,
    )  # fmt: skip


def _parts(
    section: str, laid: list[Entry], site: Site, system: System, job: JobFile, now: pd.Timestamp
) -> list[tuple[str, float, list[tuple[int | None, JobRecord]]]]:
    """Return the parts of a section as the job's own planning divides them, with entry numbers.

    What the job file alone has has no number. [m2]

    Raises
    ------
    DewgapError
        If layers repeat, are skipped or overlap, or one is not of the system.
    """
    bodies = [(e.number, _placement(e)) for e in laid]
    area = {each.name: each.area for each in job.section}.get(section)
    if area is None:
        sums: dict[int, float] = {}
        for _, body in bodies:
            layer = system.number(body.layer)
            sums[layer] = sums.get(layer, 0.0) + body.area_m2
        area = max(sums.values())
    # The number of an entry rides on its start as nanoseconds, so that it comes back with the part.
    logged = [
        Laid(
            number, section, body.layer, pd.Timestamp(body.at) + pd.Timedelta(number, "ns"),
            body.end, None, body.area_m2,
        )
        for number, body in bodies
    ]  # fmt: skip
    only = JobFile.model_construct(
        section=(Section.model_construct(name=section, area=area, access_over=()),),
        placed=tuple(each for each in job.placed if each.section == section),
        logged=tuple(logged),
        where=job.where or "the log",
    )
    return [
        (part.name, part.area_m2, [_numbered(each) for each in part.laid])
        for part in pieces(only, system, site, now)
        if part.laid
    ]


def _numbered(laid: JobRecord) -> tuple[int | None, JobRecord]:
    number = laid.start.value % _SECOND_NS
    return number or None, replace(laid, start=laid.start.floor("s"))


def _prepared(
    laid: JobRecord, covered: pd.Timestamp | None, again: list[Entry], system: System
) -> pd.Timestamp | None:
    """Return when a laid layer was last prepared again before it was covered."""
    found = [
        pd.Timestamp(e.at) for e in again
        if isinstance(e.body, Preparation) and _layer_number(system, e.body.layer) == laid.layer
        and e.at >= laid.end
    ]  # fmt: skip
    if laid.prepared is not None:
        found.append(laid.prepared)
    return max((at for at in found if covered is None or at <= covered), default=None)


def _clock(
    number: int | None,
    section: str,
    part: tuple[str, float],
    laid: JobRecord,
    cover: tuple[int | None, JobRecord] | None,
    prepared: pd.Timestamp | None,
    site: Site,
    system: System,
    now: pd.Timestamp,
    in_weather: SystemHours | None,
) -> LayerClock:
    last = laid.layer + 1 == len(system.layers)
    judged: tuple[Judged, ...] = ()
    why = ""
    covered = None if cover is None else cover[1].start
    if not last:
        judged, why = _judged(laid, prepared, covered, site, system, now, in_weather)
    return LayerClock(
        number=number, section=section, piece=part[0], layer=system.layers[laid.layer].name,
        area_m2=part[1], start=laid.start, end=laid.end, prepared=prepared,
        covered_by=None if cover is None else cover[0], covered_start=covered,
        covered_end=None if cover is None else cover[1].end, last=last, judged=judged, why=why,
    )  # fmt: skip


@dataclass(frozen=True)
class _Time:
    """A time to be judged: at, and at the ends of its range; ``not_before`` bounds an unknown."""

    at: pd.Timestamp | None
    earliest: pd.Timestamp | None = None
    latest: pd.Timestamp | None = None
    at_most: pd.Timestamp | None = None
    not_before: pd.Timestamp | None = None


def _judged(
    laid: JobRecord,
    prepared: pd.Timestamp | None,
    covered: pd.Timestamp | None,
    site: Site,
    system: System,
    now: pd.Timestamp,
    in_weather: SystemHours | None,
) -> tuple[tuple[Judged, ...], str]:
    """Return opening and deadlines of a layer, judged by the start of the next; and what lacks."""
    profile, layer = system.profiles[laid.layer], system.layers[laid.layer]
    times, why = _times(laid, prepared, covered, system, in_weather)
    bare = system.must_be_covered(laid.layer)
    found = []
    if "recoat_opens" in profile.milestones:
        entry = profile.milestones["recoat_opens"]
        when = times.get("recoat_opens", _Time(None))
        told = _opened(when.at, covered, weak=is_weak(entry))
        found.append(_row("recoat_opens", MILESTONES["recoat_opens"], when, told, [entry]))
    for name in ("recoat_closes", "cover_by"):
        entries = [e for key, e in profile.deadlines.items() if key.startswith(name)]
        if entries:
            when = times.get(name, _Time(None))
            weak = any(is_weak(e) for e in entries)
            told = _kept(when, covered, now, weak=weak, bare=bare)
            found.append(_row(name, DEADLINES[name].label, when, told, entries))
    if layer.next.same_shift:
        when = _Time(_shift_end(site, laid.end if prepared is None else prepared))
        told = _kept(when, covered, now, weak=False, bare=bare)
        found.append(_row("same_shift", "next layer in the same shift", when, told, []))
    if not why and any(each.told is Told.UNKNOWN for each in found):
        why = "the weather given ends, or has hours that are not known, before it can be told"
    return tuple(found), why


def _row(name: str, label: str, when: _Time, told: Told, entries: list[Sourced]) -> Judged:
    weak = any(is_weak(e) for e in entries)
    shown = next((e for e in entries if is_weak(e)), entries[0] if entries else None)
    return Judged(
        name, label, when.at, when.earliest, when.latest, told, weak,
        any(e.low != e.high for e in entries), "" if shown is None else shown.basis,
    )  # fmt: skip


def _opened(at: pd.Timestamp | None, covered: pd.Timestamp | None, *, weak: bool) -> Told:
    """Tell whether the next layer waited until recoat was open."""
    if at is None:
        return Told.UNKNOWN
    if covered is None:
        return Told.OPEN
    if weak:
        return Told.DATA_SHEET
    return Told.MET if covered >= at else Told.MISSED


def _kept(
    when: _Time, covered: pd.Timestamp | None, now: pd.Timestamp, *, weak: bool, bare: bool
) -> Told:
    """Tell whether a layer was covered by a time; what is not known is never met.

    A weak generic figure is met only before the earliest that it may be, and never where the layer
    is spoiled if it is left bare: the data sheet decides.
    """
    moment = now if covered is None else covered
    ends = [t for t in (when.latest if weak else when.at, when.at_most) if t is not None]
    if any(moment >= end for end in ends):
        return Told.MISSED
    if covered is None:
        # Not yet over: open, if anything is known of when it will be.
        return Told.OPEN if ends and when.at is not None else Told.UNKNOWN
    if weak:
        sure = when.earliest is not None and covered < when.earliest
        known = when.at is not None or when.not_before is not None
        if sure and not bare:
            return Told.MET
        return Told.DATA_SHEET if known else Told.UNKNOWN
    if when.at is not None or (when.not_before is not None and covered <= when.not_before):
        return Told.MET
    return Told.UNKNOWN


def _times(
    laid: JobRecord,
    prepared: pd.Timestamp | None,
    covered: pd.Timestamp | None,
    system: System,
    in_weather: SystemHours | None,
) -> tuple[dict[str, _Time], str]:
    """Return opening and deadlines from the weather; without it, those of the clock alone."""
    profile = system.profiles[laid.layer]
    by_clock = _by_clock(laid, prepared, profile.deadlines)
    lacking = "no weather is given; recoat opening and doses of ultraviolet need it"
    if in_weather is None:
        return by_clock, lacking
    hours = in_weather.hours.index
    end = in_weather.time(len(hours))
    try:
        # At the end of the data no window is left to look for, and none is asked for.
        checked = check_cover(in_weather, replace(laid, prepared=prepared), end, covered=True)
    except DewgapError as fault:
        return by_clock, str(fault)
    times = {"recoat_opens": _Time(checked.opens)}
    for each in checked.deadlines:
        clock = by_clock.get(each.name, _Time(None))
        short = None
        if each.at is None and covered is not None:
            short = _dose_short(in_weather, laid.layer, prepared or laid.start, covered)
        times[each.name] = _Time(each.at, each.earliest, each.latest, clock.at_most, short)
    return times, ""


def _by_clock(
    laid: JobRecord, prepared: pd.Timestamp | None, deadlines: dict[str, Sourced]
) -> dict[str, _Time]:
    """Return the deadlines that no weather is needed for.

    With a dose of ultraviolet beside it, a cover-by of the clock is only the latest that it can be.
    """
    since = prepared or laid.start
    found = {}
    for name in ("recoat_closes", "cover_by"):
        entry = deadlines.get(name)
        if entry is None:
            continue
        value, low, high = (
            since + pd.Timedelta(hours=entry.end(which)) for which in ("value", "lo", "hi")
        )
        if f"{name}_uv_dose" in deadlines:
            found[name] = _Time(None, at_most=high if is_weak(entry) else value)
        else:
            found[name] = _Time(value, low, high)
    return found


def _dose_short(
    in_weather: SystemHours, layer: int, since: pd.Timestamp, covered: pd.Timestamp
) -> pd.Timestamp | None:
    """Return when the layer was covered, if all hours until then are known and short of its dose.

    The deadline then lies after it, though the data end before it is reached.
    """
    job = in_weather.jobs[layer]
    limit = job.coating.cover_by_dose_sed
    first, last = in_weather.moment(since), in_weather.moment(covered)
    if limit is None or first < 0 or last > len(in_weather.hours.index):
        return None
    dose = job.conditions.uv_dose_sed[int(np.floor(first)) : int(np.ceil(last))]
    return covered if float(dose.sum()) < limit else None  # a sum with NaN is not below it


def _shift_end(site: Site, moment: pd.Timestamp) -> pd.Timestamp:
    """Return the end of the shift of the hour before a moment; of its local day, out of shifts."""
    first = (moment - pd.Timedelta(seconds=1)).floor("h")
    rows = pd.date_range(first, periods=48, freq="h")
    shift = shifts(rows, site)
    same = shift == shift[0]
    if shift[0] == NO_SHIFT:
        local = rows.tz_convert(site.zone).normalize()
        same = np.asarray(local == local[0])
    return rows[int(np.flatnonzero(same)[-1])] + pd.Timedelta(hours=1)
