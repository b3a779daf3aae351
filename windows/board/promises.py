"""What an earlier board promised: what of it still binds, and what has become of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, floor
from typing import TYPE_CHECKING

import pandas as pd

from windows.board.result import Fault, MovedVisit
from windows.replan import hours_now

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from windows.board.company import Company
    from windows.board.promise import Promise
    from windows.board.result import Assignment, Work
    from windows.board.sites import BoardJob
    from windows.plan import Placement

__all__ = ["Kept", "kept_promises", "moved"]

_YESTERDAY = pd.Timedelta(days=2)
"""Work that ended longer ago is not asked for any more."""


@dataclass(frozen=True)
class Kept:
    """Promises that bind, faults among them, and where each crew was last, by its number.

    ``promised`` is the crew and the day of the board by job, task and layer of the dispatch;
    ``under_way`` is what has begun and not ended: it is left alone.
    """

    promises: tuple[Promise, ...] = ()
    promised: dict[tuple[int, int, int], tuple[int, int]] = field(default_factory=dict)
    stations: dict[int, int] = field(default_factory=dict)
    under_way: tuple[Promise, ...] = ()
    faults: tuple[Fault, ...] = ()

    def holds(self, site: str, placement: Placement, crew: str) -> bool:
        """Tell whether a placement is as it was promised: by this crew, on this day."""
        return any(
            (p.site, p.piece, p.layer, p.crew, p.day)
            == (site, placement.piece, placement.layer, crew, placement.shift)
            for p in self.promises
        )


def kept_promises(
    promises: Sequence[Promise],
    company: Company,
    jobs: Sequence[BoardJob],
    days: Sequence[date],
    now: pd.Timestamp,
) -> Kept:
    """Return what of an earlier board still binds.

    What has begun goes on; what has ended is laid if the job says so, else it is planned again and
    named. What lies further ahead than the company promises was an outlook. Of two promises of one
    crew that overlap, or that name two sites on one day, neither can be told to be the right one:
    the one that begins first stands, and both are named.
    """
    until = now + pd.Timedelta(hours=company.board.promise)
    crews = {crew.name: n for n, crew in enumerate(company.crew)}
    places = {job.key: n for n, job in enumerate(jobs)}
    day_number = {day: n for n, day in enumerate(days)}
    stations: dict[int, int] = {}
    binding: list[Promise] = []
    under_way: list[Promise] = []
    faults: list[Fault] = []
    for each in sorted(promises, key=lambda p: p.start):
        crew = crews.get(each.crew)
        if each.start < now:
            place = places.get(each.site)
            if crew is not None and place is not None:
                stations[crew] = place
            if place is not None and _open(jobs[place], each):
                if each.end > now:
                    under_way.append(each)
                elif each.end > now - _YESTERDAY:
                    faults.append(Fault(each.site, _unrecorded(each, jobs[place])))
            continue
        if each.start >= until:
            continue
        clash = next((p for p in binding if _clash(p, each)), None)
        if clash is not None:
            faults.append(Fault(each.crew, _overlap(clash, each)))
            continue
        binding.append(each)
    promised = {}
    for each in binding:
        crew, place = crews.get(each.crew), places.get(each.site)
        if crew is None or place is None or each.day not in day_number:
            continue
        built = jobs[place].built
        assert built is not None
        for task, piece in enumerate(built.pieces):
            layer = each.layer - piece.next_layer
            if piece.name == each.piece and 0 <= layer < len(built.problem.tasks[task].choices):
                promised[place, task, layer] = crew, day_number[each.day]
    return Kept(tuple(binding), promised, stations, tuple(under_way), tuple(faults))


def _open(job: BoardJob, promise: Promise) -> bool:
    """Tell whether a job still waits for what was promised."""
    return any(
        piece.name == promise.piece and piece.next_layer == promise.layer for piece in job.pieces
    )


def _unrecorded(each: Promise, job: BoardJob) -> str:
    start, end = (t.tz_convert(job.site.zone) for t in (each.start, each.end))
    return (
        f"'{each.layer_name}' on {each.piece} was to be laid by {each.crew}, "
        f"{start:%Y-%m-%d %H:%M} to {end:%H:%M}, and is not recorded: it is planned again; if it "
        "is laid, record it under [[placed]] of its job.toml"
    )


def _clash(one: Promise, other: Promise) -> bool:
    """Tell whether two promises cannot both be kept by a crew, or by a piece."""
    overlap = one.start < other.end and other.start < one.end
    same_crew = one.crew == other.crew and (overlap or (one.day == other.day
                                                        and one.site != other.site))  # fmt: skip
    same_work = (one.site, one.piece, one.layer) == (other.site, other.piece, other.layer)
    return same_crew or same_work or (one.site == other.site and overlap)


def _overlap(one: Promise, other: Promise) -> str:
    def told(each: Promise) -> str:
        return (
            f"{each.crew}: '{each.layer_name}' on {each.piece} of {each.site}, "
            f"{each.start:%Y-%m-%d %H:%M} to {each.end:%H:%M} UTC"
        )

    return (
        f"two promises cannot both be kept ({told(one)}; {told(other)}); the first is kept, the "
        "second is planned anew: tell both sites, or delete the earlier board file to begin anew"
    )


def moved(
    kept: Kept,
    jobs: Sequence[BoardJob],
    sent: Sequence[Assignment],
    company: Company,
) -> tuple[MovedVisit, ...]:
    """Return the promises that do not stand, with the reason."""
    by_key = {job.key: n for n, job in enumerate(jobs)}
    found = []
    for promise in kept.promises:
        place = by_key.get(promise.site)
        new = _now(promise, sent)
        if new is not None and new[0] == promise.crew and new[1].placement.shift == promise.day:
            continue
        was = f"{promise.crew}, {promise.day:%a} {promise.day:%b} {promise.day.day}"
        is_now = "nobody"
        if new is not None:
            day = new[1].placement.shift
            is_now = f"{new[0]}, {day:%a} {day:%b} {day.day}"
        why = (
            "the site cannot be planned now"
            if place is None
            else _why(promise, jobs[place], company)
        )
        found.append(
            MovedVisit(promise.site, promise.piece, promise.layer_name, was, is_now, why)
        )
    return tuple(found)


def _now(promise: Promise, sent: Sequence[Assignment]) -> tuple[str, Work] | None:
    return next(
        (
            (each.crew, work)
            for each in sent
            for work in each.works
            if (each.site, work.placement.piece, work.placement.layer)
            == (promise.site, promise.piece, promise.layer)
        ),
        None,
    )


def _why(promise: Promise, job: BoardJob, company: Company) -> str:
    """Return why a promise does not stand."""
    assert job.in_weather is not None
    assert job.built is not None
    if promise.crew not in {crew.name for crew in company.crew}:
        return f"there is no crew '{promise.crew}' any more"
    piece = next((p for p in job.pieces if p.name == promise.piece), None)
    if piece is None:
        return "the job has no such section any more"
    if piece.next_layer > promise.layer:
        return "it is laid"
    told = hours_now(job.in_weather, promise.layer, promise.start, promise.end)
    if told:
        return told
    first, after = floor(job.in_weather.moment(promise.start)), ceil(
        job.in_weather.moment(promise.end)
    )
    chance = job.odds[promise.layer].chance(first, after)
    return (
        f"what takes its place gains more than {company.costs.promise:g}, the price of a promise; "
        f"its old hours hold with {chance.careful:.0%}"
    )

