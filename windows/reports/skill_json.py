"""Forecast skill as JSON: SI, UTC."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from windows.reports.as_json import known_or_none, utc_text, weather_dict
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from windows.skill.score import LeadError, RainSkill, Skill

__all__ = ["skill_dict"]


def skill_dict(skill: Skill) -> dict[str, Any]:
    """Return forecast skill as plain data; a lead day of null is all of them together."""
    learnt = skill.recalibration
    return {
        "site": skill.site.name,
        "source": skill.source,
        "issued": [utc_text(when) for when in skill.issued],
        "observed": weather_dict(skill.observed),
        "scored": skill.scored,
        "left_out": [{"file": str(each.path), "why": each.text} for each in skill.unread],
        "other_sources": skill.others,
        "air_temp_k": [_error(day) for day in skill.air],
        "dew_point_k": [_error(day) for day in skill.dew],
        "rain": [_rain(each) for each in skill.rain],
        "goes": [
            {
                "coating": goes.coating,
                "days": [asdict(day) for day in goes.days],
                "broke": [{"gate": name, "hours": hours} for name, hours in goes.broke],
            }
            for goes in skill.goes
        ],
        "recalibration": {
            "days": [asdict(fit) for fit in learnt.days],
            "rain": None if learnt.rain is None else asdict(learnt.rain),
            "lacking": list(learnt.lacking),
        },
        "governs": GOVERNS,
    }


def _error(day: LeadError) -> dict[str, Any]:
    return {
        "lead_day": day.lead_day,
        "issue_days": day.issue_days,
        "told_hours": day.told,
        "both_share": known_or_none(day.both),
    } | _known(asdict(day.error))


def _rain(each: RainSkill) -> dict[str, Any]:
    return {
        "way": each.kind.way,
        "hours": each.kind.hours,
        "lead_day": each.lead_day,
        "not_observed": each.not_observed,
        "in_sums": each.in_sums,
        "brier": _known(asdict(each.brier)),
        "bins": [_known(asdict(bar)) for bar in each.bins],
    }


def _known(numbers: dict[str, float]) -> dict[str, float | None]:
    return {name: known_or_none(value) for name, value in numbers.items()}
