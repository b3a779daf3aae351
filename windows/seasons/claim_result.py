"""The ledger of a claim: lost days with their causes, days not known, and the months."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from windows.seasons.weather_days import WeatherDays

__all__ = ["Anticipated", "Cause", "Claim", "ClaimMonth", "LostDay", "OpenDay"]


@dataclass(frozen=True)
class Anticipated:
    """Lost days that the price and the schedule must hold, January to December; None not known."""

    days: tuple[int | None, ...]
    source: str


@dataclass(frozen=True)
class Cause:
    """What decided a lost day: the limit that cost most hours, and its worst value. [SI]

    ``bad`` tells how values are to the limit where they lose the day: ``"below"``, ``"above"``,
    ``"at or below"``, ``"at or above"``. Value and limit are None for a safety stop, whose label
    tells the limit; ``at`` is None for a mean of the day. ``hours`` are those of the shift that it
    costs.
    """

    name: str
    label: str
    dimension: str
    value: float | None
    limit: float | None
    bad: str
    at: pd.Timestamp | None
    hours: int


@dataclass(frozen=True)
class LostDay:
    """A contract work day that the contract counts or the coating loses.

    ``by_coating`` is None if not known. ``out`` tells why a day that is lost cannot be claimed, ""
    if it can. ``adverse_h`` are the hours of the shift that the contract's limits of the hour, all
    of them together, call adverse, ``shift_h`` is its length. ``notice`` is the last day for
    notice, None where nothing is to be told.
    """

    day: date
    by_contract: bool
    by_coating: bool | None
    critical: bool
    out: str
    cause: Cause
    adverse_h: int
    shift_h: float
    notice: date | None


@dataclass(frozen=True)
class OpenDay:
    """A contract work day that is not known: to the contract's rule, or to the coating."""

    day: date
    what: str


@dataclass(frozen=True)
class ClaimMonth:
    """A month, or the part of it that lies in the period, in working days.

    ``lost`` the contract counts, of them ``critical`` had critical work, and ``claimable`` stay
    after winter and days in a row. ``calendar_days`` is None where the contract names no factor,
    ``notice`` the first date by which notice is due.
    """

    year: int
    month: int
    whole: bool
    scheduled: int
    lost: int
    critical: int
    claimable: int
    anticipated: int
    excess: int
    calendar_days: int | None
    notice: date | None


@dataclass(frozen=True)
class Claim:
    """The ledger of a period."""

    weather: WeatherDays
    first: date
    last: date
    anticipated: Anticipated
    with_log: bool
    days: tuple[LostDay, ...]
    open_days: tuple[OpenDay, ...]
    months: tuple[ClaimMonth, ...]
