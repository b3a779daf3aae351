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
    text = content.decode("latin-1")
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
    rows = rows.set_axis(labels)
    warnings: list[str] = []
    if labels.has_duplicates:
        rows, clash = _settled(rows)
        if len(clash):
            warnings.append(
                f"rows of one hour differ, the first at {clash[0]:%Y-%m-%d %H:%M} UTC "
                f"({len(clash)} hours): the most rain stands, what else differs is unknown"
            )
    index = hour_range(labels.min(), labels.max(), place)
    known = rows.reindex(index, fill_value=_MISSING)
    at_end = known.shift(-1, fill_value=_MISSING)  # rain of the hour that ends at the label
    columns = {
        "air_temp_c": _tenths(known["air"]),
        "dew_point_c": _tenths(known["dew"]),
        "wind_m_s": _tenths(known["wind"]),
        "cloud": known["sky"].map(_SKY).to_numpy(dtype=np.float64),
        "rain_mm": _tenths(at_end["one"].where(at_end["one"] != _TRACE, 0)),
        "rain_trace": np.where(
            at_end["one"] == _MISSING, np.nan, (at_end["one"] == _TRACE).to_numpy(np.float64)
        ),
        "rain_block_h": np.ones(len(index)),
    }
    six = at_end["six"]
    doubted = fill_from_totals(
        columns, _tenths(six.where(six != _TRACE, 0)), (six == _TRACE).to_numpy(), 6
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


def _settled(rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DatetimeIndex]:
    """Return one row an hour; where rows differ the most rain, else missing. And these hours."""
    grouped = rows.groupby(level=0)
    high, low = grouped.max(), grouped.min()
    agreed = high.where(high == low, _MISSING)
    for name in ("one", "six"):
        most = high[name].where(~((low[name] == _TRACE) & (high[name] == 0)), _TRACE)
        agreed[name] = most.where(low[name] != _MISSING, _MISSING)
    return agreed, pd.DatetimeIndex(high.index[(high != low).any(axis="columns")])


def _tenths(values: pd.Series[int]) -> np.ndarray:
    return np.where(values == _MISSING, np.nan, values / 10.0)
