"""The tables of a season, for screen, CSV, workbook and page alike."""

from __future__ import annotations

from calendar import month_abbr
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from windows.reports.sheets import Sheet, shown
from windows.seasons.days import ENOUGH
from windows.seasons.season import STRETCH_DAYS, nominal_date, season_start_month

if TYPE_CHECKING:
    from windows.reports.sheets import Cell
    from windows.reports.wording import Wording
    from windows.seasons.season import PartOfYear, Season
    from windows.seasons.statistics import Spread, Trend

__all__ = [
    "SCREEN_COLUMNS", "data_line", "in_season_order", "left_out_line", "method_sheet",
    "months_sheet", "practical_line", "screen_rows", "season_notes", "season_sheets", "span_of",
    "trend_line", "trends", "weeks_sheet", "year_months",
]  # fmt: skip

_SPREAD = ("mean", "P20", "P50", "P80")


def season_sheets(season: Season, words: Wording) -> tuple[Sheet, ...]:
    """Return the sheets of a season: months, weeks, years by month, and how they were made."""
    return (
        months_sheet(season), weeks_sheet(season), year_months(season), method_sheet(season, words)
    )  # fmt: skip


def months_sheet(season: Season) -> Sheet:
    """Return the months: workable days, valid hours, what costs most."""
    columns = (
        "month", "work days", *(f"workable days {name}" for name in _SPREAD),
        *(f"valid hours {name}" for name in _SPREAD), "years", "left out", "crew hours known [%]",
        "costs most", "crew hours lost to it [%]", "to it alone [%]",
    )  # fmt: skip
    rows = []
    for part in in_season_order(season):
        cost = part.costs[0] if part.costs and part.years else None
        rows.append(
            (
                month_abbr[part.number], *_part(part), len(part.years), len(part.left_out),
                100 * part.known, *(
                    (None, None, None) if cost is None
                    else (cost.name, 100 * cost.blocked, 100 * cost.alone)
                ),
            )
        )  # fmt: skip
    return Sheet("Months", columns, tuple(rows))


def weeks_sheet(season: Season) -> Sheet:
    """Return the ISO weeks: workable days and valid hours."""
    columns = (
        "ISO week", "work days", *(f"workable days {name}" for name in _SPREAD),
        *(f"valid hours {name}" for name in _SPREAD), "years", "left out", "crew hours known [%]",
    )  # fmt: skip
    rows = [
        (part.number, *_part(part), len(part.years), len(part.left_out), 100 * part.known)
        for part in season.weeks
    ]
    return Sheet("Weeks", columns, tuple(rows))


def year_months(season: Season) -> Sheet:
    """Return the workable days of every month of every year; empty where a month does not count."""
    days = season.days.days
    periods = days.months()
    counts = periods.counts(season.days.known, days.crew_hours)
    workable = periods.total(season.days.workable)
    years = np.unique(periods.year[periods.touched]).tolist()
    found = {
        (year, month): int(number)
        for year, month, number, good in zip(
            periods.year.tolist(), periods.number.tolist(), workable, counts, strict=True
        )
        if good
    }
    rows = [(year, *(found.get((year, month)) for month in range(1, 13))) for year in years]
    return Sheet("Years", ("year", *month_abbr[1:]), tuple(rows))


def method_sheet(season: Season, words: Wording) -> Sheet:
    """Return how the season was worked out, and from what."""
    rows: list[tuple[Cell, ...]] = [
        ("site", season.site.name),
        ("coating", f"{season.coating.profile.title} ({season.coating.name})"),
        ("limits", season.coating.limits),
        *(("data", line) for line in (data_line(season), left_out_line(season))),
        ("season", practical_line(season)),
        *(("trend", line) for line in trends(season, words)),
        *(("method", note) for note in season_notes(season)),
    ]
    return Sheet("Method", ("what", "text"), tuple(rows))


SCREEN_COLUMNS = (
    "", "work days", "workable: mean", *_SPREAD[1:], "valid hours: mean", *_SPREAD[1:], "years",
    "known", "costs most",
)  # fmt: skip


def screen_row(part: PartOfYear, name: str) -> list[str]:
    """Return the cells of `SCREEN_COLUMNS` of a month or week."""
    cost = part.costs[0] if part.costs and part.years else None
    costs = "" if cost is None else f"{cost.name} {cost.blocked:.0%} (alone {cost.alone:.0%})"
    spreads = [
        text
        for told in (part.workable, part.valid_hours)
        for text in (shown(told.mean), *(_whole(value) for value in _spread(told)[1:]))
    ]
    out = f" ({len(part.left_out)} left out)" if part.left_out else ""
    return [
        name, shown(part.scheduled), *spreads, f"{len(part.years)}{out}", f"{part.known:.0%}", costs
    ]  # fmt: skip


def _whole(value: float) -> str:
    return f"{value:.0f}" if isfinite(value) else "-"


def screen_rows(season: Season, *, weeks: bool = False) -> list[list[str]]:
    """Return the cells of `SCREEN_COLUMNS` of all months, or all ISO weeks."""
    if weeks:
        return [screen_row(part, f"week {part.number}") for part in season.weeks]
    return [screen_row(part, month_abbr[part.number]) for part in in_season_order(season)]


def trends(season: Season, words: Wording) -> list[str]:
    """Return what changes over the years, a line each."""
    return [
        trend_line("mean air temperature", season.warming, words, "difference"),
        trend_line("workable days a year", season.gaining, words, ""),
    ]


def season_notes(season: Season) -> tuple[str, ...]:
    """Return what a reader must know of the figures."""
    return (
        "A workable day is a scheduled day whose shift holds at least "
        f"{season.coating.min_window_h} valid hours in a row: all gates, holds and stops OK.",
        "P80: the value that 8 years in 10 do not exceed; P20 is what to price for working days.",
        f"A month or week counts in a year if {ENOUGH:.0%} of its crew hours are known; hours that "
        "are not known are never workable.",
        f"Practical: half of the scheduled days of {STRETCH_DAYS} days are workable from the first "
        "day on, and up to the last one.",
        "The past is no forecast: each day's own windows, odds and cautions come from dewgap "
        "windows.",
    )


def span_of(season: Season) -> str:
    """Return the years of a record, for example ``"15 years (2011-2025)"``."""
    years = sorted({year for part in season.months for year in part.years})
    if not years:
        return "no year"
    if len(years) == 1:
        return f"1 year ({years[0]})"
    return f"{len(years)} years ({years[0]}-{years[-1]})"


def data_line(season: Season) -> str:
    """Return what the figures rest on."""
    told = season.hours.provenance
    return f"{told.source}, {told.place}: {span_of(season)}, {season.known:.1%} of crew hours known"


def left_out_line(season: Season) -> str:
    """Return which months do not count."""
    short = season.short_months
    if not short:
        return "no month is left out"
    told = ", ".join(f"{month_abbr[month]} {year}" for year, month in short[:8])
    more = f" and {len(short) - 8} more" if len(short) > 8 else ""
    return f"left out for want of known hours: {told}{more}"


def practical_line(season: Season) -> str:
    """Return the first and the last practical day over the years."""
    if not season.years:
        return "practical season: no year has twelve months that count"
    count = len(season.years)
    years = f"{count} season year{'s' * (count > 1)}"
    if season.never == count:
        return f"practical season: none in {years}"
    first, last = (_dates(each, season) for each in (season.first, season.last))
    text = f"practical season, {years}: first day {first}, last day {last}"
    if season.never:
        text += f"; none in {season.never}"
    broken = sum(year.is_broken for year in season.years)
    if broken:
        text += (
            f"; broken in {broken} of them by {STRETCH_DAYS} days or more of which less than half "
            "are workable: see the months"
        )
    return text


def _dates(told: Spread, season: Season) -> str:
    p50 = f"P50 {_date(told.p50, season)}"
    if not isfinite(told.p20):  # too few years
        return p50
    return f"{p50} (P20 {_date(told.p20, season)}, P80 {_date(told.p80, season)})"


def _date(day: float, season: Season) -> str:
    when = nominal_date(day, season_start_month(season.site))
    return f"{when:%b} {when.day}"


def trend_line(what: str, found: Trend | None, words: Wording, dimension: str) -> str:
    """Return a trend with its standard error, and whether it stands out."""
    if found is None:
        return f"{what}: no trend is told from fewer than five years"

    def value(number: float) -> str:
        return words.value(number, dimension) if dimension else f"{number:.1f} days"

    sign = "+" if found.per_decade >= 0 else ""
    clear = "clear of" if abs(found.per_decade) > 2 * found.error else "not clear of"
    return (
        f"{what}: {sign}{value(found.per_decade)} a decade, standard error {value(found.error)}, "
        f"over {found.years} years ({clear} chance)"
    )


def _part(part: PartOfYear) -> tuple[Cell, ...]:
    return (part.scheduled, *_spread(part.workable), *_spread(part.valid_hours))


def _spread(told: Spread) -> tuple[float, float, float, float]:
    return told.mean, told.p20, told.p50, told.p80


def in_season_order(season: Season) -> list[PartOfYear]:
    """Return the months from the beginning of the season year on."""
    start = season_start_month(season.site)
    return sorted(season.months, key=lambda part: (part.number - start) % 12)
