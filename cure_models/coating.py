"""Coatings: a profile resolved to SI limits, for one method, film and end of its ranges."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Literal

from cure_models.errors import ProfileError
from cure_models.limits import GATE_RULES, MILESTONES, GateRule
from cure_models.profile import Law, Profile, Sourced

__all__ = [
    "LIMIT_DECIMALS",
    "Coating",
    "Gate",
    "Limits",
    "Method",
    "RateParameters",
    "Reference",
    "resolve",
]

Method = Literal["spray", "roller"]
Limits = Literal["generic", "careful"]

LIMIT_DECIMALS = 4
"""Decimals to which limits and conditions are rounded before they are compared."""


@dataclass(frozen=True)
class Gate:
    """One limit in SI, ready to be checked.

    ``milestone`` ends a hold at a state of cure, ``clock_h`` after clock hours from the start of
    the placement hour; both are None for a placement gate or a caution.
    """

    rule: GateRule
    limit: float
    milestone: str | None
    clock_h: float | None
    sourced: Sourced
    clock_sourced: Sourced | None

    @property
    def name(self) -> str:
        """Name of the gate, for example ``"spread_min"``."""
        return self.rule.name


@dataclass(frozen=True)
class RateParameters:
    """Parameters of a rate law, SI; those that the law does not use are NaN."""

    law: Law
    cap: float
    temp_min_c: float
    humidity_stop: float
    activation_energy_kj_mol: float
    thickness_exponent: float


@dataclass(frozen=True)
class Reference:
    """The condition and film at which the rate is one."""

    temp_c: float
    rel_humidity: float
    roof_wind_m_s: float
    dry_film_um: float


@dataclass(frozen=True)
class Coating:
    """A profile resolved to SI for one method, film and end of the ranges."""

    profile: Profile
    method: Method
    limits: Limits
    dry_film_um: float
    reference: Reference
    rate: RateParameters
    absorptance: float
    emittance: float
    gates: tuple[Gate, ...]
    cautions: tuple[Gate, ...]
    milestones: dict[str, float]
    milestone_clock_min_h: dict[str, float]
    deadlines_h: dict[str, float]
    min_window_h: int

    @property
    def name(self) -> str:
        """Name of the profile."""
        return self.profile.name


def resolve(
    profile: Profile,
    *,
    method: Method = "spray",
    limits: Limits = "generic",
    dry_film_um: float | None = None,
) -> Coating:
    """Resolve a profile to SI limits.

    Parameters
    ----------
    profile
        The profile, from `load_profile`.
    method
        How the coating is laid; decides which wind limit applies.
    limits
        ``"generic"`` takes each value, ``"careful"`` the end of its range that allows less.
    dry_film_um
        Dry film of the coat, default the profile's. [um]

    Raises
    ------
    ProfileError
        If ``dry_film_um`` is not above zero.
    """
    own_film = profile.film["dry_per_coat"]
    reference_film = (profile.reference.dry_film or own_film).si
    film = own_film.si if dry_film_um is None else dry_film_um
    if not 0 < film < float("inf"):
        raise ProfileError(f"dry film of {film:g} um: it must be above zero")
    longest: Literal["value", "hi"] = "hi" if limits == "careful" else "value"
    rate = {key: entry.si for key, entry in profile.rate.items()}
    nan = float("nan")
    return Coating(
        profile=profile,
        method=method,
        limits=limits,
        dry_film_um=film,
        reference=Reference(
            profile.reference.temperature.si,
            profile.reference.humidity.si,
            profile.reference.roof_wind.si,
            reference_film,
        ),
        rate=RateParameters(
            law=profile.law,
            cap=rate["cap"],
            temp_min_c=rate.get("film_temp_min", rate.get("temp_min", nan)),
            humidity_stop=rate.get("humidity_stop", nan),
            activation_energy_kj_mol=rate.get("activation_energy", nan),
            thickness_exponent=rate["thickness_exponent"],
        ),
        absorptance=profile.film["absorptance"].si,
        emittance=profile.film["emittance"].si,
        gates=_gates(profile, profile.gates, method, limits),
        cautions=_gates(profile, profile.cautions, method, limits),
        milestones={
            name: profile.milestones[name].end(longest)
            for name in MILESTONES if name in profile.milestones
        },
        milestone_clock_min_h={
            name: entry.end(longest) for name, entry in profile.milestone_clock_min.items()
        },
        deadlines_h={
            name: entry.end("lo" if limits == "careful" else "value")
            for name, entry in profile.deadlines.items()
        },
        min_window_h=max(1, ceil(profile.min_window.si)),
    )  # fmt: skip


def _gates(
    profile: Profile, entries: dict[str, Sourced], method: Method, limits: Limits
) -> tuple[Gate, ...]:
    """Return the gates of a method in the order of the vocabulary."""
    gates = []
    for name, rule in GATE_RULES.items():
        entry, clock = entries.get(rule.limit_of or name), profile.clock_holds.get(name)
        if entry is None or rule.method not in (None, method) or (rule.limit_of and clock is None):
            continue
        careful: Literal["lo", "hi"] = "hi" if rule.sense == "min" else "lo"
        # To the decimals of the conditions, so that a value equal to its limit passes in any unit.
        limit = round(entry.end(careful if limits == "careful" else "value"), LIMIT_DECIMALS)
        clock_h = None if clock is None else clock.end("hi" if limits == "careful" else "value")
        gates.append(Gate(rule, limit, rule.until, clock_h, entry, clock))
    return tuple(gates)
