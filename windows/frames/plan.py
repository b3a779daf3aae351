"""The plan of a job, one row a layer of a piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.frames.checks import require_number, require_truth
from windows.frames.given import given_job
from windows.frames.shape import (
    caution_text,
    kinds_of,
    left_out_state,
    sheet_rows,
    typed_frame,
    with_told,
)
from windows.gates import State
from windows.notes import site_notes
from windows.pieces import pieces
from windows.planner import make_plan
from windows.reports.plan_json import plan_sheet
from windows.reports.plan_table import eased, left_open, summary, weak_deadlines
from windows.reports.wording import Wording
from windows.safety import cautions
from windows.work_rate import equal_parts

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    import pandas as pd

    from cure_models.coating import Limits
    from windows.hours import HourlyTable
    from windows.layers import SystemHours
    from windows.plan import Placement

__all__ = ["plan_job"]


def plan_job(
    folder: Path | str,
    *,
    now: datetime | str | None = None,
    hours: HourlyTable | None = None,
    system: Path | str | None = None,
    job: Path | str | None = None,
    limits: Limits = "generic",
    dry_at_start: bool = False,
    seconds: float = 20.0,
    open_beyond: bool = False,
) -> pd.DataFrame:
    """Return the best plan of a job, one row a layer of a piece, as ``dewgap plan --csv`` tells it.

    The manufacturer's data sheet, local code and the competent person on site govern; a plan is a
    forecast, not a guarantee, and its cautions go with it.

    Parameters
    ----------
    folder, now, hours, system, job, limits, dry_at_start
        See `check_bare_layers`.
    seconds
        Most time for the solver, and once more for what would let all be laid. [s]
    open_beyond
        Lay also what must be covered only after the weather ends.

    Returns
    -------
    DataFrame
        The columns of the CSV: ``day`` on which the shift begins, ``section`` (the piece),
        ``layer`` (from 1), ``layer_name``, ``coating``, ``area_m2``, ``start_local``,
        ``end_local``, ``start_utc``, ``end_utc``; ``opens_utc`` when the next layer may follow;
        ``cover_by_utc`` until when it must be down; ``spare_shift`` whether another shift would do
        for it. Then

        - ``state``: ``"OK"`` it is planned. A layer that is left out is a row without times at the
          end, ``"BLOCKED"``, or ``"UNKNOWN"`` if hours that are not known may still take it.
        - ``why``: what keeps a layer out of the plan.
        - ``cautions``: what the crew is told, and deadlines that only the data sheet makes firm, a
          line each.

        ``attrs`` has ``governs``, ``weather``, ``notes`` (what is left open, what would let all be
        laid) and ``summary``.

    Raises
    ------
    DewgapError
        If a file is missing or has a fault, or the job cannot be planned at all.

    Examples
    --------
    >>> from windows import plan_job
    >>> from windows.demo import demo_folder
    >>> plan = plan_job(demo_folder() / "high_desert", now="2026-05-11T06:00", seconds=2)
    >>> plan["state"].value_counts().to_dict()
    {'OK': 9}
    >>> plan.groupby("layer_name", sort=False)["area_m2"].sum().round().to_dict()
    {'foam': 1068.0, 'base': 1068.0, 'finish': 1068.0}
    """
    require_number("seconds", seconds)
    require_truth("open_beyond", open_beyond)
    given = given_job(folder, now, job, system)
    laid = pieces(given.file, given.system, given.site, given.now)
    in_weather = given.layers(hours, limits, dry_at_start=dry_at_start)
    parts = laid or equal_parts(given.system, given.site.roof.area, given.file)
    planned = make_plan(
        in_weather, parts, given.file, given.now, seconds=seconds, open_beyond=open_beyond
    )
    best, words = planned.best, Wording("si", given.site.zone)
    sheet = plan_sheet(best, given.site.zone)
    weak = weak_deadlines(planned, words)
    rows: list[dict[str, object]] = [
        {
            **cells,
            "state": State.OK.name,
            "cautions": "\n".join(
                [
                    _cautions(in_weather, each),
                    *(f"Data sheet: {text}." for one, text in zip(planned.weak, weak, strict=True)
                      if one.layer_name == each.layer_name),
                ]
            ),
        }
        for cells, each in zip(sheet_rows(sheet), best.placements, strict=True)
    ]  # fmt: skip
    rows += [
        {
            "section": each.piece,
            "layer": each.layer + 1,
            "layer_name": each.layer_name,
            "coating": given.system.profiles[each.layer].name,
            "state": left_out_state(in_weather, each.layer, given.now),
            "why": each.reason,
        }
        for each in best.left_out
    ]
    columns = [*sheet.columns, "state", "why", "cautions"]
    kinds = kinds_of(columns, numbers=["area_m2"], truths=["spare_shift"])
    frame = with_told(
        typed_frame(rows, kinds, [given.site.zone]),
        weather=in_weather.hours.provenance.describe(given.now),
        notes=[
            *site_notes(given.site, in_weather.hours), *left_open(best, words), *eased(planned)
        ],
    )  # fmt: skip
    frame.attrs["summary"] = summary(best, words)
    return frame


def _cautions(system: SystemHours, each: Placement) -> str:
    job = system.jobs[each.layer]
    rows = system.rows(each.start, each.end)
    return caution_text(cautions(job.conditions, job.coating, *rows))
