"""Units at the door: everything inside the packages is SI, converted here and nowhere else.

A temperature and a temperature *difference* are two dimensions, because 5 degF of spread is
2.78 K while 5 degF of air is -15 degC.

Sources: the inch, foot, pound and mile by the international yard and pound agreement of 1959
(exact); standard gravity of 9.80665 m/s2 (CGPM 1901); the US gallon of 231 cubic inches (NIST
Handbook 44, appendix C); 1 perm =
57.2135 ng/(s m2 Pa) (ASTM E96, from memory); the standard erythema dose of 100 J/m2 (ISO/CIE
17166, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, TypeVar

__all__ = [
    "MIL_UM",
    "UNITS",
    "WET_MILS_PER_GAL_PER_SQUARE",
    "Unit",
    "UnitError",
    "from_si",
    "parse_quantity",
    "to_si",
]


if TYPE_CHECKING:
    from cure_models.arrays import FloatArray

Number = TypeVar("Number", "float", "FloatArray")


class UnitError(ValueError):
    """A unit that is not known, or one of the wrong dimension."""


@dataclass(frozen=True)
class Unit:
    """A unit: ``si = value * scale + offset`` in the SI unit of its dimension."""

    dimension: str
    scale: float
    offset: float = 0.0


_FOOT = 0.3048
_INCH = 0.0254
_GALLON_M3 = 231 * _INCH**3
_BTU_J = 1055.05585262
_POUND_KG = 0.45359237
_LBF_N = _POUND_KG * 9.80665

MIL_UM = 25.4
"""Micrometres in a mil. [um]"""

WET_MILS_PER_GAL_PER_SQUARE = 231 / (14400 / 1000)
"""Wet film of one US gallon spread over 100 ft2: 231 in3 / 14400 in2. [mil]"""

UNITS: dict[str, Unit] = {
    # temperature [degC] and difference of temperature [K]
    "degC": Unit("temperature", 1.0),
    "degF": Unit("temperature", 5 / 9, -32 * 5 / 9),
    "K": Unit("difference", 1.0),
    "delta_degF": Unit("difference", 5 / 9),
    # share [fraction]
    "1": Unit("fraction", 1.0),
    "%": Unit("fraction", 0.01),
    # speed [m/s]
    "m/s": Unit("speed", 1.0),
    "mph": Unit("speed", 1609.344 / 3600),
    "km/h": Unit("speed", 1 / 3.6),
    "kn": Unit("speed", 1852 / 3600),
    # time [h]
    "h": Unit("time", 1.0),
    "d": Unit("time", 24.0),
    "min": Unit("time", 1 / 60),
    # film thickness [um]
    "um": Unit("film", 1.0),
    "mil": Unit("film", MIL_UM),
    # depth of water [mm]
    "mm": Unit("water", 1.0),
    "in": Unit("water", 25.4),
    # drying [mm/h, which is kg/m2h of water]
    "mm/h": Unit("drying", 1.0),
    "lb/ft2h": Unit("drying", _POUND_KG / _FOOT**2),
    # erythemal dose of ultraviolet [SED]
    "SED": Unit("uv_dose", 1.0),
    "J/m2": Unit("uv_dose", 0.01),
    # height above the sea [m]
    "m": Unit("height", 1.0),
    "ft": Unit("height", _FOOT),
    # area [m2]
    "m2": Unit("area", 1.0),
    "ft2": Unit("area", _FOOT**2),
    # spread rate [L/m2]
    "L/m2": Unit("spread_rate", 1.0),
    "gal/100ft2": Unit("spread_rate", _GALLON_M3 * 1000 / (100 * _FOOT**2)),
    # volume [L], flow of a pump [L/min], area laid in an hour [m2/h]
    "L": Unit("volume", 1.0),
    "gal": Unit("volume", _GALLON_M3 * 1000),
    # foam: a board foot is a foot by a foot by an inch [m3]
    "m3": Unit("foam", 1.0),
    "board_ft": Unit("foam", _FOOT**2 * _INCH),
    "L/min": Unit("flow", 1.0),
    "gal/min": Unit("flow", _GALLON_M3 * 1000),
    "m2/h": Unit("work_rate", 1.0),
    "ft2/h": Unit("work_rate", _FOOT**2),
    # pressure [hPa]
    "hPa": Unit("pressure", 1.0),
    "inHg": Unit("pressure", 33.8638866667),
    # strength of a bond: pulled off [kPa], peeled [N/m]
    "kPa": Unit("stress", 1.0),
    "psi": Unit("stress", _LBF_N / _INCH**2 / 1000),
    "N/m": Unit("peel", 1.0),
    "lbf/in": Unit("peel", _LBF_N / _INCH),
    # heat [W/m2], [W/m2K], [kJ/m2K], [kJ/mol]
    "W/m2": Unit("irradiance", 1.0),
    "W/m2K": Unit("conductance", 1.0),
    "Btu/hft2F": Unit("conductance", _BTU_J / 3600 / _FOOT**2 * 9 / 5),
    "kJ/m2K": Unit("heat_capacity", 1.0),
    "Btu/ft2F": Unit("heat_capacity", _BTU_J / 1000 / _FOOT**2 * 9 / 5),
    "kJ/mol": Unit("activation_energy", 1.0),
    # angle [deg] and vapour permeance [perm: the trade has no other]
    "deg": Unit("angle", 1.0),
    "perm": Unit("permeance", 1.0),
    "ng/sm2Pa": Unit("permeance", 1 / 57.2135),
}


def _unit(name: str) -> Unit:
    try:
        return UNITS[name]
    except KeyError:
        known = ", ".join(UNITS)
        raise UnitError(f"unit '{name}' is not known; known units: {known}") from None


def to_si(value: Number, unit: str, dimension: str | None = None) -> Number:
    """Convert a number, or an array of numbers, to the SI unit of its dimension.

    Parameters
    ----------
    value
        The number or array. [unit]
    unit
        A key of `UNITS`.
    dimension
        If given, the dimension that the unit must have.

    Raises
    ------
    UnitError
        If the unit is not known or has another dimension.
    """
    found = _unit(unit)
    if dimension is not None and found.dimension != dimension:
        fitting = ", ".join(name for name, u in UNITS.items() if u.dimension == dimension)
        raise UnitError(f"'{unit}' is a unit of {found.dimension}; {dimension} takes {fitting}")
    return value * found.scale + found.offset


def from_si(value: float, unit: str) -> float:
    """Convert an SI number to ``unit``; the inverse of `to_si`.

    Parameters
    ----------
    value
        The number. [SI unit of the unit's dimension]
    unit
        A key of `UNITS`.

    Raises
    ------
    UnitError
        If the unit is not known.
    """
    found = _unit(unit)
    return (value - found.offset) / found.scale


def parse_quantity(text: str, dimension: str) -> float:
    """Read ``"12 ft"`` or ``"24000 ft2"`` and return its value. [SI unit of the dimension]

    Raises
    ------
    UnitError
        If the text is not a number, a space and a unit of the dimension.
    """
    number, _, unit = text.strip().partition(" ")
    fitting = [name for name, u in UNITS.items() if u.dimension == dimension]
    try:
        value = float(number.replace(",", ""))
    except ValueError:
        value = float("nan")
    if not unit or not isfinite(value):
        example = "%" if dimension == "fraction" else fitting[0]
        raise UnitError(
            f"'{text}' is no {dimension.replace('_', ' ')}: write a number, a space and a unit, "
            f"as in \"10 {example}\" ({', '.join(fitting)})"
        )
    if unit.strip() not in UNITS:
        known = ", ".join(fitting)
        raise UnitError(f"unit '{unit.strip()}' is not known; {dimension} takes {known}")
    return to_si(value, unit.strip(), dimension)
