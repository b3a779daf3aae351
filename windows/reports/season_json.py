"""A season as JSON: SI, UTC, ISO dates."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from windows.reports.as_json import known_or_none, weather_dict
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from windows.seasons.season import PartOfYear, Season
    from windows.seasons.statistics import Spread

__all__ = ["season_dict"]


def season_dict(season: Season) -> dict[str, Any]:
    """Return a season as plain data."""
    return {
        "site": season.site.name,
        "coating": season.coating.name,
        "limits": season.coating.limits,
        "min_window_h": season.coating.min_window_h,
        "years": weather_dict(season.hours),
        "months": [_part(part) for part in season.months],
        "weeks": [_part(part) for part in season.weeks],
        "season_years": [
            {
                "year": each.year,
                "first_practical_day": None if each.first is None else each.first.isoformat(),
                "last_practical_day": None if each.last is None else each.last.isoformat(),
                "workable_days": each.workable,
                "broken": each.is_broken,
            }
            for each in season.years
        ],
        "practical_day_of_season_year": {
            "first": _spread(season.first), "last": _spread(season.last), "never": season.never,
        },
        "left_out": [f"{year}-{month:02d}" for year, month in season.short_months],
        "trends_per_decade": {
            "air_temp_k": None if season.warming is None else asdict(season.warming),
            "workable_days": None if season.gaining is None else asdict(season.gaining),
        },
        "governs": GOVERNS,
    }


def _part(part: PartOfYear) -> dict[str, Any]:
    return {
        "number": part.number,
        "years": list(part.years),
        "left_out": list(part.left_out),
        "known": part.known,
        "work_days": known_or_none(part.scheduled),
        "crew_hours": known_or_none(part.crew_hours),
        "workable_days": _spread(part.workable),
        "valid_hours": _spread(part.valid_hours),
        "costs": [asdict(cost) for cost in part.costs],
    }


def _spread(told: Spread) -> dict[str, float | int | None]:
    return {name: known_or_none(value) for name, value in asdict(told).items()}
