"""TMY3 files: typical years of US stations. Labels as in `windows.sources.typical_year`.

Source of the format: S. Wilcox and W. Marion, "Users Manual for TMY3 Data Sets", NREL/TP-581-43156,
2008, table 1-1 and 1-2.
"""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.provenance import Location, Provenance
from windows.sources.typical_year import RAIN_WARNING, hours_of, labels_of

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from windows.hours import HourlyTable

NAME = "tmy3"
HELP = "TMY3 file, whose second line begins with Date (MM/DD/YYYY),Time (HH:MM)"
KIND = "file"

__all__ = ["HELP", "KIND", "NAME", "parse", "recognises"]

_DATE, _TIME = "Date (MM/DD/YYYY)", "Time (HH:MM)"
# column: (field, scale), readings at the label
_READINGS = {
    "air_temp_c": ("Dry-bulb (C)", 1.0),
    "dew_point_c": ("Dew-point (C)", 1.0),
    "rel_humidity": ("RHum (%)", 0.01),
    "pressure_hpa": ("Pressure (mbar)", 1.0),
    "wind_m_s": ("Wspd (m/s)", 1.0),
    "cloud": ("TotCld (tenths)", 0.1),
}
_HOUR_BEFORE = {
    "ghi_w_m2": ("GHI (W/m^2)", 1.0),
    "rain_mm": ("Lprecip depth (mm)", 1.0),
}
_RAIN_HOURS = "Lprecip quantity (hr)"
_HEADER_LINES = 2


def recognises(head: str) -> bool:
    """Tell whether the second line has the field names."""
    lines = head.splitlines()
    return len(lines) > 1 and lines[1].startswith(f"{_DATE},{_TIME}")


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a TMY3 file.

    Raises
    ------
    HoursError
        If the header or a row cannot be read, or the checks of `windows.hours.check_hours` fail.
    """
    first, _, rest = content.decode("latin-1").partition("\n")
    where, zone_hours = _station(first, place)
    wanted = [name for name, _ in (*_READINGS.values(), *_HOUR_BEFORE.values())]
    try:
        rows = pd.read_csv(
            io.StringIO(rest), usecols=[_DATE, _TIME, *wanted, _RAIN_HOURS], dtype=str
        )
    except ValueError as fault:
        told = " ".join(str(fault).split())[:120]
        raise HoursError(f"{place}: not a whole TMY3 file ({told}); use an unchanged one") from None
    if rows.empty:
        raise HoursError(f"{place}: there are no rows below the header; use a whole file")
    lines = range(_HEADER_LINES + 1, len(rows) + _HEADER_LINES + 1)
    values = {name: _numbers(rows[name], lines, place) for name in (*wanted, _RAIN_HOURS)}
    warnings = [RAIN_WARNING]
    labels = labels_of(_dates(rows, lines, place), zone_hours, place, lines, warnings)
    return hours_of(
        {name: values[field] * scale for name, (field, scale) in _READINGS.items()},
        {name: values[field] * scale for name, (field, scale) in _HOUR_BEFORE.items()},
        values[_RAIN_HOURS],
        labels,
        Provenance(f"TMY3 typical year of {where.name}", place, kind="typical", location=where),
        warnings,
    )


def _station(line: str, place: str) -> tuple[Location, float]:
    fields = next(csv.reader([line]))
    try:
        zone_hours, latitude, longitude, elevation = (float(field) for field in fields[3:7])
    except ValueError:
        raise HoursError(
            f"{place}: line 1 does not tell zone, latitude, longitude and elevation; use an "
            "unchanged file"
        ) from None
    return Location(f"{fields[1]} {fields[2]}", latitude, longitude, elevation), zone_hours


def _numbers(cells: pd.Series[str], lines: range, place: str) -> FloatArray:
    """Return a field as numbers; -9900 and an empty cell are missing."""
    found = pd.to_numeric(cells, errors="coerce")
    wrong = (found.isna() & cells.notna()).to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        raise HoursError(
            f"{place}: line {lines[row]}: {cells.name} is '{cells.iloc[row]}', not a number; use "
            "an unchanged file"
        )
    return found.where(found > -9900).to_numpy(dtype=np.float64)


def _dates(rows: pd.DataFrame, lines: range, place: str) -> pd.DataFrame:
    parts = (
        rows[_DATE]
        .str.extract(r"^(?P<month>\d\d)/(?P<day>\d\d)/(?P<year>\d{4})$")
        .join(rows[_TIME].str.extract(r"^(?P<hour>\d\d):00$"))
    )
    wrong = parts.isna().any(axis=1).to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        raise HoursError(
            f"{place}: line {lines[row]}: '{rows[_DATE].iloc[row]} {rows[_TIME].iloc[row]}' is no "
            "hour of a day; use an unchanged file"
        )
    return parts.astype(np.int64)
