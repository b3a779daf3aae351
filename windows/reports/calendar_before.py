"""The calendar file written before, read back: its own events and their numbers."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from icalendar import Calendar
from icalendar.prop import vDDDTypes

from windows.errors import OutputError
from windows.reports.calendar_entry import Entry, clean_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from icalendar import Component

__all__ = ["LAST_SEQUENCE", "Before", "Earlier", "body_of", "calendar_owner", "read_before"]

# X-properties are free to each writer (RFC 5545 section 3.8.8.2); readers skip what they do not
# know. This one keeps the last SEQUENCE of an event that is no longer in the file.
LAST_SEQUENCE = "X-DEWGAP-LAST-SEQUENCE"

_MOST_SEQUENCE = 2**31 - 2  # an INTEGER's most, less one to be raised by (section 3.3.8)
_YEARS = range(2000, 2200)
_FOLDS = re.compile(rb"(?<!\n)(?:\r?\n)++[ \t]")
_RULE_LINES = re.compile(rb"^RRULE.*$", re.IGNORECASE | re.MULTILINE)
_REVISION_LINE = re.compile(rb"^(?:DTSTAMP|LAST-MODIFIED)[;:].*\r\n", re.MULTILINE)


@dataclass(frozen=True)
class Earlier:
    """An event of the file written before; ``body`` is all of it but the times of its revision."""

    entry: Entry
    sequence: int
    status: str
    modified: datetime | None
    body: bytes


@dataclass(frozen=True)
class Before:
    """The file written before: this project's events, and the last numbers of those dropped."""

    events: dict[str, Earlier]
    dropped: dict[str, int]


def body_of(event: Component) -> bytes:
    """Return an event as written, without the lines that only tell when it was."""
    return _REVISION_LINE.sub(b"", event.to_ical())


def calendar_owner(content: bytes) -> str | None:
    """Return the name that a calendar bears, None of what is no calendar or bears none."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            name = Calendar.from_ical(_RULE_LINES.sub(b"", _FOLDS.sub(b"", content))).get("NAME")
    except Exception:  # whatever the library raises at bytes that are no calendar
        return None
    return None if name is None else str(name)


def _zone_of(event: Component) -> ZoneInfo:
    """Return the zone by which an event's start is told, UTC if it is told by no known one."""
    params = getattr(event.get("DTSTART"), "params", {})
    try:
        return ZoneInfo(str(params.get("TZID", "UTC")))
    except (LookupError, ValueError, OSError):
        return ZoneInfo("UTC")


def read_before(content: bytes, prodid: str, own_part: str) -> Before:
    """Return a calendar's own events in the file written before.

    Raises
    ------
    OutputError
        If it is not a calendar, or an event of this one in it is damaged.
    """
    own = re.compile(rf"{own_part}-[0-9a-f]{{32}}@dewgap", re.ASCII)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _parse(content, prodid, own)
    except OutputError:
        raise
    except Exception:  # whatever the library raises at bytes that are no calendar
        raise _unusable("cannot be read as a calendar (RFC 5545)") from None


def _parse(content: bytes, prodid: str, own: re.Pattern[str]) -> Before:
    # no file of ours has a rule, and the library may count one of a time zone out for minutes
    content = _RULE_LINES.sub(b"", _FOLDS.sub(b"", content))
    calendars = [c for c in Calendar.from_ical(content, multiple=True) if isinstance(c, Calendar)]
    if not calendars:
        raise _unusable("holds no whole calendar (RFC 5545)")
    events: dict[str, Earlier] = {}
    dropped: dict[str, int] = {}
    for calendar in calendars:
        if str(calendar.get("PRODID")) != prodid:
            continue
        for told in _many(calendar.get(LAST_SEQUENCE)):
            number, _, uid = str(told).partition(" ")
            if own.fullmatch(uid):
                dropped[uid] = max(_number(number, uid), dropped.get(uid, 0))
        for event in calendar.walk("VEVENT"):
            if own.fullmatch(str(event.get("UID"))):
                earlier = _earlier(event)
                other = events.get(earlier.entry.uid, earlier)
                events[earlier.entry.uid] = max(earlier, other, key=lambda one: one.sequence)
    return Before(events, dropped)


def _many(value: object) -> Iterable[object]:
    if value is None:
        return ()
    return value if isinstance(value, list) else (value,)


def _earlier(event: Component) -> Earlier:
    uid = str(event.get("UID"))
    start, end = _moment(event, "DTSTART", uid), _moment(event, "DTEND", uid)
    if start is None:
        raise _unusable(f"has no DTSTART in the event {uid}")
    if end is not None and end < start:
        raise _unusable(f"has DTEND before DTSTART in the event {uid}")
    entry = Entry(
        uid=uid,
        summary=clean_text(str(event.get("SUMMARY", ""))),
        description=clean_text(str(event.get("DESCRIPTION", ""))),
        start=start,
        end=end,
        zone=_zone_of(event),
        busy=str(event.get("TRANSP")) == "OPAQUE",
        firm=False,
        alarms=(),
        location=clean_text(str(event.get("LOCATION", ""))),
    )
    return Earlier(
        entry=entry,
        sequence=_number(event.get("SEQUENCE", 0), uid),
        status=str(event.get("STATUS")),
        modified=_moment(event, "LAST-MODIFIED", uid),
        body=body_of(event),
    )


def _number(value: object, uid: str) -> int:
    text = str(value)
    if not re.fullmatch("[0-9]{1,10}", text) or int(text) > _MOST_SEQUENCE:
        raise _unusable(f"has a SEQUENCE that is not a number from 0 up in the event {uid}")
    return int(text)


def _moment(event: Component, name: str, uid: str) -> datetime | None:
    """Return a time of an event in UTC, None without one."""
    if name not in event:
        return None
    value = event[name]
    when = value.dt if isinstance(value, vDDDTypes) else None
    if not isinstance(when, datetime) or when.utcoffset() is None or when.year not in _YEARS:
        raise _unusable(f"has a {name} that is not a time with a zone in the event {uid}")
    return when.astimezone(UTC)


def _unusable(what: str) -> OutputError:
    return OutputError(
        f"the calendar file written before {what}; put back the file as it was written, "
        "or move it away to begin a new one"
    )
