"""A weather table and a site moved as readings on the roof have taught."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from cure_models import psychrometrics
from windows.field.beside import CORRECTED, is_corrected, sun_up
from windows.field.learned import lesson_told
from windows.hours import COLUMNS
from windows.site import MOST_OFFSET_K

if TYPE_CHECKING:
    from collections.abc import Mapping

    from cure_models.arrays import FloatArray
    from windows.field.learned import Learned
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["corrected", "corrected_site"]


def corrected(table: HourlyTable, learned: Learned, site: Site) -> HourlyTable:
    """Return a table with its air and its moisture as readings on the site's roof have them.

    The table itself if nothing is to be corrected, or if it has been already. What is unknown
    stays so. The relative humidity follows air and dew point. An ensemble's runs are all moved
    alike.

    Notes
    -----
    Where a bias would lift the dew point above the air it is the air's: the air is then saturated.
    """
    air, dew = learned.air_temp, learned.dew_point
    if not (air.used or dew.used) or is_corrected(table):
        return table
    up = sun_up(table.index, site)
    air_k, dew_k = (
        np.where(up, each.bias_day_k, each.bias_night_k) if each.used else np.zeros(up.shape)
        for each in (air, dew)
    )
    frame = {str(name): table.frame[name].to_numpy(np.float64) for name in table.frame}
    moved = _moved(frame, air_k, dew_k)
    members = table.members
    if members:
        # A column that runs do not have is that of the table in all of them.
        runs = _moved(frame | dict(members), air_k, dew_k)
        members = {name: runs.get(name, run) for name, run in members.items()}
    note = CORRECTED + "; ".join(
        lesson_told(name, each)
        for name, each in learned.lessons.items()
        if each.used and each is not learned.surface_temp
    )
    return replace(
        table,
        frame=table.frame.assign(**moved),
        provenance=replace(table.provenance, notes=(*table.provenance.notes, note)),
        members=members,
    )


def _moved(
    columns: Mapping[str, FloatArray], air_k: FloatArray, dew_k: FloatArray
) -> dict[str, FloatArray]:
    """Return the columns that change, shape (..., hours); hours that do not move stay as they are.

    The relative humidity is that of the dew point which it stands for itself, moved: a missing
    dew point beside it makes it no less known.
    """
    still = (air_k == 0.0) & (dew_k == 0.0)
    before = columns["air_temp_c"]
    air = _kept("air_temp_c", before + air_k)
    found = {"air_temp_c": air}
    dew = columns.get("dew_point_c")
    if dew is not None:
        found["dew_point_c"] = _below(_kept("dew_point_c", dew + dew_k), air)
    humidity = columns.get("rel_humidity")
    if humidity is not None:
        own = _below(psychrometrics.dew_point(before, humidity) + dew_k, air)
        moved = _kept("rel_humidity", psychrometrics.relative_humidity(air, own))
        # With the air unknown nothing tells how far it moves.
        found["rel_humidity"] = np.where(still | np.isnan(moved), humidity, moved)
    return found


def _kept(name: str, values: FloatArray) -> FloatArray:
    """Return values within what nature has, unknown ones unknown."""
    kept: FloatArray = np.clip(values, COLUMNS[name].low, COLUMNS[name].high)
    return kept


def _below(dew: FloatArray, air: FloatArray) -> FloatArray:
    """Return dew points that are not above their air, as they are where the air is unknown."""
    return np.where(dew > air, air, dew)


def corrected_site(site: Site, learned: Learned, table: HourlyTable | None = None) -> Site:
    """Return a site whose surface model is moved as readings have it, the site itself if it is not.

    In a ``table`` with a column of a sensor on the roof the sensor stands for the model, and
    nothing is moved.
    """
    lesson = learned.surface_temp
    if not lesson.used or (table is not None and "surface_temp_c" in table.frame):
        return site
    moved = site.roof.surface_offset + lesson.bias_day_k
    offset = min(max(moved, -MOST_OFFSET_K), MOST_OFFSET_K)
    roof = site.roof.model_copy(update={"surface_offset": offset})
    return site.model_copy(update={"roof": roof})
