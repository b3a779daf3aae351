"""A claim for weather days: the lost days of a period against those that were anticipated.

A day is claimed if the contract counts it, critical work was planned on it, and neither the winter
nor the rule of days in a row takes it out. What a month has beyond its anticipated days is excess.
"""

from __future__ import annotations

import csv
import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor, isnan, nan
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from cure_models.toml_input import read_text
from windows.errors import HoursError
from windows.gates import State, check, margin
from windows.safety import stop_label
from windows.seasons.weather_days import spells, taken_out
from windows.seasons.workable import checks

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.seasons.contract import Contract, Notice
    from windows.seasons.weather_days import Months, WeatherDays

__all__ = [
    "Anticipated", "Cause", "Claim", "ClaimMonth", "LostDay", "OpenDay", "anticipated_of_contract",
    "anticipated_of_years", "begins_in_a_delay", "claim", "given_anticipated", "month_of",
    "read_critical",
]  # fmt: skip

_YES, _NO = frozenset({"yes", "y", "true", "1", "x"}), frozenset({"no", "n", "false", "0", ""})
_LABELS = {
    "hour.rain": "rain in the hour",
    "hour.cold": "air temperature",
    "hour.wind": "mean wind at 10 m",
    "hour.wet": "water on the roof",
    "day.rain": "rain of the day",
    "day.cold": "mean air temperature of the day",
}


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


def month_of(text: str, option: str) -> tuple[date, date]:
    """Return the first and last day of a month such as ``"2026-03"``.

    Raises
    ------
    HoursError
        If the text is no month.
    """
    try:
        first = _date(f"{text}-01")
    except ValueError:
        raise HoursError(f"{option} '{text}' is not a month; write it as 2026-03") from None
    return first, _month_end(first)


def _date(text: str) -> date:
    """Return the day of a text such as ``"2026-03-09"``, of a year that a roof can have."""
    day = date.fromisoformat(text)
    if not 1900 <= day.year <= 2200:
        raise ValueError(text)
    return day


def _month_end(day: date) -> date:
    return day.replace(day=monthrange(day.year, day.month)[1])


def given_anticipated(text: str, option: str) -> Anticipated:
    """Return the twelve numbers of an option, or of the file that it names.

    Raises
    ------
    HoursError
        If there are not twelve whole numbers from 0 to 31.
    """
    told = text if re.fullmatch(r"[\d\s.,;-]*", text) else read_text(Path(text), HoursError)
    words = re.split(r"[\s,;]+", told.strip())
    fitting = [word for word in words if re.fullmatch(r"\d\d?", word) and int(word) <= 31]
    if len(words) != 12 or fitting != words:
        raise HoursError(
            f"{option}: give twelve whole numbers of days, January to December, as in "
            f'"7 8 5 3 4 3 2 2 6 4 6 8"; there are {len(fitting)} of them'
        )
    return Anticipated(tuple(map(int, words)), f"as given with {option}")


def anticipated_of_contract(contract: Contract) -> Anticipated | None:
    """Return the contract's own table, if its file has one."""
    table = contract.anticipated
    return None if table is None else Anticipated(table.days, f"{contract.name}: {table.source}")


def anticipated_of_years(months: Months) -> Anticipated:
    """Return the mean of the days that the contract counts in each month, rounded half up."""
    mine = [months.by_contract[months.month == month] for month in range(1, 13)]
    means = [float(days.mean()) if days.size else nan for days in mine]
    spans = [days.size for days in mine if days.size]
    least, most = (min(spans), max(spans)) if spans else (0, 0)
    years = f"{most}" if least == most else f"{least} to {most}"
    return Anticipated(
        tuple(None if isnan(mean) else floor(mean + 0.5) for mean in means),
        f"worked out: the mean of {years} years of each month, rounded half up",
    )


def read_critical(path: Path) -> frozenset[date]:
    """Return the days on which critical work was planned, from a CSV with a column ``date``.

    Raises
    ------
    HoursError
        If the file cannot be read, has no such column, or a date that is none.
    """
    rows = csv.reader(read_text(path, HoursError).splitlines())
    found: set[date] = set()
    cell = ""
    try:
        names = [name.strip().lower() for name in next(rows)]
        if "date" not in names:
            raise HoursError(f"{path}: line 1 has no column 'date'; name the columns there")
        for row in rows:
            if any(cell.strip() for cell in row):
                told = dict(zip(names, (cell.strip() for cell in row), strict=False))
                cell = told.get("date", "")
                day = _date(cell)
                if _is_critical(told.get("critical"), f"{path}: line {rows.line_num}"):
                    found.add(day)
    except csv.Error as fault:
        raise HoursError(
            f"{path}: line {rows.line_num} is no CSV ({fault}); mend that line"
        ) from None
    except ValueError:
        raise HoursError(
            f"{path}: line {rows.line_num}: '{cell}' is not a date; write it as 2026-03-09"
        ) from None
    return frozenset(found)


def _is_critical(told: str | None, where: str) -> bool:
    """Read the column ``critical`` of a daily log; a log without it names critical days only."""
    if told is None or told.lower() in _YES:
        return True
    if told.lower() not in _NO:
        raise HoursError(f"{where}: critical is '{told}'; write yes or no")
    return False


def claim(
    weather: WeatherDays,
    first: date,
    last: date,
    anticipated: Anticipated,
    critical: frozenset[date] | None,
) -> Claim:
    """Return the ledger of a period.

    Parameters
    ----------
    weather
        The actual hours, counted by the contract and for the coating.
    first, last
        Local days of the period, both in it.
    anticipated
        What each month was expected to lose.
    critical
        Days on which critical work was planned; None if nobody told: then every contract work day
        is taken as one.

    Raises
    ------
    HoursError
        If the record is a forecast or has no hour of the period, or the anticipated days of a month
        are not known.
    """
    days, told = weather.days, weather.job.hours.provenance
    if told.issued is not None:
        raise HoursError(
            f"{told.place}: is a forecast, issued {told.issued:%Y-%m-%d %H:%M} UTC, and shows no "
            "day that was; give the hours that were"
        )
    dates: list[date] = days.date.tolist()
    inside = np.array([first <= day <= last for day in dates], dtype=bool)
    in_record = days.by_date(np.ones(days.day.shape, dtype=bool)) > 0
    held = np.flatnonzero(in_record)
    begins, ends = dates[held[0]], dates[held[-1]]
    if first < begins or last > ends:
        raise HoursError(
            f"{told.place}: the record holds {begins} to {ends}, not all of {first} to {last}; "
            "name days inside it with --from and --to, or give a longer record"
        )
    work = inside & days.scheduled
    planned = np.array([critical is None or day in critical for day in dates], dtype=bool)
    counted = days.scheduled & (weather.counted == State.BLOCKED)
    out = taken_out(weather, None if critical is None else planned).tolist()
    notices = _notices(weather, dates, counted & planned)
    judged = weather.counted != State.UNKNOWN
    lost = work & (counted | (judged & (weather.lost == State.BLOCKED)))
    not_known = work & ~lost & (~judged | (weather.lost == State.UNKNOWN))
    return Claim(
        weather, first, last, anticipated, critical is not None,
        tuple(
            LostDay(
                dates[n], bool(counted[n]), _known(weather.lost[n]), bool(planned[n]), out[n],
                _contract_cause(weather, n) if counted[n] else _coating_cause(weather, n),
                int(weather.adverse_h[n]), weather.job.site.crew.length_h, notices[n],
            )
            for n in np.flatnonzero(lost).tolist()
        ),
        tuple(
            OpenDay(
                dates[n], "the coating" if judged[n] else "the contract's rule"
            )
            for n in np.flatnonzero(not_known).tolist()
        ),
        _ledger(weather, work, counted, planned, out, notices, anticipated, (first, last)),
    )  # fmt: skip


def _known(state: int) -> bool | None:
    return None if state == State.UNKNOWN else bool(state == State.BLOCKED)


def _notices(
    weather: WeatherDays, dates: Sequence[date], delays: NDArray[np.bool_]
) -> list[date | None]:
    """Return the last day for notice of each delayed day, the sooner where that is not known.

    A day that is not known may go on with a delay: it does not begin a new one, nor put off its
    end.
    """
    found: list[date | None] = [None] * len(dates)
    rule = weather.contract.notice
    if rule is None:
        return found
    goes_on = delays | (weather.days.scheduled & (weather.counted == State.UNKNOWN))
    for whole in spells(weather, goes_on, 1):
        delayed = whole[delays[whole]]
        for spell in spells(weather, delays & np.isin(np.arange(len(dates)), delayed), 1):
            for n in spell.tolist():
                found[n] = _due(rule, dates[n], dates[delayed[0]], dates[spell[-1]])
    return found


def begins_in_a_delay(claim: Claim) -> bool:
    """Tell whether the first work day of the record is a delayed one."""
    weather = claim.weather
    rows = weather.days.shift[weather.days.shift >= 0]
    rule = weather.contract.notice
    begun = rule is not None and rule.after == "delay_begin" and rows.size > 0
    return begun and bool(weather.counted[rows[0]] != State.OK)


def _due(rule: Notice, day: date, begin: date, end: date) -> date:
    since = {
        "day": day, "delay_begin": begin, "delay_end": end, "month_end": _month_end(day),
    }[rule.after]  # fmt: skip
    return since + timedelta(days=rule.days)


def _ledger(
    weather: WeatherDays,
    work: NDArray[np.bool_],
    counted: NDArray[np.bool_],
    planned: NDArray[np.bool_],
    out: Sequence[str],
    notices: Sequence[date | None],
    anticipated: Anticipated,
    span: tuple[date, date],
) -> tuple[ClaimMonth, ...]:
    contract, days = weather.contract, weather.days
    claimable = counted & np.array([not reason for reason in out], dtype=bool)
    in_span = (days.date >= np.datetime64(span[0])) & (days.date <= np.datetime64(span[1]))
    months = []
    for key in np.unique((days.year * 100 + days.month)[in_span]).tolist():
        year, month = divmod(key, 100)
        here = work & (days.year == year) & (days.month == month)
        expected = anticipated.days[month - 1]
        if expected is None:
            raise HoursError(
                f"no year of the record counts for month {month}, so its anticipated days are not "
                "known; give --anticipated, or a fuller record"
            )
        excess = max(0, int((here & claimable).sum()) - expected)
        factor = contract.calendar_days
        begin = date(year, month, 1)
        due = [notices[n] for n in np.flatnonzero(here & counted & planned).tolist()]
        months.append(
            ClaimMonth(
                year=year,
                month=month,
                whole=span[0] <= begin and _month_end(begin) <= span[1],
                scheduled=int(here.sum()),
                lost=int((here & counted).sum()),
                critical=int((here & counted & planned).sum()),
                claimable=int((here & claimable).sum()),
                anticipated=expected,
                excess=excess,
                calendar_days=None if factor is None else factor.of(excess, contract.week),
                notice=min((each for each in due if each is not None), default=None),
            )
        )
    return tuple(months)


def _contract_cause(weather: WeatherDays, day: int) -> Cause:
    """Return the contract's limit that decided a counted day: of the day, else of most hours."""
    rows = np.flatnonzero(weather.days.shift == day)
    own = np.flatnonzero(weather.days.day == day)
    found = []
    for key, each in weather.measured.items():
        limit, by_day = each.limit, key.startswith("day.")
        if by_day and each.states[day] == State.BLOCKED:
            hours, value = rows.size, float(each.amounts[day])
            rain = weather.job.conditions.rain_mm[own]
            at = None if limit.below else own[_worst(rain, below=False)]
        elif not by_day and (each.states[rows] == State.BLOCKED).any():
            hours = int((each.states[rows] == State.BLOCKED).sum())
            at = rows[_worst(each.amounts[rows], below=limit.below)]
            value = float(each.amounts[at])
        else:
            continue
        found.append(
            Cause(
                key, _LABELS[key], limit.dimension, value, limit.limit,
                _bad(below=limit.below, at_limit=limit.inclusive),
                None if at is None else weather.job.hours.index[at], hours,
            )
        )  # fmt: skip
    return max(found, key=lambda cause: cause.hours)


def _coating_cause(weather: WeatherDays, day: int) -> Cause:
    """Return the gate or stop that blocks most hours of a lost day's shift."""
    job = weather.job
    rows = np.flatnonzero(weather.days.shift == day)
    blocked = {
        name: rows[states[rows] == State.BLOCKED] for name, states in sorted(checks(job).items())
    }
    name = max(blocked, key=lambda each: blocked[each].size)
    hours = blocked[name]
    if not hours.size:
        return Cause(
            "min_window", "shift, against the shortest window", "time", float(rows.size),
            float(job.coating.min_window_h), "below", None, rows.size,
        )  # fmt: skip
    gate = next((each for each in job.coating.gates if each.name == name), None)
    if gate is None:
        label = stop_label(name.removeprefix("safety_"))
        return Cause(name, label, "", None, None, "", job.hours.index[hours[0]], hours.size)
    values = job.conditions.quantity(gate.rule.quantity)
    if name in job.checked.hold_ends:
        # The first hour that breaks the hold of the first coat of the day.
        reach = slice(int(hours[0]), max(int(job.checked.hold_ends[name][hours[0]]), hours[0] + 1))
        broken = np.flatnonzero(check(values[reach], gate) == State.BLOCKED)
        at = int(hours[0] + broken[0])
    else:
        at = int(hours[np.nanargmin(margin(values[hours], gate))])
    bad = _bad(below=gate.rule.sense == "min", at_limit=not gate.rule.inclusive)
    return Cause(
        name, gate.rule.label, gate.rule.dimension, float(values[at]), gate.limit, bad,
        job.hours.index[at], hours.size,
    )  # fmt: skip


def _worst(values: FloatArray, *, below: bool) -> int:
    """Return the place of the lowest, or highest, known value; one is known."""
    return int(np.nanargmin(values) if below else np.nanargmax(values))


def _bad(*, below: bool, at_limit: bool) -> str:
    return f"{'at or ' if at_limit else ''}{'below' if below else 'above'}"
