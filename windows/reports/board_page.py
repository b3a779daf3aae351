"""The page of the evening board: one file for all sites, offline, for desk, phone and wall.

It needs no script to be read: the script filters, draws the hours of a day on demand, and reloads a
page that is served. Nothing on it comes from elsewhere, and its policy allows nothing else.
"""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files
from itertools import groupby
from math import isnan
from typing import TYPE_CHECKING, Any

import pandas as pd

from windows.board.result import Danger, SiteState
from windows.decision import Verdict
from windows.odds.chance import Method
from windows.reports import board_table as tables
from windows.reports.decision_words import told as decision_told
from windows.reports.wording import Wording
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from windows.board.result import (
        Assignment,
        Board,
        BoardSite,
        CrewRow,
        DayStrip,
        Deadline,
        StripHour,
        Work,
    )
    from windows.odds.chance import Chance
    from windows.reports.wording import UnitSystem
    from windows.safety import Caution

__all__ = ["board_page"]

# Verdicts and dangers differ in color, in a mark and in their word.
_VERDICTS = {
    Verdict.GO: ("go", "✓"),
    Verdict.GO_UNTIL: ("until", "◑"),
    Verdict.WAIT: ("wait", "■"),
    Verdict.CLOSE_CALL: ("close", "≈"),
    Verdict.NO: ("no", "✕"),
    Verdict.NOT_KNOWN: ("unknown", "?"),
}
_DANGERS = {
    Danger.OVERDUE: ("no", "✕"),
    Danger.NO_COVER: ("no", "!"),
    Danger.NOT_KNOWN: ("unknown", "?"),
    Danger.LIKELY_LOST: ("close", "≈"),
    Danger.WAITS: ("wait", "■"),
    Danger.NO_SPARE: ("wait", "1"),
    Danger.DATA_SHEET: ("wait", "≟"),
    Danger.IN_TIME: ("until", "✓"),
}
_STATES = {
    SiteState.PLANNED: ("go", "✓"),
    SiteState.IDLE: ("wait", "■"),
    SiteState.FINISHED: ("plain", "✓"),
    SiteState.STALE: ("unknown", "?"),
    SiteState.FAULT: ("no", "✕"),
}
_LINES = (
    ("a", "Air", "Air", "temperature", "air_temp_c"),
    ("f", "Roof", "Roof", "temperature", "surface_temp_c"),
    ("d", "Dew point", "Dew", "temperature", "dew_point_c"),
    ("m", "Wind", "Wind", "speed", "wind_m_s"),
    ("r", "Rain", "Rain", "water", "rain_mm"),
    ("p", "Chance of rain", "Wet", "fraction", "rain_prob"),
    ("k", "Chance to hold", "Holds", "fraction", "chance"),
)
"""Lines of an hour strip: key in the page's data, label, label on a phone, dimension, field of
`StripHour`."""

_SPANS = {
    "r": ("rain_block_h", "over"),
    "p": ("rain_prob_block_h", "in"),
}
"""Lines whose number may be that of several hours: field of their count, and how it is told."""

_MANY_DAYS = 7  # from here on the print is set smaller
_MANY_CREWS = 3  # more fill several printed sheets
_LONG_TABLE = 40  # rows from which a table is folded
_WORK_COLUMNS = (
    "section", "layer", "hours", "area", "chance to hold", "nearest limit", "next opens",
    "cover by", "promise",
)  # fmt: skip


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
    view = _View(board, units)
    body = _body(view)  # before the data of the strips, which it names
    data = json.dumps(view.strips.data(), separators=(",", ":")).replace("<", "\\u003c")
    style = _shipped("board_style.css") + _rows_style(board)
    script = _shipped("board_script.js")
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
    return (files("windows.reports") / name).read_text(encoding="utf-8")


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


class _Strips:
    """The hours of days on sites, as the script draws them; equal texts are kept once."""

    def __init__(
        self, board: Board, units: UnitSystem, words: dict[str, Wording], names: dict[str, str]
    ) -> None:
        self._words, self._names = words, names
        self._scales = [_scale(units, dimension) for _, _, _, dimension, _ in _LINES]
        self._of: dict[tuple[str, date], list[tuple[int, DayStrip]]] = {}
        self._packed: list[dict[str, Any]] = []
        self._clocks: dict[tuple[str, ...], int] = {}
        self._why: dict[str, int] = {"": 0}
        self._plans: list[list[str]] = []
        for site in board.sites:
            for strip in site.strips:
                if strip.hours:
                    known = self._of.setdefault((site.key, strip.day), [])
                    known.append((len(self._packed), strip))
                    self._packed.append(self._pack(site, strip))

    def of(self, site: str, day: date, layers: Iterable[str] = ()) -> list[tuple[int, DayStrip]]:
        """Return the strips of a day on a site, those of the layers if there are such."""
        found = self._of.get((site, day), [])
        wanted = set(layers)
        return [each for each in found if each[1].layer_name in wanted] or found

    def place(self, strips: Sequence[tuple[int, DayStrip]], works: Sequence[Work] = ()) -> str:
        """Return where the script draws strips, with the work that is planned in their hours."""
        if not strips:
            return ""
        plan = ""
        if works:
            first = len(self._plans)
            self._plans += [_plan(strip, works) for _, strip in strips]
            plan = f' data-plan="{" ".join(str(first + n) for n in range(len(strips)))}"'
        numbers = " ".join(str(number) for number, _ in strips)
        return f'<div class="strip" data-strip="{numbers}"{plan}></div>'

    def data(self) -> dict[str, Any]:
        """Return all that the script needs."""
        return {
            "lines": [
                [key, f"{told}, {scale.unit}", f"{short} {scale.unit}"]
                for (key, told, short, _, _), scale in zip(_LINES, self._scales, strict=True)
            ],
            "clocks": [list(clock) for clock in self._clocks],
            "why": list(self._why),
            "plans": self._plans,
            "strips": self._packed,
        }

    def _pack(self, site: BoardSite, strip: DayStrip) -> dict[str, Any]:
        local = pd.DatetimeIndex([hour.start for hour in strip.hours]).tz_convert(site.zone)
        clock = [
            f"{hour:02}:{minute:02}" if minute else f"{hour:02}"
            for hour, minute in zip(local.hour, local.minute, strict=True)
        ]
        zones = [when.tzname() for when in local]
        if len(set(zones)) > 1:  # else the hour that comes twice has one name
            clock = [f"{hour} {zone}" for hour, zone in zip(clock, zones, strict=True)]
        packed: dict[str, Any] = {
            "t": f"{self._names[site.key]}, {tables.day_told(strip.day)}: hours for "
            f"{strip.layer_name} ({strip.coating})",
            "l": self._clocks.setdefault(tuple(clock), len(self._clocks)),
            "s": "".join(hour.state[0] for hour in strip.hours),
            "c": "".join("1" if hour.crew else "0" for hour in strip.hours),
            "w": [self._why.setdefault("; ".join(h.why), len(self._why)) for h in strip.hours],
        }
        for (key, _, _, _, name), scale in zip(_LINES, self._scales, strict=True):
            packed[key] = " ".join(_line(strip.hours, key, name, scale))
        return packed


def _line(hours: Sequence[StripHour], key: str, name: str, scale: _Scale) -> list[str]:
    """Return one number of each hour; one that is of several hours says of how many.

    The parts of such a number are joined by no-break spaces, so that a line is split at others.
    """
    field, joint = _SPANS.get(key, ("", ""))
    lengths = [(getattr(hour, field) if field else None) or 1.0 for hour in hours]
    told: list[str] = []
    for (value, length), run in groupby(
        zip((getattr(hour, name) for hour in hours), lengths, strict=True)
    ):
        count = len(list(run))
        if value is None or isnan(value) or not length > 1:
            told += [scale.told(value)] * count
            continue
        number = scale.told(value * length if key == "r" else value)
        unit = scale.unit if scale.unit == "%" else f" {scale.unit}"
        each = " each" if count > length else ""  # spans alike follow one another
        told += [f"{number}{unit} {joint}{each} {length:g} h".replace(" ", "\u00a0")] * count
    return told


@dataclass(frozen=True)
class _Scale:
    """How numbers of one dimension are shown; every conversion is linear."""

    unit: str
    zero: float
    one: float
    decimals: int

    def told(self, si: float | None) -> str:
        """Return a number in the reader's units without its unit, ``"-"`` if it is not known."""
        if si is None or isnan(si):
            return "-"
        return f"{self.zero + si * self.one:z.{self.decimals}f}"


def _scale(units: UnitSystem, dimension: str) -> _Scale:
    words = Wording(units)
    zero, unit = words.number(0.0, dimension), words.unit(dimension)
    shown = words.value(0.0, dimension).removesuffix(unit).rstrip()
    decimals = len(shown.partition(".")[2])
    return _Scale(unit, zero, words.number(1.0, dimension) - zero, decimals)


def _plan(strip: DayStrip, works: Sequence[Work]) -> list[str]:
    """Return what is planned in each hour of a strip, of the strip's own layer alone."""
    mine = [
        each
        for each in works
        if (each.placement.layer_name, each.placement.coating) == (strip.layer_name, strip.coating)
    ]
    return [_laid_in(hour.start, mine) for hour in strip.hours]


def _laid_in(start: pd.Timestamp, works: Sequence[Work]) -> str:
    """Return the layers that are planned in an hour, counted from 1."""
    end = start + pd.Timedelta(hours=1)
    layers = {
        each.placement.layer + 1
        for each in works
        if each.placement.start < end and each.placement.end > start
    }
    return "+".join(str(layer) for layer in sorted(layers))


class _View:
    """A board with what its parts share: words and names by site, strips, numbered cautions."""

    def __init__(self, board: Board, units: UnitSystem) -> None:
        self.board = board
        self.units: UnitSystem = units
        self.words = tables.site_words(board, units)
        self.names = tables.site_names(board)
        self.strips = _Strips(board, units, self.words, self.names)
        told = dict.fromkeys(caution for each in board.assignments for caution in each.cautions)
        self.cautions = {caution: n for n, caution in enumerate(told, start=1)}
        zones = {each.zone for each in board.sites if each.state is not SiteState.FAULT}
        self.many_zones = len(zones) > 1

    def on_site(self, each: Assignment) -> str:
        """Return the hours on site, with the clock's name where sites have several."""
        words = self.words[each.site]
        told = words.hours(each.arrive, each.leave)
        return f"{told} {each.arrive.tz_convert(words.zone).tzname()}" if self.many_zones else told


def _body(view: _View) -> str:
    board = view.board
    return (
        '<a class="skip" href="#grid">Skip to crews by days</a>'
        + _band(view)
        + '<main id="main"><p id="shown" class="shown"></p>'
        + _faults(board)
        + _deadlines(view)
        + _tools(view)
        + _grid(view)
        + _cautions(view)
        + _kept_deadlines(view)
        + _undone(view)
        + _moved(view)
        + _sites(view)
        + "</main>"
        + _legend()
    )


def _section(name: str, heading: str, body: str, kind: str = "") -> str:
    """Return a section named by its heading, which is plain text; the body is HTML."""
    classes = f' class="{kind}"' if kind else ""
    return (
        f'<section id="{name}" aria-labelledby="{name}-h"{classes}><h2 id="{name}-h">'
        f"{escape(heading)}</h2>{body}</section>"
    )


def _band(view: _View) -> str:
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
    note = f'<p class="soft small">{escape(_sentence(clocks))}</p>' if clocks else ""
    return (
        f'<header class="band"><h1>Evening board, {escape(evening)}</h1>{note}'
        f'<dl class="figures">{shown}</dl><p class="governs">{escape(GOVERNS)}</p></header>'
    )


def _faults(board: Board) -> str:
    if not board.faults:
        return ""
    items = "".join(
        f"<li><strong><bdi>{escape(each.where)}</bdi></strong>: "
        f"<bdi>{escape(each.text)}</bdi></li>"
        for each in board.faults
    )
    told = f'<div class="panel faults"><ul class="plain">{items}</ul></div>'
    return _section("faults", f"Faults in the input ({len(board.faults)})", told)


def _table(
    caption: str,
    columns: Sequence[str],
    rows: Iterable[tuple[Sequence[str], str]],
    *,
    hidden_caption: bool = True,
) -> str:
    """Return a table that stacks on a phone; cells are HTML, each row with its attributes.

    The roles are told although they are the elements' own: a browser forgets them where a row is
    shown as a block.
    """
    head = "".join(f'<th scope="col" role="columnheader">{escape(_big(c))}</th>' for c in columns)
    lines = []
    for cells, attributes in rows:
        line = f'<th scope="row" role="rowheader">{cells[0]}</th>'
        line += "".join(
            f'<td role="cell" data-label="{escape(_big(name))}">{cell}</td>'
            for name, cell in zip(columns[1:], cells[1:], strict=True)
        )
        lines.append(f'<tr role="row"{attributes}>{line}</tr>')
    kind = ' class="vh"' if hidden_caption else ""
    return (
        f'<table class="table stack" role="table"><caption{kind}>{escape(caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{"".join(lines)}</tbody></table>'
    )


def _sentence(text: str) -> str:
    """Return a text with a capital letter and a full stop."""
    told = text.strip()
    return f"{_big(told)}{'' if told.endswith(('.', ':')) else '.'}"


def _big(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _names(*, crew: str | None = None, site: str | None = None) -> str:
    """Return the attributes by which the filters find an element."""
    told = "" if crew is None else f' data-crew="{escape(crew)}"'
    return told if site is None else f'{told} data-site="{escape(site)}"'


def _tag(look: tuple[str, str], told: str) -> str:
    kind, mark = look
    shown = f'<span aria-hidden="true">{mark}</span> {escape(told)}'
    return f'<span class="tag t-{kind}">{shown}</span>'


_STALE_TAG = _tag(("unknown", "!"), tables.STALE)


def _cells(texts: Iterable[str]) -> list[str]:
    """Return plain texts as cells; a name written from right to left keeps to its own cell."""
    return [f"<bdi>{escape(text)}</bdi>" for text in texts]


def _deadlines(view: _View) -> str:
    """Return the deadlines in danger, the worst first."""
    board = view.board
    danger = [each for each in board.deadlines if each.danger is not Danger.IN_TIME]
    if not danger:
        if not board.deadlines:
            return ""
        return _section("deadlines", "Deadlines", '<p class="panel">No deadline is in danger.</p>')
    table = _deadline_table(view, danger, "Deadlines in danger, the worst first")
    heading = f"Deadlines in danger ({len(danger)})"
    return _section("deadlines", heading, f'<div class="panel">{table}</div>')


def _kept_deadlines(view: _View) -> str:
    """Return the deadlines that the plan keeps; folded where they are many, but not in print."""
    kept = [each for each in view.board.deadlines if each.danger is Danger.IN_TIME]
    if not kept:
        return ""
    table = _deadline_table(view, kept, "Deadlines that the plan keeps")
    told = f'<div class="panel">{_folded(len(kept), "kept", table, whole=True)}</div>'
    return _section("kept", f"Deadlines covered in time by the plan ({len(kept)})", told)


def _deadline_table(view: _View, deadlines: Sequence[Deadline], caption: str) -> str:
    rows = []
    told = tables.deadline_rows(view.board, view.units, deadlines)
    for each, row in zip(deadlines, told, strict=True):
        cells = [_tag(_DANGERS[each.danger], row[0]), *_cells(row[1:])]
        rows.append((cells, f' class="deadline"{_names(crew=each.crew or "", site=each.site)}'))
    return _table(caption, tables.DEADLINE_COLUMNS, rows)


def _tools(view: _View) -> str:
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


def _grid(view: _View) -> str:
    board = view.board
    if not board.crews or not board.days:
        what = "No crew is on the board." if board.days else "The board has no day to plan."
        return _section("grid", "Crews by days", f'<p class="panel">{what}</p>')
    visits: dict[tuple[str, date], list[Assignment]] = {}
    for each in board.assignments:
        visits.setdefault((each.crew, each.day), []).append(each)
    today = board.now.tz_convert(tables.board_zone(board)).date()
    crews = "".join(
        f'<li{_names(crew=crew.name)}><p class="name"><bdi>{escape(crew.name)}</bdi></p>'
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
    return _section("grid", "Crews by days", told)


def _slot(view: _View, crew: CrewRow, day: date, visits: Sequence[Assignment]) -> str:
    """Return a crew's day: its visits, or why it has none."""
    name = f"<h4><bdi>{escape(crew.name)}</bdi></h4>"
    if len(view.board.crews) > _MANY_CREWS:  # on a second sheet no heading tells the day
        name += f'<p class="again">{tables.day_told(day)}</p>'
    if not visits:
        why = crew.idle.get(day, "no reason is known")
        told = f"{name}<p>Idle: <bdi>{escape(why)}</bdi></p>"
        return f'<li class="slot rest"{_names(crew=crew.name)}>{told}</li>'
    told = "".join(_visit(view, each) for each in visits)
    return f'<li class="slot"{_names(crew=crew.name)}>{name}{told}</li>'


def _visit(view: _View, each: Assignment) -> str:
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
        f'<div class="visit"{_names(crew=each.crew, site=each.site)}>'
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


def _verdict(view: _View, each: Assignment) -> str:
    """Return go or wait, by when to decide, and whether the weather behind both is old."""
    words, decision = view.words[each.site], each.decision
    told = tables.verdict_told(decision, words)
    tags = _tag(("plain", "·") if decision is None else _VERDICTS[decision.verdict], told)
    if tables.is_stale(view.board.site(each.site)):
        tags += f" {_STALE_TAG}"
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


def _more(view: _View, each: Assignment) -> str:
    """Return what a visit tells when it is opened."""
    words = view.words[each.site]
    drive = words.duration(each.drive_h)
    said = "The work is under way: nothing is left to decide."
    if each.decision is not None:
        said = decision_told(each.decision, words, view.board.currency, view.board.now)
    title = f"{each.crew} at {view.names[each.site]}, {tables.day_told(each.day)}"
    strips = view.strips.of(each.site, each.day, [w.placement.layer_name for w in each.works])
    cautions = "".join(f"<li>{_caution(caution)}</li>" for caution in each.cautions)
    return (
        f'<div class="more" role="group" aria-label="{escape(title)}">'
        f'<h5><bdi>{escape(title)}</bdi></h5><p class="said">{escape(said)}</p>'
        f'<p class="said soft">On site {escape(view.on_site(each))}, {drive} to drive one way.</p>'
        f"{view.strips.place(strips, each.works)}{_reasons(strips, words, 'h5')}"
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
        rows.append((_cells(texts), ""))
    return _table("Work, in order", _WORK_COLUMNS, rows, hidden_caption=False)


def _reasons(strips: Sequence[tuple[int, DayStrip]], words: Wording, level: str) -> str:
    """Return why a crew may not work in its hours, hours alike together; a text for all readers."""
    told = []
    for _, strip in strips:
        hours = [hour for hour in strip.hours if hour.crew]
        name = f" ({strip.layer_name})" if len(strips) > 1 else ""
        for (state, why), run in groupby(hours, key=lambda hour: (hour.state, hour.why)):
            same = list(run)
            if state == "ok":
                continue
            span = words.hours(same[0].start, same[-1].start + pd.Timedelta(hours=1))
            what = "blocked" if state == "blocked" else "not known"
            told.append(f"{span}{name} {what}: {'; '.join(why) or 'no reason is known'}")
    if not strips:
        return "<p>The hours of this day are not known.</p>"
    if not told:
        return "<p>All hours in which a crew may work are OK.</p>"
    items = "".join(f"<li>{escape(line)}</li>" for line in told)
    return f"<{level}>Crew hours that are not OK</{level}><ul>{items}</ul>"


def _caution(caution: Caution) -> str:
    return f'{escape(caution.text)} <span class="source">[{escape(caution.source)}]</span>'


def _cautions(view: _View) -> str:
    if not view.cautions:
        return ""
    items = "".join(f"<li>{_caution(caution)}</li>" for caution in view.cautions)
    told = f'<div class="panel"><ol class="cautions">{items}</ol></div>'
    return _section("cautions", "Cautions that go with these visits", told)


def _folded(rows: int, name: str, table: str, *, whole: bool = False) -> str:
    """Return a table, folded where it is long; ``whole`` shows it all the same in print."""
    if rows <= _LONG_TABLE:
        return table
    kind = ' class="whole"' if whole else ""
    return f'<details data-key="{name}"{kind}><summary>Show all {rows}</summary>{table}</details>'


def _undone(view: _View) -> str:
    board = view.board
    if not board.undone:
        return ""
    rows = [
        (_cells(row), f' class="undone"{_names(site=each.site)}')
        for each, row in zip(board.undone, tables.undone_rows(board), strict=True)
    ]
    table = _table("Layers that nobody is sent for", tables.UNDONE_COLUMNS, rows)
    told = f'<div class="panel">{_folded(len(rows), "undone", table)}</div>'
    return _section("undone", f"Not done in these days ({len(rows)})", told, "screen")


def _moved(view: _View) -> str:
    board = view.board
    if not board.moved:
        return ""
    rows = [
        (_cells(row), f' class="moved"{_names(site=each.site)}')
        for each, row in zip(board.moved, tables.moved_rows(board), strict=True)
    ]
    table = _table("Promises that did not stand", tables.MOVED_COLUMNS, rows)
    told = f'<div class="panel">{_folded(len(rows), "moved", table)}</div>'
    return _section("moved", f"Promises that moved ({len(rows)})", told, "screen")


def _sites(view: _View) -> str:
    if not view.board.sites:
        return _section("sites", "Sites", '<p class="panel">No site is on the board.</p>')
    items = "".join(_site(view, each) for each in view.board.sites)
    told = f'<div class="panel"><ul class="plain sites">{items}</ul></div>'
    return _section("sites", "Sites", told, "screen")


def _site(view: _View, site: BoardSite) -> str:
    words = view.words[site.key]
    tags = _tag(_STATES[site.state], site.state.value)
    if site.stale:
        tags += f" {_STALE_TAG}"
    facts = f"{site.laid} of {site.layers} layers laid. {_sentence(site.system)}"
    weather = f"Weather: {_sentence(site.weather)} " if site.weather else ""
    weather += f"Times: {words.offset(view.board.now)}."
    notes = "".join(f"<li><bdi>{escape(_sentence(note))}</bdi></li>" for note in site.notes)
    outlook = ""
    if site.outlook:
        told = "; ".join(tables.outlook_told(each) for each in site.outlook)
        outlook = (
            "<p>Beyond the forecast, by the climate of past years and not a forecast: "
            f"{escape(told)}.</p>"
        )
    return (
        f'<li{_names(site=site.key)}><h3><bdi>{escape(view.names[site.key])}</bdi></h3>{tags}'
        f"<p><bdi>{escape(facts)}</bdi></p>"
        f'<p class="soft"><bdi>{escape(weather)}</bdi></p>'
        + (f'<ul class="notes small">{notes}</ul>' if notes else "")
        + outlook
        + _site_days(view, site)
        + "</li>"
    )


def _site_days(view: _View, site: BoardSite) -> str:
    days = []
    for day in dict.fromkeys(strip.day for strip in site.strips):
        strips = view.strips.of(site.key, day)
        if strips:
            days.append(
                f"<h4>{tables.day_told(day)}</h4>{_reasons(strips, view.words[site.key], 'h5')}"
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
