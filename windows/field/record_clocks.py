"""The clocks of the layers that were laid: what lies where, and by what it was covered when."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

from windows.errors import DewgapError
from windows.field.choose import layer_number, placement_of
from windows.field.parts import parts
from windows.field.record_deadlines import judge
from windows.field.record_result import Judged, LayerClock, Told
from windows.log.entries import Preparation
from windows.log.laid import last_prepared

if TYPE_CHECKING:
    from datetime import datetime

    from cure_models.system import System
    from windows.field.parts import Part
    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.log.entries import Entry
    from windows.pieces import LaidRecord
    from windows.site import Site

__all__ = ["concerns", "if_lost", "laid_clocks"]


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
    areas = {each.name: each.area for each in job.section}
    for section in dict.fromkeys(placement_of(e).section for e in laid):
        there = [e for e in laid if placement_of(e).section == section]
        own = [e for e in again if getattr(e.body, "section", "") == section]
        try:
            divided = parts(
                section, areas.get(section), [(e.number, placement_of(e)) for e in there],
                site=site, system=system, now=now, where=job.where or "the log",
                placed=[each for each in job.placed if each.section == section],
                gone=[e for e in job.logged if e.section == section and not e.stands],
            )  # fmt: skip
        except DewgapError as fault:
            found += [_unclear(e, str(fault)) for e in there]
            continue
        for part in divided:
            for n, each in enumerate(part.laid):
                cover = part.laid[n + 1] if n + 1 < len(part.laid) else None
                prepared = _prepared(each, None if cover is None else cover.start, own, system)
                found.append(
                    _clock(section, part, each, cover, prepared, site, system, now, in_weather)
                )
    return tuple(sorted(found, key=lambda c: (c.start, c.number or 0, c.piece)))


def if_lost(clock: LayerClock) -> LayerClock:
    """Return a clock as it is if entries were lost: with them what covers it, or took it back."""
    judged = tuple(replace(each, told=Told.UNKNOWN) for each in clock.judged)
    return replace(clock, judged=judged, why="entries of the log were, or may have been, lost")


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


def _prepared(
    laid: LaidRecord, covered: pd.Timestamp | None, again: list[Entry], system: System
) -> pd.Timestamp | None:
    """Return when a laid layer was last prepared again before it was covered."""
    found = [
        pd.Timestamp(e.at) for e in again
        if isinstance(e.body, Preparation) and layer_number(system, e.body.layer) == laid.layer
    ]  # fmt: skip
    if laid.prepared is not None:
        found.append(laid.prepared)
    at = last_prepared(found, laid.end, covered)
    return None if at is None else pd.Timestamp(at)


def _clock(
    section: str,
    part: Part,
    laid: LaidRecord,
    cover: LaidRecord | None,
    prepared: pd.Timestamp | None,
    site: Site,
    system: System,
    now: pd.Timestamp,
    in_weather: SystemHours | None,
) -> LayerClock:
    last = laid.layer + 1 == len(system.layers)
    judged: tuple[Judged, ...] = ()
    why = ""
    if not last:
        judged, why = judge(laid, prepared, cover, site, system, now, in_weather)
    return LayerClock(
        number=laid.entry, section=section, piece=part.name, layer=system.layers[laid.layer].name,
        area_m2=part.area_m2, start=laid.start, end=laid.end, prepared=prepared,
        covered_by=None if cover is None else cover.entry,
        covered_start=None if cover is None else cover.start,
        covered_end=None if cover is None else cover.end, last=last, judged=judged, why=why,
    )  # fmt: skip
