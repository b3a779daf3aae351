"""What an earlier board promised: what of it still binds, and what has become of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.crews import day_off, lacks, reach
from windows.board.result import Fault, MovedVisit
from windows.board.sites import keeping
from windows.replan import hours_now

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from windows.board.company import Company, CrewFile
    from windows.board.promise import Promise
    from windows.board.result import Assignment, Work
    from windows.board.sites import BoardJob
    from windows.plan import Placement
    from windows.planning.problem import Choice

__all__ = ["Kept", "kept_promises", "moved", "without_work"]

_YESTERDAY = pd.Timedelta(days=2)
"""Work that ended longer ago is not asked for any more."""


@dataclass(frozen=True)
class Kept:
    """Promises that bind, faults among them, and where each crew was last, by its number.

    ``promised`` is the crew and the day of the board by job, task and layer of the dispatch;
    ``under_way`` is what has begun and not ended: it is left alone. ``held`` is what was promised
    on sites of which nothing can be told now: unknown is not called off, and the crew stays free.
    ``earlier`` is all that the earlier board had ahead, promised or not, where it can be planned.
    """

    promises: tuple[Promise, ...] = ()
    promised: dict[tuple[int, int, int], tuple[int, int]] = field(default_factory=dict)
    stations: dict[int, int] = field(default_factory=dict)
    under_way: tuple[Promise, ...] = ()
    held: tuple[Promise, ...] = ()
    earlier: tuple[Promise, ...] = ()
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
    unknown: Collection[str],
    days: Sequence[date],
    now: pd.Timestamp,
) -> Kept:
    """Return what of an earlier board still binds.

    What has begun goes on; what has ended is laid if the job says so, else it is planned again and
    named. What lies further ahead than the company promises was an outlook. Of two promises of one
    crew that overlap, or that name two sites on one day, neither can be told to be the right one:
    the one that begins first stands, and both are named.

    Parameters
    ----------
    promises, company
        Of the earlier board; crews and rules.
    jobs, unknown
        Jobs that can be planned; keys of sites of which nothing can be told now.
    days, now
        Of the board.
    """
    begun = [each for each in promises if each.start < now]
    places = {job.key: n for n, job in enumerate(jobs)}
    crews = {crew.name: n for n, crew in enumerate(company.crew)}
    binding, faults = _without_clashes(promises, company, now)
    faults += [
        Fault(each.site, _unrecorded(each, jobs[places[each.site]]))
        for each in begun
        if now - _YESTERDAY < each.end <= now
        and each.site in places
        and _open(jobs[places[each.site]], each)
    ]
    under_way = [
        each
        for each in begun
        if each.end > now
        and each.crew in crews
        and (each.site in unknown or (each.site in places and _open(jobs[places[each.site]], each)))
    ]
    stations = {
        crews[each.crew]: places[each.site]
        for each in sorted(begun, key=lambda p: p.start)
        if each.crew in crews and each.site in places
    }
    held = [each for each in binding if each.site in unknown and each.crew in crews]
    binding = [each for each in binding if each not in held]
    return Kept(
        tuple(binding), _promised(binding, crews, jobs, places, days), stations,
        tuple(under_way), tuple(held),
        tuple(p for p in promises if p.start >= now and p.crew in crews and p.site in places),
        tuple(faults),
    )  # fmt: skip


def _without_clashes(
    promises: Sequence[Promise], company: Company, now: pd.Timestamp
) -> tuple[list[Promise], list[Fault]]:
    """Return the promises that are still ahead and bind, the later of two that clash left out."""
    until = now + pd.Timedelta(hours=company.board.promise)
    binding: list[Promise] = []
    faults: list[Fault] = []
    for each in sorted(promises, key=lambda p: p.start):
        if not now <= each.start < until:
            continue
        clash = next((p for p in binding if _clash(p, each)), None)
        if clash is None:
            binding.append(each)
        else:
            faults.append(Fault(each.crew, _overlap(clash, each)))
    return binding, faults


def _promised(
    binding: Sequence[Promise],
    crews: dict[str, int],
    jobs: Sequence[BoardJob],
    places: dict[str, int],
    days: Sequence[date],
) -> dict[tuple[int, int, int], tuple[int, int]]:
    """Return crew and day of the board by job, task and layer of the dispatch."""
    number = {day: n for n, day in enumerate(days)}
    found = {}
    for each in binding:
        crew, place = crews.get(each.crew), places.get(each.site)
        if crew is None or place is None or each.day not in number:
            continue
        built = jobs[place].built
        assert built is not None
        for task, piece in enumerate(built.pieces):
            layer = each.layer - piece.next_layer
            if piece.name == each.piece and 0 <= layer < len(built.problem.tasks[task].choices):
                found[place, task, layer] = crew, number[each.day]
    return found


def without_work(job: BoardJob, under_way: Sequence[Promise]) -> BoardJob:
    """Return a job without starts on the pieces on which a crew is at work."""
    assert job.built is not None
    at_work = {each.piece for each in under_way if each.site == job.key}
    if not at_work:
        return job
    idle = [piece.name not in at_work for piece in job.built.pieces]
    return replace(
        job, built=keeping(job.built, lambda n, _, c: np.full(c.start.shape, idle[n]))
    )


def _open(job: BoardJob, promise: Promise) -> bool:
    """Tell whether a job still waits for what was promised."""
    assert job.system is not None
    return promise.layer < len(job.system.layers) and any(
        piece.name == promise.piece and piece.next_layer == promise.layer for piece in job.pieces
    )


def _unrecorded(each: Promise, job: BoardJob) -> str:
    start, end = (t.tz_convert(job.site.zone) for t in (each.start, each.end))
    return (
        f"'{each.layer_name}' on {each.piece} was to be laid by {each.crew}, "
        f"{start:%Y-%m-%d %H:%M} to {end:%H:%M}, and is not recorded: it is planned again; if it "
        "is laid, record it: dewgap log place"
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
    """Return why a promise does not stand: the crew, the roof, the hours, else the gain."""
    assert job.in_weather is not None
    assert job.built is not None
    assert job.system is not None
    crew = next((each for each in company.crew if each.name == promise.crew), None)
    if crew is None:
        return f"there is no crew '{promise.crew}' in board.toml now"
    piece = next((each for each in job.pieces if each.name == promise.piece), None)
    if piece is None:
        return "the job has no such section any more"
    if piece.next_layer > promise.layer:
        return "it is laid"
    if promise.layer >= len(job.system.layers):
        return "the system has no such layer any more"
    told = hours_now(job.in_weather, promise.layer, promise.start, promise.end)
    if told:
        return told
    if piece.name not in {each.name for each in job.built.pieces}:
        return "the layer below it is overdue"
    return _crew_cannot(promise, crew, job) or _plan_cannot(promise, crew, job, company)


def _crew_cannot(promise: Promise, crew: CrewFile, job: BoardJob) -> str:
    """Return why the crew may not, nothing where it may."""
    assert job.system is not None
    family = job.system.profiles[promise.layer].family
    if day_off(crew, promise.day):
        return "it is a day off of the crew"
    if lacks(crew, job):
        return f"the crew does not bring {', '.join(lacks(crew, job))}"
    return "" if crew.may_lay(family) else f"the crew may not lay {family}"


def _plan_cannot(promise: Promise, crew: CrewFile, job: BoardJob, company: Company) -> str:
    """Return what keeps a promise from the plan: hours, the drive, the odds, or a better one."""
    assert job.in_weather is not None
    assert job.built is not None
    choice = _choice(promise, job)
    if choice is None or not choice.start.size:
        return "no hours are left for it with the layers below and above it"
    hours = reach(company, crew, job)
    fits = (hours.first[choice.shift] <= choice.start) & (
        choice.start + choice.length <= hours.last[choice.shift]
    )
    days = np.array([job.built.shift_days[shift] == promise.day for shift in choice.shift.tolist()])
    if not days.any():
        return "no hours of that day are left for it with the layers below and above it"
    if not (fits & days).any():
        return "the crew's own hours and its drive do not reach it any more"
    rows = job.in_weather.rows(promise.start, promise.end)
    chance = job.odds[promise.layer].chance(*rows).careful
    costs = company.costs
    if costs.laid_1000ft2 < costs.lost_1000ft2 * (1 - chance):
        return f"the odds are against it now: its old hours hold with {chance:.0%}"
    return (
        f"what is planned in its place gains more than {costs.promise:g}, the price of a promise; "
        f"its old hours hold with {chance:.0%}"
    )


def _choice(promise: Promise, job: BoardJob) -> Choice | None:
    """Return the starts that a promised layer has now."""
    assert job.built is not None
    for task, piece in zip(job.built.problem.tasks, job.built.pieces, strict=True):
        layer = promise.layer - task.first
        if piece.name == promise.piece and 0 <= layer < len(task.choices):
            return task.choices[layer]
    return None
