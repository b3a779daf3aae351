"""What is asked of readings in the field: the numbers of ``readings.toml``, in SI."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from pydantic import Field

from cure_models.sourced import Sourced
from cure_models.toml_input import Table, parse_toml, validated
from cure_models.units import to_si
from windows.errors import ProfileError

__all__ = ["ROUNDING", "FieldRules", "Notch", "field_rules"]

ROUNDING = 1e-6
"""So little beyond a limit is the rounding of another unit; of a film, that share of it."""


class Notch(Table):
    """The step between the teeth of a gauge, for teeth from a film on."""

    from_: Sourced = Field(alias="from")
    step: Sourced


class _Film(Table):
    area_a_reading: Sourced
    volume_tolerance: Sourced


class _Air(Table):
    spread_least: Sourced
    dew_point_apart: Sourced
    dew_above_air: Sourced
    humidity_least: Sourced


class _Due(Table):
    every: Sourced
    stop: Sourced
    before_start: Sourced
    around: Sourced
    beside: Sourced


class _File(Table):
    schema_: int = Field(alias="schema")
    film: _Film
    notch: tuple[Notch, ...]
    air: _Air
    due: _Due


_DIMENSIONS = {
    "area_a_reading": "area", "volume_tolerance": "fraction", "from_": "film", "step": "film",
    "spread_least": "difference", "dew_point_apart": "difference", "dew_above_air": "difference",
    "humidity_least": "fraction", "every": "time", "stop": "time", "before_start": "time",
    "around": "time", "beside": "time",
}  # fmt: skip


@dataclass(frozen=True)
class FieldRules:
    """The numbers in SI, and by the same names where each comes from.

    ``notch_um`` are pairs of a film and the step between teeth from it on, upwards. [m2], [um],
    [K], [fraction], [h]
    """

    area_a_reading_m2: float
    volume_tolerance: float
    notch_um: tuple[tuple[float, float], ...]
    spread_least_k: float
    dew_point_apart_k: float
    dew_above_air_k: float
    humidity_least: float
    every_h: float
    stop_h: float
    before_start_h: float
    around_h: float
    beside_h: float
    sources: dict[str, Sourced]


@cache
def field_rules() -> FieldRules:
    """Return what is asked of readings."""
    place = "windows/field/readings.toml"
    text = (files("windows.field") / "readings.toml").read_text(encoding="utf-8")
    file = validated(_File, parse_toml(text, place, ProfileError), place, ProfileError)
    sources = {
        name: entry for table in (file.film, file.air, file.due) for name, entry in table
    }
    si = {name: _si(name, entry) for name, entry in sources.items()}
    return FieldRules(
        area_a_reading_m2=si["area_a_reading"],
        volume_tolerance=si["volume_tolerance"],
        notch_um=tuple((_si("from_", n.from_), _si("step", n.step)) for n in file.notch),
        spread_least_k=si["spread_least"],
        dew_point_apart_k=si["dew_point_apart"],
        dew_above_air_k=si["dew_above_air"],
        humidity_least=si["humidity_least"],
        every_h=si["every"],
        stop_h=si["stop"],
        before_start_h=si["before_start"],
        around_h=si["around"],
        beside_h=si["beside"],
        sources=sources,
    )


def _si(name: str, entry: Sourced) -> float:
    return to_si(entry.value, entry.unit, _DIMENSIONS[name])
