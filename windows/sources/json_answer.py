"""Answers of services in JSON: strict reading, columns of numbers, units by name.

``NaN`` and ``Infinity``, which JSON does not have, are refused. A unit is taken from the answer and
never guessed: another one than asked for is converted, one that is not known is an error.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from cure_models.units import UNITS, to_si
from windows.errors import HoursError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from cure_models.arrays import FloatArray

__all__ = ["in_si", "moment", "numbers", "part", "read_object"]

# WMO code table names and the services' own, to the names in cure_models.units
_UNITS = {
    "degc": "degC", "celsius": "degC", "°c": "degC", "degf": "degF", "fahrenheit": "degF",
    "°f": "degF", "percent": "%", "%": "%", "fraction": "1", "1": "1",
    "km_h-1": "km/h", "km/h": "km/h", "m_s-1": "m/s", "m/s": "m/s", "ms": "m/s",
    "mp/h": "mph", "mph": "mph", "kn": "kn", "kt": "kn",
    "mm": "mm", "inch": "in", "in": "in", "m": "m", "hpa": "hPa", "w/m²": "W/m2", "w/m2": "W/m2",
}  # fmt: skip
_METRE_OF_WATER = 1000.0


def read_object(content: bytes, place: str) -> dict[str, Any]:
    """Return the object that an answer is.

    Raises
    ------
    HoursError
        If it is not strict JSON, or not an object.
    """

    def refuse(word: str) -> float:
        raise ValueError(f"{word} is no JSON")

    try:
        data = json.loads(content.decode("utf-8-sig"), parse_constant=refuse)
    except (ValueError, RecursionError) as fault:
        begins = content[:40].decode("utf-8", errors="replace").strip()
        if begins.startswith("<"):
            raise HoursError(f"{place}: a web page came in place of data") from None
        told = (
            "it ends too early"
            if "Expecting" in str(fault) or "Unterminated" in str(fault)
            else (str(fault).partition(":")[0])
        )
        raise HoursError(f"{place}: not sound JSON ({told}); fetch it again") from None
    if isinstance(data, list):
        raise HoursError(f"{place}: holds a list of answers, not one; save that of one place")
    if not isinstance(data, dict):
        raise HoursError(f"{place}: holds no weather; fetch it again")
    if data.get("error") is True:
        raise HoursError(
            f"{place}: the service refused: {' '.join(str(data.get('reason')).split())[:200]}"
        )
    return data


def part(data: Mapping[str, Any], name: str, kind: type, place: str) -> Any:
    """Return a part of an answer.

    Raises
    ------
    HoursError
        If it is missing or of another kind.
    """
    found = data.get(name)
    if not isinstance(found, kind):
        told = "is missing" if found is None else "is not what it should be"
        raise HoursError(f"{place}: '{name}' {told}; the answer is not whole, fetch it again")
    return found


def numbers(values: Sequence[Any], name: str, place: str) -> FloatArray:
    """Return a column of numbers; null is NaN.

    Raises
    ------
    HoursError
        If one is something else.
    """
    for value in values:
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise HoursError(f"{place}: {name} holds {str(value)[:40]!r}, not a number")
    try:
        return np.array([np.nan if value is None else value for value in values], dtype=np.float64)
    except OverflowError:
        raise HoursError(f"{place}: {name} holds a number beyond all numbers") from None


def in_si(
    values: FloatArray, unit: str | None, dimension: str, name: str, place: str
) -> FloatArray:
    """Return values in the SI unit of a dimension.

    Parameters
    ----------
    values
        Numbers in ``unit``.
    unit
        As the service writes it, with or without a namespace such as ``wmoUnit:``.
    dimension
        What it must be a unit of.
    name, place
        For messages.

    Raises
    ------
    HoursError
        If the unit is not known, or not one of the dimension.
    """
    word = str(unit).rpartition(":")[2].strip().lower()
    if dimension == "water" and word == "m":
        return values * _METRE_OF_WATER
    ours = _UNITS.get(word)
    if ours is None or UNITS[ours].dimension != dimension:
        raise HoursError(
            f"{place}: {name} is in {unit!r}, which is no known unit of {dimension}; nothing is "
            "guessed"
        )
    return to_si(values, ours)


def moment(text: object, name: str, place: str) -> pd.Timestamp:
    """Return a time with a zone, in UTC.

    Raises
    ------
    HoursError
        If it is none.
    """
    try:
        stamp = pd.Timestamp(str(text))
    except ValueError:
        stamp = pd.NaT  # type: ignore[assignment]
    if pd.isna(stamp) or stamp.tz is None:
        raise HoursError(f"{place}: {name} is {str(text)[:40]!r}, not a time with a zone")
    return stamp.tz_convert("UTC")
