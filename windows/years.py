"""The years of a site: files joined, or a history that a service has, screened, with its gaps."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from windows.errors import HoursError, did_you_mean
from windows.history import HISTORIES, fetch_history, join, require_record
from windows.hours import COLUMNS
from windows.quality import screen
from windows.sources import read_weather
from windows.weather import told
from windows.weather_choice import YearsChoice

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    from windows.history import History, Year
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["HISTORY", "fetched_years", "years_of", "years_that_were"]

HISTORY = "history"
"""What stands in place of a file to have the years fetched."""
_MUCH = 0.9
"""Less of a column known than this is worth a note (own choice)."""
_NEEDED = frozenset(
    {"air_temp_c", "dew_point_c", "rel_humidity", "wind_m_s", "rain_mm", "cloud", "ghi_w_m2"}
)


def years_of(
    site: Site,
    choice: YearsChoice,
    beside: Path,
    report: Callable[[Year], None] = lambda year: None,
) -> HourlyTable:
    """Return the years that were chosen, screened, with what a reader should know of them.

    Parameters
    ----------
    site, choice
        Where the roof is, and what was asked for.
    beside
        File that is read where nothing is named.
    report
        Called after each year that is fetched.

    Raises
    ------
    HoursError, SourceError, SettingsError
        If nothing is named and no file is there, a file cannot be read, holds a typical year or a
        forecast, or the years cannot be had.
    """
    files = choice.files or (beside,)
    if HISTORY in map(str, files):
        if len(files) > 1:
            raise HoursError("--years history fetches all years; name it alone, or files")
        today = datetime.now(UTC).date()
        hours = fetched_years(site, choice, today.year - 1, today, report=report).hours
    else:
        if replace(choice, files=(), assume_cloud=None) != YearsChoice():
            raise HoursError(
                "--source, --station, --year-count, --offline and --cache-dir say how years are "
                "fetched; give them with --years history, or leave them out"
            )
        if not choice.files and not beside.is_file():
            raise HoursError(
                f"{beside}: there is no such file, and --years is not given; name a file of many "
                "years, or fetch them: --years history"
            )
        tables = [read_weather(file) for file in files]
        hours = join(tables) if len(tables) > 1 else tables[0]
    return years_that_were(hours, site, choice.assume_cloud)


def years_that_were(
    hours: HourlyTable, site: Site, assume_cloud: float | None = None
) -> HourlyTable:
    """Return hours of many years, screened, with what a reader should know of them.

    ``assume_cloud`` is the sky cover where none is known. [fraction]

    Raises
    ------
    HoursError
        If they say nothing of a season: a forecast, or a typical year.
    """
    require_record(hours)
    if assume_cloud is not None:
        hours = _with_cloud(hours, assume_cloud)
    return told(screen(_with_gaps_told(hours)), site)


def _with_gaps_told(hours: HourlyTable) -> HourlyTable:
    """Return the hours with a note on each column of which much is missing.

    Raises
    ------
    HoursError
        If a column that every answer needs is missing throughout.
    """
    notes = []
    for name in (str(name) for name in hours.frame):
        known = float(hours.frame[name].notna().mean())
        if known == 0 and COLUMNS[name].required:
            raise HoursError(
                f"{hours.provenance.place}: column '{name}' has no value at all, and no hour is "
                "valid without; give a record that has it"
            )
        if known < _MUCH and name in _NEEDED:
            notes.append(f"{name} is known in {known:.0%} of the hours")
    return replace(hours, warnings=(*hours.warnings, *notes))


def fetched_years(
    site: Site,
    choice: YearsChoice,
    last_year: int,
    today: date,
    *,
    allow_partial: bool = False,
    refresh: bool = False,
    report: Callable[[Year], None] = lambda year: None,
) -> History:
    """Return whole years from a service, up to and with ``last_year``.

    Raises
    ------
    HoursError, SourceError, SettingsError
        If the source or the year is none, or a year cannot be had.
    """
    from windows.settings import load_settings  # the network is not needed for files
    from windows.web import Web

    if not 1930 <= last_year < today.year:
        raise HoursError(
            f"--last-year {last_year} is no past year; give one from 1930 to {today.year - 1}"
        )
    if choice.source not in HISTORIES:
        raise HoursError(
            f"no history source '{choice.source}'; {did_you_mean(choice.source, HISTORIES)}"
        )
    web = Web(load_settings(choice.cache_dir), offline=choice.offline, refresh=refresh)
    try:
        return fetch_history(
            web, site, choice.source, range(last_year - choice.count + 1, last_year + 1), today,
            station=choice.station, allow_partial=allow_partial, told=report,
        )  # fmt: skip
    finally:
        web.close()


def _with_cloud(hours: HourlyTable, cover: float) -> HourlyTable:
    """Return the hours with one stated sky cover where none is known, and say how many."""
    known = hours.column("cloud")
    if known is None:
        return hours.assume("cloud", cover)
    if not 0 <= cover <= 1:
        raise HoursError(f"an assumed cloud of {cover:g} is not possible; give 0 to 1 (fraction)")
    missing = np.isnan(known)
    note = f"cloud is assumed to be {cover:g} in the {missing.mean():.0%} of hours that lack it"
    return replace(
        hours,
        frame=hours.frame.assign(cloud=np.where(missing, cover, known)),
        warnings=(*hours.warnings, note),
    )
