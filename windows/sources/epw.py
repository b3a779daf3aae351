"""EPW weather files (EnergyPlus weather format): typical or actual years of hours.

Labels are hours 1 to 24 in local STANDARD time and mean the END of the hour. What fell or shone
belongs to the hour before the label; temperature, humidity, wind and cloud are readings at the
label, so they stand for the row that begins there. The first row therefore has no readings and the
last no rain: unknown, not zero.

Source of the format: U.S. Department of Energy, "Auxiliary Programs", EnergyPlus documentation,
chapter "Weather Converter Program", data dictionary of the EPW file.
"""

from __future__ import annotations

import csv

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.hours import HourlyTable, check_hours
from windows.provenance import Provenance

NAME = "EPW"
HELP = "an EnergyPlus weather file, whose first line begins with LOCATION"

__all__ = ["HELP", "NAME", "parse", "recognises"]

_HEADER_LINES = 8
_TYPICAL_YEAR = 2025
"""Year given to a file whose months come from several years: it has no 29 February. [year]"""

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
_LONGEST_RAIN = 24
"""A longer span of gathered rain is the mark of a span that is not known. [h]"""


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
    city, zone_hours = _location(lines[0], place)
    rows = _rows(lines, place)
    warnings = ["EPW rain differs from build to build of one year; do not rest a rain risk on it"]
    labels = _labels(rows, zone_hours, place, warnings)
    readings = pd.DataFrame(
        {name: _values(rows, *spec) for name, spec in _READINGS.items()}
    ).set_axis(labels)
    sums = pd.DataFrame(
        {name: _values(rows, *spec) for name, spec in _HOUR_BEFORE.items()}
    ).set_axis(labels - pd.Timedelta(hours=1))
    rain = sums["rain_mm"].to_numpy()
    if not (rain > 0).any():
        if (rain == 0).any():
            warnings.append("rain is zero in every row, so it was not measured: unknown")
        sums["rain_mm"] = np.nan
    else:
        sums["rain_mm"] = _spread_rain(rain, rows[_RAIN_HOURS].to_numpy(), warnings)
    table = readings.join(sums, how="outer")
    return check_hours(
        {str(name): table[name].to_numpy(dtype=np.float64) for name in table.columns},
        pd.DatetimeIndex(table.index),
        Provenance(f"EPW weather year of {city}", place),
        warnings=tuple(warnings),
    )


def _labels(
    rows: pd.DataFrame, zone_hours: float, place: str, warnings: list[str]
) -> pd.DatetimeIndex:
    """Return the label of each row (the end of its hour) in UTC."""
    ends = _ends(rows, rows[0].to_numpy(), place)
    one_year = (rows[0] == rows[0].iloc[0]).all()
    if not one_year and (ends[1:] - ends[:-1] != pd.Timedelta(hours=1)).any():
        warnings.append(f"months come from several years; all are dated {_TYPICAL_YEAR}")
        ends = _ends(rows, np.full(len(rows), _TYPICAL_YEAR), place)
    return (ends - pd.Timedelta(minutes=round(zone_hours * 60))).tz_localize("UTC")


def _ends(rows: pd.DataFrame, years: np.ndarray, place: str) -> pd.DatetimeIndex:
    days = pd.to_datetime(
        pd.DataFrame({"year": years, "month": rows[1], "day": rows[2]}), errors="coerce"
    )
    wrong = days.isna().to_numpy() | ~rows[3].isin(range(1, 25)).to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        year, month, day, hour = (f"{rows[at].iloc[row]:g}" for at in range(4))
        raise HoursError(
            f"{place}: line {rows.index[row]}: there is no hour {hour} of {year}-{month}-{day}; "
            "mend the date, and count hours from 1 to 24"
        )
    return pd.DatetimeIndex(days) + pd.to_timedelta(rows[3].to_numpy(), unit="h")


def _location(line: str, place: str) -> tuple[str, float]:
    """Return the city and the hours of standard time ahead of UTC."""
    fields = line.split(",")
    try:
        zone_hours = float(fields[8])
    except (IndexError, ValueError):
        zone_hours = np.nan
    if not -12 <= zone_hours <= 14:
        raise HoursError(
            f"{place}: line 1: the LOCATION record has no time zone from -12 to 14 h in field 9; "
            "mend it"
        )
    return fields[1].strip(), zone_hours


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


def _spread_rain(rain: np.ndarray, spans: np.ndarray, warnings: list[str]) -> np.ndarray:
    """Make rain unknown in every hour of a span over which one depth was gathered.

    The depth does not tell in which of the hours it fell, so none of them is known to be dry.
    """
    known = rain.copy()
    gathered = np.flatnonzero((spans > 1) & (rain > 0))
    for row in gathered:
        reach = int(spans[row]) if spans[row] <= _LONGEST_RAIN else 1
        known[max(0, row + 1 - reach) : row + 1] = np.nan
    if gathered.size:
        lost = int(np.isnan(known).sum() - np.isnan(rain).sum())
        warnings.append(
            f"rain was gathered over several hours {gathered.size} times; it is unknown in the "
            f"{lost} hours of these spans"
        )
    return known


def _values(rows: pd.DataFrame, at: int, missing: float, scale: float) -> np.ndarray:
    values = rows[at].to_numpy(dtype=np.float64)
    return np.where(values >= missing, np.nan, values * scale)
