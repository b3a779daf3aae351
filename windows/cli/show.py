"""Show the result of one coating at one site on a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from windows.cli.printing import heading, line, table
from windows.notes import site_notes
from windows.reports.wording import DRY_CHANCE_NOTE, STOP_NOTE, UnitSystem, Wording
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from windows.found import Provisional
    from windows.hours import HourlyTable
    from windows.job import Job

__all__ = ["show_closing", "show_job", "show_site", "show_weather"]

_NO_SHIFT = (
    "No application window: no shift falls into these days, by the site file's work days, holidays "
    "and days off."
)


def show_weather(hours: HourlyTable) -> None:
    """Show where the weather comes from, how old it is, and who is to be credited."""
    told = hours.provenance
    line(f"Weather: {told.describe(pd.Timestamp.now('UTC'))}")
    if told.attribution:
        line(f"         {told.attribution}")


def show_site(job: Job, units: UnitSystem) -> None:
    """Show what all coatings of a site share: place, clock, weather and its faults."""
    words = Wording(units, job.site.zone)
    hours = job.hours
    index = hours.index[job.span]
    heading(job.site.name)
    line(f"Times: {words.offset(index[0])}; {job.coating.method} application")
    show_weather(hours)
    last = index[-1] + pd.Timedelta(hours=1)
    line(f"         {words.clock(index[0])} to {words.clock(last)}")
    for warning in site_notes(job.site, job.hours):
        line(f"  note: {warning}")
    line()


def show_job(job: Job, units: UnitSystem) -> None:
    """Show windows, provisional runs, coats at risk and lost hours of one coating."""
    words, found = Wording(units, job.site.zone), job.found
    profile = job.coating.profile
    kind = "generic values" if profile.generic else "your data sheet over generic values"
    if job.coating.limits != "generic":
        kind += f", {job.coating.limits} end of every range"
    hours = sum(window.hours for window in found.windows)
    heading(
        f"{profile.title} ({job.coating.name}, {kind}): "
        f"{_count(len(found.windows), 'window')}, {hours} of {found.crew_hours} crew hours"
    )
    if found.windows:
        table(
            ["#", "day", "window", "h", "stop by", "tightest", "rain-safe", "chance dry", "robust"],
            [
                [
                    str(w.number), words.day(w.start), words.hours(w.start, w.end), str(w.hours),
                    words.stop(w), words.tightest(w.tightest),
                    words.clock(w.last.get("rain_safe"), w.start),
                    "not known" if w.dry_chance is None
                    else f"{w.dry_chance[0]:.0%} to {w.dry_chance[1]:.0%}",
                    words.robustness(w),
                ]
                for w in found.windows
            ],
        )  # fmt: skip
        line(STOP_NOTE)
        if any(window.dry_chance is not None for window in found.windows):
            line(DRY_CHANCE_NOTE)
        line()
        if deciding := words.deciding(job):
            table(
                ["value", "generic (range across products)", "source"],
                deciding,
                title="These windows depend on values that your data sheet should give",
            )
    else:
        line("No application window." if found.crew_hours else _NO_SHIFT)
        line()
    if found.provisional:
        table(
            ["day", "hours", "h", "not known"],
            [
                [words.day(p.start), words.hours(p.start, p.end), str(p.hours), _missing(p)]
                for p in found.provisional
            ],
            title="Provisional: a window only if what is not known turns out well",
        )
    if found.at_risk:
        table(
            ["day", "hours", "h", "what spoils it"],
            [
                [words.day(r.start), words.hours(r.start, r.end), str(r.hours), words.risk(r)]
                for r in found.at_risk
            ],
            title="At risk: good hours to lay a coat that the weather would then spoil",
        )
    lost = [entry for entry in found.lost if entry.blocked or entry.unknown]
    if lost:
        limits = {gate.name: words.limit(gate) for gate in job.coating.gates}
        basis = words.basis(job)
        table(
            ["gate", "limit", "hours", "alone", "not known", "known by"],
            [
                [
                    e.name, limits.get(e.name, e.label), str(e.blocked), str(e.alone),
                    str(e.unknown), basis.get(e.name, "crew safety"),
                ]
                for e in lost
            ],
            title=f"Crew hours lost to each gate, of {found.crew_hours}",
        )  # fmt: skip


def _missing(run: Provisional) -> str:
    """Return what is missing, each reason once, with the gates that wait for it."""
    reasons: dict[str, list[str]] = {}
    for told in run.missing:
        gate, _, reason = told.partition(": ")
        reasons.setdefault(reason, []).append(gate)
    return "; ".join(f"{reason} ({', '.join(gates)})" for reason, gates in reasons.items())


def show_closing(jobs: list[Job]) -> None:
    """Show the cautions of every go, and who governs."""
    told = dict.fromkeys(
        (caution.text, caution.source)
        for job in jobs
        for window in job.found.windows
        for caution in window.cautions
    )
    if told:
        heading("Cautions that go with these windows")
        for text, source in told:
            line(f"  - {text} [{source}]")
    line(GOVERNS)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
