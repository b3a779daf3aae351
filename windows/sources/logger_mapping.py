"""How a logger's table is to be read: the mapping (TOML) that its owner writes.

It says which column holds what, in which unit, by which clock, whether the label is the start or
the end of a row, and whether rain is an increment, a counter or a rate. Nothing of this is guessed.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from cure_models.toml_input import Table, parse_toml, read_text, validated
from cure_models.units import UNITS, parse_quantity
from windows.columns import COLUMNS
from windows.errors import HoursError, did_you_mean
from windows.site import zone_names

__all__ = ["SHARES", "LoggerMapping", "MappedColumn", "load_mapping", "proposal"]

_DIMENSIONS = {"degC": "temperature", "m/s": "speed", "mm": "water", "fraction": "fraction",
               "W/m2": "irradiance", "hPa": "pressure"}  # fmt: skip
_MAPPED = {
    name: _DIMENSIONS[column.unit]
    for name, column in COLUMNS.items()
    if column.unit in _DIMENSIONS and name not in {"surface_temp_min_c", "surface_temp_max_c"}
}
_TENTHS, _EIGHTHS = "tenths", "eighths"
SHARES = {_TENTHS: 0.1, _EIGHTHS: 0.125}
"""Units of the sky's cover that are no units elsewhere. [fraction]"""


def _unit(name: str) -> str:
    if name in SHARES or name in UNITS or name == "mm/h":
        return name
    raise ValueError(f"'{name}' is not a known unit; {did_you_mean(name, [*UNITS, *SHARES])}")


def _minutes(given: object) -> int:
    if not isinstance(given, str):
        raise ValueError(f'{given!r} has no unit: write it in quotes with one, as in "10 min"')
    minutes = parse_quantity(given, "time") * 60
    if not (
        1 <= minutes <= 60 and 60 % round(minutes) == 0 and abs(minutes - round(minutes)) < 1e-9
    ):
        raise ValueError(f"'{given}' does not divide an hour; give 1 to 60 minutes that do")
    return round(minutes)


def _clock(name: str) -> str:
    if re.fullmatch(r"[+-]\d\d:\d\d", name) or name in zone_names():
        return name
    raise ValueError(
        f"'{name}' is neither an IANA zone nor an offset; write America/New_York, or -05:00 for a "
        "clock that never changes"
    )


class MappedColumn(Table):
    """One column: its name in the file, its unit, and for rain how it counts."""

    column: str
    unit: Annotated[str, AfterValidator(_unit)]
    rain: Literal["increment", "cumulative", "rate"] | None = None


class LoggerMapping(Table):
    """How to read a logger's table."""

    time: str
    timezone: Annotated[str, AfterValidator(_clock)]
    label: Literal["start", "end"]
    every: Annotated[int, BeforeValidator(_minutes)]
    columns: dict[str, MappedColumn]
    time_format: str | None = None
    separator: Annotated[str, Field(min_length=1, max_length=1)] = ","
    decimal: Literal[".", ","] = "."
    rows_before_header: Annotated[int, Field(ge=0, le=200)] = 0
    rows_below_header: Annotated[int, Field(ge=0, le=20)] = 0
    missing: tuple[str, ...] = ()
    required_share: Annotated[float, Field(gt=0, le=1)] = 1.0
    source: str = "logger"

    @model_validator(mode="after")
    def _sound(self) -> Self:
        for name, given in self.columns.items():
            if name not in _MAPPED:
                raise ValueError(f"columns.{name} is not known; {did_you_mean(name, _MAPPED)}")
            dimension = _MAPPED[name]
            unit = "drying" if given.rain == "rate" else dimension
            fitting = [u for u, kind in UNITS.items() if kind.dimension == unit]
            fitting += list(SHARES) if name == "cloud" else []
            if given.unit not in fitting:
                raise ValueError(
                    f"columns.{name}: '{given.unit}' is no unit of it; give {', '.join(fitting)}"
                )
            if (given.rain is not None) != (name == "rain_mm"):
                raise ValueError(
                    f'columns.{name}: rain = "increment", "cumulative" or "rate" belongs to '
                    "rain_mm and only there"
                )
        return self


def load_mapping(path: Path | str) -> LoggerMapping:
    """Load a mapping from its file.

    Raises
    ------
    HoursError
        If it is missing or has a fault.
    """
    path = Path(path)
    data = parse_toml(read_text(path, HoursError), str(path), HoursError)
    return validated(LoggerMapping, data, str(path), HoursError)


_WORDS = (
    ("dew_point_c", ("dew",)), ("surface_temp_c", ("surface", "roof", "deck", "probe")),
    ("air_temp_c", ("temp", "air")), ("rel_humidity", ("humid", "rh")), ("gust_m_s", ("gust",)),
    ("wind_m_s", ("wind speed", "windspeed", "wind spd", "wspd", "wind")),
    ("rain_mm", ("rain", "precip")), ("ghi_w_m2", ("solar", "radiation", "ghi")),
    ("pressure_hpa", ("press", "baro")), ("cloud", ("cloud", "sky")),
)  # fmt: skip
_UNIT_WORDS = (
    ("degF", r"°\s?f|deg\s?f|\bf\b|_f\b"), ("degC", r"°\s?c|deg\s?c|\bc\b|_c\b"),
    ("mph", r"mph|mi/h"), ("km/h", r"km/h|kph"), ("m/s", r"m/s|m s-1"), ("kn", r"kn|knots|kt"),
    ("mm", r"\bmm\b"), ("in", r"\bin\b|inch|\""), ("%", r"%|percent|\brh\b"),
    ("W/m2", r"w/m"), ("hPa", r"hpa|mbar|\bmb\b"), ("inHg", r"inhg|in hg"),
)  # fmt: skip


def proposal(content: bytes, place: str) -> str:
    """Return a mapping to be completed: what the header tells is filled in, the rest is left open.

    Raises
    ------
    HoursError
        If it is no text, or there is no header with columns.
    """
    if b"\0" in content[:20000]:
        raise HoursError(f"{place}: it holds bytes that are no text; give a table with a header")
    text = content[:20000].decode("utf-8-sig", errors="replace")
    lines = text.splitlines()[:40]
    counts = {mark: max((line.count(mark) for line in lines), default=0) for mark in ",;\t|"}
    separator = max(counts, key=lambda mark: counts[mark])
    if counts[separator] == 0:
        raise HoursError(f"{place}: there are no columns in it; give a table with a header")
    top = next(n for n, line in enumerate(lines) if line.count(separator) == counts[separator])
    names = [name.strip().strip('"') for name in lines[top].split(separator)]
    clock = next((name for name in names if re.search("time|date", name.lower())), names[0])
    told = [
        "# Complete every ... and delete what you do not have; nothing is guessed.",
        f"time = {_quoted(clock)}",
        'time_format = "..."      # as %m/%d/%Y %H:%M; delete the line for 2026-05-01 18:00',
        'timezone = "..."         # an IANA zone, or -05:00 for a clock that never changes',
        'label = "..."            # start or end of the row\'s time',
        'every = "... min"',
    ]
    if separator != ",":
        told.append(f"separator = {_quoted(separator)}")
    if top:
        told.append(f"rows_before_header = {top}")
    taken: set[str] = set()
    for name in names[1:]:
        low = name.lower()
        fit = next(
            (v for v, words in _WORDS if v not in taken and any(w in low for w in words)), None
        )
        if fit is None:
            continue
        taken.add(fit)
        units = [
            unit for unit, pattern in _UNIT_WORDS
            if re.search(pattern, low) and UNITS[unit].dimension == _MAPPED[fit]
        ]  # fmt: skip
        unit = units[0] if len(units) == 1 else "..."
        told += ["", f"[columns.{fit}]", f"column = {_quoted(name)}", f"unit = {_quoted(unit)}"]
        if fit == "rain_mm":
            told.append('rain = "..."           # increment, cumulative or rate')
    return "\n".join(told) + "\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
    return f'"{escaped}"'
