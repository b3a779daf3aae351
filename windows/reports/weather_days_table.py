"""Weather days as rows of text, as CSV and as plain dictionaries for JSON; contracts as well."""

from __future__ import annotations

from calendar import month_abbr
from math import isfinite
from typing import TYPE_CHECKING, Any

from windows.reports.as_json import known_or_none, weather_dict
from windows.reports.sheets import Sheet, sheet_csv
from windows.safety import GOVERNS
from windows.seasons.contract import CONTRACT_GOVERNS
from windows.seasons.weather_days import FIGURES, UNINSURED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.reports.wording import Wording
    from windows.seasons.contract import Contract, Limit
    from windows.seasons.statistics import Spread
    from windows.seasons.weather_days import MonthOverYears, Months, WeatherDays

__all__ = [
    "MONTH_COLUMNS", "RULE_COLUMNS", "WEATHER_DAYS_NOTE", "contract_dict",
    "left_out_text", "limit_text", "month_rows", "rule_rows", "weather_days_csv",
    "weather_days_dict",
]  # fmt: skip

MONTH_COLUMNS = (
    "month", "years", "work days", "A: contract", "B: coating", "A and B", "B only: priced",
    "of it dry", "A only", "B - A", "A P50/P80", "B P50/P80", "priced P50/P80", "priced mostly for",
)  # fmt: skip
WEATHER_DAYS_NOTE = (
    "A: days that the contract counts and grants; B: days that the coating loses; means over the "
    "years. B only: no claim, it must be in the price; dry: no hour of the day has rain. A only: "
    "counted, yet the coating can be laid. "
    "Of A too only what goes beyond the anticipated days is ever granted: those belong in the "
    "schedule. P80: four years in five lose no more."
)
RULE_COLUMNS = ("rule", "what", "source")
_AFTER = {
    "day": "the day",
    "delay_begin": "the delay begins",
    "delay_end": "the delay ends",
    "month_end": "the end of the month",
}


def month_rows(months: Sequence[MonthOverYears]) -> list[list[str]]:
    """Return a row for each month, and one for the year if every month has years."""
    rows = []
    for month in months:
        if not month.years:
            rows.append([month_abbr[month.number], "0", *["-"] * (len(MONTH_COLUMNS) - 2)])
            continue
        of = month.figures
        rows.append(
            [
                month_abbr[month.number], str(len(month.years)),
                *(f"{of[name].mean:.1f}" for name in _SHOWN),
                *(_percentiles(of[name]) for name in ("counted", "lost", "lost_only")),
                month.mostly,
            ]
        )  # fmt: skip
    if all(month.years for month in months):
        sums = (sum(month.figures[name].mean for month in months) for name in _SHOWN)
        rows.append(["year", "", *(f"{total:.1f}" for total in sums), "", "", "", ""])
    return rows


_SHOWN = (
    "scheduled", "counted", "lost", "both", "lost_only", "lost_dry", "counted_only", UNINSURED,
)  # fmt: skip


def _percentiles(of: Spread) -> str:
    return f"{of.p50:g} / {of.p80:g}" if isfinite(of.p80) else f"{of.p50:g} / -"


def left_out_text(months: Months) -> str:
    """Return which months do not count, "" if all do."""
    if not months.left_out:
        return ""
    named = ", ".join(f"{year}-{month:02d}" for year, month in months.left_out[:12])
    more = len(months.left_out) - 12
    return f"Left out, too few known hours: {named}" + (f" and {more} more" if more > 0 else "")


def limit_text(limit: Limit, words: Wording) -> str:
    """Return a limit as a phrase, for example ``"0.10 in or more"``."""
    value = words.value(limit.limit, limit.dimension)
    if limit.inclusive:
        return f"{value} or {'less' if limit.below else 'more'}"
    return f"{'below' if limit.below else 'more than'} {value}"


def rule_rows(contract: Contract, words: Wording) -> list[list[str]]:
    """Return the rules of a contract, each with its source."""
    rows = [
        ["rule", contract.title, contract.source],
        ["week", f"{contract.week} days", contract.week_source],
    ]
    if contract.lost is not None:
        lost = contract.lost
        share = f"{lost.hours:g} h" if lost.share is None else f"{lost.share:.0%} of the shift"
        what = f"{share} or more" if lost.inclusive else f"more than {share}"
        rows.append(["lost", f"{what} adverse", lost.source])
    labels = {"rain": "rain", "cold": "air", "wind": "wind", "wet": "water on the roof"}
    for key, limit in contract.limits.items():
        scope, name = key.split(".")
        mean = "mean of the day, " if key == "day.cold" else ""
        what = f"{labels[name]} {mean}{limit_text(limit, words)}"
        rows.append([key, f"{what}, in {'an hour' if scope == 'hour' else 'a day'}", limit.source])
    if contract.anticipated is not None:
        table = contract.anticipated
        rows.append(["anticipated", " ".join(map(str, table.days)), table.source])
    if contract.calendar_days is not None:
        days = contract.calendar_days
        what = f"x {days.factor[contract.week - 5]:g}, {days.rounding.replace('_', ' ')}"
        rows.append(["calendar days", what, days.source])
    if contract.winter is not None:
        first, last = (
            f"{month_abbr[month]} {day}"
            for month, day in (contract.winter.first, contract.winter.last)
        )
        unless = ", unless critical work is shown" if contract.winter.unless_critical else ""
        rows.append(["winter", f"nothing {first} to {last}{unless}", contract.winter.source])
    if contract.only_consecutive is not None:
        rule = contract.only_consecutive
        what = f"{rule.days} days or more, from day {rule.from_day} on"
        rows.append(["days in a row", what, rule.source])
    if contract.notice is not None:
        notice = contract.notice
        rows.append(["notice", f"{notice.days} days after {_AFTER[notice.after]}", notice.source])
    return rows


def weather_days_csv(months: Months) -> str:
    """Return every month of every year, those left out with empty figures."""
    figures = [months.figures[name].tolist() for name in FIGURES]
    uninsured = (months.figures["lost"] - months.figures["counted"]).tolist()
    counted = [
        [year, month, "yes", *of]
        for year, month, *of in zip(
            months.year.tolist(), months.month.tolist(), *figures, uninsured, strict=True
        )
    ]
    left_out = [[*key, "no", *[None] * (len(FIGURES) + 1)] for key in months.left_out]
    rows = sorted([*counted, *left_out], key=lambda row: (row[0], row[1]))
    columns = ("year", "month", "counts", *FIGURES, UNINSURED)
    return sheet_csv(Sheet("Weather days", columns, tuple(map(tuple, rows))))


def contract_dict(contract: Contract) -> dict[str, Any]:
    """Return a contract in SI, with its units; the keys are those of its file."""
    units = {"rain": "mm", "cold": "degC", "wind": "m/s", "wet": "mm", "share": "1", "hours": "h"}
    return {**contract.model_dump(exclude_none=True, by_alias=True), "units": units}


def weather_days_dict(
    found: WeatherDays, months: Months, over: Sequence[MonthOverYears]
) -> dict[str, Any]:
    """Return contract, months over the years and months left out."""
    return {
        "site": found.job.site.name,
        "timezone": found.job.site.zone.key,
        "coating": found.job.coating.name,
        "contract": contract_dict(found.contract),
        "figures": {**FIGURES, UNINSURED: "B - A"},
        "months": [
            {
                "month": month.number,
                "years": list(month.years),
                "figures": {
                    name: {
                        "mean": round(of.mean, 4), "p50": of.p50, "p80": known_or_none(of.p80)
                    }
                    for name, of in month.figures.items()
                }
                if month.years
                else {},
                "priced_mostly_for": month.mostly or None,
            }
            for month in over
        ],
        "left_out": [f"{year}-{month:02d}" for year, month in months.left_out],
        "weather": weather_dict(found.job.hours),
        "governs": [CONTRACT_GOVERNS, GOVERNS],
    }
