"""What the weather source and the model say of the hour of a reading, to be kept beside it.

Kept at entry and as they are, without any correction: whoever learns from readings later finds what
was believed at the time, and nothing that readings have already moved.
"""

from __future__ import annotations

import hashlib
import unicodedata
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models import sun
from windows.conditions import roof_in_table
from windows.errors import LogError
from windows.layers import on_top_of
from windows.log.chain import canonical
from windows.log.entries import Beside
from windows.time_rows import middles_of_hours, unix_seconds

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from cure_models.system import System
    from windows.conditions import Roof
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["CORRECTED", "beside", "is_corrected", "model_key", "source_line", "sun_up", "top_of"]

CORRECTED = "corrected by readings in the log of this roof: "
"""Beginning of the note of a table that readings have corrected."""

_DECIMALS = 2
_LONGEST_SOURCE = 200
_KEY_DIGITS = 12

# What an entry can hold, as in `windows.log.entries`.
_AIR_C, _TEMPERATURE_C, _SHARE, _SPEED_M_S = (-60, 60), (-60, 120), (0, 1), (0, 100)


def top_of(site: Site, system: System, laid_layers: int) -> Site:
    """Return a site with the layer on top that is there once so many layers are laid.

    Raises
    ------
    LogError
        If the system has not so many layers.
    """
    if not 0 <= laid_layers <= len(system.profiles):
        raise LogError(
            f"{site.name}: {laid_layers} layers are told as laid, and the system has "
            f"{len(system.profiles)}; mend the placements, or name the right system"
        )
    return site if laid_layers == 0 else on_top_of(site, system.profiles[laid_layers - 1])


def is_corrected(table: HourlyTable) -> bool:
    """Tell whether readings have corrected a table already."""
    return any(note.startswith(CORRECTED) for note in table.provenance.notes)


def source_line(table: HourlyTable) -> str:
    """Return the source of a table as entries have it: one line, cut to what they can hold."""
    told = unicodedata.normalize("NFC", table.provenance.source)
    printable = "".join(c if c.isprintable() else " " for c in told)
    return " ".join(printable.split())[:_LONGEST_SOURCE].strip()


def model_key(site: Site) -> str:
    """Return a key of what the surface model has of roof and surface of a site file: 12 hex digits.

    What readings tell against a model says nothing of another. ``surface_offset`` is not in it:
    entries have it themselves, and what it has moved by is taken off. Names and the area move no
    temperature; the deck counts by its numbers.
    """
    roof, surface = site.roof, site.surface
    numbers = roof.model_dump(
        mode="json", exclude={"area", "deck", "heat_capacity", "u_value", "surface_offset"}
    )
    numbers |= {
        "heat_capacity": roof.assembly.heat_capacity_kj_m2_k,
        "u_value": roof.assembly.u_value_w_m2_k,
        "absorptance": surface.absorptance,
        "emittance": surface.emittance,
    }
    return hashlib.sha256(canonical(numbers)).hexdigest()[:_KEY_DIGITS]


def sun_up(index: pd.DatetimeIndex, site: Site) -> BoolArray:
    """Tell in which hours the sun is above the horizon at their middle, shape (hours,).

    Where the sun stands is always known, which the irradiance is not.
    """
    middles = middles_of_hours(unix_seconds(index))
    return np.asarray(sun.sun_elevation(middles, site.latitude, site.longitude) > 0.0)


def beside(
    times: Sequence[datetime] | pd.DatetimeIndex,
    table: HourlyTable,
    site_on_top: Site,
    *,
    roof: Roof | None = None,
    model: str = "",
) -> list[Beside | None]:
    """Return what source and model say of the hour of each reading.

    Parameters
    ----------
    times
        When the readings were taken, with their zone.
    table
        The weather as its source gave it, not corrected.
    site_on_top
        The site with the layer on top that lay there then; see `top_of`.
    roof
        That site in this weather, from `windows.conditions.roof_in_table`, to save working it out.
    model
        Key of the site as its file has it, from `model_key`.

    Returns
    -------
    list
        One for each reading; None outside the table and where the air temperature is not known.
        The surface is that of the dry layer, with ``dry`` where the model knows the roof to be so.
        It is left out where a sensor stands in the model's place.
    """
    assert not is_corrected(table), "readings are compared with what the source itself says"
    index, row = table.index, _rows(times, table.index)
    inside = (row >= 0) & (row < len(index))
    at, which = np.unique(np.where(inside, row, 0), return_inverse=True)
    roof = roof or roof_in_table(table, site_on_top)
    exposure = roof.exposure
    # A sensor's hours do not show how far the model is off.
    modelled = np.full(at.size, np.nan)
    if "surface_temp_c" not in table.frame:
        modelled = roof.modelled.dry_c[at]
    shared = {
        "source": source_line(table),
        "issued": _moment(table.provenance.issued),
        "offset_k": round(site_on_top.roof.surface_offset, 4),
        "model": model,
    }
    columns = {
        "air_temp_c": _held(exposure.air_temp_c[at], _AIR_C),
        "dew_point_c": _held(exposure.dew_point_c[at], _TEMPERATURE_C),
        "rel_humidity": _held(exposure.rel_humidity[at], _SHARE),
        "wind_m_s": _held(exposure.weather["wind_m_s"][at], _SPEED_M_S),
        "surface_temp_c": _held(modelled, _TEMPERATURE_C),
        "sun_up": sun_up(index[at], site_on_top).tolist(),
        "dry": (roof.water.wet_mm[at] == 0.0).tolist(),
    }
    # Readings of one hour share what is said of it.
    hours = [
        None if values[0] is None else Beside(**shared, **dict(zip(columns, values, strict=True)))
        for values in zip(*columns.values(), strict=True)
    ]
    return [
        hours[n] if known else None
        for n, known in zip(which.tolist(), inside.tolist(), strict=True)
    ]


def _rows(
    times: Sequence[datetime] | pd.DatetimeIndex, index: pd.DatetimeIndex
) -> NDArray[np.int64]:
    """Return the row in whose hour each time is; rows that are not there for times outside."""
    if not isinstance(times, pd.DatetimeIndex):
        times = pd.DatetimeIndex(pd.to_datetime(list(times), utc=True))
    since = np.asarray((times - index[0]).total_seconds(), dtype=np.float64)
    return np.floor(since / 3600.0).astype(np.int64)


def _held(values: FloatArray, bounds: tuple[float, float]) -> list[float | None]:
    """Return values as an entry holds them: rounded, and none where unknown or beyond its bounds.

    Adding zero takes the sign from a zero.
    """
    rounded = np.round(values, _DECIMALS) + 0.0
    held = (rounded >= bounds[0]) & (rounded <= bounds[1])
    return [
        value if there else None
        for value, there in zip(rounded.tolist(), held.tolist(), strict=True)
    ]


def _moment(when: pd.Timestamp | None) -> datetime | None:
    return None if when is None else when.floor("s").to_pydatetime()
