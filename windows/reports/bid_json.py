"""A bid as JSON: SI, ISO dates."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from windows.reports.as_json import known_or_none, weather_dict
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from datetime import date

    from windows.reports.bid_sheets import Asked
    from windows.seasons.bid_result import Bid, StartWeek

__all__ = ["bid_dict"]


def bid_dict(bid: Bid, asked: Asked) -> dict[str, Any]:
    """Return a bid as plain data."""
    best = bid.best_start(asked.today)
    last = bid.last_safe_start(asked.today, asked.by)
    return {
        "site": bid.site.name,
        "system": bid.system.name,
        "limits": bid.limits,
        "start": None if asked.start is None else asked.start.isoformat(),
        "parts": [{"name": piece.name, "area_m2": piece.area_m2} for piece in bid.pieces],
        "years": weather_dict(bid.hours),
        "known": bid.known,
        "left_out": [f"{year}-{month:02d}" for year, month in bid.left_out],
        "finish_by": None if asked.by is None else asked.by.isoformat(),
        "best_start": None if best is None else best[0].isoformat(),
        "last_safe_start": None if last is None else last.isoformat(),
        "start_weeks": [_week(bid, m, week, asked) for m, week in bid.mondays(asked.today)],
        "notes": list(bid.notes),
        "governs": GOVERNS,
    }


def _week(bid: Bid, monday: date, week: StartWeek, asked: Asked) -> dict[str, Any]:
    chance = None if asked.by is None else known_or_none(week.chance_by(monday, asked.by))
    return {
        "monday": monday.isoformat(),
        "iso_week": week.number,
        "calendar_days": asdict(week.duration),
        "finish_days_after_monday": asdict(week.finish),
        "chance_by": chance,
        "crew_days": known_or_none(week.crew_days),
        "divided_days": known_or_none(week.divided_days),
        "chance_before_midwinter": known_or_none(bid.before_winter(monday, week)),
        "chance_left_over_winter": known_or_none(week.leaves_over_winter),
        "chance_stranded": known_or_none(week.strands),
        "by_year": [
            {"year": year, "calendar_days": days, "open": is_open}
            for year, days, is_open in week.by_year()
        ],
    }
