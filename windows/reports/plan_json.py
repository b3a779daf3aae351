"""Plans as plain dictionaries and tables, for JSON and CSV: SI, UTC; and the way back."""

from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING, Any

import pandas as pd

from windows.errors import OutputError
from windows.plan import Placement
from windows.reports.as_json import sourced_dict, utc_text, weather_dict
from windows.reports.sheets import Sheet, sheet_csv
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from windows.layers import SystemHours
    from windows.plan import Plan
    from windows.planner import Planned
    from windows.replan import Moved
    from windows.reports.sheets import Cell

__all__ = ["placements_of", "plan_csv", "plan_sheet", "planned_dict"]

_COLUMNS = (
    "day", "section", "layer", "layer_name", "coating", "area_m2", "start_local", "end_local",
    "start_utc", "end_utc", "opens_utc", "cover_by_utc", "spare_shift",
)  # fmt: skip


def planned_dict(
    planned: Planned, system: SystemHours, moved: Sequence[Moved] = ()
) -> dict[str, Any]:
    """Return the best plan, the crews' rules beside it, and what moved since an earlier plan."""
    return {
        "site": system.site.name,
        "timezone": system.site.zone.key,
        "system": system.system.name,
        "plan": _plan(planned.best),
        "crew_rules": [_plan(plan) for plan in planned.crews],
        "relaxations": [{"rule": r.rule, "text": r.text} for r in planned.eased.found],
        "moved": [
            {
                "piece": m.piece,
                "layer": m.layer + 1,
                "layer_name": m.layer_name,
                "from": utc_text(m.before),
                "to": utc_text(m.after),
                "why": m.why,
            }
            for m in moved
        ],
        "weak_deadlines": [
            {"layer_name": w.layer_name, "deadline": w.name, "value": sourced_dict(w.sourced)}
            for w in planned.weak
        ],
        "cautions": [{"text": c.text, "source": c.source} for c in planned.cautions],
        "weather": weather_dict(system.hours),
        "governs": GOVERNS,
    }


def _plan(plan: Plan) -> dict[str, Any]:
    figures, proof = plan.figures, plan.proof
    return {
        "rule": plan.rule,
        "placements": [_placement(each) for each in plan.placements],
        "left_out": [
            {
                "piece": each.piece,
                "layer": each.layer + 1,
                "layer_name": each.layer_name,
                "reason": each.reason,
            }
            for each in plan.left_out
        ],
        "figures": {
            "placed": figures.placed,
            "of": figures.of,
            "finish": utc_text(figures.finish),
            "finish_days": figures.finish_days,
            "exposure_m2_days": figures.exposure_m2_days,
            "moves": figures.moves,
            "shifts": figures.shifts,
            "extra_days": figures.extra_days,
            "without_spare": figures.without_spare,
            "stranded": figures.stranded,
            "cost": figures.cost,
        },
        "proof": None if proof is None
        else {
            "most_laid": proof.most_laid,
            "optimal": proof.optimal,
            "equal_pieces_in_order": proof.in_order,
            "cost": proof.cost,
            "bound": proof.bound,
            "gap": proof.gap,
            "seconds": round(proof.seconds, 3),
        },
    }  # fmt: skip


def _placement(each: Placement) -> dict[str, Any]:
    return {
        "piece": each.piece,
        "section": each.section,
        "area_m2": each.area_m2,
        "layer": each.layer + 1,
        "layer_name": each.layer_name,
        "coating": each.coating,
        "shift": each.shift.isoformat(),
        "start": utc_text(each.start),
        "end": utc_text(each.end),
        "opens": utc_text(each.opens),
        "cover_by": utc_text(each.due),
        "spare_shift": each.spare,
    }


def placements_of(text: str, place: str, *, site: str, system: str) -> tuple[Placement, ...]:
    """Return the placements of an earlier plan from its JSON; its own writer is `planned_dict`.

    Raises
    ------
    OutputError
        If the text is no such plan, or one of another site or system.
    """
    mend = "name another file, or delete it to begin anew"
    try:
        told = json.loads(text)
        same = (told["site"], told["system"]) == (site, system)
        found = tuple(_read(each) for each in told["plan"]["placements"]) if same else ()
    except (LookupError, TypeError, AttributeError, ArithmeticError, ValueError, RecursionError):
        raise OutputError(f"{place}: is not a plan of dewgap plan --keep; {mend}") from None
    if not same:
        raise OutputError(
            f"{place}: is a plan of '{told['system']}' for '{told['site']}', not of '{system}' for "
            f"'{site}'; {mend}"
        )
    return found


def _read(told: dict[str, Any]) -> Placement:
    def moment(name: str) -> pd.Timestamp | None:
        return None if told[name] is None else pd.Timestamp(told[name]).tz_convert("UTC")

    start, end = moment("start"), moment("end")
    if start is None or end is None or pd.isna(start) or pd.isna(end) or told["layer"] < 1:
        raise ValueError("a placement without a time or a layer")
    return Placement(
        piece=str(told["piece"]),
        section=str(told["section"]),
        area_m2=float(told["area_m2"]),
        layer=int(told["layer"]) - 1,
        layer_name=str(told["layer_name"]),
        coating=str(told["coating"]),
        shift=date.fromisoformat(told["shift"]),
        start=start,
        end=end,
        opens=moment("opens"),
        due=moment("cover_by"),
        spare=told["spare_shift"],
    )


def plan_csv(plan: Plan, zone: ZoneInfo) -> str:
    """Return the placements as CSV, one row each, in the order of their start."""
    return sheet_csv(plan_sheet(plan, zone))


def plan_sheet(plan: Plan, zone: ZoneInfo) -> Sheet:
    """Return the placements, one row each, in the order of their start."""
    rows: list[tuple[Cell, ...]] = []
    for each in plan.placements:
        local = [t.tz_convert(zone).isoformat() for t in (each.start, each.end)]
        spare = None if each.spare is None else ("yes" if each.spare else "no")
        rows.append(
            (
                each.shift, each.piece, each.layer + 1, each.layer_name, each.coating,
                round(each.area_m2, 3), *local, utc_text(each.start), utc_text(each.end),
                utc_text(each.opens), utc_text(each.due), spare,
            )
        )  # fmt: skip
    return Sheet("Plan", _COLUMNS, tuple(rows))
