"""Quality control: what speaks against values, told by flags. Nothing is mended or filled.

Values that nature does not have, rows of one hour that differ and dew points above the air are
dealt with when a table is made (`windows.hours.check_hours`): they become unknown. What is tested
here may be true, for a cold front is a step; so the value stays and is flagged.

Limits of step and persistence are those of the screening criteria in U.S. EPA, "Meteorological
Monitoring Guidance for Regulatory Modeling Applications", EPA-454/R-99-005, table 8-4 (seen through
a training page); those of consistency are our own choice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models import psychrometrics
from windows.flags import Flag, flagged

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable

__all__ = ["Column", "Finding", "columns_of", "findings_of", "screen"]

_MOST_STEP_K = 5.0
"""Change of air temperature or dew point from one hour to the next. [K]"""
_STILL = {"air_temp_c": ((12, 0.5),), "wind_m_s": ((3, 0.1), (12, 0.5))}
"""Column: hours, and the least by which it varies in them."""
_RAIN_IN_DRY_AIR = 0.30
"""Relative humidity below which rain is unlikely. [fraction]"""
_DEW_POINTS_APART_K = 1.0
"""Between the dew point given and that of temperature and humidity. [K]"""
_DRY_DAYS = 60
"""So many days of exactly no rain: a gauge that is blocked, or a desert. [d]"""

_MEANING = {
    Flag.RANGE: "not possible: made unknown",
    Flag.DUPLICATE: "two rows of one hour differ: made unknown, or the most rain taken",
    Flag.SOURCE: "rejected or doubted by the source itself: made unknown",
    Flag.PARTIAL: "too few readings in the hour: made unknown",
    Flag.CONTRADICTION: "cannot be true beside another value: made unknown",
    Flag.STEP: f"more than {_MOST_STEP_K:g} K from the hour before",
    Flag.PERSISTENCE: "hardly moves for too long",
    Flag.CONSISTENCY: "unlikely beside another value of the hour",
    Flag.BLOCK: "share of a sum over several hours: each of them counts as rainy",
}


@dataclass(frozen=True)
class Finding:
    """One flag of one column: in how many hours, and the first of them."""

    column: str
    flag: Flag
    hours: int
    first: pd.Timestamp

    @property
    def meaning(self) -> str:
        """What the flag says."""
        return _MEANING[self.flag]

    @property
    def doubtful(self) -> bool:
        """Tell whether a value stands that may be wrong."""
        return self.flag in {Flag.STEP, Flag.PERSISTENCE, Flag.CONSISTENCY}


@dataclass(frozen=True)
class Column:
    """How much of a column is known, between what values, and its longest gap."""

    name: str
    known: float
    least: float
    most: float
    longest_gap_h: int


def screen(hours: HourlyTable) -> HourlyTable:
    """Return the table with the flags of step, persistence and consistency.

    Step and persistence are tests of instruments: a forecast or a typical year is not put to them.
    """
    flags = hours.flags
    tests = list(_consistency(hours))
    if hours.provenance.kind not in {"forecast", "typical", "reanalysis"}:
        tests += [*_steps(hours), *_persistence(hours)]
    for name, where, flag in tests:
        flags = flagged(flags, name, where, flag)
    return replace(hours, flags=flags)


Test = tuple[str, "NDArray[np.bool_]", Flag]


def _steps(hours: HourlyTable) -> Iterator[Test]:
    for name in ("air_temp_c", "dew_point_c"):
        if (values := hours.column(name)) is not None:
            step = np.abs(np.diff(values, prepend=np.nan))
            yield name, step > _MOST_STEP_K, Flag.STEP


def _persistence(hours: HourlyTable) -> Iterator[Test]:
    for name, limits in _STILL.items():
        values = hours.frame[name]
        for span, least in limits:
            window = values.rolling(span)
            still = ((window.max() - window.min()) < least).to_numpy()
            yield name, _back(still, span), Flag.PERSISTENCE
    rain = hours.frame["rain_mm"]
    span = _DRY_DAYS * 24
    dry = (rain == 0).rolling(span).sum().eq(span).to_numpy()
    yield "rain_mm", _back(dry, span), Flag.PERSISTENCE


def _back(ends: NDArray[np.bool_], span: int) -> NDArray[np.bool_]:
    """Return all hours of the spans that end where the flags are set.

    >>> _back(np.array([False, False, True, False, False]), 2)
    array([False,  True,  True, False, False])
    """
    before = np.concatenate([[0], np.cumsum(ends)])
    last = np.minimum(np.arange(len(ends)) + span, len(ends))
    found: NDArray[np.bool_] = before[last] > before[:-1]
    return found


def _consistency(hours: HourlyTable) -> Iterator[Test]:
    air, rain = _known(hours, "air_temp_c"), _known(hours, "rain_mm")
    humidity, dew = hours.column("rel_humidity"), hours.column("dew_point_c")
    if humidity is not None:
        yield "rain_mm", (rain > 0) & (humidity < _RAIN_IN_DRY_AIR), Flag.CONSISTENCY
    if humidity is not None and dew is not None:
        with np.errstate(divide="ignore"):
            apart = np.abs(psychrometrics.dew_point(air, humidity) - dew)
        for name in ("rel_humidity", "dew_point_c"):
            yield name, apart > _DEW_POINTS_APART_K, Flag.CONSISTENCY
    gust = hours.column("gust_m_s")
    if gust is not None:
        yield "gust_m_s", gust < _known(hours, "wind_m_s") - 0.05, Flag.CONSISTENCY


def _known(hours: HourlyTable, name: str) -> FloatArray:
    values = hours.column(name)
    assert values is not None  # check_hours requires the column
    return values


def findings_of(hours: HourlyTable) -> list[Finding]:
    """Return each flag of each column of a table, those that leave a value doubtful last."""
    found = [
        Finding(name, flag, int(where.sum()), hours.index[int(np.argmax(where))])
        for name, flags in hours.flags.items()
        for flag in Flag
        if (where := (flags & flag) > 0).any()
    ]
    return sorted(found, key=lambda each: each.doubtful)


def columns_of(hours: HourlyTable) -> list[Column]:
    """Return how much of each column is known."""
    return [
        Column(
            str(name), float(values.notna().mean()), float(values.min()), float(values.max()),
            _longest_gap(values.isna().to_numpy()),
        )
        for name, values in hours.frame.items()
    ]  # fmt: skip


def _longest_gap(missing: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.r_[0, missing.astype(np.int8), 0]))
    return int((edges[1::2] - edges[::2]).max()) if edges.size else 0
