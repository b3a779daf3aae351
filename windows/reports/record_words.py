"""How an application record is told: times by the site's clock, numbers as they were read.

A number stands with one decimal more than elsewhere, where it has one. The short name of its offset
stands with a time that the clock has twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from windows.field.told import is_twice

if TYPE_CHECKING:
    from datetime import date, datetime
    from zoneinfo import ZoneInfo

    from windows.log.entries import Body, Entry
    from windows.reports.wording import Wording

__all__ = [
    "NOT_KNOWN", "NOT_READ", "NOT_RECORDED", "Telling", "entries_told", "kind_told", "long_date",
    "place_of", "told_by",
]  # fmt: skip

NOT_READ, NOT_KNOWN, NOT_RECORDED = "not read", "not known", "not recorded"


@dataclass(frozen=True)
class Telling:
    """How a record is told: in what words, and by which clock; ``day`` is that of the record."""

    words: Wording
    zone: ZoneInfo
    day: date | None

    def clock(self, when: datetime | None, *, full: bool = False) -> str:
        """Return a local time, with its date unless it is that of the record and not ``full``."""
        if when is None:
            return NOT_KNOWN
        local = pd.Timestamp(when).tz_convert(self.zone).to_pydatetime()
        name = f" {local.tzname()}" if is_twice(local) else ""
        if local.date() == self.day and not full:
            return f"{local:%H:%M}{name}"
        return f"{local:%Y-%m-%d %H:%M}{name}"

    def span(self, start: datetime, end: datetime | None) -> str:
        """Return a span of local time, the date of its end only where it is another."""
        told = self.clock(end)
        day = self.clock(start).split(" ")[0]
        return f"{self.clock(start)} to {told.removeprefix(f'{day} ')}"

    def value(self, si: float | None, dimension: str, unknown: str = NOT_READ) -> str:
        """Return a number with one decimal more than elsewhere, if it has one."""
        if si is None:
            return unknown
        coarse, fine = (self.words.value(si, dimension, finer=n) for n in (0, 1))
        unit = self.words.unit(dimension)
        numbers = [float(told.removesuffix(unit)) for told in (coarse, fine)]
        return coarse if numbers[0] == numbers[1] else fine

    def duration(self, hours: float | None) -> str:
        """Return a length of time."""
        return NOT_KNOWN if hours is None else self.words.duration(hours)

    def start(self, entry: Entry) -> tuple[str, str]:
        """Return the number of an entry and when it began."""
        return str(entry.number), self.clock(entry.at)


def long_date(day: date) -> str:
    """Return a day, as ``"Monday, June 1, 2026"``."""
    return f"{day:%A}, {day:%B} {day.day}, {day.year}"


def entries_told(count: int) -> str:
    """Return a count of entries, as ``"1,200 entries"``."""
    return f"{count:,} {'entry' if count == 1 else 'entries'}"


def place_of(body: Body) -> str:
    """Return section, layer and place of an entry, as far as it has them."""
    told = [getattr(body, name, "") for name in ("section", "layer", "where")]
    return ", ".join(part for part in told if part) or NOT_RECORDED


def kind_told(kind: str) -> str:
    """Return the name of a kind of entry, for people."""
    return kind.replace("_", " ")


def told_by(entry: Entry, instruments: tuple[str, ...]) -> str:
    """Return who wrote an entry, and with what it was read."""
    return f"{entry.author} ({', '.join(instruments)})" if instruments else entry.author
