"""The ledger of a claim as rows of text, as CSV and as plain dictionaries for JSON."""

from __future__ import annotations

from calendar import month_abbr
from typing import TYPE_CHECKING, Any

from windows.reports.as_json import utc_text, weather_dict
from windows.reports.sheets import Sheet, sheet_csv
from windows.reports.weather_days_table import contract_dict
from windows.reports.wording import Wording
from windows.safety import GOVERNS
from windows.seasons.claim import begins_in_a_delay
from windows.seasons.contract import CONTRACT_GOVERNS

if TYPE_CHECKING:
    from datetime import date

    from windows.reports.sheets import Cell
    from windows.seasons.claim_result import Cause, Claim, ClaimMonth, LostDay

__all__ = [
    "DAY_COLUMNS", "LEDGER_COLUMNS", "cause_text", "claim_csv", "claim_dict", "claim_notes",
    "day_rows", "ledger_rows", "open_text",
]  # fmt: skip

LEDGER_COLUMNS = (
    "month", "work days", "lost", "critical", "claimable", "anticipated", "excess",
    "calendar days", "first notice by",
)  # fmt: skip
DAY_COLUMNS = (
    "day", "by contract", "by coating", "claimable", "adverse", "decided by", "hour", "notice by",
)  # fmt: skip
_CSV_COLUMNS = (
    "date", "weekday", "by_contract", "by_coating", "critical", "claimable", "why_not",
    "adverse_h", "shift_h", "decided_by", "value", "limit", "unit", "lost_where", "hour_local",
    "hour_utc", "hours_lost", "notice_by",
)  # fmt: skip


def ledger_rows(claim: Claim) -> list[list[str]]:
    """Return a row for each month, and the sum of several."""
    rows = [_ledger_row(month) for month in claim.months]
    if len(claim.months) > 1:
        excess = sum(month.excess for month in claim.months)
        factor, week = claim.weather.contract.calendar_days, claim.weather.contract.week
        # Rounded once: the months' own roundings would add up.
        total = "not known" if factor is None else str(factor.of(excess, week))
        rows.append(["all", "", "", "", "", "", str(excess), total, ""])
    return rows


def _ledger_row(month: ClaimMonth) -> list[str]:
    calendar = "not known" if month.calendar_days is None else str(month.calendar_days)
    name = f"{month_abbr[month.month]} {month.year}{'' if month.whole else ' (part)'}"
    counts = (
        month.scheduled, month.lost, month.critical, month.claimable, month.anticipated,
        month.excess,
    )  # fmt: skip
    return [name, *map(str, counts), calendar, _day(month.notice)]


def _day(day: date | None) -> str:
    return "-" if day is None else f"{day:%a %b} {day.day}, {day.year}"


def day_rows(claim: Claim, words: Wording) -> list[list[str]]:
    """Return a row for each lost day."""
    return [
        [
            _day(each.day), "yes" if each.by_contract else "no", _yes(each.by_coating),
            each.out or "yes", _adverse(each, claim),
            cause_text(each.cause, words), _hour(each, words),
            _day(each.notice),
        ]
        for each in claim.days
    ]  # fmt: skip


def _adverse(each: LostDay, claim: Claim) -> str:
    """Return the adverse hours of the shift, "-" by a contract that asks for none."""
    if claim.weather.contract.lost is None:
        return "-"
    return f"{each.adverse_h} of {each.shift_h:g} h"


def _hour(each: LostDay, words: Wording) -> str:
    """Return the hour that decided, with its date where that is not the day itself."""
    at = each.cause.at
    if at is None:
        return "-"
    own = at.tz_convert(words.zone).date() == each.day
    return words.clock(at, at) if own else words.clock(at)


def _yes(answer: bool | None) -> str:
    return "not known" if answer is None else ("yes" if answer else "no")


def cause_text(cause: Cause, words: Wording) -> str:
    """Return what decided: ``"hour.rain: rain in the hour 0.12 in, at or above 0.01 in; 6 h"``."""
    # A limit of the day has no hours of its own.
    cost = "" if cause.name.startswith("day.") else f"; {cause.hours} h"
    if cause.value is None or cause.limit is None:
        return f"{cause.name}: {cause.label}{cost}"
    finer = 1 if cause.dimension in ("temperature", "speed", "water") else 0
    value, limit = (
        words.value(number, cause.dimension, finer=finer) for number in (cause.value, cause.limit)
    )
    label = cause.label.removesuffix(", least").removesuffix(", most")
    return f"{cause.name}: {label} {value}, {cause.bad} {limit}{cost}"


def open_text(claim: Claim) -> str:
    """Return the days that are not known, "" if there are none."""
    told = ", ".join(f"{_day(each.day)} ({each.what})" for each in claim.open_days)
    return f"Not known, and not counted: {told}" if told else ""


def claim_notes(claim: Claim) -> list[str]:
    """Return what a reader must know of the ledger."""
    contract = claim.weather.contract
    notes = [f"Anticipated days: {claim.anticipated.source}."]
    kind = claim.weather.job.hours.provenance.kind
    if kind != "observed":
        notes.append(
            f"The hours are not told to be measured (kind: {kind}): a claim takes those of an "
            "official station near the site."
        )
    if not claim.with_log:
        notes.append(
            "No daily log is given (--critical): every contract work day is taken as one with "
            "critical work. Without a log that names the work, the claim cannot be shown."
        )
    if not all(month.whole for month in claim.months):
        notes.append("A month that is not whole is set against the anticipated days of all of it.")
    if claim.with_log and not any(month.critical for month in claim.months):
        notes.append("The daily log names no lost day of the period as one with critical work.")
    if begins_in_a_delay(claim):
        notes.append(
            "The record begins in a delay, which may have begun before: notice may be due sooner."
        )
    notes.append(
        "Claimable days up to the anticipated ones are in the schedule already; the excess is what "
        "is asked for."
    )
    if contract.calendar_days is None:
        notes.append("Calendar days: the contract file names no factor for working days.")
    if contract.notice is None:
        notes.append("Notice: the contract file names no time; look it up in the contract.")
    if any(not each.by_contract for each in claim.days):
        notes.append(
            "Days that only the coating loses are not in the ledger: the contract's rule does not "
            "count them."
        )
    return notes


def claim_csv(claim: Claim, words: Wording) -> str:
    """Return the lost days, then those that are not known, as CSV."""
    lost = [_csv_row(each, words) for each in claim.days]
    empty = (None,) * (len(_CSV_COLUMNS) - 3)
    known = [(each.day, f"{each.day:%a}", "not known", *empty) for each in claim.open_days]
    rows = sorted([*lost, *known], key=lambda row: str(row[0]))
    return sheet_csv(Sheet("Lost days", _CSV_COLUMNS, tuple(rows)))


def _csv_row(each: LostDay, words: Wording) -> tuple[Cell, ...]:
    cause, at = each.cause, each.cause.at
    local = None if at is None else at.tz_convert(words.zone).isoformat()
    return (
        each.day, f"{each.day:%a}", _yes(each.by_contract), _yes(each.by_coating),
        _yes(each.critical), _yes(not each.out), each.out, each.adverse_h, each.shift_h, cause.name,
        cause.value, cause.limit, _unit(cause), cause.bad, local, utc_text(at), cause.hours,
        each.notice,
    )  # fmt: skip


def _unit(cause: Cause) -> str:
    """Return the SI unit of a cause's value, "" without one."""
    return "" if cause.value is None else Wording("si").unit(cause.dimension)


def claim_dict(claim: Claim) -> dict[str, Any]:
    """Return the ledger, its days and what it rests on."""
    job = claim.weather.job
    return {
        "site": job.site.name,
        "timezone": job.site.zone.key,
        "coating": job.coating.name,
        "contract": contract_dict(claim.weather.contract),
        "from": claim.first.isoformat(),
        "to": claim.last.isoformat(),
        "anticipated": {
            "days": list(claim.anticipated.days),
            "source": claim.anticipated.source,
        },
        "daily_log": claim.with_log,
        "months": [
            {
                "month": f"{month.year}-{month.month:02d}",
                "whole": month.whole,
                "scheduled": month.scheduled,
                "lost": month.lost,
                "critical": month.critical,
                "claimable": month.claimable,
                "anticipated": month.anticipated,
                "excess": month.excess,
                "calendar_days": month.calendar_days,
                "notice_by": _iso(month.notice),
            }
            for month in claim.months
        ],
        "days": [
            {
                "date": each.day.isoformat(),
                "by_contract": each.by_contract,
                "by_coating": each.by_coating,
                "critical": each.critical,
                "claimable": not each.out,
                "why_not": each.out or None,
                "decided_by": each.cause.name,
                "label": each.cause.label,
                "value": each.cause.value,
                "limit": each.cause.limit,
                "unit": _unit(each.cause) or None,
                "adverse_h": each.adverse_h,
                "shift_h": each.shift_h,
                "lost_where": each.cause.bad or None,
                "hour": utc_text(each.cause.at),
                "hours_lost": each.cause.hours,
                "notice_by": _iso(each.notice),
            }
            for each in claim.days
        ],
        "not_known": [
            {"date": each.day.isoformat(), "what": each.what} for each in claim.open_days
        ],
        "notes": claim_notes(claim),
        "weather": weather_dict(job.hours),
        "governs": [CONTRACT_GOVERNS, GOVERNS],
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
