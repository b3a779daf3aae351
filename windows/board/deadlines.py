"""Layers that must be covered: until when, by whom that is planned, and how likely it holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from windows.board.result import Danger, Deadline
from windows.planning.problem import FAR
from windows.recoat import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from windows.board.result import Assignment, Work
    from windows.board.sites import BoardJob

__all__ = ["deadlines"]

_LIKELY = 0.5
_ORDER = {danger: n for n, danger in enumerate(Danger)}


def deadlines(
    jobs: Sequence[BoardJob], sent: Sequence[Assignment], now: pd.Timestamp
) -> tuple[Deadline, ...]:
    """Return the deadlines of laid and planned layers, those in danger first, then the earliest.

    Parameters
    ----------
    jobs
        Jobs that can be planned.
    sent
        Who goes where.
    now
        The present.
    """
    planned = {
        (each.site, work.placement.piece, work.placement.layer): (each.crew, work)
        for each in sent
        for work in each.works
    }
    found = [
        each
        for job in jobs
        for each in (*_laid(job, planned, now), *_planned(job, planned))
    ]
    far = pd.Timestamp.max.tz_localize("UTC")
    return tuple(
        sorted(found, key=lambda d: (_ORDER[d.danger], far if d.due is None else d.due, d.site))
    )


_Planned = dict[tuple[str, str, int], tuple[str, "Work"]]


def _laid(job: BoardJob, planned: _Planned, now: pd.Timestamp) -> Iterator[Deadline]:
    """Yield the deadlines of layers that lie on the roof."""
    assert job.system is not None
    assert job.in_weather is not None
    for piece in job.pieces:
        cover = (job.covers or {}).get(piece.name)
        if cover is None or not cover.deadlines:
            continue
        layer = job.system.layers[cover.layer]
        crew, work = planned.get((job.key, piece.name, cover.layer + 1), (None, None))
        if cover.verdict is Verdict.OVERDUE or (cover.due is not None and cover.due <= now):
            danger = Danger.OVERDUE
        elif work is None:
            known = cover.due is not None and cover.due <= cover.data_end
            danger = Danger.NO_COVER if known else Danger.NOT_KNOWN
        else:
            danger = _danger(work, spare=_laid_spare(job, piece.name, work))
        yield Deadline(
            site=job.key,
            piece=piece.name,
            layer_name=layer.name,
            laid=True,
            due=cover.due,
            cover=None if work is None else work.placement.start,
            crew=crew,
            chance=None if work is None else work.chance,
            danger=danger,
        )


def _planned(job: BoardJob, planned: _Planned) -> Iterator[Deadline]:
    """Yield the deadlines that planned layers will have."""
    assert job.system is not None
    for (site, piece, layer), (_, work) in planned.items():
        due = work.placement.due
        if site != job.key or layer + 1 >= len(job.system.layers):
            continue
        if due is None and not job.system.must_be_covered(layer):
            continue
        crew, cover = planned.get((site, piece, layer + 1), (None, None))
        if cover is None:
            danger = Danger.NOT_KNOWN
        else:
            danger = _danger(cover, spare=work.placement.spare is not False)
        yield Deadline(
            site=site,
            piece=piece,
            layer_name=work.placement.layer_name,
            laid=False,
            due=due,
            cover=None if cover is None else cover.placement.start,
            crew=crew,
            chance=None if cover is None else cover.chance,
            danger=danger,
        )


def _danger(work: Work, *, spare: bool) -> Danger:
    chance = work.chance
    if chance.estimate is None and chance.low < _LIKELY <= chance.high:
        return Danger.NOT_KNOWN
    if chance.careful < _LIKELY:
        return Danger.LIKELY_LOST
    return Danger.IN_TIME if spare else Danger.NO_SPARE


def _laid_spare(job: BoardJob, piece: str, work: Work) -> bool:
    """Tell whether another shift after the planned one would be in time for a laid layer."""
    assert job.built is not None
    for task, each in zip(job.built.problem.tasks, job.built.pieces, strict=True):
        if each.name != piece:
            continue
        choice = task.choices[0]
        due = FAR if task.due_now is None else task.due_now
        later = [n for n, day in enumerate(job.built.shift_days) if day > work.placement.shift]
        return any(
            shift in later and end <= due
            for shift, end in zip(choice.shift.tolist(), choice.hour_end.tolist(), strict=True)
        )
    return False
