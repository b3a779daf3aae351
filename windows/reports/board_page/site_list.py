"""The sites of a board: how far each is, in what weather, and its hours by day."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from windows.board.result import SiteState
from windows.reports import board_table as tables
from windows.reports.board_page.markup import STALE_TAG, filter_names, section, tag
from windows.reports.board_page.strips import reasons_told
from windows.reports.wording import sentence

if TYPE_CHECKING:
    from windows.board.result import BoardSite
    from windows.reports.board_page.view import View

__all__ = ["site_list"]

_STATES = {
    SiteState.PLANNED: ("go", "✓"),
    SiteState.IDLE: ("wait", "■"),
    SiteState.FINISHED: ("plain", "✓"),
    SiteState.STALE: ("unknown", "?"),
    SiteState.FAULT: ("no", "✕"),
}


def site_list(view: View) -> str:
    """Return the section of the sites, one after another."""
    if not view.board.sites:
        return section("sites", "Sites", '<p class="panel">No site is on the board.</p>')
    items = "".join(_site(view, each) for each in view.board.sites)
    told = f'<div class="panel"><ul class="plain sites">{items}</ul></div>'
    return section("sites", "Sites", told, "screen")


def _site(view: View, site: BoardSite) -> str:
    words = view.words[site.key]
    tags = tag(_STATES[site.state], site.state.value)
    if site.stale:
        tags += f" {STALE_TAG}"
    facts = f"{site.laid} of {site.layers} layers laid. {sentence(site.system)}"
    weather = f"Weather: {sentence(site.weather)} " if site.weather else ""
    weather += f"Times: {words.offset(view.board.now)}."
    notes = "".join(f"<li><bdi>{escape(sentence(note))}</bdi></li>" for note in site.notes)
    outlook = ""
    if site.outlook:
        told = "; ".join(tables.outlook_told(each) for each in site.outlook)
        outlook = (
            "<p>Beyond the forecast, by the climate of past years and not a forecast: "
            f"{escape(told)}.</p>"
        )
    return (
        f'<li{filter_names(site=site.key)}><h3><bdi>{escape(view.names[site.key])}</bdi></h3>{tags}'
        f"<p><bdi>{escape(facts)}</bdi></p>"
        f'<p class="soft"><bdi>{escape(weather)}</bdi></p>'
        + (f'<ul class="notes small">{notes}</ul>' if notes else "")
        + outlook
        + _site_days(view, site)
        + "</li>"
    )


def _site_days(view: View, site: BoardSite) -> str:
    days = []
    for day in dict.fromkeys(strip.day for strip in site.strips):
        strips = view.strips.of(site.key, day)
        if strips:
            days.append(
                f"<h4>{tables.day_told(day)}</h4>{reasons_told(strips, view.words[site.key], 'h5')}"
                f"{view.strips.place(strips)}"
            )
    if not days:
        return ""
    name = escape(view.names[site.key])
    return (
        f'<details data-key="site|{escape(site.key)}"><summary>Hours by day'
        f'<span class="vh">: <bdi>{name}</bdi></span></summary>'
        f'<div class="more">{"".join(days)}</div></details>'
    )
