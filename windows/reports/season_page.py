"""The page of a season: weeks by years, chances of the months, what costs them, and trends."""

from __future__ import annotations

from calendar import month_abbr
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import TYPE_CHECKING

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from windows.notes import site_notes
from windows.reports import season_sheets as sheets
from windows.reports.chart import COLORS, FONT, SCALE, SERIES, figure_html
from windows.reports.document import document, paragraphs, scroll_table
from windows.reports.sheets import shown
from windows.seasons.season import in_nominal_year, season_start_month

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from windows.reports.wording import Wording
    from windows.seasons.season import PartOfYear, Season
    from windows.site import Site

__all__ = [
    "WeekGrid", "costs_figure", "months_figure", "season_page", "style", "week_grid",
    "weeks_figure", "year_axis", "years_figure",
]  # fmt: skip

_WEEKS = 53
_ROW_PX, _COST_PX, _YEAR_PX = 21, 40, 44
_FIRST_COSTS = 3
_FEW_YEARS = 8
_SYMBOLS = ("circle", "square", "diamond", "triangle-up", "x", "star", "pentagon")
_DASHES = ("solid", "dash", "dot")

_NOT_KNOWN, _NO_SHIFT = "?", "·"
_WEEKS_NOTE = (
    "In each cell: workable days of the week, the darker the more. "
    f"{_NOT_KNOWN} on grey: the week does not count, too few of its crew hours are known; "
    f"{_NO_SHIFT} on grey: no shift in it; white: the record has no such week. None of these is a "
    "zero."
)
_COSTS_NOTE = (
    "Of the crew hours of the month, in %: those that the gate or stop blocks, and in brackets "
    "those that it alone blocks. One hour may be blocked by several of them. Shown are the three "
    "that cost most in each month. Empty: no year of the month counts."
)


def season_page(season: Season, words: Wording) -> str:
    """Return the page of a season."""
    profile, coating = season.coating.profile, season.coating
    body = (
        f"<h2>{escape(season.site.name)}</h2>"
        + paragraphs(
            (f"Years: {sheets.data_line(season)}", season.hours.provenance.attribution), "facts"
        )
        + paragraphs(
            (*site_notes(season.site, season.hours), sheets.left_out_line(season)), "note", "Note: "
        )
        + f"<section><h2>{escape(profile.title)} ({escape(coating.name)}, {coating.limits} "
        "limits)</h2>"
        + paragraphs([sheets.practical_line(season)], "verdict")
        + "<h3>Workable days of each week</h3>"
        + paragraphs([_WEEKS_NOTE])
        + figure_html(weeks_figure(season), 1130)
        + "</section><section><h3>Chance of workable days, by month</h3>"
        + figure_html(months_figure(season))
        + "<h3>Months</h3>"
        + _months(season)
        + "</section><section><h3>What costs most</h3>"
        + paragraphs([_COSTS_NOTE])
        + figure_html(costs_figure(season), 820)
        + "</section><section><h3>Year by year</h3>"
        + paragraphs(sheets.trends(season, words))
        + (figure_html(years_figure(season), _YEAR_PX * len(season.years)) if season.years else "")
        + "</section><section><h3>How to read this</h3>"
        + paragraphs(sheets.season_notes(season))
        + "</section>"
    )
    return document("Season", season.site.name, body)


@dataclass(frozen=True)
class WeekGrid:
    """Weeks by season years: arrays of shape (years, 53), columns in the order of the season.

    ``workable``, ``valid`` and ``known`` (a share) are NaN where the record has no such week.
    ``counts`` tells which weeks count; ``scheduled`` are the days with a shift.
    """

    years: list[int]
    weeks: list[int]
    workable: NDArray[np.float64]
    valid: NDArray[np.float64]
    known: NDArray[np.float64]
    scheduled: NDArray[np.float64]
    counts: NDArray[np.bool_]


def week_grid(season: Season) -> WeekGrid:
    """Return the ISO weeks of a season; in the south a season year begins with week 27."""
    days = season.days.days
    found = days.weeks()
    first = 27 if season_start_month(season.site) > 1 else 1
    rows = np.flatnonzero(found.touched)
    year = found.year[rows] - (found.number[rows] < first)
    column = np.where(found.number[rows] < first, _WEEKS, 0) + found.number[rows] - first
    own, weeks = np.unique(year, return_counts=True)
    whole = own[weeks > 1] if (weeks > 1).any() else own  # no row for a week cut off at either end
    years = list(range(int(whole[0]), int(whole[-1]) + 1))
    inside = (year >= years[0]) & (year <= years[-1])
    place = year[inside] - years[0], column[inside]

    def grid(values: NDArray[np.float64] | NDArray[np.int64]) -> NDArray[np.float64]:
        told = np.full((len(years), _WEEKS), np.nan)
        told[place] = values[rows[inside]]
        return told

    crew = found.total(days.crew_hours)
    return WeekGrid(
        years=years,
        weeks=[*range(first, _WEEKS + 1), *range(1, first)],
        workable=grid(found.total(season.days.workable)),
        valid=grid(found.total(season.days.valid)),
        known=grid(found.total(season.days.known) / np.maximum(crew, 1)),
        scheduled=grid(found.total(days.scheduled)),
        counts=grid(found.counts(season.days.known, days.crew_hours).astype(np.int64)) == 1,
    )


def weeks_figure(season: Season) -> go.Figure:
    """Return the heat map of the workable days of each week."""
    grid = week_grid(season)
    names = [_year_name(year, season.site) for year in grid.years]
    x = list(range(_WEEKS))
    told = np.where(grid.counts, grid.workable, np.nan)
    empty = ~np.isnan(grid.workable) & ~grid.counts
    marks = np.where(empty & (grid.scheduled > 0), _NOT_KNOWN, np.where(empty, _NO_SHIFT, ""))
    hover = [[_week_hover(grid, row, column, names[row]) for column in x] for row in
             range(len(names))]  # fmt: skip
    figure = go.Figure(
        go.Heatmap(
            x=x, y=names, z=np.where(empty, 0.0, np.nan), text=marks, texttemplate="%{text}",
            colorscale=[(0, COLORS["shift"]), (1, COLORS["shift"])], showscale=False,
            xgap=1, ygap=1, hovertext=hover, hoverinfo="text", hoverongaps=False, name="empty",
            textfont={"size": 11},
        )
    )  # fmt: skip
    most = max(float(np.nanmax(told)) if np.isfinite(told).any() else 1.0, 1.0)
    figure.add_trace(
        go.Heatmap(
            x=x, y=names, z=told, zmin=0, zmax=most, colorscale=SCALE, xgap=1, ygap=1,
            text=[["" if np.isnan(v) else f"{v:.0f}" for v in row] for row in told],
            texttemplate="%{text}", textfont={"size": 11},
            hovertext=hover, hoverinfo="text", hoverongaps=False, name="workable days",
            showscale=False,
        )
    )  # fmt: skip
    style(figure, max(len(names), 4) * _ROW_PX + 82)
    figure.update_xaxes(
        title="ISO week, and the month that it begins", tickvals=x, tickangle=0,
        ticktext=_week_ticks(grid.weeks), range=[-0.5, _WEEKS - 0.5], showgrid=False,
    )  # fmt: skip
    figure.update_yaxes(
        title="season year", type="category", autorange="reversed", showgrid=False, dtick=1,
    )  # fmt: skip
    return figure


def _week_hover(grid: WeekGrid, row: int, column: int, year: str) -> str:
    """Return what a cell tells, nothing for a week that the record does not touch."""
    if np.isnan(grid.workable[row, column]):
        return ""
    where = f"week {grid.weeks[column]}, season year {year}"
    known = f"{grid.known[row, column]:.0%} of crew hours known"
    scheduled = f"{grid.scheduled[row, column]:.0f}"
    if grid.scheduled[row, column] == 0:
        return f"{where}<br>no shift"
    if not grid.counts[row, column]:
        return f"{where}<br>does not count: {known}"
    return (
        f"{where}<br>{grid.workable[row, column]:.0f} of {scheduled} work days workable<br>"
        f"{grid.valid[row, column]:.0f} valid hours<br>{known}"
    )


def _week_ticks(weeks: list[int]) -> list[str]:
    """Return the numbers of weeks, with a month's name below the first week of each."""
    ticks, last = [], ""
    for week in weeks:
        month = f"{date.fromisocalendar(2020, week, 4):%b}"
        ticks.append(f"{week}" if month == last else f"{week}<br>{month}")
        last = month
    return ticks


def months_figure(season: Season) -> go.Figure:
    """Return, for each month that counts, in which share of years it has at least n workable days.

    Months without a workable day in any year are not shown until they are chosen in the legend.
    """
    table = sheets.year_months(season).rows
    figure = go.Figure()
    most = 1
    never = not season.days.workable.any()
    for n, part in enumerate(sheets.in_season_order(season)):
        values = [row[part.number] for row in table]
        counts = np.array([value for value in values if isinstance(value, int)])
        if not counts.size:
            continue
        most = max(most, int(counts.max()))
        least = np.arange(int(counts.max()) + 2)
        share = 100 * (counts[:, np.newaxis] >= least).mean(axis=0)
        name = month_abbr[part.number]
        figure.add_trace(
            go.Scatter(
                x=least, y=share, mode="lines+markers", name=name,
                visible=True if never or counts.any() else "legendonly",
                line={"shape": "vh", "width": 2, "color": SERIES[n % len(SERIES)],
                      "dash": _DASHES[(n + n // len(SERIES)) % len(_DASHES)]},
                marker={"symbol": _SYMBOLS[n % len(_SYMBOLS)], "size": 8},
                hovertemplate=f"{name}: at least %{{x}} workable days in %{{y:.0f}} % of "
                f"{counts.size} years<extra></extra>",
            )
        )  # fmt: skip
    style(figure, 470)
    figure.update_xaxes(title="at least so many workable days", range=[-0.3, most + 1.3],
                        dtick=1 if most < 8 else None)  # fmt: skip
    figure.update_yaxes(title="share of the years, %", range=[-3, 104])
    return figure


def costs_figure(season: Season) -> go.Figure:
    """Return the crew hours that gates and stops cost, by month."""
    parts = sheets.in_season_order(season)
    counted = [part for part in parts if part.years]
    leading = {cost.name for part in counted for cost in part.costs[:_FIRST_COSTS] if cost.blocked}
    in_all = {name: sum(_blocked(part, name)[0] for part in counted) for name in leading}
    gates = sorted(leading, key=lambda name: (-in_all[name], name))
    shares = np.array(
        [[_blocked(part, name) if part.years else (np.nan, np.nan) for part in parts]
         for name in gates]
    ).reshape(len(gates), len(parts), 2)  # fmt: skip
    text = [
        ["" if np.isnan(of_all) else f"{100 * of_all:.0f} ({100 * alone:.0f})"
         for of_all, alone in row] for row in shares
    ]  # fmt: skip
    figure = go.Figure(
        go.Heatmap(
            x=[month_abbr[part.number] for part in parts], y=gates, z=100 * shares[..., 0],
            zmin=0, zmax=100, colorscale=SCALE, xgap=1, ygap=1, text=text,
            texttemplate="%{text}", textfont={"size": 13}, hoverongaps=False, showscale=False,
            customdata=100 * shares[..., 1],
            hovertemplate="%{x}: %{y} blocks %{z:.0f} % of crew hours, %{customdata:.0f} % alone"
            "<extra></extra>",
        )
    )  # fmt: skip
    style(figure, max(len(gates), 4) * _COST_PX + 70)
    figure.update_xaxes(title="month", type="category", showgrid=False)
    figure.update_yaxes(title="gate or stop", autorange="reversed", type="category", showgrid=False)
    return figure


def _blocked(part: PartOfYear, name: str) -> tuple[float, float]:
    """Return the shares of crew hours that a check blocks, in all and alone."""
    return next((c.blocked, c.alone) for c in part.costs if c.name == name)


def years_figure(season: Season) -> go.Figure:
    """Return the workable days of each season year over its practical season."""
    names = [_year_name(each.year, season.site) for each in season.years]
    begin = season_start_month(season.site)
    figure = make_subplots(rows=2, cols=1, shared_xaxes=True, vertical_spacing=0.06)
    figure.add_trace(
        go.Scatter(
            x=names, y=[each.workable for each in season.years], mode="markers+text",
            text=[str(each.workable) for each in season.years], textposition="top center",
            cliponaxis=False, textfont={"size": 11},
            marker={"size": 9, "color": COLORS["window"]}, name="workable days",
            hovertemplate="%{x}: %{y} workable days<extra></extra>",
        ),
        row=1, col=1,
    )  # fmt: skip
    spans = [
        (name, each.first, each.last, in_nominal_year(each.first, begin),
         in_nominal_year(each.last, begin))
        for name, each in zip(names, season.years, strict=True) if each.first and each.last
    ]  # fmt: skip
    figure.add_trace(
        go.Bar(
            x=[span[0] for span in spans], base=[span[3] for span in spans],
            y=[span[4] - span[3] for span in spans], width=0.5, name="practical season",
            marker={"color": COLORS["window"]}, hoverinfo="text",
            hovertext=[f"{name}: {first:%b} {first.day} {first.year} to {last:%b} {last.day} "
                       f"{last.year}" for name, first, last, _, _ in spans],
        ),
        row=2, col=1,
    )  # fmt: skip
    never = [name for name, each in zip(names, season.years, strict=True) if not each.first]
    figure.add_trace(
        go.Scatter(
            x=never, y=[182] * len(never), mode="text", text=["none"] * len(never),
            textfont={"size": 11}, name="no practical season", hoverinfo="skip",
        ),
        row=2, col=1,
    )  # fmt: skip
    style(figure, 520)
    figure.update_layout(showlegend=False)
    year_axis(figure, names)
    figure.update_xaxes(title="season year", row=2, col=1)
    most = max((each.workable for each in season.years), default=0)
    figure.update_yaxes(title="workable days", range=[0, max(1.15 * most, 8)], row=1, col=1)
    starts = [date(2001 + (m < begin), m, 1) for m in [*range(begin, 13), *range(1, begin)]]
    figure.update_yaxes(
        title="first to last practical day", range=[0, 365], row=2, col=1,
        tickvals=[in_nominal_year(day, begin) for day in starts],
        ticktext=[f"{day:%b} 1" for day in starts],
    )  # fmt: skip
    return figure


def year_axis(figure: go.Figure, names: Sequence[str]) -> None:
    """Give a figure an axis of years, of which few are not drawn broad."""
    spare = max(_FEW_YEARS - len(names), 0) / 2
    figure.update_xaxes(
        type="category", categoryorder="array", categoryarray=names,
        range=[-0.5 - spare, len(names) - 0.5 + spare],
    )  # fmt: skip


def style(figure: go.Figure, height: int) -> None:
    """Give a figure the look of all: white, fixed axes, legend above what it tells of."""
    figure.update_layout(
        height=height, margin={"l": 56, "r": 10, "t": 26, "b": 50}, font=FONT | {"size": 12},
        plot_bgcolor="white", paper_bgcolor="white", dragmode=False, hovermode="closest",
        legend={"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
    )  # fmt: skip
    figure.update_xaxes(fixedrange=True, gridcolor="#eef1f4", zeroline=False)
    figure.update_yaxes(fixedrange=True, gridcolor="#dde3e8", zeroline=False, automargin=True)


def _months(season: Season) -> str:
    sheet = sheets.months_sheet(season)
    return scroll_table(sheet.columns, [[shown(cell) for cell in row] for row in sheet.rows])


def _year_name(year: int, site: Site) -> str:
    """Return a season year's name, of both its calendar years in the south."""
    return str(year) if season_start_month(site) == 1 else f"{year}/{(year + 1) % 100:02d}"
