"""The page of a bid: how long the job takes by its start, with what chances, year by year."""

from __future__ import annotations

from datetime import date, timedelta
from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import plotly.graph_objects as go

from windows.notes import site_notes
from windows.reports import bid_sheets as sheets
from windows.reports.chart import COLORS, SERIES, figure_html
from windows.reports.document import document, paragraphs, scroll_table
from windows.reports.season_page import style, year_axis

if TYPE_CHECKING:
    from windows.reports.bid_sheets import Asked
    from windows.reports.wording import Wording
    from windows.seasons.bid_result import Bid, StartWeek

__all__ = ["bid_page", "chances_figure", "fan_figure", "starts_told", "winter_figure",
           "years_figure"]  # fmt: skip

_DAY_MS = 86_400_000
_YEAR_PX = 38
_LONGEST_DAYS = 365
_OPEN_NOTE = "Hatched: a start is still open where the record ends, and takes longer than this."
_DASHES = ("solid", "dash", "dot")


def bid_page(bid: Bid, asked: Asked, words: Wording) -> str:
    """Return the page of a bid."""
    told = starts_told(bid, asked)
    shown = told.get("start asked", told.get("best start"))
    finishes = shown is not None and np.isfinite(shown[1].crew_days)
    division = sheets.division_line(shown[1]) if shown is not None and finishes else ""
    details = [line for line in sheets.detail_lines(bid, asked) if line.strip() != division]
    system = bid.system
    body = (
        f"<h2>{escape(bid.site.name)}</h2>"
        + paragraphs((f"Years: {sheets.data_line(bid)}", bid.hours.provenance.attribution), "facts")
        + paragraphs((*site_notes(bid.site, bid.hours), *bid.notes), "note", "Note: ")
        + f"<section><h2>{escape(system.title)} ({escape(system.name)})</h2>"
        + paragraphs([sheets.job_line(bid, words)], "facts")
        + paragraphs(sheets.start_lines(bid, asked), "verdict")
        + paragraphs(details, "told")
        + paragraphs([division], "mistake")
        + "</section><section><h3>How long it takes, by start week</h3>"
        + figure_html(fan_figure(bid, asked))
        + "</section>"
    )
    if told:
        body += (
            "<section><h3>Chance to be finished by a date</h3>"
            + figure_html(chances_figure(bid, asked))
            + "</section>"
        )
    if shown is not None:
        monday, week = shown
        body += (
            f"<section><h3>Longest of each year, start in the week of {_date(monday)}</h3>"
            + paragraphs([_OPEN_NOTE] if week.cases.is_open.any() else [])
            + figure_html(years_figure(week), _YEAR_PX * len(week.by_year()) + 80)
            + "</section>"
        )
    body += (
        "<section><h3>A coat left bare, by a crew that does not look ahead</h3>"
        + figure_html(winter_figure(bid, asked))
        + "</section><section><h3>Start weeks</h3>"
        + scroll_table(sheets.screen_columns(asked), sheets.screen_rows(bid, asked))
        + "</section><section><h3>How to read this</h3>"
        + paragraphs(sheets.bid_notes())
        + "</section>"
    )
    return document("Bid", bid.site.name, body)


def starts_told(bid: Bid, asked: Asked) -> dict[str, tuple[date, StartWeek]]:
    """Return the Monday and week of the best start, the one that is asked, and the last safe one.

    Those that there are; a start on a day off begins on the next day of work.
    """
    found: dict[str, tuple[date, StartWeek] | None] = {"best start": bid.best_start(asked.today)}
    if asked.start is not None:
        begin = sheets.first_shift(bid, asked.start)
        found["start asked"] = _week(bid, begin - timedelta(days=begin.weekday()))
    last = bid.last_safe_start(asked.today, asked.by)
    found["last safe start"] = None if last is None else _week(bid, last)
    return {name: each for name, each in found.items() if each is not None}


def _week(bid: Bid, monday: date) -> tuple[date, StartWeek] | None:
    week = bid.week(monday.isocalendar().week)
    return None if week is None else (monday, week)


def fan_figure(bid: Bid, asked: Asked) -> go.Figure:
    """Return the calendar days that the job takes by start week: P50, P80 with interval, P90."""
    mondays = bid.mondays(asked.today)
    figure = go.Figure()
    known = [
        days for told in (week.duration for _, week in mondays)
        for days in (told.p50, told.p80, told.p90, *(told.interval_p80 or ())) if days is not None
    ]  # fmt: skip
    top = max(known, default=100) * 1.08
    _fan_intervals(figure, mondays, top)
    _fan_lines(figure, mondays)
    if asked.by is not None:
        _days_left(figure, mondays, asked.by)
    style(figure, 520)
    _start_axis(figure, [day for day, _ in mondays])
    figure.update_yaxes(title="calendar days to the finish", range=[0, top])
    if not known:
        _say(figure, "not known: too many starts are still open")
    _mark_starts(figure, starts_told(bid, asked), [day for day, _ in mondays])
    return figure


def _fan_intervals(figure: go.Figure, mondays: list[tuple[date, StartWeek]], top: float) -> None:
    """Draw the interval of each week's P80, hatched to the top where its end is open."""
    spans = [
        (day, told[0], told[1])
        for day, week in mondays
        if (told := week.duration.interval_p80) is not None and told[0] is not None
    ]
    for name, is_open, pattern in (("P80, 5-95 %", False, ""), ("P80, 5 % to open end", True, "/")):
        mine = [span for span in spans if (span[2] is None) == is_open]
        if not mine:
            continue
        figure.add_trace(
            go.Bar(
                x=[day for day, _, _ in mine], base=[low for _, low, _ in mine],
                y=[(top if high is None else high) - low for _, low, high in mine],
                width=6.6 * _DAY_MS, name=name, hoverinfo="skip",
                marker={"color": "#c9dbe2", "line": {"width": 0},
                        "pattern": {"shape": pattern, "fgcolor": COLORS["window"]}},
            )
        )  # fmt: skip


def _fan_lines(figure: go.Figure, mondays: list[tuple[date, StartWeek]]) -> None:
    """Draw a line for each percentile that some week has."""
    for name, color, dash, symbol in (
        ("P50", COLORS["limit"], "dot", "diamond"),
        ("P80", COLORS["window"], "solid", "circle"),
        ("P90", COLORS["surface"], "dash", "square"),
    ):
        values = [getattr(week.duration, name.lower()) for _, week in mondays]
        if all(value is None for value in values):
            continue
        ends = [getattr(week.finish, name.lower()) for _, week in mondays]
        figure.add_trace(
            go.Scatter(
                x=[day for day, _ in mondays], y=values, mode="lines+markers", name=name,
                connectgaps=False, line={"color": color, "dash": dash, "width": 2},
                marker={"symbol": symbol, "size": 5},
                hovertext=[
                    "" if end is None else
                    f"start week of {_date(day)}<br>{name}: {value} calendar days, "
                    f"finished by {_date(day + timedelta(days=end))}"
                    for (day, _), value, end in zip(mondays, values, ends, strict=True)
                ],
                hoverinfo="text",
            )
        )  # fmt: skip


def _days_left(figure: go.Figure, mondays: list[tuple[date, StartWeek]], by: date) -> None:
    """Draw the days that are left from each Monday to a date."""
    left = [(day, (by - day).days + 1) for day, _ in mondays if day <= by]
    figure.add_trace(
        go.Scatter(
            x=[day for day, _ in left], y=[days for _, days in left], mode="lines",
            name=f"days left to {_date(by)}",
            line={"color": COLORS["risk"], "width": 2, "dash": "longdashdot"},
            hovertemplate=f"%{{y}} days from this Monday to {_date(by)}<extra></extra>",
        )
    )  # fmt: skip


def _mark_starts(
    figure: go.Figure, told: dict[str, tuple[date, StartWeek]], mondays: list[date]
) -> None:
    """Draw a line for each start that is told of, its name in a row of its own below the axis."""
    shapes, labels = [], []
    here = [(name, day) for name, (day, _) in told.items() if day in mondays]
    for n, (name, day) in enumerate(here):
        early = mondays.index(day) < len(mondays) / 2
        shapes.append(
            {"type": "line", "xref": "x", "yref": "paper", "x0": day, "x1": day, "y0": 0,
             "y1": 1, "line": {"color": COLORS["ink"], "width": 1, "dash": _DASHES[n % 3]}}
        )  # fmt: skip
        labels.append(
            {"xref": "x", "yref": "paper", "x": day, "y": 0, "yshift": -78 - 18 * n,
             "text": f"{'▲ ' if early else ''}{name} {_date(day)}"
                     f"{'' if early else ' ▲'}",
             "showarrow": False, "xanchor": "left" if early else "right",
             "xshift": -6 if early else 6, "yanchor": "middle", "font": {"size": 12}}
        )  # fmt: skip
    figure.update_layout(shapes=shapes, margin_b=72 + 18 * len(here))
    figure.update_layout(annotations=[*figure.layout.annotations, *labels])


def chances_figure(bid: Bid, asked: Asked) -> go.Figure:
    """Return the chance to be finished by each date, for the starts that are told of."""
    figure = go.Figure()
    told = sorted(starts_told(bid, asked).items(), key=lambda item: item[1][0])
    for n, (day, group) in enumerate(groupby(told, key=lambda item: item[1][0])):
        same = list(group)
        week = same[0][1][1]
        days = np.append(0, week.finishes.days)
        share = 100 * np.append(0.0, week.finishes.share_by_day())
        followed = min(_followed(week), _LONGEST_DAYS)
        if followed > days[-1]:
            days, share = np.append(days, followed), np.append(share, share[-1])
        name = f"{' and '.join(name for name, _ in same)}, week of {_date(day)}"
        figure.add_trace(
            go.Scatter(
                x=[day + timedelta(days=int(each)) for each in days], y=share, mode="lines",
                name=name, customdata=days + 1,
                line={"shape": "hv", "width": 2.5, "color": SERIES[n], "dash": _DASHES[n]},
                hovertemplate="%{y:.0f} % finished by %{x|%b %-d %Y}, within %{customdata} days "
                "from the Monday<extra></extra>",
            )
        )  # fmt: skip
    style(figure, 440)
    if asked.by is not None:
        figure.update_layout(
            shapes=[{"type": "line", "xref": "x", "yref": "paper", "x0": asked.by, "x1": asked.by,
                     "y0": 0, "y1": 1, "line": {"color": COLORS["risk"], "width": 2,
                                                "dash": "longdashdot"}}],
            annotations=[{"xref": "x", "yref": "paper", "x": asked.by, "y": 0.02, "yanchor":
                          "bottom", "xanchor": "left", "xshift": 4, "showarrow": False,
                          "text": f"finish by {_date(asked.by)}", "bgcolor": "white",
                          "font": {"size": 12, "color": COLORS["risk"]}}],
        )  # fmt: skip
    figure.update_xaxes(title="date", type="date", tickformat="%b %-d\n%Y", nticks=6)
    figure.update_yaxes(title="chance to be finished, %", range=[-2, 103])
    figure.update_layout(showlegend=True, legend_orientation="v")
    return figure


def _followed(week: StartWeek) -> int:
    """Return the days from the Monday to the end of what is known of the starts of a week."""
    cases = week.cases
    return int((cases.weekday + cases.duration - ~cases.is_open).max())


def years_figure(week: StartWeek) -> go.Figure:
    """Return the longest duration of each year, open ones hatched."""
    told = week.by_year()
    figure = go.Figure()
    for name, is_open, color, pattern in (
        ("finished", False, COLORS["window"], ""), ("still open", True, "#c9dbe2", "/"),
    ):  # fmt: skip
        mine = [(year, days) for year, days, still in told if still == is_open]
        if not mine:
            continue
        figure.add_trace(
            go.Bar(
                x=[str(year) for year, _ in mine], y=[days for _, days in mine], name=name,
                marker={"color": color, "pattern": {"shape": pattern,
                                                    "fgcolor": COLORS["window"]}},
                text=[f">{days}" if is_open else str(days) for _, days in mine],
                textposition="outside", cliponaxis=False, textfont={"size": 12}, textangle=0,
                hovertemplate=f"%{{x}}: {'over ' if is_open else ''}%{{y}} calendar days"
                "<extra></extra>",
            )
        )  # fmt: skip
    style(figure, 340)
    longest = max((days for _, days, _ in told), default=1)
    year_axis(figure, [str(year) for year, _, _ in told])
    figure.update_xaxes(title="year of the start")
    figure.update_yaxes(title="calendar days", range=[0, 1.12 * longest])
    figure.update_layout(showlegend=True)
    return figure


def winter_figure(bid: Bid, asked: Asked) -> go.Figure:
    """Return the chances that a coat is stranded and one left over winter, by start week."""
    mondays = bid.mondays(asked.today)
    figure = go.Figure()
    for name, what, color, dash, symbol in (
        ("left over winter", "leaves_over_winter", COLORS["window"], "solid", "circle-open"),
        ("stranded past its deadline", "strands", COLORS["surface"], "dash", "square"),
    ):
        figure.add_trace(
            go.Scatter(
                x=[day for day, _ in mondays],
                y=[100 * getattr(week, what) for _, week in mondays], mode="lines+markers",
                name=name, connectgaps=False, line={"color": color, "dash": dash, "width": 2},
                marker={"symbol": symbol, "size": 9 if symbol.endswith("open") else 5},
                hovertemplate=f"week of %{{x|%b %-d %Y}}: {name} in %{{y:.0f}} % of the starts"
                "<extra></extra>",
            )
        )  # fmt: skip
    style(figure, 360)
    _start_axis(figure, [day for day, _ in mondays])
    figure.update_yaxes(title="chance, %", range=[-3, 104])
    return figure


def _start_axis(figure: go.Figure, mondays: list[date]) -> None:
    """Give the axis of the start weeks a tick for every other month, which a phone has room for."""
    figure.update_xaxes(
        title="Monday of the start week", type="date", dtick="M2", tickformat="%b\n%Y",
        tickangle=0, tickfont={"size": 11},
    )  # fmt: skip
    if mondays:
        edge = timedelta(days=4)
        figure.update_xaxes(range=[mondays[0] - edge, mondays[-1] + edge])


def _say(figure: go.Figure, text: str) -> None:
    figure.add_annotation(
        xref="paper",
        yref="paper",
        x=0.5,
        y=0.5,
        text=text,
        showarrow=False,
        font={"size": 14},
        bgcolor="white",
    )


def _date(day: date) -> str:
    return f"{day:%b} {day.day} {day.year}"
