"""A claim for weather days: the lost days of a period against those that were anticipated.

A day is claimed if the contract counts it, critical work was planned on it, and neither the winter
nor the rule of days in a row takes it out. What a month has beyond its anticipated days is excess.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from windows.errors import HoursError
from windows.gates import State
from windows.seasons.claim_causes import coating_cause, contract_cause
from windows.seasons.claim_input import month_end
from windows.seasons.claim_result import Anticipated, Claim, ClaimMonth, LostDay, OpenDay
from windows.seasons.weather_days import spells, taken_out

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from windows.seasons.contract import Notice
    from windows.seasons.weather_days import WeatherDays

__all__ = ["begins_in_a_delay", "claim"]


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
    _require_record(weather, first, last)
    days = weather.days
    dates: list[date] = days.date.tolist()
    inside = np.array([first <= day <= last for day in dates], dtype=bool)
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
                contract_cause(weather, n) if counted[n] else coating_cause(weather, n),
                int(weather.adverse_h[n]), weather.job.site.crew.length_h, notices[n],
            )
            for n in np.flatnonzero(lost).tolist()
        ),
        tuple(
            OpenDay(dates[n], "the coating" if judged[n] else "the contract's rule")
            for n in np.flatnonzero(not_known).tolist()
        ),
        _ledger(weather, work, counted, planned, out, notices, anticipated, (first, last)),
    )  # fmt: skip


def _require_record(weather: WeatherDays, first: date, last: date) -> None:
    """Refuse hours that are a forecast, or that do not hold the whole period."""
    days, told = weather.days, weather.job.hours.provenance
    if told.is_forecast or told.issued is not None:
        issued = "" if told.issued is None else f", issued {told.issued:%Y-%m-%d %H:%M} UTC,"
        raise HoursError(
            f"{told.place}: is a forecast{issued} and shows no day that was; give the hours that "
            "were"
        )
    dates: list[date] = days.date.tolist()
    in_record = days.by_date(np.ones(days.day.shape, dtype=bool)) > 0
    held = np.flatnonzero(in_record)
    begins, ends = dates[held[0]], dates[held[-1]]
    if first < begins or last > ends:
        raise HoursError(
            f"{told.place}: the record holds {begins} to {ends}, not all of {first} to {last}; "
            "name days inside it with --from and --to, or give a longer record"
        )


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
        "day": day, "delay_begin": begin, "delay_end": end, "month_end": month_end(day),
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
                whole=span[0] <= begin and month_end(begin) <= span[1],
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
