"""What is done with a layer whose next coat comes late, as data with sources."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Literal

from pydantic import Field, StrictStr

from cure_models.errors import ProfileError
from cure_models.profile import Remedy
from cure_models.toml_input import Table, parse_toml, validated

if TYPE_CHECKING:
    from cure_models.profile import Profile

__all__ = ["Advice", "preparation", "protection"]


class Advice(Table):
    """What to do, and where it comes from."""

    text: StrictStr
    source: StrictStr


class _Remedies(Table):
    schema_: Literal[1] = Field(alias="schema")
    late: dict[Remedy, Advice]
    protect: dict[Literal["opened", "bare", "water_based"], Advice]


@cache
def _remedies() -> _Remedies:
    place = "cure_models/remedies.toml"
    text = (files("cure_models") / "remedies.toml").read_text(encoding="utf-8")
    return validated(_Remedies, parse_toml(text, place, ProfileError), place, ProfileError)


def preparation(profile: Profile) -> Advice:
    """Return what a layer of a coating needs once its recoat interval has closed."""
    return _remedies().late[profile.if_late]


def protection(profile: Profile, *, opened: bool) -> tuple[Advice, ...]:
    """Return how a bare layer is protected when no window is left before its deadline."""
    protect = _remedies().protect
    found = [protect["opened"]] if opened else []
    found.append(protect["bare"])
    if profile.water_based:
        found.append(protect["water_based"])
    return tuple(found)
