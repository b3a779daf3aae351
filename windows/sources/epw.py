"""EPW weather files (EnergyPlus weather format): typical or actual years of hours.

Labels as in `windows.sources.typical_year`.

Source of the format: U.S. Department of Energy, "Auxiliary Programs", EnergyPlus documentation,
chapter "Weather Converter Program", data dictionary of the EPW file.
"""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.provenance import Location, Provenance
from windows.sources.typical_year import RAIN_WARNING, hours_of, labels_of

if TYPE_CHECKING:
    from windows.hours import HourlyTable

NAME = "epw"
HELP = "EPW file of building-energy programs, whose first line begins with LOCATION"
KIND = "file"

__all__ = ["HELP", "KIND", "NAME", "parse", "recognises"]

_HEADER_LINES = 8
# name: (field of the row, missing from, scale), readings at the label
_READINGS = {
    "air_temp_c": (6, 99.9, 1.0),
    "dew_point_c": (7, 99.9, 1.0),
    "rel_humidity": (8, 999.0, 0.01),
    "pressure_hpa": (9, 999999.0, 0.01),
    "wind_m_s": (21, 999.0, 1.0),
    "cloud": (22, 99.0, 0.1),
}
# the same, summed or averaged over the hour that ends at the label
_HOUR_BEFORE = {
    "longwave_w_m2": (12, 9999.0, 1.0),
    "ghi_w_m2": (13, 9999.0, 1.0),
    "rain_mm": (33, 999.0, 1.0),
}
_RAIN_HOURS = 34
_FIELDS = 35


def recognises(head: str) -> bool:
    """Tell whether the first line is the LOCATION record."""
    return head.upper().startswith("LOCATION,")


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of an EPW file.

    Raises
    ------
    HoursError
        If the header or a row cannot be read, or the checks of `windows.hours.check_hours` fail.
    """
    lines = content.decode("latin-1").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    where, zone_hours = _location(lines[0], place)
    rows = _rows(lines, place)
    warnings = [RAIN_WARNING]
    dates = rows[[0, 1, 2, 3]].set_axis(["year", "month", "day", "hour"], axis=1)
    labels = labels_of(dates, zone_hours, place, list(rows.index), warnings)
    return hours_of(
        {name: _values(rows, *spec) for name, spec in _READINGS.items()},
        {name: _values(rows, *spec) for name, spec in _HOUR_BEFORE.items()},
        rows[_RAIN_HOURS].to_numpy(),
        labels,
        Provenance(f"EPW weather year of {where.name}", place, kind="typical", location=where),
        warnings,
    )


def _location(line: str, place: str) -> tuple[Location, float]:
    """Return the place and the hours of standard time ahead of UTC."""
    fields = [field.strip() for field in line.split(",")]
    latitude, longitude, zone_hours, elevation = (
        float(fields[at]) if at < len(fields) and _is_number(fields[at]) else np.nan
        for at in (6, 7, 8, 9)
    )
    if not -12 <= zone_hours <= 14:
        raise HoursError(
            f"{place}: line 1: the LOCATION record has no time zone from -12 to 14 h in field 9; "
            "mend it"
        )
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise HoursError(
            f"{place}: line 1: the LOCATION record has no latitude and longitude in fields 7 and "
            "8; mend it"
        )
    height = None if np.isnan(elevation) else elevation
    return Location(fields[1], latitude, longitude, height), zone_hours


def _rows(lines: list[str], place: str) -> pd.DataFrame:
    """Return the fields that are used, by position; the index is the line number."""
    wanted = [0, 1, 2, 3]
    wanted += [at for at, _, _ in (*_READINGS.values(), *_HOUR_BEFORE.values())]
    wanted.append(_RAIN_HOURS)
    rows: list[list[float]] = []
    numbers: list[int] = []
    for number, line in enumerate(lines[_HEADER_LINES:], _HEADER_LINES + 1):
        if not line.strip():
            continue
        fields = next(csv.reader([line]))
        if len(fields) < _FIELDS:
            raise HoursError(
                f"{place}: line {number} has {len(fields)} field{'s' * (len(fields) != 1)} of the "
                f"{_FIELDS} of an EPW row; use a whole, unchanged file"
            )
        try:
            rows.append([float(fields[at]) for at in wanted])
        except ValueError:
            at = next(at for at in wanted if not _is_number(fields[at]))
            raise HoursError(
                f"{place}: line {number}: field {at + 1} is '{fields[at].strip()}', not a number; "
                "use an unchanged file"
            ) from None
        numbers.append(number)
    if not rows:
        raise HoursError(
            f"{place}: there are no rows after the {_HEADER_LINES} header lines; use a whole file"
        )
    return pd.DataFrame(rows, columns=wanted, index=numbers)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _values(rows: pd.DataFrame, at: int, missing: float, scale: float) -> np.ndarray:
    values = rows[at].to_numpy(dtype=np.float64)
    return np.where(values >= missing, np.nan, values * scale)
