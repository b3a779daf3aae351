"""The clocks of the layers that were laid: what lies where, and by what it was covered when."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

from windows.errors import DewgapError
from windows.field.choose import layer_number, placement_of
from windows.field.record_deadlines import judge
from windows.field.record_result import Judged, LayerClock, Told
from windows.job_file import JobFile, Section, pieces
from windows.log.entries import Preparation
from windows.log.laid import Laid

if TYPE_CHECKING:
    from datetime import datetime

    from cure_models.system import System
    from windows.job_file import Record
    from windows.layers import SystemHours
    from windows.log.entries import Entry
    from windows.site import Site

__all__ = ["concerns", "laid_clocks"]

_SECOND_NS = 10**9


def concerns(clock: LayerClock, start: datetime, end: datetime) -> bool:
    """Tell whether a layer was laid, lay bare or was covered in a span."""
    covered = clock.covered_end
    return clock.start < end and (covered is None or covered > start)


def laid_clocks(
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
    for section in dict.fromkeys(placement_of(e).section for e in laid):
        there = [e for e in laid if placement_of(e).section == section]
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
    body = placement_of(entry)
    judged = Judged("", "recoat and deadlines", None, None, None, Told.UNKNOWN, False, False, "")
    return LayerClock(
        number=entry.number, section=body.section, piece=body.section, layer=body.layer,
        area_m2=body.area_m2, start=pd.Timestamp(body.at), end=pd.Timestamp(body.end),
        prepared=None, covered_by=None, covered_start=None, covered_end=None, last=False,
        judged=(judged,), why=why,
    )  # fmt: skip


def _parts(
    section: str, laid: list[Entry], site: Site, system: System, job: JobFile, now: pd.Timestamp
) -> list[tuple[str, float, list[tuple[int | None, Record]]]]:
    """Return the parts of a section as the job's own planning divides them, with entry numbers.

    What the job file alone has has no number. [m2]

    Raises
    ------
    DewgapError
        If layers repeat, are skipped or overlap, or one is not of the system.
    """
    bodies = [(e.number, placement_of(e)) for e in laid]
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


def _numbered(laid: Record) -> tuple[int | None, Record]:
    number = laid.start.value % _SECOND_NS
    return number or None, replace(laid, start=laid.start.floor("s"))


def _prepared(
    laid: Record, covered: pd.Timestamp | None, again: list[Entry], system: System
) -> pd.Timestamp | None:
    """Return when a laid layer was last prepared again before it was covered."""
    found = [
        pd.Timestamp(e.at) for e in again
        if isinstance(e.body, Preparation) and layer_number(system, e.body.layer) == laid.layer
        and e.at >= laid.end
    ]  # fmt: skip
    if laid.prepared is not None:
        found.append(laid.prepared)
    return max((at for at in found if covered is None or at <= covered), default=None)


def _clock(
    number: int | None,
    section: str,
    part: tuple[str, float],
    laid: Record,
    cover: tuple[int | None, Record] | None,
    prepared: pd.Timestamp | None,
    site: Site,
    system: System,
    now: pd.Timestamp,
    in_weather: SystemHours | None,
) -> LayerClock:
    last = laid.layer + 1 == len(system.layers)
    judged: tuple[Judged, ...] = ()
    why = ""
    over = None if cover is None else cover[1]
    if not last:
        judged, why = judge(laid, prepared, over, site, system, now, in_weather)
    return LayerClock(
        number=number, section=section, piece=part[0], layer=system.layers[laid.layer].name,
        area_m2=part[1], start=laid.start, end=laid.end, prepared=prepared,
        covered_by=None if cover is None else cover[0],
        covered_start=None if over is None else over.start,
        covered_end=None if over is None else over.end, last=last, judged=judged, why=why,
    )  # fmt: skip
