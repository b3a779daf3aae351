"""Tables of a weather logger: any CSV, read by a mapping that its owner writes.

The mapping (TOML) says which column holds what, in which unit, by which clock, whether the label is
the start or the end of a row, and whether rain is an increment, a counter or a rate. Nothing of
this is guessed. Rows of less than an hour are gathered: rain is summed, states are averaged, of
gusts the highest counts, of a roof surface also the coldest and the warmest reading. An hour needs
all its rows; ``required_share`` lets a part of them do, for states and never for rain.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, Self
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pandas as pd
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from cure_models.toml_input import parse_toml, read_text, validated
from cure_models.units import UNITS, parse_quantity, to_si
from windows.errors import HoursError, did_you_mean
from windows.flags import Flag, flagged
from windows.hours import COLUMNS, HourlyTable, check_hours, one_row_a_time
from windows.provenance import Provenance

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray

__all__ = ["Mapping", "Rows", "load_mapping", "parse", "proposal", "rows_of"]

_DIMENSIONS = {"degC": "temperature", "m/s": "speed", "mm": "water", "fraction": "fraction",
               "W/m2": "irradiance", "hPa": "pressure"}  # fmt: skip
_MAPPED = {
    name: _DIMENSIONS[column.unit]
    for name, column in COLUMNS.items()
    if column.unit in _DIMENSIONS and name not in {"surface_temp_min_c", "surface_temp_max_c"}
}
_TENTHS, _EIGHTHS = "tenths", "eighths"
_SHARES = {_TENTHS: 0.1, _EIGHTHS: 0.125}
_SHORT_STEP_MIN = 30
"""In longer steps too much can fall between a reset and its row. [min]"""
_CLOCK_SLACK = 0.2
"""Share of a step by which a row's clock may be off. [fraction]"""


def _unit(name: str) -> str:
    if name in _SHARES or name in UNITS or name == "mm/h":
        return name
    raise ValueError(f"'{name}' is not a known unit; {did_you_mean(name, [*UNITS, *_SHARES])}")


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
    if re.fullmatch(r"[+-]\d\d:\d\d", name) or name in available_timezones():
        return name
    raise ValueError(
        f"'{name}' is neither an IANA zone nor an offset; write America/New_York, or -05:00 for a "
        "clock that never changes"
    )


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class MappedColumn(_Table):
    """One column: its name in the file, its unit, and for rain how it counts."""

    column: str
    unit: Annotated[str, AfterValidator(_unit)]
    rain: Literal["increment", "cumulative", "rate"] | None = None


class Mapping(_Table):
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
            fitting += list(_SHARES) if name == "cloud" else []
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


def load_mapping(path: Path | str) -> Mapping:
    """Load a mapping from its file.

    Raises
    ------
    HoursError
        If it is missing or has a fault.
    """
    path = Path(path)
    data = parse_toml(read_text(path, HoursError), str(path), HoursError)
    return validated(Mapping, data, str(path), HoursError)


@dataclass(frozen=True)
class Rows:
    """The rows of a table in SI: ``frame`` by the start of each in UTC, in order, one a time.

    Hours begin ``phase`` after those of UTC. ``doubled`` rows of one time differed or lacked a
    value; what differs is NaN.
    """

    frame: pd.DataFrame
    phase: pd.Timedelta
    doubled: int


def rows_of(content: bytes, place: str, mapping: Mapping) -> Rows:
    """Return the rows of a logger's file, before they are gathered into hours.

    Raises
    ------
    HoursError
        If a column is missing, a time or a number cannot be read, a clock time is not to be told
        apart, or rows are not ``every`` apart.
    """
    rows = _rows(content, place, mapping)
    starts, phase = _starts(rows[mapping.time], place, mapping)
    values = {
        name: _numbers(rows[given.column], given, place, mapping)
        for name, given in mapping.columns.items()
    }
    frame = pd.DataFrame(values, index=starts).sort_index(kind="stable")
    doubled = 0
    if frame.index.has_duplicates:
        frame, differ = one_row_a_time(frame)
        doubled = int(differ.any(axis="columns").sum())
    return Rows(frame, phase, doubled)


def parse(content: bytes, place: str, mapping: Mapping) -> HourlyTable:
    """Return the table of a logger's file.

    Raises
    ------
    HoursError
        As `rows_of`, and if the checks of `windows.hours.check_hours` fail.
    """
    rows = rows_of(content, place, mapping)
    frame, phase = rows.frame, rows.phase
    step = timedelta(minutes=mapping.every)
    frame = frame.reindex(pd.date_range(frame.index[0], frame.index[-1], freq=step))
    warnings = []
    if rows.doubled:
        warnings.append(f"{rows.doubled} rows of one time differ or lack a value: unknown there")
    if "rain_mm" in frame:
        kind = mapping.columns["rain_mm"].rain
        frame["rain_mm"] = _rain(frame["rain_mm"].to_numpy(), str(kind), mapping.every, warnings)
    hours = (pd.DatetimeIndex(frame.index) - phase).floor("h") + phase
    columns, partial = _hourly(frame, hours, mapping)
    flags: dict[str, np.ndarray] = {}
    for name, where in partial.items():
        flags = flagged(flags, name, where, Flag.PARTIAL)
    index = pd.date_range(hours[0], hours[-1], freq="h")
    return check_hours(
        columns, index, Provenance(mapping.source, place, kind="observed"),
        warnings=tuple(warnings), recorded=True, flags=flags,
    )  # fmt: skip


def _rows(content: bytes, place: str, mapping: Mapping) -> pd.DataFrame:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    lines = text.splitlines()[mapping.rows_before_header :]
    if len(lines) < 2 + mapping.rows_below_header:
        raise HoursError(f"{place}: there are no rows below the header; check rows_before_header")
    del lines[1 : 1 + mapping.rows_below_header]
    wanted = [mapping.time, *(each.column for each in mapping.columns.values())]
    try:
        found = pd.read_csv(
            io.StringIO("\n".join(lines)), sep=mapping.separator, dtype=str, keep_default_na=False,
            skipinitialspace=True,
        )  # fmt: skip
    except ValueError as fault:
        told = " ".join(str(fault).split())[:120]
        raise HoursError(
            f"{place}: not a table ({told}); check separator and rows_before_header of the mapping"
        ) from None
    found.columns = [str(name).strip() for name in found.columns]
    for name in wanted:
        if name not in found:
            raise HoursError(
                f"{place}: there is no column '{name}'; {did_you_mean(name, list(found.columns))}"
            )
    if found.empty:
        raise HoursError(f"{place}: there are no rows below the header; use a whole file")
    return found


def _starts(
    cells: pd.Series[str], place: str, mapping: Mapping
) -> tuple[pd.DatetimeIndex, pd.Timedelta]:
    """Return the start of each row in UTC, and by how much its steps are off those of UTC.

    Hourly rows of a zone that is half an hour off begin at half past.
    """
    texts = cells.str.strip()
    local = pd.to_datetime(texts, errors="coerce", format=mapping.time_format or "ISO8601")
    if local.isna().any():
        row = int(local.isna().to_numpy().argmax())
        hint = "mend it" if mapping.time_format else 'give time_format, as "%m/%d/%Y %H:%M"'
        raise HoursError(f"{place}: row {row + 1}: '{texts.iloc[row]}' is no time; {hint}")
    stamps = pd.DatetimeIndex(local)
    step = pd.Timedelta(minutes=mapping.every)
    zoned = stamps.tz is not None
    utc = stamps.tz_convert("UTC") if zoned else _from_clock(stamps, place, mapping)
    phase = (stamps[0].tz_localize(None) - utc[0].tz_localize(None)) % step
    even = (utc + phase).round(step) - phase
    off = np.abs((utc - even).total_seconds()) > _CLOCK_SLACK * step.total_seconds()
    if off.any():
        row = int(np.argmax(off))
        raise HoursError(
            f"{place}: row {row + 1}: '{texts.iloc[row]}' is not a whole number of steps of "
            f"{mapping.every} min; check 'every' in the mapping"
        )
    return (even if mapping.label == "start" else even - step), -phase % pd.Timedelta(hours=1)


def _from_clock(stamps: pd.DatetimeIndex, place: str, mapping: Mapping) -> pd.DatetimeIndex:
    """Return clock times in UTC; the hour that comes twice is told apart by the order of rows."""
    if mapping.timezone[0] in "+-":
        hours, minutes = mapping.timezone[1:].split(":")
        offset = pd.Timedelta(hours=int(hours), minutes=int(minutes))
        return (stamps - offset * (1 if mapping.timezone[0] == "+" else -1)).tz_localize("UTC")
    zone = ZoneInfo(mapping.timezone)
    try:
        return stamps.tz_localize(zone, ambiguous="infer", nonexistent="raise").tz_convert("UTC")
    except ValueError as fault:
        told = (
            "comes twice and the rows do not tell which"
            if "mbiguous" in str(fault) or ("infer" in str(fault))
            else "does not exist"
        )
        when = re.search(r"\d{4}-\d\d-\d\d \d\d:\d\d", str(fault))
        raise HoursError(
            f"{place}: the clock time {when.group() if when else 'of a row'} {told} in "
            f"{mapping.timezone}; if the logger's clock never changes, give its offset as "
            'timezone, as "-05:00"'
        ) from None


def _numbers(
    cells: pd.Series[str], given: MappedColumn, place: str, mapping: Mapping
) -> FloatArray:
    """Return a column in SI, NaN where a cell says that it is missing."""
    texts = cells.str.strip()
    empty = texts.str.lower().isin({"", "na", "n/a", "#n/a", "nan", "null", "none", "---", "--"})
    empty |= texts.isin(mapping.missing)
    plain = texts.str.replace(",", ".", regex=False) if mapping.decimal == "," else texts
    found = pd.to_numeric(plain, errors="coerce")
    wrong = (found.isna() & ~empty).to_numpy()
    if wrong.any():
        row = int(np.argmax(wrong))
        raise HoursError(
            f"{place}: row {row + 1}: '{given.column}' is '{texts.iloc[row]}', not a number; list "
            "it under 'missing' in the mapping if that is what it means"
        )
    values = found.mask(empty).to_numpy(dtype=np.float64)
    if given.unit in _SHARES:
        return values * _SHARES[given.unit]
    return to_si(values, given.unit)


def _rain(values: FloatArray, kind: str, every_min: int, warnings: list[str]) -> FloatArray:
    """Return the rain of each step. [mm]"""
    if kind == "increment":
        return values
    if kind == "rate":
        return values * every_min / 60
    # A counter: what was added since the row before. It needs both rows.
    added = np.diff(values, prepend=np.nan)
    reset = added < 0
    if reset.any():
        # At a reset the rain since then is on the counter, but what fell before it in the same step
        # is lost. It is taken as none only if the counter stood still in the hour before.
        still = pd.Series(added).shift(1).rolling(max(1, 60 // every_min)).max().to_numpy() == 0
        trusted = still & (every_min <= _SHORT_STEP_MIN)
        added[reset] = np.where(trusted[reset], values[reset], np.nan)
        warnings.append(
            f"the rain counter was reset {int(reset.sum())} times; in "
            f"{int((reset & np.isnan(added)).sum())} of them the rain of that row is unknown"
        )
    return added


def _hourly(
    frame: pd.DataFrame, hours: pd.DatetimeIndex, mapping: Mapping
) -> tuple[dict[str, FloatArray], dict[str, np.ndarray]]:
    """Return hourly columns, and where readings were too few for one."""
    rows = 60 // mapping.every
    grouped = frame.groupby(hours)
    count = grouped.count()
    columns: dict[str, FloatArray] = {}
    partial: dict[str, np.ndarray] = {}
    for name in frame.columns:
        needed = rows if name == "rain_mm" else max(1, int(np.ceil(rows * mapping.required_share)))
        enough = (count[name] >= needed).to_numpy()
        how = {"rain_mm": "sum", "gust_m_s": "max"}.get(str(name), "mean")
        columns[str(name)] = grouped[name].agg(how).where(enough).to_numpy(dtype=np.float64)
        partial[str(name)] = ~enough & (count[name] > 0).to_numpy()
        if name == "surface_temp_c" and rows > 1:
            for end in ("min", "max"):
                columns[f"surface_temp_{end}_c"] = (
                    grouped[name].agg(end).where(enough).to_numpy(dtype=np.float64)
                )
    return columns, partial


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
        If there is no header with columns.
    """
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
