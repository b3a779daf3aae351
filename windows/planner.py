"""The planner: a job in a weather to the best plan, the crews' rules beside it, and a check of all.

Every plan that leaves here has passed `windows.validator`, which knows nothing of the solver.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from windows.cover import is_weak
from windows.errors import DewgapError
from windows.job_file import JobFile
from windows.pieces import Piece
from windows.plan import Plan, Proof
from windows.planning.build import Built, build
from windows.planning.ease import Eased, ease
from windows.planning.outcome import plan_of
from windows.planning.problem import TICKS_PER_HOUR
from windows.planning.rules import RULES, follow
from windows.planning.solve import solve
from windows.safety import cautions, each_once
from windows.validator import validate

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from cure_models.sourced import Sourced
    from cure_models.system import System
    from windows.layers import SystemHours
    from windows.plan import Placement
    from windows.safety import Caution

__all__ = ["Planned", "WeakDeadline", "make_plan"]

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

    ``weak`` are the deadlines on which the plan rests and nobody should rely.
    """

    best: Plan
    crews: tuple[Plan, ...]
    eased: Eased
    pieces: tuple[Piece, ...]
    cautions: tuple[Caution, ...]
    weak: tuple[WeakDeadline, ...]


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
    return Planned(
        best, crews, eased, tuple(pieces), _cautions(system, best), _weak(system.system, best)
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
