"""Calendar files (RFC 5545) that are written again and again: revisions, time zones, reading back.

What an event says is the matter of ``calendar_file`` for a plan and ``board_calendar`` for a crew.
"""

from __future__ import annotations

import hashlib
import json
import re
import warnings
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from icalendar import Alarm, Calendar, Event, Timezone, TimezoneDaylight, TimezoneStandard
from icalendar.prop import vDDDTypes, vText

from windows.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    import pandas as pd
    from icalendar import Component

__all__ = [
    "FIRM", "Entry", "clean_text", "deadline_alarms", "digest", "revised_calendar", "uid_begin",
    "utc_second",
]  # fmt: skip

FIRM = timedelta(hours=24)
"""An event that starts this soon is confirmed, by a forecast that is not older than this."""

_DEADLINE_ALARMS = (timedelta(hours=-24), timedelta(hours=-4))

# X-properties are free to each writer (RFC 5545 section 3.8.8.2); readers skip what they do not
# know. This one keeps the last SEQUENCE of an event that is no longer in the file.
_LAST_SEQUENCE = "X-DEWGAP-LAST-SEQUENCE"

_MOST_SEQUENCE = 2**31 - 2  # an INTEGER's most, less one to be raised by (section 3.3.8)
_YEARS = range(2000, 2200)

_BREAKS = re.compile("\r\n|[\r\x0b\x0c\x1c-\x1e\x85\u2028\u2029]")
_NOT_TEXT = re.compile("[\x00-\x08\x0e-\x1b\x1f\x7f\ud800-\udfff]")  # section 3.3.11
_FOLDS = re.compile(rb"(?<!\n)(?:\r?\n)++[ \t]")
_RULE_LINES = re.compile(rb"^RRULE.*$", re.IGNORECASE | re.MULTILINE)
_REVISION_LINE = re.compile(rb"^(?:DTSTAMP|LAST-MODIFIED)[;:].*\r\n", re.MULTILINE)


@dataclass(frozen=True)
class Entry:
    """What an event says, apart from its revision; times in UTC, no ``end`` for a moment.

    ``zone`` is the clock by which its times are told. ``firm`` tells whether it is confirmed once
    it is near enough. ``alarms`` are times from its start, each with its words.
    """

    uid: str
    summary: str
    description: str
    start: datetime
    end: datetime | None
    zone: ZoneInfo
    busy: bool
    firm: bool
    alarms: tuple[tuple[timedelta, str], ...]
    location: str = ""

    @property
    def last(self) -> datetime:
        """The moment after which it has passed."""
        return self.start if self.end is None else self.end

    def cancelled(self, zone: ZoneInfo | None) -> Entry:
        """Return the entry as it stands once called off: it takes no time and wakes nobody."""
        return replace(self, busy=False, alarms=(), zone=zone or self.zone)


@dataclass(frozen=True)
class _Earlier:
    """An event of the file written before; ``body`` is all of it but the times of its revision."""

    entry: Entry
    sequence: int
    status: str
    modified: datetime | None
    body: bytes


@dataclass(frozen=True)
class _Before:
    """The file written before: this project's events, and the last numbers of those dropped."""

    events: dict[str, _Earlier]
    dropped: dict[str, int]


def revised_calendar(
    entries: Sequence[Entry],
    *,
    prodid: str,
    name: str,
    own: str,
    now: pd.Timestamp,
    before: bytes | None,
    zone: ZoneInfo | None = None,
) -> bytes:
    r"""Return entries as a calendar file, each with the number of its revision.

    RFC 5545 section 3.8.7.4 has SEQUENCE raised with each significant revision, and RFC 5546
    section 2.1.4 names those for which it must be, for PUBLISH too: DTSTART, DTEND and STATUS are
    among them. So a move raises SEQUENCE by one, and so does a change of STATUS alone, as from
    TENTATIVE to CONFIRMED; both together raise it once. New words alone change LAST-MODIFIED only.

    An event of ``before`` that is not among the entries and has not ended before ``now`` is
    CANCELLED at its old times; one that has is left out. Its last SEQUENCE then stays in an
    X-property of the calendar, so that it goes on from there if the entry comes again: a calendar
    program may pass over an event whose number fell.

    A moment in the hour that a clock goes through a second time cannot be told with a TZID (RFC
    5545 section 3.3.5 means the first by it); such an event is in UTC.

    Parameters
    ----------
    entries
        In the order of the file.
    prodid, name
        The calendar's; events of files with another ``prodid`` are not taken over.
    own
        What the UIDs of this calendar begin with, by `uid_begin`.
    now
        The time of writing: decides what is confirmed and what has passed.
    before
        The calendar file written earlier. Events whose UID does not begin with ``own`` are not
        taken over.
    zone
        The clock for events called off; None for the one by which each was told.

    Raises
    ------
    OutputError
        If ``before`` is not a calendar, or an event of this one in it is damaged.
    """
    stamp = utc_second(now)
    known = _Before({}, {}) if before is None else _read(before, prodid, own)
    told = {entry.uid for entry in entries}
    gone = [earlier for uid, earlier in known.events.items() if uid not in told]
    called_off = sorted(
        (earlier for earlier in gone if earlier.entry.last >= stamp),
        key=lambda earlier: (earlier.entry.start, earlier.entry.uid),
    )
    passed = {e.entry.uid: e.sequence for e in gone if e.entry.last < stamp}
    dropped = {uid: last for uid, last in known.dropped.items() if uid not in told} | passed

    calendar = _calendar(prodid, name, dropped)
    for entry in entries:
        earlier = known.events.get(entry.uid)
        last = known.dropped.get(entry.uid)
        calendar.add_component(_event(entry, _status(entry, stamp), earlier, last, stamp))
    cancelled = [(earlier.entry.cancelled(zone), earlier) for earlier in called_off]
    for entry, earlier in cancelled:
        calendar.add_component(_event(entry, "CANCELLED", earlier, None, stamp))
    missing = calendar.get_missing_tzids()
    shown = [*entries, *(entry for entry, _ in cancelled)]
    zones = {entry.zone.key: entry.zone for entry in shown if entry.zone.key in missing}
    for place, (key, used) in enumerate(sorted(zones.items())):
        there = [entry for entry in shown if entry.zone.key == key]
        years = [when.year for entry in there for when in (entry.start, entry.last)]
        calendar.subcomponents.insert(place, _time_zone(used, min(years), max(years)))
    content: bytes = calendar.to_ical()
    return content


def deadline_alarms(
    due: pd.Timestamp, laid: pd.Timestamp | None, told: str
) -> tuple[tuple[timedelta, str], ...]:
    """Return the alarms of a deadline, but none before the layer lies there (None: it does)."""
    text = clean_text(told)
    return tuple(
        (before, text) for before in _DEADLINE_ALARMS if laid is None or due + before >= laid
    )


def _calendar(prodid: str, name: str, dropped: dict[str, int]) -> Calendar:
    calendar = Calendar()
    calendar.add("PRODID", prodid)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("NAME", vText(clean_text(name)))  # a TEXT, which icalendar 7.3 does not know
    for uid, last in sorted(dropped.items()):
        calendar.add(_LAST_SEQUENCE, f"{last} {uid}")
    return calendar


def _status(entry: Entry, now: datetime) -> str:
    """Return whether an event is near enough to be confirmed."""
    return "CONFIRMED" if entry.firm and entry.start - now <= FIRM else "TENTATIVE"


def _sequence(entry: Entry, status: str, earlier: _Earlier | None, last: int | None) -> int:
    """Return the number of an event's revision, from what it was and what it is now."""
    if earlier is None:
        return 0 if last is None else last + 1
    was = earlier.entry
    same = (was.start, was.end, earlier.status) == (entry.start, entry.end, status)
    return earlier.sequence + (not same)


def _event(
    entry: Entry,
    status: str,
    earlier: _Earlier | None,
    last: int | None,
    now: datetime,
) -> Event:
    """Return the event of an entry; its LAST-MODIFIED is the earlier one's if nothing changed."""
    event = Event()
    event.add("UID", entry.uid)
    event.add("DTSTAMP", now)
    start, end = _local((entry.start, entry.last), entry.zone)
    event.add("DTSTART", start)
    if entry.end is not None:
        event.add("DTEND", end)
    event.add("SUMMARY", entry.summary)
    event.add("DESCRIPTION", entry.description)
    if entry.location:
        event.add("LOCATION", entry.location)
    event.add("SEQUENCE", _sequence(entry, status, earlier, last))
    event.add("STATUS", status)
    event.add("TRANSP", "OPAQUE" if entry.busy else "TRANSPARENT")
    for before, told in entry.alarms:
        event.add_component(_alarm(before, told))
    kept = earlier is not None and earlier.body == _body(event)
    modified = earlier.modified if earlier is not None and kept else None
    event.add("LAST-MODIFIED", modified or now)
    return event


def _alarm(before: timedelta, told: str) -> Alarm:
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("TRIGGER", before)
    alarm.add("DESCRIPTION", told)
    return alarm


def _body(event: Component) -> bytes:
    """Return an event as written, without the lines that only tell when it was."""
    return _REVISION_LINE.sub(b"", event.to_ical())


def _local(times: tuple[datetime, datetime], zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return both times on a zone's clock, or both in UTC if one comes twice on it."""
    start, end = (when.astimezone(zone) for when in times)
    return times if start.fold or end.fold else (start, end)


def _time_zone(zone: ZoneInfo, first: int, last: int) -> Timezone:
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


def utc_second(when: pd.Timestamp) -> datetime:
    """Return a time in UTC, to the whole second."""
    return when.floor("s").to_pydatetime().astimezone(UTC)


def clean_text(text: str) -> str:
    """Return a text as iCalendar can hold it: one kind of line break, no control characters."""
    return _NOT_TEXT.sub("\ufffd", _BREAKS.sub("\n", text))


def digest(*parts: str | int) -> str:
    """Return the digest of some parts, in hexadecimal digits, for a UID."""
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def uid_begin(*parts: str | int) -> str:
    """Return what the UIDs of a calendar begin with."""
    return digest(*parts)[:16]


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


def _read(content: bytes, prodid: str, own_part: str) -> _Before:
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


def _parse(content: bytes, prodid: str, own: re.Pattern[str]) -> _Before:
    # no file of ours has a rule, and the library may count one of a time zone out for minutes
    content = _RULE_LINES.sub(b"", _FOLDS.sub(b"", content))
    calendars = [c for c in Calendar.from_ical(content, multiple=True) if isinstance(c, Calendar)]
    if not calendars:
        raise _unusable("holds no whole calendar (RFC 5545)")
    events: dict[str, _Earlier] = {}
    dropped: dict[str, int] = {}
    for calendar in calendars:
        if str(calendar.get("PRODID")) != prodid:
            continue
        for told in _many(calendar.get(_LAST_SEQUENCE)):
            number, _, uid = str(told).partition(" ")
            if own.fullmatch(uid):
                dropped[uid] = max(_number(number, uid), dropped.get(uid, 0))
        for event in calendar.walk("VEVENT"):
            if own.fullmatch(str(event.get("UID"))):
                earlier = _earlier(event)
                other = events.get(earlier.entry.uid, earlier)
                events[earlier.entry.uid] = max(earlier, other, key=lambda one: one.sequence)
    return _Before(events, dropped)


def _many(value: object) -> Iterable[object]:
    if value is None:
        return ()
    return value if isinstance(value, list) else (value,)


def _earlier(event: Component) -> _Earlier:
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
    return _Earlier(
        entry=entry,
        sequence=_number(event.get("SEQUENCE", 0), uid),
        status=str(event.get("STATUS")),
        modified=_moment(event, "LAST-MODIFIED", uid),
        body=_body(event),
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
