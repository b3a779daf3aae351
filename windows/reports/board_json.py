"""The board as a plain dictionary, for JSON: SI, UTC; its schema, and the way back."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from importlib.resources import files
from math import isfinite
from pathlib import PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any

import pandas as pd

from windows.board.promise import Promise
from windows.errors import OutputError
from windows.reports.as_json import utc_text
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from enum import Enum

    from windows.board.result import (
        Assignment,
        Board,
        BoardProof,
        BoardSite,
        DayStrip,
        Deadline,
        StripHour,
        Work,
    )
    from windows.decision import Decision
    from windows.found import Tightest
    from windows.odds.chance import Chance
    from windows.plan import Placement

__all__ = ["MARGIN_UNITS", "SCHEMA", "board_dict", "board_schema", "promises_of"]

SCHEMA = 1
"""The version of the form; another one where a key goes, or means something else."""

MARGIN_UNITS = {
    "temperature": "K", "difference": "K", "fraction": "1", "speed": "m/s", "water": "mm",
    "drying": "mm/h", "angle": "deg", "time": "h",
}  # fmt: skip
"""Unit of a gate's margin by the dimension of its limit."""


@cache
def board_schema() -> str:
    """Return the JSON Schema (draft 2020-12) of `board_dict`, as its file has it."""
    return (files("windows.reports") / "board.schema.json").read_text(encoding="utf-8")


def board_dict(board: Board) -> dict[str, Any]:
    """Return all that a board says. A number that is not known is None, never NaN.

    The folder is told by its name alone, so that no path of a machine is handed on.
    """
    return {
        "schema": SCHEMA,
        "folder": PureWindowsPath(PurePosixPath(board.folder).name).name,
        "now": utc_text(board.now),
        "days": [day.isoformat() for day in board.days],
        "crews": [
            {
                "name": crew.name,
                "skills": list(crew.skills),
                "equipment": list(crew.equipment),
                "idle": [
                    {"day": day.isoformat(), "why": why} for day, why in sorted(crew.idle.items())
                ],
            }
            for crew in board.crews
        ],
        "sites": [_site(site) for site in board.sites],
        "assignments": [_assignment(each) for each in board.assignments],
        "undone": [
            {
                "site": each.site,
                "piece": each.piece,
                "layer": each.layer + 1,
                "layer_name": each.layer_name,
                "reason": each.reason,
            }
            for each in board.undone
        ],
        "deadlines": [_deadline(each) for each in board.deadlines],
        "moved": [
            {
                "site": each.site,
                "piece": each.piece,
                "layer_name": each.layer_name,
                "was": each.was,
                "now": each.now,
                "why": each.why,
            }
            for each in board.moved
        ],
        "faults": [{"where": each.where, "text": each.text} for each in board.faults],
        "proof": None if board.proof is None else _proof(board.proof),
        "currency": board.currency,
        "area_m2": _number(board.area_m2),
        "expected_m2": _number(board.expected_m2),
        "governs": GOVERNS,
    }


def _name(value: Enum) -> str:
    """Return the name of a member: it stays when the words for people change."""
    return value.name.lower()


def _number(value: float | None, decimals: int = 4) -> float | None:
    return None if value is None or not isfinite(value) else round(float(value), decimals)


def _site(site: BoardSite) -> dict[str, Any]:
    return {
        "key": site.key,
        "name": site.name,
        "timezone": site.zone.key,
        "state": _name(site.state),
        "system": site.system,
        "weather": site.weather,
        "issued": utc_text(site.issued),
        "stale": site.stale,
        "laid": site.laid,
        "layers": site.layers,
        "notes": list(site.notes),
        "outlook": [
            {
                "day": each.day.isoformat(),
                "workable": _number(each.workable),
                "years": each.years,
            }
            for each in site.outlook
        ],
        "strips": [_strip(strip) for strip in site.strips],
    }


def _strip(strip: DayStrip) -> dict[str, Any]:
    return {
        "day": strip.day.isoformat(),
        "layer_name": strip.layer_name,
        "coating": strip.coating,
        "hours": [_hour(hour) for hour in strip.hours],
    }


def _hour(hour: StripHour) -> dict[str, Any]:
    return {
        "start": utc_text(hour.start),
        "state": hour.state,
        "why": list(hour.why),
        "crew": hour.crew,
        "air_temp_c": _number(hour.air_temp_c),
        "surface_temp_c": _number(hour.surface_temp_c),
        "dew_point_c": _number(hour.dew_point_c),
        "wind_m_s": _number(hour.wind_m_s),
        "rain_mm": _number(hour.rain_mm),
        "rain_prob": _number(hour.rain_prob),
        "chance": _number(hour.chance),
        "rain_prob_block_h": _number(hour.rain_prob_block_h),
        "rain_block_h": _number(hour.rain_block_h),
    }


def _assignment(each: Assignment) -> dict[str, Any]:
    return {
        "crew": each.crew,
        "site": each.site,
        "day": each.day.isoformat(),
        "arrive": utc_text(each.arrive),
        "leave": utc_text(each.leave),
        "drive_h": _number(each.drive_h),
        "works": [_work(work) for work in each.works],
        "decision": None if each.decision is None else _decision(each.decision),
        "cautions": [{"text": c.text, "source": c.source} for c in each.cautions],
    }


def _work(work: Work) -> dict[str, Any]:
    return {
        **_placement(work.placement),
        "chance": _chance(work.chance),
        "tightest": None if work.tightest is None else _tightest(work.tightest),
        "promised": work.promised,
    }


def _placement(placed: Placement) -> dict[str, Any]:
    return {
        "piece": placed.piece,
        "section": placed.section,
        "area_m2": _number(placed.area_m2),
        "layer": placed.layer + 1,
        "layer_name": placed.layer_name,
        "coating": placed.coating,
        "start": utc_text(placed.start),
        "end": utc_text(placed.end),
        "opens": utc_text(placed.opens),
        "cover_by": utc_text(placed.due),
        "spare_shift": placed.spare,
    }


def _chance(chance: Chance) -> dict[str, Any]:
    return {
        "low": _number(chance.low),
        "estimate": _number(chance.estimate),
        "high": _number(chance.high),
        "method": _name(chance.method),
    }


def _tightest(tight: Tightest) -> dict[str, Any]:
    rule = tight.gate.rule
    return {
        "gate": rule.name,
        "quantity": rule.quantity,
        "margin": _number(tight.margin),
        "unit": MARGIN_UNITS.get(rule.dimension, rule.dimension),
    }


def _decision(decision: Decision) -> dict[str, Any]:
    return {
        "verdict": _name(decision.verdict),
        "stop_at": utc_text(decision.stop_at),
        "break_even": _number(decision.break_even),
        "lost_low": _number(decision.lost_low),
        "lost": _number(decision.lost),
        "lost_high": _number(decision.lost_high),
        "cost_go": _number(decision.cost_go, 2),
        "cost_wait": _number(decision.cost_wait, 2),
        "cost_best": _number(decision.cost_best, 2),
        "regret_go": _number(decision.regret_go, 2),
        "regret_wait": _number(decision.regret_wait, 2),
        "decide_by": utc_text(decision.decide_by),
    }


def _deadline(each: Deadline) -> dict[str, Any]:
    return {
        "site": each.site,
        "piece": each.piece,
        "layer_name": each.layer_name,
        "laid": each.laid,
        "due": utc_text(each.due),
        "cover": utc_text(each.cover),
        "crew": each.crew,
        "chance": None if each.chance is None else _chance(each.chance),
        "danger": _name(each.danger),
    }


def _proof(proof: BoardProof) -> dict[str, Any]:
    return {
        "worth": _number(proof.worth, 2),
        "bound": _number(proof.bound, 2),
        "optimal": proof.optimal,
        "equal_pieces_in_order": proof.in_order,
        "gap": _number(proof.gap),
        "seconds": _number(proof.seconds, 3),
    }


def promises_of(text: str, place: str) -> tuple[Promise, ...]:
    """Return what an earlier board promised, from its JSON; its own writer is `board_dict`.

    Parameters
    ----------
    text
        The file's.
    place
        Names the file in the fault.

    Raises
    ------
    OutputError
        If the text is no board, or one of another form.
    """
    mend = "name another file, or delete it to begin anew"
    try:
        told = json.loads(text)
        version = told["schema"]
        if type(version) is not int:
            raise TypeError("a board without the version of its form")
        found = tuple(
            _promise(each, work)
            for each in (told["assignments"] if version == SCHEMA else ())
            for work in each["works"]
        )
    except (LookupError, TypeError, AttributeError, ArithmeticError, ValueError, RecursionError):
        raise OutputError(f"{place}: is not a board of dewgap board --json; {mend}") from None
    if version != SCHEMA:
        raise OutputError(
            f"{place}: is a board of form {version}, and this version reads form {SCHEMA}; {mend}"
        )
    return found


def _promise(assignment: dict[str, Any], work: dict[str, Any]) -> Promise:
    def text(of: dict[str, Any], name: str) -> str:
        if not isinstance(of[name], str):
            raise TypeError(f"{name} is no text")
        return str(of[name])

    start, end = (pd.Timestamp(text(work, name)).tz_convert("UTC") for name in ("start", "end"))
    if not start < end:  # NaT is not before anything
        raise ValueError("a promise without its hours")
    layer = work["layer"]
    if type(layer) is not int or layer < 1:
        raise ValueError("a promise without its layer")
    return Promise(
        crew=text(assignment, "crew"),
        site=text(assignment, "site"),
        piece=text(work, "piece"),
        section=text(work, "section"),
        layer=layer - 1,
        layer_name=text(work, "layer_name"),
        start=start,
        end=end,
        day=date.fromisoformat(text(assignment, "day")),
        area_m2=float(work["area_m2"]),
        coating=text(work, "coating"),
    )
