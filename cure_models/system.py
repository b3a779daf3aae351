"""Systems: the layers of a roof in their order, what each must see below it, and when the next may.

A system's TOML file gives, for each layer, a coating, its dry film, its passes and fabric. Where
the interval to the next layer differs from what the coating says of itself, the layer gives its
own; the coating is then read with those numbers in place of its own, so that one machine works out
every clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal, get_args

from pydantic import Field, StrictBool, StrictStr, model_validator

from cure_models.coating import thickness_share
from cure_models.errors import ProfileError, did_you_mean
from cure_models.limits import DEADLINES
from cure_models.profile import FAMILIES, Profile
from cure_models.profile_files import load_profile
from cure_models.sourced import Sourced
from cure_models.toml_input import Table, is_own_file, parse_toml, read_text, validated
from cure_models.units import UnitError, to_si

__all__ = ["SUBSTRATES", "Interval", "Layer", "Substrate", "System", "load_system", "system_names"]

Substrate = Literal[
    "built_up", "modified_bitumen", "single_ply", "metal", "concrete", "wood", "insulation_board"
]
"""Roofs without a coating; a coated roof is named by the family of what is on it."""

SUBSTRATES: tuple[str, ...] = get_args(Substrate)
_BELOW = (*SUBSTRATES, *FAMILIES)

_INTERVAL_DIMENSIONS = {
    "opens": "time",
    "opens_clock_min": "time",
    "closes": "time",
    "cover_by": "time",
    "cover_by_uv_dose": "uv_dose",
}


class Interval(Table):
    """When the next layer may follow, where that differs from what the coating says of itself.

    ``opens`` is hours of cure, ``opens_clock_min`` clock hours that must have passed as well;
    ``closes`` and ``cover_by`` are clock hours. With ``same_shift`` the next layer is laid in the
    shift of this one.
    """

    opens: Sourced | None = None
    opens_clock_min: Sourced | None = None
    closes: Sourced | None = None
    cover_by: Sourced | None = None
    cover_by_uv_dose: Sourced | None = None
    same_shift: StrictBool = False

    @model_validator(mode="after")
    def _sound(self) -> Interval:
        for name, dimension in _INTERVAL_DIMENSIONS.items():
            entry = getattr(self, name)
            if entry is None:
                continue
            try:
                to_si(entry.value, entry.unit, dimension)
            except UnitError as fault:
                raise ValueError(f"key '{name}': {fault}") from None
            if not entry.end("lo") >= 0:
                raise ValueError(f"key '{name}' must not be negative; mend it")
        return self


class Layer(Table):
    """One layer as its file gives it; passes follow each other while the film is wet.

    ``area_share`` is below one for strips, as over seams: what they take of material and time.
    """

    name: StrictStr
    coating: StrictStr
    dry_film: Sourced
    area_share: Annotated[float, Field(strict=True, gt=0, le=1)] = 1.0
    passes: Annotated[int, Field(strict=True, ge=1, le=20)] = 1
    fabric: StrictStr = ""
    over: tuple[StrictStr, ...]
    next: Interval = Interval()
    note: StrictStr = ""

    @model_validator(mode="after")
    def _sound(self) -> Layer:
        if not self.name.strip() or self.name.isdecimal():
            raise ValueError(f"key 'name' is '{self.name}'; give the layer a word for a name")
        try:
            to_si(self.dry_film.value, self.dry_film.unit, "film")
        except UnitError as fault:
            raise ValueError(f"key 'dry_film': {fault}") from None
        if not self.dry_film.end("lo") > 0:
            raise ValueError("key 'dry_film' must be above zero; mend it")
        for name in self.over:
            if name not in _BELOW:
                raise ValueError(f"key 'over': '{name}' is no roof; {did_you_mean(name, _BELOW)}")
        if not self.over:
            raise ValueError("key 'over' is empty; name what the layer must see below it")
        return self


class _File(Table):
    schema_: Literal[1] = Field(alias="schema")
    name: StrictStr
    title: StrictStr
    generic: StrictBool = False
    notes: tuple[StrictStr, ...] = ()
    layer: tuple[Layer, ...]

    @model_validator(mode="after")
    def _sound(self) -> _File:
        if not self.layer:
            raise ValueError("key 'layer' is missing; add a [[layer]] for each layer in order")
        names = [layer.name for layer in self.layer]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"two layers are named '{name}'; give each its own name")
        return self


@dataclass(frozen=True)
class System:
    """A system, checked.

    ``profiles`` are the coatings of the layers, in their order, with the interval to the next layer
    as this system has it: ``recoat_opens``, ``recoat_closes`` and ``cover_by`` of each are those of
    the layer and not of the coating in general.
    """

    name: str
    title: str
    generic: bool
    where: str
    notes: tuple[str, ...]
    layers: tuple[Layer, ...]
    profiles: tuple[Profile, ...]

    def number(self, layer: str) -> int:
        """Return the place of a layer, from 0, by its name or its number from 1.

        Raises
        ------
        ProfileError
            If there is no such layer.
        """
        names = [each.name for each in self.layers]
        if layer in names:
            return names.index(layer)
        if layer.isdecimal() and 1 <= int(layer) <= len(names):
            return int(layer) - 1
        raise ProfileError(
            f"system '{self.name}' has no layer '{layer}'; its layers are "
            + ", ".join(f"{n} {name}" for n, name in enumerate(names, start=1))
        )

    def must_be_covered(self, layer: int) -> bool:
        """Tell whether a layer, from 0, is spoiled if it is left bare for long."""
        profile = self.profiles[layer]
        return not profile.uv_stable or any(n.startswith("cover_by") for n in profile.deadlines)


def system_names() -> list[str]:
    """Return the names of the shipped systems, sorted."""
    folder = files("cure_models") / "systems"
    names = [entry.name for entry in folder.iterdir()]
    return sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml"))


def load_system(name: str) -> System:
    """Load a shipped system by name, or a user's own by the path of its TOML file.

    A coating that a user's file names by a path lies beside that file.

    Raises
    ------
    ProfileError
        If there is no such system, coating or file, or a file has a fault.
    """
    if name in system_names():
        return _shipped(name)
    if is_own_file(name):
        return _system(read_text(Path(name), ProfileError), name, Path(name).parent)
    raise ProfileError(
        f"system '{name}' is not known; {did_you_mean(name, system_names())}; "
        "or give the path of your own .toml file"
    )


@cache
def _shipped(name: str) -> System:
    """Return a shipped system; a board asks for the same few of them for each of its sites."""
    text = (files("cure_models") / "systems" / f"{name}.toml").read_text(encoding="utf-8")
    return _system(text, f"cure_models/systems/{name}.toml", Path())


def _system(text: str, where: str, beside: Path) -> System:
    file = validated(_File, parse_toml(text, where, ProfileError), where, ProfileError)
    return System(
        name=file.name,
        title=file.title,
        generic=file.generic,
        where=where,
        notes=file.notes,
        layers=file.layer,
        profiles=tuple(_profile(layer, where, beside) for layer in file.layer),
    )


def _profile(layer: Layer, where: str, beside: Path) -> Profile:
    """Return the coating of a layer with the layer's own interval in place of the coating's."""
    coating = layer.coating
    try:
        profile = load_profile(str(beside / coating) if is_own_file(coating) else coating)
    except ProfileError as fault:
        raise ProfileError(f"{where}: layer '{layer.name}': {fault}") from None
    milestones, least = dict(profile.milestones), dict(profile.milestone_clock_min)
    deadlines = dict(profile.deadlines)
    for table, key, entry in (
        (milestones, "recoat_opens", layer.next.opens),
        (least, "recoat_opens", layer.next.opens_clock_min),
        (deadlines, "recoat_closes", layer.next.closes),
        (deadlines, "cover_by", layer.next.cover_by),
        (deadlines, "cover_by_uv_dose", layer.next.cover_by_uv_dose),
    ):
        if entry is not None:
            table[key] = entry
    if "recoat_opens" not in milestones:
        raise ProfileError(
            f"{where}: layer '{layer.name}': coating '{profile.name}' does not say when the next "
            "coat may follow; add next.opens"
        )
    _in_order(milestones["recoat_opens"], least.get("recoat_opens"), deadlines, layer, where)
    if layer.next.opens is not None:
        milestones["recoat_opens"] = _at_reference_film(layer.next.opens, layer, profile)
    return profile.model_copy(
        update={"milestones": milestones, "milestone_clock_min": least, "deadlines": deadlines}
    )


def _in_order(
    opens: Sourced, least: Sourced | None, deadlines: dict[str, Sourced], layer: Layer, where: str
) -> None:
    """Refuse a layer that opens after its own deadline."""
    for first in (opens, least):
        for name in ("recoat_closes", "cover_by"):
            last = deadlines.get(name)
            if first is not None and last is not None and first.si > last.si:
                raise ProfileError(
                    f"{where}: layer '{layer.name}': recoat opens ({first.value:g} {first.unit}) "
                    f"later than {DEADLINES[name].label} ({last.value:g} {last.unit}); mend "
                    "layer.next"
                )


def _at_reference_film(opens: Sourced, layer: Layer, profile: Profile) -> Sourced:
    """Return the opening that a system gives for its own film, as that of the coating's film.

    The cure of a thicker film is slower by the law; what was given for it must not be slowed twice.
    """
    reference = (profile.reference.dry_film or profile.film["dry_per_coat"]).si
    exponent = profile.rate.get("thickness_exponent")
    share = thickness_share(reference, layer.dry_film.si, 0.0 if exponent is None else exponent.si)
    if share == 1.0:
        return opens
    film = f"{layer.dry_film.value:g} {layer.dry_film.unit}"
    return opens.model_copy(
        update={
            "value": opens.value * share,
            "lo": opens.low * share,
            "hi": opens.high * share,
            "note": f"{opens.value:g} {opens.unit} at {film}{'; ' * bool(opens.note)}{opens.note}",
        }
    )
