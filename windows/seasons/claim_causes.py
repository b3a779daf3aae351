"""What decided a lost day: the limit of the contract or of the coating that cost most hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.gates import State, check, margin
from windows.safety import stop_label
from windows.seasons.claim_result import Cause
from windows.seasons.workable import checks

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.seasons.weather_days import WeatherDays

__all__ = ["coating_cause", "contract_cause"]

_LABELS = {
    "hour.rain": "rain in the hour",
    "hour.cold": "air temperature",
    "hour.wind": "mean wind at 10 m",
    "hour.wet": "water on the roof",
    "day.rain": "rain of the day",
    "day.cold": "mean air temperature of the day",
}


def contract_cause(weather: WeatherDays, day: int) -> Cause:
    """Return the contract's limit that decided a counted day: of the day, else of most hours.

    ``day`` is its place among the days of the record.
    """
    rows = np.flatnonzero(weather.days.shift == day)
    own = np.flatnonzero(weather.days.day == day)
    found = []
    for key, each in weather.measured.items():
        limit, by_day = each.limit, key.startswith("day.")
        if by_day and each.states[day] == State.BLOCKED:
            hours, value = rows.size, float(each.amounts[day])
            rain = weather.job.conditions.rain_mm[own]
            at = None if limit.below else own[_worst(rain, below=False)]
        elif not by_day and (each.states[rows] == State.BLOCKED).any():
            hours = int((each.states[rows] == State.BLOCKED).sum())
            at = rows[_worst(each.amounts[rows], below=limit.below)]
            value = float(each.amounts[at])
        else:
            continue
        found.append(
            Cause(
                key, _LABELS[key], limit.dimension, value, limit.limit,
                _bad(below=limit.below, at_limit=limit.inclusive),
                None if at is None else weather.job.hours.index[at], hours,
            )
        )  # fmt: skip
    return max(found, key=lambda cause: cause.hours)


def coating_cause(weather: WeatherDays, day: int) -> Cause:
    """Return the gate or stop that blocks most hours of a lost day's shift.

    ``day`` is its place among the days of the record.
    """
    job = weather.job
    rows = np.flatnonzero(weather.days.shift == day)
    blocked = {
        name: rows[states[rows] == State.BLOCKED] for name, states in sorted(checks(job).items())
    }
    name = max(blocked, key=lambda each: blocked[each].size)
    hours = blocked[name]
    if not hours.size:
        return Cause(
            "min_window", "shift, against the shortest window", "time", float(rows.size),
            float(job.coating.min_window_h), "below", None, rows.size,
        )  # fmt: skip
    gate = next((each for each in job.coating.gates if each.name == name), None)
    if gate is None:
        label = stop_label(name.removeprefix("safety_"), job.site.safety)
        return Cause(name, label, "", None, None, "", job.hours.index[hours[0]], hours.size)
    values = job.conditions.quantity(gate.rule.quantity)
    if name in job.checked.hold_ends:
        # The first hour that breaks the hold of the first coat of the day.
        reach = slice(int(hours[0]), max(int(job.checked.hold_ends[name][hours[0]]), hours[0] + 1))
        broken = np.flatnonzero(check(values[reach], gate) == State.BLOCKED)
        at = int(hours[0] + broken[0])
    else:
        at = int(hours[np.nanargmin(margin(values[hours], gate))])
    bad = _bad(below=gate.rule.sense == "min", at_limit=not gate.rule.inclusive)
    return Cause(
        name, gate.rule.label, gate.rule.dimension, float(values[at]), gate.limit, bad,
        job.hours.index[at], hours.size,
    )  # fmt: skip


def _worst(values: FloatArray, *, below: bool) -> int:
    """Return the place of the lowest, or highest, known value; one is known."""
    return int(np.nanargmin(values) if below else np.nanargmax(values))


def _bad(*, below: bool, at_limit: bool) -> str:
    return f"{'at or ' if at_limit else ''}{'below' if below else 'above'}"
