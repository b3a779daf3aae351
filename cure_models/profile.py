"""Profiles: what a coating's TOML file says, each number with unit, range and source.

A profile gives numbers to the names of `cure_models.limits`; it is checked whole when it is read,
and a fault is one sentence that names file, key, reason and mend.
"""

from __future__ import annotations

from math import ceil
from typing import Literal, get_args

from pydantic import Field, StrictBool, StrictStr, model_validator

from cure_models.errors import did_you_mean
from cure_models.limits import DEADLINES, GATE_RULES, MILESTONES
from cure_models.sourced import Sourced
from cure_models.toml_input import Table
from cure_models.units import UnitError, to_si

__all__ = [
    "FAMILIES",
    "LAW_PARAMETERS",
    "STAGED_BY_TOUCH",
    "Family",
    "Law",
    "Profile",
    "Remedy",
]

Family = Literal[
    "acrylic", "silicone", "emulsion", "rubber", "urethane", "polyurea", "foam", "pmma", "sebs",
    "aluminum", "epoxy", "asphalt_primer", "butyl",
]  # fmt: skip
FAMILIES: tuple[str, ...] = get_args(Family)
Hazard = Literal[
    "isocyanate", "solvent", "monomer", "ammonia", "coagulant_runoff", "washoff_runoff"
]
Remedy = Literal["wash_and_test", "abrade_and_prime", "scarf_or_prime", "renew", "ask_maker"]
"""What a layer needs whose recoat interval has closed; the texts are in ``remedies.toml``."""

Law = Literal["evaporation", "coagulation", "moisture", "reaction", "foam", "solvent"]

_ARRHENIUS = frozenset({"cap", "temp_min", "activation_energy", "thickness_exponent"})
LAW_PARAMETERS: dict[str, frozenset[str]] = {
    "evaporation": _ARRHENIUS - {"temp_min"} | {"film_temp_min", "humidity_stop"},
    "coagulation": _ARRHENIUS | {"humidity_stop"},
    "moisture": _ARRHENIUS,
    "reaction": _ARRHENIUS,
    "foam": frozenset({"temp_min", "activation_energy"}),
    "solvent": _ARRHENIUS,
}
"""The parameters that each rate law of `cure_models.kinetics` needs."""

STAGED_BY_TOUCH = frozenset({"coagulation", "solvent"})
"""Laws whose first stage ends when the film is dry to touch."""

_DIMENSIONS = {
    "cap": "fraction",
    "film_temp_min": "temperature",
    "temp_min": "temperature",
    "humidity_stop": "fraction",
    "activation_energy": "activation_energy",
    "thickness_exponent": "fraction",
}
_FILM_DIMENSIONS = {
    "absorptance": "fraction",
    "emittance": "fraction",
    "permeance": "permeance",
    "dry_per_coat": "film",
    "dry_total": "film",
    "volume_solids": "fraction",
    "rate_per_coat": "spread_rate",
    "coats": "fraction",
}

class _Reference(Table):
    temperature: Sourced
    humidity: Sourced
    roof_wind: Sourced
    dry_film: Sourced | None = None


class Profile(Table):
    """A coating as its file gives it. See `load_profile`."""

    schema_: Literal[1] = Field(alias="schema")
    name: StrictStr
    title: StrictStr
    based_on: StrictStr | None = None
    generic: StrictBool
    family: Family
    roles: tuple[Literal["primer", "base", "top", "foam"], ...]
    water_based: StrictBool
    law: Law
    uv_stable: StrictBool
    slick_when_wet: StrictBool
    hazards: tuple[Hazard, ...]
    may_go_over_it: tuple[Family, ...]
    if_late: Remedy = "ask_maker"
    notes: tuple[StrictStr, ...] = ()
    reference: _Reference
    rate: dict[str, Sourced]
    film: dict[str, Sourced]
    min_window: Sourced
    gates: dict[str, Sourced]
    clock_holds: dict[str, Sourced] = Field(default_factory=dict)
    milestones: dict[str, Sourced]
    milestone_clock_min: dict[str, Sourced] = Field(default_factory=dict)
    deadlines: dict[str, Sourced] = Field(default_factory=dict)
    cautions: dict[str, Sourced] = Field(default_factory=dict)

    @property
    def shortest_window_h(self) -> int:
        """Hours of the shortest window in which the coating is laid, at least one."""
        return max(1, ceil(self.min_window.si))

    @model_validator(mode="after")
    def _sound(self) -> Profile:
        gates = {n: r for n, r in GATE_RULES.items() if r.kind != "caution" and not r.limit_of}
        cautions = {n: r for n, r in GATE_RULES.items() if r.kind == "caution"}
        clocked = {n: r for n, r in GATE_RULES.items() if r.clocked}
        _check("gates", self.gates, {n: r.dimension for n, r in gates.items()})
        _check("cautions", self.cautions, {n: r.dimension for n, r in cautions.items()})
        _check("clock_holds", self.clock_holds, dict.fromkeys(clocked, "time"))
        _check("milestones", self.milestones, dict.fromkeys(MILESTONES, "time"))
        _check("milestone_clock_min", self.milestone_clock_min, dict.fromkeys(MILESTONES, "time"))
        _check("deadlines", self.deadlines, {n: d.dimension for n, d in DEADLINES.items()})
        _check("rate", self.rate, {n: _DIMENSIONS[n] for n in LAW_PARAMETERS[self.law]})
        _check("film", self.film, _FILM_DIMENSIONS)
        _check("profile", {"min_window": self.min_window}, {"min_window": "time"})
        _check(
            "reference",
            {key: entry for key, entry in self.reference if entry is not None},
            {
                "temperature": "temperature",
                "humidity": "fraction",
                "roof_wind": "speed",
                "dry_film": "film",
            },
        )
        _complete(self)
        _least_below_most(self.gates)
        _bounded(self)
        _reaches_one(self)
        _possible_law(self)
        _in_sequence(self)
        return self


def _check(table: str, entries: dict[str, Sourced], known: dict[str, str]) -> None:
    """Refuse an unknown key or a unit of the wrong dimension."""
    for key, entry in entries.items():
        if key not in known:
            raise ValueError(f"key '{table}.{key}' is not known; {did_you_mean(key, known)}")
        try:
            to_si(entry.value, entry.unit, known[key])
        except UnitError as fault:
            raise ValueError(f"key '{table}.{key}': {fault}") from None


def _complete(profile: Profile) -> None:
    """Refuse a profile that leaves a clock, a law or the film without its number."""
    missing = [f"rate.{key}" for key in sorted(LAW_PARAMETERS[profile.law] - set(profile.rate))]
    missing += [f"film.{key}" for key in ("absorptance", "emittance", "dry_per_coat")
                if key not in profile.film]  # fmt: skip
    if profile.law == "evaporation" and "volume_solids" not in profile.film:
        missing.append("film.volume_solids (the water of law evaporation)")
    if profile.law in STAGED_BY_TOUCH and "touch" not in profile.milestones:
        missing.append(f"milestones.touch (the first stage of law {profile.law})")
    if not profile.gates:
        missing.append("gates, with a limit at least,")
    for name in profile.gates:
        rule = GATE_RULES[name]
        if rule.until is not None and rule.until not in profile.milestones:
            missing.append(f"milestones.{rule.until} (the end of gates.{name})")
        if rule.clocked and name not in profile.clock_holds:
            missing.append(f"clock_holds.{name} (the hours of gates.{name})")
    for name in profile.clock_holds:
        limit = GATE_RULES[name].limit_of or name
        if limit not in profile.gates:
            missing.append(f"gates.{limit} (the limit of clock_holds.{name})")
    missing += [
        f"milestones.{name} (of milestone_clock_min.{name})"
        for name in profile.milestone_clock_min
        if name not in profile.milestones
    ]
    if missing:
        raise ValueError(f"key {missing[0]} is missing; add it")


def _least_below_most(gates: dict[str, Sourced]) -> None:
    """Refuse a least value above the most one of the same quantity."""
    for quantity in ("air_temp", "surface_temp", "humidity"):
        low, high = gates.get(f"{quantity}_min"), gates.get(f"{quantity}_max")
        if low is not None and high is not None and low.si > high.si:
            raise ValueError(
                f"gates.{quantity}_min ({low.value:g} {low.unit}) is above "
                f"gates.{quantity}_max ({high.value:g} {high.unit}); exchange or mend them"
            )


def _bounded(profile: Profile) -> None:
    """Refuse shares beyond 0 to 1, and what is negative or zero and cannot be."""
    gates = profile.gates
    shares = {
        **{f"film.{k}": profile.film[k] for k in ("absorptance", "emittance", "volume_solids")
           if k in profile.film},
        "reference.humidity": profile.reference.humidity,
        **{f"rate.{k}": v for k, v in profile.rate.items() if k == "humidity_stop"},
        **{f"gates.{k}": v for k, v in gates.items() if GATE_RULES[k].dimension == "fraction"},
    }  # fmt: skip
    for key, entry in shares.items():
        if not (entry.end("lo") >= 0 and entry.end("hi") <= 1):
            raise ValueError(
                f"key '{key}' must lie between 0 and 100 %, but is {_written(entry)}; mend it"
            )
    positive = {
        **{f"film.{k}": v for k, v in profile.film.items()
           if k not in ("absorptance", "permeance")},
        **{f"rate.{k}": v for k, v in profile.rate.items() if k == "cap"},
        "reference.humidity": profile.reference.humidity,
        "reference.roof_wind": profile.reference.roof_wind,
        "min_window": profile.min_window,
    }  # fmt: skip
    if profile.reference.dry_film is not None:
        positive["reference.dry_film"] = profile.reference.dry_film
    for key, entry in positive.items():
        if not entry.end("lo") > 0:
            raise ValueError(f"key '{key}' must be above zero, but is {_written(entry)}; mend it")
    not_negative = {
        **{f"milestones.{k}": v for k, v in profile.milestones.items()},
        **{f"deadlines.{k}": v for k, v in profile.deadlines.items()},
        **{f"clock_holds.{k}": v for k, v in profile.clock_holds.items()},
        **{f"milestone_clock_min.{k}": v for k, v in profile.milestone_clock_min.items()},
        **{f"gates.{k}": v for k, v in gates.items()
           if GATE_RULES[k].dimension in ("speed", "water")},
        **{f"cautions.{k}": v for k, v in profile.cautions.items()},
        **{f"film.{k}": v for k, v in profile.film.items() if k == "permeance"},
        **{f"rate.{k}": v for k, v in profile.rate.items()
           if k in ("activation_energy", "thickness_exponent")},
    }  # fmt: skip
    for key, entry in not_negative.items():
        if not entry.end("lo") >= 0:
            raise ValueError(f"key '{key}' must not be negative, but is {_written(entry)}; mend it")


def _in_sequence(profile: Profile) -> None:
    """Refuse a recoat interval that closes before it opens, and a milestone later than the cure."""
    opens, cured = profile.milestones.get("recoat_opens"), profile.milestones.get("cured")
    closes = profile.deadlines.get("recoat_closes")
    for first, second, names in (
        (opens, closes, "milestones.recoat_opens is later than deadlines.recoat_closes"),
        *(
            (profile.milestones.get(n), cured, f"milestones.{n} is later than milestones.cured")
            for n in MILESTONES
        ),
    ):
        if first is not None and second is not None and first.si > second.si:
            raise ValueError(
                f"{names} ({_written(first)} after {_written(second)}); mend one of them"
            )


def _possible_law(profile: Profile) -> None:
    """Refuse a first stage that outlasts the rain hold, and powers that no film has."""
    touch, rain_safe = profile.milestones.get("touch"), profile.milestones.get("rain_safe")
    if profile.law in STAGED_BY_TOUCH and touch and rain_safe and touch.si > rain_safe.si:
        raise ValueError(
            f"milestones.touch ({_written(touch)}) is later than milestones.rain_safe "
            f"({_written(rain_safe)}), but it ends the first stage of the cure; mend one of them"
        )
    for name, most in (("activation_energy", 200.0), ("thickness_exponent", 3.0)):
        if name in profile.rate and profile.rate[name].end("hi") > most:
            raise ValueError(
                f"key 'rate.{name}' must be at most {most:g}, but is "
                f"{_written(profile.rate[name])}; mend it"
            )


_DAMPEST = 0.9
"""A reference must be drier than this: near saturation nothing can be scaled from it."""


def _reaches_one(profile: Profile) -> None:
    """Refuse a law that stands still at its own reference, where its rate has to be one."""
    reference, rate = profile.reference, profile.rate
    coldest = rate.get("film_temp_min", rate.get("temp_min"))
    if coldest is not None and reference.temperature.end("lo") < coldest.end("hi"):
        raise ValueError(
            f"key 'reference.temperature' ({_written(reference.temperature)}) is below the least "
            f"temperature of the cure ({_written(coldest)}); mend one of them"
        )
    stop = rate.get("humidity_stop")
    most = _DAMPEST if stop is None else min(stop.end("lo"), _DAMPEST)
    if reference.humidity.end("hi") >= most:
        raise ValueError(
            f"key 'reference.humidity' ({_written(reference.humidity)}) must be below "
            f"{most:.0%}, where nothing dries; mend it"
        )
    if "cap" in rate and rate["cap"].end("lo") < 1:
        raise ValueError(
            f"key 'rate.cap' must be at least 1, the rate at the reference, but is "
            f"{_written(rate['cap'])}; mend it"
        )


def _written(entry: Sourced) -> str:
    """Return an entry as its file has it, with its range if that is wider."""
    spread = "" if entry.low == entry.high else f" ({entry.low:g} to {entry.high:g})"
    return f"{entry.value:g}{spread} {entry.unit}".removesuffix(" 1")
