"""The page of a plan: sections by days with each layer's clock, and what the plan gains."""

from __future__ import annotations

from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING

import pandas as pd
import plotly.graph_objects as go

from windows.notes import site_notes
from windows.reports import plan_table as tables
from windows.reports.chart import COLORS, FONT, SERIES, day_axis, figure_html, nights, x_time
from windows.reports.document import document, text_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from windows.layers import SystemHours
    from windows.pieces import Piece
    from windows.plan import Placement, Plan
    from windows.planner import Planned
    from windows.replan import Moved
    from windows.reports.wording import Wording

__all__ = ["plan_page"]

_ROW_PX = 46
_NAME_LETTERS = 14


def plan_page(
    planned: Planned,
    system: SystemHours,
    moved: Sequence[Moved],
    now: pd.Timestamp,
    words: Wording,
) -> str:
    """Return the page of a plan."""
    site, best = system.site, planned.best
    index = system.hours.index
    told = site_notes(system.site, system.hours)
    notes = "".join(f'<p class="note">Note: {escape(note)}.</p>' for note in told)
    hours = system.hours.provenance
    body = (
        f"<h2>{escape(site.name)}</h2>"
        f'<p class="facts">{escape(system.system.title)} ({escape(system.system.name)}). '
        f"Times: {escape(words.offset(index[0]))}. Planned from {words.clock(now)}; the weather "
        f"ends {words.clock(system.time(len(index)))}.</p>"
        f'<p class="facts">Weather: {escape(hours.describe(pd.Timestamp.now("UTC")))}. '
        f"{escape(hours.attribution)}</p>{notes}<section>"
        f'<p class="verdict">{escape(tables.summary(best, words))}</p>'
        + _undetermined(planned)
        + _chart(planned, system, now, words)
        + _days(best, words)
        + "".join(
            f'<p class="note">Note: {escape(told)}.</p>'
            for told in (*tables.left_open(best, words), *tables.weak_deadlines(planned, words))
        )
        + text_table(
            tables.MOVED_COLUMNS,
            tables.moved_rows(moved, words),
            "Moved since the plan that was kept",
        )
        + _left_out(planned)
        + "</section><section><h3>The best plan beside the rules that crews use</h3>"
        + text_table(tables.RULE_COLUMNS, tables.rule_rows(planned, words))
        + f'<p class="note">{escape(tables.RULES_NOTE)}</p>'
        + "</section>"
        + _cautions(planned)
    )
    return document("Plan", site.name, body)


def _undetermined(planned: Planned) -> str:
    told = tables.undetermined(planned)
    return f'<p class="note"><strong>{escape(told)}</strong></p>' if told else ""


def _chart(planned: Planned, system: SystemHours, now: pd.Timestamp, words: Wording) -> str:
    """Return the chart: work as bars, the clock of each layer as a thin line to its deadline."""
    rows = {piece.name: n for n, piece in enumerate(planned.pieces)}
    index = system.hours.index
    figure = go.Figure()
    for n, layer in enumerate(system.system.layers):
        color = SERIES[n % len(SERIES)]
        placed = [each for each in planned.best.placements if each.layer == n]
        _work(figure, placed, rows, f"{n + 1} {layer.name}", color, words)
    _laid(figure, planned.pieces, rows, system, words)
    spans = list(_clocks(planned, system))
    for kind, name, color, dash in (
        ("curing", "curing", COLORS["stop"], "dot"),
        ("open", "open for the next", COLORS["window"], "solid"),
    ):
        _thin(figure, [s for s in spans if s[3] == kind], rows, name, color, dash, words)
    end = system.time(len(index))
    due = [
        (each.piece, each.due, each.layer_name)
        for each in planned.best.placements if each.due is not None and each.due <= end
    ]  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=[x_time(when) for _, when, _ in due], y=[rows[piece] for piece, _, _ in due],
            mode="markers", name="next layer done by",
            marker={"symbol": "line-ns-open", "size": 22, "color": COLORS["risk"],
                    "line": {"width": 3}},
            hovertext=[escape(f"cover {name} on {piece} by {words.clock(when)}")
                       for piece, when, name in due],
            hoverinfo="text",
        )
    )  # fmt: skip
    height = max(len(rows), 1) * _ROW_PX + 130
    figure.update_xaxes(day_axis(index, words))
    figure.update_xaxes(side="top")
    figure.update_yaxes(
        tickvals=list(rows.values()), ticktext=[escape(_short(name)) for name in rows],
        range=[len(rows) - 0.4, -0.6], tickfont={"size": 11}, fixedrange=True,
        gridcolor="#eef1f4", zeroline=False, automargin=True,
    )  # fmt: skip
    figure.update_layout(
        height=height, margin={"l": 60, "r": 10, "t": 40, "b": 60}, barmode="overlay",
        shapes=[*nights(system.jobs[0].conditions.sun_elevation_deg, index), _now(now)],
        plot_bgcolor="white", paper_bgcolor="white", hovermode="closest", dragmode="pan",
        font=FONT | {"size": 11},
        legend={"orientation": "h", "y": -0.02, "yanchor": "top", "x": 0, "font": {"size": 11}},
    )  # fmt: skip
    days = max(1, len(index) // 24)
    return figure_html(figure, min(days * 96, 1300))


def _now(now: pd.Timestamp) -> dict[str, object]:
    return {
        "type": "line", "xref": "x", "yref": "paper", "y0": 0, "y1": 1, "x0": x_time(now),
        "x1": x_time(now), "line": {"color": COLORS["ink"], "width": 1, "dash": "dash"},
    }  # fmt: skip


def _short(name: str) -> str:
    """Return a name that leaves room for the chart on a phone."""
    return name if len(name) <= _NAME_LETTERS else f"{name[: _NAME_LETTERS - 1]}…"


def _work(
    figure: go.Figure,
    placed: Sequence[Placement],
    rows: Mapping[str, int],
    name: str,
    color: str,
    words: Wording,
) -> None:
    figure.add_trace(
        go.Bar(
            y=[rows[each.piece] for each in placed], base=[x_time(each.start) for each in placed],
            x=[(each.end - each.start).total_seconds() * 1000 for each in placed],
            orientation="h", width=0.62, name=escape(name), marker={"color": color},
            text=[str(each.layer + 1) for each in placed], textposition="inside",
            insidetextanchor="middle", textfont={"size": 10, "color": "white"},
            textangle=0, constraintext="none",
            hovertext=[
                f"{escape(each.layer_name)} on {escape(each.piece)}<br>{words.day(each.start)} "
                f"{words.hours(each.start, each.end)}" for each in placed
            ],
            hoverinfo="text",
        )
    )  # fmt: skip


def _laid(
    figure: go.Figure,
    pieces: Sequence[Piece],
    rows: Mapping[str, int],
    system: SystemHours,
    words: Wording,
) -> None:
    """Draw what is laid already, as far as the weather reaches back."""
    begin = system.hours.index[0]
    laid = [(p.name, r) for p in pieces for r in p.laid if r.end > begin]
    if not laid:
        return
    figure.add_trace(
        go.Bar(
            y=[rows[name] for name, _ in laid],
            base=[x_time(max(each.start, begin)) for _, each in laid],
            x=[(each.end - max(each.start, begin)).total_seconds() * 1000 for _, each in laid],
            orientation="h", width=0.62, name="laid already",
            marker={"color": COLORS["shift"], "line": {"width": 1, "color": COLORS["ink"]}},
            text=[str(each.layer + 1) for _, each in laid], textposition="inside",
            insidetextanchor="middle", textfont={"size": 10}, textangle=0, constraintext="none",
            hovertext=[
                escape(f"{system.system.layers[each.layer].name} on {name}, laid "
                       f"{words.clock(each.start)} to {words.clock(each.end, each.start)}")
                for name, each in laid
            ],
            hoverinfo="text",
        )
    )  # fmt: skip


_Span = tuple[str, "pd.Timestamp", "pd.Timestamp", str, str]


def _clocks(planned: Planned, system: SystemHours) -> Iterator[_Span]:
    """Yield the spans in which each layer cures and then lies open for the next."""
    end = system.time(len(system.hours.index))
    for piece in planned.pieces:
        mine = [each for each in planned.best.placements if each.piece == piece.name]
        following = [after.start for _, after in pairwise(mine)]
        for n, each in enumerate(mine):
            opens = end if each.opens is None else min(each.opens, end)
            yield piece.name, each.end, opens, "curing", each.layer_name
            last = each.layer + 1 == len(system.jobs)
            until = following[n] if n < len(following) else min(each.due or end, end)
            if not last and until > opens:
                yield piece.name, opens, until, "open", each.layer_name


def _thin(
    figure: go.Figure,
    spans: Sequence[_Span],
    rows: Mapping[str, int],
    name: str,
    color: str,
    dash: str,
    words: Wording,
) -> None:
    x: list[str | None] = []
    y: list[int | None] = []
    told: list[str | None] = []
    for piece, start, end, _, layer in spans:
        x += [x_time(start), x_time(end), None]
        y += [rows[piece], rows[piece], None]
        where = escape(f"{layer} on {piece}: {name}")
        text = f"{where}<br>{words.clock(start)} to {words.clock(end)}"
        told += [text, text, None]
    figure.add_trace(
        go.Scatter(
            x=x,
            y=y,
            mode="lines",
            name=name,
            line={"color": color, "width": 3, "dash": dash},
            hovertext=told,
            hoverinfo="text",
        )
    )


def _days(best: Plan, words: Wording) -> str:
    rows = [
        [
            f"{words.day(each.start)} {words.hours(each.start, each.end)}",
            *tables.placement_row(each, words),
        ]
        for each in best.placements
    ]
    return text_table(("when", *tables.COLUMNS), rows, "Day by day")


def _left_out(planned: Planned) -> str:
    told = "".join(f"<p>{escape(line)}</p>" for line in tables.eased(planned))
    return text_table(tables.LEFT_COLUMNS, tables.left_rows(planned.best), "Left out") + told


def _cautions(planned: Planned) -> str:
    if not planned.cautions:
        return ""
    items = "".join(
        f'<li>{escape(c.text)} <span class="source">[{escape(c.source)}]</span></li>'
        for c in planned.cautions
    )
    return f"<section><h3>Cautions that go with this plan</h3><ul>{items}</ul></section>"
