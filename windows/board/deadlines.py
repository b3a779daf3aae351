"""Layers that must be covered: until when, by whom that is planned, and how likely it holds."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from cure_models.coating import resolve
from windows.board.crews import LIKELY, later_cover
from windows.board.result import Danger, Deadline
from windows.cover import Verdict as CoverVerdict
from windows.cover import is_weak
from windows.decision import Verdict
from windows.planning.problem import FAR, TICKS_PER_HOUR

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from windows.board.result import Assignment, Work
    from windows.board.sites import BoardJob
    from windows.planning.problem import Choice, Task

__all__ = ["deadlines"]

_RANK = {
    Danger.OVERDUE: 0, Danger.NO_COVER: 1, Danger.NOT_KNOWN: 1, Danger.LIKELY_LOST: 1,
    Danger.WAITS: 1, Danger.NO_SPARE: 2, Danger.DATA_SHEET: 3, Danger.IN_TIME: 4,
}  # fmt: skip
"""Of dangers of one rank the earliest deadline comes first."""


def deadlines(
    jobs: Sequence[BoardJob],
    sent: Sequence[Assignment],
    crewed: Crewed,
    now: pd.Timestamp,
    until: pd.Timestamp,
) -> tuple[Deadline, ...]:
    """Return the deadlines of laid and planned layers, those in danger first, then the earliest.

    Parameters
    ----------
    jobs
        All jobs. Of one without weather, the deadlines that a clock alone tells.
    sent
        Who goes where.
    crewed
        Gives the starts of a job's task at which some crew can be there.
    now, until
        The present, and the end of the board: a later deadline of which nothing is known can wait.
    """
    planned = {
        (each.site, work.placement.piece, work.placement.layer): (
            each.crew,
            work,
            _against(each, work),
        )
        for each in sent
        for work in each.works
    }
    found = [
        each
        for job in jobs
        for each in (
            _by_clock(job, planned, now)
            if job.built is None
            else (*_laid(job, planned, crewed, now), *_planned(job, planned, crewed))
        )
    ]
    return tuple(sorted(found, key=lambda each: _order(each, until)))


def _order(each: Deadline, until: pd.Timestamp) -> tuple[int, pd.Timestamp, str, str]:
    """Return what deadlines are sorted by: those that are near and open first."""
    soon = each.due is None or each.due <= until
    if each.danger is Danger.NOT_KNOWN and not soon:
        rank = _RANK[Danger.DATA_SHEET]
    else:
        rank = _RANK[each.danger]
    due = pd.Timestamp.max.tz_localize("UTC") if each.due is None else each.due
    return rank, due, each.site, each.piece


_Planned = dict[tuple[str, str, int], tuple[str, "Work", bool]]
Crewed = Callable[["BoardJob", "Task"], "tuple[Choice, ...]"]


def _against(each: Assignment, work: Work) -> bool:
    """Tell whether go or wait is against a piece of work, or stops before it is done."""
    decision = each.decision
    if decision is None or decision.verdict is Verdict.NOT_KNOWN:
        return False
    return decision.stop_at is None or decision.stop_at < work.placement.end


def _tick(job: BoardJob, when: pd.Timestamp) -> float:
    assert job.in_weather is not None
    return job.in_weather.moment(when) * TICKS_PER_HOUR


def _laid(
    job: BoardJob, planned: _Planned, crewed: Crewed, now: pd.Timestamp
) -> Iterator[Deadline]:
    """Yield the deadlines of layers that lie on the roof."""
    assert job.system is not None
    assert job.in_weather is not None
    for piece in job.pieces:
        cover = (job.covers or {}).get(piece.name)
        if cover is None or not cover.deadlines:
            continue
        layer = job.system.layers[cover.layer]
        crew, work, against = planned.get(
            (job.key, piece.name, cover.layer + 1), (None, None, False)
        )
        if cover.verdict is CoverVerdict.OVERDUE or (cover.due is not None and cover.due <= now):
            danger = Danger.OVERDUE
        elif work is None:
            known = cover.due is not None and cover.due <= cover.data_end
            danger = Danger.NO_COVER if known else Danger.NOT_KNOWN
        else:
            due = FAR if cover.due is None else _tick(job, cover.due)
            spare = _spare(crewed, job, piece.name, work, due)
            firm = all(each.firm for each in cover.deadlines)
            danger = _danger(work, against=against, spare=spare, firm=firm)
        yield _told(
            job.key, piece.name, layer.name, cover.due, crew, work, danger, laid=True
        )


def _by_clock(job: BoardJob, planned: _Planned, now: pd.Timestamp) -> Iterator[Deadline]:
    """Yield the deadlines of laid layers on a site whose weather is not there."""
    if job.system is None:
        return
    for piece in job.pieces:
        if not piece.laid or piece.next_layer >= len(job.system.layers):
            continue
        record = piece.laid[-1]
        coating = resolve(job.system.profiles[record.layer], method=job.site.method)
        if not coating.deadlines_h and coating.cover_by_dose_sed is None:
            continue
        since = record.start if record.prepared is None else record.prepared
        clocks = [since.floor("h") + pd.Timedelta(hours=h) for h in coating.deadlines_h.values()]
        due = min(clocks, default=None)
        crew, work, _ = planned.get(
            (job.key, piece.name, record.layer + 1), (None, None, False)
        )
        name = job.system.layers[record.layer].name
        danger = Danger.OVERDUE if due is not None and due <= now else Danger.NOT_KNOWN
        yield _told(job.key, piece.name, name, due, crew, work, danger, laid=True)


def _planned(job: BoardJob, planned: _Planned, crewed: Crewed) -> Iterator[Deadline]:
    """Yield the deadlines that planned layers will have."""
    assert job.system is not None
    for (site, piece, layer), (_, work, _) in planned.items():
        due = work.placement.due
        if site != job.key or layer + 1 >= len(job.system.layers):
            continue
        if due is None and not job.system.must_be_covered(layer):
            continue
        crew, cover, against = planned.get((site, piece, layer + 1), (None, None, False))
        if cover is None:
            danger = Danger.NOT_KNOWN
        else:
            weak = any(is_weak(e) for e in job.system.profiles[layer].deadlines.values())
            together = job.system.layers[layer].next.same_shift
            spare = together or due is None or _spare(crewed, job, piece, cover, _tick(job, due))
            danger = _danger(cover, against=against, spare=spare, firm=not weak)
        name = work.placement.layer_name
        yield _told(site, piece, name, due, crew, cover, danger, laid=False)


def _told(
    site: str,
    piece: str,
    layer_name: str,
    due: pd.Timestamp | None,
    crew: str | None,
    cover: Work | None,
    danger: Danger,
    *,
    laid: bool,
) -> Deadline:
    """Return a deadline with the work that covers the layer, if any is planned."""
    return Deadline(
        site=site,
        piece=piece,
        layer_name=layer_name,
        laid=laid,
        due=due,
        cover=None if cover is None else cover.placement.start,
        crew=crew,
        chance=None if cover is None else cover.chance,
        danger=danger,
    )


def _danger(work: Work, *, against: bool, spare: bool, firm: bool) -> Danger:
    """Return how a deadline stands whose cover is planned; one that is weak is never in time."""
    chance = work.chance
    if chance.estimate is None and chance.low < LIKELY <= chance.high:
        return Danger.NOT_KNOWN
    if chance.careful < LIKELY:
        return Danger.LIKELY_LOST
    if against:
        return Danger.WAITS
    if not spare:
        return Danger.NO_SPARE
    return Danger.IN_TIME if firm else Danger.DATA_SHEET


def _spare(sent: Crewed, job: BoardJob, piece: str, work: Work, due: float) -> bool:
    """Tell whether a later day than the planned one would be in time, and some crew can come."""
    assert job.built is not None
    for task, each in zip(job.built.problem.tasks, job.built.pieces, strict=True):
        if each.name == piece:
            choice = sent(job, task)[work.placement.layer - task.first]
            return later_cover(choice, job, work.placement, due)
    return False
