"""What all frames have alike: typed columns, one way to say nothing, and what goes with them.

Unknown is NaN, NaT or NA, and text is empty where there is none. Times have a zone: a column that
ends in ``_local`` is on the clock of the site, one that ends in ``_utc`` or ``_at`` in UTC; ``day``
is a date. Cautions are a line each. Where a command writes the same table as CSV, the columns are
those of the CSV.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import pandas as pd

from windows.gates import State
from windows.reports.sheets import rounded
from windows.safety import GOVERNS, each_once

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from zoneinfo import ZoneInfo

    from windows.layers import SystemHours
    from windows.reports.sheets import Cell, Sheet
    from windows.safety import Caution

__all__ = [
    "Kind", "caution_text", "kinds_of", "left_out_state", "sheet_frame", "sheet_rows",
    "typed_frame", "with_told",
]  # fmt: skip

Kind = Literal["text", "number", "whole", "truth", "day", "utc", "local"]
_TRUTH: dict[object, bool] = {True: True, False: False, "yes": True, "no": False}


def typed_frame(
    rows: Sequence[Mapping[str, object]],
    kinds: Mapping[str, Kind],
    zones: Sequence[ZoneInfo],
) -> pd.DataFrame:
    """Return rows as a frame whose columns have their types also where there is no row.

    Parameters
    ----------
    rows
        Cells by column; what is missing, None or an empty text is not known, or not there.
    kinds
        Kind of each column, in their order.
    zones
        Clock of the site of each row, one for all of them, or one a row.
    """
    cells = {name: [row.get(name) for row in rows] for name in kinds}
    return pd.DataFrame({name: _column(cells[name], kind, zones) for name, kind in kinds.items()})


def _column(cells: list[object], kind: Kind, zones: Sequence[ZoneInfo]) -> pd.Series:
    known = [None if cell == "" else cell for cell in cells]
    if kind == "text":
        return pd.Series(["" if cell is None else str(cell) for cell in known], dtype="str")
    if kind == "truth":
        return pd.Series([_TRUTH.get(cell) for cell in known], dtype="boolean")
    if kind in ("number", "whole"):
        numbers = pd.Series(known, dtype="float64")
        return numbers.astype("Int64") if kind == "whole" else numbers
    if kind == "day":
        return pd.Series(pd.to_datetime(pd.Series(known, dtype=object)), dtype="datetime64[ns]")
    times = pd.to_datetime(pd.Series(known, dtype=object), utc=True, format="ISO8601")
    utc = pd.Series(times, dtype="datetime64[ns, UTC]")
    return utc if kind == "utc" else _on_clocks(utc, zones)


def _on_clocks(utc: pd.Series, zones: Sequence[ZoneInfo]) -> pd.Series:
    """Return times on the clocks of their sites: one type where all have one clock, else objects.

    >>> from zoneinfo import ZoneInfo
    >>> noon = pd.Series(pd.to_datetime(["2026-06-01T18:00Z"]))
    >>> _on_clocks(noon, [ZoneInfo("America/Chicago")])[0].isoformat()
    '2026-06-01T13:00:00-05:00'
    """
    if len(set(zones)) == 1:
        local: pd.Series = utc.dt.tz_convert(zones[0])
        return local
    times = [
        at if pd.isna(at) else at.tz_convert(zone) for at, zone in zip(utc, zones, strict=True)
    ]
    return pd.Series(times, dtype=object)


def sheet_rows(sheet: Sheet) -> list[dict[str, Cell]]:
    """Return the rows of a sheet, their numbers as the command's CSV tells them.

    >>> from windows.reports.sheets import Sheet
    >>> sheet_rows(Sheet("Plan", ("piece", "area_m2"), (("+3 east", 12.34567), ("West", None))))
    [{'piece': '+3 east', 'area_m2': 12.3457}, {'piece': 'West', 'area_m2': None}]
    """
    return [
        dict(zip(sheet.columns, (rounded(cell) for cell in row), strict=True))
        for row in sheet.rows
    ]


def kinds_of(
    columns: Iterable[str], *, numbers: Iterable[str] = (), truths: Iterable[str] = ()
) -> dict[str, Kind]:
    """Return the kinds of a command's columns: by their endings, the numbers and truths as named.

    >>> kinds_of(["day", "piece", "layer", "area_m2", "start_utc"], numbers=["area_m2"])
    {'day': 'day', 'piece': 'text', 'layer': 'whole', 'area_m2': 'number', 'start_utc': 'utc'}
    """
    named: dict[str, Kind] = {"day": "day", "layer": "whole"}
    named.update((name, "number") for name in numbers)
    named.update((name, "truth") for name in truths)
    return {name: named.get(name) or _kind_by_ending(name) for name in columns}


def _kind_by_ending(name: str) -> Kind:
    if name.endswith("_utc"):
        return "utc"
    return "local" if name.endswith("_local") else "text"


def sheet_frame(
    sheet: Sheet, *, texts: Iterable[str] = (), days: Iterable[str] = ()
) -> pd.DataFrame:
    """Return a sheet, from which the command's CSV is written too, as a frame.

    Columns are whole numbers where all that is known is whole, numbers else, but for ``texts`` and
    ``days``. What has no end is infinite here, and empty in the CSV.
    """
    named: dict[str, Kind] = {}
    named.update((name, "text") for name in texts)
    named.update((name, "day") for name in days)
    kinds: dict[str, Kind] = {}
    for place, name in enumerate(sheet.columns):
        cells = [row[place] for row in sheet.rows if row[place] is not None]
        is_whole = bool(cells) and all(isinstance(cell, int) for cell in cells)
        kinds[name] = named.get(name, "whole" if is_whole else "number")
    rows = [dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows]
    return typed_frame(rows, kinds, ())


def caution_text(told: Iterable[Caution]) -> str:
    """Return cautions in one text, each once and on a line of its own."""
    return "\n".join(each.text for each in each_once(told))


def with_told(
    frame: pd.DataFrame, *, weather: str = "", notes: Iterable[str] = ()
) -> pd.DataFrame:
    """Return a frame with ``attrs``: what governs, where its weather is from, what to know."""
    frame.attrs = {"governs": GOVERNS, "weather": weather, "notes": list(dict.fromkeys(notes))}
    return frame


def left_out_state(system: SystemHours | None, layer: int, now: pd.Timestamp) -> str:
    """Return how a layer stands that is not planned: never OK.

    UNKNOWN if there is an hour from ``now`` on of which it is not known whether it may take the
    layer or one below it, or no weather at all; else BLOCKED.
    """
    if system is None:
        return State.UNKNOWN.name
    first = int(system.hours.index.searchsorted(now))
    unknown = any(
        bool((job.found.hour[first:] == State.UNKNOWN).any()) for job in system.jobs[: layer + 1]
    )
    return (State.UNKNOWN if unknown else State.BLOCKED).name
