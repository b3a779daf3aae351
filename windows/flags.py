"""Flags of single values: what speaks against one. A flag says so and changes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntFlag

import numpy as np
from numpy.typing import NDArray

__all__ = ["Flag", "Flags", "flagged", "from_words", "to_words"]

Flags = Mapping[str, NDArray[np.int64]]
"""Column: flags of each hour, shape (hours,)."""


class Flag(IntFlag):
    """What speaks against a value. The first five leave it unknown, the others let it stand."""

    RANGE = 1
    """Nature does not have it."""
    DUPLICATE = 2
    """Two rows of one hour differed."""
    SOURCE = 4
    """The source itself rejects or doubts it."""
    PARTIAL = 8
    """Too few readings in the hour, or a counter that was reset."""
    CONTRADICTION = 16
    """It cannot be true beside another value of the hour."""
    STEP = 32
    """It is far from the hour before."""
    PERSISTENCE = 64
    """It hardly moves for too long."""
    CONSISTENCY = 128
    """It is unlikely beside another value of the hour."""
    BLOCK = 256
    """It is a share of what was given for several hours together."""


def to_words(flag: int) -> str:
    """Return the names of a flag's members joined by ``+``; nothing for no flag.

    >>> to_words(Flag.RANGE | Flag.STEP)
    'range+step'
    """
    return "+".join(str(member.name).lower() for member in Flag(int(flag)))


def from_words(text: str) -> Flag:
    """Return the flag of `to_words`.

    Raises
    ------
    KeyError
        If a word is no flag.
    """
    found = Flag(0)
    for word in text.split("+") if text else ():
        found |= Flag[word.upper()]
    return found


def flagged(
    flags: Flags, name: str, where: NDArray[np.bool_], flag: Flag
) -> dict[str, NDArray[np.int64]]:
    """Return the flags with one more set in a column; a column without any is left out."""
    found = dict(flags)
    if where.any():
        before = found.get(name, np.zeros(where.shape, dtype=np.int64))
        found[name] = before | np.where(where, int(flag), 0)
    return found
