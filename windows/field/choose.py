"""Entries of a log by their kind, their layer and their time."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING

from windows.errors import ProfileError
from windows.log.entries import Covering, Placement, Rain, Reading

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date
    from zoneinfo import ZoneInfo

    from cure_models.system import System
    from windows.log.entries import Body, Entry

__all__ = [
    "ended", "is_logger", "layer_number", "local_day", "of_kind", "overlaps", "placement_of",
]  # fmt: skip


def of_kind(entries: Iterable[Entry], *kinds: type[Body]) -> list[Entry]:
    """Return the entries of some kinds, in their order."""
    return [entry for entry in entries if isinstance(entry.body, kinds)]


def placement_of(entry: Entry) -> Placement:
    """Return the placement that an entry is known to be."""
    assert isinstance(entry.body, Placement)
    return entry.body


def is_logger(entry: Entry) -> bool:
    """Tell whether an entry is a reading of a logger."""
    return isinstance(entry.body, Reading) and entry.body.occasion == "logger"


def layer_number(system: System, name: str) -> int | None:
    """Return the place of a layer, from 0; None where the system has no such layer."""
    try:
        return system.number(name)
    except ProfileError:
        return None


def local_day(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the first moment of a local day and that of the next: 23 to 25 h apart."""
    first, last = (
        datetime.combine(each, time(), zone).astimezone(UTC)
        for each in (day, day + timedelta(days=1))
    )
    return first, last


def ended(body: Body) -> datetime:
    """Return when what an entry tells of ended: when it began, where no end is told."""
    if isinstance(body, Placement | Covering | Rain) and body.end is not None:
        return body.end
    return body.at


def overlaps(body: Body, start: datetime, end: datetime) -> bool:
    """Tell whether something was in a span; a cover that was not taken off lies on."""
    if body.at >= end:
        return False
    if body.at >= start:
        return True
    return ended(body) > start or (isinstance(body, Covering) and body.end is None)
