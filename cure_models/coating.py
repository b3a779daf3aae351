"""Coatings: a profile resolved to SI limits, for one method, film and end of its ranges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cure_models.drying import first_stage_hours, reference_drying
from cure_models.errors import ProfileError
from cure_models.limits import GATE_RULES, MILESTONES, GateRule
from cure_models.profile import STAGED_BY_TOUCH, Law, Profile
from cure_models.sourced import Sourced

__all__ = [
    "LIMIT_DECIMALS",
    "Coating",
    "Gate",
    "Limits",
    "Method",
    "RateParameters",
    "Reference",
    "resolve",
    "thickness_share",
]

Method = Literal["spray", "roller"]
Limits = Literal["generic", "careful", "lenient"]
End = Literal["lo", "value", "hi"]

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
    """Parameters of a rate law, SI; those that the law does not use are NaN.

    There are two activation energies, below and above the reference temperature: of a range, the
    careful end below it is the high one, above it the low one.
    """

    law: Law
    cap: float
    temp_min_c: float
    humidity_stop: float
    activation_kj_mol: float
    warm_activation_kj_mol: float
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
    """A profile resolved to SI for one method, film and end of the ranges.

    Attributes
    ----------
    profile, method, limits
        What it was resolved from; see `resolve`.
    dry_film_um
        Dry film of the coat. [um]
    reference, rate
        The condition and film at which the rate of cure is one, and the law's parameters.
    first_stage_h
        How long the first stage of the cure lasts at the reference; 0 for one stage. [h]
    absorptance, emittance
        Of the film, in sun and in the infrared. [fraction]
    gates, cautions
        Limits for the method: those that block, and those that are only told.
    milestones
        By name, hours at the reference after which a film is so far. [h]
    milestone_clock_min_h
        By the milestone's name, hours by the clock before which it is not reached. [h]
    deadlines_h
        By name, hours by the clock after which it is too late. [h]
    cover_by_dose_sed
        Ultraviolet that the bare film bears; None if it is not limited. [SED]
    min_window_h
        The shortest window in which it can be laid. [h]
    """

    profile: Profile
    method: Method
    limits: Limits
    dry_film_um: float
    reference: Reference
    rate: RateParameters
    first_stage_h: float
    absorptance: float
    emittance: float
    gates: tuple[Gate, ...]
    cautions: tuple[Gate, ...]
    milestones: dict[str, float]
    milestone_clock_min_h: dict[str, float]
    deadlines_h: dict[str, float]
    cover_by_dose_sed: float | None
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
        ``"generic"`` takes each value, ``"careful"`` the end of its range that allows less,
        ``"lenient"`` the other end: gates, milestones, deadlines, the cure law and the film's
        absorptance. Its thickness is chosen on site and is no uncertainty.
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
    least, most = _ENDS[limits]
    reference = Reference(
        profile.reference.temperature.si,
        profile.reference.humidity.si,
        profile.reference.roof_wind.si,
        reference_film,
    )
    rate = _rate_parameters(profile, least, most)
    # Not at an end: what it radiates cools a film by night and feeds it under warm cloud, so no end
    # is the careful one, and its range moves a night by 0.3 K.
    emittance = profile.film["emittance"].si
    milestones = {
        name: profile.milestones[name].end(most)
        for name in MILESTONES if name in profile.milestones
    }
    dose = profile.deadlines.get("cover_by_uv_dose")
    return Coating(
        profile=profile,
        method=method,
        limits=limits,
        dry_film_um=film,
        reference=reference,
        rate=rate,
        first_stage_h=_first_stage_h(profile, reference, emittance),
        absorptance=profile.film["absorptance"].end(least),
        emittance=emittance,
        gates=_gates(profile, profile.gates, method, limits),
        cautions=_gates(profile, profile.cautions, method, limits),
        milestones=milestones,
        milestone_clock_min_h={
            name: entry.end(most) for name, entry in profile.milestone_clock_min.items()
        },
        deadlines_h={
            name: entry.end(least)
            for name, entry in profile.deadlines.items() if name != "cover_by_uv_dose"
        },
        cover_by_dose_sed=None if dose is None else dose.end(least),
        min_window_h=profile.shortest_window_h,
    )  # fmt: skip


def _first_stage_h(profile: Profile, reference: Reference, emittance: float) -> float:
    """Return how long the first stage of the cure lasts at the reference; 0 for one stage. [h]"""
    if profile.law in STAGED_BY_TOUCH:
        return profile.milestones["touch"].si
    if profile.law != "evaporation":
        return 0.0
    drying = reference_drying(
        reference.temp_c, reference.rel_humidity, reference.roof_wind_m_s, emittance
    )
    return first_stage_hours(reference.dry_film_um, profile.film["volume_solids"].si, drying)


def thickness_share(reference_um: float, film_um: float, exponent: float) -> float:
    """Return by how much a film thicker than its reference cures slower. [fraction]

    (reference / film) to the law's power: 1 for water that must leave, 2 for a front that diffuses
    (Comyn 1998, International Journal of Adhesion and Adhesives 18:247), 0 for a reaction. A
    thinner film earns no credit: diffusion is not what holds it back.
    """
    return float(min(1.0, reference_um / film_um) ** exponent)


_ENDS: dict[Limits, tuple[End, End]] = {
    "generic": ("value", "value"),
    "careful": ("lo", "hi"),
    "lenient": ("hi", "lo"),
}
"""The end of a range where less allows less, and of one where more does."""


def _rate_parameters(profile: Profile, least: End, most: End) -> RateParameters:
    """Return the law's parameters at an end; a foam is never faster than at its reference."""
    nan = float("nan")

    def end(name: str, which: End, otherwise: float = nan) -> float:
        entry = profile.rate.get(name)
        return otherwise if entry is None else entry.end(which)

    return RateParameters(
        law=profile.law,
        cap=end("cap", least, 1.0),
        temp_min_c=end("film_temp_min", most, end("temp_min", most)),
        humidity_stop=end("humidity_stop", least),
        activation_kj_mol=end("activation_energy", most),
        warm_activation_kj_mol=end("activation_energy", least),
        thickness_exponent=end("thickness_exponent", most, 0.0),
    )


def _gates(
    profile: Profile, entries: dict[str, Sourced], method: Method, limits: Limits
) -> tuple[Gate, ...]:
    """Return the gates of a method in the order of the vocabulary."""
    least, most = _ENDS[limits]
    gates = []
    for name, rule in GATE_RULES.items():
        entry, clock = entries.get(rule.limit_of or name), profile.clock_holds.get(name)
        if entry is None or rule.method not in (None, method) or (rule.limit_of and clock is None):
            continue
        # To the decimals of the conditions, so that a value equal to its limit passes in any unit.
        limit = round(entry.end(most if rule.sense == "min" else least), LIMIT_DECIMALS)
        clock_h = None if clock is None else clock.end(most)
        gates.append(Gate(rule, limit, rule.until, clock_h, entry, clock))
    return tuple(gates)
