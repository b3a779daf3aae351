"""Whether laid layers waited for recoat, and were covered in time.

A time that is not known is never said to be met.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.limits import DEADLINES, MILESTONES
from windows.cover import is_weak
from windows.crew import shift_end
from windows.errors import DewgapError
from windows.field.record_result import Judged, Told
from windows.recoat import check_cover

if TYPE_CHECKING:
    from cure_models.sourced import Sourced
    from cure_models.system import System
    from windows.layers import SystemHours
    from windows.pieces import LaidRecord
    from windows.site import Site

__all__ = ["judge"]


@dataclass(frozen=True)
class _Time:
    """A time to be judged: at, and at the ends of its range; ``not_before`` bounds an unknown."""

    at: pd.Timestamp | None
    earliest: pd.Timestamp | None = None
    latest: pd.Timestamp | None = None
    at_most: pd.Timestamp | None = None
    not_before: pd.Timestamp | None = None


def judge(
    laid: LaidRecord,
    prepared: pd.Timestamp | None,
    cover: LaidRecord | None,
    site: Site,
    system: System,
    now: pd.Timestamp,
    in_weather: SystemHours | None,
) -> tuple[tuple[Judged, ...], str]:
    """Return opening and deadlines of a layer, and what lacks to know them.

    The opening is judged by the start of the next layer, deadlines by its end: the last of it had
    to be down by then.
    """
    profile, layer = system.profiles[laid.layer], system.layers[laid.layer]
    begun, covered = (None, None) if cover is None else (cover.start, cover.end)
    times, why = _times(laid, prepared, covered, system, in_weather)
    bare = system.must_be_covered(laid.layer)
    found = []
    if "recoat_opens" in profile.milestones:
        entry = profile.milestones["recoat_opens"]
        when = times.get("recoat_opens", _Time(None))
        told = _opened(when.at, begun, weak=is_weak(entry))
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


def _opened(at: pd.Timestamp | None, begun: pd.Timestamp | None, *, weak: bool) -> Told:
    """Tell whether the next layer waited until recoat was open."""
    if at is None:
        return Told.UNKNOWN
    if begun is None:
        return Told.OPEN
    if weak:
        return Told.DATA_SHEET
    return Told.MET if begun >= at else Told.MISSED


def _kept(
    when: _Time, covered: pd.Timestamp | None, now: pd.Timestamp, *, weak: bool, bare: bool
) -> Told:
    """Tell whether a layer was covered by a time; what is not known is never met.

    A weak generic figure is met only before the earliest that it may be, and never where the layer
    is spoiled if it is left bare: the data sheet decides.
    """
    ends = [t for t in (when.latest if weak else when.at, when.at_most) if t is not None]
    if any(now >= end if covered is None else covered > end for end in ends):
        return Told.MISSED
    if covered is None:
        # Not yet over: open, if anything is known of when it will be.
        return Told.OPEN if ends and when.at is not None else Told.UNKNOWN
    if weak:
        sure = when.earliest is not None and covered <= when.earliest
        known = when.at is not None or when.not_before is not None
        if sure and not bare:
            return Told.MET
        return Told.DATA_SHEET if known else Told.UNKNOWN
    if when.at is not None or (when.not_before is not None and covered <= when.not_before):
        return Told.MET
    return Told.UNKNOWN


def _times(
    laid: LaidRecord,
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
    laid: LaidRecord, prepared: pd.Timestamp | None, deadlines: dict[str, Sourced]
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
    return rows[shift_end(rows, site, 0) - 1] + pd.Timedelta(hours=1)
