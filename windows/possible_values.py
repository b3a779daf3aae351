"""Values that nature has: what is not possible is refused, or unknown where few are so."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.units import to_si
from windows.errors import HoursError
from windows.flags import Flag, flagged
from windows.time_rows import such

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.columns import Column

__all__ = ["few", "inside", "possible", "possible_moisture"]

_FEW, _FEW_SHARE = 3, 0.05
"""Impossible values that are still single readings: so many, or this share (own choice)."""
_DRIEST_TABLE = 0.05
_DEW_ABOVE_AIR_K = 0.5
"""A dew point so little above the air is rounding. [K]"""


def inside(column: Column, values: FloatArray) -> FloatArray:
    """Return values with NaN for what nature does not have."""
    return np.where((values >= column.low) & (values <= column.high), values, np.nan)


def few(wrong: NDArray[np.bool_], known: int) -> bool:
    """Tell whether faults are few enough to be those of single readings, of so many known."""
    return int(wrong.sum()) <= max(_FEW, _FEW_SHARE * known)


def possible(
    column: Column,
    values: FloatArray,
    times: pd.DatetimeIndex,
    place: str,
    recorded: bool,
    marks: dict[str, NDArray[np.int64]],
    found: list[str],
) -> tuple[FloatArray, dict[str, NDArray[np.int64]]]:
    """Refuse values that nature does not have, and say when they look like another unit.

    A few of them in a ``recorded`` table become unknown, with a mark and a sentence in ``found``.
    Returns the values and the marks, each of shape (hours,).

    Raises
    ------
    HoursError
        If there are more, or the table is not recorded.
    """
    wrong = (values < column.low) | (values > column.high) | np.isinf(values)
    if not wrong.any():
        return values, marks
    where = int(np.argmax(wrong))
    value = float(values[where])
    unit = "" if column.unit in {"fraction", "0 or 1"} else f" {column.unit}"
    told = f"{column.name} of {value:g}{unit} at {times[where]:%Y-%m-%d %H:%M} UTC is not possible"
    if recorded and few(wrong, int(np.isfinite(values).sum())):
        found.append(f"{told}{such(int(wrong.sum()), 'hours')}: unknown there")
        return np.where(wrong, np.nan, values), flagged(marks, column.name, wrong, Flag.RANGE)
    raise HoursError(
        f"{place}: {told}{such(int(wrong.sum()), 'rows')}: it runs from {column.low:g} to "
        f"{column.high:g}{unit}; {_guess(column, value, float(np.nanmax(values)))}"
    )


def _guess(column: Column, value: float, highest: float) -> str:
    """Say how to mend an impossible value, by the unit that it looks like."""
    if column.unit == "degC" and column.high < value <= 150:
        return f"it looks like degF ({value:g} degF is {to_si(value, 'degF'):.1f} degC): convert it"
    if column.name == "cloud" and value >= 2 and highest <= 10:
        return "it looks like tenths or eighths of the sky: divide by 10 or by 8"
    if column.unit == "fraction" and 2 <= value <= 104:
        return f"it looks like percent: divide by 100 ({value:g} % is {value / 100:g})"
    if column.unit == "hPa" and 15 <= value <= 33:
        return "it looks like inHg: multiply by 33.864"
    return "mend it, or leave the cell empty if it is not known"


def possible_moisture(
    frame: pd.DataFrame,
    place: str,
    recorded: bool,
    marks: dict[str, NDArray[np.int64]],
    found: list[str],
) -> tuple[pd.DataFrame, dict[str, NDArray[np.int64]]]:
    """Clip rounding of humidity and dew point; refuse a dew point well above the air.

    A few such dew points in a ``recorded`` table become unknown, as in `possible`.

    Raises
    ------
    HoursError
        If there are more, the table is not recorded, or the air is drier than any place.
    """
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
            if not (recorded and few(above, int(excess.notna().sum()))):
                raise HoursError(
                    f"{place}: {told}{such(int(above.sum()), 'rows')}, which is not possible; "
                    "check that the two columns are not exchanged and that both are degC"
                )
            found.append(
                f"{told}{such(int(above.sum()), 'hours')}: the dew point is unknown there"
            )
            frame["dew_point_c"] = frame["dew_point_c"].mask(above)
            marks = flagged(marks, "dew_point_c", above, Flag.CONTRADICTION)
        frame["dew_point_c"] = frame["dew_point_c"].where(
            ~(excess > 0) | above, frame["air_temp_c"]
        )
    return frame, marks
