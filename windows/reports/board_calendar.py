"""A crew's part of the board as a calendar file (RFC 5545), brought up to date each evening."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from windows.board.result import Danger
from windows.decision import Verdict
from windows.reports.board_table import area_told, chance_told, margin_told, site_names
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
from windows.reports.decision_words import told as decision_told
from windows.reports.wording import Wording
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from windows.board.result import Assignment, Board, BoardSite, Deadline, Work
    from windows.decision import Decision
    from windows.reports.wording import UnitSystem

__all__ = ["calendar_name", "crew_calendar"]

_PRODID = "-//dewgap//board//EN"
_AHEAD = timedelta(hours=14)  # of work that has begun: there is nothing left to decide
_GOES = (Verdict.GO, Verdict.GO_UNTIL)
_DAY = timedelta(days=1)
_MOST_SLUG = 40
_NO_SLUG = re.compile("[^a-z0-9]+")


def calendar_name(crew: str) -> str:
    """Return the name of a crew's calendar file: plain, and its own whatever the crew is called.

    Letters and digits of the name are there to be read; a digest of the whole name sets apart
    crews whose letters are the same, on file systems too that take A and a for one.
    """
    plain = unicodedata.normalize("NFKD", crew).encode("ascii", "ignore").decode().lower()
    slug = _NO_SLUG.sub("-", plain)[:_MOST_SLUG].strip("-")
    return f"{slug or 'crew'}-{digest(crew)[:8]}.ics"


def crew_calendar(
    board: Board,
    crew: str,
    *,
    before: bytes | None = None,
    units: UnitSystem = "us",
    project: str = "board",
    currency: str | None = None,
) -> bytes:
    """Return a crew's calendar: an event for each layer that it lays, and one for each deadline.

    A visit of several layers or pieces has an event for each of them. An event's UID comes from
    project, crew, site, piece and layer, never from its time or the folder's place, so that it
    moves with its work; what one day's visit holds changes too often to be a name. Work that goes
    to another crew is CANCELLED here and new there. What raises the number of a revision says
    `revised_calendar`.

    An event is CONFIRMED that starts within 24 h of the board by a forecast that is neither stale
    nor older than that, if the costs, where given, say go; another is TENTATIVE. An alarm rings at
    the last moment to decide, once a visit.

    Deadlines are those of layers that the crew is to cover, those of layers that it lays, and on
    its sites those that nobody covers.

    Parameters
    ----------
    board
        Its ``now`` is the time of writing. Times are kept to the whole second.
    crew
        Its name. Of a crew that is not on the board all that was planned is called off.
    before
        The crew's file written earlier; events of other crews and projects are not taken over.
    units
        The reader's.
    project
        Goes into every UID: sets apart boards that have crews and sites of the same names.
    currency
        Of the costs, for the words; that of the board where it is not given.

    Raises
    ------
    OutputError
        If ``before`` is not a calendar, or an event of this crew in it is damaged.
    """
    places = _places(board, units)
    laying = {
        (visit.site, work.placement.piece, work.placement.layer_name): work.placement.end
        for visit in board.assignments
        for work in visit.works
    }
    visits = [visit for visit in board.assignments if visit.crew == crew]
    own = _Own(project, crew)
    entries = [
        _work(visit, work, places[visit.site], own, currency or board.currency, board.now)
        for visit in visits
        for work in visit.works
    ]
    entries += [
        _deadline(each, each.due, laying.get(_key(each)), places[each.site], own)
        for each in board.deadlines
        if each.due is not None
        and _concerns(each, crew, visits)
        and not _same_day(each, laying.get(_key(each)), places[each.site].words)
    ]
    return revised_calendar(
        _apart(entries), prodid=_PRODID, name=crew, own=own.begin, now=board.now, before=before
    )


@dataclass(frozen=True)
class _Own:
    """Whose calendar it is."""

    project: str
    crew: str

    @property
    def begin(self) -> str:
        return uid_begin(self.project, "crew", self.crew)

    def uid(self, *parts: str | int) -> str:
        return f"{self.begin}-{digest(self.project, 'crew', self.crew, *parts)[:32]}@dewgap"


@dataclass(frozen=True)
class _Place:
    """A site with its words; ``firm`` tells whether its forecast is new enough to confirm by."""

    site: BoardSite
    name: str
    firm: bool
    words: Wording

    @property
    def weather(self) -> tuple[str, ...]:
        old = ("This forecast is OLD: check before you go",) if self.site.stale else ()
        issued = self.words.clock(self.site.issued)
        return (f"Weather: {self.site.weather}", f"Forecast issued: {issued}", *old)


def _places(board: Board, units: UnitSystem) -> dict[str, _Place]:
    names = site_names(board)
    return {
        site.key: _Place(
            site=site,
            name=names[site.key],
            firm=not site.stale and (site.issued is None or board.now - site.issued <= FIRM),
            words=Wording(units, site.zone),
        )
        for site in board.sites
    }


def _work(
    visit: Assignment,
    work: Work,
    place: _Place,
    own: _Own,
    currency: str,
    now: pd.Timestamp,
) -> Entry:
    """Return the event of a layer on a piece; the first of a visit rings to decide."""
    placed, words, decision = work.placement, place.words, visit.decision
    summary = f"{placed.layer_name} on {placed.piece} ({placed.coating}), {place.name}"
    summary += _stop_told(decision, placed.end, words)
    ahead = -_AHEAD if decision is None else decision.decide_by - placed.start
    check = f"confirm or call off {summary}, on site {words.clock(visit.arrive)}"
    return Entry(
        uid=own.uid("work", visit.site, placed.piece, placed.layer),
        summary=clean_text(summary),
        description=clean_text("\n".join(_lines(visit, work, place, currency, now))),
        start=utc_second(placed.start),
        end=utc_second(placed.end),
        zone=place.site.zone,
        busy=True,
        firm=place.firm and (decision is None or _goes(decision, placed.start)),
        alarms=((_seconds(ahead), clean_text(check)),) if work is visit.works[0] else (),
        location=clean_text(place.name),
    )


def _goes(decision: Decision, start: pd.Timestamp) -> bool:
    """Tell whether the costs say go for what begins at a time."""
    stop = decision.stop_at
    return decision.verdict in _GOES and stop is not None and start < stop


def _stop_told(decision: Decision | None, end: pd.Timestamp, words: Wording) -> str:
    """Return the time to stop, of work that would go on after it: its end is not the plan's."""
    if decision is None or decision.verdict is not Verdict.GO_UNTIL or decision.stop_at is None:
        return ""
    return f", STOP at {words.clock(decision.stop_at, end)}" if decision.stop_at < end else ""


def _lines(
    visit: Assignment, work: Work, place: _Place, currency: str, now: pd.Timestamp
) -> Iterator[str]:
    placed, words = work.placement, place.words
    yield f"Layer {placed.layer + 1}: {placed.layer_name} ({placed.coating}) on {placed.piece}"
    yield f"Site: {place.name}"
    yield f"Section: {placed.section}"
    yield f"Area: {area_told(placed.area_m2, words)}"
    yield (
        f"On site: {words.day(visit.arrive)} {words.hours(visit.arrive, visit.leave)}, "
        f"drive {words.duration(visit.drive_h)} one way"
    )
    yield f"Chance to hold: {chance_told(work.chance)}"
    yield f"Nearest limit: {margin_told(work.tightest, words)}"
    told = "under way"
    if visit.decision is not None:
        told = decision_told(visit.decision, words, currency, now)
    yield f"Go or wait: {told}"
    yield f"Next layer and foot traffic from: {words.clock(placed.opens)}"
    due = "no deadline known" if placed.due is None else words.clock(placed.due)
    yield f"Cover by: {due}"
    yield from place.weather
    yield from (caution.text for caution in visit.cautions)
    yield from place.site.notes
    yield GOVERNS


def _key(deadline: Deadline) -> tuple[str, str, str]:
    return deadline.site, deadline.piece, deadline.layer_name


def _concerns(deadline: Deadline, crew: str, visits: Sequence[Assignment]) -> bool:
    """Tell whether a deadline goes into a crew's calendar."""
    there = [visit for visit in visits if visit.site == deadline.site]
    lays = any(
        (work.placement.piece, work.placement.layer_name) == (deadline.piece, deadline.layer_name)
        for visit in there
        for work in visit.works
    )
    return deadline.crew == crew or lays or (deadline.crew is None and bool(there))


def _same_day(deadline: Deadline, laid: pd.Timestamp | None, words: Wording) -> bool:
    """Tell whether a layer is planned to be laid and covered in one day: a deadline for nobody."""
    if laid is None or deadline.due is None or deadline.danger is not Danger.IN_TIME:
        return False
    return words.day(laid) == words.day(deadline.due) and deadline.due - laid < _DAY


def _deadline(
    deadline: Deadline,
    due: pd.Timestamp,
    laid: pd.Timestamp | None,
    place: _Place,
    own: _Own,
) -> Entry:
    """Return a deadline as a moment of its own; ``laid`` is when its layer will be, if not yet."""
    words = place.words
    summary = f"deadline: cover {deadline.layer_name} on {deadline.piece}, {place.name}"
    cover = "none planned"
    if deadline.cover is not None:
        cover = f"{words.clock(deadline.cover)}, {deadline.crew or 'crew not known'}"
    told = [
        f"Cover {deadline.layer_name} on {deadline.piece} by: {words.clock(due)}",
        f"Site: {place.name}",
        f"How it stands: {deadline.danger.value}",
        f"Cover: {cover}",
        *([] if deadline.chance is None else [f"Chance to hold: {chance_told(deadline.chance)}"]),
        *place.weather,
        GOVERNS,
    ]
    return Entry(
        uid=own.uid("deadline", *_key(deadline)),
        summary=clean_text(summary),
        description=clean_text("\n".join(told)),
        start=utc_second(due),
        end=None,
        zone=place.site.zone,
        busy=False,
        firm=place.firm,
        alarms=deadline_alarms(due, laid, f"{summary} by {words.clock(due)}"),
        location=clean_text(place.name),
    )


def _seconds(length: timedelta) -> timedelta:
    """Return a length of time in whole seconds: an alarm has no parts of them."""
    return timedelta(seconds=round(length.total_seconds()))


def _apart(entries: Sequence[Entry]) -> list[Entry]:
    """Return entries with UIDs of their own, should a layer be laid twice on one board."""
    seen: Counter[str] = Counter()
    told = []
    for entry in entries:
        again = seen[entry.uid]
        seen[entry.uid] += 1
        begin, _, own = entry.uid.removesuffix("@dewgap").partition("-")
        uid = f"{begin}-{digest(own, again)[:32]}@dewgap" if again else entry.uid
        told.append(replace(entry, uid=uid))
    return told
