"""A job replayed over many years, one row a start week."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.frames.checks import day_of, require_limits, require_number
from windows.frames.given import beside, given_job
from windows.frames.season import years_given
from windows.frames.shape import sheet_frame, with_told
from windows.notes import site_notes
from windows.reports.bid_sheets import Asked, bid_notes, start_lines, starts_sheet
from windows.seasons.bid import bid_of
from windows.work_rate import at_one_rate, parts_to_lay

if TYPE_CHECKING:
    from datetime import date, datetime
    from pathlib import Path

    import pandas as pd

    from cure_models.coating import Limits
    from windows.hours import HourlyTable

__all__ = ["replay_bid"]


def replay_bid(
    folder: Path | str,
    *,
    by: date | str | None = None,
    area_m2: float | None = None,
    crew_rate_m2_h: float | None = None,
    now: datetime | str | None = None,
    years: HourlyTable | Path | str | None = None,
    system: Path | str | None = None,
    job: Path | str | None = None,
    limits: Limits = "generic",
) -> pd.DataFrame:
    """Return when a job finishes by its start week, from many years, as ``dewgap bid --csv`` does.

    The manufacturer's data sheet, local code and the competent person on site govern; the past is
    no forecast.

    Parameters
    ----------
    folder, now, system, job
        See `check_bare_layers`. The start weeks are those of the year from ``now`` on.
    by
        Date to finish by; of a time its date.
    area_m2
        Whole area, in equal parts; default the sections of the job file, else the roof. [m2]
    crew_rate_m2_h
        Area that the crew lays in an hour, any layer; default the rates of the job file. [m2/h]
    years
        See `count_workable_days`; default ``years.csv.gz`` in the folder.
    limits
        See `find_windows`.

    Returns
    -------
    DataFrame
        The columns of the CSV, dates and calendar days: ``start week of`` (a Monday), ``ISO week``,
        ``years``, ``starts``; ``finish P50``, ``P80``, ``P90``: the date by which that share of the
        starts is finished; ``calendar days P50``, ``P80``, ``P90``, with ``P80 low`` to ``P90
        high``, 5th to 95th percentile of years drawn anew; with ``by`` the ``chance to finish by
        <date> [%]``; ``finished before midwinter [%]``, ``a coat left over winter, no look-ahead
        [%]``, ``a coat stranded, no look-ahead [%]``; ``crew-days``, and what division by the
        workable share would promise; ``starts still open`` at the end of the record. NaT and NaN
        where there are too few years, or too many starts are open; infinite where there is no end.

        ``attrs`` has ``governs``, ``weather`` and ``notes``: best and last safe start, method.

    Raises
    ------
    DewgapError
        If a file is missing or has a fault, ``by`` is past or no date, an area or rate is not above
        zero, or no month of the years has enough known hours.

    Examples
    --------
    >>> from datetime import date
    >>> import pandas as pd
    >>> from windows import hours_from, replay_bid
    >>> from windows.demo import demo_folder
    >>> folder = demo_folder() / "cool_north"
    >>> path = folder / "years.csv.gz"
    >>> record = pd.read_csv(path, comment="#", index_col=0, parse_dates=True, nrows=26304)
    >>> bid = replay_bid(
    ...     folder, by=date(2027, 9, 15), now="2027-01-04T08:00", years=hours_from(record)
    ... )
    >>> june = bid[bid["start week of"] == "2027-06-07"]
    >>> june[["calendar days P50", "chance to finish by 2027-09-15 [%]"]].values.tolist()
    [[16, 100.0]]
    """
    require_limits(limits)
    require_number("area_m2", area_m2, or_none=True)
    require_number("crew_rate_m2_h", crew_rate_m2_h, or_none=True)
    day = None if by is None else day_of("by", by)
    given = given_job(folder, now, job, system, losses=True)
    file = given.file
    if crew_rate_m2_h is not None:
        file = at_one_rate(file, given.system, crew_rate_m2_h)
    asked = Asked(given.now.tz_convert(given.site.zone).date(), day)
    asked.require_to_come()
    if years is None:
        years = beside(given.path, "years.csv.gz", "years=...")
    hours = years_given(years, given.site)
    parts = parts_to_lay(given.system, given.site, file, area_m2)
    found = bid_of(given.site, given.system, hours, file, parts, limits=limits)
    days = ["start week of", "finish P50", "finish P80", "finish P90"]
    return with_told(
        sheet_frame(starts_sheet(found, asked), days=days),
        weather=hours.provenance.describe(),
        notes=[
            *site_notes(given.site, hours), *found.notes, *start_lines(found, asked), *bid_notes()
        ],
    )  # fmt: skip
