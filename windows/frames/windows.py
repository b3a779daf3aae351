"""One coating in one weather: its windows, and the whole working of every hour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.frames.checks import require_limits, require_number, require_truth
from windows.frames.given import corrected, profile_of
from windows.frames.shape import caution_text, typed_frame, with_told
from windows.gates import State
from windows.job import run_job
from windows.notes import site_notes
from windows.reports.audit import audit_table, why_not
from windows.reports.board_json import MARGIN_UNITS
from windows.runs import runs
from windows.safety import cautions

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from cure_models.coating import Limits
    from cure_models.profile import Profile
    from windows.found import Provisional, Window
    from windows.frames.shape import Kind
    from windows.hours import HourlyTable
    from windows.job import Job
    from windows.site import Site

__all__ = ["find_windows", "hour_by_hour"]

_WINDOW_COLUMNS: dict[str, Kind] = {
    "site": "text",
    "coating": "text",
    "state": "text",
    "window": "whole",
    "start_local": "local",
    "end_local": "local",
    "hours": "whole",
    "tightest_gate": "text",
    "tightest_margin": "number",
    "tightest_unit": "text",
    "confidence": "text",
    "decided_by": "text",
    "closed_by": "text",
    "rain_safe_first_local": "local",
    "rain_safe_last_local": "local",
    "stop_at_local": "local",
    "stop_gate": "text",
    "hazard_local": "local",
    "dry_chance_low": "number",
    "dry_chance_high": "number",
    "rain_likely": "truth",
    "missing": "text",
    "cautions": "text",
}


def find_windows(
    site: Site,
    coating: Profile | Path | str,
    hours: HourlyTable,
    *,
    dry_film_um: float | None = None,
    dry_at_start: bool = False,
    limits: Limits = "generic",
    log: Path | str | None = None,
) -> pd.DataFrame:
    """Return the application windows of a coating, one row each, as ``dewgap windows`` tells them.

    The manufacturer's data sheet, local code and the competent person on site govern; a window is a
    forecast, not a guarantee, and its cautions go with it.

    Parameters
    ----------
    site
        From `load_site`.
    coating
        A name of `coating_names`, a profile's file, or what `load_profile` returned.
    hours
        From `read_weather` or `hours_from`.
    dry_film_um
        Dry film of the coat, default the profile's. [um]
    dry_at_start
        Somebody has looked: the roof is dry before the first hour.
    limits
        End of every range across products that counts: ``"careful"``, ``"generic"``, ``"lenient"``.
    log
        Field log whose readings correct site and weather, which the command reads by itself where
        one lies beside the site.

    Returns
    -------
    DataFrame
        In the order of their start; ``state`` first of all:

        - ``state``: ``"OK"`` is a window. ``"UNKNOWN"`` are hours that would be one if what is not
          known turned out well, sure hours among them: no go. They have no ``hours`` and no number.
        - ``window``, ``start_local``, ``end_local``, ``hours``: number, ``[start, end)`` by the
          site's clock, length [h].
        - ``tightest_gate``, ``tightest_margin``, ``tightest_unit``: the gate nearest to its limit,
          and how far it is from it.
        - ``confidence``: ``"robust"`` holds at the careful end of every range too, ``"depends on
          the data sheet"`` does not; ``"not known"`` cannot be told there. ``decided_by`` names
          the gates.
        - ``closed_by``: what blocks the hour after it; a name with ``?`` is not known there.
        - ``rain_safe_first_local``, ``rain_safe_last_local``: when the film of the first and of the
          last hour is rain-safe, NaT where the data end first.
        - ``stop_at_local``, ``stop_gate``, ``hazard_local``: until when a coat may be laid to be
          safe before the hazard that follows.
        - ``dry_chance_low``, ``dry_chance_high``: bounds of the chance of no rain until the last
          film is rain-safe [fraction]; ``rain_likely`` where rain is likelier, at best, NA where no
          chance is known.
        - ``missing``: what is not known. ``cautions``: what the crew is told, a line each.

        ``attrs`` has ``governs``, ``weather`` and ``notes``.

    Raises
    ------
    DewgapError
        If the coating is none, the film impossible, or the log cannot be read.

    Examples
    --------
    >>> from windows import find_windows, load_site, read_weather
    >>> from windows.demo import demo_folder
    >>> folder = demo_folder() / "cool_north"
    >>> found = find_windows(load_site(folder), "acrylic", read_weather(folder / "weather.csv"))
    >>> sure = found[found["state"] == "OK"]
    >>> len(sure), int(found["hours"].sum())
    (6, 38)
    >>> sure.iloc[0][["tightest_gate", "confidence", "closed_by"]].tolist()
    ['surface_temp_min', 'depends on the data sheet', 'crew_hours']
    """
    job = _job(site, coating, hours, dry_film_um, dry_at_start, limits, log)
    why = why_not(job)
    rows = [
        *(_window_row(job, each, why) for each in job.found.windows),
        *(_provisional_row(job, each) for each in job.found.provisional),
    ]
    frame = typed_frame(rows, _WINDOW_COLUMNS, [job.site.zone])
    return _told(frame.sort_values("start_local", kind="stable", ignore_index=True), job)


def hour_by_hour(
    site: Site,
    coating: Profile | Path | str,
    hours: HourlyTable,
    *,
    dry_film_um: float | None = None,
    dry_at_start: bool = False,
    limits: Limits = "generic",
    log: Path | str | None = None,
) -> pd.DataFrame:
    """Return conditions, gates and verdict of every hour, as ``dewgap hours --csv`` writes them.

    The manufacturer's data sheet, local code and the competent person on site govern; this is a
    forecast, not a guarantee.

    Parameters
    ----------
    site, coating, hours, dry_film_um, dry_at_start, limits, log
        See `find_windows`.

    Returns
    -------
    DataFrame
        One row an hour, the index ``time_utc``: start of the hour. ``state`` is the answer of all
        gates, crew hours and safety stops together, OK, BLOCKED or UNKNOWN (the ``hour`` of the
        CSV); ``why`` names the checks that block it, then those that cannot be answered, with
        ``?``; ``cautions`` go with hours that are OK. The others are those of the CSV:
        ``time_local``; conditions at the roof with the unit in their name, shares as fractions;
        ``gate_<name>``, each OK, BLOCKED or UNKNOWN; ``<milestone>_at`` and ``<deadline>_at`` of a
        film laid in the hour, UTC, NaT where not known; ``window``, its number as in
        `find_windows`.

    Raises
    ------
    DewgapError
        See `find_windows`.

    Examples
    --------
    >>> from windows import hour_by_hour, load_site, read_weather
    >>> from windows.demo import demo_folder
    >>> folder = demo_folder() / "cool_north"
    >>> told = hour_by_hour(load_site(folder), "acrylic", read_weather(folder / "weather.csv"))
    >>> told["state"].value_counts().to_dict()
    {'BLOCKED': 231, 'OK': 39, 'UNKNOWN': 18}
    >>> told.loc["2026-09-21T17:00Z", ["state", "why"]].tolist()
    ['BLOCKED', 'surface_dry, no_rain']
    """
    job = _job(site, coating, hours, dry_film_um, dry_at_start, limits, log)
    index = job.hours.index.as_unit("ns")
    table = audit_table(job).set_index(index).drop(columns="time_utc")
    table["time_local"] = index.tz_convert(job.site.zone)
    for name in (*job.checked.milestones, *job.checked.deadlines):
        table[f"{name}_at"] = pd.to_datetime(table[f"{name}_at"], utc=True).dt.as_unit("ns")
    state = table.pop("hour")
    table.insert(1, "state", state)
    table.insert(2, "why", why_not(job))
    table.insert(3, "cautions", _cautions(job))
    return _told(table, job)


def _job(
    site: Site,
    coating: Profile | Path | str,
    hours: HourlyTable,
    dry_film_um: float | None,
    dry_at_start: bool,
    limits: Limits,
    log: Path | str | None,
) -> Job:
    require_limits(limits)
    require_truth("dry_at_start", dry_at_start)
    require_number("dry_film_um", dry_film_um, or_none=True)
    site, hours = corrected(site, hours, log)
    wet = 0.0 if dry_at_start else None
    return run_job(
        site, profile_of(coating), hours,
        dry_film_um=dry_film_um, start_wet_mm=wet, limits=limits,
    )  # fmt: skip


def _told(frame: pd.DataFrame, job: Job) -> pd.DataFrame:
    weather = job.hours.provenance.describe()
    return with_told(frame, weather=weather, notes=site_notes(job.site, job.hours))


def _window_row(job: Job, window: Window, why: NDArray[np.object_]) -> dict[str, object]:
    row: dict[str, object] = {
        "site": job.site.name,
        "coating": job.coating.name,
        "state": State.OK.name,
        "window": window.number,
        "start_local": window.start,
        "end_local": window.end,
        "hours": window.hours,
        "confidence": _confidence(window),
        "decided_by": ", ".join(gate.name for gate in (*window.decided_by, *window.undecided)),
        "closed_by": _closed_by(job, window, why),
        "rain_safe_first_local": window.first.get("rain_safe"),
        "rain_safe_last_local": window.last.get("rain_safe"),
        "rain_likely": window.rain_likely,
        "cautions": caution_text(window.cautions),
    }
    if window.tightest is not None:
        rule = window.tightest.gate.rule
        row["tightest_gate"] = rule.name
        row["tightest_margin"] = window.tightest.margin
        row["tightest_unit"] = MARGIN_UNITS.get(rule.dimension, rule.dimension)
    if window.stop is not None:
        row["stop_at_local"] = window.stop.at
        row["stop_gate"] = window.stop.gate.name + ("" if window.stop.known else "?")
        row["hazard_local"] = window.stop.hazard
    if window.dry_chance is not None:
        row["dry_chance_low"], row["dry_chance_high"] = window.dry_chance
    return row


def _provisional_row(job: Job, each: Provisional) -> dict[str, object]:
    return {
        "site": job.site.name,
        "coating": job.coating.name,
        "state": State.UNKNOWN.name,
        "start_local": each.start,
        "end_local": each.end,
        "missing": ", ".join(each.missing),
    }


def _confidence(window: Window) -> str:
    if window.decided_by:
        return "depends on the data sheet"
    return "not known" if window.undecided else "robust"


def _closed_by(job: Job, window: Window, why: NDArray[np.object_]) -> str:
    """Return what keeps the hour after a window out of it."""
    after = int(job.hours.index.searchsorted(window.end))
    if after == len(why):
        return "end of the hours"
    return str(why[after]) or "end of the shift"


def _cautions(job: Job) -> NDArray[np.object_]:
    """Return the cautions of each hour that is OK, those of its run of hours, shape (hours,)."""
    told = np.full(len(job.hours.index), "", dtype=object)
    one_shift = np.zeros(len(told), dtype=np.int64)
    for start, end in runs(job.found.hour == State.OK, one_shift, 1):
        told[start:end] = caution_text(cautions(job.conditions, job.coating, start, end))
    return told
