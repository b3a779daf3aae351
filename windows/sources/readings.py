"""Readings of surface temperature on a roof: a CSV with ``time`` and one temperature column.

``time`` is the moment, ISO 8601 with ``Z`` or an offset. The other column is ``surface_temp_c`` or
``surface_temp_f``; an empty cell is a reading that was not taken, and is passed over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.units import to_si
from windows.errors import HoursError, did_you_mean
from windows.sources import csv_cells

if TYPE_CHECKING:
    from pathlib import Path

    from cure_models.arrays import FloatArray

__all__ = ["Readings", "read_readings"]

_UNITS = {"surface_temp_c": "degC", "surface_temp_f": "degF"}
_LOW_C, _HIGH_C = -60.0, 120.0


@dataclass(frozen=True)
class Readings:
    """Moments in UTC and temperatures, shape (readings,). [degC]"""

    times: pd.DatetimeIndex
    temp_c: FloatArray


def read_readings(path: Path | str) -> Readings:
    """Read a file of readings.

    Raises
    ------
    HoursError
        If it cannot be read, a column is unknown or missing, a time has no zone, a value is no
        number or outside -60 to 120 degC.
    """
    place = str(path)
    content = csv_cells.content_of(path, "file of readings")
    if not content.strip():
        raise HoursError(f"{place}: the file is empty; give a header and readings")
    lines, top = csv_cells.lines_of(content, place)
    if not lines[top].strip() or lines[top].startswith("#"):
        raise HoursError(f"{place}: there is no header below the # lines; add one and readings")
    cells = csv_cells.rows(lines, top, place, _check_names)
    if cells.empty:
        raise HoursError(f"{place}: there are no readings below the header; add some")
    name = next(str(n) for n in cells if n in _UNITS)
    values = csv_cells.numbers(cells[name], place)
    times = csv_cells.times(
        cells["time"], place, "write the moment with its zone, as 2026-05-01T18:10-05:00"
    )
    temps = to_si(values, _UNITS[name])
    odd = np.flatnonzero((temps < _LOW_C) | (temps > _HIGH_C) | np.isinf(temps))
    if odd.size:
        row = int(odd[0])
        raise HoursError(
            f"{place}: line {cells.index[row]}: {name} is {values[row]:g}, no temperature of a "
            "roof; check the unit and the cell"
        )
    taken = ~np.isnan(temps)
    return Readings(times[taken], temps[taken])


def _check_names(names: list[str], where: str) -> None:
    known = {"time", *_UNITS}
    for name in names:
        if names.count(name) > 1:
            raise HoursError(f"{where}: column '{name}' is there twice; keep one of them")
        if name not in known:
            raise HoursError(
                f"{where}: column '{name}' is not known: rename or delete it; "
                f"{did_you_mean(name.lower(), known)}"
            )
    if "time" not in names or sum(name in _UNITS for name in names) != 1:
        raise HoursError(
            f"{where}: readings need the columns time and surface_temp_c, or surface_temp_f; name "
            "them so"
        )
