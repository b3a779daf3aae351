"""What a contract counts as a lost day, and what it grants for it: data, each with its source.

The shipped rules are in ``contracts.toml``; a user's own is a file of the same keys.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from importlib.resources import files
from math import ceil, floor
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BeforeValidator, Field, StrictBool, StrictStr, model_validator

from cure_models.arrays import FloatArray
from cure_models.coating import LIMIT_DECIMALS
from cure_models.toml_input import Table, is_own_file, parse_toml, read_text, validated
from windows.errors import SiteError, did_you_mean
from windows.fields import WEEKDAYS, quantity
from windows.gates import State, States
from windows.site import Site

__all__ = [
    "CONTRACT_GOVERNS", "CalendarDays", "Contract", "Limit", "Notice", "contract_names",
    "contract_site", "load_contract", "three_answers",
]  # fmt: skip

CONTRACT_GOVERNS = (
    "The contract's own wording governs: these are counts from hourly weather, no legal advice."
)
_ANY_LEAP_YEAR = 2024

Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]


def three_answers(blocked: Flags, ok: Flags) -> States:
    """Return BLOCKED where that is certain, OK where that is, else UNKNOWN."""
    return np.where(blocked, State.BLOCKED, np.where(ok, State.OK, State.UNKNOWN)).astype(np.int8)


class Limit(Table):
    """A limit of one quantity: adverse beyond it, and at it too if ``inclusive``. [SI]"""

    dimension: ClassVar[str]
    below: ClassVar[bool] = False

    limit: float
    inclusive: StrictBool
    source: StrictStr

    def adverse(self, low: FloatArray, high: FloatArray | None = None) -> States:
        """Return BLOCKED where a value is adverse, OK where it is not; NaN is UNKNOWN.

        ``low`` and ``high`` are the least and the most that a value can be, where they differ; both
        of one shape, which the answer has too. [SI]
        """
        high = low if high is None else high
        limit = round(self.limit, LIMIT_DECIMALS)  # as the weather is
        beyond = low < limit if self.below else low > limit
        short = high > limit if self.below else high < limit
        if self.inclusive:
            return three_answers(beyond | (low == limit), short)
        return three_answers(beyond, short | (high == limit))


class Rain(Limit):
    """Rain of an hour or a day. [mm]"""

    dimension = "water"
    limit: Annotated[float, quantity("water", 0, above=True)]


class Cold(Limit):
    """Air temperature of an hour, or its mean over a day. [degC]"""

    dimension = "temperature"
    below = True
    limit: Annotated[float, quantity("temperature", -60, 60)]


class Wind(Limit):
    """Mean wind at 10 m. [m/s]"""

    dimension = "speed"
    limit: Annotated[float, quantity("speed", 0, above=True)]


class Wet(Limit):
    """Most water on the roof in the hour, of rain, snow and dew, ponds apart. [mm]"""

    dimension = "water"
    limit: Annotated[float, quantity("water", 0)]


class AdverseHour(Table):
    """What makes an hour adverse: one of these is enough."""

    rain: Rain | None = None
    cold: Cold | None = None
    wind: Wind | None = None
    wet: Wet | None = None

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if not self.model_fields_set:
            raise ValueError("hour is empty; say what makes an hour adverse, or leave it out")
        return self


class AdverseDay(Table):
    """What makes a whole day adverse: one of these is enough."""

    rain: Rain | None = None
    cold: Cold | None = None


class LostShift(Table):
    """How much of a shift must be adverse: a ``share`` of its hours, or ``hours``."""

    share: Annotated[float, quantity("fraction", 0, 1, above=True)] | None = None
    hours: Annotated[float, quantity("time", 0, 24, above=True)] | None = None
    inclusive: StrictBool
    source: StrictStr

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if (self.share is None) == (self.hours is None):
            raise ValueError("give either share or hours")
        return self

    def state(self, bad: Counts, good: Counts, shift: Counts, length_h: float) -> States:
        """Return BLOCKED where a day is lost, OK where it is not.

        Parameters
        ----------
        bad, good, shift
            Whole hours of each day that are known to be adverse, known not to be, and in all.
            Shape (days,) each, as the answer. [h]
        length_h
            Length of the shift. A part hour at its ends counts for the share, and is never
            adverse, so that nothing is claimed for it. [h]
        """
        length = np.maximum(shift, length_h)
        needed = np.round((self.hours or 0.0) + (self.share or 0.0) * length, 9)  # one is None
        most = shift - good
        if self.inclusive:
            return three_answers(bad >= needed, most < needed)
        return three_answers(bad > needed, most <= needed)


def _month_day(given: object) -> tuple[int, int]:
    """Read "12-01"."""
    try:
        day = date.fromisoformat(f"{_ANY_LEAP_YEAR}-{given}")
    except ValueError:
        raise ValueError(f'{given!r} is no month and day; write it as "12-01"') from None
    return day.month, day.day


MonthDay = Annotated[tuple[int, int], BeforeValidator(_month_day)]


class Winter(Table):
    """Days, first and last with the year left out, for which nothing is granted."""

    first: MonthDay = Field(alias="from")
    last: MonthDay = Field(alias="to")
    unless_critical: StrictBool = False
    source: StrictStr

    def holds(self, day: date) -> bool:
        """Tell whether a day lies between the two, across the end of the year if need be."""
        at = (day.month, day.day)
        if self.first <= self.last:
            return self.first <= at <= self.last
        return at >= self.first or at <= self.last


class OnlyConsecutive(Table):
    """Only so many lost days in a row count, and of them those from ``from_day`` on."""

    days: Annotated[int, Field(strict=True, ge=1, le=366)]
    from_day: Annotated[int, Field(strict=True, ge=1, le=366)] = 1
    source: StrictStr


class Notice(Table):
    """Calendar days in which notice is due, and what they count from."""

    days: Annotated[int, Field(strict=True, ge=0, le=366)]
    after: Literal["day", "delay_begin", "delay_end", "month_end"]
    source: StrictStr


Factor = Annotated[float, Field(strict=True, ge=1, le=7)]


class CalendarDays(Table):
    """Calendar days granted for a working day, in a week of 5, 6 and 7 days."""

    factor: tuple[Factor, Factor, Factor]
    rounding: Literal["half_up", "up", "down"] = "half_up"
    source: StrictStr

    def of(self, working_days: int, week: int) -> int:
        """Return the calendar days that so many working days come to."""
        exact = round(working_days * self.factor[week - 5], 6)
        return {"half_up": floor(exact + 0.5), "up": ceil(exact), "down": floor(exact)}[
            self.rounding
        ]


class AnticipatedTable(Table):
    """The contract's own anticipated days, January to December."""

    days: tuple[Annotated[int, Field(strict=True, ge=0, le=31)], ...]
    source: StrictStr

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if len(self.days) != 12:
            raise ValueError(f"days has {len(self.days)} numbers; give twelve, January first")
        return self


class Contract(Table):
    """A contract's rule for adverse weather, checked. See `load_contract`."""

    name: StrictStr
    title: StrictStr
    source: StrictStr
    week: Literal[5, 6, 7]
    week_source: StrictStr = "own choice"
    hour: AdverseHour | None = None
    lost: LostShift | None = None
    day: AdverseDay | None = None
    anticipated: AnticipatedTable | None = None
    calendar_days: CalendarDays | None = None
    winter: Winter | None = None
    only_consecutive: OnlyConsecutive | None = None
    notice: Notice | None = None
    note: StrictStr = ""

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.hour is not None and self.lost is None:
            raise ValueError("hour is given without lost; say how many adverse hours lose a day")
        if not self.limits:
            raise ValueError(
                "nothing makes a day adverse; give lost (hours of a shift), day.rain or day.cold"
            )
        return self

    @property
    def limits(self) -> dict[str, Limit]:
        """All limits by their key, for example ``"hour.rain"``."""
        found = {
            f"{scope}.{name}": getattr(table, name)
            for scope, table in (("hour", self.hour), ("day", self.day))
            if table is not None
            for name in type(table).model_fields
        }
        return {key: limit for key, limit in found.items() if limit is not None}


@cache
def _shipped() -> dict[str, dict[str, Any]]:
    text = (files("windows") / "contracts.toml").read_text(encoding="utf-8")
    return parse_toml(text, "windows/contracts.toml", SiteError)


def contract_names() -> tuple[str, ...]:
    """Return the names of the shipped contracts, as their file has them."""
    return tuple(_shipped()["contract"])


def load_contract(name: str) -> Contract:
    """Load a shipped contract by name, or a user's own by the path of its TOML file.

    Where a contract counts lost hours and does not say what makes an hour adverse, the usual limits
    of ``contracts.toml`` do.

    Raises
    ------
    SiteError
        If there is no such contract or file, or the file has a fault.
    """
    if name in contract_names():
        where, data = f"windows/contracts.toml: {name}", _shipped()["contract"][name]
    elif is_own_file(name):
        where, data = name, parse_toml(read_text(Path(name), SiteError), name, SiteError)
    else:
        raise SiteError(
            f"contract '{name}' is not known; {did_you_mean(name, contract_names())}; or give the "
            "path of your own .toml file"
        )
    usual = {"hour": _shipped()["usual_hour"]} if "lost" in data else {}
    whole = {"name": Path(name).stem, **usual, **data}
    return validated(Contract, whole, where, SiteError)


def contract_site(site: Site, contract: Contract) -> Site:
    """Return a site whose work days are those of the contract; holidays and days off stay out."""
    crew = site.crew.model_copy(update={"work_days": WEEKDAYS[: contract.week]})
    return site.model_copy(update={"crew": crew})
