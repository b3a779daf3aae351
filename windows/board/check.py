"""The check of a board: every rule of crews and sites read again from what the board says.

Nothing is shared with what sends crews: drives, days, skills and hours are worked out here a second
time, in plain loops. A job's own plan is checked by `windows.validator`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import asin, cos, isclose, radians, sin, sqrt
from typing import TYPE_CHECKING

import pandas as pd

from windows.board.result import Danger, SiteState
from windows.decision import Verdict
from windows.fields import WEEKDAYS
from windows.odds.chance import Method

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date, time
    from zoneinfo import ZoneInfo

    from windows.board.company import Company, CrewFile
    from windows.board.promise import Promise
    from windows.board.result import Assignment, Board, DayStrip, Work
    from windows.board.sites import BoardJob
    from windows.odds.chance import Chance

__all__ = ["check_board", "check_roads"]

_EARTH_KM = 6371.0
"""Radius of the sphere that drives are measured on. [km]"""
_TIE = timedelta(seconds=1)
"""Drives are no whole minutes; clocks may differ by so much."""
_TIE_H = 1e-6
_TIE_SHARE = 1e-6
"""Areas and chances may differ by so much."""


def check_board(
    board: Board,
    company: Company,
    jobs: Sequence[BoardJob],
    promises: Sequence[Promise] = (),
) -> tuple[str, ...]:
    """Check a finished board against every rule of crews and sites.

    Parameters
    ----------
    board
        What is to be shown.
    company
        Crews, yards and drives.
    jobs
        The sites that were read, those that cannot be planned among them or not.
    promises
        What an earlier board promised.

    Returns
    -------
    tuple of str
        A sentence for each rule that is broken; none if the board is sound.
    """
    return tuple(dict.fromkeys(_Check(board, company, jobs, promises).run()))


def check_roads(board: Board) -> tuple[str, ...]:
    """Return where a crew would have to be on its next site before it can have driven there.

    A crew without hours of its own drives outside of its sites' hours: what lies between two days
    is looked at here, not by what sends crews.
    """
    found = []
    for name in dict.fromkeys(each.crew for each in board.assignments):
        mine = [each for each in board.assignments if each.crew == name]
        for one, other in pairwise(sorted(mine, key=lambda each: each.arrive)):
            way = timedelta(hours=0 if one.site == other.site else one.drive_h + other.drive_h)
            if one.leave + way > other.arrive + _TIE:
                found.append(
                    f"{name} cannot come from {one.site} ({one.day}) to {other.site} "
                    f"({other.day}) in time; give it hours of its own in board.toml, or let it stay"
                )
    return tuple(found)


@dataclass(frozen=True)
class _Check:
    """One check of a board."""

    board: Board
    company: Company
    jobs: Sequence[BoardJob]
    promises: Sequence[Promise]

    def run(self) -> Iterator[str]:
        """Yield what is wrong."""
        yield from self._places()
        for each in self.board.assignments:
            told = f"{each.crew} on {each.site}, {each.day}"
            crew = next((c for c in self.company.crew if c.name == each.crew), None)
            job = next((j for j in self.jobs if j.key == each.site), None)
            if crew is None:
                yield f"{told}: there is no such crew"
            elif not each.works:
                yield f"{told}: nothing is to be laid"
            elif job is None or job.built is None or job.job is None:
                if not self._held(each):
                    yield f"{told}: the site cannot be planned"
            else:
                for fault in self._assignment(each, crew, job):
                    yield f"{told}: {fault}"
        yield from self._layers()
        yield from self._promises()
        yield from self._told()

    def _assignment(self, each: Assignment, crew: CrewFile, job: BoardJob) -> Iterator[str]:
        if self._under_way(each):  # nobody decides any more about what has begun
            return
        yield from self._able(each, crew, job)
        yield from self._day(each, crew)
        yield from self._hours(each, crew, job)
        for work in each.works:
            place = f"'{work.placement.layer_name}' on {work.placement.piece}"
            yield from (f"{place} {fault}" for fault in _sound_chance(work.chance))
            for strip in self.board.site(each.site).strips:
                if strip.day == each.day and strip.layer_name == work.placement.layer_name:
                    yield from (f"{place} {fault}" for fault in _blocked(strip, work))

    def _held(self, each: Assignment) -> bool:
        """Tell whether work of which nothing is known stands as it was promised, and as unknown."""
        promised = [(p.crew, p.site, p.piece, p.layer, p.start, p.end) for p in self.promises]
        unknown = each.decision is None or each.decision.verdict is Verdict.NOT_KNOWN
        return unknown and all(
            (each.crew, each.site, p.piece, p.layer, p.start, p.end) in promised
            and work.chance.method is Method.UNKNOWN
            for work in each.works
            for p in [work.placement]
        )

    def _under_way(self, each: Assignment) -> bool:
        """Tell whether an assignment is work that was promised so, has begun and not ended."""
        now = self.board.now
        begun = [
            (p.crew, p.site, p.piece, p.layer, p.start, p.end)
            for p in self.promises
            if p.start < now < p.end
        ]
        return all(
            (each.crew, each.site, p.piece, p.layer, p.start, p.end) in begun
            for p in (work.placement for work in each.works)
        )

    def _places(self) -> Iterator[str]:
        """Check that a crew is on one site a day, and a site has one crew a day.

        A crew at work goes on where it is: what has begun is told apart from what follows.
        """
        sites: dict[tuple[str, date], str] = {}
        crews: dict[tuple[str, date], str] = {}
        for each in sorted(self.board.assignments, key=self._under_way):
            begun = self._under_way(each)
            for place, key, other, what in (
                (sites, (each.crew, each.day), each.site, "is sent to"),
                (crews, (each.site, each.day), each.crew, "is given to"),
            ):
                if key in place and not (begun and place[key] == other):
                    yield f"{key[0]} {what} {place[key]} and {other} on {key[1]}; one is right"
                place[key] = other

    def _able(self, each: Assignment, crew: CrewFile, job: BoardJob) -> Iterator[str]:
        """Check skills and equipment."""
        assert job.job is not None
        assert job.system is not None
        for work in each.works:
            family = job.system.profiles[work.placement.layer].family
            if crew.skills is not None and family not in crew.skills:
                yield f"the crew may not lay {family} ('{work.placement.layer_name}')"
        for thing in job.job.needs:
            if thing not in crew.equipment:
                yield f"the job needs '{thing}', which the crew does not bring"

    def _day(self, each: Assignment, crew: CrewFile) -> Iterator[str]:
        """Check that the crew works on the day, and that it is on the board."""
        weekday = WEEKDAYS[each.day.weekday()]
        if each.day not in self.board.days:
            yield "the day is not on the board"
        if each.day in crew.days_off:
            yield "it is a day off of the crew"
        if crew.work_days is not None and weekday not in crew.work_days:
            yield f"the crew does not work on {weekday}"

    def _hours(self, each: Assignment, crew: CrewFile, job: BoardJob) -> Iterator[str]:
        """Check work, set-up, clean-up and drive against the hours of crew and site."""
        assert job.job is not None
        set_up = timedelta(hours=job.job.crew.set_up)
        clean_up = timedelta(hours=job.job.crew.clean_up)
        for work in each.works:
            placed = work.placement
            if placed.start < self.board.now:
                yield f"'{placed.layer_name}' on {placed.piece} begins before now"
            if placed.end <= placed.start:
                yield f"'{placed.layer_name}' on {placed.piece} ends before it begins"
            if placed.shift != each.day:
                yield f"'{placed.layer_name}' on {placed.piece} is of the shift of {placed.shift}"
            if placed.start < each.arrive + set_up - _TIE:
                yield "work begins before the crew has arrived and set up"
            if placed.end + clean_up > each.leave + _TIE:
                yield "the crew leaves before it has laid all and cleaned up"
        for one, other in pairwise(each.works):
            if other.placement.start < one.placement.end:
                yield "two works overlap, or are not in order"
        drive = self._drive_h(crew, job)
        if not isclose(each.drive_h, drive, abs_tol=_TIE_H, rel_tol=_TIE_SHARE):
            yield f"the drive is told as {each.drive_h:.2f} h and takes {drive:.2f} h"
        zone, hours = job.site.zone, job.site.crew
        if hours.is_day_off(each.day):
            yield "nobody works on the site that day"
        yield from (
            f"{fault} by the site's hours"
            for fault in _outside(each.arrive, each.leave, each.day, hours.start, hours.end, zone)
        )
        if crew.start is not None and crew.end is not None:
            way = timedelta(hours=drive)
            yield from (
                f"{fault} by the crew's own hours, drive included"
                for fault in _outside(
                    each.arrive - way, each.leave + way, each.day, crew.start, crew.end, zone
                )
            )

    def _drive_h(self, crew: CrewFile, job: BoardJob) -> float:
        """Return the drive one way, from the coordinates; 0 where no yard is told. [h]"""
        yard = self.company.yard if crew.yard is None else crew.yard
        if yard is None:
            return 0.0
        north, east, to_north, to_east = map(
            radians, (yard.latitude, yard.longitude, job.site.latitude, job.site.longitude)
        )
        half = (
            sin((to_north - north) / 2) ** 2
            + cos(north) * cos(to_north) * sin((to_east - east) / 2) ** 2
        )
        metres = 2 * _EARTH_KM * 1000 * asin(sqrt(half))
        return metres * self.company.drive.detour / self.company.drive.speed / 3600

    def _layers(self) -> Iterator[str]:
        """Check that each layer is laid, planned once, or left undone with a reason."""
        sent = [(each.site, work.placement) for each in self.board.assignments
                for work in each.works]  # fmt: skip
        left = [(each.site, each.piece, each.layer) for each in self.board.undone]
        for job in self.jobs:
            if job.built is None or job.system is None:
                continue
            for piece in job.pieces:
                for layer in range(len(job.system.layers)):
                    told = f"{job.key}, {piece.name}, layer {layer + 1}"
                    placed = [p for site, p in sent if (site, p.piece, p.layer)
                              == (job.key, piece.name, layer)]  # fmt: skip
                    count = len(placed) + left.count((job.key, piece.name, layer))
                    if layer < piece.next_layer and count:
                        yield f"{told}: it is laid, and is told as planned or undone"
                    if layer >= piece.next_layer and count != 1:
                        yield (
                            f"{told}: it must be planned or told as undone once, and is {count} "
                            "times"
                        )
                    for each in placed:
                        area, whole = each.area_m2, piece.area_m2
                        if not isclose(area, whole, rel_tol=_TIE_SHARE):
                            yield f"{told}: {area:.0f} m2 are planned of {whole:.0f} m2"
                        if each.coating != job.system.profiles[layer].name:
                            yield f"{told}: it is told as {each.coating}"
        known = {(job.key, piece.name) for job in self.jobs for piece in job.pieces}
        sure = {job.key for job in self.jobs if job.pieces}  # of others the job cannot be read
        for site, each in sent:
            if site in sure and (site, each.piece) not in known:
                yield f"{site}: there is no piece '{each.piece}'"

    def _promises(self) -> Iterator[str]:
        """Check that what is called promised was promised."""
        until = self.board.now + timedelta(hours=self.company.board.promise)
        due = {
            (p.crew, p.site, p.piece, p.layer, p.day)
            for p in self.promises
            if self.board.now < p.end and p.start < until
        }
        for each in self.board.assignments:
            for work in each.works:
                placed = work.placement
                key = (each.crew, each.site, placed.piece, placed.layer, each.day)
                if work.promised and key not in due:
                    yield (
                        f"{each.crew} on {each.site}, {each.day}: '{placed.layer_name}' on "
                        f"{placed.piece} is called promised and was not"
                    )

    def _told(self) -> Iterator[str]:
        """Check sums, states of sites and deadlines against the assignments."""
        board = self.board
        works = [(each, work) for each in board.assignments for work in each.works]
        area = sum(work.placement.area_m2 for _, work in works)
        hold = sum(work.placement.area_m2 * work.chance.careful for _, work in works)
        for name, given, right in (
            ("area", board.area_m2, area), ("expected area", board.expected_m2, hold),
        ):  # fmt: skip
            if not isclose(given, right, rel_tol=_TIE_SHARE, abs_tol=_TIE_SHARE):
                yield f"the {name} is told as {given:.1f} m2 and is {right:.1f} m2"
        ready = {job.key for job in self.jobs if job.built is not None}
        busy = {each.site for each in board.assignments if each.site in ready}
        for site in board.sites:
            if (site.state is SiteState.PLANNED) != (site.key in busy):
                yield f"{site.key}: is told as '{site.state.value}', and that is not so"
        for row in board.crews:
            days = {each.day for each in board.assignments if each.crew == row.name}
            for day in board.days:
                if (day in row.idle) == (day in days):
                    yield f"{row.name}: {day} must be told as work or as idle, one of the two"
        for each in board.deadlines:
            if each.cover is not None and not any(
                (sent.site, sent.crew, work.placement.piece, work.placement.start)
                == (each.site, each.crew, each.piece, each.cover)
                for sent, work in works
            ):
                yield f"{each.site}, {each.piece}: the cover that is told is not planned"
            if each.danger is Danger.OVERDUE and each.cover is not None:
                yield f"{each.site}, {each.piece}: a layer is planned over one that is overdue"


def _outside(
    begin: pd.Timestamp,
    end: pd.Timestamp,
    day: date,
    opens: time,
    closes: time,
    zone: ZoneInfo,
) -> Iterator[str]:
    """Yield whether a time begins before, or ends after, the hours of a day by a site's clock.

    Hours that end at or before their start go past midnight.
    """
    begins = begin.tz_convert(zone).tz_localize(None)
    if begins < datetime.combine(day, opens) - _TIE:
        yield f"{begins:%H:%M} is too early"
    last_day = day + timedelta(days=int(closes <= opens))
    if end > pd.Timestamp(datetime.combine(last_day, closes, tzinfo=zone)) + _TIE:
        yield f"{end.tz_convert(zone):%H:%M} is too late"


def _sound_chance(chance: Chance) -> Iterator[str]:
    """Yield what is wrong with a chance: fractions in order, and nothing made of the unknown."""
    low, high = chance.low, chance.high
    guess = low if chance.estimate is None else chance.estimate
    if not 0 <= low <= guess <= high <= 1:
        yield f"has a chance of {guess:g} between {low:g} and {high:g}"
    if chance.method is Method.UNKNOWN and (low, chance.estimate, high) != (0, None, 1):
        yield "has a chance, and is told as not known"


def _blocked(strip: DayStrip, work: Work) -> Iterator[str]:
    """Yield the first hour of a work that the strip does not show as good."""
    at = work.placement.start.floor("h")
    shown = {hour.start: hour for hour in strip.hours}
    while at < work.placement.end:
        hour = shown.get(at)
        if hour is not None and (hour.state != "ok" or not hour.crew):
            why = ", ".join(hour.why) or "no crew may be there"
            yield f"is laid at {at:%H:%M} UTC, which is told as {hour.state} ({why})"
            return
        at += pd.Timedelta(hours=1)
