"""A page for one coating: time to rain-safe over temperature and humidity, in steady weather."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np
import plotly.graph_objects as go

from cure_models.limits import MILESTONES
from cure_models.steady_weather import hours_of_cure, rates_at
from cure_models.units import to_si
from windows.reports.chart import COLORS, FONT, SCALE, figure_html
from windows.reports.document import document, html_table

if TYPE_CHECKING:
    from cure_models.arrays import FloatArray
    from cure_models.coating import Coating
    from windows.reports.wording import Wording

__all__ = ["cure_page"]

_AIR_C = np.linspace(0.0, 45.0, 91)
_HUMIDITY = np.linspace(0.1, 1.0, 91)
_TABLE_AIR = {"us": (40, 50, 60, 75, 90, 105), "si": (5, 10, 15, 25, 30, 40)}
_TABLE_HUMIDITY = (0.2, 0.35, 0.5, 0.65, 0.8, 0.88, 0.95)
_LEVELS_H = (0.25, 0.5, 1, 2, 4, 8, 12, 24, 48, 96, 168, 336, 720)


def cure_page(coating: Coating, roof_wind_m_s: float, words: Wording) -> str:
    """Return the page of a coating at a wind over the roof. [m/s]

    The film is as warm as the air. The milestone is rain-safe, or the first that the profile has.
    """
    name = "rain_safe" if "rain_safe" in coating.milestones else next(iter(coating.milestones))
    label = MILESTONES[name]
    wind = words.value(roof_wind_m_s, "speed")
    facts = (
        f"Film as warm as the air, {wind} over the roof, "
        f"{words.value(coating.dry_film_um, 'film')} dry, {coating.limits} end of every range; "
        f"{coating.milestones[name]:g} h at the reference of "
        f"{words.value(coating.reference.temp_c, 'temperature')} and "
        f"{coating.reference.rel_humidity:.0%}. White: no cure is counted; from one line to "
        "the next it takes twice as long. Sun and dew move a roof away from the air: the windows "
        "use the roof's own temperature."
    )
    kind = "generic values, not a data sheet" if coating.profile.generic else "with your data sheet"
    body = (
        f"<section><h2>{escape(coating.profile.title)} ({escape(coating.name)}, {kind})</h2>"
        f'<p class="facts">{escape(facts)}</p>'
        f"{_map(coating, roof_wind_m_s, name, words)}<h3>Hours to {escape(label)}</h3>"
        f"{_table(coating, roof_wind_m_s, name, words)}</section>"
    )
    return document(f"Time to {label}", coating.profile.title, body)


def _hours(
    coating: Coating, air: FloatArray, wind: float, humidity: FloatArray, name: str
) -> FloatArray:
    """Return the hours, one row a humidity and one column a temperature."""
    rates = rates_at(coating, air[np.newaxis, :], humidity[:, np.newaxis], wind)
    return hours_of_cure(coating, rates, name)


def _map(coating: Coating, wind: float, name: str, words: Wording) -> str:
    hours = _hours(coating, _AIR_C, wind, _HUMIDITY, name)
    if not np.isfinite(hours).any():
        return "<p>No cure is counted anywhere between 0 and 45 °C.</p>"
    known = np.where(np.isfinite(hours), np.maximum(hours, 0.01), np.nan)
    shown = [h for h in _LEVELS_H if np.nanmin(known) <= h <= np.nanmax(known)] or [1.0]
    air = [words.number(float(t), "temperature") for t in _AIR_C]
    figure = go.Figure(
        go.Heatmap(
            x=air, y=100 * _HUMIDITY, z=np.log(known), colorscale=SCALE,
            text=[[words.duration(h) for h in row] for row in hours],
            hovertemplate=f"%{{x:.0f}}{words.unit('temperature')}, %{{y:.0f}} % RH: %{{text}}"
            "<extra></extra>",
            colorbar={
                "title": {"text": MILESTONES[name], "side": "top"}, "thickness": 14,
                "tickvals": np.log(shown), "ticktext": [words.duration(h) for h in shown],
            },
        )
    )  # fmt: skip
    figure.add_trace(
        go.Contour(
            x=air, y=100 * _HUMIDITY, z=np.log(known), showscale=False, hoverinfo="skip",
            contours={"coloring": "none", "showlabels": False, "start": np.log(shown[0]),
                      "end": np.log(shown[-1]), "size": np.log(2.0)},
            line={"color": "white", "width": 1},
        )
    )  # fmt: skip
    ref = coating.reference
    figure.add_trace(
        go.Scatter(
            x=[words.number(ref.temp_c, "temperature")], y=[100 * ref.rel_humidity],
            mode="markers+text", text=["reference"], textposition="top center",
            marker={"symbol": "cross", "size": 11, "color": COLORS["risk"]},
            textfont={"color": COLORS["risk"]}, hoverinfo="skip",
        )
    )  # fmt: skip
    figure.update_layout(
        height=460, margin={"l": 60, "r": 10, "t": 10, "b": 50}, showlegend=False,
        plot_bgcolor="white", paper_bgcolor="white", dragmode=False,
        font=FONT | {"size": 12},
        xaxis={"title": f"air and film, {words.unit('temperature')}", "fixedrange": True},
        yaxis={"title": "relative humidity, %", "fixedrange": True},
    )  # fmt: skip
    return figure_html(figure)


def _table(coating: Coating, wind: float, name: str, words: Wording) -> str:
    shown = np.array(_TABLE_AIR[words.units], dtype=np.float64)
    air = to_si(shown, "degF") if words.units == "us" else shown
    hours = _hours(coating, air, wind, np.array(_TABLE_HUMIDITY), name)
    unit = words.unit("temperature")
    rows = [
        [f"{humidity:.0%} RH", *(words.duration(float(h)) for h in row)]
        for humidity, row in zip(_TABLE_HUMIDITY, hours, strict=True)
    ]
    return html_table(("Humidity", *(f"{t:.0f}{unit}" for t in shown)), rows)
