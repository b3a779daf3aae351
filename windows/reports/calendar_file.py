"""A plan as a calendar file (RFC 5545) that crews subscribe to or import, again and again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from windows.reports.calendar_entry import (
    FIRM,
    Entry,
    clean_text,
    deadline_alarms,
    digest,
    uid_begin,
    utc_second,
)
from windows.reports.calendar_revisions import revised_calendar
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from zoneinfo import ZoneInfo

    import pandas as pd

    from windows.plan import Placement, Plan
    from windows.reports.wording import Wording

__all__ = ["plan_calendar"]

_PRODID = "-//dewgap//plan//EN"
_CREW_ALARMS = (timedelta(hours=-14),)  # the afternoon before a morning's start


def plan_calendar(
    plan: Plan,
    *,
    project: str,
    zone: ZoneInfo,
    now: pd.Timestamp,
    issued: pd.Timestamp | None,
    before: bytes | None = None,
    notes: Sequence[str] = (),
    words: Wording,
) -> bytes:
    """Return a plan as a calendar file: an event for each placement and one for each deadline.

    An event's UID comes from project, piece and layer, never from its time, so that a calendar
    program moves an event instead of adding another. What raises the number of a revision, and what
    becomes of an event that is no longer planned, says `revised_calendar`.

    An event that starts within 24 h of ``now`` by a forecast that is not older than that is
    CONFIRMED, another TENTATIVE.

    Parameters
    ----------
    plan
        Times are kept to the whole second.
    project
        Its name goes into every UID and is the calendar's.
    zone
        The site's, for the event's times and for those in its words.
    now
        The time of writing: decides what is confirmed and what has passed.
    issued
        When the forecast was issued, None if not known.
    before
        The calendar file written earlier. Events of other projects and files of other programs
        are not taken over, nor are events without UID.
    notes
        What goes with every event: cautions, and what the plan rests on.
    words
        The reader's units.

    Raises
    ------
    OutputError
        If ``before`` is not a calendar, or an event of this project in it is damaged.
    """
    words = replace(words, zone=zone)
    firm = issued is None or utc_second(now) - utc_second(issued) <= FIRM
    entries = [
        entry
        for placement in plan.placements
        for entry in _entries(placement, project, issued, firm, notes, words)
    ]
    return revised_calendar(
        entries, prodid=_PRODID, name=project, own=uid_begin(project), now=now, before=before,
        zone=zone,
    )  # fmt: skip


def _entries(
    placement: Placement,
    project: str,
    issued: pd.Timestamp | None,
    firm: bool,
    notes: Sequence[str],
    words: Wording,
) -> Iterator[Entry]:
    """Yield the event of a placement, and that of its deadline if it has one."""
    where = f"{placement.layer_name} on {placement.piece}"
    summary = clean_text(f"{where} ({placement.coating})")
    description = _description(placement, issued, notes, words)
    check = clean_text(f"confirm or call off {summary}, start {words.clock(placement.start)}")
    yield Entry(
        uid=_uid(project, placement, "work"),
        summary=summary,
        description=description,
        start=utc_second(placement.start),
        end=utc_second(placement.end),
        zone=words.zone,
        busy=True,
        firm=firm,
        alarms=tuple((before, check) for before in _CREW_ALARMS),
    )
    if placement.due is None or _same_day(placement.due, placement.end, words):
        return  # the next layer is planned for that day as well
    deadline = clean_text(f"deadline: cover {where}")
    yield Entry(
        uid=_uid(project, placement, "deadline"),
        summary=deadline,
        description=description,
        start=utc_second(placement.due),
        end=None,
        zone=words.zone,
        busy=False,
        firm=firm,
        alarms=deadline_alarms(
            placement.due, placement.end, f"{deadline} by {words.clock(placement.due)}"
        ),
    )


def _same_day(when: pd.Timestamp, other: pd.Timestamp, words: Wording) -> bool:
    return when.tz_convert(words.zone).date() == other.tz_convert(words.zone).date()


def _description(
    placement: Placement, issued: pd.Timestamp | None, notes: Sequence[str], words: Wording
) -> str:
    due = "no deadline known" if placement.due is None else words.clock(placement.due)
    return clean_text(
        "\n".join(
            (
                f"Layer {placement.layer + 1}: {placement.layer_name} ({placement.coating}) "
                f"on {placement.piece}",
                f"Section: {placement.section}",
                f"Area: {words.value(placement.area_m2, 'area')}",
                f"Next layer and foot traffic from: {words.clock(placement.opens)}",
                f"Cover by: {due}",
                f"Forecast issued: {words.clock(issued)}",
                *notes,
                GOVERNS,
            )
        )
    )


def _uid(project: str, placement: Placement, kind: str) -> str:
    own = digest(project, placement.piece, placement.layer, kind)[:32]
    return f"{uid_begin(project)}-{own}@dewgap"
