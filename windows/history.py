"""Long histories: many years of hours, fetched year by year, with what of them is known.

Every answer is kept in the cache as soon as it is there, so an interrupted fetch goes on where it
stopped. A year that a source does not have is told apart from one that could not be fetched.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from http import HTTPStatus
from typing import TYPE_CHECKING, Literal, cast

import numpy as np
import pandas as pd

from windows.errors import HoursError, SourceError
from windows.hours import HourlyTable, check_hours
from windows.sources import meteostat, open_meteo_archive, table_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from windows.answer import Answer
    from windows.provenance import Location
    from windows.site import Site
    from windows.sources import Source
    from windows.web import Web

__all__ = [
    "HISTORIES", "Coverage", "History", "Year", "coverage", "fetch_history", "join",
    "require_record",
]  # fmt: skip

HISTORIES = (meteostat.NAME, open_meteo_archive.NAME)
_ENOUGH = 0.9
"""Share of a month's hours that must be known for the month to count (definitions, seasons)."""
_COUNTED = ("rain_mm", "air_temp_c", "wind_m_s")


@dataclass(frozen=True)
class Year:
    """What became of one year: its answer, or why there is none."""

    year: int
    outcome: Literal["fetched", "from the cache", "not there", "failed"]
    reason: str = ""


@dataclass(frozen=True)
class History:
    """Hours of many years, and what became of each."""

    hours: HourlyTable
    years: tuple[Year, ...]


def fetch_history(
    web: Web,
    site: Site,
    source: str,
    years: Sequence[int],
    today: date,
    *,
    station: str | None = None,
    allow_partial: bool = False,
    told: Callable[[Year], None] = lambda year: None,
) -> History:
    """Return the hours of years from a source.

    Parameters
    ----------
    web, site
        The session, and where.
    source
        One of `HISTORIES`.
    years, today
        Which years; the present one ends where the source does.
    station
        Identifier of a station, default the nearest one that has what is needed.
    allow_partial
        Go on without a year that could not be fetched.
    told
        Called after each year, for a progress bar.

    Raises
    ------
    SourceError
        If a year could not be fetched and ``allow_partial`` is false, or there is none at all.
    """
    where: Location | None = None
    if source == meteostat.NAME and station is None:
        station, where = meteostat.nearest_station(web, site, min(years))
    if source != meteostat.NAME and station is not None:
        raise SourceError(f"{source} has no stations; drop --station, or use --source meteostat")
    found: list[Year] = []
    answers: list[Answer] = []
    for number in years:
        year, answer = _year(web, site, source, station, number, today)
        told(year)
        if year.outcome == "failed" and not allow_partial:
            raise SourceError(
                f"{year.reason}; {len(answers)} years are kept: ask again to go on, or take what "
                "is there with dewgap weather history --allow-partial"
            )
        found.append(year)
        if answer is not None:
            answers.append(answer)
    if not answers:
        raise SourceError(
            f"{source}: it has none of the years {min(years)} to {max(years)}; ask for other "
            "years, or another source or station"
        )
    if source == meteostat.NAME:
        hours = meteostat.years_together(answers, f"station {station}")
    else:
        archive, place = cast("Source", open_meteo_archive), answers[0].place
        hours = join([_own_year(table_of(archive, answer, place)) for answer in answers])
    notes = [f"{year.year} {year.outcome}: {year.reason}" for year in found if year.reason]
    stale = [answer for answer in answers if answer.stale]
    provenance = replace(
        hours.provenance,
        retrieved=min(answer.retrieved for answer in answers),
        stale=bool(stale),
        location=where or hours.provenance.location,
        read_as=source,
        notes=(*hours.provenance.notes, *notes, *(n for each in stale for n in each.notes)),
    )
    return History(replace(hours, provenance=provenance), tuple(found))


def _own_year(hours: HourlyTable) -> HourlyTable:
    """Return the hours of the year in which a table begins."""
    own = hours.index.year == hours.index.year[0]
    return replace(
        hours, frame=hours.frame[own], flags={n: each[own] for n, each in hours.flags.items()}
    )


def _year(
    web: Web, site: Site, source: str, station: str | None, year: int, today: date
) -> tuple[Year, Answer | None]:
    try:
        if source == meteostat.NAME:
            answer = meteostat.fetch_year(web, str(station), year, today)
        else:
            answer = open_meteo_archive.fetch_year(web, site, year, today)
    except SourceError as fault:
        missing = fault.status == HTTPStatus.NOT_FOUND
        return Year(year, "not there" if missing else "failed", str(fault)), None
    return Year(year, "from the cache" if answer.from_cache else "fetched"), answer


def join(tables: Sequence[HourlyTable]) -> HourlyTable:
    """Return one table of several that follow each other; hours told twice must agree.

    Raises
    ------
    HoursError
        If one holds a typical year or a forecast, two disagree, or they lie more than ten years
        apart.
    """
    for table in tables:
        require_record(table)
    kinds = {table.provenance.kind for table in tables}
    if len(kinds) > 1:
        raise HoursError(
            f"files of different kinds ({', '.join(sorted(kinds))}) do not make one history; join "
            "those of one kind"
        )
    names = {str(name) for table in tables for name in table.frame}
    frames = pd.concat([_with_lengths(table.frame, names) for table in tables])
    flags = pd.concat(
        [pd.DataFrame(dict(table.flags), index=table.index) for table in tables]
    ).fillna(0)
    # A row of which nothing is known is an edge of its file, and no second opinion.
    known = frames.notna().any(axis=1)
    frames, flags = frames[known], flags[known.to_numpy()]
    first = tables[0].provenance
    return check_hours(
        {str(name): frames[name].to_numpy(np.float64) for name in frames},
        pd.DatetimeIndex(frames.index),
        replace(first, notes=tuple(dict.fromkeys(n for t in tables for n in t.provenance.notes))),
        recorded=True,
        flags={str(name): flags[name].to_numpy(np.int64) for name in flags},
    )


def _with_lengths(frame: pd.DataFrame, names: set[str]) -> pd.DataFrame:
    """Return a table whose rain is that of its hours, where others have blocks or traces."""
    alone = frame["rain_mm"].notna().map({True: 1.0, False: np.nan})
    for name, value in (("rain_block_h", alone), ("rain_trace", alone * 0)):
        if name in names and name not in frame:
            frame = frame.assign(**{name: value})
    return frame


def require_record(hours: HourlyTable) -> None:
    """Refuse hours that never were, where years are counted.

    Raises
    ------
    HoursError
        If the table is a forecast or a typical year.
    """
    place = hours.provenance.place
    if hours.provenance.kind == "typical":
        raise HoursError(
            f"{place}: is a typical year, whose months were picked for sun and temperature and "
            "whose rain is no record: no odds can rest on it; fetch real years with dewgap weather "
            "history"
        )
    if hours.provenance.is_forecast:
        raise HoursError(
            f"{place}: is a forecast, and says nothing of a season; give hours that were, of many "
            "years"
        )


@dataclass(frozen=True)
class Coverage:
    """How much of one month is known, over all years; shares of hours, from 0 to 1."""

    month: int
    years: int
    known: dict[str, float]
    short: tuple[int, ...]


def coverage(hours: HourlyTable) -> list[Coverage]:
    """Return how much of each month of the year is known.

    ``years`` counts those of which 90 % of the hours have rain, temperature and wind; ``short``
    names the others. A month that the table holds only in part counts its missing days too.
    """
    index = hours.index
    months = [pd.Index(index.year, name="year"), pd.Index(index.month, name="month")]
    known = hours.frame[list(_COUNTED)].notna().groupby(months).sum()
    days = pd.DatetimeIndex([date(year, month, 1) for year, month in known.index]).days_in_month
    share = known.div(days.to_numpy() * 24.0, axis=0)
    enough = (share >= _ENOUGH).all(axis=1)
    found = []
    for month, shares in share.groupby(level="month"):
        good = enough.xs(month, level="month")
        found.append(
            Coverage(
                int(month),  # type: ignore[call-overload]
                int(good.sum()),
                {str(name): float(value) for name, value in shares.mean().items()},
                tuple(int(year) for year in good.index[~good]),
            )
        )
    return found
