"""Profiles from their files: a shipped one by its name, a user's own by its path and its base."""

from __future__ import annotations

import os
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from cure_models.errors import ProfileError, did_you_mean
from cure_models.profile import LAW_PARAMETERS, Profile
from cure_models.toml_input import is_own_file, parse_toml, read_text, validated

__all__ = ["coating_names", "load_profile"]


def coating_names() -> list[str]:
    """Return the names of the shipped profiles, sorted."""
    folder = files("cure_models") / "coatings"
    names = [entry.name for entry in folder.iterdir()]
    return sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml"))


def load_profile(name: str | os.PathLike[str]) -> Profile:
    """Load a shipped profile by name, or a user's own by the path of its TOML file.

    A file may say ``based_on = "acrylic"``: it then gives only what differs, key by key, and a
    value that it gives has no range, since the product is known.

    Raises
    ------
    ProfileError
        If there is no such profile or file, or the file has a fault.
    """
    asked = os.fspath(name)
    return _shipped(asked) if asked in coating_names() else _loaded(asked)


@cache
def _shipped(name: str) -> Profile:
    """Return a shipped profile; a board asks for the same few of them for each of its sites."""
    return _loaded(name)


def _loaded(name: str) -> Profile:
    data, where = _whole(name, Path(), ())
    return validated(Profile, data, where, ProfileError)


def _whole(name: str, beside: Path, chain: tuple[str, ...]) -> tuple[dict[str, Any], str]:
    """Return the tables of a profile laid over those that it is based on, and its place."""
    data, where = _raw(name, beside, f"{chain[-1]}: key 'based_on': " if chain else "")
    same = str(Path(where).resolve())
    if same in (str(Path(link).resolve()) for link in chain):
        raise ProfileError(f"{where}: based_on goes round in a circle; break it")
    base_name = data.get("based_on")
    if base_name is None:
        return data, where
    base, base_where = _whole(str(base_name), Path(where).parent, (*chain, where))
    validated(Profile, base, base_where, ProfileError)
    return _overlay(base, {"name": Path(where).stem, **data}), where


def _raw(name: str, beside: Path, asked_by: str) -> tuple[dict[str, Any], str]:
    """Return the tables of one file and its place; ``asked_by`` begins the sentence of a fault."""
    if name in coating_names():
        text = (files("cure_models") / "coatings" / f"{name}.toml").read_text(encoding="utf-8")
        where = f"cure_models/coatings/{name}.toml"
    elif is_own_file(name):
        path = beside / name
        text, where = read_text(path, ProfileError), str(path)
    else:
        raise ProfileError(
            f"{asked_by}coating '{name}' is not known; {did_you_mean(name, coating_names())}; "
            "or give the path of your own .toml file"
        )
    return parse_toml(text, where, ProfileError), where


def _overlay(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """Return ``base`` with what ``own`` gives: whole entries, one table deep.

    ``own`` is not yet checked: what is no table stays as it is, for the check to refuse.
    """
    merged = dict(base) | {"generic": False}
    for key, entry in own.items():
        both_tables = isinstance(entry, dict) and isinstance(base.get(key), dict)
        merged[key] = {**base[key], **entry} if both_tables and "value" not in entry else entry
    film, reference = own.get("film"), merged["reference"]
    own_film = isinstance(film, dict) and "dry_per_coat" in film
    if own_film and isinstance(reference, dict) and "dry_film" not in reference:
        # The times of the base are those of its own film: a thicker coat must not inherit them.
        merged["reference"] = {**reference, "dry_film": base["film"]["dry_per_coat"]}
    law, rate = merged["law"], merged["rate"]
    if isinstance(law, str) and isinstance(rate, dict) and law != base["law"]:
        # The energy of one mechanism is not that of another.
        same = LAW_PARAMETERS.get(law, frozenset()) - {"activation_energy"}
        kept = same | set(own.get("rate", ()))
        merged["rate"] = {key: entry for key, entry in rate.items() if key in kept}
    return merged
