"""Roof assemblies as data: heat stored near the surface and heat passed to the room below."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pydantic import StrictStr

from cure_models.errors import ProfileError
from cure_models.sourced import Sourced
from cure_models.toml_input import Table, parse_toml, validated

__all__ = ["Assembly", "assemblies"]


@dataclass(frozen=True)
class Assembly:
    """One kind of deck. [kJ/m2K, W/m2K]"""

    title: str
    heat_capacity_kj_m2_k: float
    u_value_w_m2_k: float


class _Entry(Table):
    title: StrictStr
    heat_capacity: Sourced
    u_value: Sourced


@cache
def assemblies() -> dict[str, Assembly]:
    """Return the shipped assemblies by name."""
    place = "cure_models/assemblies.toml"
    text = (files("cure_models") / "assemblies.toml").read_text(encoding="utf-8")
    tables = parse_toml(text, place, ProfileError)
    entries = {
        name: validated(_Entry, table, f"{place} [{name}]", ProfileError)
        for name, table in tables.items()
        if name != "schema"
    }
    return {
        name: Assembly(entry.title, entry.heat_capacity.si, entry.u_value.si)
        for name, entry in entries.items()
    }
