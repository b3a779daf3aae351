"""Rules of one layer on another: order, clocks, cover, and how much may lie bare."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.validator.plan_check import TIE_S, TIE_SHARE, Film, PlanCheck

if TYPE_CHECKING:
    from collections.abc import Iterator

    from windows.plan import Placement

__all__ = ["clocks_rule", "cover_rule", "interval_rule", "open_area_rule", "order_rule"]


def order_rule(check: PlanCheck, film: Film) -> None:
    """Check that the layer below lies there before a layer begins."""
    if film.layer == 0:
        return
    below = check.below(film)
    if below is None:
        check.tell(
            film.label, "order", f"layer {film.layer} below it is neither laid nor planned"
        )
    elif below.end > film.start:
        check.tell(
            film.label, "order", f"it starts at {check.clock(film.start)}, before layer "
            f"{film.layer} below it ends at {check.clock(below.end)}",
        )  # fmt: skip


def interval_rule(check: PlanCheck, film: Film) -> None:
    """Check that a layer keeps to the clocks of the one below it."""
    below = check.below(film)
    if below is None:
        return
    opens = check.opens(below)
    if opens is None:
        check.tell(
            film.label, "opens", f"it is not known when layer {film.layer} below it opens"
        )
    elif film.start < opens:
        check.tell(
            film.label, "opens", f"it starts at {check.clock(film.start)}, and layer "
            f"{film.layer} below it opens at {check.clock(opens)}",
        )  # fmt: skip
    due, sure = check.hours[below.layer].due(below.due_from)
    if film.until > sure:
        deadline = "not known" if due is None else check.clock(due)
        check.tell(
            film.label, "due", f"its last hour ends at {check.clock(film.until)}, and the "
            f"deadline of layer {film.layer} below it is {deadline}",
        )  # fmt: skip
    # What is laid already is past mending: its deadline counts, its shift is over.
    planned = (below.piece, below.layer) not in check.laid
    if planned and check.layers[below.layer].next.same_shift and film.day != below.day:
        check.tell(
            film.label,
            "same_shift",
            f"it lies in the shift of {film.day or 'no day'}, and layer {film.layer} below it "
            f"in that of {below.day or 'no day'}",
        )


def cover_rule(check: PlanCheck, film: Film) -> None:
    """Check that what must be covered in time has its next layer planned."""
    if check.is_last(film) or (film.piece, film.layer + 1) in check.planned:
        return
    due, sure = check.hours[film.layer].due(film.first)
    if sure <= check.data_end and (due is not None or sure < check.data_end):
        deadline = "is not known" if due is None else f"is {check.clock(due)}"
        check.tell(
            film.label, "cover", f"layer {film.layer + 2} over it is not planned, and its "
            f"deadline {deadline}",
        )  # fmt: skip
    elif check.layers[film.layer].next.same_shift:
        check.tell(
            film.label, "cover", f"layer {film.layer + 2} over it is not planned in its shift"
        )
    elif check.system.system.must_be_covered(film.layer) and not check.open_beyond:
        check.tell(
            film.label, "cover", f"it must be covered, and layer {film.layer + 2} over it is "
            "not planned",
        )  # fmt: skip


def clocks_rule(check: PlanCheck, placement: Placement, film: Film) -> None:
    """Check the times that the placement itself tells; a last layer has no deadline."""
    if not check.inside(film):
        return
    due = None if check.is_last(film) else check.hours[film.layer].due(film.first)[0]
    for name, given, right in (
        ("opens", placement.opens, check.opens(film)),
        ("due", placement.due, due),
    ):
        told = None if given is None else (given - check.begin).total_seconds()
        if told is None or right is None:
            same = told is None and right is None
        else:
            same = abs(told - right) <= TIE_S
        if not same:
            words = ["not known" if at is None else check.clock(at) for at in (told, right)]
            check.tell(
                film.label, "clocks", f"'{name}' is given as {words[0]} and is {words[1]}"
            )


def _bare(check: PlanCheck) -> Iterator[Film]:
    """Yield each film that must be covered, as the time for which it lies bare."""
    whole = check.planned | check.laid
    for (piece, layer), film in whole.items():
        if check.system.system.must_be_covered(layer) and not check.is_last(film):
            above = whole.get((piece, layer + 1))
            end = check.data_end if above is None else above.end
            yield Film(film.label, piece, layer, film.start, end, film.day)


def open_area_rule(check: PlanCheck) -> None:
    """Check the bare area where it grows: at the start of each layer that must be covered."""
    most, bare = check.job.crew.open_area, list(_bare(check))
    if most is None:
        return
    for film in bare:
        before = {each.piece for each in bare if each.start < film.start < each.end}
        if film.piece in before or (film.piece, film.layer) in check.laid:
            continue
        lying = {each.piece for each in bare if each.start <= film.start < each.end}
        area = sum(check.pieces[name].area_m2 for name in lying)
        if area > most * (1 + TIE_SHARE):
            check.tell(
                film.label, "open_area", f"from {check.clock(film.start)} on {area:.0f} m2 lie "
                f"bare, and {most:.0f} m2 may",
            )  # fmt: skip
