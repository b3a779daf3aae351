"""Rain that was seen against what lay open to it: was the film rain-safe when it fell?"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pandas as pd

from windows.errors import HoursError
from windows.field.told import moment
from windows.job_file import WHOLE, Record
from windows.log.entries import Placement
from windows.recoat import check_cover

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from cure_models.system import System
    from windows.layers import SystemHours
    from windows.log.entries import Entry, Rain
    from windows.site import Site

__all__ = ["rain_flags"]

_ASKED = timedelta(days=14)
"""What was laid so long before is taken as past the harm of rain (own choice)."""


def rain_flags(
    rain: Rain,
    *,
    site: Site,
    system: System,
    before: Sequence[Entry],
    in_weather: SystemHours | None,
) -> tuple[str, ...]:
    """Say which laid layers the rain fell on before they were rain-safe, or may have.

    Parameters
    ----------
    rain
        What was seen; on one section, or on all.
    site, system
        Where, and what is laid there.
    before
        What stands in the log: its placements are looked at.
    in_weather
        The system in a weather; whether a film was rain-safe is known where it holds the film and
        the rain.
    """
    end = rain.end or rain.at + timedelta(seconds=1)
    there = [
        entry.body
        for entry in before
        if isinstance(entry.body, Placement)
        and rain.section in ("", entry.body.section)
        and rain.at - _ASKED < entry.body.end
        and entry.body.at < end
    ]
    told = [
        _told(laid, rain.at, site, system, in_weather)
        for laid in there
        if not any(_covers(other, laid, rain.at, system) for other in there)
    ]
    return tuple(flag for flag in told if flag)


def _covers(other: Placement, laid: Placement, at: datetime, system: System) -> bool:
    """Tell whether the next layer was all over a section before a moment."""
    return (
        other.section == laid.section
        and system.number(other.layer) > system.number(laid.layer)
        and laid.end <= other.at
        and other.end <= at
        and other.area_m2 >= WHOLE * laid.area_m2
    )


def _told(
    laid: Placement, at: datetime, site: Site, system: System, in_weather: SystemHours | None
) -> str:
    """Return what the rain means for a layer, nothing if it was rain-safe."""
    name = f"'{laid.layer}' on section '{laid.section}'"
    if laid.end > at:
        return f"Rain fell while {name} was being laid."
    safe: pd.Timestamp | None = None
    if in_weather is not None:
        record = Record(system.number(laid.layer), pd.Timestamp(laid.at), pd.Timestamp(laid.end))
        try:
            cover = check_cover(in_weather, record, pd.Timestamp(at))
        except HoursError:
            pass  # the weather does not hold both
        else:
            if "rain_safe" not in cover.milestones:
                return ""
            safe = cover.milestones["rain_safe"]
    if safe is None:
        return f"Rain fell on {name}, and whether it was rain-safe by then is not known."
    if safe <= pd.Timestamp(at):
        return ""
    return (
        f"Rain fell on {name} before it was rain-safe: by its weather at "
        f"{moment(safe.to_pydatetime(), site.zone)}. Look at the film."
    )
