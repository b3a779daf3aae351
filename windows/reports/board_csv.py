"""The board's work as CSV: a row for each layer that a crew lays, SI, with its odds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.reports.as_json import utc_text
from windows.reports.board_json import MARGIN_UNITS
from windows.reports.board_table import is_stale
from windows.reports.sheets import Sheet, sheet_csv

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    import pandas as pd

    from windows.board.result import Assignment, Board, BoardSite, Work
    from windows.decision import Decision
    from windows.reports.sheets import Cell

__all__ = ["board_csv", "board_sheet"]

_COLUMNS = (
    "day", "crew", "site", "site_name", "piece", "section", "layer", "layer_name", "coating",
    "area_m2", "start_local", "end_local", "start_utc", "end_utc", "arrive_local", "leave_local",
    "arrive_utc", "leave_utc", "drive_h", "chance_low", "chance_estimate", "chance_high",
    "chance_method", "tightest_gate", "tightest_margin", "tightest_unit", "opens_utc",
    "cover_by_utc", "promised", "verdict", "stop_at_local", "stop_at_utc", "decide_by_local",
    "decide_by_utc", "cautions", "stale_weather",
)  # fmt: skip


def board_csv(board: Board) -> str:
    """Return the board's work as CSV; what is not known, or not there, is empty."""
    return sheet_csv(board_sheet(board))


def board_sheet(board: Board) -> Sheet:
    """Return the board's work, one row each, in the order of the board.

    Local times are on the clock of the site.
    """
    rows = tuple(
        _row(each, work, board.site(each.site)) for each in board.assignments for work in each.works
    )
    return Sheet("Board", _COLUMNS, rows)


def _row(each: Assignment, work: Work, site: BoardSite) -> tuple[Cell, ...]:
    placed, chance, tight = work.placement, work.chance, work.tightest
    gate: tuple[Cell, ...] = (None, None, None)
    if tight is not None:
        rule = tight.gate.rule
        gate = (rule.name, tight.margin, MARGIN_UNITS.get(rule.dimension, rule.dimension))
    return (
        each.day, each.crew, site.key, site.name, placed.piece, placed.section, placed.layer + 1,
        placed.layer_name, placed.coating, placed.area_m2,
        *_times(site.zone, placed.start, placed.end), *_times(site.zone, each.arrive, each.leave),
        each.drive_h, chance.low, chance.estimate, chance.high, chance.method.value, *gate,
        utc_text(placed.opens), utc_text(placed.due), "yes" if work.promised else "no",
        *_decision(each.decision, site.zone), " ".join(c.text for c in each.cautions),
        "yes" if is_stale(site) else "no",
    )  # fmt: skip


def _times(zone: ZoneInfo, *times: pd.Timestamp) -> list[str | None]:
    """Return times on a clock, then the same in UTC."""
    return [_local(when, zone) for when in times] + [utc_text(when) for when in times]


def _local(when: pd.Timestamp | None, zone: ZoneInfo) -> str | None:
    return None if when is None else when.floor("s").tz_convert(zone).isoformat()


def _decision(decision: Decision | None, zone: ZoneInfo) -> tuple[Cell, ...]:
    if decision is None:
        return (None, None, None, None, None)
    stop, by = decision.stop_at, decision.decide_by
    return (decision.verdict.value, *_times_or_none(stop, zone), *_times(zone, by))


def _times_or_none(when: pd.Timestamp | None, zone: ZoneInfo) -> tuple[Cell, Cell]:
    return _local(when, zone), utc_text(when)
