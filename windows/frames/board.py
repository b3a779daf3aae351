"""All sites and crews of a folder, one row a layer that a crew lays, or that nobody lays."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from windows.board.make import load_jobs, make_board
from windows.board.result import SiteState
from windows.board.sites import first_site
from windows.decision import Verdict
from windows.errors import DewgapError
from windows.frames.checks import require_number, require_path
from windows.frames.given import moment
from windows.frames.shape import (
    caution_text,
    kinds_of,
    left_out_state,
    sheet_rows,
    typed_frame,
    with_told,
)
from windows.gates import State
from windows.reports.board_csv import board_sheet
from windows.reports.board_table import summary
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from datetime import datetime

    import pandas as pd

    from windows.board.make import Loaded
    from windows.board.result import Board

__all__ = ["send_crews"]

_NUMBERS = (
    "area_m2", "drive_h", "chance_low", "chance_estimate", "chance_high", "tightest_margin",
)  # fmt: skip
_TRUTHS = ("promised", "stale_weather")

_STATE = {
    Verdict.GO.value: State.OK,
    Verdict.GO_UNTIL.value: State.OK,
    Verdict.WAIT.value: State.BLOCKED,
    Verdict.NO.value: State.BLOCKED,
    Verdict.CLOSE_CALL.value: State.UNKNOWN,
    Verdict.NOT_KNOWN.value: State.UNKNOWN,
}
"""What each verdict comes to: a close call is the foreman's, so no go is told.

Work without a verdict is not known.
"""


def send_crews(
    folder: Path | str, *, now: datetime | str | None = None, seconds: float = 20.0
) -> pd.DataFrame:
    """Return which crew lays what where over the next days, as ``dewgap board --csv`` tells it.

    The manufacturer's data sheet, local code and the competent person on site govern; this is a
    forecast, not a guarantee, and the cautions go with each go.

    Parameters
    ----------
    folder
        Folder with ``board.toml`` and one folder a site, each with ``site.toml``, ``job.toml`` and
        ``weather.csv``.
    now
        The present, by the clock of the first site unless it has a zone; default the real one.
    seconds
        Most time for the solver. [s]

    Returns
    -------
    DataFrame
        The columns of the CSV: ``day``, ``crew``, ``site`` (its folder), ``site_name``, ``piece``,
        ``section``, ``layer`` (from 1), ``layer_name``, ``coating``, ``area_m2``; start and end of
        the work, arrival and leave, on the clock of the site and in UTC; ``drive_h`` one way;
        ``chance_low``, ``chance_estimate``, ``chance_high`` that the coat holds [fraction] and
        ``chance_method``; ``tightest_gate``, ``tightest_margin``, ``tightest_unit``; ``opens_utc``,
        ``cover_by_utc``; ``promised``; ``verdict`` of go or wait, ``stop_at_...``,
        ``decide_by_...``; ``cautions``, a line each; ``stale_weather``. Then

        - ``state``: ``"OK"`` go. ``"BLOCKED"`` wait or a hard limit, ``"UNKNOWN"`` a close call or
          not known. Rows without a crew are layers that nobody is sent for, BLOCKED, or UNKNOWN
          if hours that are not known may still take them; and sites of which nothing can be told,
          UNKNOWN.
        - ``why``: why nobody is sent, or what is wrong with a file.

        ``attrs`` has ``governs``, ``notes`` (notes of sites, and each fault) and ``summary``.

    Raises
    ------
    DewgapError
        If there is no such folder, no site in it, or ``now`` is no time. A site or crew with a
        fault is told in a row, and the others stand.

    Examples
    --------
    >>> from windows import send_crews
    >>> from windows.demo import demo_folder
    >>> board = send_crews(demo_folder() / "tri_county", now="2026-06-10T18:00", seconds=1)
    >>> board["site"].nunique()
    5
    >>> nobody = board[board["crew"] == ""]
    >>> "OK" in set(nobody["state"]), "" in set(nobody["why"])
    (False, False)
    """
    require_path("folder", folder)
    require_number("seconds", seconds)
    path = Path(folder)
    present = moment(now, _first_zone(path))
    loaded = load_jobs(path, WeatherChoice(), present)
    made = make_board(loaded, present, seconds=seconds)
    sheet = board_sheet(made)
    told = [caution_text(each.cautions) for each in made.assignments for _ in each.works]
    rows: list[dict[str, object]] = [
        {**cells, "state": _state(cells["verdict"]), "cautions": cautions}
        for cells, cautions in zip(sheet_rows(sheet), told, strict=True)
    ]
    rows += [*_undone(made, loaded), *_faults(made)]
    columns = [*sheet.columns, "state", "why"]
    zones = {site.key: site.zone for site in made.sites}
    clocks = [zones.get(str(row["site"]), loaded.zone) for row in rows] or [loaded.zone]
    frame = with_told(
        typed_frame(rows, kinds_of(columns, numbers=_NUMBERS, truths=_TRUTHS), clocks),
        notes=[f"{site.name}: {note}" for site in made.sites for note in site.notes]
        + [f"{fault.where}: {fault.text}" for fault in made.faults],
    )
    frame.attrs["summary"] = summary(made, "si")
    return frame


def _state(verdict: object) -> str:
    return _STATE.get(str(verdict), State.UNKNOWN).name


def _first_zone(folder: Path) -> ZoneInfo:
    """Return the clock of the first site that can be read, UTC if there is none."""
    try:
        return first_site(folder).zone
    except DewgapError:
        return ZoneInfo("UTC")


def _undone(made: Board, loaded: Loaded) -> list[dict[str, object]]:
    """Return a row for each layer that nobody is sent for."""
    weather = {job.key: job.in_weather for job in loaded.jobs}
    names = {site.key: site.name for site in made.sites}
    return [
        {
            "site": each.site,
            "site_name": names[each.site],
            "piece": each.piece,
            "layer": each.layer + 1,
            "layer_name": each.layer_name,
            "state": left_out_state(weather.get(each.site), each.layer, made.now),
            "why": each.reason,
        }
        for each in made.undone
    ]


def _faults(made: Board) -> list[dict[str, object]]:
    """Return a row for each fault, and for each site of which nothing can be told without one."""
    keys = {site.key: site.name for site in made.sites}
    told = [(each.where, each.text) for each in made.faults]
    at_fault = {where for where, _ in told}
    told += [
        (site.key, site.state.value)
        for site in made.sites
        if site.state in (SiteState.FAULT, SiteState.STALE) and site.key not in at_fault
    ]
    return [
        {
            "site": where if where in keys else "",
            "site_name": keys.get(where, ""),
            "state": State.UNKNOWN.name,
            "why": text if where in keys else f"{where}: {text}",
        }
        for where, text in told
    ]
