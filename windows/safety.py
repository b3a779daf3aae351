"""The crew's safety: stops that override a coating's go, and cautions shown with every go.

Limits and texts are data, in ``safety.toml``, each with its source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Self

import numpy as np
from pydantic import Field, model_validator

from cure_models.coating import LIMIT_DECIMALS, Coating, Gate
from cure_models.limits import GateRule, Sense
from cure_models.sourced import Sourced
from cure_models.toml_input import Table, parse_toml, validated
from cure_models.units import UNITS, from_si
from windows.errors import ProfileError, did_you_mean
from windows.gates import State, States, check
from windows.site import SafetyStops

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cure_models.arrays import FloatArray
    from cure_models.profile import Profile
    from windows.conditions import Conditions
    from windows.site import Site

__all__ = [
    "GOVERNS", "GOVERNS_RECORD", "Caution", "Stop", "cautions", "cautions_without_weather",
    "each_once", "safety_notes", "safety_stops", "shipped_stop", "stop_label", "stop_quantities",
]  # fmt: skip

_GOVERN = "The manufacturer's data sheet, local code and the competent person on site govern"
GOVERNS = f"{_GOVERN}; this is a forecast, not a guarantee."
GOVERNS_RECORD = f"{_GOVERN}."
"""Of what was done, in which nothing is foretold."""


class Stop(Table):
    """What stops a crew.

    Attributes
    ----------
    quantity
        The condition that it reads.
    dimension
        Its dimension, where its number tells something; None of a yes or no.
    sense
        Whether the limit is the least or the most that lets a crew work.
    own
        The key of the site's own limit in `windows.site.SafetyStops`; None if it may have none.
    """

    label: str
    quantity: str
    dimension: str | None = None
    sense: Sense
    own: str | None = None
    limit: Sourced

    @model_validator(mode="after")
    def _sound(self) -> Self:
        known, unit = SafetyStops.model_fields, self.limit.unit
        if self.own is not None and self.own not in known:
            near = did_you_mean(self.own, known)
            raise ValueError(f"own '{self.own}' is no limit of a site; {near}")
        if self.dimension is not None and UNITS[unit].dimension != self.dimension:
            raise ValueError(f"unit '{unit}' is not one of {self.dimension}; mend one of them")
        return self

    def looser(self, own: float) -> bool:
        """Tell whether a site's own limit would let more hours pass than the shipped one. [SI]"""
        return own > self.limit.si if self.sense == "max" else own < self.limit.si


class Caution(Table):
    """What a crew is told, and where it comes from."""

    text: str
    source: str


class _Safety(Table):
    schema_: int = Field(alias="schema")
    stop: dict[str, Stop]
    caution: dict[str, Caution]
    band: dict[str, Sourced]


@cache
def _safety() -> _Safety:
    place = "windows/safety.toml"
    text = (files("windows") / "safety.toml").read_text(encoding="utf-8")
    return validated(_Safety, parse_toml(text, place, ProfileError), place, ProfileError)


def safety_stops(conditions: Conditions, site: Site) -> dict[str, States]:
    """Return the state of every safety check, shape (..., hours); BLOCKED is a stop.

    A check whose weather column the source does not have at all (gusts, thunder) is left out; the
    cautions say so for thunder. The site's own stricter limits replace the shipped ones.
    """
    states = {}
    for name, stop in _safety().stop.items():
        if stop.quantity in conditions.absent:
            continue
        # Rounded as the weather is: 17 mph is not above 17 mph.
        limit = round(_limit(name, site.safety), LIMIT_DECIMALS)
        rule = GateRule(
            name, "placement", stop.quantity, stop.sense, "", stop.label, stop.limit.source
        )
        values = (
            _slip(conditions, site)
            if stop.quantity == "slip"
            else conditions.quantity(stop.quantity)
        )
        states[name] = check(values, Gate(rule, limit, None, None, stop.limit, None))
    return states


def shipped_stop(name: str) -> Stop:
    """Return a shipped stop by its name."""
    return _safety().stop[name]


def stop_quantities() -> frozenset[str]:
    """Return the conditions that the safety stops read."""
    read = {stop.quantity for stop in _safety().stop.values()}
    return frozenset(read - {"slip"} | {"spread_c", "wet_mm", "surface_temp_c"})


def _own_limits(own: SafetyStops) -> dict[str, float]:
    """Return the site's own limits by the name of the stop. [SI]"""
    limits = {
        name: getattr(own, each.own)
        for name, each in _safety().stop.items()
        if each.own is not None
    }
    return {name: limit for name, limit in limits.items() if limit is not None}


def _limit(name: str, own: SafetyStops) -> float:
    """Return the limit that stops: the shipped one, or the site's own if it is stricter. [SI]"""
    stop = shipped_stop(name)
    limit = _own_limits(own).get(name, stop.limit.si)
    return stop.limit.si if stop.looser(limit) else limit


def safety_notes(site: Site) -> tuple[str, ...]:
    """Say which of the site's own limits are looser than the shipped ones, and so do not count."""
    stops = _safety().stop
    return tuple(
        f"the site's own {name} limit is looser than the shipped one "
        f"({stops[name].limit.value:g} {stops[name].limit.unit}), which stays"
        for name, own in _own_limits(site.safety).items()
        if stops[name].looser(own)
    )


def stop_label(name: str, own: SafetyStops) -> str:
    """Return the label of a stop and the limit that stops at a site with its own ones.

    For example ``"gust at 10 m, most 35 mph"``; the unit is that of the shipped limit.
    """
    stop = shipped_stop(name)
    if stop.quantity == "slip":
        return stop.label
    shipped, limit = stop.limit, _limit(name, own)
    if limit == shipped.si:
        return f"{stop.label} {shipped.value:g} {shipped.unit}"
    told = f"{round(from_si(limit, shipped.unit), 1):g} {shipped.unit}"
    return f"{stop.label} {told} (the site's own limit)"


def _slip(conditions: Conditions, site: Site) -> FloatArray:
    """Return 1 where frost lies, or a wet film on a slick surface; NaN where not known."""
    spread, wet = conditions.spread_c, conditions.wet_mm
    film = (spread <= 0) | (wet > 0)
    film_unknown = ~film & np.isnan(spread + wet)
    cold = conditions.surface_temp_c <= 0
    slips = film & (cold | site.surface.slick_when_wet)
    cold_unknown = np.isnan(conditions.surface_temp_c)
    matters = film_unknown & (cold | cold_unknown | site.surface.slick_when_wet)
    unknown = matters | (film & cold_unknown & (not site.surface.slick_when_wet))
    return np.where(slips, 1.0, np.where(unknown, np.nan, 0.0))


@dataclass(frozen=True)
class _Span:
    """The hours of a window in a conditions table, and those before it."""

    conditions: Conditions
    first: int
    end: int

    def most(self, name: str) -> float:
        """Return the largest known value of a quantity in the window, -inf if none is known."""
        values = self.conditions.quantity(name)[self.first : self.end]
        known = values[~np.isnan(values)]
        return float(known.max()) if known.size else float("-inf")

    def wet_before(self, hours: int) -> bool:
        """Tell whether the roof was wet, or not known to be dry, in the hours before."""
        before = slice(max(self.first - hours, 0), self.first)
        dry = (self.conditions.wet_mm[before] <= 0) & (self.conditions.spread_c[before] > 0)
        return not (dry.size and bool(dry.all()))


def each_once(told: Iterable[Caution]) -> tuple[Caution, ...]:
    """Return cautions without those that stand among them before."""
    return tuple({(each.text, each.source): each for each in told}.values())


def cautions_without_weather(profile: Profile | None) -> tuple[Caution, ...]:
    """Return the cautions for work of whose weather nothing is known, with those of its coating."""
    names = ["fall_edge", "slick", "gust_unknown", "lightning_unknown"]
    hazards = () if profile is None else profile.hazards
    return tuple(_safety().caution[name] for name in (*names, *hazards))


def cautions(conditions: Conditions, coating: Coating, first: int, end: int) -> tuple[Caution, ...]:
    """Return the cautions that go with working in hours ``first`` to ``end``.

    Parameters
    ----------
    conditions
        Of one series, arrays of shape (hours,).
    coating
        Its chemistry gives the vapors.
    first, end
        Half-open range of hours.
    """
    data, span = _safety(), _Span(conditions, first, end)
    bands = {name: entry.si for name, entry in data.band.items()}
    names = ["fall_edge"]
    if span.wet_before(round(bands["slick"])):
        names.append("slick")
    heat = span.most("heat_index_c")
    if heat >= bands["heat_high"]:
        names.append("heat_high")
    elif heat >= bands["heat_moderate"]:
        names.append("heat_moderate")
    if max(span.most("wind_m_s"), span.most("gust_m_s")) >= bands["wind"]:
        names.append("wind")
    if "gust_m_s" in conditions.absent:
        names.append("gust_unknown")
    if "thunder_prob" in conditions.absent:
        names.append("lightning_unknown")
    elif span.most("thunder_prob") >= bands["lightning"]:
        names.append("lightning")
    names.extend(coating.profile.hazards)
    told = [data.caution[name] for name in names]
    for gate in coating.cautions:
        states = check(conditions.quantity(gate.rule.quantity)[first:end], gate)
        if (states == State.BLOCKED).any():
            told.append(
                Caution(
                    text=f"{gate.rule.label[0].upper()}{gate.rule.label[1:]} "
                    f"{gate.sourced.value:g} {gate.sourced.unit}: {gate.rule.why}.",
                    source=gate.sourced.source,
                )
            )
    return tuple(told)
