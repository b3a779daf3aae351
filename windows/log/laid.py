"""What the log of a job says is laid, for those who plan what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime  # a field of the job file's model, which looks it up
from typing import TYPE_CHECKING

from windows.log.entries import Placement, Preparation, Withdrawal, standing
from windows.log.store import open_log

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FILE", "Laid", "laid_in"]

FILE = "log.sqlite"
"""Name of a job's log, beside its job file."""


@dataclass(frozen=True)
class Laid:
    """A layer laid on a section or a part of it, as entry ``number`` says. UTC, [m2]

    ``prepared`` is when it was last prepared again.
    """

    number: int
    section: str
    layer: str
    start: datetime
    end: datetime
    prepared: datetime | None
    area_m2: float


def laid_in(path: Path) -> tuple[Laid, ...]:
    """Return the placements that stand in a log, in the order in which they were begun.

    Raises
    ------
    LogError
        If the log cannot be read, or an entry of it is not whole.
    """
    with open_log(path, read_only=True) as log:
        told = standing(log.entries(Placement.kind, Preparation.kind, Withdrawal.kind))
    bodies = [(entry.number, entry.body) for entry in told]
    again = [body for _, body in bodies if isinstance(body, Preparation)]
    return tuple(
        Laid(
            number, body.section, body.layer, body.at, body.end, _prepared(body, again),
            body.area_m2,
        )
        for number, body in bodies
        if isinstance(body, Placement)
    )  # fmt: skip


def _prepared(laid: Placement, again: list[Preparation]) -> datetime | None:
    """Return when a placement was last prepared again."""
    there = (
        each.at for each in again
        if (each.section, each.layer) == (laid.section, laid.layer) and each.at >= laid.end
    )  # fmt: skip
    return max(there, default=None)
