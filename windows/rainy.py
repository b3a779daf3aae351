"""From how much on rain is rain: the number of ``rainy.toml``, in SI."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from pydantic import Field

from cure_models.sourced import Sourced
from cure_models.toml_input import Table, parse_toml, validated
from windows.errors import ProfileError

__all__ = ["rainy_mm"]


class _File(Table):
    schema_: int = Field(alias="schema")
    least: Sourced


@cache
def rainy_mm() -> float:
    """Return from how much on rain wets a roof; less may be the rounding of its source. [mm]"""
    place = "windows/rainy.toml"
    text = (files("windows") / "rainy.toml").read_text(encoding="utf-8")
    return validated(_File, parse_toml(text, place, ProfileError), place, ProfileError).least.si
