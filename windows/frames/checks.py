"""Ordinary mistakes in what is given to the frames, each refused with one sentence.

Types are looked at where a program runs without a type checker, so that nobody reads a traceback
from deep inside for a path in the place of a site.
"""

from __future__ import annotations

import os
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, get_args

import numpy as np
import pandas as pd

from cure_models.coating import Limits
from windows.errors import DewgapError, did_you_mean
from windows.hours import HourlyTable
from windows.site import Site

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = [
    "day_of", "require_hours", "require_limits", "require_number", "require_path", "require_site",
    "require_truth",
]  # fmt: skip

_NUMBERS = (int, float, np.integer, np.floating)
_LEAST, _MOST = 1e-3, 1e9
"""No area, film, rate or patience is beyond, in any unit of the frames (own choice)."""
_LIMITS: Sequence[str] = get_args(Limits)


def require_number(name: str, given: Any, *, or_none: bool = False) -> None:
    """Refuse what is no number of a roof: nothing, less, or without an end.

    >>> require_number("area_m2", float("inf"))
    Traceback (most recent call last):
        ...
    cure_models.errors.DewgapError: area_m2: inf is not a number from 0.001 to 1e+09

    Raises
    ------
    DewgapError
        If it is.
    """
    if given is None and or_none:
        return
    is_number = isinstance(given, _NUMBERS) and not isinstance(given, bool)
    if is_number and _LEAST <= given <= _MOST:
        return
    told = str(given) if is_number else repr(given)
    raise DewgapError(f"{name}: {told} is not a number from {_LEAST:g} to {_MOST:g}")


def require_truth(name: str, given: object) -> None:
    """Refuse what is not True or False: a text such as "no" would count as true.

    Raises
    ------
    DewgapError
        If it is.
    """
    if not isinstance(given, bool | np.bool_):
        raise DewgapError(f"{name}: {given!r} is neither True nor False")


def require_limits(given: object) -> None:
    """Refuse limits that are none.

    Raises
    ------
    DewgapError
        If it is.
    """
    if not isinstance(given, str) or given not in _LIMITS:
        near = did_you_mean(str(given).lower(), _LIMITS)
        raise DewgapError(f"limits: {given!r} is not known; {near}")


def day_of(name: str, given: object) -> date:
    """Return a date that is given as one, as a time (its own clock counts), or as text.

    >>> day_of("by", pd.Timestamp("2027-09-15T17:00")), day_of("by", "2027-09-15")
    (datetime.date(2027, 9, 15), datetime.date(2027, 9, 15))

    Raises
    ------
    DewgapError
        If it is none of them.
    """
    day = given
    if isinstance(given, str):
        try:
            day = date.fromisoformat(given.strip())
        except ValueError:
            day = None
    if not isinstance(day, date) or pd.isna(day):  # NaT counts as a date elsewhere
        raise DewgapError(f'{name}: {given!r} is not a date; give one, or text as "2026-07-03"')
    return day.date() if isinstance(day, datetime) else day


def require_site(given: object) -> None:
    """Refuse what is no site, such as its path.

    Raises
    ------
    DewgapError
        If it is.
    """
    if not isinstance(given, Site):
        raise DewgapError(f"site: a {_kind(given)} is no Site; give load_site(path)")


def require_hours(name: str, given: object) -> None:
    """Refuse what is no table of hours, such as a data frame or the path of a file.

    Raises
    ------
    DewgapError
        If it is.
    """
    if isinstance(given, HourlyTable):
        return
    mend = "hours_from(frame) or read_weather(path)"
    if isinstance(given, pd.DataFrame):
        mend = "hours_from(frame)"
    elif isinstance(given, str | os.PathLike):
        mend = "read_weather(path)"
    raise DewgapError(f"{name}: a {_kind(given)} is no HourlyTable; give {mend}")


def require_path(name: str, given: object) -> None:
    """Refuse what is no path, such as what was loaded from it.

    Raises
    ------
    DewgapError
        If it is.
    """
    if not isinstance(given, str | os.PathLike):
        raise DewgapError(f"{name}: a {_kind(given)} is no path; give the path itself, as text")


def _kind(given: object) -> str:
    return type(given).__name__
