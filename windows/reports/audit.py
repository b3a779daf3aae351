"""The audit table: one row an hour, from weather to verdict, so that anyone can recompute it."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.conditions import Conditions
from windows.gates import State, States, combine

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.job import Job

__all__ = ["audit_table", "to_csv", "why_not"]

_NOT_SHOWN = {"heat_index_c", "thunder_prob", "absent"}
_WORDS = np.array([state.name for state in State])


def audit_table(job: Job) -> pd.DataFrame:
    """Return the whole working of a job, one row an hour.

    Columns: time_utc, time_local, the conditions in their order, ``gate_<name>`` for each gate of
    the coating, then ``gate_crew_hours`` and ``gate_crew_safety`` of the site, ``<milestone>_at``
    and ``<deadline>_at`` in UTC to the second, ``hour`` (all gates together) and ``window`` (its
    number). Empty is unknown.
    """
    index, found = job.hours.index, job.found
    columns: dict[str, object] = {
        "time_utc": index.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "time_local": [stamp.isoformat() for stamp in index.tz_convert(job.site.zone)],
    }
    for field in fields(Conditions):
        if field.name not in _NOT_SHOWN:
            columns[field.name] = job.conditions.quantity(field.name)
    for name, states in job.checked.gates.items():
        columns[f"gate_{name}"] = _words(states)
    columns["gate_crew_hours"] = _words(found.crew)
    columns["gate_crew_safety"] = _words(found.safety)
    for name, times in (job.checked.milestones | job.checked.deadlines).items():
        columns[f"{name}_at"] = _stamps(index, times)
    columns["hour"] = _words(combine(job.checked.state, found.crew, found.safety))
    columns["window"] = pd.array(
        np.where(found.window_number > 0, found.window_number, -1), dtype="Int64"
    )
    table = pd.DataFrame(columns)
    table["window"] = table["window"].mask(table["window"] < 0)
    table["rain_trace"] = table["rain_trace"].astype("Int64")
    return table


def _words(states: States) -> list[str]:
    words: list[str] = _WORDS[states].tolist()
    return words


def _stamps(index: pd.DatetimeIndex, hours: FloatArray) -> list[str]:
    """Return hours since the first row as UTC times, empty where unknown."""
    seconds = np.round(np.where(np.isnan(hours), 0, hours) * 3600).astype("timedelta64[s]")
    stamps = (index[0].tz_localize(None).to_datetime64() + seconds).astype("datetime64[s]")
    texts = np.char.add(stamps.astype(str), "Z")
    told: list[str] = np.where(np.isnan(hours), "", texts).tolist()
    return told


def why_not(job: Job) -> NDArray[np.object_]:
    """Return the checks that block each hour, then with ``?`` those not known, shape (hours,)."""
    checks = job.checked.gates | {"crew_hours": job.found.crew, "crew_safety": job.found.safety}
    told = np.full(len(job.hours.index), "", dtype=object)
    for state, mark in ((State.BLOCKED, ""), (State.UNKNOWN, "?")):
        for name, states in checks.items():
            here = states == state
            told[here] += f", {name}{mark}"
    return np.array([text.removeprefix(", ") for text in told], dtype=object)


def to_csv(table: pd.DataFrame) -> str:
    """Return the table as CSV text; numbers as they were decided on, empty where unknown."""
    return table.to_csv(index=False, lineterminator="\n")
