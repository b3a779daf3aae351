"""Cover checks as plain dictionaries, for JSON: SI, UTC."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from windows.reports.as_json import sourced_dict, utc_text, weather_dict
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from windows.cover import Cover, Deadline, Left
    from windows.layers import SystemHours

__all__ = ["cover_dict"]


def cover_dict(cover: Cover, system: SystemHours) -> dict[str, Any]:
    """Return the check of one laid layer."""
    return {
        "layer": cover.layer + 1,
        "layer_name": system.system.layers[cover.layer].name,
        "coating": system.jobs[cover.layer].coating.name,
        "placed": [utc_text(cover.placed_start), utc_text(cover.placed_end)],
        "now": utc_text(cover.now),
        "verdict": cover.verdict.value,
        "hazards": [{"gate": h.gate.name, "at": utc_text(h.at)} for h in cover.hazards],
        "milestones": {name: utc_text(at) for name, at in cover.milestones.items()},
        "recoat_opens": utc_text(cover.opens),
        "deadline": utc_text(cover.due),
        "deadlines": [_deadline(each) for each in cover.deadlines],
        "windows_left": [_left(each) for each in cover.left],
        "provisional": [_left(each) for each in cover.provisional],
        "data_end": utc_text(cover.data_end),
        "what_to_do": [{"text": a.text, "source": a.source} for a in cover.advice],
        "weather": weather_dict(system.hours),
        "governs": GOVERNS,
    }


def _deadline(deadline: Deadline) -> dict[str, Any]:
    return {
        "name": deadline.name,
        "at": utc_text(deadline.at),
        "earliest": utc_text(deadline.earliest),
        "latest": utc_text(deadline.latest),
        "firm": deadline.firm,
        "value": sourced_dict(deadline.sourced),
    }


def _left(left: Left) -> dict[str, Any]:
    return {
        "start": utc_text(left.start),
        "end": utc_text(left.end),
        "hours": left.hours,
        "dry_chance_bounds": None if left.dry_chance is None else list(left.dry_chance),
        "cautions": [{"text": c.text, "source": c.source} for c in left.cautions],
    }
