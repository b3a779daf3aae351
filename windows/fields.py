"""Fields of the files that people write: quantities with units, times of day, dates, moments."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Annotated, Literal

import pandas as pd
from pydantic import BeforeValidator

from cure_models.units import UNITS, from_si, parse_quantity

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

__all__ = [
    "WEEKDAYS", "YEARS", "ClockTime", "Day", "Moment", "Weekday", "local_moment", "quantity",
]  # fmt: skip

Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
WEEKDAYS: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

YEARS = range(1900, 2201)
"""Years that a roof or its weather can have; another one is mistyped."""


def quantity(
    dimension: str, low: float | None = None, high: float | None = None, *, above: bool = False
) -> BeforeValidator:
    """Read "12 ft" into SI, from ``low`` (or above it) to ``high``.

    Numbers without a unit are refused, since nobody knows theirs.
    """
    units = [name for name, unit in UNITS.items() if unit.dimension == dimension]
    shown = "%" if dimension == "fraction" else units[0]

    def read(given: object) -> float:
        if not isinstance(given, str):
            raise ValueError(
                f"{given!r} has no unit: write it in quotes with one, as in "
                + " or ".join(f'"10 {unit}"' for unit in units if unit != "1")
            )
        value = parse_quantity(given, dimension)
        if low is not None and above and value <= low:
            limit = "zero" if low == 0 else _number(low, shown)
            raise ValueError(f"'{given}' must be above {limit}")
        if low is not None and value < low:
            raise ValueError(f"'{given}' must be at least {_number(low, shown)}")
        if high is not None and value > high:
            raise ValueError(f"'{given}' must be at most {_number(high, shown)}")
        return value

    return BeforeValidator(read)


def _number(si: float, unit: str) -> str:
    return f"{from_si(si, unit):g} {unit}"


def _clock(given: object) -> time:
    """Read "07:00"; TOML's own 07:00:00 is taken too."""
    clock = given
    if isinstance(given, str) and re.fullmatch(r"\d\d?:\d\d", given.strip()):
        try:
            clock = time.fromisoformat(given.strip().zfill(5))
        except ValueError:
            clock = None
    if not isinstance(clock, time) or clock != clock.replace(second=0, microsecond=0):
        told = str(given) if isinstance(given, time) else repr(given)
        raise ValueError(
            f'{told} is not a time of day to the minute; write it from "00:00" to "23:59"'
        )
    return clock


def _day(given: object) -> date:
    """Read TOML's own 2026-07-03, or the same in quotes."""
    if isinstance(given, date) and not isinstance(given, datetime):
        return given
    if isinstance(given, str):
        try:
            return date.fromisoformat(given)
        except ValueError:
            pass
    told = given.isoformat() if isinstance(given, datetime) else repr(given)
    raise ValueError(f"{told} is not a date; write it as 2026-07-03")


def _moment(given: object) -> datetime:
    """Read "2026-07-03 08:30", with an offset or Z if wanted; TOML's own is taken too."""
    moment = given
    if isinstance(given, str):
        try:
            moment = datetime.fromisoformat(given.strip())
            if given.strip()[10:11] not in ("T", " "):
                moment = None
        except ValueError:
            moment = None
    has_clock = not isinstance(given, str) or ":" in given
    mend = 'write it as "2026-07-03T08:30"'
    if not isinstance(moment, datetime) or not has_clock:
        raise ValueError(f"{str(given)!r} is not a time; {mend}")
    if moment.year not in YEARS:
        raise ValueError(f"{str(given)!r} is not a year of a roof; {mend}")
    return moment


def local_moment(given: object, zone: ZoneInfo) -> pd.Timestamp:
    """Return the moment that a text or TOML time names, UTC; without an offset by a site's clock.

    Raises
    ------
    ValueError
        If it is no time, or one that the site's clock skips or has twice.
    """
    moment = _moment(given)
    if moment.tzinfo is not None:
        return pd.Timestamp(moment).tz_convert("UTC")
    once = moment.replace(tzinfo=zone)
    again = moment.replace(tzinfo=zone, fold=1)
    if once.utcoffset() != again.utcoffset():
        back = pd.Timestamp(once).tz_convert("UTC").tz_convert(zone).replace(tzinfo=None)
        if back != moment:
            raise ValueError(f"{given} does not exist: clocks go forward then; write a later hour")
        raise ValueError(
            f"{given} comes twice, since clocks go back then; add the offset, as in "
            f"{once.isoformat(timespec='minutes')}"
        )
    return pd.Timestamp(once).tz_convert("UTC")


ClockTime = Annotated[time, BeforeValidator(_clock)]
Day = Annotated[date, BeforeValidator(_day)]
Moment = Annotated[datetime, BeforeValidator(_moment)]
"""A time of a file; `local_moment` sets it by the site's clock."""
