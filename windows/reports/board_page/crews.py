"""Crews by days: where each goes, with what odds, and go or wait."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from windows.decision import Verdict
from windows.odds.chance import Method
from windows.reports import board_table as tables
from windows.reports.board_page.markup import (
    STALE_TAG,
    caution_html,
    filter_names,
    section,
    stack_table,
    tag,
    text_cells,
)
from windows.reports.board_page.strips import reasons_told
from windows.reports.decision_words import told as decision_told

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from windows.board.result import Assignment, CrewRow, Work
    from windows.odds.chance import Chance
    from windows.reports.board_page.view import View
    from windows.reports.wording import Wording

__all__ = ["crews_by_days"]

# Verdicts and dangers differ in color, in a mark and in their word.
_VERDICTS = {
    Verdict.GO: ("go", "✓"),
    Verdict.GO_UNTIL: ("until", "◑"),
    Verdict.WAIT: ("wait", "■"),
    Verdict.CLOSE_CALL: ("close", "≈"),
    Verdict.NO: ("no", "✕"),
    Verdict.NOT_KNOWN: ("unknown", "?"),
}

_MANY_DAYS = 7  # from here on the print is set smaller
_MANY_CREWS = 3  # more fill several printed sheets
_WORK_COLUMNS = (
    "section", "layer", "hours", "area", "chance to hold", "nearest limit", "next opens",
    "cover by", "promise",
)  # fmt: skip


def crews_by_days(view: View) -> str:
    """Return the section of crews by days."""
    board = view.board
    if not board.crews or not board.days:
        what = "No crew is on the board." if board.days else "The board has no day to plan."
        return section("grid", "Crews by days", f'<p class="panel">{what}</p>')
    visits: dict[tuple[str, date], list[Assignment]] = {}
    for each in board.assignments:
        visits.setdefault((each.crew, each.day), []).append(each)
    today = board.now.tz_convert(tables.board_zone(board)).date()
    crews = "".join(
        f'<li{filter_names(crew=crew.name)}><p class="name"><bdi>{escape(crew.name)}</bdi></p>'
        f'<p class="small soft">{escape(", ".join((*crew.skills, *crew.equipment)))}</p></li>'
        for crew in board.crews
    )
    days = []
    for day in board.days:
        slots = "".join(_slot(view, crew, day, visits.get((crew.name, day), ())) for crew in
                        board.crews)  # fmt: skip
        near = {0: "today", 1: "tomorrow"}.get((day - today).days, "")
        told = f' <span class="soft">{near}</span>' if near else ""
        days.append(
            f'<div class="day"><h3>{tables.day_told(day)}{told}</h3>'
            f'<ul class="plain">{slots}</ul></div>'
        )
    many = " many" if len(board.days) > _MANY_DAYS else ""
    told = (
        f'<div class="wall panel{many}" tabindex="0" role="group" aria-label="Crews by days">'
        '<div class="grid"><div class="day crews"><h3>Crew</h3>'
        f'<ul class="plain">{crews}</ul></div>{"".join(days)}</div></div>'
    )
    return section("grid", "Crews by days", told)


def _slot(view: View, crew: CrewRow, day: date, visits: Sequence[Assignment]) -> str:
    """Return a crew's day: its visits, or why it has none."""
    name = f"<h4><bdi>{escape(crew.name)}</bdi></h4>"
    if len(view.board.crews) > _MANY_CREWS:  # on a second sheet no heading tells the day
        name += f'<p class="again">{tables.day_told(day)}</p>'
    if not visits:
        why = crew.idle.get(day, "no reason is known")
        told = f"{name}<p>Idle: <bdi>{escape(why)}</bdi></p>"
        return f'<li class="slot rest"{filter_names(crew=crew.name)}>{told}</li>'
    told = "".join(_visit(view, each) for each in visits)
    return f'<li class="slot"{filter_names(crew=crew.name)}>{name}{told}</li>'


def _visit(view: View, each: Assignment) -> str:
    words, works = view.words[each.site], each.works
    site = f"<bdi>{escape(view.names[each.site])}</bdi>"
    least = tables.least_chance(works)
    several = len({work.chance for work in works}) > 1
    numbers = sorted(view.cautions[caution] for caution in each.cautions)
    several_told = f"Caution{'' if len(numbers) == 1 else 's'}"
    care = f'<p class="care">{several_told} {", ".join(map(str, numbers))}</p>' if numbers else ""
    promise = tables.promise_told(works)
    key = escape(f"{each.day.isoformat()}|{each.crew}|{each.site}")
    gates = tables.tightest_told(works, words)
    return (
        f'<div class="visit"{filter_names(crew=each.crew, site=each.site)}>'
        f'<p class="where">{site} <span class="tag t-plain">{promise}</span></p>'
        f'<p class="time">{escape(view.on_site(each))}</p>'
        f'<p class="what"><bdi>{escape(tables.layers_told(works))}</bdi></p>'
        f"{_odds(least, several)}"
        f'<p class="gate">Nearest limit: {escape(gates)}</p>'
        f"{_verdict(view, each)}{care}"
        f'<details class="visit-more" data-key="{key}"><summary>Hours and reasons'
        f'<span class="vh">: <bdi>{escape(each.crew)}</bdi> at {site}, '
        f"{tables.day_told(each.day)}</span></summary>{_more(view, each)}</details></div>"
    )


def _verdict(view: View, each: Assignment) -> str:
    """Return go or wait, by when to decide, and whether the weather behind both is old."""
    words, decision = view.words[each.site], each.decision
    told = tables.verdict_told(decision, words)
    tags = tag(("plain", "·") if decision is None else _VERDICTS[decision.verdict], told)
    if tables.is_stale(view.board.site(each.site)):
        tags += f" {STALE_TAG}"
    by = ""
    if decision is not None:
        told = tables.call_off_told(decision, view.board.now, words)
        by = f'<p class="by">{escape(told)}</p>'
    return f'<p class="verdict">{tags}</p>{by}'


def _odds(chance: Chance, several: bool) -> str:
    """Return the chance in words, and as a bar from its low to its high bound."""
    if chance.method is Method.UNKNOWN:
        return '<p class="odds">Chance to hold: <b>not known</b></p>'
    told = tables.percent(chance.careful)
    span = f"{tables.percent(chance.low)} to {tables.percent(chance.high)}"
    first = f"<b>{span}</b>" if chance.estimate is None else f"<b>{told}</b> ({span})"
    low, high = round(100 * chance.low), round(100 * chance.high)
    mark = ""
    if chance.estimate is not None:
        mark = f'<rect class="mark" x="{100 * chance.estimate - 1:.0f}" width="2" height="8"/>'
    return (
        f'<p class="odds">{"Least chance" if several else "Chance"} to hold: {first}</p>'
        '<svg class="bar" viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true">'
        '<rect class="all" y="2" width="100" height="4"/>'
        f'<rect class="span" x="{low}" y="1" width="{max(high - low, 1)}" height="6"/>{mark}</svg>'
    )


def _more(view: View, each: Assignment) -> str:
    """Return what a visit tells when it is opened."""
    words = view.words[each.site]
    drive = words.duration(each.drive_h)
    said = "The work is under way: nothing is left to decide."
    if each.decision is not None:
        said = decision_told(each.decision, words, view.board.currency, view.board.now)
    title = f"{each.crew} at {view.names[each.site]}, {tables.day_told(each.day)}"
    strips = view.strips.of(each.site, each.day, [w.placement.layer_name for w in each.works])
    cautions = "".join(f"<li>{caution_html(caution)}</li>" for caution in each.cautions)
    return (
        f'<div class="more" role="group" aria-label="{escape(title)}">'
        f'<h5><bdi>{escape(title)}</bdi></h5><p class="said">{escape(said)}</p>'
        f'<p class="said soft">On site {escape(view.on_site(each))}, {drive} to drive one way.</p>'
        f"{view.strips.place(strips, each.works)}{reasons_told(strips, words, 'h5')}"
        f"{_works(each.works, words)}"
        + (f"<h5>Cautions</h5><ul>{cautions}</ul>" if cautions else "")
        + "</div>"
    )


def _works(works: Sequence[Work], words: Wording) -> str:
    rows = []
    for each in works:
        placed = each.placement
        texts = [
            placed.piece, f"{placed.layer + 1} {placed.layer_name} ({placed.coating})",
            words.hours(placed.start, placed.end), tables.area_told(placed.area_m2, words),
            tables.chance_told(each.chance), tables.margin_told(each.tightest, words),
            words.clock(placed.opens), words.due(placed.due), tables.promise_told([each]),
        ]  # fmt: skip
        rows.append((text_cells(texts), ""))
    return stack_table("Work, in order", _WORK_COLUMNS, rows, hidden_caption=False)
