"""The planner: a job in a weather to the best plan, the crews' rules beside it, and a check of all.

Every plan that leaves here has passed `windows.validator`, which knows nothing of the solver.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.cover import is_weak
from windows.errors import DewgapError
from windows.gates import State
from windows.job_file import JobFile
from windows.pieces import Piece
from windows.plan import Plan, Proof
from windows.planning.build import Built, Waiting, build, problems, walk_from
from windows.planning.ease import Eased, ease
from windows.planning.layer_times import LayerTimes, layer_times
from windows.planning.outcome import plan_of
from windows.planning.problem import FAR, TICKS_PER_HOUR
from windows.planning.rules import RULES, follow
from windows.planning.solve import solve
from windows.safety import cautions, each_once
from windows.validator import validate

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from cure_models.sourced import Sourced
    from cure_models.system import System
    from windows.gates import States
    from windows.job import CheckedHours
    from windows.layers import SystemHours
    from windows.plan import Placement
    from windows.planning.problem import Problem
    from windows.safety import Caution

__all__ = ["Planned", "WeakDeadline", "if_all_turns_out_well", "make_plan", "undecided_tasks"]

_BEST = "best plan"


@dataclass(frozen=True)
class WeakDeadline:
    """A generic deadline that the plan keeps and that only a data sheet can make a promise."""

    layer_name: str
    name: str
    sourced: Sourced


@dataclass(frozen=True)
class Planned:
    """The best plan, what the crews' rules would do, and what would let the rest be laid.

    ``weak`` are the deadlines on which the plan rests and nobody should rely. ``undecided`` are the
    pieces, of a plan that lays nothing, of which what is not known decides whether they can be
    begun.
    """

    best: Plan
    crews: tuple[Plan, ...]
    eased: Eased
    pieces: tuple[Piece, ...]
    cautions: tuple[Caution, ...]
    weak: tuple[WeakDeadline, ...]
    undecided: tuple[str, ...] = ()

    @property
    def state(self) -> State:
        """What the best plan comes to: a layer without its cover is BLOCKED, whatever is unknown.

        Where nothing can be laid, UNKNOWN if what is not known could turn out well enough.
        """
        figures = self.best.figures
        if figures.stranded:
            return State.BLOCKED
        if self.best.placements or not figures.of:
            return State.OK
        return State.UNKNOWN if self.undecided else State.BLOCKED


def make_plan(
    system: SystemHours,
    pieces: Sequence[Piece],
    job: JobFile,
    now: pd.Timestamp,
    *,
    seconds: float = 20.0,
    open_beyond: bool = False,
    before: Sequence[Placement] = (),
) -> Planned:
    """Plan a job.

    Parameters
    ----------
    system, pieces, job, now
        The system in its weather, what is to be coated, the crew, and the present.
    seconds
        Most time for the solver, and once more for the easings if not all can be laid. [s]
    open_beyond
        Lay also what must be covered only after the data end.
    before
        Placements of an earlier plan: what is kept of it costs nothing, each change its price.

    Raises
    ------
    SiteError, HoursError
        If the job cannot be planned at all: see `windows.planning.build.build`.
    """
    built = build(system, pieces, job, now, open_beyond=open_beyond)
    earlier = _ticks_of(built, before)
    solved = solve(built.problem, seconds=seconds, before=earlier)
    proof = Proof(
        solved.most_laid, solved.optimal, solved.in_order, solved.cost / 1000,
        solved.bound / 1000, solved.seconds,
    )  # fmt: skip
    best = plan_of(
        built, built.problem, solved.starts, _BEST, proof=proof, before=earlier
    )
    faults = validate(best.placements, pieces, job, system, now, open_beyond=open_beyond)
    if faults:
        raise DewgapError(
            f"the plan failed its own check and is not shown: {faults[0].placement}: "
            f"{faults[0].text}; please report this with the site, job and weather files"
        )
    crews = tuple(
        plan_of(built, built.blind, follow(built.blind, rule), rule.name) for rule in RULES
    )
    whole = best.figures.placed == best.figures.of
    eased = (
        Eased()
        if whole
        else ease(system, pieces, job, now, open_beyond=open_beyond,
                  laid_now=best.figures.placed, seconds=seconds)
    )  # fmt: skip
    undecided: tuple[str, ...] = ()
    if not best.placements:
        hoped = if_all_turns_out_well(built, pieces, job, open_beyond=open_beyond)
        undecided = tuple(built.pieces[n].name for n in undecided_tasks(built.problem, hoped))
    return Planned(
        best, crews, eased, tuple(pieces), _cautions(system, best), _weak(system.system, best),
        undecided,
    )  # fmt: skip


def if_all_turns_out_well(
    built: Built, pieces: Sequence[Piece], job: JobFile, *, open_beyond: bool = False
) -> Problem:
    """Return the problem as it would be if all that is not known turned out well.

    It is no plan: it only tells whether a no is a whole answer. Every start of the problem itself
    is among its starts. Hours that a check blocks, be it by the worst that may be, stay blocked.

    Parameters
    ----------
    built
        The problem as it is.
    pieces, job, open_beyond
        With what it was built.
    """
    system = built.system
    times = [
        _hoped(each, states) for each, states in zip(system.jobs, built.states, strict=True)
    ]
    opens = {piece.name: walk_from(piece, times, system) for piece in pieces}
    waiting = []
    for piece, task in zip(built.pieces, built.problem.tasks, strict=True):
        closed = [opens[each.name] for each in pieces if each.section in piece.access_over]
        due = FAR if task.due_now is None else task.due_now
        waiting.append(Waiting(max([opens[piece.name], *closed]), due, task.open_since))
    return problems(
        system.system, times, built.shifts, built.pieces, job, built.problem.begin, waiting,
        open_beyond=open_beyond,
    )[0]  # fmt: skip


def undecided_tasks(problem: Problem, hoped: Problem) -> tuple[int, ...]:
    """Return the tasks whose first layer gains a start if all that is not known turns out well.

    A task that is larger than may lie bare at once is none of them.
    """
    cap = problem.open_area
    return tuple(
        n
        for n, (task, well) in enumerate(zip(problem.tasks, hoped.tasks, strict=True))
        if not (cap is not None and task.bare[0] and task.area > cap)
        and np.setdiff1d(well.choices[0].start, task.choices[0].start).size
    )


def _hoped(each: CheckedHours, states: States) -> LayerTimes:
    """Return one layer in every hour if what is not known turns out well.

    ``states`` are those of the hours as they are known, shape (hours,). A film that is not known to
    open does so no sooner than where its cure is not known any more, nor before its clock minimum.
    """
    known = layer_times(each)
    clock_min = each.coating.milestone_clock_min_h.get("recoat_opens", 0.0)
    shut_h = np.maximum(each.checked.clock.blind, np.arange(len(states)) + 1 + clock_min)
    soonest = np.ceil(shut_h * TICKS_PER_HOUR - 1e-9).astype(np.int32)
    return LayerTimes(
        np.where(states == State.UNKNOWN, State.OK, states).astype(states.dtype),
        np.where(known.opens >= FAR, soonest, known.opens),
        known.due,
    )


def _weak(system: System, plan: Plan) -> tuple[WeakDeadline, ...]:
    """Return the weak deadlines of the layers that are planned and have a next one."""
    used = sorted({each.layer for each in plan.placements if each.layer + 1 < len(system.layers)})
    return tuple(
        WeakDeadline(system.layers[n].name, name, entry)
        for n in used
        for name, entry in system.profiles[n].deadlines.items()
        if is_weak(entry)
    )


def _cautions(system: SystemHours, plan: Plan) -> tuple[Caution, ...]:
    """Return what the crew is told with these placements, each once."""
    told: list[Caution] = []
    for each in plan.placements:
        job = system.jobs[each.layer]
        told += cautions(job.conditions, job.coating, *system.rows(each.start, each.end))
    return each_once(told)


def _ticks_of(built: Built, before: Sequence[Placement]) -> dict[tuple[int, int], int]:
    """Return the starts of an earlier plan that are still starts of this one."""
    numbers = {piece.name: n for n, piece in enumerate(built.pieces)}
    found = {}
    for placement in before:
        n = numbers.get(placement.piece)
        if n is None:
            continue
        task = built.problem.tasks[n]
        layer = placement.layer - task.first
        if not 0 <= layer < len(task.choices):
            continue
        tick = round(built.system.moment(placement.start) * TICKS_PER_HOUR)
        if tick in task.choices[layer].start:
            found[n, layer] = tick
    return found
