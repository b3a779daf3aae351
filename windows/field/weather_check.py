"""A laid layer against the weather of its hours: its gates, and the stops for people."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.coating import resolve
from windows.field.told import both, moment, pair
from windows.gates import State, check
from windows.safety import shipped_stop, stop_label

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from numpy.typing import NDArray

    from cure_models.coating import Coating, Gate, Method
    from cure_models.system import System
    from windows.job import Job
    from windows.layers import SystemHours
    from windows.log.entries import Placement
    from windows.site import Site

__all__ = ["asked", "coating_laid", "label_of", "weather_flags"]


def coating_laid(placement: Placement, *, site: Site, system: System, layer: int) -> Coating:
    """Return the coating of a layer as it was laid: whatever is not sprayed is as if rolled."""
    method: Method = site.method
    if placement.method:
        method = "spray" if placement.method == "spray" else "roller"
    film = system.layers[layer].dry_film.si
    return resolve(system.profiles[layer], method=method, dry_film_um=film)


def label_of(gate: Gate) -> str:
    """Return what a gate looks at, as ``"surface above dew point"``."""
    return gate.rule.label.removesuffix(", least").removesuffix(", most")


def asked(gate: Gate, value: float, when: str = "") -> str:
    """Return a value that breaks a gate, and what the gate asks for.

    For example "surface above dew point: 3.2 degF (1.8 K); at least 5.0 degF (2.8 K) is asked
    for".
    """
    told, limit = pair(value, gate.limit, gate.rule.dimension)
    found = f"{label_of(gate)}: {told}{when}"
    if gate.rule.quantity == "wet_mm" and gate.limit == 0:
        return f"{found}; none is allowed"
    sense = {"min": "at least", "max": "at most"}[gate.rule.sense]
    if not gate.rule.inclusive:
        sense = {"at least": "above", "at most": "below"}[sense]
    return f"{found}; {sense} {limit} is asked for"


def weather_flags(
    placement: Placement,
    *,
    coating: Coating,
    layer: int,
    in_weather: SystemHours | None,
    now: datetime,
) -> tuple[str, ...]:
    """Say which gates and safety stops the weather of a placement breaks, or leaves unknown.

    Parameters
    ----------
    placement, coating
        What was laid, from `coating_laid`.
    layer
        Its number, from 0.
    in_weather
        The system in a weather; None if there is none.
    now
        The present: hours that have not begun are told as still to come, by the forecast.
    """
    unknown = "is not known, so its gates could not be checked."
    if in_weather is None:
        return (f"The weather of these hours {unknown}",)
    first, last = in_weather.rows(pd.Timestamp(placement.at), pd.Timestamp(placement.end))
    rows = slice(max(first, 0), min(last, len(in_weather.hours.index)))
    if rows.start >= rows.stop:
        return (f"The weather of these hours {unknown}",)
    told = []
    if (rows.start, rows.stop) != (first, last):
        told.append(f"The weather of a part of these hours {unknown}")
    job = in_weather.jobs[layer]
    begun = ceil(in_weather.moment(pd.Timestamp(now)))
    for gate in coating.gates:
        told += _gate_flags(gate, job, rows, begun, in_weather)
    for name in job.stops:
        told += _stop_flags(name, job, rows, begun, in_weather)
    return tuple(dict.fromkeys(told))  # a least and a most of one thing are not known alike


def _gate_flags(
    gate: Gate, job: Job, rows: slice, begun: int, in_weather: SystemHours
) -> list[str]:
    """Say what a gate tells against a placement in some rows; those from ``begun`` on are to come.

    What is to come is told where nothing has broken the gate yet.
    """
    # The job is for the site's method: a gate of another is one of placement, read here alone.
    gate = next((its for its in job.coating.gates if its.name == gate.name), gate)
    values = job.conditions.quantity(gate.rule.quantity)
    each = check(values, gate)
    ends = job.checked.hold_ends.get(gate.name)
    reach = rows.stop if ends is None else int(ends[rows].max())
    broken, lost = (
        np.flatnonzero(each[rows.start : reach] == state) + rows.start
        for state in (State.BLOCKED, State.UNKNOWN)
    )
    if ends is not None:
        # A hold whose end is not known is lost in the hour up to which it surely reaches, or where
        # the weather ends.
        short = ends[rows][job.checked.gates[gate.name][rows] == State.UNKNOWN]
        lost = np.concatenate([lost, np.where(short < len(each), short - 1, short)])

    def found(some: NDArray[np.int64]) -> str:
        at = values[some]
        row = int(some[np.argmin(at) if gate.rule.sense == "min" else np.argmax(at)])
        return asked(gate, float(values[row]), f" in {_hour(row, in_weather)}")

    return _in_time("By the", label_of(gate), broken, lost, begun, found)


def _in_time(
    by: str,
    label: str,
    broken: NDArray[np.int64],
    lost: NDArray[np.int64],
    begun: int,
    found: Callable[[NDArray[np.int64]], str],
) -> list[str]:
    """Say what is broken in some rows and not known in others, each as gone or as to come."""
    if (broken < begun).any():
        return [f"{by} weather, {found(broken[broken < begun])}."]
    told = []
    if (lost < begun).any():
        told.append(f"{by} weather, {label}: not known, so it could not be checked.")
    if broken.size:
        told.append(f"{by} forecast, still to come: {found(broken)}.")
    elif lost.size and not told:
        told.append(f"{by} weather, {label}: not known yet, so it could not be checked.")
    return told


def _stop_flags(
    name: str, job: Job, rows: slice, begun: int, in_weather: SystemHours
) -> list[str]:
    states, label = job.stops[name][rows], stop_label(name, job.site.safety)
    stop = shipped_stop(name)

    def found(blocked: NDArray[np.int64]) -> str:
        row, value = int(blocked[0]), ""
        if stop.dimension is not None:
            values = job.conditions.quantity(stop.quantity)
            worst = np.argmin if stop.sense == "min" else np.argmax
            row = int(blocked[worst(values[blocked])])
            value = f": {both(float(values[row]), stop.dimension)}"
        return f"{label}{value} in {_hour(row, in_weather)}"

    blocked, lost = (
        np.flatnonzero(states == state) + rows.start for state in (State.BLOCKED, State.UNKNOWN)
    )
    return _in_time("Safety stop by the", label, blocked, lost, begun, found)


def _hour(row: int, in_weather: SystemHours) -> str:
    return f"the hour from {moment(in_weather.time(row), in_weather.site.zone)}"
