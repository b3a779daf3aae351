"""What the log of a job says is laid, for those who plan what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime  # a field of the job file's model, which looks it up
from typing import TYPE_CHECKING

from windows.errors import LogError
from windows.log.entries import Opening, Placement, Preparation, Repair, Withdrawal, standing
from windows.log.store import open_log

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

__all__ = ["FILE", "Laid", "has_losses", "laid_in", "last_prepared", "opened_for"]

FILE = "log.sqlite"
"""Name of a job's log, beside its job file."""


@dataclass(frozen=True)
class Laid:
    """A layer laid on a section or a part of it, as entry ``number`` says. UTC, [m2]

    ``prepared`` is when it was last prepared again. One that does not ``stand`` was corrected or
    withdrawn: it is not laid, though a job file may still have it.
    """

    number: int
    section: str
    layer: str
    start: datetime
    end: datetime
    prepared: datetime | None
    area_m2: float
    stands: bool = True


def has_losses(path: Path) -> bool:
    """Tell whether entries were lost in a repair that nobody has made good."""
    with open_log(path, read_only=True) as log:
        return any(True for _ in log.entries(Repair.kind, standing=True))


def opened_for(path: Path) -> tuple[str, str] | None:
    """Return site and zone for which a log was begun, None if its opening was lost."""
    with open_log(path, read_only=True) as log:
        for entry in log.entries(Opening.kind):
            assert isinstance(entry.body, Opening)
            return entry.body.site, entry.body.zone
    return None


def laid_in(path: Path, *, losses: bool = False) -> tuple[Laid, ...]:
    """Return the placements of a log, in the order in which they were begun.

    Parameters
    ----------
    path
        The log.
    losses
        Take what is there though entries were lost: for who writes them in again.

    Raises
    ------
    LogError
        If the log cannot be read, an entry of it is not whole, or entries were lost in a repair
        that nobody has made good: what is laid is then not known.
    """
    with open_log(path, read_only=True) as log:
        entries = list(
            log.entries(Placement.kind, Preparation.kind, Withdrawal.kind, Repair.kind)
        )
    stand = standing(entries)
    for entry in stand:
        if isinstance(entry.body, Repair) and not losses:
            raise LogError(
                f"{path}: entries were or may have been lost in a repair (entry {entry.number}), "
                "so what is laid is not known; write in what is missing, then withdraw that entry: "
                f"dewgap log withdraw SITE {entry.number} --note 'all placements are in again'"
            )
    numbers = {entry.number for entry in stand}
    again = [entry.body for entry in stand if isinstance(entry.body, Preparation)]
    laid = sorted(
        ((e.number, e.body) for e in entries if isinstance(e.body, Placement)),
        key=lambda pair: (pair[1].at, pair[0]),
    )
    return tuple(
        Laid(
            number, body.section, body.layer, body.at, body.end, _prepared(body, again),
            body.area_m2, number in numbers,
        )
        for number, body in laid
    )  # fmt: skip


def last_prepared(
    again: Iterable[datetime], laid_until: datetime, before: datetime | None = None
) -> datetime | None:
    """Return when a layer was last prepared again, of all the moments at which it was.

    Only what came once it was laid counts, and not after the next layer was begun on it, at
    ``before``.
    """
    counts = (at for at in again if at >= laid_until and (before is None or at <= before))
    return max(counts, default=None)


def _prepared(laid: Placement, again: list[Preparation]) -> datetime | None:
    there = (each.at for each in again if (each.section, each.layer) == (laid.section, laid.layer))
    return last_prepared(there, laid.end)
