"""The hourly table: one typed, checked table that every weather source is turned into.

Row ``T`` covers ``[T, T + 1 h)`` in UTC. Missing is NaN: never zero, never dry, never warm. A
column that the table has is used as it stands, hour by hour; only a column that it lacks wholly is
derived from others. So a value that goes missing can make an hour unknown, and never a go.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.columns import COLUMNS, Column
from windows.errors import HoursError
from windows.possible_values import inside, possible, possible_moisture
from windows.provenance import Provenance
from windows.time_rows import every_hour, in_order, whole_hours, years_of_weather

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cure_models.arrays import FloatArray
    from windows.flags import Flags

__all__ = ["COLUMNS", "Column", "HourlyTable", "check_hours"]


@dataclass(frozen=True)
class HourlyTable:
    """Checked hours: ``frame`` has an hourly UTC index and float columns of `COLUMNS`.

    ``flags`` tells what speaks against single values. ``members`` holds the runs of an ensemble,
    shape (members, hours) a column, the run that ``frame`` shows first.
    """

    frame: pd.DataFrame
    provenance: Provenance
    warnings: tuple[str, ...] = field(default=())
    flags: Flags = field(default_factory=dict)
    members: Mapping[str, FloatArray] = field(default_factory=dict)

    @property
    def index(self) -> pd.DatetimeIndex:
        """Starts of the hours, UTC."""
        index = self.frame.index
        assert isinstance(index, pd.DatetimeIndex)
        return index

    def column(self, name: str) -> FloatArray | None:
        """Return a column as an array, or None where the table lacks it.

        Shape (hours,), NaN where unknown, in the unit of its entry in `COLUMNS`.
        """
        if name not in self.frame:
            return None
        return self.frame[name].to_numpy(dtype=np.float64)

    def assume(self, name: str, value: float) -> HourlyTable:
        """Return the table with a column that it lacks set to one stated value.

        Raises
        ------
        HoursError
            If the table has the column, or the value is not a possible one.
        """
        column = COLUMNS[name]
        if name in self.frame:
            raise HoursError(
                f"{self.provenance.place}: the table has column '{name}', so nothing is assumed "
                "in its place; drop the assumption"
            )
        if not column.low <= value <= column.high:
            raise HoursError(
                f"an assumed {name} of {value:g} is not possible; "
                f"give {column.low:g} to {column.high:g} ({column.unit})"
            )
        note = f"{name} is assumed to be {value:g} in every hour"
        return replace(
            self,
            frame=self.frame.assign(**{name: float(value)}),
            warnings=(*self.warnings, note),
        )

    def span(self, start: pd.Timestamp | None, end: pd.Timestamp | None) -> slice:
        """Return the rows from ``start`` up to, not including, ``end``.

        Raises
        ------
        HoursError
            If no hour is left.
        """
        index = self.index
        first = 0 if start is None else int(index.searchsorted(start))
        stop = len(index) if end is None else int(index.searchsorted(end))
        if first >= stop:
            raise HoursError(
                f"{self.provenance.place}: there are no hours between the dates asked for; name "
                f"dates inside the table, whose hours begin from {index[0]:%Y-%m-%d %H:%M} to "
                f"{index[-1]:%Y-%m-%d %H:%M} UTC"
            )
        return slice(first, stop)


def check_hours(
    columns: Mapping[str, FloatArray],
    times: pd.DatetimeIndex,
    provenance: Provenance,
    *,
    warnings: tuple[str, ...] = (),
    recorded: bool = False,
    flags: Flags | None = None,
    members: Mapping[str, FloatArray] | None = None,
) -> HourlyTable:
    """Return a canonical table, or say what is wrong with the data.

    Parameters
    ----------
    columns
        Arrays in the units of `COLUMNS`, NaN where missing; all as long as ``times``.
    times
        Start of each row, timezone-aware.
    provenance
        Source of the data; its place begins every message.
    recorded
        The rows come from instruments or a service, which nobody can be asked to mend: a few
        impossible values become unknown and rows of one hour that differ become unknown, with a
        flag and a warning. Many still are an error, for they show a wrong unit.
    flags, members
        Flags of values and runs of an ensemble, in the order of ``times``.

    Raises
    ------
    HoursError
        If a required column is missing, a value is impossible, a year is not from 1900 to 2200,
        times are not whole hours apart, a gap is longer than ten years, or two rows for one hour
        differ.

    Notes
    -----
    Rows out of order are sorted, equal duplicates dropped, and missing hours filled with NaN; each
    is told in a warning.
    """
    place = provenance.place
    _required(columns, place)
    if len(times) == 0:
        raise HoursError(f"{place}: the table has a header and no rows; add hourly rows")
    times = times.tz_convert("UTC")
    years_of_weather(times, place)
    found: list[str] = list(warnings)
    values, marks = dict(columns), dict(flags or {})
    for name, given in columns.items():
        values[name], marks = possible(COLUMNS[name], given, times, place, recorded, marks, found)
    whole_hours(times, place)
    frame = pd.DataFrame(values, index=times, dtype="float64")
    mark_frame = pd.DataFrame(marks, index=times, dtype="int64")
    frame, mark_frame = in_order(frame, mark_frame, place, recorded, found)
    first = ~times.duplicated()
    rows = np.flatnonzero(first)[times[first].argsort()]
    frame = every_hour(frame, found)
    at = times[rows].get_indexer(pd.DatetimeIndex(frame.index))
    marks = {
        str(name): mark_frame[name].reindex(frame.index, fill_value=0).to_numpy()
        for name in mark_frame
    }
    runs = {
        name: np.where(at >= 0, inside(COLUMNS[name], run)[:, rows[at]], np.nan)
        for name, run in (members or {}).items()
    }
    frame, marks = possible_moisture(frame, place, recorded, marks, found)
    found += _unknown(frame)
    frame.index.name = "time_utc"
    return HourlyTable(frame, provenance, tuple(found), marks, runs)


def _required(columns: Mapping[str, FloatArray], place: str) -> None:
    for column in COLUMNS.values():
        if column.required and column.name not in columns:
            raise HoursError(
                f"{place}: column '{column.name}' ({column.meaning}, {column.unit}) is missing; "
                "add it"
            )
    if "dew_point_c" not in columns and "rel_humidity" not in columns:
        raise HoursError(
            f"{place}: neither 'dew_point_c' nor 'rel_humidity' is there; add one of them"
        )


def _unknown(frame: pd.DataFrame) -> list[str]:
    """Say how many hours of each column are unknown, columns with the same count together."""
    alike: dict[int, list[str]] = {}
    for name, missing in frame.isna().sum().items():
        alike.setdefault(int(missing), []).append(str(name))
    return [
        f"{', '.join(names)} unknown in {missing} of {len(frame)} hours"
        for missing, names in sorted(alike.items())
        if missing
    ]
