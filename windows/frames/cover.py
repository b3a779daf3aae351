"""Bare layers of a job against their deadlines."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from windows.frames.given import given_job
from windows.frames.shape import caution_text, typed_frame, with_told
from windows.job_file import with_extra_days
from windows.notes import site_notes
from windows.pieces import pieces, waiting
from windows.recoat import check_cover
from windows.work_rate import work_hours

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    import pandas as pd

    from cure_models.coating import Limits
    from windows.cover import Cover, Deadline
    from windows.frames.shape import Kind
    from windows.hours import HourlyTable
    from windows.layers import SystemHours
    from windows.pieces import Piece

__all__ = ["check_bare_layers"]

_COLUMNS: dict[str, Kind] = {
    "site": "text",
    "piece": "text",
    "section": "text",
    "layer": "whole",
    "layer_name": "text",
    "coating": "text",
    "area_m2": "number",
    "state": "text",
    "verdict": "text",
    "placed_start_local": "local",
    "placed_end_local": "local",
    "opens_local": "local",
    "cover_by_local": "local",
    "cover_by_earliest_local": "local",
    "deadline_firm": "truth",
    "windows_left": "whole",
    "windows_if_known": "whole",
    "last_window_start_local": "local",
    "last_window_end_local": "local",
    "longest_window_h": "number",
    "work_h": "number",
    "longest_window_is_too_short": "truth",
    "hazards": "text",
    "what_to_do": "text",
    "cautions": "text",
}


def check_bare_layers(
    folder: Path | str,
    *,
    now: datetime | str | None = None,
    hours: HourlyTable | None = None,
    system: Path | str | None = None,
    job: Path | str | None = None,
    limits: Limits = "generic",
    dry_at_start: bool = False,
) -> pd.DataFrame:
    """Return the layers that are laid and not yet covered, as ``dewgap cover`` checks them.

    The manufacturer's data sheet, local code and the competent person on site govern. Each row is
    looked at alone: one crew may not do them all, see `plan_job`.

    Parameters
    ----------
    folder
        Folder with ``site.toml`` and ``job.toml``; the log of the job is read where there is one.
    now
        The present, by the site's clock unless it has a zone; default the real one.
    hours
        From `read_weather` or `hours_from`; default ``weather.csv`` in the folder.
    system
        Name of a system, or its file; default the one that the job file names.
    job
        Another job file.
    limits, dry_at_start
        See `find_windows`.

    Returns
    -------
    DataFrame
        One row a piece, the nearest deadline first:

        - ``site``, ``piece``, ``section``, ``layer`` (from 1), ``layer_name``, ``coating``,
          ``area_m2``: what is bare.
        - ``state``: ``"OK"`` it can wait, or be covered in time; ``"BLOCKED"`` it is overdue, or no
          window of the next layer is left or long enough; ``"UNKNOWN"`` it cannot be told, or only
          the data sheet can. ``verdict`` in words.
        - ``placed_start_local``, ``placed_end_local``; ``opens_local``: when the next layer may
          follow; ``cover_by_local``: until when it must be down, ``cover_by_earliest_local`` at the
          careful end of the range; ``deadline_firm``: whether none rests on a generic value of weak
          basis. NaT where there is none, or the data end first.
        - ``windows_left`` that are sure, ``windows_if_known`` that would be if all turned out well,
          start and end of the last, ``longest_window_h``; ``work_h`` that the next layer takes, and
          ``longest_window_is_too_short``.
        - ``hazards``: gates that the weather broke or breaks over the young film, with the hour;
          ``what_to_do`` and ``cautions`` of the windows left, a line each.

        ``attrs`` has ``governs``, ``weather`` and ``notes``.

    Raises
    ------
    DewgapError
        If a file is missing or has a fault, or the weather does not hold a placement or the
        present.

    Examples
    --------
    >>> from windows import check_bare_layers
    >>> from windows.demo import demo_folder
    >>> bare = check_bare_layers(demo_folder() / "cool_north", now="2026-09-22T17:00")
    >>> bare[["piece", "state", "verdict"]].values.tolist()
    [['B', 'BLOCKED', 'no window left'], ['A', 'UNKNOWN', 'depends on the data sheet']]
    """
    given = given_job(folder, now, job, system)
    laid = pieces(given.file, given.system, given.site, given.now)
    crew = with_extra_days(given.site, given.file)
    in_weather = given.layers(hours, limits, dry_at_start=dry_at_start, crew=crew)
    rows = [
        _row(
            in_weather, piece, check_cover(in_weather, piece.laid[-1], given.now),
            work_hours(given.system, piece.next_layer, piece.area_m2, given.file),
        )
        for piece in waiting(laid, given.system)
    ]  # fmt: skip
    frame = typed_frame(rows, _COLUMNS, [given.site.zone])
    frame = frame.sort_values("cover_by_local", kind="stable", ignore_index=True)
    table = in_weather.hours
    return with_told(
        frame, weather=table.provenance.describe(given.now), notes=site_notes(given.site, table)
    )


def _row(system: SystemHours, piece: Piece, cover: Cover, work_h: float) -> dict[str, object]:
    row: dict[str, object] = {
        "site": system.site.name,
        "piece": piece.name,
        "section": piece.section,
        "layer": cover.layer + 1,
        "layer_name": system.system.layers[cover.layer].name,
        "coating": system.jobs[cover.layer].coating.name,
        "area_m2": piece.area_m2,
        "state": cover.state_for(work_h).name,
        "verdict": cover.verdict.value,
        "placed_start_local": cover.placed_start,
        "placed_end_local": cover.placed_end,
        "opens_local": cover.opens,
        "cover_by_local": cover.due,
        "cover_by_earliest_local": _earliest(cover.deadlines),
        "deadline_firm": all(each.firm for each in cover.deadlines),
        "windows_left": len(cover.left),
        "windows_if_known": len(cover.provisional),
        "longest_window_h": cover.longest_h,
        "work_h": work_h,
        "longest_window_is_too_short": cover.is_too_short(work_h),
        "hazards": ", ".join(f"{h.gate.name} {h.at:%Y-%m-%dT%H:%MZ}" for h in cover.hazards),
        "what_to_do": "\n".join(each.text for each in cover.advice),
        "cautions": caution_text(chain.from_iterable(each.cautions for each in cover.left)),
    }
    if cover.left:
        row["last_window_start_local"] = cover.left[-1].start
        row["last_window_end_local"] = cover.left[-1].end
    return row


def _earliest(deadlines: tuple[Deadline, ...]) -> pd.Timestamp | None:
    """Return the earliest deadline at the careful ends, None if one of them is not known."""
    ends = [each.earliest for each in deadlines]
    known = [end for end in ends if end is not None]
    return min(known) if known and len(known) == len(ends) else None
