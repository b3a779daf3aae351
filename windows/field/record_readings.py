"""The readings of an application record: those by hand one by one, those of loggers by spans."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.field.moist_air import each_computed, spreads
from windows.field.record_result import LOGGER_RANGES, LoggerSpan, Measured
from windows.log.entries import Reading

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from windows.log.entries import Entry

__all__ = ["logger_spans", "measured"]


def measured(entries: list[Entry]) -> tuple[Measured, ...]:
    """Return readings, each with its dew point and its spread."""
    bodies = [_reading(e) for e in entries]
    return tuple(
        Measured(entry, body, found.dew_point_c, found.worked_out, found.spread_k)
        for entry, body, found in zip(entries, bodies, each_computed(bodies), strict=True)
    )


def _reading(entry: Entry) -> Reading:
    assert isinstance(entry.body, Reading)  # others were passed over
    return entry.body


def logger_spans(entries: list[Entry], zone: ZoneInfo, *, hourly: bool) -> tuple[LoggerSpan, ...]:
    """Return the readings of loggers by section and hour, or by section and local day."""
    if not entries:
        return ()
    bodies = [_reading(e) for e in entries]
    moist = spreads(bodies)
    table = pd.DataFrame(
        {
            name: np.array([getattr(b, name) for b in bodies], dtype=np.float64)  # None is NaN
            for name in ("air_temp_c", "surface_temp_c", "rel_humidity", "wind_m_s", "gust_m_s")
        }
    )
    table["dew_point_c"], table["spread_k"] = moist.dew_point_c, moist.spread_k
    table["section"] = [b.section for b in bodies]
    table["number"] = [e.number for e in entries]
    at = pd.DatetimeIndex([e.at for e in entries]).tz_convert("UTC")
    table["start"] = at.floor("h") if hourly else at.tz_convert(zone).normalize()
    found = []
    for keys, rows in table.groupby(["start", "section"], sort=True):
        start, section = rows["start"].iloc[0], keys[1]
        end = start + (pd.Timedelta(hours=1) if hourly else pd.DateOffset(days=1))
        ranges = {}
        for name in LOGGER_RANGES:
            known = rows[name].dropna()
            if len(known):
                ranges[name] = (float(known.min()), float(known.max()), len(known))
        found.append(
            LoggerSpan(
                str(section), start.tz_convert("UTC"), end.tz_convert("UTC"), len(rows), ranges,
                int(rows["number"].min()), int(rows["number"].max()),
            )
        )  # fmt: skip
    return tuple(found)
