"""A placement when it is written down: all that is to be said of it."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from windows.field.instrument_check import instrument_flags
from windows.field.order_check import direction_flags, laid_before, order_flags
from windows.field.rain_check import rained_on_flags
from windows.field.reading_check import gates_of_reading, values_read
from windows.field.rules import field_rules
from windows.field.told import moment, pair
from windows.field.weather_check import asked, coating_laid, weather_flags
from windows.field.wet_film import check_volume, check_wet_film, volume_flags, wet_film_flags
from windows.gates import State, check
from windows.log.entries import Reading
from windows.pieces import WHOLE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from cure_models.coating import Coating
    from cure_models.system import System
    from windows.job_file import Material
    from windows.layers import SystemHours
    from windows.log.entries import Body, Entry, Instrument, Placement
    from windows.site import Site

__all__ = ["check_placement"]

_MOST_INSTRUMENTS = 10
"""Faults of instruments beyond these add nothing for a reader."""


def check_placement(
    placement: Placement,
    *,
    site: Site,
    system: System,
    layer: int,
    material: Material,
    section_m2: float | None,
    before: Iterable[Entry],
    in_weather: SystemHours | None,
    instruments: Mapping[str, Instrument],
    now: datetime,
) -> tuple[str, ...]:
    """Return what is to be said of a placement.

    Parameters
    ----------
    placement
        As it is to be written down.
    site, system, layer, material
        Where, of what, which layer (from 0), and the job's loss and texture.
    section_m2
        Area of the section, None if the job file does not have it. [m2]
    before
        The other entries that stand: placements, preparations, readings and rain. One that this
        one corrects is none of them.
    in_weather
        The system in a weather, None if there is none: then that is said.
    instruments
        By serial number, from `instruments_at`.
    now
        The present: what its weather is still to bring is told as that.
    """
    bodies = [entry.body for entry in before]
    coating = coating_laid(placement, site=site, system=system, layer=layer)
    film = check_wet_film(placement, system=system, layer=layer)
    volume = check_volume(placement, system=system, layer=layer, material=material)
    laid = laid_before(placement, bodies, system, layer)
    return (
        *(wet_film_flags(film) if film else ()),
        *(volume_flags(volume) if volume else ()),
        *_area_flags(placement, section_m2, laid),
        *_beside_flags(placement, coating, bodies, site.zone, instruments),
        *weather_flags(
            placement, coating=coating, layer=layer, in_weather=in_weather, now=now
        ),
        *order_flags(
            placement, site=site, system=system, layer=layer, section_m2=section_m2,
            before=bodies, in_weather=in_weather,
        ),
        *rained_on_flags(
            placement, site=site, system=system, section_m2=section_m2, before=bodies,
            in_weather=in_weather,
        ),
        *([] if placement.batches else ["No batch number is given."]),
        *direction_flags(placement, system=system, layer=layer, before=bodies),
    )


def _area_flags(
    placement: Placement, section_m2: float | None, laid: Sequence[Placement]
) -> list[str]:
    if section_m2 is None:
        return [
            f"Section '{placement.section}' is not in the job file, so its area could not be "
            "checked."
        ]
    others = sum(each.area_m2 for each in laid)
    if WHOLE * (placement.area_m2 + others) <= section_m2:
        return []
    told, whole = pair(placement.area_m2 + others, section_m2, "area")
    what = "Its area, with the other placements of this layer," if others else "Its area"
    return [f"{what} is {told}; section '{placement.section}' has {whole}."]


def _beside_flags(
    placement: Placement,
    coating: Coating,
    bodies: Sequence[Body],
    zone: ZoneInfo,
    instruments: Mapping[str, Instrument],
) -> list[str]:
    """Say what the readings that were taken beside a placement tell against it, or lack."""
    begin = placement.at - timedelta(hours=field_rules().beside_h)
    beside = [
        body for body in bodies
        if isinstance(body, Reading) and begin <= body.at <= placement.end
        and body.section in ("", placement.section)
    ]  # fmt: skip
    if not beside:
        return ["No reading stands beside it."]
    values = [values_read(reading) for reading in beside]
    told = []
    for gate in gates_of_reading(coating):
        read = np.array([each[gate.rule.quantity] for each in values])
        broken = np.flatnonzero(check(read, gate) == State.BLOCKED)
        if broken.size:
            worst = int(broken[read[broken].argmin() if gate.rule.sense == "min"
                               else read[broken].argmax()])  # fmt: skip
            when = f" at {moment(beside[worst].at, zone)}"
            which = f"{broken.size} of {len(beside)} readings" if len(beside) > 1 else "The reading"
            told.append(f"{which} beside it, {asked(gate, float(read[worst]), when)}.")
    if all(np.isnan(each["spread_c"]) for each in values):
        told.append(
            "The spread is not known: no reading beside it has surface temperature, air "
            "temperature and humidity, or a dew point."
        )
    faults = dict.fromkeys(
        said
        for reading in beside
        for said in instrument_flags(
            reading.instruments, instruments, reading.at.astimezone(zone).date()
        )
    )
    shown = list(faults)[:_MOST_INSTRUMENTS]
    more = len(faults) - len(shown)
    return [
        *told,
        *(f"Readings beside it: {said[0].lower()}{said[1:]}" for said in shown),
        *([f"Readings beside it: {more} more faults of instruments."] if more else []),
    ]
