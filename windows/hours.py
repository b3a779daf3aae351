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

from windows.errors import HoursError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cure_models.arrays import FloatArray

__all__ = ["COLUMNS", "Column", "HourlyTable", "Provenance", "check_hours"]


@dataclass(frozen=True)
class Column:
    """One column of the table: unit, the range that nature allows, and whether it must be there."""

    name: str
    unit: str
    low: float
    high: float
    required: bool
    meaning: str


# Ranges: the world's records of air temperature (-89.2 and 56.7 degC), pressure and hourly rain
# (305 mm in 42 min) of the WMO weather and climate extremes archive, rounded outward; from memory.
COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (
        Column("air_temp_c", "degC", -90, 57, True, "air temperature"),
        Column("dew_point_c", "degC", -100, 40, False, "dew point, over water below freezing too"),
        Column("rel_humidity", "fraction", 0, 1.04, False, "relative humidity over water"),
        Column("wind_m_s", "m/s", 0, 64, True, "mean wind at 10 m"),
        Column("gust_m_s", "m/s", 0, 100, False, "highest gust"),
        Column("rain_mm", "mm", 0, 305, True, "rain and melted snow that fell in the hour"),
        Column("rain_trace", "0 or 1", 0, 1, False, "1 where a trace fell, too little to measure"),
        Column("rain_prob", "fraction", 0, 1, False, "probability of rain in the hour"),
        Column("cloud", "fraction", 0, 1, False, "sky cover"),
        Column("ghi_w_m2", "W/m2", -10, 1500, False, "global horizontal irradiance, hour mean"),
        Column("pressure_hpa", "hPa", 480, 1090, False, "pressure at the station"),
        Column("surface_temp_c", "degC", -60, 110, False, "measured roof surface temperature"),
        Column("longwave_w_m2", "W/m2", 40, 600, False, "infrared from the sky, hour mean"),
        Column("thunder_prob", "fraction", 0, 1, False, "probability of thunder in the hour"),
    )
}


_LONGEST_GAP = pd.Timedelta(days=3653)
"""A longer gap is a mistyped year, and would make a table of millions of empty hours."""


@dataclass(frozen=True)
class Provenance:
    """Where a table comes from."""

    source: str
    place: str
    issued: pd.Timestamp | None = None
    notes: tuple[str, ...] = ()

    def describe(self, now: pd.Timestamp | None = None) -> str:
        """Return one line for people: source, file, and age where the time of issue is known."""
        text = f"{self.source}, {self.place}"
        if self.issued is None:
            return f"{text}; time of issue not given, so its age is unknown"
        text += f"; issued {self.issued:%Y-%m-%d %H:%M} UTC"
        if now is not None:
            hours = (now - self.issued).total_seconds() / 3600
            if hours < 0:
                text += ", which is still to come: check that time"
            else:
                text += f", {hours:.0f} h ago" if hours < 72 else f", {hours / 24:.0f} days ago"
        return text


@dataclass(frozen=True)
class HourlyTable:
    """Checked hours: ``frame`` has an hourly UTC index and float columns of `COLUMNS`."""

    frame: pd.DataFrame
    provenance: Provenance
    warnings: tuple[str, ...] = field(default=())

    @property
    def index(self) -> pd.DatetimeIndex:
        """Starts of the hours, UTC."""
        index = self.frame.index
        assert isinstance(index, pd.DatetimeIndex)
        return index

    def column(self, name: str) -> FloatArray | None:
        """Return a column as an array, or None where the table lacks it."""
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

    Raises
    ------
    HoursError
        If a required column is missing, a value is impossible, times are not whole hours apart, a
        gap is longer than ten years, or two rows for one hour differ.

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
    for name, values in columns.items():
        _possible(COLUMNS[name], values, times, place)
    _whole_hours(times, place)
    frame = pd.DataFrame(dict(columns), index=times, dtype="float64")
    found: list[str] = list(warnings)
    frame = _in_order(frame, place, found)
    frame = _every_hour(frame, found)
    frame = _moisture(frame, place, found)
    found += _unknown(frame)
    frame.index.name = "time_utc"
    return HourlyTable(frame, provenance, tuple(found))


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


def _such(count: int, noun: str) -> str:
    """Return how many rows have a fault, where it is more than the one that is named."""
    return f" ({count} such {noun})" if count > 1 else ""


def _are(count: int, total: int) -> str:
    return f"{count} of {total} hours {'is' if count == 1 else 'are'}"


def _whole_hours(times: pd.DatetimeIndex, place: str) -> None:
    """Refuse rows between the hours, and a gap that only a mistyped year can make."""
    apart = (times - times[0]) % pd.Timedelta(hours=1) != pd.Timedelta(0)
    if apart.any():
        raise HoursError(
            f"{place}: the row of {times[apart][0]:%Y-%m-%d %H:%M:%S} UTC is not a whole number of "
            f"hours after the first row{_such(int(apart.sum()), 'rows')}; give one row an hour"
        )
    if (times[0].second, times[0].microsecond, times[0].nanosecond) != (0, 0, 0):
        raise HoursError(
            f"{place}: the rows begin at {times[0]:%H:%M:%S}, between two minutes; give hours that "
            "begin on a whole minute"
        )
    ordered = times.sort_values()
    far = ordered[1:] - ordered[:-1] > _LONGEST_GAP
    if far.any():
        before = int(np.argmax(far))
        raise HoursError(
            f"{place}: no rows between {ordered[before]:%Y-%m-%d} and "
            f"{ordered[before + 1]:%Y-%m-%d}, more than ten years; mend the year of the rows"
        )


def _possible(column: Column, values: FloatArray, times: pd.DatetimeIndex, place: str) -> None:
    """Refuse values that nature does not have, and say when they look like another unit."""
    wrong = (values < column.low) | (values > column.high) | np.isinf(values)
    if not wrong.any():
        return
    where = int(np.argmax(wrong))
    value = float(values[where])
    unit = "" if column.unit in {"fraction", "0 or 1"} else f" {column.unit}"
    raise HoursError(
        f"{place}: {column.name} of {value:g}{unit} at {times[where]:%Y-%m-%d %H:%M} UTC is not "
        f"possible{_such(int(wrong.sum()), 'rows')}: it runs from {column.low:g} to "
        f"{column.high:g}{unit}; {_guess(column, value, float(np.nanmax(values)))}"
    )


def _guess(column: Column, value: float, highest: float) -> str:
    """Say how to mend an impossible value, by the unit that it looks like."""
    if column.unit == "degC" and column.high < value <= 150:
        return f"it looks like degF ({value:g} degF is {(value - 32) / 1.8:.1f} degC): convert it"
    if column.name == "cloud" and value >= 2 and highest <= 10:
        return "it looks like tenths or eighths of the sky: divide by 10 or by 8"
    if column.unit == "fraction" and 2 <= value <= 104:
        return f"it looks like percent: divide by 100 ({value:g} % is {value / 100:g})"
    if column.unit == "hPa" and 15 <= value <= 33:
        return "it looks like inHg: multiply by 33.864"
    return "mend it, or leave the cell empty if it is not known"


def _in_order(frame: pd.DataFrame, place: str, found: list[str]) -> pd.DataFrame:
    if not frame.index.is_monotonic_increasing:
        found.append("rows were not in order of time; they are sorted")
        frame = frame.sort_index(kind="stable")
    twice = frame.index.duplicated(keep=False)
    if not twice.any():
        return frame
    # Group by hour: equal rows collapse to one, NaN counts as a value of its own.
    distinct = frame[twice].reset_index().drop_duplicates()
    hours = pd.DatetimeIndex(distinct.iloc[:, 0])
    clash = hours[hours.duplicated()]
    if len(clash):
        raise HoursError(
            f"{place}: two rows for {clash[0]:%Y-%m-%d %H:%M} UTC differ"
            f"{_such(len(clash.unique()), 'hours')}; keep the right one"
        )
    dropped = int(frame.index.duplicated().sum())
    found.append(
        "1 row is a copy of another; it is dropped"
        if dropped == 1
        else f"{dropped} rows are copies of others; they are dropped"
    )
    return frame[~frame.index.duplicated()]


def _every_hour(frame: pd.DataFrame, found: list[str]) -> pd.DataFrame:
    hours = pd.date_range(frame.index[0], frame.index[-1], freq="h", name=frame.index.name)
    missing = hours.difference(pd.DatetimeIndex(frame.index))
    if len(missing):
        found.append(
            f"{_are(len(missing), len(hours))} not in the table, the first "
            f"{missing[0]:%Y-%m-%d %H:%M} UTC; what is not there is unknown"
        )
    return frame.reindex(hours)


def _moisture(frame: pd.DataFrame, place: str, found: list[str]) -> pd.DataFrame:
    """Clip rounding of humidity and dew point; refuse a dew point well above the air."""
    if "rel_humidity" in frame:
        over = frame["rel_humidity"] > 1
        if over.any():
            found.append(
                f"rel_humidity is a little above 1 in {int(over.sum())} of {len(frame)} hours; "
                "it is taken as 1"
            )
            frame["rel_humidity"] = frame["rel_humidity"].clip(upper=1.0)
    if "dew_point_c" in frame:
        excess = frame["dew_point_c"] - frame["air_temp_c"]
        if (excess > 0.5).any():
            when = excess.index[int(np.argmax((excess > 0.5).to_numpy()))]
            raise HoursError(
                f"{place}: dew_point_c is above air_temp_c at {when:%Y-%m-%d %H:%M} UTC"
                f"{_such(int((excess > 0.5).sum()), 'rows')}, which is not possible; check that "
                "the two columns are not exchanged and that both are degC"
            )
        frame["dew_point_c"] = frame["dew_point_c"].where(
            ~(excess > 0), frame["air_temp_c"]
        )
    return frame


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
