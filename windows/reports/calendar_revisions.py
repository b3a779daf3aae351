"""Calendar files (RFC 5545) that are written again and again: each event and its revision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from icalendar import Alarm, Calendar, Event
from icalendar.prop import vText

from windows.reports.calendar_before import LAST_SEQUENCE, Before, Earlier, body_of, read_before
from windows.reports.calendar_entry import FIRM, Entry, clean_text, utc_second
from windows.reports.calendar_zones import time_zone

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime, timedelta
    from zoneinfo import ZoneInfo

    import pandas as pd

__all__ = ["revised_calendar"]


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
    known = Before({}, {}) if before is None else read_before(before, prodid, own)
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
        calendar.subcomponents.insert(place, time_zone(used, min(years), max(years)))
    content: bytes = calendar.to_ical()
    return content


def _calendar(prodid: str, name: str, dropped: dict[str, int]) -> Calendar:
    calendar = Calendar()
    calendar.add("PRODID", prodid)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("NAME", vText(clean_text(name)))  # a TEXT, which icalendar 7.3 does not know
    for uid, last in sorted(dropped.items()):
        calendar.add(LAST_SEQUENCE, f"{last} {uid}")
    return calendar


def _status(entry: Entry, now: datetime) -> str:
    """Return whether an event is near enough to be confirmed."""
    return "CONFIRMED" if entry.firm and entry.start - now <= FIRM else "TENTATIVE"


def _sequence(entry: Entry, status: str, earlier: Earlier | None, last: int | None) -> int:
    """Return the number of an event's revision, from what it was and what it is now."""
    if earlier is None:
        return 0 if last is None else last + 1
    was = earlier.entry
    same = (was.start, was.end, earlier.status) == (entry.start, entry.end, status)
    return earlier.sequence + (not same)


def _event(
    entry: Entry,
    status: str,
    earlier: Earlier | None,
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
    kept = earlier is not None and earlier.body == body_of(event)
    modified = earlier.modified if earlier is not None and kept else None
    event.add("LAST-MODIFIED", modified or now)
    return event


def _alarm(before: timedelta, told: str) -> Alarm:
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("TRIGGER", before)
    alarm.add("DESCRIPTION", told)
    return alarm


def _local(times: tuple[datetime, datetime], zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return both times on a zone's clock, or both in UTC if one comes twice on it."""
    start, end = (when.astimezone(zone) for when in times)
    return times if start.fold or end.fold else (start, end)
