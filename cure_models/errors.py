"""Errors that a person can act on: what is wrong, where, and how to mend it."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["DewgapError", "ProfileError", "did_you_mean"]


class DewgapError(Exception):
    """Base of every error that is shown to the user as one sentence."""


class ProfileError(DewgapError):
    """A coating profile that cannot be used."""


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Return ``"did you mean 'x'? "`` for a near miss, then the known names.

    >>> did_you_mean("acrilic", ["acrylic", "silicone"])
    "did you mean 'acrylic'? known: acrylic, silicone"
    """
    names = sorted(known)
    near = get_close_matches(name, names, n=1, cutoff=0.6)
    hint = f"did you mean '{near[0]}'? " if near else ""
    return f"{hint}known: {', '.join(names)}"
