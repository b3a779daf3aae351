"""Checks on entry: what is to be said of a reading, a placement or a test when it is written down.

Nothing is refused: each fault is a plain sentence that is stored with the entry, and so is what
could not be checked. Numbers stand in both systems of units.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from cure_models.coating import LIMIT_DECIMALS, Gate
from cure_models.limits import GATE_RULES
from cure_models.psychrometrics import relative_humidity
from windows.field.choose import layer_number
from windows.field.laid_checks import (
    asked,
    coating_laid,
    direction_flags,
    laid_before,
    order_flags,
    weather_flags,
)
from windows.field.moist_air import DEW_POINT_FORMULA, computed
from windows.field.rain_check import rained_on_flags
from windows.field.rules import field_rules
from windows.field.told import both, moment, pair
from windows.field.wet_film import check_volume, check_wet_film, volume_flags, wet_film_flags
from windows.gates import State, check
from windows.job_file import WHOLE
from windows.log.entries import (
    Adhesion,
    DryFilm,
    Instrument,
    Moisture,
    Placement,
    Preparation,
    Reading,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date, datetime
    from zoneinfo import ZoneInfo

    from cure_models.coating import Coating
    from cure_models.system import System
    from windows.job_file import Material
    from windows.layers import SystemHours
    from windows.log.entries import Body, Entry
    from windows.site import Site

__all__ = ["check_other", "check_placement", "check_reading", "instruments_at"]

_ROUNDING = 1e-6
_MOST_INSTRUMENTS = 10


def check_reading(
    reading: Reading,
    *,
    gates: Coating | None,
    instruments: Mapping[str, Instrument],
    on: date,
) -> tuple[str, ...]:
    """Return what is to be said of a reading.

    Parameters
    ----------
    reading
        As it is to be written down.
    gates
        The coating of the next layer; None if there is none or it is not known. Then only the
        general spread counts.
    instruments
        By serial number, from `instruments_at`.
    on
        Local day of the reading.
    """
    values = _read(reading)
    told = [
        _sentence(asked(gate, values[gate.rule.quantity]))
        for gate in _gates(gates)
        if _breaks(values[gate.rule.quantity], gate)
    ]
    known = _instrument_flags(reading.instruments, instruments, on)
    return (*told, *_spread_flags(reading), *known)


def _read(reading: Reading) -> dict[str, float]:
    """Return what a reading tells of the quantities of gates, NaN where it does not."""
    found = computed(reading)
    humidity = reading.rel_humidity
    if humidity is None and reading.air_temp_c is not None and reading.dew_point_c is not None:
        humidity = float(relative_humidity(reading.air_temp_c, reading.dew_point_c))
    given = {
        "air_temp_c": reading.air_temp_c,
        "surface_temp_c": reading.surface_temp_c,
        "dry_surface_temp_c": reading.surface_temp_c,
        "rel_humidity": humidity,
        "spread_c": found.spread_k,
        "wind_m_s": reading.wind_m_s,
    }
    # To the decimals of limits, so that a value equal to its limit passes in any unit.
    return {
        name: np.nan if value is None else round(value, LIMIT_DECIMALS)
        for name, value in given.items()
    }


_READ = frozenset(
    {
        "air_temp_c", "surface_temp_c", "dry_surface_temp_c", "rel_humidity", "spread_c",
        "wind_m_s",
    }
)  # fmt: skip


def _gates(coating: Coating | None) -> list[Gate]:
    """Return the placement gates that a reading can be held against, with a spread in any case."""
    gates = [
        gate
        for gate in (() if coating is None else coating.gates)
        if gate.rule.kind == "placement" and gate.rule.quantity in _READ
    ]
    if any(gate.rule.quantity == "spread_c" for gate in gates):
        return gates
    rules = field_rules()
    limit = round(rules.spread_least_k, LIMIT_DECIMALS)
    general = Gate(
        GATE_RULES["spread_min"], limit, None, None, rules.sources["spread_least"], None
    )
    return [*gates, general]


def _breaks(value: float, gate: Gate) -> bool:
    return bool(check(np.array([value]), gate)[0] == State.BLOCKED)


def _sentence(told: str) -> str:
    return f"{told[0].upper()}{told[1:]}."


def _spread_flags(reading: Reading) -> list[str]:
    """Say what is odd about the moisture of the air, and what is missing for a spread."""
    rules, found, told = field_rules(), computed(reading), []
    air, humidity, own = reading.air_temp_c, reading.rel_humidity, reading.dew_point_c
    dead = humidity is not None and humidity < rules.humidity_least
    if dead:
        assert humidity is not None  # it is too low
        told.append(
            f"Relative humidity {both(humidity, 'fraction')} is drier than any roof: no dew point "
            "is worked out from it; check the sensor."
        )
    if own is not None and air is not None and own - air > rules.dew_above_air_k + _ROUNDING:
        dew, warm = pair(own, air, "temperature")
        told.append(
            f"Dew point {dew} is above the air at {warm}, which is not possible: one of them is "
            "wrong."
        )
    if own is not None and found.dew_point_c is not None and not found.from_instrument:
        apart = abs(own - found.dew_point_c)
        if apart > rules.dew_point_apart_k + _ROUNDING:
            told.append(
                f"Dew point {both(own, 'temperature')} of the instrument is "
                f"{both(apart, 'difference')} from the {both(found.dew_point_c, 'temperature')} of "
                f"air temperature and humidity ({DEW_POINT_FORMULA}): one of them is wrong."
            )
    missing = []
    if reading.surface_temp_c is None:
        missing.append("surface temperature")
    if found.dew_point_c is None:
        if dead:
            missing.append("humidity or dew point to be trusted")
        else:
            missing.append("humidity or dew point" if humidity is None else "air temperature")
    if missing:
        told.append(f"The spread is not known: there is no {' and no '.join(missing)}.")
    return told


def _instrument_flags(
    serials: Sequence[str], instruments: Mapping[str, Instrument], on: date
) -> list[str]:
    """Say what the log does not tell of the calibration of instruments, or what is overdue."""
    if not serials:
        return ["No instrument is named, so its calibration is not known."]
    return [
        f"Instrument '{serial}' {fault}."
        for serial in dict.fromkeys(serials)
        if (fault := _instrument_fault(instruments.get(serial), on))
    ]


def _instrument_fault(instrument: Instrument | None, on: date) -> str:
    if instrument is None:
        return "is not in the log, so its calibration is not known"
    if instrument.calibrated is None:
        return "has no day of calibration in the log"
    if on < instrument.calibrated:
        return f"was calibrated on {instrument.calibrated}, after this was read"
    if instrument.due is None:
        return "has no day in the log on which its calibration is due"
    if on > instrument.due:
        return f"was due for calibration on {instrument.due}"
    return ""


def instruments_at(entries: Iterable[Entry], at: datetime) -> dict[str, Instrument]:
    """Return the instruments of a log by serial number, as they stood at a moment.

    Of one that was entered more than once, the last entry up to then counts; one entered only
    afterwards counts as it was entered first.
    """
    found: dict[str, Instrument] = {}
    of_instruments = [entry for entry in entries if isinstance(entry.body, Instrument)]
    for entry in sorted(of_instruments, key=lambda each: (each.at, each.number)):
        body = entry.body
        assert isinstance(body, Instrument)  # others were passed over
        if body.serial not in found or body.at <= at:
            found[body.serial] = body
    return found


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
    values = [_read(reading) for reading in beside]
    told = []
    for gate in _gates(coating):
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
        for said in _instrument_flags(
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


def check_other(
    body: Body, *, system: System | None, instruments: Mapping[str, Instrument], on: date
) -> tuple[str, ...]:
    """Return what is to be said of a moisture reading, a test of adhesion or a dry film.

    Parameters
    ----------
    body
        As it is to be written down; of other kinds nothing is said.
    system
        For the dry film of its layers, None if it is not known.
    instruments
        By serial number, from `instruments_at`.
    on
        Local day on which it was read.
    """
    if isinstance(body, Moisture):
        told = _moisture_flags(body)
    elif isinstance(body, Adhesion):
        told = _adhesion_flags(body)
    elif isinstance(body, DryFilm):
        told = _dry_film_flags(body, system)
    else:
        return ()
    return (*told, *_instrument_flags(body.instruments, instruments, on))


def unlaid_flags(body: Body, *, system: System, before: Iterable[Entry]) -> tuple[str, ...]:
    """Say if what was tested, prepared or covered is not recorded as laid there by then.

    Parameters
    ----------
    body
        With a section and a layer; of one that lacks either nothing is said.
    system
        Its layers.
    before
        What stands.
    """
    section, layer = (getattr(body, name, "") for name in ("section", "layer"))
    if not section or not layer:
        return ()
    number = layer_number(system, layer)
    laid = any(
        isinstance(each.body, Placement)
        and each.body.section == section
        and layer_number(system, each.body.layer) == number
        and (each.body.end if isinstance(body, Preparation) else each.body.at) <= body.at
        for each in before
    )
    if laid:
        return ()
    return (f"Layer '{layer}' is not recorded as laid on section '{section}' by then.",)


def _moisture_flags(body: Moisture) -> list[str]:
    if body.moisture <= body.limit + _ROUNDING:
        return []
    read, limit = pair(body.moisture, body.limit, "fraction")
    return [f"Moisture {read} is above its limit of {limit} ({body.method})."]


def _adhesion_flags(body: Adhesion) -> list[str]:
    if body.passes:
        return []
    read = [
        f"{way} at {both(value, dimension)}"
        for way, value, dimension in (
            ("pulled off", body.pull_off_kpa, "stress"), ("peeled", body.peel_n_m, "peel"),
        )
        if value is not None
    ]  # fmt: skip
    found = ", ".join([*read, *([f"failure: {body.failure}"] if body.failure else [])])
    return [f"Adhesion does not pass{': ' * bool(found)}{found}."]


def _dry_film_flags(body: DryFilm, system: System | None) -> list[str]:
    unknown = "so its dry film could not be checked."
    if system is None:
        return [f"The system is not known, {unknown}"]
    if not body.layer:
        return [f"No layer is named, {unknown}"]
    number = layer_number(system, body.layer)
    if number is None:
        return [f"Layer '{body.layer}' is not one of system '{system.name}', {unknown}"]
    layer = system.layers[number]
    least = layer.dry_film.si
    if body.film_um >= least * (1 - _ROUNDING):
        return []
    read, asks = pair(body.film_um, least, "film")
    return [f"Dry film {read} is below the {asks} of layer '{layer.name}'."]
