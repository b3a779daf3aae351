"""What was found of one thing on this machine, and how to mend it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["Finding", "State", "worst"]


class State(StrEnum):
    """How a thing stands."""

    OK = "ok"
    LOOK = "look"
    """Works, or is not needed for most; somebody should know."""
    FAULT = "fault"
    """Needed, and does not work."""


@dataclass(frozen=True)
class Finding:
    """What was found of one thing.

    ``mend`` is one sentence: what to do, empty where nothing is to be done.
    """

    what: str
    state: State
    told: str
    mend: str = ""


def worst(found: Iterable[Finding]) -> State:
    """Return the worst state of several."""
    states = {each.state for each in found}
    return next((s for s in (State.FAULT, State.LOOK) if s in states), State.OK)
