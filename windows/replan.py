"""What moved between two plans, and why the old hours no longer do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from windows.gates import State

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from windows.layers import SystemHours
    from windows.pieces import Piece
    from windows.plan import Placement, Plan

__all__ = ["Moved", "hours_now", "what_moved"]


@dataclass(frozen=True)
class Moved:
    """A placement that another plan had elsewhere; ``before`` or ``after`` is None if it is new."""

    piece: str
    layer: int
    layer_name: str
    before: pd.Timestamp | None
    after: pd.Timestamp | None
    why: str


def what_moved(
    before: Sequence[Placement],
    plan: Plan,
    system: SystemHours,
    pieces: Sequence[Piece],
    now: pd.Timestamp,
) -> tuple[Moved, ...]:
    """Return the placements that changed, in the order of their old start; new ones last."""
    old = {(each.piece, each.layer): each for each in before}
    new = {(each.piece, each.layer): each for each in plan.placements}
    left = {(each.piece, each.layer): each.reason for each in plan.left_out}
    laid = {(piece.name, record.layer) for piece in pieces for record in piece.laid}
    names, sections = {p.name for p in pieces}, {p.section for p in pieces}
    found = []
    for key, was in sorted(old.items(), key=lambda item: item[1].start):
        planned = new.get(key)
        if planned is not None and (planned.start, planned.end) == (was.start, was.end):
            continue
        if key in laid:
            why = "it is laid"
        elif key[0] not in names and was.section in sections:
            why = "a part of the section is laid; its parts are planned on their own"
        elif key[0] not in names:
            why = "the job has no such section any more"
        elif planned is not None and planned.start == was.start:
            why = "it takes another time now"
        else:
            below = new.get((was.piece, was.layer - 1))
            why = _why(was, planned, below, system, now) or left.get(key, "it is not planned")
        found.append(
            Moved(
                *key, was.layer_name, was.start, None if planned is None else planned.start, why
            )
        )  # fmt: skip
    found += [
        Moved(*key, each.layer_name, None, each.start, "it was not planned before")
        for key, each in new.items()
        if key not in old
    ]
    return tuple(found)


def _why(
    was: Placement,
    planned: Placement | None,
    below: Placement | None,
    system: SystemHours,
    now: pd.Timestamp,
) -> str:
    """Return what speaks against the old hours now, nothing where only the plan does."""
    if was.start < now:
        return "its hours have passed and it is not recorded as laid"
    told = hours_now(system, was.layer, was.start, was.end)
    if told:
        return told
    if below is not None and (below.opens is None or below.opens > was.start):
        return "the layer below it has not opened by its old hours"
    if planned is None:
        return ""
    return "its old hours are still valid; the new ones suit the rest of the plan better"


def hours_now(
    system: SystemHours, layer: int, start: pd.Timestamp, end: pd.Timestamp
) -> str:
    """Return what speaks against hours that once were good for a layer, nothing if none does."""
    first, after = system.rows(start, end)
    if first < 0 or after > len(system.hours.index) or layer >= len(system.jobs):
        return "its hours lie outside the weather"
    job, rows = system.jobs[layer], slice(first, after)
    checks = dict(job.checked.gates) | {"crew safety": job.found.safety}
    for state, told in ((State.BLOCKED, "breaks"), (State.UNKNOWN, "is not known")):
        names = [name for name, states in checks.items() if (states[rows] == state).any()]
        if names:
            return f"{', '.join(names)} {told} in its old hours"
    return ""
