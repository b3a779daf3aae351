"""Results as plain dictionaries, for JSON: SI, UTC, names as in the audit table."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

from windows.safety import GOVERNS

if TYPE_CHECKING:
    import pandas as pd

    from cure_models.coating import Coating, Gate
    from cure_models.sourced import Sourced
    from windows.found import AtRisk, Window
    from windows.hours import HourlyTable
    from windows.job import Job

__all__ = [
    "coating_dict", "job_dict", "known_or_none", "sourced_dict", "utc_text", "weather_dict",
]  # fmt: skip


def utc_text(when: pd.Timestamp | None) -> str | None:
    """Return a time as every JSON and CSV here has it, None where there is none."""
    return None if when is None else f"{when:%Y-%m-%dT%H:%M:%SZ}"


def sourced_dict(entry: Sourced) -> dict[str, Any]:
    """Return a sourced number: its SI value, range, basis and source, and as it was given."""
    return {"si": entry.si} | _source(entry)


def _source(entry: Sourced) -> dict[str, Any]:
    return {
        "range": [entry.end("lo"), entry.end("hi")],
        "basis": entry.basis,
        "source": entry.source,
        "as_given": {"value": entry.value, "lo": entry.low, "hi": entry.high, "unit": entry.unit},
    }


def _gate(gate: Gate) -> dict[str, Any]:
    rule = gate.rule
    told: dict[str, Any] = {
        "name": gate.name,
        "kind": rule.kind,
        "quantity": rule.quantity,
        "sense": rule.sense,
        "limit": gate.limit,
        "inclusive": rule.inclusive,
    }
    if gate.milestone is not None:
        told["milestone"] = gate.milestone
    if gate.clock_h is not None:
        told["clock_h"] = gate.clock_h
    told |= {"label": rule.label, "why": rule.why} | _source(gate.sourced)
    if gate.clock_sourced is not None:
        told["clock_h_source"] = _source(gate.clock_sourced)
    return told


def coating_dict(coating: Coating) -> dict[str, Any]:
    """Return a resolved coating: with the audit table, all that an outsider needs to recompute.

    A placement gate passes where its quantity is on the ``sense`` side of its limit, a value equal
    to it included unless ``inclusive`` is false. A hold must pass in every hour from the start of
    the placement hour to its ``milestone``, or for ``clock_h`` hours from that start. Milestones
    are equivalent hours of cure from the end of the placement hour: up to ``first_stage_h`` by the
    audit table's ``cure_rate``, what is more by its ``cure_rate_late`` from that moment on.
    Deadlines count from the start of the placement hour.
    """
    profile, ref = coating.profile, coating.reference
    return {
        "name": coating.name,
        "title": profile.title,
        "based_on": profile.based_on,
        "generic": profile.generic,
        "family": profile.family,
        "roles": list(profile.roles),
        "water_based": profile.water_based,
        "mechanism": profile.law,
        "uv_stable": profile.uv_stable,
        "slick_when_wet": profile.slick_when_wet,
        "hazards": list(profile.hazards),
        "may_go_over_it": list(profile.may_go_over_it),
        "method": coating.method,
        "limits": coating.limits,
        "reference": {
            "temp_c": ref.temp_c,
            "rel_humidity": ref.rel_humidity,
            "roof_wind_m_s": ref.roof_wind_m_s,
            "dry_film_um": ref.dry_film_um,
        },
        "dry_film_um": coating.dry_film_um,
        "first_stage_h": coating.first_stage_h,
        "gates": [_gate(gate) for gate in coating.gates],
        "cautions": [_gate(gate) for gate in coating.cautions],
        "milestones": coating.milestones,
        "milestone_sources": {
            name: _source(profile.milestones[name]) for name in coating.milestones
        },
        "milestone_clock_min_h": coating.milestone_clock_min_h,
        "milestone_clock_min_sources": {
            name: _source(entry) for name, entry in profile.milestone_clock_min.items()
        },
        "deadlines_clock_h": coating.deadlines_h,
        "cover_by_dose_sed": coating.cover_by_dose_sed,
        "deadline_sources": {n: _source(entry) for n, entry in profile.deadlines.items()},
        "min_window_h": coating.min_window_h,
        "film": {n: sourced_dict(e) for n, e in profile.film.items()},
        "rate": {n: sourced_dict(e) for n, e in profile.rate.items()},
        "notes": list(profile.notes),
        "site_checks": [
            "gate_crew_hours: BLOCKED where the hour is not wholly inside a shift of the site",
            "gate_crew_safety: BLOCKED where a safety stop of the site applies",
        ],
    }


def _window(window: Window) -> dict[str, Any]:
    tight = window.tightest
    return {
        "number": window.number,
        "start": utc_text(window.start),
        "end": utc_text(window.end),
        "hours": window.hours,
        "tightest_gate": None if tight is None else tight.gate.name,
        "tightest_margin": None if tight is None else round(tight.margin, 4),
        "tightest_quantity": None if tight is None else tight.gate.rule.quantity,
        "robust": window.robust,
        "decided_by": [gate.name for gate in window.decided_by],
        "undecided": [gate.name for gate in window.undecided],
        "first_hour_milestones": {name: utc_text(t) for name, t in window.first.items()},
        "last_hour_milestones": {name: utc_text(t) for name, t in window.last.items()},
        "stop": None if window.stop is None
        else {
            "at": utc_text(window.stop.at),
            "gate": window.stop.gate.name,
            "hazard": utc_text(window.stop.hazard),
            "hazard_known": window.stop.known,
        },
        "rain_likely": window.rain_likely,
        "dry_chance_bounds": None if window.dry_chance is None else list(window.dry_chance),
        "cautions": [{"text": c.text, "source": c.source} for c in window.cautions],
    }  # fmt: skip


def _risk(risk: AtRisk) -> dict[str, Any]:
    return {
        "start": utc_text(risk.start),
        "end": utc_text(risk.end),
        "hours": risk.hours,
        "gate": risk.gate.name,
        "hazard": utc_text(risk.hazard),
        "milestone": risk.gate.milestone,
        "milestone_at": utc_text(risk.safe),
    }


def weather_dict(hours: HourlyTable) -> dict[str, Any]:
    """Return where hours come from, how old they are, and what speaks against them."""
    told, where = hours.provenance, hours.provenance.location
    return {
        "source": told.source,
        "place": told.place,
        "read_as": told.read_as,
        "kind": told.kind,
        "issued": utc_text(told.issued),
        "retrieved": utc_text(told.retrieved),
        "stale": told.stale,
        "location": None if where is None
        else {
            "name": where.name,
            "latitude": where.latitude,
            "longitude": where.longitude,
            "elevation_m": where.elevation_m,
        },
        "attribution": told.attribution,
        "first_hour": utc_text(hours.index[0]),
        "last_hour": utc_text(hours.index[-1]),
        "runs": max((len(runs) for runs in hours.members.values()), default=1),
        "notes": list(told.notes),
        "warnings": list(hours.warnings),
    }  # fmt: skip


def job_dict(job: Job) -> dict[str, Any]:
    """Return the result of one coating at one site."""
    found = job.found
    return {
        "site": job.site.name,
        "timezone": job.site.zone.key,
        "coating": job.coating.name,
        "generic": job.coating.profile.generic,
        "method": job.coating.method,
        "limits": job.coating.limits,
        "weather": weather_dict(job.hours),
        "crew_hours": found.crew_hours,
        "windows": [_window(window) for window in found.windows],
        "provisional": [
            {
                "start": utc_text(run.start),
                "end": utc_text(run.end),
                "hours": run.hours,
                "missing": list(run.missing),
            }
            for run in found.provisional
        ],
        "at_risk": [_risk(risk) for risk in found.at_risk],
        "lost_hours": [
            {
                "gate": lost.name,
                "together": lost.blocked,
                "alone": lost.alone,
                "unknown": lost.unknown,
            }
            for lost in found.lost
        ],
        "governs": GOVERNS,
    }


def known_or_none(value: float) -> float | None:
    """Return a number, None for one that is not known or has no bound."""
    return value if isfinite(value) else None
