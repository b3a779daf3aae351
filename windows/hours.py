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
from windows.flags import Flag, Flags, flagged
from windows.provenance import Provenance

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray

__all__ = ["COLUMNS", "Column", "HourlyTable", "check_hours", "one_row_a_time"]


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
        Column("dew_point_c", "degC", -80, 40, False, "dew point, over water below freezing too"),
        Column("rel_humidity", "fraction", 0.01, 1.04, False, "relative humidity over water"),
        Column("wind_m_s", "m/s", 0, 64, True, "mean wind at 10 m"),
        Column("gust_m_s", "m/s", 0, 100, False, "highest gust"),
        Column("rain_mm", "mm", 0, 305, True, "rain and melted snow that fell in the hour"),
        Column(
            "rain_block_h",
            "h",
            1,
            240,
            False,
            "hours for which the rain was given as one sum: rain_mm is this hour's even share",
        ),
        Column("rain_trace", "0 or 1", 0, 1, False, "1 where a trace fell, too little to measure"),
        Column(
            "rain_prob", "fraction", 0, 1, False, "probability of rain in the hour or its block"
        ),
        Column(
            "rain_prob_block_h",
            "h",
            1,
            240,
            False,
            "hours for which the probability was given as one",
        ),
        Column("cloud", "fraction", 0, 1, False, "sky cover"),
        Column("ghi_w_m2", "W/m2", -10, 1500, False, "global horizontal irradiance, hour mean"),
        Column("pressure_hpa", "hPa", 480, 1090, False, "pressure at the station"),
        Column("surface_temp_c", "degC", -60, 110, False, "measured roof surface temperature"),
        Column(
            "surface_temp_min_c",
            "degC",
            -60,
            110,
            False,
            "coldest reading of the roof surface in the hour",
        ),
        Column(
            "surface_temp_max_c",
            "degC",
            -60,
            110,
            False,
            "warmest reading of the roof surface in the hour",
        ),
        Column("longwave_w_m2", "W/m2", 40, 600, False, "infrared from the sky, hour mean"),
        Column("thunder_prob", "fraction", 0, 1, False, "probability of thunder in the hour"),
    )
}


_LONGEST_GAP = pd.Timedelta(days=3653)
"""A longer gap is a mistyped year, and would make a table of millions of empty hours."""
_FEW, _FEW_SHARE = 3, 0.05
"""Impossible values that are still single readings: so many, or this share (own choice)."""
_DRIEST_TABLE = 0.05
_DEW_ABOVE_AIR_K = 0.5
"""A dew point so little above the air is rounding. [K]"""


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
    found: list[str] = list(warnings)
    values, marks = dict(columns), dict(flags or {})
    for name, given in columns.items():
        values[name], marks = _possible(COLUMNS[name], given, times, place, recorded, marks, found)
    _whole_hours(times, place)
    frame = pd.DataFrame(values, index=times, dtype="float64")
    mark_frame = pd.DataFrame(marks, index=times, dtype="int64")
    frame, mark_frame = _in_order(frame, mark_frame, place, recorded, found)
    first = ~times.duplicated()
    rows = np.flatnonzero(first)[times[first].argsort()]
    frame = _every_hour(frame, found)
    at = times[rows].get_indexer(pd.DatetimeIndex(frame.index))
    marks = {
        str(name): mark_frame[name].reindex(frame.index, fill_value=0).to_numpy()
        for name in mark_frame
    }
    runs = {
        name: np.where(at >= 0, _inside(COLUMNS[name], run)[:, rows[at]], np.nan)
        for name, run in (members or {}).items()
    }
    frame, marks = _moisture(frame, place, recorded, marks, found)
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


def _inside(column: Column, values: FloatArray) -> FloatArray:
    """Return values with NaN for what nature does not have."""
    return np.where((values >= column.low) & (values <= column.high), values, np.nan)


def _few(wrong: NDArray[np.bool_], known: int) -> bool:
    """Tell whether faults are few enough to be those of single readings."""
    return int(wrong.sum()) <= max(_FEW, _FEW_SHARE * known)


def _possible(
    column: Column,
    values: FloatArray,
    times: pd.DatetimeIndex,
    place: str,
    recorded: bool,
    marks: dict[str, NDArray[np.int64]],
    found: list[str],
) -> tuple[FloatArray, dict[str, NDArray[np.int64]]]:
    """Refuse values that nature does not have, and say when they look like another unit.

    A few of them in a recorded table become unknown.
    """
    wrong = (values < column.low) | (values > column.high) | np.isinf(values)
    if not wrong.any():
        return values, marks
    where = int(np.argmax(wrong))
    value = float(values[where])
    unit = "" if column.unit in {"fraction", "0 or 1"} else f" {column.unit}"
    told = f"{column.name} of {value:g}{unit} at {times[where]:%Y-%m-%d %H:%M} UTC is not possible"
    if recorded and _few(wrong, int(np.isfinite(values).sum())):
        found.append(f"{told}{_such(int(wrong.sum()), 'hours')}: unknown there")
        return np.where(wrong, np.nan, values), flagged(marks, column.name, wrong, Flag.RANGE)
    raise HoursError(
        f"{place}: {told}{_such(int(wrong.sum()), 'rows')}: it runs from {column.low:g} to "
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


def _in_order(
    frame: pd.DataFrame, marks: pd.DataFrame, place: str, recorded: bool, found: list[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    if not frame.index.is_monotonic_increasing:
        found.append("rows were not in order of time; they are sorted")
        frame, marks = frame.sort_index(kind="stable"), marks.sort_index(kind="stable")
    twice = frame.index.duplicated(keep=False)
    if not twice.any():
        return frame, marks
    once = ~frame.index.duplicated()
    # Group by hour: equal rows collapse to one, NaN counts as a value of its own.
    distinct = frame[twice].reset_index().drop_duplicates()
    hours = pd.DatetimeIndex(distinct.iloc[:, 0])
    clash = hours[hours.duplicated()].unique()
    if len(clash) and not recorded:
        raise HoursError(
            f"{place}: two rows for {clash[0]:%Y-%m-%d %H:%M} UTC differ"
            f"{_such(len(clash), 'hours')}; keep the right one"
        )
    if len(clash):
        found.append(
            f"rows of one hour differ, the first at {clash[0]:%Y-%m-%d %H:%M} UTC"
            f"{_such(len(clash), 'hours')}: the most rain stands, what else differs is unknown"
        )
        frame, marks = _settled(frame, marks, clash)
        return frame[once], marks[once]
    dropped = int((~once).sum())
    found.append(
        "1 row is a copy of another; it is dropped"
        if dropped == 1
        else f"{dropped} rows are copies of others; they are dropped"
    )
    return frame[once], marks[once]


def one_row_a_time(
    frame: pd.DataFrame, most: Sequence[str] = ()
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return one row for each time of the index, and where its rows did not agree.

    What differs is unknown, and so is a value beside one that is missing: the missing one could
    have been worse. Of the columns ``most`` the highest value counts where all are known.
    """
    grouped = frame.groupby(level=0)
    high, low = grouped.max(), grouped.min()
    known = grouped.count()
    whole = known.eq(grouped.size(), axis=0)
    differ = ((high != low) | ~whole) & (known > 0)
    agreed = high.where(~differ)
    agreed[list(most)] = high[list(most)].where(whole[list(most)])
    return agreed, differ


def _settled(
    frame: pd.DataFrame, marks: pd.DataFrame, clash: pd.DatetimeIndex
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return rows in which the hours of ``clash`` agree: the most rain, else unknown.

    See `one_row_a_time`.
    """
    rows = frame.index.isin(clash)
    wettest = [name for name in ("rain_mm", "rain_trace", "rain_prob") if name in frame]
    agreed, differ = (
        each.reindex(frame.index[rows]) for each in one_row_a_time(frame[rows], wettest)
    )
    frame = frame.copy()
    frame.loc[rows] = agreed
    for name in frame.columns[differ.any()]:
        before = marks[name].to_numpy() if name in marks else np.zeros(len(marks), dtype=np.int64)
        here = np.zeros(len(marks), dtype=bool)
        here[rows] = differ[name].to_numpy()
        marks = marks.assign(**{str(name): before | np.where(here, int(Flag.DUPLICATE), 0)})
    return frame, marks


def _every_hour(frame: pd.DataFrame, found: list[str]) -> pd.DataFrame:
    hours = pd.date_range(frame.index[0], frame.index[-1], freq="h", name=frame.index.name)
    missing = hours.difference(pd.DatetimeIndex(frame.index))
    if len(missing):
        found.append(
            f"{_are(len(missing), len(hours))} not in the table, the first "
            f"{missing[0]:%Y-%m-%d %H:%M} UTC; what is not there is unknown"
        )
    return frame.reindex(hours)


def _moisture(
    frame: pd.DataFrame,
    place: str,
    recorded: bool,
    marks: dict[str, NDArray[np.int64]],
    found: list[str],
) -> tuple[pd.DataFrame, dict[str, NDArray[np.int64]]]:
    """Clip rounding of humidity and dew point; refuse a dew point well above the air."""
    if "rel_humidity" in frame:
        if frame["rel_humidity"].max() < _DRIEST_TABLE:
            raise HoursError(
                f"{place}: rel_humidity is below {_DRIEST_TABLE:g} in every hour, drier than any "
                "place; give it as a fraction, or leave it out if the sensor is dead"
            )
        over = frame["rel_humidity"] > 1
        if over.any():
            found.append(
                f"rel_humidity is a little above 1 in {int(over.sum())} of {len(frame)} hours; "
                "it is taken as 1"
            )
            frame["rel_humidity"] = frame["rel_humidity"].clip(upper=1.0)
    if "dew_point_c" in frame:
        excess = frame["dew_point_c"] - frame["air_temp_c"]
        above = (excess > _DEW_ABOVE_AIR_K).to_numpy()
        if above.any():
            when = excess.index[int(np.argmax(above))]
            told = f"dew_point_c is above air_temp_c at {when:%Y-%m-%d %H:%M} UTC"
            if not (recorded and _few(above, int(excess.notna().sum()))):
                raise HoursError(
                    f"{place}: {told}{_such(int(above.sum()), 'rows')}, which is not possible; "
                    "check that the two columns are not exchanged and that both are degC"
                )
            found.append(
                f"{told}{_such(int(above.sum()), 'hours')}: the dew point is unknown there"
            )
            frame["dew_point_c"] = frame["dew_point_c"].mask(above)
            marks = flagged(marks, "dew_point_c", above, Flag.CONTRADICTION)
        frame["dew_point_c"] = frame["dew_point_c"].where(
            ~(excess > 0) | above, frame["air_temp_c"]
        )
    return frame, marks


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
