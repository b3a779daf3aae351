"""The vocabulary of limits: what each named gate reads, in which sense, and for how long.

A profile gives numbers to these names; it cannot invent a name, so a misspelt limit is an error
and never a limit that is silently not checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["DEADLINES", "GATE_RULES", "MILESTONES", "Deadline", "GateRule", "Kind", "Sense"]

Kind = Literal["placement", "hold", "caution"]
Sense = Literal["min", "max"]


@dataclass(frozen=True)
class GateRule:
    """How one named limit is read.

    ``until`` names the milestone that ends a hold; ``clocked`` holds end after clock hours that
    the profile gives. ``inclusive`` tells whether a value equal to the limit passes. A rule with
    ``limit_of`` has no limit of its own: it holds that gate's limit for its clock hours.
    """

    name: str
    kind: Kind
    quantity: str
    sense: Sense
    dimension: str
    label: str
    why: str
    until: str | None = None
    clocked: bool = False
    inclusive: bool = True
    limit_of: str | None = None
    method: Literal["spray", "roller"] | None = None


_RULES = (
    GateRule(
        "air_temp_min", "placement", "air_temp_c", "min", "temperature",
        "air temperature, least", "cold air slows drying, film formation and reaction",
    ),
    GateRule(
        "air_temp_max", "placement", "air_temp_c", "max", "temperature",
        "air temperature, most", "hot air skins the film over trapped water or solvent",
    ),
    GateRule(
        "surface_temp_min", "placement", "surface_temp_c", "min", "temperature",
        "surface temperature, least", "below it the film does not form or the reaction stops",
    ),
    GateRule(
        "surface_temp_max", "placement", "dry_surface_temp_c", "max", "temperature",
        "surface temperature, most", "a hot deck blisters the film and shortens its open time",
    ),
    GateRule(
        "humidity_min", "placement", "rel_humidity", "min", "fraction",
        "relative humidity, least", "a moisture-cured film starves in dry air",
    ),
    GateRule(
        "humidity_max", "placement", "rel_humidity", "max", "fraction",
        "relative humidity, most", "water cannot leave the film, or reacts in it",
    ),
    GateRule(
        "spread_min", "placement", "spread_c", "min", "difference",
        "surface above dew point, least", "condensed water under the film breaks its bond",
    ),
    GateRule(
        "wind_max_spray", "placement", "wind_m_s", "max", "speed",
        "wind while spraying, most", "spray drifts, dries in flight and lands on cars",
        method="spray",
    ),
    GateRule(
        "wind_max_roller", "placement", "wind_m_s", "max", "speed",
        "wind while rolling, most", "dirt blows into the film and fleece lifts",
        method="roller",
    ),
    GateRule(
        "surface_dry", "placement", "wet_mm", "max", "water",
        "water film on the surface, most", "a wet surface takes no bond",
    ),
    GateRule(
        "daylight", "placement", "sun_elevation_deg", "min", "angle",
        "height of the sun, least", "wet edges, pinholes and roof edges are not seen in the dark",
    ),
    GateRule(
        "before_sunset", "placement", "hours_to_sunset", "min", "time",
        "end of the hour before sunset, least", "the data sheet sets a stop time of its own",
    ),
    GateRule(
        "rising", "hold", "air_temp_c", "min", "temperature",
        "air temperature in the next hours", "a start near the minimum on a falling thermometer",
        clocked=True, limit_of="air_temp_min",
    ),
    GateRule(
        "air_temp_floor", "hold", "air_temp_c", "min", "temperature",
        "air temperature until dew-safe", "the film must form before the cold of the night",
        until="dew_safe",
    ),
    GateRule(
        "no_dew", "hold", "film_spread_c", "min", "difference",
        "film above dew point until dew-safe", "dew washes, blushes or marks a young film",
        until="dew_safe",
    ),
    GateRule(
        "no_rain", "hold", "rain_most_mm", "max", "water",
        "rain in the hour until rain-safe", "rain washes off or pits a young film",
        until="rain_safe", inclusive=False,
    ),
    GateRule(
        "no_freeze", "hold", "film_temp_c", "min", "temperature",
        "film temperature, freeze hold", "ice breaks a latex film before it has formed",
        clocked=True,
    ),
    GateRule(
        "humidity_low", "caution", "rel_humidity", "min", "fraction",
        "relative humidity, slow cure below", "a moisture-cured film stays tacky in dry air",
    ),
    GateRule(
        "fast_drying", "caution", "film_drying_mm_h", "max", "drying",
        "drying of the fresh film, most", "a skin closes over water that then blisters the film",
    ),
    GateRule(
        "wind_screen", "caution", "wind_m_s", "max", "speed",
        "wind, screens above", "spray drift needs wind screens",
        method="spray",
    ),
)  # fmt: skip

GATE_RULES: dict[str, GateRule] = {rule.name: rule for rule in _RULES}

MILESTONES = {
    "touch": "dry to touch",
    "dew_safe": "dew-safe",
    "rain_safe": "rain-safe",
    "recoat_opens": "recoat opens",
    "cured": "cured",
}
"""Milestones in the order in which a film reaches them, with their label."""


@dataclass(frozen=True)
class Deadline:
    """A latest time from the start of placement, by the clock or by a dose of ultraviolet."""

    label: str
    dimension: Literal["time", "uv_dose"]


DEADLINES = {
    "recoat_closes": Deadline("recoat closes", "time"),
    "cover_by": Deadline("cover by", "time"),
    "cover_by_uv_dose": Deadline("cover by, ultraviolet dose", "uv_dose"),
}
"""Latest times and doses from placement on."""
