"""A reading on the roof against the gates of what comes next, and the moisture of its air."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.coating import LIMIT_DECIMALS, Gate
from cure_models.limits import GATE_RULES
from cure_models.psychrometrics import relative_humidity
from windows.field.instrument_check import instrument_flags
from windows.field.moist_air import DEW_POINT_FORMULA, computed
from windows.field.rules import ROUNDING, field_rules
from windows.field.told import both, pair
from windows.field.weather_check import asked
from windows.gates import State, check

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from cure_models.coating import Coating
    from windows.log.entries import Instrument, Reading

__all__ = ["check_reading", "gates_of_reading", "values_read"]


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
    values = values_read(reading)
    told = [
        _sentence(asked(gate, values[gate.rule.quantity]))
        for gate in gates_of_reading(gates)
        if _breaks(values[gate.rule.quantity], gate)
    ]
    known = instrument_flags(reading.instruments, instruments, on)
    return (*told, *_spread_flags(reading), *known)


def values_read(reading: Reading) -> dict[str, float]:
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


def gates_of_reading(coating: Coating | None) -> list[Gate]:
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
    if own is not None and air is not None and own - air > rules.dew_above_air_k + ROUNDING:
        dew, warm = pair(own, air, "temperature")
        told.append(
            f"Dew point {dew} is above the air at {warm}, which is not possible: one of them is "
            "wrong."
        )
    if own is not None and found.dew_point_c is not None and not found.from_instrument:
        apart = abs(own - found.dew_point_c)
        if apart > rules.dew_point_apart_k + ROUNDING:
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
