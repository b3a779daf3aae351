"""Real hourly weather of the three New York airports in 2013, for tests.

tests/data/README.md says where the file comes from and what is odd about it. The rows are in the
project's units and on every UTC hour of the span; an hour that the file does not have is NaN
throughout. There is no cloud cover in the source, and none is made up here. The file is read once
a process: what `raw` and `hours` return is not to be changed.
"""

import csv
import gzip
import math
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

FILE = Path(__file__).parent / "data" / "nyc_weather_2013.csv.gz"
# origin: latitude, longitude, elevation in metres
AIRPORTS = {
    "EWR": (40.6925, -74.1687, 18 * 0.3048),
    "JFK": (40.6398, -73.7789, 13 * 0.3048),
    "LGA": (40.7772, -73.8726, 22 * 0.3048),
}
QUANTITIES = (
    "air_temp_c",
    "dew_point_c",
    "rel_humidity",
    "wind_m_s",
    "rain_mm",
    "pressure_hpa",
)
HIGHEST_WIND_MPH = 200.0  # one cell says 1048 mph; the next highest is below 60


@cache
def raw(origin):
    """The rows of one airport as they stand in the file: text, in the file's units."""
    if origin not in AIRPORTS:
        raise ValueError(f"no such airport: {origin}")
    with gzip.open(FILE, "rt", encoding="ascii", newline="") as lines:
        return [row for row in csv.DictReader(lines) if row["origin"] == origin]


@cache
def hours(origin):
    """One dict per UTC hour of the span: "time_utc" and QUANTITIES; NaN is missing."""
    known = {}
    for row in raw(origin):
        time = datetime.fromisoformat(row["time_hour"])
        if time in known:
            raise ValueError(f"{origin} has two rows for {time}")
        wind = _number(row["wind_speed"])
        known[time] = {
            "time_utc": time,
            "air_temp_c": (_number(row["temp"]) - 32.0) / 1.8,
            "dew_point_c": (_number(row["dewp"]) - 32.0) / 1.8,
            "rel_humidity": _number(row["humid"]) / 100.0,
            "wind_m_s": math.nan if wind > HIGHEST_WIND_MPH else wind * 0.44704,
            "rain_mm": _number(row["precip"]) * 25.4,
            "pressure_hpa": _number(row["pressure"]),
        }
    result, time, last = [], min(known), max(known)
    while time <= last:
        absent = {"time_utc": time, **dict.fromkeys(QUANTITIES, math.nan)}
        result.append(known.get(time, absent))
        time += timedelta(hours=1)
    return result


def table(origin):
    """The same as a pandas DataFrame with a UTC index named time_utc."""
    import pandas as pd

    frame = pd.DataFrame(hours(origin)).set_index("time_utc")
    return frame.asfreq("h")


def _number(text):
    return math.nan if text in ("", "NA") else float(text)
