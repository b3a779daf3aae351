"""The rules of a time zone as iCalendar tells them (RFC 5545 section 3.6.5)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

if TYPE_CHECKING:
    from collections.abc import Iterator
    from zoneinfo import ZoneInfo

__all__ = ["time_zone"]


def time_zone(zone: ZoneInfo, first: int, last: int) -> Timezone:
    """Return the rules of a zone from the year before ``first`` to the year after ``last``.

    icalendar's own ``add_missing_timezones`` (7.3.2) puts the onset of summer time on the new
    clock, where RFC 5545 section 3.6.5 wants the old one: an hour late.
    """
    told = Timezone()
    told.add("TZID", zone.key)
    start = datetime(first - 1, 1, 1, tzinfo=UTC)
    told.add_component(_observance(zone, start, start))
    for old, new in _changes(zone, start, datetime(last + 2, 1, 1, tzinfo=UTC)):
        told.add_component(_observance(zone, old, new))
    return told


def _changes(zone: ZoneInfo, start: datetime, end: datetime) -> Iterator[tuple[datetime, datetime]]:
    """Yield the last second of each offset and the first of the next. [UTC]"""
    while start < end:
        after = start + timedelta(days=1)
        if _rule(zone, start) != _rule(zone, after):
            yield _change(zone, start, after)
        start = after


def _change(zone: ZoneInfo, old: datetime, new: datetime) -> tuple[datetime, datetime]:
    """Return the two seconds, within two times, between which a zone's offset changes. [UTC]"""
    while new - old > timedelta(seconds=1):
        middle = old + timedelta(seconds=(new - old) // timedelta(seconds=2))
        old, new = (middle, new) if _rule(zone, middle) == _rule(zone, old) else (old, middle)
    return old, new


def _rule(zone: ZoneInfo, when: datetime) -> tuple[timedelta | None, str | None]:
    local = when.astimezone(zone)
    return local.utcoffset(), local.tzname()


def _observance(
    zone: ZoneInfo, old: datetime, new: datetime
) -> TimezoneStandard | TimezoneDaylight:
    """Return the rule that begins at ``new``; its onset is told by the clock that ends there."""
    was, now = old.astimezone(zone), new.astimezone(zone)
    summer = (now.dst() or timedelta()) > timedelta()
    observance = TimezoneDaylight() if summer else TimezoneStandard()
    offset = was.utcoffset() or timedelta()
    observance.add("DTSTART", (new + offset).replace(tzinfo=None))
    observance.add("TZOFFSETFROM", offset)
    observance.add("TZOFFSETTO", now.utcoffset() or timedelta())
    observance.add("TZNAME", now.tzname() or zone.key)
    return observance
