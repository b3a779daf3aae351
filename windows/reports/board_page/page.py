"""The page of the evening board, whole: its policy, its head and its sections in order."""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING

from windows.reports import board_table as tables
from windows.reports.board_page.crews import crews_by_days
from windows.reports.board_page.deadlines import deadlines_in_danger, deadlines_kept
from windows.reports.board_page.markup import (
    caution_html,
    filter_names,
    folded,
    section,
    stack_table,
    text_cells,
)
from windows.reports.board_page.site_list import site_list
from windows.reports.board_page.view import View
from windows.reports.wording import Wording, sentence
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from windows.board.result import Board
    from windows.reports.wording import UnitSystem

__all__ = ["board_page"]


def board_page(board: Board, units: UnitSystem, *, refresh: bool = False) -> str:
    """Return the page of a board.

    Parameters
    ----------
    board
        The board. Times are shown on the clock of each site.
    units
        The reader's units.
    refresh
        Whether the page asks ``version`` beside it, every few seconds, and loads itself again when
        the answer changes.
    """
    view = View(board, units)
    body = _body(view)  # before the data of the strips, which it names
    data = json.dumps(view.strips.data(), separators=(",", ":")).replace("<", "\\u003c")
    style = _shipped("style.css") + _rows_style(board)
    script = _shipped("script.js")
    title = f"Evening board, {tables.evening(board).partition(';')[0]}"
    served = ' data-refresh="1"' if refresh else ""
    return (
        f'<!doctype html>\n<html lang="en"{served}>'
        '<head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(style, script, refresh)}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        '<meta name="referrer" content="no-referrer">'
        f'<link rel="icon" href="data:,"><title>{escape(title)}</title>'
        f"<style>{style}</style><script>{script}</script></head>\n"
        f'<body>{body}<script type="application/json" id="hours">{data}</script></body></html>\n'
    )


@cache
def _shipped(name: str) -> str:
    return (files("windows.reports.board_page") / name).read_text(encoding="utf-8")


def _rows_style(board: Board) -> str:
    """Return the count of rows as style: the policy forbids it on the elements themselves."""
    crews = max(len(board.crews), 1)
    return f":root {{ --crews: {crews}; --rows: {crews + 1}; }}\n"


def _policy(style: str, script: str, refresh: bool) -> str:
    """Return the page's content security policy: its own style and script, and nothing else."""
    rules = [
        "default-src 'none'", f"style-src {_hash(style)}", f"script-src {_hash(script)}",
        "img-src data:", "base-uri 'none'", "form-action 'none'",
    ]  # fmt: skip
    if refresh:
        rules.append("connect-src 'self'")
    return "; ".join(rules)


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def _body(view: View) -> str:
    board = view.board
    return (
        '<a class="skip" href="#grid">Skip to crews by days</a>'
        + _band(view)
        + '<main id="main"><p id="shown" class="shown"></p>'
        + _undetermined(board)
        + _faults(board)
        + deadlines_in_danger(view)
        + _tools(view)
        + crews_by_days(view)
        + _cautions(view)
        + deadlines_kept(view)
        + _undone(view)
        + _moved(view)
        + site_list(view)
        + "</main>"
        + _legend()
    )


def _band(view: View) -> str:
    board = view.board
    words = Wording(view.units)
    figures = [
        ("sites", str(len(board.sites))),
        ("crews", str(len(board.crews))),
        ("visits", str(len(board.assignments))),
    ]
    if board.area_m2 > 0:
        held = tables.area_told(board.expected_m2, words)
        figures.append(
            (
                "expected to hold, of the area planned",
                f"{held} of {tables.area_told(board.area_m2, words)} "
                f"({board.expected_m2 / board.area_m2:.0%})",
            )
        )
    figures.append(("proof", tables.proof_told(board)))
    shown = "".join(f"<div><dt>{escape(k)}</dt><dd>{escape(v)}</dd></div>" for k, v in figures)
    evening, _, clocks = tables.evening(board).partition("; ")
    note = f'<p class="soft small">{escape(sentence(clocks))}</p>' if clocks else ""
    return (
        f'<header class="band"><h1>Evening board, {escape(evening)}</h1>{note}'
        f'<dl class="figures">{shown}</dl><p class="governs">{escape(GOVERNS)}</p></header>'
    )


def _undetermined(board: Board) -> str:
    told = tables.undetermined(board)
    return f'<p class="panel unsure">? {escape(told)}</p>' if told else ""


def _faults(board: Board) -> str:
    if not board.faults:
        return ""
    items = "".join(
        f"<li><strong><bdi>{escape(each.where)}</bdi></strong>: "
        f"<bdi>{escape(each.text)}</bdi></li>"
        for each in board.faults
    )
    told = f'<div class="panel faults"><ul class="plain">{items}</ul></div>'
    return section("faults", f"Faults in the input ({len(board.faults)})", told)


def _tools(view: View) -> str:
    """Return the filters and buttons, which only the script shows."""
    board = view.board
    crews = "".join(
        f'<option value="{escape(each.name)}">{escape(each.name)}</option>' for each in board.crews
    )
    sites = "".join(
        f'<option value="{escape(key)}">{escape(name)}</option>'
        for key, name in view.names.items()
    )
    return (
        '<div class="tools" role="group" aria-label="Show">'
        '<div><label for="pick-crew">Crew</label><select id="pick-crew">'
        f'<option value="">All crews</option>{crews}</select></div>'
        '<div><label for="pick-site">Site</label><select id="pick-site">'
        f'<option value="">All sites</option>{sites}</select></div>'
        '<div><button type="button" id="scheme">Dark scheme</button></div>'
        '<p id="count" role="status" class="soft"></p><p id="news" role="status"></p></div>'
    )


def _cautions(view: View) -> str:
    if not view.cautions:
        return ""
    items = "".join(f"<li>{caution_html(caution)}</li>" for caution in view.cautions)
    told = f'<div class="panel"><ol class="cautions">{items}</ol></div>'
    return section("cautions", "Cautions that go with these visits", told)


def _undone(view: View) -> str:
    undone = view.board.undone
    return _listed(
        "undone", f"Not done in these days ({len(undone)})", "Layers that nobody is sent for",
        tables.UNDONE_COLUMNS, [each.site for each in undone], tables.undone_rows(view.board),
    )  # fmt: skip


def _moved(view: View) -> str:
    moved = view.board.moved
    return _listed(
        "moved", f"Promises that moved ({len(moved)})", "Promises that did not stand",
        tables.MOVED_COLUMNS, [each.site for each in moved], tables.moved_rows(view.board),
    )  # fmt: skip


def _listed(
    name: str,
    heading: str,
    caption: str,
    columns: Sequence[str],
    sites: Sequence[str],
    rows: Iterable[Sequence[str]],
) -> str:
    """Return a section with a table of one row for each of some sites, nothing without any."""
    if not sites:
        return ""
    found = [
        (text_cells(row), f' class="{name}"{filter_names(site=site)}')
        for site, row in zip(sites, rows, strict=True)
    ]
    told = folded(len(found), name, stack_table(caption, columns, found))
    return section(name, heading, f'<div class="panel">{told}</div>', "screen")


def _legend() -> str:
    lines = (
        "Chance to hold: that a whole work holds, all its hours together; of several works the one "
        "that is likeliest lost. In brackets its low and high bounds; the way it was found stands "
        "beside it in the details. In an hour strip it is that of this hour alone.",
        "Lost on average: the mean over the hours, by area, each with its own hold. Costs are "
        "weighed by it.",
        "Nearest limit: the gate with the least room in the hours of the work, and how much.",
        "Cautions: their numbers are those of the list below the crews.",
        "Kept: promised before and kept. New: not promised before.",
        "Hour strips: ● OK, ✕ blocked, ? not known; hours in which a crew may work are underlined. "
        "What is not known is never a go. A number of several hours says of how many, and is no "
        "number of each hour.",
    )
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f'<footer><h2>How to read this board</h2><ul class="plain legend">{items}</ul></footer>'
