"""Rain that was seen against what lay open to it: was the film rain-safe when it fell?"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pandas as pd

from windows.errors import DewgapError, HoursError
from windows.field.parts import parts
from windows.field.told import moment
from windows.log.entries import Placement, Rain
from windows.pieces import WHOLE, LaidRecord
from windows.recoat import check_cover

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from cure_models.system import System
    from windows.layers import SystemHours
    from windows.log.entries import Body, Entry
    from windows.site import Site

__all__ = ["RAIN_SPAN", "rain_flags", "rained_on_flags"]

RAIN_SPAN = timedelta(days=14)
"""What was laid so long before is taken as past the harm of rain (own choice)."""
_MOST_RAINS = 10
"""Rain beyond so many times adds nothing for a reader (own choice)."""


def rain_flags(
    rain: Rain,
    *,
    site: Site,
    system: System,
    areas: Mapping[str, float],
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
    areas
        Area of each section that the job file has. [m2]
    before
        What stands in the log: its placements are looked at.
    in_weather
        The system in a weather; whether a film was rain-safe is known where it holds the film and
        the rain.
    """
    placements = [entry.body for entry in before if isinstance(entry.body, Placement)]
    told = [
        _told("Rain", laid, rain.at, site, system, in_weather)
        for laid in placements
        if _falls_on(rain, laid)
        and _lies_open(laid, rain, placements, site, system, areas.get(laid.section))
    ]
    return tuple(flag for flag in told if flag)


def rained_on_flags(
    laid: Placement,
    *,
    site: Site,
    system: System,
    section_m2: float | None,
    before: Iterable[Body],
    in_weather: SystemHours | None,
) -> tuple[str, ...]:
    """Say which rain, written down before a placement was, fell on it before it was rain-safe.

    Parameters
    ----------
    laid
        What was laid.
    site, system, section_m2
        Where, of what, and the area of its section, None if that is not known. [m2]
    before
        Bodies of the other entries that stand: rain and placements are looked at.
    in_weather
        The system in a weather, as for `rain_flags`.
    """
    bodies = list(before)
    placements = [laid, *(body for body in bodies if isinstance(body, Placement))]
    rains = sorted(
        (body for body in bodies if isinstance(body, Rain) and _falls_on(body, laid)),
        key=lambda rain: rain.at,
    )
    told = [
        _told(f"The rain of {moment(rain.at, site.zone)}", laid, rain.at, site, system, in_weather)
        for rain in rains
        if _lies_open(laid, rain, placements, site, system, section_m2)
    ]
    flags = list(dict.fromkeys(flag for flag in told if flag))
    more = len(flags) - _MOST_RAINS
    return (
        *flags[:_MOST_RAINS],
        *([f"Rain: so it is for {more} more in the log."] if more > 0 else []),
    )


def _falls_on(rain: Rain, laid: Placement) -> bool:
    """Tell whether rain fell where a layer was laid, then or soon after."""
    return (
        rain.section in ("", laid.section)
        and rain.at - RAIN_SPAN < laid.end
        and laid.at < _end(rain)
    )


def _end(rain: Rain) -> datetime:
    return rain.end or rain.at + timedelta(seconds=1)


def _lies_open(
    laid: Placement,
    rain: Rain,
    placements: Sequence[Placement],
    site: Site,
    system: System,
    area_m2: float | None,
) -> bool:
    """Tell whether the next layer did not yet cover all of a placement when rain began."""
    there = [
        each for each in placements if each.section == laid.section and each.at < _end(rain)
    ]
    try:
        divided = parts(
            laid.section, area_m2, list(enumerate(there, start=1)), site=site, system=system
        )
    except DewgapError:
        # Then it is not clear what lies on what: only a layer over all of it covers it.
        return not any(_covers(other, laid, rain.at, system) for other in there)
    mine = there.index(laid) + 1
    over = [
        part.laid[n + 1 : n + 2]
        for part in divided
        for n, each in enumerate(part.laid)
        if each.entry == mine
    ]
    return any(not each or each[0].end > rain.at for each in over)


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
    rain: str,
    laid: Placement,
    at: datetime,
    site: Site,
    system: System,
    in_weather: SystemHours | None,
) -> str:
    """Return what the rain means for a layer, nothing if it was rain-safe."""
    name = f"'{laid.layer}' on section '{laid.section}'"
    if laid.end > at:
        return f"{rain} fell while {name} was being laid."
    safe: pd.Timestamp | None = None
    if in_weather is not None:
        record = LaidRecord(
            system.number(laid.layer), pd.Timestamp(laid.at), pd.Timestamp(laid.end)
        )
        try:
            cover = check_cover(in_weather, record, pd.Timestamp(at))
        except HoursError:
            pass  # the weather does not hold both
        else:
            if "rain_safe" not in cover.milestones:
                return ""
            safe = cover.milestones["rain_safe"]
    if safe is None:
        return f"{rain} fell on {name}, and whether it was rain-safe by then is not known."
    if safe <= pd.Timestamp(at):
        return ""
    return (
        f"{rain} fell on {name} before it was rain-safe: by its weather at "
        f"{moment(safe.to_pydatetime(), site.zone)}. Look at the film."
    )
