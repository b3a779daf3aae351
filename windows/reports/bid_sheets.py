"""The tables of a bid, for screen, CSV, workbook and page alike."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from windows.errors import DewgapError
from windows.reports.sheets import Sheet, shown
from windows.seasons.bid_result import SAFE
from windows.seasons.statistics import LEAST_YEARS

if TYPE_CHECKING:
    from windows.reports.sheets import Cell
    from windows.reports.wording import Wording
    from windows.seasons.bid_result import Bid, StartWeek

__all__ = [
    "Asked",
    "bid_notes",
    "bid_sheets",
    "data_line",
    "detail_lines",
    "division_line",
    "first_shift",
    "job_line",
    "screen_columns",
    "screen_rows",
    "start_lines",
    "starts_sheet",
    "strip_sheet",
]  # fmt: skip

_MANY_DAYS = 9999
_LONGEST_HOLIDAY = 60


@dataclass(frozen=True)
class Asked:
    """What is asked: from which day on, to be finished by when, and begun on which day."""

    today: date
    by: date | None = None
    start: date | None = None

    def require_to_come(self, option: str = "") -> None:
        """Refuse a day that is past; ``option`` is what stands before a name, as ``--``.

        >>> asked = Asked(date(2027, 1, 4), by=date(2026, 9, 15))
        >>> asked.require_to_come("--")  # doctest: +ELLIPSIS
        Traceback (most recent call last):
            ...
        cure_models.errors.DewgapError: --by 2026-09-15 is past: today is 2027-01-04; give ...
        """
        for name, day in (("by", self.by), ("start", self.start)):
            if day is not None and day < self.today:
                raise DewgapError(
                    f"{option}{name} {day} is past: today is {self.today}; give a later date, or "
                    f"{option}now"
                )


def bid_sheets(bid: Bid, asked: Asked, words: Wording) -> tuple[Sheet, ...]:
    """Return the sheets of a bid: start weeks, durations by year, and how they were made."""
    return starts_sheet(bid, asked), strip_sheet(bid, asked), _method(bid, asked, words)


def starts_sheet(bid: Bid, asked: Asked) -> Sheet:
    """Return a row for each Monday of the year to come."""
    by = "" if asked.by is None else f" by {asked.by.isoformat()}"
    columns = (
        "start week of", "ISO week", "years", "starts", "finish P50", "finish P80", "finish P90",
        "calendar days P50", "calendar days P80", "P80 low", "P80 high", "calendar days P90",
        "P90 low", "P90 high", *([f"chance to finish{by} [%]"] if by else []),
        "finished before midwinter [%]", "a coat left over winter, no look-ahead [%]",
        "a coat stranded, no look-ahead [%]", "crew-days", "crew-days / workable share [days]",
        "starts still open",
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for monday, week in bid.mondays(asked.today):
        length, finish = week.duration, week.finish
        ends = (length.interval_p80 or (None, None), length.interval_p90 or (None, None))
        chance = () if asked.by is None else (_percent(week.chance_by(monday, asked.by)),)
        rows.append(
            (
                monday, week.number, length.years, length.cases,
                *(_on(monday, days) for days in (finish.p50, finish.p80, finish.p90)),
                length.p50, length.p80, *ends[0], length.p90, *ends[1], *chance,
                _percent(bid.before_winter(monday, week)), _percent(week.leaves_over_winter),
                _percent(week.strands), week.crew_days, week.divided_days, length.still_open,
            )
        )  # fmt: skip
    return Sheet("Start weeks", columns, tuple(rows))


def strip_sheet(bid: Bid, asked: Asked) -> Sheet:
    """Return the longest duration of each year, for every start week; text where it is open."""
    mondays = bid.mondays(asked.today)
    years = np.unique(bid.cases.year).tolist()
    rows: list[tuple[Cell, ...]] = []
    for monday, week in mondays:
        found = {year: (days, is_open) for year, days, is_open in week.by_year()}
        told = [found.get(year) for year in years]
        rows.append(
            (
                monday,
                *(None if each is None else f"over {each[0]}" if each[1] else each[0]
                  for each in told),
            )
        )  # fmt: skip
    return Sheet("Days by year", ("start week of", *map(str, years)), tuple(rows))


def screen_columns(asked: Asked) -> tuple[str, ...]:
    """Return the columns of `screen_rows`."""
    chance = () if asked.by is None else (f"by {shown(asked.by)}",)
    return (
        "start week of", "years", "open", "finish P50", "finish P80", "finish P90", "days P50",
        "days P80 (5-95 %)", "days P90 (5-95 %)", *chance, "before midwinter",
        "left over winter", "stranded", "crew-days", "divided",
    )  # fmt: skip


def screen_rows(bid: Bid, asked: Asked) -> list[list[str]]:
    """Return the cells of the start weeks for a screen."""
    rows = []
    for monday, week in bid.mondays(asked.today):
        finish, length = week.finish, week.duration
        chance = [] if asked.by is None else [_share(week.chance_by(monday, asked.by))]
        rows.append(
            [
                _date(monday), str(length.years), f"{length.still_open} of {length.cases}",
                *(
                    _date(_on(monday, days), beside=monday)
                    for days in (finish.p50, finish.p80, finish.p90)
                ),
                _days(length.p50), _with_interval(length.p80, length.interval_p80),
                _with_interval(length.p90, length.interval_p90), *chance,
                _share(bid.before_winter(monday, week)), _share(week.leaves_over_winter),
                _share(week.strands),
                _number(week.crew_days), _number(week.divided_days),
            ]
        )  # fmt: skip
    return rows


def job_line(bid: Bid, words: Wording) -> str:
    """Return what is laid: area, parts, layers."""
    area = sum(piece.area_m2 for piece in bid.pieces)
    count, layers = len(bid.pieces), len(bid.system.layers)
    return (
        f"{words.value(area, 'area')} in {count} part{'s' * (count > 1)}, "
        f"{layers} layer{'s' * (layers > 1)}, one crew"
    )


def data_line(bid: Bid) -> str:
    """Return what the figures rest on."""
    told = bid.hours.provenance
    years = np.unique(bid.cases.day.astype("datetime64[Y]").astype(np.int64)) + 1970
    text = (
        f"{told.source}, {told.place}: starts in {years.size} year{'s' * (years.size > 1)} "
        f"({years[0]}-{years[-1]}), {bid.known:.1%} of crew hours known"
    )
    if bid.left_out:
        count = len(bid.left_out)
        text += (
            f", {count} month{'s' * (count > 1)} left out: a start is followed up to the next such"
        )
    return text


def start_lines(bid: Bid, asked: Asked) -> list[str]:
    """Return the best and the last safe start, a line each."""
    best = bid.best_start(asked.today)
    if best is None:
        return ["In no start week a percentile of the finish is known: there is no best start."]
    monday, week = best
    told, days = ("P80", week.duration.p80) if week.duration.p80 is not None else (
        "P50", week.duration.p50
    )  # fmt: skip
    lines = [f"Best start: week of {_date(monday)} {monday.year}, {told} {days} calendar days."]
    last = bid.last_safe_start(asked.today, asked.by)
    aim = "before midwinter" if asked.by is None else f"by {_date(asked.by)} {asked.by.year}"
    least = LEAST_YEARS[0.8]
    if max(week.duration.years for week in bid.weeks) < least:
        lines.append(f"Last safe start: not told from fewer than {least} years.")
    elif last is None:
        lines.append(f"Last safe start: none finishes {aim} with a chance of {SAFE:.0%}.")
    else:
        lines.append(
            f"Last safe start: week of {_date(last)} {last.year}, finished {aim} with a chance of "
            f"at least {SAFE:.0%}."
        )
    return lines


def detail_lines(bid: Bid, asked: Asked) -> list[str]:
    """Return what the years say of the start that is asked, a line each."""
    if asked.start is None:
        return []
    start = asked.start
    lines = []
    if (first := first_shift(bid, start)) != start:
        lines.append(
            f"No crew works on {_date(start)} {start.year} (day off or holiday): it begins on "
            f"{_date(first)}."
        )
        start = first
    week = bid.week(start.isocalendar().week)
    if week is None:
        return [*lines, f"No year tells of a start in the week of {_date(start)}."]
    monday = start - timedelta(days=start.weekday())
    length = week.duration
    lines.append(
        f"Start in the week of {_date(monday)} {monday.year}: {length.cases} starts in "
        f"{length.years} year{'s' * (length.years > 1)}"
        + (f", {length.still_open} of them still open where the record ends." if length.still_open
           else ".")
    )  # fmt: skip
    for name, days, ends, finish in (
        ("P50", length.p50, None, week.finish.p50),
        ("P80", length.p80, length.interval_p80, week.finish.p80),
        ("P90", length.p90, length.interval_p90, week.finish.p90),
    ):
        least = LEAST_YEARS[int(name[1:]) / 100]
        if length.years < least:
            lines.append(f"  {name}: not told from fewer than {least} years.")
        elif days is None:
            lines.append(f"  {name}: not known, too many starts are still open.")
        else:
            on = _on(monday, finish)
            told = "" if on is None else f", finished by {_date(on)} {on.year}"
            lines.append(f"  {name}: {_with_interval(days, ends)} calendar days{told}.")
    if asked.by is not None and monday <= asked.by:
        chance = week.chance_by(monday, asked.by)
        lines.append(f"  Chance to finish by {_date(asked.by)} {asked.by.year}: {_share(chance)}.")
    years = "  ".join(
        f"{year}: {'over ' if is_open else ''}{days}" for year, days, is_open in week.by_year()
    )
    lines.append(f"  Longest of each year [days]: {years}")
    lines.append(f"  {division_line(week)}")
    return lines


def first_shift(bid: Bid, day: date) -> date:
    """Return the first day from one on that is no day off, the day itself if there is none."""
    days = (day + timedelta(days=n) for n in range(_LONGEST_HOLIDAY))
    return next((each for each in days if not bid.site.crew.is_day_off(each)), day)


def division_line(week: StartWeek) -> str:
    """Return what crew-days over a share of workable days would be, and that it is wrong."""
    if not np.isfinite(week.crew_days):
        return "No year finishes the job from this week."
    typical = week.duration.p80 if week.duration.p80 is not None else week.duration.p50
    divided = f"{week.crew_days:.0f} crew-days over the share of workable days"
    if np.isnan(week.divided_days):
        promised = f"{divided} cannot be told, for that share is not known"
    elif np.isinf(week.divided_days):
        promised = f"{divided} would never end, for no day is workable"
    else:
        promised = f"{divided} would be {_number(week.divided_days)} calendar days"
    return (
        f"Not this way: {promised}; replayed, the years say {_days(typical)}. The division knows "
        "no runs of bad days, no interval between coats and no end of the season."
    )


def bid_notes() -> tuple[str, ...]:
    """Return what a reader must know of the figures."""
    return (
        "Open: starts that the record does not follow to their finish. Where wet months are the "
        "ones that are not known, the others look better than they are.",
        "Every scheduled day of the years is a start; the crew lays part after part, each in the "
        "earliest hours that those before it leave, with all gates, intervals, moves, work days "
        "and holidays of a plan.",
        "Finish: the last layer is down. P80: 80 % of the starts of that week, of all years, are "
        "finished by then; starts that the record does not follow to the end count as open "
        "(Kaplan and Meier). In brackets 5th to 95th percentile when years are drawn anew 1,000 "
        f"times; P80 needs {LEAST_YEARS[0.8]} years, P90 {LEAST_YEARS[0.9]}.",
        "Left over winter, stranded: chance that a crew which lays whatever is valid, without a "
        "look at the next days, leaves a coat bare over midwinter, or past its deadline.",
        "Divided: crew-days over the share of workable days, the usual mistake; it is shown to be "
        "compared, not to be used.",
    )


def _method(bid: Bid, asked: Asked, words: Wording) -> Sheet:
    rows: list[tuple[Cell, ...]] = [
        ("site", bid.site.name),
        ("system", f"{bid.system.title} ({bid.system.name})"),
        ("job", job_line(bid, words)),
        ("limits", bid.limits),
        ("data", data_line(bid)),
        *(("start", line) for line in (*start_lines(bid, asked), *detail_lines(bid, asked))),
        *(("method", note) for note in bid_notes()),
    ]
    return Sheet("Method", ("what", "text"), tuple(rows))


def _on(monday: date, days: int | None) -> date | None:
    return None if days is None else monday + timedelta(days=days)


def _date(day: date | None, beside: date | None = None) -> str:
    """Return a date, with its year where that is not the one of ``beside``."""
    if day is None:
        return "-"
    year = "" if beside is None or beside.year == day.year else f" {day.year}"
    return f"{day:%b} {day.day}{year}"


def _days(days: int | None) -> str:
    return "-" if days is None else str(days)


def _number(value: float) -> str:
    if not np.isfinite(value):
        return "no end" if value == float("inf") else "-"
    return f"{value:.0f}" if value < _MANY_DAYS else "no end"


def _with_interval(days: int | None, ends: tuple[int | None, int | None] | None) -> str:
    if days is None or ends is None:
        return _days(days)
    low, high = ("open" if end is None else str(end) for end in ends)
    return f"{days} ({low}-{high})"


def _share(value: float) -> str:
    return "-" if not np.isfinite(value) else f"{value:.0%}"


def _percent(value: float) -> float:
    return 100 * value
