"""The tables of a plan as plain text, for terminal and page alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cure_models.limits import DEADLINES
from windows.gates import State

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.plan import Placement, Plan
    from windows.planner import Planned
    from windows.replan import Moved
    from windows.reports.wording import Wording

__all__ = [
    "COLUMNS", "LEFT_COLUMNS", "MOVED_COLUMNS", "RULES_NOTE", "RULE_COLUMNS", "eased", "left_open",
    "left_rows", "moved_rows", "placement_row", "rule_rows", "summary", "undetermined",
    "weak_deadlines",
]  # fmt: skip

COLUMNS = (
    "section", "layer", "coating", "area", "next opens, walk on", "next done by", "spare shift",
)  # fmt: skip
RULE_COLUMNS = (
    "rule", "laid", "finish", "open area x days", "moves", "shifts", "stranded", "no spare", "cost",
)  # fmt: skip
RULES_NOTE = (
    "Stranded: layers covered late or not at all; no cost is counted for them here, but each takes "
    "preparation or a coat again. Compare plans that lay the same."
)
MOVED_COLUMNS = ("section, layer", "was", "is now", "why")
LEFT_COLUMNS = ("section, layer", "why it is not planned")


def summary(best: Plan, words: Wording) -> str:
    """Return what a plan comes to and how well it is proved, in a sentence."""
    figures, proof = best.figures, best.proof
    if figures.finish is None:
        return "Nothing can be laid in this weather." if figures.of else "Everything is laid."
    told = f"{figures.placed} of {figures.of} layers of sections laid by "
    told += f"{words.clock(figures.finish)}, in {figures.shifts} shifts"
    if figures.extra_days:
        told += f", {figures.extra_days} of them on extra days"
    if figures.stranded:
        layers = "layer is" if figures.stranded == 1 else "layers are"
        told += f"; {figures.stranded} laid {layers} not covered in time"
    if proof is None:
        return told + "."
    return f"{told}; {proof.told}, found in {proof.seconds:.1f} s. Checked against the raw hours."


def placement_row(each: Placement, words: Wording) -> list[str]:
    """Return the cells of `COLUMNS` of a placement."""
    return [
        each.piece, f"{each.layer + 1} {each.layer_name}", each.coating,
        words.value(each.area_m2, "area"), words.clock(each.opens), words.due(each.due),
        words.spare(each.spare),
    ]  # fmt: skip


def rule_rows(planned: Planned, words: Wording) -> list[list[str]]:
    """Return the cells of `RULE_COLUMNS` of the best plan and of the crews' rules."""
    return [
        [
            plan.rule, f"{plan.figures.placed} of {plan.figures.of}",
            "nothing" if plan.figures.finish is None else words.clock(plan.figures.finish),
            f"{words.value(plan.figures.exposure_m2_days, 'area')} d", str(plan.figures.moves),
            str(plan.figures.shifts), str(plan.figures.stranded),
            str(plan.figures.without_spare), f"{plan.figures.cost:,.0f}",
        ]
        for plan in (planned.best, *planned.crews)
    ]  # fmt: skip


def moved_rows(moved: Sequence[Moved], words: Wording) -> list[list[str]]:
    """Return the cells of `MOVED_COLUMNS`."""
    return [
        [
            f"{m.piece}, {m.layer_name}",
            *("not planned" if t is None else words.clock(t) for t in (m.before, m.after)),
            m.why,
        ]
        for m in moved
    ]  # fmt: skip


def left_rows(best: Plan) -> list[list[str]]:
    """Return the cells of `LEFT_COLUMNS`."""
    return [[f"{each.piece}, {each.layer_name}", each.reason] for each in best.left_out]


def weak_deadlines(planned: Planned, words: Wording) -> list[str]:
    """Return the deadlines that only the data sheet can make firm, a line each."""
    return [
        f"'{each.layer_name}', {DEADLINES[each.name].label}: {words.sourced(each.sourced)} is a "
        f"generic value of weak basis [{each.sourced.source}]; give your data sheet's before you "
        "rely on it"
        for each in planned.weak
    ]


def left_open(best: Plan, words: Wording) -> list[str]:
    """Return what is laid without its next layer in the plan, a line each: to be watched."""
    planned = {(each.piece, each.layer) for each in best.placements}
    waits = {(each.piece, each.layer) for each in best.left_out}
    return [
        f"{each.piece}, '{each.layer_name}' is planned without its next layer"
        + ("" if each.due is None else f", which must be done by {words.clock(each.due)}")
        + ": plan again when the weather reaches further"
        for each in best.placements
        if (each.piece, each.layer + 1) in waits - planned
    ]


def undetermined(planned: Planned) -> str:
    """Return that what is not known decides whether work can be begun; empty where it does not."""
    if planned.state is not State.UNKNOWN:
        return ""
    return (
        f"UNDETERMINED: whether {', '.join(planned.undecided)} can be begun hangs on hours that "
        "are not known. Get better weather and ask again."
    )


def eased(planned: Planned) -> list[str]:
    """Return what would let all be laid, a line each."""
    if not planned.best.left_out:
        return []
    told = [f"{each.text[0].upper()}{each.text[1:]}." for each in planned.eased.found]
    if not planned.eased.all_tried:
        told.append("Not every easing could be tried in the time given (--seconds).")
    return told or ["No single rule is at fault: eased alone, none lets everything be laid."]
