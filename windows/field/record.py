"""The application record of a day or a whole job: what a log says was done, and what it was like.

What stands is shown, with the number of its entry; what was corrected or withdrawn is listed beside
it. A film is never averaged. A deadline whose time is not known is never said to be met.
"""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import pandas as pd

from windows.field.beside import CORRECTED
from windows.field.choose import (
    ended,
    is_logger,
    layer_number,
    local_day,
    of_kind,
    overlaps,
    placement_of,
)
from windows.field.due import due
from windows.field.record_clocks import concerns, if_lost, laid_clocks
from windows.field.record_readings import logger_spans, measured
from windows.field.record_result import Chain, Corrected, LaidLayer, Record, Total
from windows.field.wet_film import check_wet_film
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

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime
    from zoneinfo import ZoneInfo

    from cure_models.system import System
    from windows.field.due import Due
    from windows.hours import HourlyTable
    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.log.entries import Entry
    from windows.site import Site

__all__ = ["record"]

_NEAR = timedelta(days=1)
"""Readings this far around the placements of a day are asked whether they meet what is due."""


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
    all_standing = standing(told)
    lost = of_kind(all_standing, Repair)
    stand = [e for e in all_standing if not isinstance(e.body, Opening | Repair)]
    span = None if day is None else local_day(day, zone)
    here = stand if span is None else [e for e in stand if overlaps(e.body, *span)]
    laid, again = of_kind(stand, Placement), of_kind(stand, Preparation)
    instruments, unknown = _instruments(stand, here, span)
    corrected = _corrected(told, span)
    clocks = laid_clocks(laid, again, site, system, job, present, in_weather)
    if lost:
        clocks = tuple(if_lost(clock) for clock in clocks)
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
        until=max((pd.Timestamp(ended(e.body)) for e in dated), default=None),
        empty=not dated and not corrected,
        entries=head[0],
        head=head[1],
        weather=() if in_weather is None else _told_of(in_weather.hours),
        chain=_chain(told, head),
        opening=next((e for e in told if isinstance(e.body, Opening)), None),
        placements=tuple(_laid(e, laid, again, system) for e in of_kind(here, Placement)),
        readings=measured([e for e in of_kind(here, Reading) if not is_logger(e)]),
        logger=logger_spans([e for e in here if is_logger(e)], zone, hourly=day is not None),
        rain=tuple(of_kind(here, Rain)),
        moisture=tuple(of_kind(here, Moisture)),
        adhesion=tuple(of_kind(here, Adhesion)),
        dry_film=tuple(of_kind(here, DryFilm)),
        covers=tuple(of_kind(here, Covering)),
        preparations=tuple(of_kind(here, Preparation)),
        notes=tuple(e for e in here if e.body.note),
        flags=_flags(here),
        photos=tuple(e for e in here if e.body.photos),
        instruments=instruments,
        unknown_instruments=unknown,
        due=_due(laid, stand, zone, present, day),
        clocks=tuple(c for c in clocks if span is None or concerns(c, *span)),
        totals=_totals(of_kind(here, Placement), system),
        corrected=corrected,
        repairs=tuple(e for e in told if isinstance(e.body, Repair)),
    )



def _told_of(hours: HourlyTable) -> tuple[str, ...]:
    """Return the source of the weather, and how readings have corrected it."""
    notes = (*hours.provenance.notes, *hours.warnings)
    return (hours.provenance.describe(), *(n for n in notes if n.startswith(CORRECTED)))

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


def _coated(body: Placement, system: System) -> float:
    """Return the area that the material lies on: of strips their share of it in plan. [m2]"""
    layer = layer_number(system, body.layer)
    return body.area_m2 * (1.0 if layer is None else system.layers[layer].area_share)


def _laid(entry: Entry, laid: list[Entry], again: list[Entry], system: System) -> LaidLayer:
    """Return a placement with its coat below, its preparation and its wet film."""
    body = placement_of(entry)
    layer = layer_number(system, body.layer)
    below = None
    if layer:
        under = [
            e for e in laid
            if placement_of(e).section == body.section and ended(e.body) <= body.at
            and layer_number(system, placement_of(e).layer) == layer - 1
        ]  # fmt: skip
        below = max(under, key=lambda e: (ended(e.body), e.number), default=None)
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
        since_below_h=None if below is None else _hours(ended(below.body), body.at),
        since_prepared_h=_hours(max(prepared), body.at) if prepared else None,
    )


def _hours(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(hours=1)


def _flags(entries: list[Entry]) -> tuple[tuple[Entry, str, int], ...]:
    """Return what the checks told on entry; of a logger each text once, with how often it came."""
    found: list[tuple[Entry, str, int]] = []
    repeated: dict[str, tuple[Entry, int]] = {}
    for entry in entries:
        for text in entry.body.flags:
            if is_logger(entry):
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
    span = None if day is None else local_day(day, zone)
    near = laid if span is None else [e for e in laid if overlaps(e.body, *span)]
    if not near:
        return ()
    first = min(e.at for e in near) - _NEAR
    last = max(ended(e.body) for e in near) + _NEAR
    readings = [e for e in of_kind(stand, Reading) if first <= e.at <= last]
    return due(laid, readings, zone=zone, now=now.to_pydatetime(), day=day)


def _totals(placements: list[Entry], system: System) -> tuple[Total, ...]:
    """Return area and volume of each layer, in the order of the system, unknown layers last."""
    found: dict[str, list[Placement]] = {}
    for entry in placements:
        body = placement_of(entry)
        number = layer_number(system, body.layer)
        name = body.layer if number is None else system.layers[number].name
        found.setdefault(name, []).append(body)
    order = [layer.name for layer in system.layers]
    order += sorted(found.keys() - set(order))
    totals = []
    for name in order:
        if name not in found:
            continue
        known = [each for each in found[name] if each.volume_l is not None]
        volume = sum(each.volume_l or 0.0 for each in known)
        area = sum(_coated(each, system) for each in known)
        totals.append(
            Total(
                layer=name,
                placements=len(found[name]),
                area_m2=sum(each.area_m2 for each in found[name]),
                volume_l=volume if known else None,
                measured=len(known),
                spread_l_m2=volume / area if known else None,
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
            there = old is not None and overlaps(old.body, *span)
            there |= not withdrawn and overlaps(entry.body, *span)
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
