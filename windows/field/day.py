"""A day of a job by its log: the readings that it asks for, and its record."""

from __future__ import annotations

import os
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

import pandas as pd

from windows.errors import LogError
from windows.field.due import Due, due
from windows.field.record import record
from windows.log.entries import KINDS, Placement, Reading
from windows.log.store import open_log

if TYPE_CHECKING:
    from windows.field.desk import Desk
    from windows.field.record_result import Record

__all__ = ["due_now", "readings_due", "record_of"]


_NEAR = pd.Timedelta(days=1)
"""Readings so near a day are looked at for it."""


def readings_due(at: Desk) -> tuple[Due, ...]:
    """Return the readings that today's work asks for, with those that meet them.

    Raises
    ------
    LogError
        If the log cannot be read.
    """
    if not os.path.exists(at.log):
        return ()
    today = at.now.tz_convert(at.site.zone).normalize()
    start, end = (each - _NEAR * sign for each, sign in ((today, 1), (today, -2)))
    with open_log(at.log, read_only=True) as log:
        placements = list(log.entries(Placement.kind, start=start, end=end, standing=True))
        readings = [
            reading
            for reading in log.entries(Reading.kind, start=start, end=end, standing=True)
            if reading.at <= at.now.to_pydatetime()  # what is to come is not there yet
        ]
    found = due(placements, readings, zone=at.site.zone, now=at.now.to_pydatetime())
    # Of today's work, and of last night's that has gone on into today.
    return tuple(each for each in found if each.day == today.date() or _within(today, each))


def _within(today: pd.Timestamp, each: Due) -> bool:
    """Tell whether what is due of an earlier day's work reaches into a day."""
    return each.day < today.date() and each.end > today.to_pydatetime()


def due_now(at: Desk) -> tuple[Due, ...]:
    """Return those of the readings due today that are missing."""
    return tuple(each for each in readings_due(at) if each.met_by is None)


def record_of(at: Desk, day: date | None) -> Record:
    """Return the application record of a local day, or of the whole job.

    Raises
    ------
    LogError
        If there is no log, or it cannot be read.
    """
    if day is not None and day > at.now.tz_convert(at.site.zone).date():
        raise LogError(f"{day} is still to come; make the record of a day that is over or begun")
    start, end = (
        None if day is None
        else datetime.combine(day + timedelta(days=n), time(), at.site.zone)
        for n in (-1, 2)
    )  # fmt: skip
    others = [kind for kind in KINDS if kind != Reading.kind]
    with open_log(at.log, read_only=True) as log:
        entries = {entry.number: entry for entry in log.entries(*others)}
        some = log.entries(Reading.kind, start=start, end=end)
        entries |= {entry.number: entry for entry in some}
        # What was corrected is told with what stands for it, whenever that was.
        entries |= {entry.number: entry for entry in log.corrections()}
        head = log.head
    return record(
        list(entries.values()), site=at.site, system=at.system, job=at.job,
        now=at.now.to_pydatetime(), day=day, head=head, in_weather=at.in_weather,
    )  # fmt: skip
