"""Forecast hours beside the hours observed, by lead day; what was not observed is left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import pandas as pd

from cure_models import psychrometrics
from windows.odds.climate import MEASURABLE_MM
from windows.runs import block_starts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.hours import HourlyTable
    from windows.skill.store import Stored

__all__ = ["LEAD_DAYS", "Cases", "Errors", "Kind", "lead_days", "rain_cases",
           "temperature_errors"]  # fmt: skip

LEAD_DAYS = 10

_HOUR = pd.Timedelta(hours=1)
_Temperature = Literal["air_temp_c", "dew_point_c"]


class Kind(NamedTuple):
    """What a chance is: told by the source or the share of its runs; of how many hours."""

    way: Literal["told", "runs"]
    hours: int


@dataclass(frozen=True)
class Errors:
    """Errors of a temperature, forecast less observed, shape (pairs,) each. [K]

    ``issue_day`` numbers the UTC day of issue since 1970-01-01. ``told`` counts the hours of each
    lead day that were foretold, observed or not, shape (10,).
    """

    error: FloatArray
    lead_day: NDArray[np.int64]
    issue_day: NDArray[np.int64]
    told: NDArray[np.int64]


@dataclass(frozen=True)
class Cases:
    """Chances of one kind: told, and whether it rained, shape (cases,) each.

    A chance of several hours is one case, of the lead day on which it begins. ``not_observed`` and
    ``in_sums`` count the chances of each lead day that are left out, since an hour of them is not
    known, or its rain is known as a part of a longer sum only; shape (10,) each.
    """

    told: FloatArray
    wet: BoolArray
    lead_day: NDArray[np.int64]
    issue_day: NDArray[np.int64]
    not_observed: NDArray[np.int64]
    in_sums: NDArray[np.int64]


def lead_days(forecast: Stored) -> NDArray[np.int64]:
    """Return the lead day of each hour, 1 to 10, shape (hours,); 0 for others.

    Day 1 is the 24 hours from the issue on. An hour that had begun by then is no forecast.
    """
    lead = np.asarray((forecast.hours.index - forecast.issued) / _HOUR, dtype=np.float64)
    day = np.floor(lead / 24).astype(np.int64) + 1
    return np.where((lead >= 0) & (day <= LEAD_DAYS), day, 0)


def temperature_errors(
    forecasts: Sequence[Stored], observed: HourlyTable, name: _Temperature
) -> Errors:
    """Return the errors of a temperature in the hours in which both are known."""
    measured = _temperature(observed, name)
    errors, leads, days = [], [], []
    told = np.zeros(LEAD_DAYS, dtype=np.int64)
    for forecast in forecasts:
        lead = lead_days(forecast)
        foretold = _temperature(forecast.hours, name)
        there = (lead > 0) & ~np.isnan(foretold)
        told += _by_day(lead[there])
        found = foretold - _at(measured, observed.index, forecast.hours.index)
        both = there & ~np.isnan(found)
        errors.append(found[both])
        leads.append(lead[both])
        days.append(np.full(int(both.sum()), _issue_day(forecast)))
    return Errors(_joined(errors), _whole(leads), _whole(days), told)


def rain_cases(forecasts: Sequence[Stored], observed: HourlyTable) -> dict[Kind, Cases]:
    """Return the chances of rain by kind, each with whether it rained.

    It rained in a period if its hours add up to a hundredth of an inch. A period of which an hour
    is not known is left out even if others were wet: kept when wet and left out when dry, periods
    with gaps would make rain look more frequent than it was.
    """
    rain, begins = _rain(observed)
    parts: dict[Kind, list[_Part]] = {}
    for forecast in forecasts:
        lead = lead_days(forecast)
        at = observed.index.get_indexer(forecast.hours.index)
        for kind, chance, rows in (*_told(forecast.hours), *_runs(forecast.hours)):
            mine = rows[(lead[rows] > 0) & ~np.isnan(chance[rows])]
            total, whole = _totals(rain, begins, at[mine], kind.hours)
            part = _Part(chance[mine], total, whole, lead[mine], _issue_day(forecast))
            parts.setdefault(kind, []).append(part)
    return {kind: _cases(parts[kind]) for kind in sorted(parts, reverse=True)}


class _Part(NamedTuple):
    """Chances of one forecast; the rain of each, NaN if not known, and if it is one of its own."""

    chance: FloatArray
    total: FloatArray
    whole: BoolArray
    lead_day: NDArray[np.int64]
    issue_day: int


def _cases(parts: list[_Part]) -> Cases:
    known = [~np.isnan(part.total) for part in parts]
    use = [part.whole & there for part, there in zip(parts, known, strict=True)]
    both = list(zip(parts, known, use, strict=True))
    return Cases(
        told=_joined([part.chance[used] for part, _, used in both]),
        wet=_joined([part.total[used] for part, _, used in both]) >= MEASURABLE_MM,
        lead_day=_whole([part.lead_day[used] for part, _, used in both]),
        issue_day=_whole([np.full(int(used.sum()), part.issue_day) for part, _, used in both]),
        not_observed=_sum_by_day([part.lead_day[~there] for part, there, _ in both]),
        in_sums=_sum_by_day([part.lead_day[there & ~used] for part, there, used in both]),
    )


def _told(hours: HourlyTable) -> list[tuple[Kind, FloatArray, NDArray[np.int64]]]:
    """Return the chances that a table tells, with the rows in which their periods begin.

    A period that the table cuts off at its end, or that another one overlaps, is left out.
    """
    chance = hours.column("rain_prob")
    if chance is None:
        return []
    given = hours.column("rain_prob_block_h")
    lengths = np.ones(chance.size) if given is None else given
    first = block_starts(chance, lengths)
    found = []
    for length in np.unique(lengths[~np.isnan(lengths)]).astype(np.int64).tolist():
        rows = np.flatnonzero(first & (lengths == length) & ~np.isnan(chance))
        rows = rows[rows + length <= chance.size]
        inner = np.cumsum(np.r_[0, first])  # starts before each row
        alone = inner[rows + length] - inner[rows] == 1
        found.append((Kind("told", length), chance, rows[alone]))
    return found


def _runs(hours: HourlyTable) -> list[tuple[Kind, FloatArray, NDArray[np.int64]]]:
    """Return the share of the runs of an ensemble that are wet, hour by hour.

    NaN where a run is not known, or tells its rain as a sum over several hours.
    """
    runs = hours.members.get("rain_mm")
    if runs is None:
        return []
    share = (runs >= MEASURABLE_MM).mean(axis=0)
    lengths = hours.column("rain_block_h")
    known = ~np.isnan(runs).any(axis=0)
    if lengths is not None:
        known &= ~(lengths > 1)
    return [(Kind("runs", 1), np.where(known, share, np.nan), np.arange(share.size))]


def _rain(observed: HourlyTable) -> tuple[FloatArray, BoolArray]:
    """Return the rain of each hour, and in which hours a reading of rain begins.

    Both have an hour more at the end, the one that is not there. [mm]
    """
    rain = observed.column("rain_mm")
    assert rain is not None  # check_hours requires the column
    given = observed.column("rain_block_h")
    lengths = np.ones(rain.size) if given is None else given
    return np.append(rain, np.nan), np.append(block_starts(rain, lengths), True)


def _totals(
    rain: FloatArray, begins: BoolArray, at: NDArray[np.int64], hours: int
) -> tuple[FloatArray, BoolArray]:
    """Return the rain of periods that begin in these rows, and if readings begin and end with them.

    NaN where an hour is not known.
    """
    last = rain.size - 1
    span = at[:, np.newaxis] + np.arange(hours)
    inside = (at >= 0)[:, np.newaxis] & (span < last)
    total = rain[np.where(inside, span, last)].sum(axis=1)
    return total, begins[np.clip(at, 0, last)] & begins[np.clip(at + hours, 0, last)]


def _temperature(hours: HourlyTable, name: _Temperature) -> FloatArray:
    """Return a temperature; the dew point from the humidity where a table has only that. [degC]"""
    values = hours.column(name)
    if values is not None:
        return values
    air, humidity = hours.column("air_temp_c"), hours.column("rel_humidity")
    assert air is not None
    assert humidity is not None  # check_hours requires one of the two
    found: FloatArray = psychrometrics.dew_point(air, humidity)
    return found


def _at(
    values: FloatArray, index: pd.DatetimeIndex, wanted: pd.DatetimeIndex
) -> FloatArray:
    """Return values in the hours that are wanted, NaN where there is no such hour."""
    at = index.get_indexer(wanted)
    return np.where(at >= 0, values[at], np.nan)


def _issue_day(forecast: Stored) -> int:
    return int(forecast.issued.timestamp() // 86400)


def _by_day(lead_day: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.bincount(lead_day, minlength=LEAD_DAYS + 1)[1:]


def _sum_by_day(lead_day: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Return how many cases each lead day has, shape (10,)."""
    return _by_day(_whole(lead_day))


def _joined(parts: list[FloatArray]) -> FloatArray:
    return np.concatenate([np.empty(0), *parts])


def _whole(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    return np.concatenate([np.empty(0, dtype=np.int64), *parts])
