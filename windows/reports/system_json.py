"""Systems, their findings and their material as plain dictionaries, for JSON: SI."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cure_models.system_rules import needed_rates
from windows.reports.as_json import sourced_dict

if TYPE_CHECKING:
    from cure_models.system import System
    from cure_models.system_rules import Finding
    from cure_models.takeoff import TakeOff
    from windows.system_check import MonthRate

__all__ = ["finding_dict", "month_dict", "system_dict", "take_off_dict"]


def system_dict(system: System) -> dict[str, Any]:
    """Return a system: layers, intervals as they apply, and the mean cure rate that they need."""
    return {
        "name": system.name,
        "title": system.title,
        "generic": system.generic,
        "notes": list(system.notes),
        "layers": [
            {
                "number": n + 1,
                "name": layer.name,
                "coating": profile.name,
                "family": profile.family,
                "dry_film_um": layer.dry_film.si,
                "passes": layer.passes,
                "fabric": layer.fabric or None,
                "area_share": layer.area_share,
                "over": list(layer.over),
                "must_be_covered": system.must_be_covered(n),
                "same_shift": layer.next.same_shift,
                "recoat_opens": sourced_dict(profile.milestones["recoat_opens"]),
                "deadlines": {
                    name: sourced_dict(entry) for name, entry in profile.deadlines.items()
                },
            }
            for n, (layer, profile) in enumerate(
                zip(system.layers, system.profiles, strict=True)
            )
        ],
        "needed_mean_cure_rate": [
            {
                "layer": rate.layer,
                "opens_h": rate.opens_h,
                "deadline_h": rate.deadline_h,
                "rate": rate.generic,
                "range": [rate.least, rate.most],
            }
            for rate in needed_rates(system)
        ],
    }


def finding_dict(finding: Finding) -> dict[str, Any]:
    """Return what a rule says."""
    return {
        "refuses": finding.refuses,
        "rule": finding.rule,
        "layer": finding.layer,
        "reason": finding.reason,
        "source": finding.source,
    }


def month_dict(month: MonthRate) -> dict[str, Any]:
    """Return the mean cure rate of a layer in a month."""
    return {
        "layer": month.layer,
        "month": month.month,
        "hours_known": month.hours,
        "rate": month.rate,
        "needed": month.needed,
        "reaches": month.reaches,
    }


def take_off_dict(taken: TakeOff) -> dict[str, Any]:
    """Return the material of a layer."""
    return {
        "layer": taken.layer,
        "area_m2": taken.area_m2,
        "passes": taken.passes,
        "wet_um_per_pass": taken.wet_um,
        "dry_um_per_pass": taken.dry_um,
        "spread_l_m2": taken.spread_l_m2,
        "volume_l": taken.volume_l,
        "containers": taken.containers,
        "fabric_m2": taken.fabric_m2,
        "foam_m3": taken.foam_m3,
    }
