"""What a set of starts comes to: placements with their clocks, what is left out, figures."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from windows.gates import State
from windows.plan import Figures, LeftOut, Placement, Plan, Proof
from windows.planning.cost import (
    cost_of,
    exposed,
    extra_shifts,
    finish_of,
    has_spare,
    moves,
    without_spare,
)
from windows.planning.problem import FAR, TICKS_PER_DAY, TICKS_PER_HOUR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from windows.gates import Checked
    from windows.layers import SystemHours
    from windows.planning.build import Built
    from windows.planning.problem import Problem, Start, Task

__all__ = ["ELSEWHERE", "WAITS", "figures", "plan_of"]

ELSEWHERE = "the crew's hours go to other sections"
WAITS = "the layer below it is not planned"
"""Reasons that lie in the plan and not in the hours."""


def plan_of(
    built: Built,
    problem: Problem,
    starts: Sequence[Start],
    rule: str,
    *,
    proof: Proof | None = None,
    before: Mapping[tuple[int, int], int] | None = None,
) -> Plan:
    """Return a plan of the starts of a problem; ``problem`` is the one whose choices they name."""
    return Plan(
        rule=rule,
        placements=tuple(_placements(built, problem, starts)),
        left_out=tuple(_left_out(built, problem, starts)),
        figures=figures(built, problem, starts, before),
        proof=proof,
    )


def _steps(problem: Problem, starts: Sequence[Start]) -> dict[int, list[Start]]:
    """Return the starts of each task in the order of its layers."""
    return {
        n: sorted((s for s in starts if s.task == n), key=lambda s: s.layer)
        for n in range(len(problem.tasks))
    }


def _placements(built: Built, problem: Problem, starts: Sequence[Start]) -> list[Placement]:
    system = built.system
    by_task = _steps(problem, starts)
    found = []
    for each in starts:
        task, piece = problem.tasks[each.task], built.pieces[each.task]
        choice, number = task.choices[each.layer], task.first + each.layer
        start, opens = int(choice.start[each.at]), int(choice.opens[each.at])
        last = number + 1 == len(system.jobs)
        first, after = (int(rows[each.at]) for rows in choice.rows)
        checked = system.jobs[number].checked
        exact_opens = float(checked.milestones["recoat_opens"][after - 1])
        later = by_task[each.task][each.layer + 1 :]
        found.append(
            Placement(
                piece=piece.name,
                section=piece.section,
                area_m2=piece.area_m2,
                layer=number,
                layer_name=system.system.layers[number].name,
                coating=system.system.profiles[number].name,
                shift=built.shift_days[int(choice.shift[each.at])],
                start=built.time(start),
                end=built.time(start + choice.length),
                opens=None if opens >= FAR else system.time(exact_opens),
                due=None if last else _due(system, checked, first),
                spare=has_spare(task, each, later[0]) if later else None,
            )
        )
    return sorted(found, key=lambda placement: placement.start)


def _due(system: SystemHours, checked: Checked, row: int) -> pd.Timestamp | None:
    """Return the deadline of a film begun in an hour, None without one or where it is not known."""
    due = float(checked.due[row])
    return system.time(due) if np.isfinite(due) else None


def _left_out(built: Built, problem: Problem, starts: Sequence[Start]) -> list[LeftOut]:
    by_task = _steps(problem, starts)
    found = []
    for n, task in enumerate(problem.tasks):
        for layer in range(len(by_task[n]), len(task.choices)):
            number = task.first + layer
            found.append(
                LeftOut(
                    built.pieces[n].name, number, built.system.system.layers[number].name,
                    _why(built, n, layer, waits=layer > len(by_task[n])),
                )
            )  # fmt: skip
    return found


def _why(built: Built, number: int, layer: int, *, waits: bool) -> str:
    """Return why a layer of a piece is not planned."""
    seen, kept = built.blind.tasks[number], built.problem.tasks[number]
    if waits:
        return WAITS
    if not seen.choices[layer].start.size:
        return _no_hours(built, seen, layer)
    if not kept.choices[layer].start.size:
        if layer == 0 and kept.due_now is not None:
            due = built.time(kept.due_now).tz_convert(built.system.site.zone)
            return f"it cannot be laid before the layer below it is due, {due:%Y-%m-%d %H:%M}"
        return _withheld(built, seen, kept)
    if layer:
        return "no valid hours are left after the layer below it has opened"
    cap = "" if built.problem.open_area is None else ", or bare area is at its cap (crew.open_area)"
    return f"{ELSEWHERE}, or its cover would be late{cap}"


def _withheld(built: Built, seen: Task, kept: Task) -> str:
    """Return which layer of a piece could not be covered in time."""
    layers = built.system.system.layers
    last = max(
        n for n, each in enumerate(kept.choices)
        if not each.start.size and seen.choices[n].start.size
    )  # fmt: skip
    below = layers[seen.first + last].name
    if last + 1 == len(kept.choices):
        return f"withheld: '{below}' cannot be laid in time"
    above = layers[seen.first + last + 1].name
    return (
        f"withheld: no hours for '{above}' on '{below}' in time; the deadline of '{below}' or the "
        "end of the weather comes first"
    )


def _no_hours(built: Built, task: Task, layer: int) -> str:
    """Return what keeps a layer from every shift."""
    length = task.choices[layer].length / TICKS_PER_HOUR
    state = built.states[task.first + layer]
    job = built.system.jobs[task.first + layer]
    on_shift = (job.found.crew == State.OK) & (
        np.arange(len(state)) >= built.problem.begin / TICKS_PER_HOUR
    )
    if not on_shift.any():
        return "no crew hour is left in this weather"
    if task.same_shift[layer] and (state[on_shift] == State.OK).any():
        after = built.system.system.layers[task.first + layer + 1].name
        return f"no shift has valid hours for it and for '{after}' after it"
    if not (state[on_shift] == State.OK).any():
        lost = next((each.name for each in job.found.lost if each.blocked), None)
        unknown = (state[on_shift] == State.UNKNOWN).any()
        told = f"; most hours are lost to {lost}" if lost else ""
        return f"no crew hour is valid for it{told}{'; hours are unknown' if unknown else ''}"
    return (
        f"it takes {length:g} h at a stretch, with set-up and clean-up around it, and no shift has "
        "so many valid hours; make the section smaller or the crew faster"
    )


def figures(
    built: Built,
    problem: Problem,
    starts: Sequence[Start],
    before: Mapping[tuple[int, int], int] | None = None,
) -> Figures:
    """Return what the starts come to, by the job's prices; changes of ``before`` have theirs."""
    by_task = _steps(problem, starts)
    finish = finish_of(problem, starts)
    exposure, stranded, spareless = 0.0, 0, 0
    for n, task in enumerate(problem.tasks):
        laid = by_task[n]
        exposure += exposed(problem, task, laid) * built.pieces[n].area_m2 / TICKS_PER_DAY
        stranded += _stranded(task, laid)
        spareless += without_spare(task, laid)
    worked = {int(problem.tasks[s.task].choices[s.layer].shift[s.at]) for s in starts}
    return Figures(
        placed=len(starts),
        of=sum(len(task.choices) for task in problem.tasks),
        finish=built.time(finish) if starts else None,
        finish_days=(finish - problem.begin) / TICKS_PER_DAY,
        exposure_m2_days=exposure,
        moves=moves(problem, starts),
        shifts=len(worked),
        extra_days=extra_shifts(problem, starts),
        without_spare=spareless,
        stranded=stranded,
        cost=cost_of(problem, starts, before) / 1000,
    )


def _stranded(task: Task, laid: Sequence[Start]) -> int:
    """Count layers that were covered late, or not at all though they had to be."""
    count = 0
    for each, later in pairwise(laid):
        due = task.choices[each.layer].due[each.at]
        count += bool(task.choices[later.layer].hour_end[later.at] > due)
    if laid:
        count += bool(task.choices[laid[-1].layer].must[laid[-1].at])
    if task.due_now is not None:
        count += not laid or bool(task.choices[0].hour_end[laid[0].at] > task.due_now)
    return count
