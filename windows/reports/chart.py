"""The chart of one coating: verdicts and gates on the site's clock, over their weather."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from plotly.io import to_html
from plotly.subplots import make_subplots

from windows.gates import State
from windows.runs import runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from cure_models.coating import Gate
    from windows.job import Job
    from windows.reports.wording import Wording

__all__ = [
    "COLORS", "FONT", "SCALE", "SERIES", "chart", "day_axis", "figure_html", "nights", "x_time",
]  # fmt: skip

COLORS = {
    "window": "#14708c",
    "provisional": "#d9a62e",
    "risk": "#a8435f",
    "stop": "#2b2b2b",
    "shift": "#d7dde0",
    "night": "#eceff3",
    "ink": "#22303a",
    "air": "#7a8b99",
    "surface": "#b5541c",
    "film": "#d99a6c",
    "dew": "#3c7ab0",
    "limit": "#6b4a86",
}
"""Our own palette; blue, ochre and wine differ in lightness too, and each has a text label."""
SERIES = ("#14708c", "#b5541c", "#6b4a86", "#3d7a3a", "#8a6d1d", "#a8435f")
"""Colours of series of like lightness; each is told apart by a number, a symbol or a dash too."""
SCALE = ((0.0, "#e6f0f3"), (0.5, COLORS["window"]), (1.0, "#0a2a36"))
"""Colour scale that gets darker all the way."""
FONT = {"family": "system-ui, sans-serif", "color": COLORS["ink"]}

_ROW_GAP = 0.022
_MARGIN = {"l": 110, "r": 10, "t": 90, "b": 24}
_LANES = ("crew shift", "window", "provisional", "at risk", "safety stop")
_LAYOUT = {
    "margin": _MARGIN, "barmode": "overlay", "plot_bgcolor": "white", "paper_bgcolor": "white",
    "hovermode": "closest", "dragmode": "pan", "font": FONT | {"size": 11},
    "legend": {"orientation": "h", "y": 1.035, "yanchor": "bottom", "x": 0, "font": {"size": 10}},
    "autosize": True, "uniformtext": {"mode": "hide", "minsize": 9},
}  # fmt: skip


_Drawn = tuple[list[dict[str, Any]], list[dict[str, Any]]]


@dataclass(frozen=True)
class _Strip:
    """One weather strip: what is drawn, and the gates whose limits belong to it."""

    title: str
    dimension: str
    lines: tuple[tuple[str, str, str], ...]
    gates: tuple[str, ...]
    height: int = 104


_STRIPS = (
    _Strip(
        "temperature", "temperature",
        (("air_temp_c", "air", COLORS["air"]), ("film_temp_c", "new film", COLORS["film"]),
         ("surface_temp_c", "surface", COLORS["surface"]),
         ("dew_point_c", "dew point", COLORS["dew"])),
        ("air_temp_min", "air_temp_max", "surface_temp_min", "surface_temp_max",
         "air_temp_floor", "no_freeze"),
        height=190,
    ),
    _Strip("surface above dew point", "difference",
           (("film_spread_c", "spread, new film", COLORS["film"]),
            ("spread_c", "spread, surface", COLORS["surface"])), ("spread_min", "no_dew")),
    _Strip("humidity", "fraction",
           (("rel_humidity", "relative humidity", COLORS["dew"]),),
           ("humidity_min", "humidity_max", "humidity_low")),
    _Strip("wind", "speed",
           (("wind_m_s", "mean wind", COLORS["air"]), ("gust_m_s", "gust", COLORS["dew"])),
           ("wind_max_spray", "wind_max_roller", "wind_screen")),
    _Strip("rain, water film", "water",
           (("rain_mm", "rain in the hour", COLORS["dew"]),
            ("wet_mm", "water on the roof", COLORS["surface"])),
           ("no_rain", "surface_dry")),
    _Strip("cure rate", "",
           (("cure_rate_late", "cure per hour, later", COLORS["limit"]),
            ("cure_rate", "cure per hour, fresh", COLORS["window"])), ()),
)  # fmt: skip


def chart(job: Job, words: Wording, span: slice) -> str:
    """Return the chart of a span of hours as an HTML fragment without the library."""
    on_shift = job.found.crew[span] == State.OK
    gates = [
        gate
        for gate in job.coating.gates
        if (job.checked.gates[gate.name][span][on_shift] != State.OK).any()
    ]
    heights = [len(_LANES) * 22, max(len(gates), 1) * 16, *(s.height for s in _STRIPS)]
    rows = len(heights)
    height = round(sum(heights) / (1 - _ROW_GAP * (rows - 1))) + _MARGIN["t"] + _MARGIN["b"]
    figure = make_subplots(
        rows=rows, cols=1, shared_xaxes=True, vertical_spacing=_ROW_GAP, row_heights=heights,
    )  # fmt: skip
    index = job.hours.index[span]
    clock = [words.clock(when) for when in index]
    _lanes(figure, job, words, span)
    _gate_marks(figure, job, gates, span, clock)
    shapes, labels = nights(job.conditions.sun_elevation_deg[span], index), []
    for row, strip in enumerate(_STRIPS, start=3):
        _weather(figure, job, words, strip, row, span, clock)
        lines, names = _limits(job, words, strip, row)
        shapes += lines
        labels += names
    # The layout as a plain dictionary: the library checks all of it anew at every change.
    told: dict[str, Any] = figure.to_dict()
    layout = told["layout"]
    layout |= {"shapes": shapes, "annotations": labels}
    _axes(layout, gates, index, words)
    layout |= _LAYOUT | {"height": height}
    days = max(1, len(index) // 24)
    return figure_html(told, min(days * 96, 1300))


def figure_html(figure: go.Figure | dict[str, Any], least_px: int = 0) -> str:
    """Return a figure of its own height as an HTML fragment without the library.

    It is as wide as its place, at least ``least_px``, and scrolls where its place is narrower.
    """
    html: str = to_html(
        figure, full_html=False, include_plotlyjs=False, validate=False,
        default_height=f"{figure['layout']['height']}px",
        config={"responsive": True, "displayModeBar": False, "scrollZoom": False},
    )  # fmt: skip
    if not least_px:
        return html
    return f'<div class="scroll"><div style="min-width:{least_px}px">{html}</div></div>'


def _bars(
    figure: go.Figure,
    lane: str,
    spans: list[tuple[pd.Timestamp, pd.Timestamp, str, str]],
    color: str,
    pattern: str = "",
) -> None:
    figure.add_trace(
        go.Bar(
            y=[lane] * len(spans),
            base=[x_time(start) for start, _, _, _ in spans],
            x=[(end - start).total_seconds() * 1000 for start, end, _, _ in spans],
            orientation="h", width=0.82, showlegend=False,
            marker={"color": color, "line": {"width": 0}, "pattern": {"shape": pattern}},
            text=[text for _, _, text, _ in spans], textposition="inside",
            insidetextanchor="middle", textfont={"size": 10}, textangle=0,
            constraintext="none", cliponaxis=True,
            hovertext=[hover for _, _, _, hover in spans], hoverinfo="text",
        ),
        row=1, col=1,
    )  # fmt: skip


def _lanes(figure: go.Figure, job: Job, words: Wording, span: slice) -> None:
    found, index = job.found, job.hours.index[span]
    end_of_page = index[-1] + pd.Timedelta(hours=1)

    def spans_of(flags: NDArray[np.bool_], label: str) -> list[Any]:
        pairs = runs(flags[span], np.zeros(len(index), dtype=np.int64), 1)
        ends = [(index[a], index[b - 1] + pd.Timedelta(hours=1)) for a, b in pairs]
        return [
            (a, b, "", f"{label}: {words.day(a)} {words.hours(a, b)}") for a, b in ends
        ]

    def shown(items: Any, label: str, mark: str) -> list[Any]:
        return [
            (i.start, i.end, mark.format(i.hours),
             f"{label}: {words.day(i.start)} {words.hours(i.start, i.end)}")
            for i in items if i.end <= end_of_page
        ]  # fmt: skip

    stopped = (found.safety == State.BLOCKED) & (found.crew == State.OK)
    provisional = shown(found.provisional, "provisional", "{}h?")
    _bars(figure, "crew shift", spans_of(found.crew == State.OK, "crew shift"), COLORS["shift"])
    _bars(figure, "window", shown(found.windows, "window", "{}h"), COLORS["window"])
    _bars(figure, "provisional", provisional, COLORS["provisional"], "/")
    _bars(figure, "at risk", shown(found.at_risk, "at risk", ""), COLORS["risk"], "x")
    _bars(figure, "safety stop", spans_of(stopped, "STOP, crew safety"), COLORS["stop"])


def _gate_marks(
    figure: go.Figure, job: Job, gates: list[Gate], span: slice, clock: list[str]
) -> None:
    """Mark, for each gate, the crew hours that it blocks and those that it cannot answer."""
    middle = [x_time(when + pd.Timedelta(minutes=30)) for when in job.hours.index[span]]
    on_shift = job.found.crew[span] == State.OK
    for state, symbol, color, label in (
        (State.BLOCKED, "square", COLORS["ink"], "blocked"),
        (State.UNKNOWN, "circle-open", COLORS["provisional"], "not known"),
    ):
        x, y, told = [], [], []
        for gate in gates:
            where = np.flatnonzero((job.checked.gates[gate.name][span] == state) & on_shift)
            x += [middle[k] for k in where]
            y += [gate.name] * len(where)
            told += [f"{gate.name} {label}<br>{clock[k]}" for k in where]
        figure.add_trace(
            go.Scatter(
                x=x, y=y, mode="markers", name=f"gate {label}", hovertext=told, hoverinfo="text",
                marker={"symbol": symbol, "size": 6, "color": color, "line": {"width": 1.2}},
            ),
            row=2, col=1,
        )  # fmt: skip


def _weather(
    figure: go.Figure,
    job: Job,
    words: Wording,
    strip: _Strip,
    row: int,
    span: slice,
    clock: list[str],
) -> None:
    x = [x_time(when) for when in job.hours.index[span]]
    unit = words.unit(strip.dimension) if strip.dimension else ""
    for name, label, color in strip.lines:
        values = _shown(job.conditions.quantity(name)[span], words, strip.dimension)
        if np.isnan(values).all():
            continue
        figure.add_trace(
            go.Scatter(
                x=x, y=np.round(values, 3), mode="lines", name=label, customdata=clock,
                line={"color": color, "width": 1.6, "shape": "hv"}, connectgaps=False,
                hovertemplate=f"{label} %{{y:.4~g}} {unit}<br>%{{customdata}}<extra></extra>",
            ),
            row=row, col=1,
        )  # fmt: skip


def _limits(job: Job, words: Wording, strip: _Strip, row: int) -> _Drawn:
    """Return each limit once, with the gates that share it; labels step aside from one another."""
    sharing: dict[float, list[Gate]] = {}
    for gate in (*job.coating.gates, *job.coating.cautions):
        if gate.name in strip.gates:
            sharing.setdefault(gate.limit, []).append(gate)
    across, color = {"xref": f"x{row} domain", "yref": f"y{row}"}, COLORS["limit"]
    finer = 1 if strip.dimension == "water" else 0
    shapes, labels = [], []
    for step, (limit, gates) in enumerate(sorted(sharing.items())):
        y = words.number(limit, strip.dimension)
        names = ", ".join(gate.name for gate in gates)
        shapes.append(
            across | {
                "type": "line", "x0": 0, "x1": 1, "y0": y, "y1": y,
                "line": {"color": color, "width": 1, "dash": "dash"},
            }
        )  # fmt: skip
        labels.append(
            across | {
                "x": 0.005 + 0.33 * (step % 3), "y": y, "showarrow": False, "xanchor": "left",
                "yanchor": "bottom" if gates[0].rule.sense == "max" else "top",
                "text": f"{names} {words.value(limit, strip.dimension, finer=finer)}",
                "font": {"size": 9, "color": color},
            }
        )  # fmt: skip
    return shapes, labels


def _shown(values: FloatArray, words: Wording, dimension: str) -> FloatArray:
    """Return values in the reader's units; the conversion is linear."""
    if not dimension:
        return values
    zero, one = words.number(0.0, dimension), words.number(1.0, dimension)
    return zero + values * (one - zero)


def day_axis(index: pd.DatetimeIndex, words: Wording) -> dict[str, Any]:
    """Return what a time axis is, with the days and noons of the site's clock."""
    local = index.tz_convert(words.zone)
    midnight = (local.hour == 0) & (local.minute < 60)
    noon = local.hour == 12
    ticks = [x_time(when) for when in index[midnight | noon]]
    names = [
        words.day(when) if start else "12"
        for when, start in zip(index[midnight | noon], midnight[midnight | noon], strict=True)
    ]
    return {
        "type": "date", "tickvals": ticks, "ticktext": names, "tickangle": 0,
        "tickfont": {"size": 10}, "showgrid": True, "gridcolor": "#dde3e8",
        "range": [x_time(index[0]), x_time(index[-1])],
    }  # fmt: skip


def _axes(
    layout: dict[str, Any], gates: list[Gate], index: pd.DatetimeIndex, words: Wording
) -> None:
    """Complete the axes of all rows: the lanes, the gates, the strips."""
    days, rows = day_axis(index, words), range(1, len(_STRIPS) + 3)
    x, y = ([layout[f"{name}axis{row if row > 1 else ''}"] for row in rows] for name in "xy")
    for axis in x:
        axis.update(days)
    x[0] |= {"side": "top", "showticklabels": True}
    for axis in y:
        axis.update(
            {"tickfont": {"size": 10}, "gridcolor": "#eef1f4", "zeroline": False,
             "fixedrange": True}
        )  # fmt: skip
    y[0] |= _categories(_LANES, -0.6, len(_LANES) - 0.4)
    y[1] |= _categories([g.name for g in gates], -0.7, max(len(gates), 1) - 0.3) | {"dtick": 1}
    for axis, strip in zip(y[2:], _STRIPS, strict=True):
        unit = words.unit(strip.dimension) if strip.dimension else ""
        title = f"{strip.title}, {unit}" if unit else strip.title
        axis["title"] = {"text": title.replace(", ", "<br>"), "font": {"size": 10}}


def _categories(names: Sequence[str], low: float, high: float) -> dict[str, Any]:
    return {
        "categoryorder": "array", "categoryarray": list(names)[::-1], "range": [low, high],
    }  # fmt: skip


def nights(sun_elevation_deg: FloatArray, index: pd.DatetimeIndex) -> list[dict[str, Any]]:
    """Return the nights of some hours as shapes that lie below everything."""
    return [
        {
            "type": "rect", "xref": "x", "yref": "paper", "y0": 0, "y1": 1, "layer": "below",
            "x0": x_time(index[start]), "x1": x_time(index[end - 1] + pd.Timedelta(hours=1)),
            "fillcolor": COLORS["night"], "line": {"width": 0},
        }
        for start, end in runs(sun_elevation_deg < 0, np.zeros(len(index), dtype=np.int64), 1)
    ]  # fmt: skip


def x_time(when: pd.Timestamp) -> str:
    """Return a place on the time axis: UTC, which knows no gap; the ticks tell the local clock."""
    return f"{when:%Y-%m-%d %H:%M}"
