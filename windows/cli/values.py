"""What the text of an option turns into: moments, days, quantities."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from windows.errors import DewgapError, HoursError

if TYPE_CHECKING:
    import pandas as pd

    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["day", "day_bounds", "days", "dry_film_um", "moment", "present", "quantity"]

_THICKEST_UM = 6 * 25_400.0  # foam is the thickest layer there is: own choice


def dry_film_um(text: str | None) -> float | None:
    """Return the dry film of the option. [um]

    Raises
    ------
    DewgapError
        If it is no film, or thicker than any layer.
    """
    if text is None:
        return None
    film = quantity("--dry-film", text, "film")
    if film > _THICKEST_UM:
        raise DewgapError(
            f"--dry-film: {text} is more than 6 in, which no layer is; give it in mil or um"
        )
    return film


def moment(option: str, text: str, site: Site) -> pd.Timestamp:
    """Return the moment that an option names, by the site's clock unless it has an offset. UTC.

    Raises
    ------
    DewgapError
        If it is no time, or one that the clock has not or has twice.
    """
    from windows.fields import local_moment

    try:
        return local_moment(text, site.zone)
    except ValueError as fault:
        raise DewgapError(f"{option}: {fault}") from None


def present(now: str | None, site: Site) -> pd.Timestamp:
    """Return the present, or the moment that stands for it. UTC.

    Raises
    ------
    DewgapError
        If ``now`` is no time.
    """
    import pandas as pd

    return pd.Timestamp.now("UTC") if now is None else moment("--now", now, site)


def quantity(option: str, text: str, dimension: str) -> float:
    """Return a number with a unit as an option gives it. [SI]

    Raises
    ------
    DewgapError
        If it is not a number, a space and a unit of the dimension.
    """
    from cure_models.units import UnitError, parse_quantity

    try:
        return parse_quantity(text, dimension)
    except UnitError as fault:
        raise DewgapError(f"{option}: {fault}") from None


def days(table: HourlyTable, site: Site, first_day: str | None, last_day: str | None) -> slice:
    """Return the rows of the local days from ``first_day`` to ``last_day``.

    Raises
    ------
    HoursError
        If one is no day, they are the wrong way round, or the table has none of their hours.
    """
    return table.span(*day_bounds(first_day, last_day, site))


def day_bounds(
    first_day: str | None, last_day: str | None, site: Site
) -> tuple[pd.Timestamp | None, pd.Timestamp | None]:
    """Return when the local days from ``first_day`` to ``last_day`` begin and end. UTC.

    Raises
    ------
    HoursError
        If one is no day, or they are the wrong way round.
    """
    start, end = _midnight(first_day, site, "--from", 0), _midnight(last_day, site, "--to", 1)
    if start is not None and end is not None and start >= end:
        raise HoursError(f"--from {first_day} is after --to {last_day}; exchange them")
    return start, end


def day(option: str, text: str) -> date:
    """Return the day that an option names.

    Raises
    ------
    HoursError
        If it is no date, or not of a year that weather has.
    """
    from windows.fields import YEARS

    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise HoursError(f"{option} '{text}' is not a date; write it as 2026-05-01") from None
    if found.year not in YEARS:
        raise HoursError(f"{option} {text} is not a year of the weather; write it as 2026-05-01")
    return found


def _midnight(text: str | None, site: Site, option: str, days_later: int) -> pd.Timestamp | None:
    if text is None:
        return None
    import pandas as pd

    local = pd.Timestamp(day(option, text) + timedelta(days=days_later)).tz_localize(
        site.zone, nonexistent="shift_forward", ambiguous=True
    )
    return local.tz_convert("UTC")
