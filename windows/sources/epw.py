"""EPW weather files (EnergyPlus weather format): typical or actual years of hours.

Labels are hours 1 to 24 in local STANDARD time and mean the END of the hour. What fell or shone
belongs to the hour before the label; temperature, humidity, wind and cloud are readings at the
label, so they stand for the row that begins there. The first row therefore has no readings and the
last no rain: unknown, not zero.

Source of the format: U.S. Department of Energy, "Auxiliary Programs", EnergyPlus documentation,
chapter "Weather Converter Program", data dictionary of the EPW file.
"""

from __future__ import annotations

import io

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.hours import HourlyTable, Provenance, check_hours

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
    text = content.decode("latin-1")
    lines = text.splitlines()
    location = lines[0].split(",")
    try:
        city, zone_hours = location[1].strip(), float(location[8])
    except (IndexError, ValueError):
        raise HoursError(
            f"{place}: line 1: the LOCATION record has no time zone in field 9; mend it"
        ) from None
    fields = [at for at, _, _ in (*_READINGS.values(), *_HOUR_BEFORE.values())]
    try:
        rows = pd.read_csv(
            io.StringIO("\n".join(lines[_HEADER_LINES:])),
            header=None,
            usecols=[0, 1, 2, 3, *fields, _RAIN_HOURS],
        ).apply(pd.to_numeric)
    except (ValueError, pd.errors.ParserError, pd.errors.EmptyDataError) as fault:
        raise HoursError(
            f"{place}: the rows after line {_HEADER_LINES} are not EPW data ({fault}); "
            "use an unchanged file"
        ) from None
    warnings = ["EPW rain differs from build to build of one year; do not rest a rain risk on it"]
    labels = _labels(rows, zone_hours, place, warnings)
    readings = pd.DataFrame(
        {name: _values(rows, *spec) for name, spec in _READINGS.items()}
    ).set_axis(labels)
    sums = pd.DataFrame(
        {name: _values(rows, *spec) for name, spec in _HOUR_BEFORE.items()}
    ).set_axis(labels - pd.Timedelta(hours=1))
    # A depth gathered over several hours does not tell in which of them it fell.
    gathered = (rows[_RAIN_HOURS].to_numpy() > 1) & (sums["rain_mm"].to_numpy() > 0)
    sums.loc[gathered, "rain_mm"] = np.nan
    if not (sums["rain_mm"] > 0).any():
        sums["rain_mm"] = np.nan
        warnings.append("rain is zero in every row, so it was not measured: unknown")
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
    years = rows[0].to_numpy()
    if (years != years[0]).any():
        warnings.append(f"months come from several years; all are dated {_TYPICAL_YEAR}")
        years = np.full_like(years, _TYPICAL_YEAR)
    days = pd.to_datetime(
        pd.DataFrame({"year": years, "month": rows[1], "day": rows[2]}), errors="coerce"
    )
    if days.isna().any():
        row = int(np.argmax(days.isna().to_numpy()))
        raise HoursError(f"{place}: line {row + _HEADER_LINES + 1}: no such date; mend it")
    ends = pd.DatetimeIndex(days) + pd.to_timedelta(rows[3].to_numpy(), unit="h")
    return (ends - pd.Timedelta(hours=zone_hours)).tz_localize("UTC")


def _values(rows: pd.DataFrame, at: int, missing: float, scale: float) -> np.ndarray:
    values = rows[at].to_numpy(dtype=np.float64)
    return np.where(values >= missing, np.nan, values * scale)
