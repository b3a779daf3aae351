"""Numbers and times in a text that is stored: in both systems of units, by the site's clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cure_models.units import from_si

if TYPE_CHECKING:
    from datetime import datetime
    from zoneinfo import ZoneInfo

__all__ = ["both", "is_twice", "moment", "pair"]

# dimension: (unit, decimals, how it is written) for each system of units
_UNITS = {
    "temperature": (("degF", 1, "degF"), ("degC", 1, "degC")),
    "difference": (("delta_degF", 1, "degF"), ("K", 1, "K")),
    "speed": (("mph", 1, "mph"), ("m/s", 1, "m/s")),
    "water": (("in", 2, "in"), ("mm", 1, "mm")),
    "film": (("mil", 1, "mil"), ("um", 0, "um")),
    "area": (("ft2", 0, "ft2"), ("m2", 1, "m2")),
    "volume": (("gal", 1, "gal"), ("L", 1, "L")),
    "spread_rate": (("gal/100ft2", 2, "gal/100 ft2"), ("L/m2", 2, "L/m2")),
    "fraction": (("%", 0, "%"),),
    "time": (("h", 1, "h"),),
    "angle": (("deg", 1, "deg"),),
    "stress": (("psi", 0, "psi"), ("kPa", 0, "kPa")),
    "peel": (("lbf/in", 1, "lbf/in"), ("N/m", 0, "N/m")),
}
_MOST_FINER = 4


def both(si: float, dimension: str, *, finer: int = 0) -> str:
    """Return an SI number in both systems of units; ``finer`` adds decimals.

    Examples
    --------
    >>> both(9.0, "temperature")
    '48.2 degF (9.0 degC)'
    """
    first, *second = (
        f"{from_si(si, unit):z,.{decimals + finer}f} {shown}"  # z: no minus before a zero
        for unit, decimals, shown in _UNITS[dimension]
    )
    return f"{first} ({second[0]})" if second else first


def pair(value: float, limit: float, dimension: str) -> tuple[str, str]:
    """Return a value and the limit that it breaks, with as many decimals as keep them apart.

    Examples
    --------
    >>> pair(9.99, 10.0, "temperature")
    ('49.98 degF (9.99 degC)', '50.00 degF (10.00 degC)')
    """
    for finer in range(_MOST_FINER):
        first, second = both(value, dimension, finer=finer), both(limit, dimension, finer=finer)
        if not set(_numbers(first)) & set(_numbers(second)):
            return first, second
    return both(value, dimension, finer=_MOST_FINER), both(limit, dimension, finer=_MOST_FINER)


def _numbers(told: str) -> list[str]:
    return told.rstrip(")").split(" (")


def moment(when: datetime, zone: ZoneInfo) -> str:
    """Return a moment by the site's clock, with its offset where the clock has that time twice.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> from zoneinfo import ZoneInfo
    >>> moment(datetime(2026, 6, 8, 14, 30, tzinfo=UTC), ZoneInfo("America/New_York"))
    '2026-06-08 10:30'
    """
    local = when.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M}{f' UTC{local:%z}' if is_twice(local) else ''}"


def is_twice(local: datetime) -> bool:
    """Tell whether the clock of a local time has it twice, as when it is put back."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
