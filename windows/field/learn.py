"""What readings on a roof teach about its weather source and its surface model.

The bias of the site is taken from what readings differ by, as `windows.field.estimate` has it. A
correction is used only if it is larger than its own error and would have helped: each day is
foretold from the other days.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, tzinfo
from math import isnan, nan
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from cure_models.arrays import floats
from windows.field.estimate import DaySums, day_sums, error_of_all, posterior, spread
from windows.field.learned import AIR, DEW, NOTHING, SURFACE, Learned, Lesson, counted
from windows.field.moist_air import spreads

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.log.entries import Beside, Reading

__all__ = ["learn"]

LEAST_DAYS = 3
"""Days without which a quantity is not corrected (own choice)."""
LEAST_NIGHT_READINGS, LEAST_NIGHTS = 3, 2
"""Readings and nights without which the nights have taught nothing (own choice)."""
MOST_BIAS_K = 3.0
"""A larger bias has a cause that a correction would hide (own choice). [K]"""
_MOST_LEFT_OUT = 0.5
"""Share of readings left out, from which on the others are not believed either (own choice)."""
_FEWEST_FOR_MIDDLE = 5
"""Readings from which on their middle tells which of them is wild (own choice)."""
_READING_K = 1.0
"""Error of one reading against an hour's mean, as in `windows.calibration` (own choice). [K]"""


@dataclass(frozen=True)
class _Kind:
    """A quantity: what is known of its errors beforehand, and which differences are faults. [K]

    ``prior_k`` is how far off a site is, ``day_k`` how far a day. ``farthest_k`` is the largest
    difference that an instrument in order has, ``off_middle_k`` the least distance from the median
    of all that makes a reading wild. ``careful`` is the side that cannot make a night look drier.
    """

    told: str
    prior_k: float
    day_k: float
    farthest_k: float
    off_middle_k: float
    careful: Callable[[float], float]


def _colder(bias: float) -> float:
    return min(bias, 0.0)


def _moister(bias: float) -> float:
    return max(bias, 0.0)


# Errors of a site as in `windows.calibration`, of a day as forecasts have them on their first days
# in ``odds/forecast_error.toml``, that of a surface as large; bounds of faults: own choice.
_AIR = _Kind(AIR, 1.5, 2.0, 10.0, 5.0, _colder)
_DEW = _Kind(DEW, 1.5, 2.2, 10.0, 5.0, _moister)
_SURFACE = _Kind(SURFACE, 2.0, 2.0, 15.0, 8.0, _colder)
_OF_ANOTHER_MODEL = Lesson(
    why_not="the readings are of a roof as the site file had it before; take new ones"
)


def learn(
    readings: Sequence[Reading],
    *,
    offset_k: float,
    zone: tzinfo = UTC,
    source: str | None = None,
    model: str | None = None,
) -> Learned:
    """Return what readings teach about air temperature, dew point and surface.

    Parameters
    ----------
    readings
        Those that stand, in any order; those with nothing beside them teach nothing.
    offset_k
        The site's own ``surface_offset`` today. By as much as it has moved since a reading, that
        reading has been used already. [K]
    zone
        That of the site, whose days are meant.
    source
        The source that is to be corrected, from `windows.field.beside.source_line`; only readings
        beside it count. All do if none is named.
    model
        The site's model of the surface, from `windows.field.beside.model_key`: readings against
        another, or against one that is not told, teach nothing of the surface. All do if none is
        named.

    Notes
    -----
    Readings are taken in working hours. What days teach holds while the sun is up. A source that is
    too cold at noon may be too warm by night, when dew falls: so nights are corrected by readings
    of the night, and if there are too few of these, by what days teach only as far as it makes
    the night look colder or moister. The surface has one offset for day and night: the lower of
    what both teach, so that it rises only if both say so.

    The surface is compared by how much warmer than its air it is: an error of the air is the air's.
    """
    told = [
        (reading, reading.beside)
        for reading in readings
        if reading.beside is not None and source in (None, reading.beside.source)
    ]
    if not told:
        return Learned.none()
    data = _columns(told)
    up = np.array([beside.sun_up for _, beside in told], dtype=np.bool_)
    dry = np.array([beside.dry for _, beside in told], dtype=np.bool_)
    day = _days(told, up, zone)
    air = data["air"] - data["air_beside"]
    dew = spreads([reading for reading, _ in told]).dew_point_c
    excess = data["surface"] - data["air"] - (data["surface_beside"] - data["air_beside"])
    excess -= offset_k - data["offset"]
    ours = np.array([model in (None, beside.model) for _, beside in told], dtype=np.bool_)
    return Learned(
        air_temp=_lesson(_AIR, air, day, up),
        dew_point=_lesson(_DEW, dew - data["dew_beside"], day, up),
        surface_temp=_surface(np.where(dry, excess, np.nan), ours, day, up),
    )


def _surface(
    excess: FloatArray, ours: BoolArray, day: NDArray[np.int64], up: BoolArray
) -> Lesson:
    """Return what readings against the site's present model teach of the surface."""
    known = ~np.isnan(excess)
    if known.any() and not (known & ours).any():
        return _OF_ANOTHER_MODEL
    return _lesson(_SURFACE, np.where(ours, excess, np.nan), day, up)


def _columns(told: list[tuple[Reading, Beside]]) -> dict[str, FloatArray]:
    """Return the numbers of readings and what is beside them, NaN where not read."""
    names = ("air", "surface", "air_beside", "dew_beside", "surface_beside", "offset")
    # None becomes NaN: unknown.
    rows = [
        (
            reading.air_temp_c, reading.surface_temp_c, beside.air_temp_c, beside.dew_point_c,
            beside.surface_temp_c, beside.offset_k,
        )
        for reading, beside in told
    ]  # fmt: skip
    return dict(zip(names, np.array(rows, dtype=np.float64).T, strict=True))


def _days(
    told: list[tuple[Reading, Beside]], up: BoolArray, zone: tzinfo
) -> NDArray[np.int64]:
    """Return the number of each reading's day; a night is that of the day on which it begins."""
    times = pd.DatetimeIndex([reading.at for reading, _ in told])
    local = times.tz_convert(zone).tz_localize(None).to_numpy("datetime64[s]").astype(np.int64)
    return np.floor_divide(np.where(up, local, local - 43200), 86400)


class _Found(NamedTuple):
    """Biases by day and by night with their errors; NaN where too little is read. [K]"""

    day: float
    night: float
    day_error: float
    night_error: float

    def only(self, day: bool, night: bool) -> _Found:
        """Return these with nothing found in a part that is not to be used."""
        return self._replace(day=self.day if day else 0.0, night=self.night if night else 0.0)


def _lesson(kind: _Kind, given: FloatArray, day: NDArray[np.int64], up: BoolArray) -> Lesson:
    """Return what differences teach; NaN are readings without this quantity."""
    known = ~np.isnan(given)
    values, up = given[known], up[known]
    if not values.size:
        return NOTHING
    # Day and night may differ: a night is not wild for not being like the days.
    sound = np.empty(up.shape, dtype=np.bool_)
    for part in (up, ~up):
        sound[part] = _sound(kind, values[part])
    left_out = int((~sound).sum())
    dates, number = np.unique(day[known][sound], return_inverse=True)
    values, up = values[sound], up[sound]
    by_day, by_night = (
        day_sums(values[part], number[part], dates.size) for part in (up, ~up)
    )
    before = day_sums(values, number, dates.size).error(np.zeros(dates.size))
    days, nights = int((by_day.readings > 0).sum()), int((by_night.readings > 0).sum())
    found = Lesson(
        readings=values.size, days=days, nights=nights, left_out=left_out, before=before,
        after=before,
    )  # fmt: skip
    if left_out > _MOST_LEFT_OUT * sound.size:
        return replace(found, why_not=(
            f"{left_out} of {sound.size} readings of the {kind.told} are more than "
            f"{kind.farthest_k:g} K from the source, or far from all others; check the instrument"
        ))  # fmt: skip
    night_taught = nights >= LEAST_NIGHTS and by_night.readings.sum() >= LEAST_NIGHT_READINGS
    day_taught = days >= LEAST_DAYS
    if dates.size < LEAST_DAYS or not (day_taught or night_taught):
        return replace(found, why_not=(
            f"there are readings of the {kind.told} on {counted(days, 'day')} and "
            f"{counted(nights, 'night')}, and {LEAST_DAYS} days are needed; take more"
        ))  # fmt: skip
    taught = (day_taught, bool(night_taught))
    each = _estimate(kind, by_day, by_night, taught)
    found = replace(
        found, found_day_k=each.day, found_night_k=each.night, error_day_k=each.day_error,
        error_night_k=each.night_error,
    )  # fmt: skip
    worst = max((b for b in (each.day, each.night) if not isnan(b)), key=abs)
    if abs(worst) > MOST_BIAS_K:
        return replace(found, why_not=(
            f"readings are {abs(worst):.1f} K {'above' if worst > 0 else 'below'} the source's "
            f"{kind.told}, and more than {MOST_BIAS_K:g} K is not corrected; look at the "
            "instrument, or where the source has its weather from"
        ))  # fmt: skip
    return _if_better(kind, found, each, by_day, by_night, taught)


def _sound(kind: _Kind, values: FloatArray) -> BoolArray:
    """Tell which differences an instrument in order can have.

    Wild is also what is four standard deviations from the median; these by the median distance,
    which wild readings do not move (Hampel 1974; from memory).
    """
    near: BoolArray = np.abs(values) <= kind.farthest_k
    if near.sum() < _FEWEST_FOR_MIDDLE:
        return near
    off = np.abs(values - float(np.median(values[near])))
    return near & (off <= max(kind.off_middle_k, 4.0 * 1.4826 * float(np.median(off[near]))))


def _estimate(
    kind: _Kind, by_day: DaySums, by_night: DaySums, taught: tuple[bool, bool]
) -> _Found:
    """Return the biases of day and night, each from its own readings."""
    (day, day_error), (night, night_error) = (
        _bias(kind, sums) if known else (nan, nan)
        for sums, known in zip((by_day, by_night), taught, strict=True)
    )
    return _Found(day, night, day_error, night_error)


def _bias(kind: _Kind, sums: DaySums) -> tuple[float, float]:
    there = sums.there()
    errors = spread(*there, day_k=kind.day_k, reading_k=_READING_K)
    return posterior(there.readings, there.mean, errors, prior_k=kind.prior_k)


def _added(kind: _Kind, found: _Found) -> tuple[float, float]:
    """Return what is added by day and by night, of biases that are NaN where nothing is taught."""
    night = found.night
    by_day = 0.0 if isnan(found.day) else found.day
    if kind is _SURFACE:
        both = min(by_day, 0.0 if isnan(night) else night)
        return both, both
    return by_day, kind.careful(by_day) if isnan(night) else night


def _if_better(
    kind: _Kind,
    found: Lesson,
    each: _Found,
    by_day: DaySums,
    by_night: DaySums,
    taught: tuple[bool, bool],
) -> Lesson:
    """Return the lesson with its correction, where days foretold from the others are the better.

    Day and night are judged apart. The one offset of the surface must make both of them no worse.
    """
    others = [
        _estimate(kind, by_day.without(n), by_night.without(n), taught)
        for n in range(by_day.readings.size)
    ]
    # A part that is lost in its error, or no better, has taught that nothing is to be added.
    clear = [not abs(each.day) <= each.day_error, not abs(each.night) <= each.night_error]
    each, others = each.only(*clear), [other.only(*clear) for other in others]
    helps = [
        not known or sums.error(added).rms <= sums.error(np.zeros(added.size)).rms
        for sums, added, known in zip(
            (by_day, by_night), _foretold(kind, others), taught, strict=True
        )
    ]
    if kind is _SURFACE:
        helps = [all(helps)] * 2
    foretold = _foretold(kind, [other.only(*helps) for other in others])
    added = _added(kind, each.only(*helps))
    after = error_of_all((by_day, by_night), foretold)
    if added == (0.0, 0.0) or not after.rms < found.before.rms:
        return replace(found, why_not=_no_help(kind, each, taught, helps=all(helps)))
    return replace(found, used=True, bias_day_k=added[0], bias_night_k=added[1], after=after)


def _no_help(kind: _Kind, each: _Found, taught: tuple[bool, bool], *, helps: bool) -> str:
    """Say why biases that were found are not used."""
    if kind is _SURFACE and not taught[1] and helps and each.day > 0.0:
        return (
            "readings of the day would raise the surface temperature, which only readings of the "
            f"night may; take {LEAST_NIGHT_READINGS} on {LEAST_NIGHTS} nights"
        )
    if kind is _SURFACE and all(taught) and not helps:
        return (
            "one offset of the surface temperature for what readings of the day and of the night "
            "say would make one of them worse; fit the model to readings with dewgap calibrate"
        )
    return (
        f"what readings teach about the {kind.told} is within its own error, or makes other days "
        "no better"
    )


def _foretold(kind: _Kind, others: list[_Found]) -> tuple[FloatArray, FloatArray]:
    """Return what would be added by day and by night of each date, had it not been read."""
    added = floats([_added(kind, other) for other in others])
    return added[:, 0], added[:, 1]
