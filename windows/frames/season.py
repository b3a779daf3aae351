"""The workable days of many years, one row a month."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from windows.frames.checks import require_hours, require_limits, require_number, require_site
from windows.frames.given import profile_of
from windows.frames.shape import sheet_frame, with_told
from windows.notes import site_notes
from windows.reports.season_sheets import left_out_line, months_sheet, season_notes, weeks_sheet
from windows.seasons.season import season_of
from windows.weather_choice import YearsChoice
from windows.years import years_of, years_that_were

if TYPE_CHECKING:
    import pandas as pd

    from cure_models.coating import Limits
    from cure_models.profile import Profile
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["count_workable_days", "years_given"]


def count_workable_days(
    site: Site,
    coating: Profile | Path | str,
    years: HourlyTable | Path | str,
    *,
    weeks: bool = False,
    dry_film_um: float | None = None,
    limits: Limits = "generic",
) -> pd.DataFrame:
    """Return the workable days of each month over many years, as ``dewgap season --csv`` does.

    The manufacturer's data sheet, local code and the competent person on site govern; the past is
    no forecast.

    Parameters
    ----------
    site, coating
        See `find_windows`.
    years
        Hours of many years that were: from `read_weather` or `hours_from`, or a file of them.
    weeks
        One row an ISO week, in place of a month.
    dry_film_um
        Dry film of the coat, default the profile's. [um]
    limits
        End of every range across products that counts: ``"careful"``, ``"generic"``, ``"lenient"``.

    Returns
    -------
    DataFrame
        The columns of the CSV, days and hours a month: ``month`` (its English abbreviation, from
        the beginning of the season year on), ``work days``, ``workable days`` and ``valid hours``,
        each ``mean``, ``P20``, ``P50``, ``P80``; ``years`` that count, ``left out`` for want of
        known hours, ``crew hours known [%]``; ``costs most``: the gate that blocks most crew hours,
        ``crew hours lost to it [%]``, ``to it alone [%]``. P80: the value that 8 years in 10 do not
        exceed; NaN where there are too few years. Weeks have ``ISO week``, and no costs.

        ``attrs`` has ``governs``, ``weather`` and ``notes``: how it was counted.

    Raises
    ------
    DewgapError
        If the years cannot be read or are a forecast, or no month has enough known hours.

    Examples
    --------
    Three years of the demo's, which is too few for a P80:

    >>> import pandas as pd
    >>> from windows import count_workable_days, hours_from, load_site
    >>> from windows.demo import demo_folder
    >>> folder = demo_folder() / "cool_north"
    >>> path = folder / "years.csv.gz"
    >>> record = pd.read_csv(path, comment="#", index_col=0, parse_dates=True, nrows=26304)
    >>> season = count_workable_days(load_site(folder), "acrylic", hours_from(record))
    >>> july = season[season["month"] == "Jul"]
    >>> july[["workable days P50", "workable days P80", "years"]].values.tolist()
    [[16.0, nan, 3]]
    """
    require_site(site)
    require_limits(limits)
    require_number("dry_film_um", dry_film_um, or_none=True)
    hours = years_given(years, site)
    found = season_of(site, profile_of(coating), hours, dry_film_um=dry_film_um, limits=limits)
    sheet = weeks_sheet(found) if weeks else months_sheet(found)
    return with_told(
        sheet_frame(sheet, texts=["month", "costs most"]),
        weather=hours.provenance.describe(),
        notes=[*site_notes(site, hours), left_out_line(found), *season_notes(found)],
    )


def years_given(years: HourlyTable | Path | str, site: Site) -> HourlyTable:
    """Return hours of many years, screened, of a file or as they are given.

    Raises
    ------
    HoursError
        If they cannot be read, or say nothing of a season: a forecast, or a typical year.
    """
    if isinstance(years, str | os.PathLike):
        path = Path(years)
        return years_of(site, YearsChoice(files=(path,)), path)
    require_hours("years", years)
    return years_that_were(years, site)
