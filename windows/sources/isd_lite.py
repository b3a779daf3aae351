"""ISD-Lite files: hourly observations of a station in fixed columns, UTC.

Readings are those nearest the label; rain is that of the one or six hours that end about there.
A trace is -1, missing is -9999. Where an hour is missing and the six hours are told, or where the
six hours are told to be more than the hours add up to, the sum is used for the block.

Source of the format: NOAA National Centers for Environmental Information, "Integrated Surface
Data - Lite", format document; codes of the sky from memory.
"""

from __future__ import annotations

import io
import re

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.flags import Flag, flagged
from windows.hours import HourlyTable, check_hours
from windows.provenance import Provenance
from windows.sources.blocks import fill_from_totals, hour_range
from windows.time_rows import one_row_a_time

NAME = "isd_lite"
HELP = "ISD-Lite file of a station: twelve columns of whole numbers"
KIND = "file"

__all__ = ["HELP", "KIND", "NAME", "parse", "recognises"]

_ROW = re.compile(r"\d{4} +\d\d? +\d\d? +\d\d?( +-?\d+){8} *$")
_MISSING, _TRACE = -9999, -1
_NAMES = ("year", "month", "day", "hour", "air", "dew", "sea", "from", "wind", "sky", "one", "six")
_OBSCURED, _SCATTERED, _BROKEN = 9, 3.5 / 8, 6 / 8
_SKY = {
    **{code: code / 8 for code in range(9)}, _OBSCURED: 1.0,
    11: _SCATTERED, 12: _SCATTERED, 13: _SCATTERED, 14: _BROKEN, 15: _BROKEN, 16: _BROKEN,
    17: 1.0, 18: 1.0, 19: 1.0,
}  # fmt: skip


def recognises(head: str) -> bool:
    """Tell whether the first lines have the twelve columns."""
    lines = head.splitlines()[:20]
    return bool(lines) and all(_ROW.match(line) for line in lines[: max(1, len(lines) - 1)])


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of an ISD-Lite file.

    Raises
    ------
    HoursError
        If a row has not twelve whole numbers or no hour, or the checks of
        `windows.hours.check_hours` fail.
    """
    values = _by_label(content.decode("latin-1"), place)
    warnings: list[str] = []
    if values.index.has_duplicates:
        values, differ = one_row_a_time(values, most=_RAIN)
        clash = values.index[differ.any(axis="columns")]
        if len(clash):
            warnings.append(
                f"rows of one hour differ, the first at {clash[0].strftime('%Y-%m-%d %H:%M')} UTC "
                f"({len(clash)} hours): the most rain stands, what else differs is unknown"
            )
    index = hour_range(values.index.min(), values.index.max(), place)
    known = values.reindex(index)
    at_end = known.shift(-1)  # rain of the hours that end at the label
    columns = {
        name: known[name].to_numpy() for name in ("air_temp_c", "dew_point_c", "wind_m_s", "cloud")
    } | {
        "rain_mm": at_end["rain"].to_numpy(copy=True),
        "rain_trace": at_end["trace"].to_numpy(copy=True),
        "rain_block_h": np.ones(len(index)),
    }
    doubted = fill_from_totals(
        columns, at_end["six"].to_numpy(), (at_end["six_trace"] == 1).to_numpy(), 6
    )
    gathered = columns["rain_block_h"] > 1
    flags = flagged(flagged({}, "rain_mm", gathered, Flag.BLOCK), "rain_mm", doubted,
                    Flag.CONSISTENCY)  # fmt: skip
    if not gathered.any():
        del columns["rain_block_h"]
    return check_hours(
        columns,
        index,
        Provenance("ISD-Lite observations", place, kind="observed", attribution="Data: NOAA NCEI"),
        warnings=tuple(warnings),
        recorded=True,
        flags=flags,
    )


_RAIN = ("rain", "trace", "six", "six_trace")


def _by_label(text: str, place: str) -> pd.DataFrame:
    """Return what a file says by the label of its rows, UTC, in their order.

    Raises
    ------
    HoursError
        If a row has not twelve whole numbers or no hour.
    """
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip() and not _ROW.match(line.strip()):
            raise HoursError(
                f"{place}: line {number} is not a row of twelve whole numbers; use an unchanged "
                "file"
            )
    rows = pd.read_csv(io.StringIO(text), sep=r"\s+", header=None, names=list(_NAMES))
    times = pd.to_datetime(rows[["year", "month", "day", "hour"]], errors="coerce")
    times = times.where(rows["hour"].between(0, 23))
    if times.isna().any():
        row = int(times.isna().to_numpy().argmax())
        raise HoursError(f"{place}: row {row + 1} has no hour of a day; use an unchanged file")
    labels = pd.DatetimeIndex(times).tz_localize("UTC")
    return pd.DataFrame(_values(rows)).set_axis(labels)


def _values(rows: pd.DataFrame) -> dict[str, pd.Series[float]]:
    """Return what the fields say, by label, NaN where missing; a trace is no rain, and a trace."""
    tenths = rows.where(rows != _MISSING) / 10.0
    return {
        "air_temp_c": tenths["air"],
        "dew_point_c": tenths["dew"],
        "wind_m_s": tenths["wind"],
        "cloud": rows["sky"].map(_SKY).astype("float64"),
        "rain": tenths["one"].mask(rows["one"] == _TRACE, 0.0),
        "trace": (rows["one"] == _TRACE).astype("float64").mask(rows["one"] == _MISSING),
        "six": tenths["six"].mask(rows["six"] == _TRACE, 0.0),
        "six_trace": (rows["six"] == _TRACE).astype("float64").mask(rows["six"] == _MISSING),
    }
