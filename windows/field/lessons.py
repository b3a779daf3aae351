"""What the log of a job has taught of its site, put to use where its weather is read."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

from windows.field.beside import CORRECTED, model_key, source_line
from windows.field.corrected import corrected, corrected_site
from windows.field.learn import learn
from windows.field.learned import SURFACE, Learned, lesson_told
from windows.log.entries import Reading
from windows.log.store import open_log

if TYPE_CHECKING:
    from pathlib import Path

    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["lessons", "taught"]

_NEW = pd.Timedelta(days=90)
"""Readings of so long before now teach: the error of a source changes with the season (own
choice)."""


def lessons(log: Path, site: Site, hours: HourlyTable, now: pd.Timestamp) -> Learned:
    """Return what the readings of the last 90 days teach of a site and the source of its weather.

    Parameters
    ----------
    log
        The job's log; nothing is taught where there is none.
    site, hours
        The site as its file has it, and the weather as its source gave it.
    now
        The present: later readings are not known yet.

    Raises
    ------
    LogError
        If the log cannot be read.
    """
    if not os.path.exists(log):
        return Learned.none()
    with open_log(log, read_only=True) as opened:
        entries = opened.readings_to_learn((now - _NEW).to_pydatetime(), now.to_pydatetime())
        readings = [entry.body for entry in entries if isinstance(entry.body, Reading)]
    return learn(
        readings, offset_k=site.roof.surface_offset, zone=site.zone, source=source_line(hours),
        model=model_key(site),
    )  # fmt: skip


def taught(
    log: Path, site: Site, hours: HourlyTable, now: pd.Timestamp
) -> tuple[Site, HourlyTable]:
    """Return site and weather as the log of a job has taught them, with notes that say so.

    Both are returned as they are where nothing is taught.

    Raises
    ------
    LogError
        If there is a log that cannot be read.
    """
    found = lessons(log, site, hours, now)
    if not found.any_used:
        return site, hours
    moved, table = corrected_site(site, found, hours), corrected(hours, found, site)
    if moved is not site:
        told = CORRECTED + lesson_told(SURFACE, found.surface_temp)
        table = replace(table, warnings=(*table.warnings, told))
    return moved, table
