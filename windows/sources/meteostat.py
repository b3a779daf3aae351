"""Meteostat: hourly observations of the nearest station, year by year.

The yearly files are fetched here, with time limits, retries and checks, and read by the meteostat
library through its local endpoint: by itself the library would take a missing year, an outage and a
broken file for an empty one. Hours that a weather model put into gaps are left out.

Labels: readings at the label; rain is that of the hour that ENDS there (so the library treats the
one source whose label is documented; inferred for the others).
"""

from __future__ import annotations

import atexit
import gzip
import logging
import re
import shutil
import tempfile
import zlib
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from windows.answer import Answer, Kept
from windows.errors import HoursError, SourceError
from windows.hours import HourlyTable, check_hours
from windows.provenance import Location, Provenance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.site import Site
    from windows.web import Web

NAME = "meteostat"
HELP = "Meteostat: observations of the nearest station, world, free (CC BY 4.0)"
KIND = "history"

__all__ = [
    "HELP", "KIND", "NAME", "fetch_year", "nearest_station", "parse", "recognises",
    "years_together",
]  # fmt: skip

_TITLE = "Meteostat"
_NO_HOUR = re.compile(rb"^\d+,\d+,\d+,(?!([01]?\d|2[0-3]),)", re.MULTILINE)
"""A row whose hour is not 0 to 23, which the library would move to another day."""
_RADIUS_M = 50_000
_CANDIDATES = 10
_CLOSED = Kept(timedelta(days=30), timedelta(days=3650))
_OPEN = Kept(timedelta(days=1), timedelta(days=30))
_LIST = Kept(timedelta(days=7), timedelta(days=365))
# column: (parameter, scale)
_READINGS = {
    "air_temp_c": ("temp", 1.0),
    "rel_humidity": ("rhum", 0.01),
    "wind_m_s": ("wspd", 1 / 3.6),
    "gust_m_s": ("wpgt", 1 / 3.6),
    "cloud": ("cldc", 1 / 8),
}
_RAIN = "prcp"
_NEEDED = ("temp", "rhum", "wspd", _RAIN)
_MODELS = ("dwd_mosmix", "metno_forecast")
"""Providers whose hours come from a model. [identifiers of the library]"""
_HEADER = b"year,month,day,hour,"


def recognises(head: str) -> bool:
    """Tell whether the header is that of a yearly file."""
    return head.startswith(_HEADER.decode()) and "temp_source" in head.splitlines()[0]


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a yearly file, gzipped or not. Raises HoursError as `years_together`."""
    return _table([_observed(content, place)], place)


@dataclass(frozen=True)
class _Year(HourlyTable):
    """The table of a yearly file, with what was observed by its labels."""

    observed: pd.DataFrame = field(kw_only=True)


def _year(content: bytes, place: str) -> _Year:
    observed = _observed(content, place)
    table = _table([observed], place)
    return _Year(**vars(table), observed=observed)


def years_together(answers: Sequence[Answer], place: str) -> HourlyTable:
    """Return the table of yearly files of one station, whose years need not touch.

    Raises
    ------
    HoursError
        If one is not whole, the library reads nothing from one, or the checks of
        `windows.hours.check_hours` fail.
    """
    return _table(
        [
            answer.checked.observed
            if isinstance(answer.checked, _Year)
            else _observed(answer.content, place)
            for answer in answers
        ],
        place,
    )


def _table(years: Sequence[pd.DataFrame], place: str) -> HourlyTable:
    """Return the table of what was observed."""
    observed = pd.concat(years)
    labels = pd.DatetimeIndex(observed.index).tz_localize("UTC")
    rows = pd.date_range(labels.min(), labels.max(), freq="h")
    values = observed.set_axis(labels).sort_index().reindex(rows)
    columns = {
        name: values[parameter].to_numpy(dtype=np.float64) * scale
        for name, (parameter, scale) in _READINGS.items()
        if values[parameter].notna().any() or parameter in _NEEDED
    }
    columns["rain_mm"] = values[_RAIN].shift(-1).to_numpy(dtype=np.float64)
    return check_hours(
        columns,
        rows,
        Provenance(
            _TITLE,
            place,
            kind="observed",
            attribution="Data: Meteostat and its sources (CC BY 4.0)",
        ),
        recorded=True,
    )


def _whole(content: bytes, place: str) -> tuple[bytes, int]:
    """Return the gzipped file and its year, having read it to its end."""
    try:
        plain = gzip.decompress(content) if content[:2] == b"\x1f\x8b" else content
    except (OSError, EOFError, zlib.error):
        raise HoursError(f"{place}: the compressed file ends too early; fetch it again") from None
    if not plain.startswith(_HEADER):
        raise HoursError(f"{place}: not a yearly file of hours; fetch it again")
    first = plain.partition(b"\n")[2][:4]
    if not first.isdigit():
        raise HoursError(f"{place}: there are no hours in it")
    if _NO_HOUR.search(plain):
        raise HoursError(f"{place}: a row has no hour of a day; fetch it again")
    return gzip.compress(plain, compresslevel=1), int(first)


@cache
def _folder() -> Path:
    """Return the folder that the library reads from, the same for the whole run.

    The library keeps its endpoint from the first time it is used.
    """
    folder = Path(tempfile.mkdtemp(prefix="dewgap-meteostat-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _library() -> Any:
    """Return the meteostat library, told to read from the folder and nowhere else."""
    import meteostat

    logging.getLogger("meteostat").setLevel(logging.CRITICAL + 1)
    meteostat.config.hourly_endpoint = str(_folder() / "{year}" / "{station}.csv.gz")
    meteostat.config.cache_enable = False
    meteostat.config.include_model_data = False
    meteostat.config.stations_db_endpoints = []
    meteostat.config.stations_db_file = str(_folder() / "stations.db")
    return meteostat


def _observed(content: bytes, place: str) -> pd.DataFrame:
    """Return the hours of a yearly file as the library reads them."""
    packed, year = _whole(content, place)
    library = _library()
    path = _folder() / str(year) / "FILE.csv.gz"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(packed)
    parameters = [*_NEEDED, "wpgt", "cldc"]
    try:
        series = library.hourly(
            library.Station(id="FILE", latitude=0.0, longitude=0.0, elevation=0),
            pd.Timestamp(year, 1, 1).to_pydatetime(),
            pd.Timestamp(year, 12, 31, 23).to_pydatetime(),
            parameters=[library.Parameter(name) for name in parameters],
        )
        found = series.fetch()
    except Exception:  # the library raises whatever a cell brings up
        found = None
    finally:
        path.unlink()
    if found is None or found.empty:
        raise HoursError(f"{place}: no observed hour can be read from it; fetch it again")
    found.columns = [str(name) for name in found.columns]
    try:
        hours: pd.DataFrame = found.reindex(columns=parameters).astype("float64")
    except (TypeError, ValueError):
        raise HoursError(f"{place}: a value is no number; fetch it again") from None
    return hours


def nearest_station(web: Web, site: Site, first_year: int) -> tuple[str, Location]:
    """Return the nearest station that has the needed measurements since a year.

    Raises
    ------
    SourceError
        If there is none within 50 km, or the list of stations cannot be had.
    """
    answer = web.get(
        _TITLE, f"{web.settings.meteostat_url}/stations.db", kept=_LIST, check=_is_database
    )
    library = _library()
    (_folder() / "stations.db").write_bytes(answer.content)
    try:
        near = library.stations.nearby(
            library.Point(site.latitude, site.longitude, round(site.elevation)),
            radius=_RADIUS_M, limit=_CANDIDATES,
        )  # fmt: skip
        for identifier, station in near.iterrows():
            if _has_all(library, str(identifier), first_year):
                return str(identifier), Location(
                    str(station["name"]), float(station["latitude"]),
                    float(station["longitude"]), float(station["elevation"]),
                )  # fmt: skip
    except Exception as fault:
        raise SourceError(
            f"{_TITLE}: the list of stations cannot be read ({type(fault).__name__}); give "
            "--station with an identifier"
        ) from None
    raise SourceError(
        f"{_TITLE}: no station within {_RADIUS_M // 1000} km has temperature, humidity, wind and "
        f"rain by the hour since {first_year}; ask for fewer years, give --station, or use "
        "--source open_meteo_archive"
    )


def _is_database(content: bytes) -> None:
    if not content.startswith(b"SQLite format 3\0"):
        raise HoursError("the list of stations is not a database")


def _has_all(library: Any, station: str, first_year: int) -> bool:
    """Tell whether a station's inventory has every needed parameter since a year."""
    inventory = library.stations.inventory(station).df
    if inventory is None or inventory.empty:
        return False
    rows = inventory.reset_index()
    rows = rows[~rows["provider"].isin(_MODELS)]
    since = pd.to_datetime(rows.groupby("parameter")["start"].min())
    return all(
        parameter in since.index and since[parameter].year <= first_year for parameter in _NEEDED
    )


def fetch_year(web: Web, station: str, year: int, today: date) -> Answer:
    """Return a year's file of a station. Raises as `Web.get`; status 404: no such year."""
    return web.get(
        _TITLE, f"{web.settings.meteostat_url}/hourly/{year}/{station}.csv.gz",
        kept=_CLOSED if year < today.year - 1 else _OPEN,
        check=lambda body: _year(body, f"the year {year}"),
    )  # fmt: skip
