"""The pieces of a job: its sections, divided where only a part was laid, with what lies on each.

What the job file and the field log tell of the same work, to the minute, is the log's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import ceil
from typing import TYPE_CHECKING

from cure_models.units import from_si
from windows.errors import DewgapError, SiteError, did_you_mean
from windows.fields import local_moment

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from cure_models.system import System
    from windows.job_file import JobFile, Placed, Section
    from windows.log.laid import Laid
    from windows.site import Site

__all__ = [
    "WHOLE", "LaidRecord", "Piece", "equal_pieces", "is_same_work", "one_record", "pieces",
    "waiting",
]  # fmt: skip

_MOST_PIECES = 400
WHOLE = 0.995
"""An area of so much of another is all of it: figures from the roof are rounded. [fraction]"""
_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class LaidRecord:
    """A layer that is laid on a piece: its number from 0, and when. UTC.

    Deadlines count from ``start``, or from ``prepared`` where it has been prepared again. ``entry``
    is the number of the log's entry that tells of it, None where the job file does.
    """

    layer: int
    start: pd.Timestamp
    end: pd.Timestamp
    prepared: pd.Timestamp | None = None
    entry: int | None = None


@dataclass(frozen=True)
class Piece:
    """A section, or the part of one, with clocks of its own. [m2]"""

    name: str
    section: str
    area_m2: float
    access_over: tuple[str, ...]
    laid: tuple[LaidRecord, ...]

    @property
    def next_layer(self) -> int:
        """Number, from 0, of the first layer that is not laid."""
        return len(self.laid)


def waiting(parts: Iterable[Piece], system: System) -> list[Piece]:
    """Return the pieces with a laid layer that waits for its next one."""
    return [each for each in parts if each.laid and each.next_layer < len(system.layers)]


def pieces(job: JobFile, system: System, site: Site, now: pd.Timestamp) -> tuple[Piece, ...]:
    """Return the pieces of a job: its sections, divided where only a part was laid.

    A placement that the file and the log both have, to the minute, is the log's: it counts once,
    and not at all where it was corrected or withdrawn there.

    Raises
    ------
    SiteError
        If a placement ends before it starts, lies in the future, repeats or skips a layer, names
        a section that the file has not, or if two overlap on one section.
    """
    where = job.where or "job.toml"
    names = [section.name for section in job.section]
    for told in job.logged:
        if told.stands and told.section not in names:
            raise SiteError(
                f"{where}: entry {told.number} of the log has '{told.layer}' laid on section "
                f"'{told.section}', which the file has not; add it, or correct the entry "
                f"({did_you_mean(told.section, names)})"
            )
    found: list[Piece] = []
    for section in job.section:
        here = [told for told in job.logged if told.section == section.name]
        gone = [told for told in here if not told.stands]
        logged = [
            _told(
                told, _part_of(section, told.area_m2),
                f"{where}: entry {told.number} of the log, section '{told.section}'",
                system, site, now, told.number,
            )
            for told in here
            if told.stands
        ]  # fmt: skip
        placed = [
            _told(
                told, told.area,
                f"{where}: section '{told.section}', layer '{told.layer}'", system, site, now,
            )
            for told in job.placed
            if told.section == section.name
        ]  # fmt: skip
        once = [
            told
            for told in placed
            if not any(_was(told.record, log, system) for log in gone)
            and not any(_twice(told, log, section.area) for log in logged)
        ]
        laid = sorted(logged + once, key=lambda told: (told.record.layer, told.record.start))
        found += _divide(section, laid, system)
    return tuple(found)


@dataclass(frozen=True)
class _Told:
    """A record, its area (None: all that is ready), and where it is told.

    The areas of a log are rounded.
    """

    record: LaidRecord
    area: float | None
    where: str


def is_same_work(
    system: System,
    layer: int,
    hours: tuple[datetime, datetime],
    told_layer: str,
    told_hours: tuple[datetime, datetime],
) -> bool:
    """Tell whether a placement is the work that another file tells of on the same section.

    It is if layer, start and end are the same, the times to the minute. A layer that the system
    has not is none of it.
    """
    try:
        told_number = system.number(told_layer)
    except DewgapError:
        return False
    return told_number == layer and _same_hours(hours, told_hours)


def _same_hours(one: tuple[datetime, datetime], other: tuple[datetime, datetime]) -> bool:
    return all(abs(a - b) < _MINUTE for a, b in zip(one, other, strict=True))


def _part_of(section: Section, area_m2: float) -> float | None:
    """Return an area of the log, None where it is nearly the whole section's, or more. [m2]"""
    return None if area_m2 >= WHOLE * section.area else area_m2


def _was(placed: LaidRecord, gone: Laid, system: System) -> bool:
    """Tell whether the log had the same work, and has it no more."""
    return is_same_work(
        system, placed.layer, (placed.start, placed.end), gone.layer, (gone.start, gone.end)
    )


def _twice(placed: _Told, logged: _Told, area_m2: float) -> bool:
    """Tell whether file and log tell of the same work.

    Raises
    ------
    SiteError
        If both tell of a layer at the same time, with other hours, and not of two parts.
    """
    one, other = placed.record, logged.record
    if one.layer != other.layer:
        return False
    if _same_hours((one.start, one.end), (other.start, other.end)):
        return True
    parts = (placed.area or area_m2) + (logged.area or area_m2)
    if one.start < other.end and other.start < one.end and WHOLE * parts > area_m2:
        raise SiteError(
            f"{placed.where}: entry {other.entry} of the log tells of the same work with other "
            "hours; delete the one in the job file, or correct the entry"
        )
    return False


def _told(
    placed: Placed | Laid,
    area: float | None,
    where: str,
    system: System,
    site: Site,
    now: pd.Timestamp,
    entry: int | None = None,
) -> _Told:
    """Return a placement of job file or log, checked; a fault of it begins with ``where``."""
    times = (placed.start, placed.end, placed.prepared)
    try:
        start, end, prepared = (None if t is None else local_moment(t, site.zone) for t in times)
    except ValueError as fault:
        raise SiteError(f"{where}: {fault}") from None
    assert start is not None  # both kinds of placement have it
    assert end is not None
    try:
        record = one_record(system.number(placed.layer), start, end, prepared, now, site)
    except DewgapError as fault:
        raise SiteError(f"{where}: {fault}") from None
    return _Told(replace(record, entry=entry), area, where)


def one_record(
    layer: int,
    start: pd.Timestamp,
    end: pd.Timestamp,
    prepared: pd.Timestamp | None,
    now: pd.Timestamp,
    site: Site,
) -> LaidRecord:
    """Return a placement, checked.

    Raises
    ------
    SiteError
        If it ends before it starts, lies in the future, or was prepared before it was laid.
    """

    def clock(when: pd.Timestamp) -> str:
        return f"{when.tz_convert(site.zone):%Y-%m-%d %H:%M}"

    if end <= start:
        raise SiteError(
            f"a placement from {clock(start)} to {clock(end)} ends before it starts; mend the times"
        )
    latest, what = (end, "ends") if prepared is None else (prepared, "was prepared again")
    if latest < end:
        raise SiteError(
            f"it was prepared again at {clock(latest)}, before its laying ended at {clock(end)}; "
            "mend the times"
        )
    if latest > now:
        raise SiteError(
            f"the placement {what} at {clock(latest)}, which is in the future (now is "
            f"{clock(now)}); record only what is done, or give --now"
        )
    return LaidRecord(layer, start, end, prepared)


_Parts = list[tuple[float, tuple[LaidRecord, ...]]]
"""The area of each part of a section, and what is laid on it from the lowest layer. [m2]"""


def _divide(section: Section, laid: list[_Told], system: System) -> list[Piece]:
    """Return the parts of a section: a partial placement cuts off a piece with its own clock."""
    parts: _Parts = [(section.area, ())]
    for each in laid:
        ready = _ready_for(each, parts, system)
        left = _area_on(each, [parts[n][0] for n in ready], system)
        # First the part of that size, so that it is recoated as it was laid; then those that hold
        # it; what covers several is cut off the last of them.
        ready.sort(key=lambda n: (abs(parts[n][0] - left) > 1e-6, parts[n][0] < left - 1e-6, n))
        cut: list[tuple[int, float]] = []
        for n in ready:
            size, done = parts[n]
            if left <= 1e-6 * section.area:
                break
            parts[n] = (min(left, size), (*done, each.record))
            if size - left > 1e-6 * size:
                cut.append((n, size - left))
            left -= parts[n][0]
        for n, rest in cut:
            parts.insert(n + 1, (rest, parts[n][1][:-1]))
    if len(parts) == 1:
        return [Piece(section.name, section.name, section.area, section.access_over, parts[0][1])]
    return [
        Piece(f"{section.name} part {n}", section.name, size, section.access_over, done)
        for n, (size, done) in enumerate(parts, start=1)
    ]


def _ready_for(each: _Told, parts: _Parts, system: System) -> list[int]:
    """Return the parts that were ready for a placement: just the layers below it, all finished.

    Raises
    ------
    SiteError
        If there is none.
    """
    record, told = each.record, each.where
    name = system.layers[record.layer].name
    below = [n for n, (_, done) in enumerate(parts) if len(done) == record.layer]
    ready = [n for n in below if all(under.end <= record.start for under in parts[n][1])]
    if ready:
        return ready
    if below:
        under = system.layers[record.layer - 1].name
        raise SiteError(
            f"{told}: layer '{name}' starts before '{under}' below it ends; two placements "
            "overlap, mend the times"
        )
    already = any(len(done) > record.layer for _, done in parts)
    why = "is laid there already" if already else "comes before the layer below it is recorded"
    raise SiteError(f"{told}: layer '{name}' {why}; mend the placements")


def _area_on(each: _Told, ready: list[float], system: System) -> float:
    """Return the area of a placement on parts of some areas that are ready for it. [m2]

    Raises
    ------
    SiteError
        If it is larger than they are.
    """
    there = sum(ready)
    left = there if each.area is None else each.area
    if each.record.entry is not None:
        left = _as_one_of(left, [there, *ready])
    if left > there * (1 + 1e-6):
        name = system.layers[each.record.layer].name
        raise SiteError(
            f"{each.where}: layer '{name}' covers {_area(left)}, but what is ready for it has "
            f"{_area(there)}; mend the area"
        )
    return left


def _as_one_of(area_m2: float, sizes: list[float]) -> float:
    """Return the first of some sizes that an area, rounded on the roof, may stand for."""
    near = (size for size in sizes if abs(area_m2 - size) <= (1 - WHOLE) * size)
    return next(near, area_m2)


def _area(area_m2: float) -> str:
    return f"{from_si(area_m2, 'ft2'):,.1f} ft2"


def equal_pieces(area_m2: float, most_m2: float) -> tuple[Piece, ...]:
    """Return a roof without sections in equal pieces of at most ``most_m2``. [m2]

    Raises
    ------
    SiteError
        If these would be hundreds.
    """
    count = ceil(area_m2 / most_m2 - 1e-9)
    if count > _MOST_PIECES:
        raise SiteError(
            f"at this crew's pace the roof has {count} parts of the shortest window; give a faster "
            "rate (crew.rates), or sections of your own"
        )
    width = len(str(count))
    return tuple(
        Piece(f"S{n:0{width}d}", f"S{n:0{width}d}", area_m2 / count, (), ())
        for n in range(1, count + 1)
    )
