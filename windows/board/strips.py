"""The hours of each day on a site, as the layer to come sees them."""

from __future__ import annotations

from itertools import compress
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.board.result import DayStrip, StripHour
from windows.gates import State, combine
from windows.safety import stop_label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from cure_models.arrays import FloatArray
    from windows.board.sites import BoardJob
    from windows.hours import HourlyTable

__all__ = ["day_strips", "next_layer"]

_TOLD = {State.OK: "ok", State.UNKNOWN: "unknown", State.BLOCKED: "blocked"}


def next_layer(job: BoardJob) -> int:
    """Return the lowest layer that some piece of a job still waits for."""
    assert job.system is not None
    waits = [p.next_layer for p in job.pieces if p.next_layer < len(job.system.layers)]
    return min(waits, default=len(job.system.layers) - 1)


def day_strips(
    job: BoardJob, days: Sequence[date], planned: Mapping[date, tuple[int, ...]]
) -> tuple[DayStrip, ...]:
    """Return the strips of a job that can be planned, of the days whose hours are in the weather.

    ``planned`` are the layers that are laid on a day, with a strip each: their gates and odds
    differ. On other days there is one strip, that of the next layer.
    """
    assert job.in_weather is not None
    assert job.system is not None
    index = job.in_weather.hours.index
    local = pd.DatetimeIndex(index.tz_convert(job.site.zone)).date
    of_layer: dict[int, list[StripHour]] = {}
    found = []
    for day in days:
        rows = np.flatnonzero(local == day).tolist()
        if not rows:
            continue
        # Work that has begun may be of a layer that the system no longer has.
        laid = [layer for layer in planned.get(day, ()) if layer < len(job.system.layers)]
        for layer in laid or [next_layer(job)]:
            if layer not in of_layer:
                of_layer[layer] = _hours(job, layer)
            hours = of_layer[layer]
            found.append(
                DayStrip(
                    job.key,
                    day,
                    job.system.layers[layer].name,
                    job.system.profiles[layer].name,
                    tuple(hours[row] for row in rows),
                )
            )
    return tuple(found)


def _hours(job: BoardJob, layer: int) -> list[StripHour]:
    """Return every hour of the weather for a layer."""
    assert job.in_weather is not None
    assert job.built is not None
    each = job.in_weather.jobs[layer]
    index, at = each.hours.index, each.conditions
    checks = {gate.rule.label: each.checked.gates[gate.name] for gate in each.coating.gates}
    checks |= {stop_label(name, each.site.safety): states for name, states in each.stops.items()}
    # The job's own states know the roof below too, where a film asks for it.
    ground = job.built.states[layer]
    known = combine(*checks.values())
    extra = ground > known
    if extra.any():
        checks["moisture of the roof below"] = np.where(extra, ground, State.OK).astype(np.int8)
    state = combine(*checks.values())
    rows = np.arange(len(index))
    chance = np.where(state == State.OK, job.odds[layer].of(rows, rows + 1).careful, np.nan)
    # How long a span a chance of rain or a sum is about says nothing where there is none.
    prob_h = np.where(np.isfinite(at.rain_prob), at.rain_prob_block_h, np.nan)
    sum_h = np.where(np.isfinite(at.rain_mm), _lengths(each.hours), np.nan)
    # What keeps an hour from being OK has its state.
    broken = (np.array(list(checks.values())) == state) & (state != State.OK)
    reasons = broken.T.tolist()
    told = [_TOLD[State(each)] for each in state.tolist()]
    columns = [
        np.asarray(values, dtype=np.float64).tolist()
        for values in (
            at.air_temp_c, at.surface_temp_c, at.dew_point_c, at.wind_m_s, at.rain_mm, at.rain_prob,
            chance, prob_h, sum_h,
        )
    ]  # fmt: skip
    crew = (each.found.crew == State.OK).tolist()
    return [
        StripHour(
            start,
            told[n],
            tuple(compress(checks, reasons[n])),
            crew[n],
            *(values[n] if isfinite(values[n]) else None for values in columns),
        )
        for n, start in enumerate(index)
    ]


def _lengths(hours: HourlyTable) -> FloatArray:
    """Return for how many hours each amount of rain was given as one sum. [h] Shape (hours,)."""
    given = hours.column("rain_block_h")
    return np.ones(len(hours.index)) if given is None else given
