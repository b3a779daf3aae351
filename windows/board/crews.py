"""Where and when each crew can lay: skills, equipment, days off, its own hours and the drive."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.dispatch import DispatchCrew
from windows.fields import WEEKDAYS
from windows.planning.problem import TICKS_PER_HOUR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from windows.board.company import Company, CrewFile
    from windows.board.promise import Promise
    from windows.board.sites import BoardJob
    from windows.plan import Placement
    from windows.planning.problem import Choice, Task

__all__ = ["LIKELY", "Reach", "board_crew", "crewed", "day_off", "lacks", "later_cover", "reach"]

_THOUSANDTHS = 1000
LIKELY = 0.5
"""A chance from which on work is likelier to hold than to be lost."""


@dataclass(frozen=True)
class Reach:
    """When a crew can lay on a site, by its shifts. [ticks]

    ``last`` is not after ``first`` where it cannot come.
    """

    first: NDArray[np.int64]
    last: NDArray[np.int64]


def day_off(crew: CrewFile, day: date) -> bool:
    """Tell whether a crew does not work on a day, by its own rules."""
    works = crew.work_days is None or WEEKDAYS[day.weekday()] in crew.work_days
    return not works or day in crew.days_off


def lacks(crew: CrewFile, job: BoardJob) -> tuple[str, ...]:
    """Return the equipment that a job needs and a crew does not bring."""
    assert job.job is not None
    return tuple(each for each in job.job.needs if each not in crew.equipment)


def reach(
    company: Company, crew: CrewFile, job: BoardJob, under_way: Sequence[Promise] = ()
) -> Reach:
    """Return when a crew can lay on a site that can be planned, set-up and clean-up left out.

    A crew that is at work stays on its site that day, and goes on when that work has ended; no
    other comes there.
    """
    assert job.built is not None
    assert job.job is not None
    first, last = job.built.shifts.first.copy(), job.built.shifts.last.copy()
    gone = bool(lacks(crew, job))
    drive = timedelta(hours=company.drive_h(crew, job.site))
    gone |= drive > timedelta(hours=company.drive.most)
    set_up, clean_up = (timedelta(hours=h) for h in (job.job.crew.set_up, job.job.crew.clean_up))
    for number, day in enumerate(job.built.shift_days):
        busy = [
            each for each in under_way
            if each.day == day and (each.crew == crew.name or each.site == job.key)
        ]  # fmt: skip
        elsewhere = any((each.crew, each.site) != (crew.name, job.key) for each in busy)
        if gone or day_off(crew, day) or elsewhere:
            last[number] = first[number]
            continue
        for each in busy:
            free = each.end + timedelta(hours=job.job.crew.move)
            first[number] = max(first[number], ceil(_ticks(free, job)))
        if crew.start is None or crew.end is None:
            last[number] = max(first[number], last[number])
            continue
        begin = _on_clock(day, crew.start, job) + drive + set_up
        end_day = day if crew.end > crew.start else day + timedelta(days=1)
        end = _on_clock(end_day, crew.end, job) - drive - clean_up
        first[number] = max(first[number], ceil(_ticks(begin, job)))
        last[number] = max(first[number], min(last[number], floor(_ticks(end, job))))
    return Reach(first, last)


def crewed(
    company: Company, crews: Sequence[DispatchCrew], number: int, job: BoardJob, task: Task
) -> tuple[Choice, ...]:
    """Return the starts of each layer of a task at which some crew can be there for it.

    ``crews`` are those of the dispatch, in which the job has this number.
    """
    assert job.system is not None
    found = []
    for n, choice in enumerate(task.choices):
        comes = np.zeros(choice.start.shape, dtype=bool)
        for crew, one in zip(company.crew, crews, strict=True):
            if crew.may_lay(job.system.profiles[task.first + n].family):
                comes |= one.reaches(number, choice)
        found.append(choice.keep(comes))
    return tuple(found)


def later_cover(choice: Choice, job: BoardJob, planned: Placement, due: float) -> bool:
    """Tell whether a layer could as well be laid on a later day than planned, in time. [tick]

    As well: likelier than not to hold.
    """
    assert job.built is not None
    later = [n for n, day in enumerate(job.built.shift_days) if day > planned.shift]
    choice = choice.keep(np.isin(choice.shift, later) & (choice.hour_end <= due))
    if not choice.start.size:
        return False
    chance = job.odds[planned.layer].of(*choice.rows).careful
    return bool((chance >= LIKELY).any())


def _on_clock(day: date, clock: object, job: BoardJob) -> pd.Timestamp:
    local = pd.Timestamp(f"{day} {clock}").tz_localize(
        job.site.zone, nonexistent="shift_forward", ambiguous=True
    )
    return local.tz_convert("UTC")


def _ticks(when: pd.Timestamp, job: BoardJob) -> float:
    assert job.in_weather is not None
    return round(job.in_weather.moment(when) * TICKS_PER_HOUR, 6)


def board_crew(
    company: Company,
    crew: CrewFile,
    jobs: Sequence[BoardJob],
    reached: Sequence[Reach],
    station: int | None,
) -> DispatchCrew:
    """Return a crew as the dispatch plans it; ``reached`` is its reach of each job."""
    may, visit = [], []
    for job in jobs:
        assert job.system is not None
        may.append(tuple(crew.may_lay(profile.family) for profile in job.system.profiles))
        hours = 2 * company.drive_h(crew, job.site)
        visit.append(round(hours * company.costs.drive_hour * _THOUSANDTHS))
    return DispatchCrew(
        first=tuple(each.first for each in reached),
        last=tuple(each.last for each in reached),
        may=tuple(may),
        visit=tuple(visit),
        station=station,
    )
