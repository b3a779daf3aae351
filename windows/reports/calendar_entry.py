"""What an event of a calendar says, apart from its revision; texts and UIDs as a file holds them.

What the words are is the matter of ``calendar_file`` for a plan and ``board_calendar`` for a crew.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    import pandas as pd

__all__ = ["FIRM", "Entry", "clean_text", "deadline_alarms", "digest", "uid_begin", "utc_second"]

FIRM = timedelta(hours=24)
"""An event that starts this soon is confirmed, by a forecast that is not older than this."""

_DEADLINE_ALARMS = (timedelta(hours=-24), timedelta(hours=-4))

_BREAKS = re.compile("\r\n|[\r\x0b\x0c\x1c-\x1e\x85\u2028\u2029]")
_NOT_TEXT = re.compile("[\x00-\x08\x0e-\x1b\x1f\x7f\ud800-\udfff]")  # section 3.3.11


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


def deadline_alarms(
    due: pd.Timestamp, laid: pd.Timestamp | None, told: str
) -> tuple[tuple[timedelta, str], ...]:
    """Return the alarms of a deadline, but none before the layer lies there (None: it does)."""
    text = clean_text(told)
    return tuple(
        (before, text) for before in _DEADLINE_ALARMS if laid is None or due + before >= laid
    )


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
