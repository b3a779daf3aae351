"""A plan held against every rule, placement by placement."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from windows.validator.crew_rules import (
    crew_rule,
    extra_days_rule,
    overlap_rule,
    shift_rule,
    time_rule,
    walk_rule,
)
from windows.validator.layer_rules import (
    clocks_rule,
    cover_rule,
    interval_rule,
    open_area_rule,
    order_rule,
)
from windows.validator.plan_check import TIE_SHARE, Film, PlanCheck, Violation
from windows.validator.roof_rules import gate_rule, substrate_rule

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.pieces import Piece
    from windows.plan import Placement

__all__ = ["validate"]


def validate(
    placements: Sequence[Placement],
    pieces: Sequence[Piece],
    job: JobFile,
    system: SystemHours,
    now: pd.Timestamp,
    *,
    open_beyond: bool = False,
) -> tuple[Violation, ...]:
    """Check a plan against every rule, from the raw conditions of each layer.

    Parameters
    ----------
    placements
        The plan, in any order.
    pieces
        The pieces of the job, with what is laid on them.
    job
        Rates, set-up, clean-up, moves, extra days and the cap on bare area.
    system
        The system in its weather: conditions, coatings and site are read, no result.
    now
        The present; nothing is planned before it.
    open_beyond
        Whether a layer that must be covered may lie bare at the end of the data, where its deadline
        lies after them.

    Returns
    -------
    tuple of Violation
        One for each rule that a placement breaks, in the order of the placements; none if the plan
        is sound.
    """
    return _run(PlanCheck(placements, pieces, job, system, now, open_beyond))


def _run(check: PlanCheck) -> tuple[Violation, ...]:
    """Return what is wrong."""
    for piece in check.pieces.values():
        for record in piece.laid:
            film = check.film(piece.name, record.layer, record.start, record.end)
            if record.prepared is not None:
                again = (record.prepared - check.begin).total_seconds()
                film = replace(film, prepared=again)
            check.laid[piece.name, record.layer] = film
    for placement in check.placements:
        if _named_right(check, placement):
            film = check.film(placement.piece, placement.layer, placement.start, placement.end)
            _once(check, film)
            check.planned.setdefault((film.piece, film.layer), film)
            check.films.append((placement, film))
    for placement, film in check.films:
        time_rule(check, placement, film)
        crew_rule(check, film)
        shift_rule(check, placement, film)
        gate_rule(check, film)
        substrate_rule(check, film)
        order_rule(check, film)
        interval_rule(check, film)
        cover_rule(check, film)
        walk_rule(check, film)
        clocks_rule(check, placement, film)
    overlap_rule(check)
    open_area_rule(check)
    extra_days_rule(check)
    return tuple(check.found.values())


def _named_right(check: PlanCheck, placement: Placement) -> bool:
    """Check the names of a placement; tell whether its piece and its layer are there."""
    label = check.label(placement.piece, placement.layer)
    piece = check.pieces.get(placement.piece)
    if piece is None:
        check.tell(label, "known", f"there is no piece {placement.piece}")
        return False
    if not 0 <= placement.layer < len(check.layers):
        check.tell(
            label, "known", f"the system has {len(check.layers)} layers, no layer "
            f"{placement.layer + 1}",
        )  # fmt: skip
        return False
    if not abs(placement.area_m2 - piece.area_m2) <= TIE_SHARE * piece.area_m2:
        check.tell(
            label, "known", f"the area is given as {placement.area_m2:.2f} m2 and is "
            f"{piece.area_m2:.2f} m2",
        )  # fmt: skip
    coating = check.hours[placement.layer].coating.name
    for what, given, right in (
        ("section", placement.section, piece.section),
        ("layer", placement.layer_name, check.layers[placement.layer].name),
        ("coating", placement.coating, coating),
    ):
        if given != right:
            check.tell(label, "known", f"the {what} is given as {given} and is {right}")
    return True


def _once(check: PlanCheck, film: Film) -> None:
    """Check that a layer is laid or planned once."""
    if (film.piece, film.layer) in check.laid:
        check.tell(film.label, "repeat", "the layer is laid already")
    elif (film.piece, film.layer) in check.planned:
        before = check.planned[film.piece, film.layer]
        check.tell(
            film.label, "repeat", f"the layer is planned twice, at {check.clock(before.start)} "
            f"and at {check.clock(film.start)}",
        )  # fmt: skip
