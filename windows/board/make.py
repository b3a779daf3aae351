"""The board: every job in its weather, crews sent to them by cost and odds, and what is left."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from windows.board.assign import assign
from windows.board.check import check_board, check_roads
from windows.board.company import Company, load_company
from windows.board.crews import crewed, reach
from windows.board.deadlines import deadlines
from windows.board.dispatch import Dispatch, Taken, worth_of
from windows.board.people import assignments, held_assignments
from windows.board.promises import kept_promises, moved, without_work
from windows.board.result import Board, BoardProof, BoardSite, CrewRow, Fault, SiteState
from windows.board.sites import BoardJob, Climates, board_days, ready, site_folders
from windows.board.strips import day_strips
from windows.board.undone import idle_reasons, undone
from windows.board.weigh import dispatch_of
from windows.errors import DewgapError
from windows.notes import site_notes
from windows.planner import if_all_turns_out_well, undecided_tasks
from windows.planning.groups import possible
from windows.planning.outcome import plan_of
from windows.planning.problem import Start
from windows.validator import validate

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date
    from pathlib import Path

    from windows.board.assign import Assigned
    from windows.board.promise import Promise
    from windows.board.promises import Kept
    from windows.board.result import Assignment, Undone
    from windows.plan import Plan
    from windows.weather_choice import WeatherChoice

__all__ = ["Loaded", "load_jobs", "make_board"]

_THOUSANDTHS = 1000


@dataclass(frozen=True)
class Loaded:
    """A folder of jobs, read: the company, the sites, and what is wrong with either.

    ``unread`` are the folders whose site file cannot be read; ``crews_known`` tells whether every
    crew of the company's file is there.
    """

    folder: Path
    company: Company
    jobs: tuple[BoardJob, ...]
    unread: tuple[str, ...]
    faults: tuple[Fault, ...]
    crews_known: bool = True

    @property
    def unknown(self) -> frozenset[str]:
        """Keys of sites of which nothing can be told now."""
        states = {SiteState.FAULT, SiteState.STALE}
        return frozenset(self.unread) | {job.key for job in self.jobs if job.state in states}

    def inside(self, text: str) -> str:
        """Return a text with paths as they are seen from the folder: a board is handed on."""
        return text.replace(f"{self.folder}{os.sep}", "")

    @property
    def zone(self) -> ZoneInfo:
        """The clock of the first site that can be read."""
        return self.jobs[0].site.zone if self.jobs else ZoneInfo("UTC")


def load_jobs(folder: Path, choice: WeatherChoice, now: pd.Timestamp) -> Loaded:
    """Read a folder of jobs. A site or crew with a fault is named, and the others stand.

    Raises
    ------
    SiteError
        If there is no such folder, or no site in it.
    """
    folders = site_folders(folder)
    company, faults, crews_known = load_company(folder)
    told = list(faults)
    jobs: list[BoardJob] = []
    unread = []
    climates = Climates()
    for each in folders:
        try:
            jobs.append(ready(each, company, choice, now, climates))
        except DewgapError as fault:
            told.append(Fault(each.name, str(fault)))
            unread.append(each.name)
    told += [Fault(job.key, job.problem) for job in jobs if job.problem]
    return Loaded(folder, company, tuple(jobs), tuple(unread), tuple(told), crews_known)


def make_board(
    loaded: Loaded,
    now: pd.Timestamp,
    *,
    seconds: float = 20.0,
    promises: Sequence[Promise] = (),
) -> Board:
    """Return the board of jobs that were read.

    Parameters
    ----------
    loaded
        From `load_jobs`, with the same ``now``.
    now
        The present: nothing is planned before it. UTC.
    seconds
        Most time for the solver. [s]
    promises
        What an earlier board promised: kept unless what moves gains more than its price.
    """
    company = loaded.company
    planned = [job for job in loaded.jobs if job.built is not None]
    days = board_days(company, now, loaded.zone)
    kept = kept_promises(promises, company, planned, loaded.unknown, days, now)
    jobs = [without_work(job, kept.under_way) for job in planned]
    reached = [
        [reach(company, crew, job, (*kept.under_way, *kept.held)) for job in jobs]
        for crew in company.crew
    ]
    problem = dispatch_of(company, jobs, days, reached, kept, now)
    solved = assign(problem, seconds=seconds)
    plans = [
        _plan(job, [t for t in solved.taken if t.site == n]) for n, job in enumerate(jobs)
    ]
    for job, plan in zip(jobs, plans, strict=True):
        _require_sound(job, plan, now)
    sent = _sent(loaded, jobs, plans, problem, solved, kept)
    left = undone(company, problem, jobs, plans, kept.under_way, proved=solved.optimal)
    number = {job.key: n for n, job in enumerate(jobs)}
    told = deadlines(
        _all(loaded.jobs, jobs), sent,
        lambda job, task: crewed(company, problem.crews, number[job.key], job, task),
        now, now + pd.Timedelta(days=company.board.days),
    )  # fmt: skip
    sites = [_site(job, sent, days, now, loaded) for job in loaded.jobs]
    sites += [_unread(key, loaded.zone) for key in loaded.unread]
    works = [work for each in sent for work in each.works]
    board = Board(
        folder=loaded.folder.resolve().name,
        now=now,
        days=days,
        crews=tuple(
            CrewRow(
                crew.name,
                crew.skills or (),
                crew.equipment,
                idle_reasons(crew, n, problem, jobs, days, sent, proved=solved.optimal),
            )
            for n, crew in enumerate(company.crew)
        ),
        sites=tuple(sorted(sites, key=lambda each: each.key)),
        assignments=sent,
        undone=left if sent else _with_undecided(left, company, jobs, problem, days),
        deadlines=told,
        moved=moved(kept, jobs, sent, company),
        faults=tuple(
            Fault(each.where, loaded.inside(each.text)) for each in (*loaded.faults, *kept.faults)
        ),
        proof=_proof(problem, solved) if jobs and company.crew else None,
        area_m2=sum(work.placement.area_m2 for work in works),
        expected_m2=sum(work.placement.area_m2 * work.chance.careful for work in works),
        currency=company.costs.currency,
    )
    return _checked(board, loaded, promises)


def _with_undecided(
    left: Sequence[Undone],
    company: Company,
    jobs: Sequence[BoardJob],
    problem: Dispatch,
    days: tuple[date, ...],
) -> tuple[Undone, ...]:
    """Return what nobody is sent for, told apart where what is not known decides that."""
    unsure = {
        (job.key, piece, layer)
        for n, job in enumerate(jobs)
        for piece, layer in _undecided(company, problem, n, job, days)
    }
    return tuple(
        replace(each, undecided=(each.site, each.piece, each.layer) in unsure) for each in left
    )


def _undecided(
    company: Company, problem: Dispatch, number: int, job: BoardJob, days: tuple[date, ...]
) -> list[tuple[str, int]]:
    """Return the pieces and layers of a job that a crew could lay if all turned out well."""
    assert job.built is not None
    assert job.job is not None
    built = job.built
    on_board = np.flatnonzero(np.isin(np.array(built.shift_days, dtype="datetime64[D]"),
                                      np.array(days, dtype="datetime64[D]")))  # fmt: skip
    hoped = if_all_turns_out_well(built, job.pieces, job.job)
    tasks = []
    for task in hoped.tasks:
        choices = tuple(
            each.keep(np.isin(each.shift, on_board))
            for each in crewed(company, problem.crews, number, job, task)
        )
        tasks.append(replace(task, choices=possible(choices, task.same_shift)))
    found = undecided_tasks(built.problem, replace(hoped, tasks=tuple(tasks)))
    return [(built.pieces[n].name, hoped.tasks[n].first) for n in found]


def _sent(
    loaded: Loaded,
    jobs: Sequence[BoardJob],
    plans: Sequence[Plan],
    problem: Dispatch,
    solved: Assigned,
    kept: Kept,
) -> tuple[Assignment, ...]:
    """Return who is sent where, by crew in the order of the company's file, then by time."""
    company = loaded.company
    sent = (
        *assignments(company, jobs, plans, problem.crews, solved.visits, kept),
        *held_assignments(company, loaded.jobs, kept),
    )
    order = {crew.name: n for n, crew in enumerate(company.crew)}
    return tuple(sorted(sent, key=lambda each: (order[each.crew], each.arrive)))


def _checked(board: Board, loaded: Loaded, promises: Sequence[Promise]) -> Board:
    """Return a board with the roads that are too long for its times, if it passes its check.

    Raises
    ------
    DewgapError
        If it does not: then it is not shown.
    """
    late = tuple(Fault(board.folder, each) for each in check_roads(board))
    board = replace(board, faults=(*board.faults, *late))
    broken = check_board(board, loaded.company, loaded.jobs, promises)
    if broken:
        raise DewgapError(
            f"the board failed its own check and is not shown: {broken[0]}; please report this "
            "with the files of the folder"
        )
    return board


def _all(read: Sequence[BoardJob], planned: Sequence[BoardJob]) -> list[BoardJob]:
    """Return all sites that were read, those that can be planned as they are planned."""
    by_key = {job.key: job for job in planned}
    return [by_key.get(job.key, job) for job in read]


def _unread(key: str, zone: ZoneInfo) -> BoardSite:
    """Return what can be told of a site whose file cannot be read: that it is there."""
    return BoardSite(
        key=key, name=key, zone=zone, state=SiteState.FAULT, system="", weather="", issued=None,
        stale=False, laid=0, layers=0, notes=(), outlook=(), strips=(),
    )  # fmt: skip


def _proof(problem: Dispatch, solved: Assigned) -> BoardProof:
    """Return what the plan is worth beside sending nobody, and what no plan can be worth more."""
    nobody = worth_of(problem, (), ())
    return BoardProof(
        (solved.worth - nobody) / _THOUSANDTHS, (solved.bound - nobody) / _THOUSANDTHS,
        solved.optimal, solved.seconds, solved.in_order,
    )  # fmt: skip


def _site(
    job: BoardJob,
    sent: Sequence[Assignment],
    days: tuple[date, ...],
    now: pd.Timestamp,
    loaded: Loaded,
) -> BoardSite:
    """Return what is to be told of a site."""
    mine = [each for each in sent if each.site == job.key]
    state = SiteState.PLANNED if mine and job.built is not None else job.state
    layers: dict[date, set[int]] = {}
    for each in mine:
        layers.setdefault(each.day, set()).update(work.placement.layer for work in each.works)
    planned = {day: tuple(sorted(those)) for day, those in layers.items()}
    hours = job.hours
    weather = "" if hours is None else loaded.inside(hours.provenance.describe(now))
    return BoardSite(
        key=job.key,
        name=job.site.name,
        zone=job.site.zone,
        state=state,
        system="" if job.system is None else job.system.title,
        weather=weather,
        issued=None if hours is None else hours.provenance.issued,
        stale=job.stale,
        laid=job.laid,
        layers=job.layers,
        notes=tuple(
            loaded.inside(note)
            for note in (*job.notes, *(() if hours is None else site_notes(job.site, hours)))
        ),
        outlook=job.outlook,
        strips=() if job.built is None else day_strips(job, days, planned),
    )


def _plan(job: BoardJob, taken: Sequence[Taken]) -> Plan:
    """Return a job's plan of the starts that are taken."""
    assert job.built is not None
    starts = [Start(t.task, t.layer, t.at) for t in taken]
    return plan_of(job.built, job.built.problem, starts, "board")


def _require_sound(job: BoardJob, plan: Plan, now: pd.Timestamp) -> None:
    """Have a job's plan checked by the validator, which knows nothing of the solver."""
    assert job.in_weather is not None
    assert job.job is not None
    assert job.built is not None
    faults = validate(plan.placements, job.built.pieces, job.job, job.in_weather, now)
    if faults:
        raise DewgapError(
            f"{job.key}: the plan failed its own check and is not shown: {faults[0].placement}: "
            f"{faults[0].text}; please report this with the files of the site"
        )
