"""The page of forecast skill: errors and Brier skill by lead, reliability, goes that failed."""

from __future__ import annotations

from html import escape
from math import isfinite
from typing import TYPE_CHECKING

import plotly.graph_objects as go
from plotly.subplots import make_subplots

from windows.notes import weather_notes
from windows.reports import skill_sheets as sheets
from windows.reports.chart import COLORS, SERIES, figure_html
from windows.reports.document import document, paragraphs, scroll_table
from windows.reports.season_page import style

if TYPE_CHECKING:
    from windows.reports.wording import Wording
    from windows.skill.goes import CoatGoes
    from windows.skill.pairs import Kind
    from windows.skill.score import Skill

__all__ = ["errors_figure", "goes_figure", "rain_skill_figure", "reliability_figure", "skill_page"]

_SYMBOLS = ("circle", "square", "diamond", "triangle-up", "x", "star")
_DASHES = ("solid", "dash", "dot")


def skill_page(skill: Skill, words: Wording) -> str:
    """Return the page of forecast skill."""
    observed = skill.observed
    body = (
        f"<h2>{escape(skill.site.name)}</h2>"
        + paragraphs(
            (
                sheets.forecasts_line(skill), f"Observed: {observed.provenance.describe()}",
                observed.provenance.attribution,
            ),
            "facts",
        )
        + paragraphs((*weather_notes(observed), *sheets.left_out_lines(skill)), "note", "Note: ")
        + "<section><h3>Air temperature and dew point: error by lead day</h3>"
        + figure_html(errors_figure(skill, words))
        + scroll_table(sheets.temperature_columns(words), sheets.temperature_rows(skill, words))
        + "</section>"
    )  # fmt: skip
    scored = sheets.kinds(skill)
    if scored:
        body += (
            "<section><h3>Chance of rain: skill by lead day</h3>"
            + paragraphs(["Above 0 it is better than telling the observed share every time"])
            + figure_html(rain_skill_figure(skill, scored))
            + "".join(
                f"<h3>{escape(_titled(kind))}</h3>"
                + scroll_table(sheets.RAIN_COLUMNS, sheets.rain_rows(skill, kind))
                for kind in scored
            )
            + "</section>"
        )
    for kind in scored:
        body += (
            f"<section><h3>{escape(_titled(kind))}: how often it rained where it was told</h3>"
            + figure_html(reliability_figure(skill, kind))
            + scroll_table(sheets.RELIABILITY_COLUMNS, sheets.reliability_rows(skill, kind))
            + "</section>"
        )
    for goes in skill.goes:
        body += (
            f"<section><h3>{escape(goes.title)} ({escape(goes.coating)}): what became of the goes"
            "</h3>"
            + figure_html(goes_figure(goes))
            + scroll_table(sheets.GO_COLUMNS, sheets.go_rows(goes))
            + paragraphs([sheets.broke_line(goes)])
            + "</section>"
        )
    body += (
        "<section><h3>What can be learnt for the next forecasts</h3>"
        + paragraphs(sheets.recalibration_lines(skill, words), "told")
        + "</section><section><h3>How to read this</h3>"
        + paragraphs(sheets.skill_notes())
        + "</section>"
    )
    return document("Forecast skill", skill.site.name, body)


def _titled(kind: Kind) -> str:
    return f"Chance of rain, {sheets.kind_name(kind)}"


def errors_figure(skill: Skill, words: Wording) -> go.Figure:
    """Return the bias of both temperatures by lead day, and below it their mean error.

    A bias has a sign and an error is a size, so each has an axis of its own.
    """
    figure = make_subplots(rows=2, cols=1, shared_xaxes=True, vertical_spacing=0.06)
    for row, (measure, label, dash, shown) in enumerate(
        (("bias", "bias", "solid", "+.1f"), ("mae", "mean error", "dash", ".1f")), 1
    ):
        for n, (name, days) in enumerate((("air", skill.air), ("dew point", skill.dew))):
            known = [day for day in days if day.error.count]
            values = [words.number(getattr(day.error, measure), "difference") for day in known]
            figure.add_trace(
                go.Scatter(
                    x=[day.lead_day for day in known], y=values, name=f"{name}, {label}",
                    mode="lines+markers",
                    line={"color": SERIES[n], "dash": dash, "width": 2},
                    marker={"symbol": _SYMBOLS[n], "size": 8},
                    hovertext=[
                        f"day {day.lead_day}: {name} {label} {value:{shown}} "
                        f"{words.unit('difference')}<br>{day.error.count} of {day.told} hours, "
                        f"{day.issue_days} days of issue"
                        for day, value in zip(known, values, strict=True)
                    ],
                    hoverinfo="text",
                ),
                row=row, col=1,
            )  # fmt: skip
    style(figure, 520)
    _lead_axis(figure)
    figure.update_xaxes(title="", row=1, col=1)
    unit = words.unit("difference")
    figure.update_yaxes(
        title=f"forecast less observed, {unit}", zeroline=True, zerolinecolor=COLORS["ink"],
        zerolinewidth=1, row=1, col=1,
    )  # fmt: skip
    figure.update_yaxes(title=f"mean error, {unit}", rangemode="tozero", row=2, col=1)
    return figure


def rain_skill_figure(skill: Skill, scored: list[Kind]) -> go.Figure:
    """Return the Brier skill of each kind of chance by lead day."""
    figure = go.Figure()
    for n, kind in enumerate(scored):
        days = [
            each for each in skill.rain
            if each.kind == kind and each.lead_day is not None and isfinite(each.brier.skill)
        ]  # fmt: skip
        figure.add_trace(
            go.Scatter(
                x=[each.lead_day for each in days], y=[each.brier.skill for each in days],
                name=sheets.kind_name(kind), mode="lines+markers",
                line={"color": SERIES[n % len(SERIES)], "dash": _DASHES[n % 3], "width": 2},
                marker={"symbol": _SYMBOLS[n % 6], "size": 8},
                hovertext=[
                    f"day {each.lead_day}: skill {each.brier.skill:.2f}<br>{each.brier.count} "
                    f"chances, it rained in {each.brier.share:.0%}"
                    for each in days
                ],
                hoverinfo="text",
            )
        )  # fmt: skip
    style(figure, 360)
    _lead_axis(figure)
    figure.update_yaxes(
        title="Brier skill", rangemode="tozero", zeroline=True, zerolinecolor=COLORS["ink"],
        zerolinewidth=1,
    )  # fmt: skip
    figure.update_layout(showlegend=True)
    return figure


def reliability_figure(skill: Skill, kind: Kind) -> go.Figure:
    """Return the reliability diagram of a kind of chance, with counts and 95 % intervals."""
    bins = [each for each in sheets.whole(skill, kind).bins if each.count]
    share = 100 * sheets.whole(skill, kind).brier.share
    figure = go.Figure()
    for name, ends, dash in (
        ("told is found", (0.0, 100.0), "dash"), ("observed share", (share, share), "dot"),
    ):  # fmt: skip
        figure.add_trace(
            go.Scatter(
                x=[0, 100], y=list(ends), mode="lines", name=name, hoverinfo="skip",
                line={"color": COLORS["air"], "dash": dash, "width": 1.5},
            )
        )  # fmt: skip
    found = [100 * each.found for each in bins]
    figure.add_trace(
        go.Scatter(
            x=[100 * each.told for each in bins], y=found, name="found, with 95 % interval",
            mode="lines+markers+text", text=[str(each.count) for each in bins],
            textposition="bottom right", textfont={"size": 11},
            line={"color": COLORS["window"], "width": 2}, marker={"size": 9}, cliponaxis=False,
            error_y={
                "type": "data", "symmetric": False, "color": COLORS["window"], "thickness": 1.5,
                "array": [
                    100 * each.found_high - f for each, f in zip(bins, found, strict=True)
                ],
                "arrayminus": [
                    f - 100 * each.found_low for each, f in zip(bins, found, strict=True)
                ],
            },
            hovertext=[
                f"told {each.told:.0%} on average, found {each.found:.0%} "
                f"({each.found_low:.0%} to {each.found_high:.0%})<br>{each.count} chances"
                for each in bins
            ],
            hoverinfo="text",
        )
    )  # fmt: skip
    style(figure, 470)
    figure.update_xaxes(title="chance told, % (numbers: how many)", range=[-3, 103], dtick=20)
    figure.update_yaxes(title="it rained, %", range=[-4, 108], dtick=20)
    return figure


def goes_figure(goes: CoatGoes) -> go.Figure:
    """Return the go hours of each lead day as bars: held, failed, not known."""
    days = [day for day in goes.days if day.go]
    figure = go.Figure()
    for name, attribute, color, pattern in (
        ("held", "held", COLORS["window"], ""),
        ("failed", "failed", COLORS["risk"], "/"),
        ("not known", "not_known", COLORS["shift"], "."),
    ):
        values = [getattr(day, attribute) for day in days]
        figure.add_trace(
            go.Bar(
                x=[day.lead_day for day in days], y=values, name=name, width=0.7,
                text=[str(value) if value else "" for value in values], textposition="inside",
                textangle=0, insidetextanchor="middle", textfont={"size": 12},
                marker={"color": color, "pattern": {"shape": pattern, "fgcolor": "#ffffff",
                                                   "size": 9, "solidity": 0.12}},
                hovertemplate=f"day %{{x}}: %{{y}} h {name}<extra></extra>",
            )
        )  # fmt: skip
    style(figure, 340)
    _lead_axis(figure)
    figure.update_layout(barmode="stack", legend_traceorder="normal")
    figure.update_yaxes(title="go hours, over all forecasts", rangemode="tozero")
    if not days:
        figure.add_annotation(text="no forecast gave a go", showarrow=False, xref="paper",
                              yref="paper", x=0.5, y=0.5)  # fmt: skip
    return figure


def _lead_axis(figure: go.Figure) -> None:
    figure.update_xaxes(title="lead day", dtick=1, range=[0.4, 10.6])
