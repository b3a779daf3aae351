"""The page of some jobs: windows, reasons, charts and cautions, site by site."""

from __future__ import annotations

from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

import pandas as pd

from windows.notes import site_notes
from windows.reports.chart import chart
from windows.reports.document import document, html_table
from windows.reports.wording import DRY_CHANCE_NOTE, STOP_NOTE, UnitSystem, Wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.job import Job

__all__ = ["render"]

_MOST_HOURS = 31 * 24
"""Hours that one chart can show and still be read. [h]"""


def render(jobs: Sequence[Job], units: UnitSystem) -> str:
    """Return the page of some jobs, those of one site together."""
    now = pd.Timestamp.now("UTC")
    sites = [list(group) for _, group in groupby(jobs, key=lambda job: job.site.name)]
    names = " and ".join(group[0].site.name for group in sites)
    body = "\n".join(_site(group, units, now) for group in sites)
    return document("Application windows", names, body)


def _site(jobs: list[Job], units: UnitSystem, now: pd.Timestamp) -> str:
    first = jobs[0]
    words, hours = Wording(units, first.site.zone), first.hours
    index = hours.index[first.span]
    end = index[-1] + pd.Timedelta(hours=1)
    notes = site_notes(first.site, first.hours)
    told = "".join(f'<p class="note">Note: {escape(note)}.</p>' for note in notes)
    return (
        f"<h2>{escape(first.site.name)}</h2>"
        f'<p class="facts">Times: {escape(words.offset(index[0]))}. '
        f"{words.clock(index[0])} to {words.clock(end)}. "
        f"Roof {words.value(first.site.roof.area, 'area')}, {escape(first.site.surface.name)}; "
        f"{first.coating.method}.</p>"
        f'<p class="facts">Weather: {escape(hours.provenance.describe(now))}. '
        f"{escape(hours.provenance.attribution)}</p>{told}"
        + "".join(_coating(job, words) for job in jobs)
    )


def _coating(job: Job, words: Wording) -> str:
    found, profile = job.found, job.coating.profile
    count = sum(window.hours for window in found.windows)
    kind = "generic values, not a data sheet" if profile.generic else "with your data sheet"
    if job.coating.limits != "generic":
        kind += f", {job.coating.limits} end of every range"
    span = slice(job.span.start, min(job.span.stop, job.span.start + _MOST_HOURS))
    cut = (
        f'<p class="note">The chart shows the first {_MOST_HOURS // 24} days.</p>'
        if span.stop < job.span.stop
        else ""
    )
    return (
        f"<section><h3>{escape(profile.title)} ({escape(job.coating.name)}, {kind})</h3>"
        f'<p class="verdict">{len(found.windows)} windows, {count} of {found.crew_hours} '
        f"crew hours; {len(found.provisional)} provisional.</p>"
        + _windows(job, words)
        + _provisional(job, words)
        + _risks(job, words)
        + cut
        + chart(job, words, span)
        + _lost(job, words)
        + _cautions(job)
        + "</section>"
    )


def _windows(job: Job, words: Wording) -> str:
    rows = [
        [
            f'<span class="tag window">window {w.number}</span> {words.day(w.start)} '
            f"{words.hours(w.start, w.end)}",
            f"{w.hours} h",
            words.stop(w),
            words.tightest(w.tightest),
            words.clock(w.last.get("rain_safe"), w.start),
            "not known" if w.dry_chance is None
            else f"{w.dry_chance[0]:.0%} to {w.dry_chance[1]:.0%}",
            words.robustness(w),
        ]
        for w in job.found.windows
    ]  # fmt: skip
    if not rows:
        return "<p>No application window in these hours.</p>"
    columns = (
        "Window", "Hours", "Stop by", "Tightest gate", "Last coat rain-safe", "Chance dry",
        "Robust",
    )  # fmt: skip
    chances = any(window.dry_chance is not None for window in job.found.windows)
    note = f'<p class="note">{escape(STOP_NOTE)}</p>'
    note += f'<p class="note">{escape(DRY_CHANCE_NOTE)}</p>' if chances else ""
    deciding = [[escape(cell) for cell in row] for row in words.deciding(job)]
    if deciding:
        note += "<h3>These windows depend on values that your data sheet should give</h3>"
        note += html_table(("Value", "Generic (range across products)", "Source"), deciding)
    return html_table(columns, rows) + note


def _provisional(job: Job, words: Wording) -> str:
    rows = [
        [
            f'<span class="tag provisional">provisional</span> {words.day(p.start)} '
            f"{words.hours(p.start, p.end)}",
            f"{p.hours} h",
            escape("; ".join(p.missing)),
        ]
        for p in job.found.provisional
    ]
    return html_table(("Provisional", "Hours", "Not known"), rows) if rows else ""


def _risks(job: Job, words: Wording) -> str:
    rows = [
        [
            f'<span class="tag risk">at risk</span> {words.day(r.start)} '
            f"{words.hours(r.start, r.end)}",
            f"{r.hours} h",
            escape(words.risk(r)),
        ]
        for r in job.found.at_risk
    ]
    if not rows:
        return ""
    columns = ("Good hours that the weather would spoil", "Hours", "What spoils the coat")
    return html_table(columns, rows)


def _lost(job: Job, words: Wording) -> str:
    limits = {gate.name: words.limit(gate) for gate in job.coating.gates}
    basis = words.basis(job)
    rows = [
        [
            escape(entry.name), limits.get(entry.name, entry.label), f"{entry.blocked}",
            f"{entry.alone}", f"{entry.unknown}", escape(basis.get(entry.name, "crew safety")),
        ]
        for entry in job.found.lost if entry.blocked or entry.unknown
    ]  # fmt: skip
    if not rows:
        return ""
    columns = ("Gate", "Limit", "Hours blocked", "By it alone", "Not known", "Known by")
    return f"<h3>Crew hours lost, of {job.found.crew_hours}</h3>" + html_table(columns, rows)


def _cautions(job: Job) -> str:
    told = dict.fromkeys(
        (caution.text, caution.source)
        for window in job.found.windows
        for caution in window.cautions
    )
    if not told:
        return ""
    items = "".join(
        f'<li>{escape(text)} <span class="source">[{escape(source)}]</span></li>'
        for text, source in told
    )
    return f"<h3>Cautions that go with these windows</h3><ul>{items}</ul>"
