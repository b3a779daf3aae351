"""What readings on a roof teach about its weather source and its surface model, and the correction.

Readings of one day err alike, so that a hundred of one day tell hardly more than one. A difference
of a reading is therefore taken as ``b + u + e``: the bias of the site ``b``, one error ``u`` for
the day, one ``e`` of the reading, all normal around zero. The bias is the mean of ``b`` given the
readings: pulled to zero by what is known beforehand, the more so the fewer days there are (the
linear mixed model: Searle, Casella and McCulloch 1992, Variance Components, ch. 7; from memory).

A correction is used only if it is larger than its own error and would have helped: each day is
foretold from the other days.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, tzinfo
from math import isnan, nan, sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from cure_models import psychrometrics
from cure_models.arrays import floats
from windows.calibration import Fault
from windows.field.beside import CORRECTED, is_corrected, sun_up
from windows.field.told import both
from windows.hours import COLUMNS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.hours import HourlyTable
    from windows.log.entries import Beside, Reading
    from windows.site import Site

__all__ = [
    "Learned", "Lesson", "Spread", "corrected", "corrected_site", "learn", "lesson_told",
    "posterior", "spread",
]  # fmt: skip

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
_LEAST_SPREAD_K = 0.5
"""Smallest error of a day and of a reading that is believed (own choice). [K]"""
_DEFAULT_COUNTS = 4.0
"""So many degrees of freedom the errors known beforehand count beside the data (own choice)."""


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
_AIR = _Kind("air temperature", 1.5, 2.0, 10.0, 5.0, _colder)
_DEW = _Kind("dew point", 1.5, 2.2, 10.0, 5.0, _moister)
_SURFACE = _Kind("surface temperature", 2.0, 2.0, 15.0, 8.0, _colder)


@dataclass(frozen=True)
class Lesson:
    """What readings teach about one quantity.

    Attributes
    ----------
    used, why_not
        Whether the correction is to be used; if not, one sentence that says why.
    bias_day_k, bias_night_k
        Reading less source: what is added with the sun up, and down; 0 where nothing is. [K]
    found_day_k, found_night_k
        The same as readings of the day and of the night have it, used or not; NaN where they are
        too few to say. [K]
    error_day_k, error_night_k
        Standard errors of these; NaN where they are. [K]
    readings, days, nights, left_out
        Readings used, on how many days and nights; readings left out as faults.
    before
        Mean and root mean square of source less reading. [K]
    after
        The same corrected, each day foretold from the other days; ``before`` if it is not used. [K]
    """

    used: bool = False
    why_not: str = ""
    bias_day_k: float = 0.0
    bias_night_k: float = 0.0
    found_day_k: float = nan
    found_night_k: float = nan
    error_day_k: float = nan
    error_night_k: float = nan
    readings: int = 0
    days: int = 0
    nights: int = 0
    left_out: int = 0
    before: Fault = field(default_factory=lambda: Fault(nan, nan))
    after: Fault = field(default_factory=lambda: Fault(nan, nan))

    @property
    def error_k(self) -> float:
        """The larger standard error of day and night, of what is known; NaN if none is. [K]"""
        known = [e for e in (self.error_day_k, self.error_night_k) if not isnan(e)]
        return max(known, default=nan)


_NOTHING = Lesson(why_not="there are no readings to learn from")


@dataclass(frozen=True)
class Learned:
    """What readings on a roof teach: a `Lesson` for each quantity."""

    air_temp: Lesson = _NOTHING
    dew_point: Lesson = _NOTHING
    surface_temp: Lesson = _NOTHING

    @classmethod
    def none(cls) -> Learned:
        """Return what no reading teaches."""
        return cls()

    @property
    def lessons(self) -> dict[str, Lesson]:
        """The lessons by the name of what they are about, for people."""
        return {
            _AIR.told: self.air_temp,
            _DEW.told: self.dew_point,
            _SURFACE.told: self.surface_temp,
        }

    @property
    def any_used(self) -> bool:
        """Whether anything is to be corrected."""
        return any(lesson.used for lesson in self.lessons.values())


class Spread(NamedTuple):
    """Standard deviations of the error that a day's readings share, and of each one's own. [K]"""

    day_k: float
    reading_k: float


def learn(
    readings: Sequence[Reading],
    *,
    offset_k: float,
    zone: tzinfo = UTC,
    source: str | None = None,
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
    dew = np.where(
        np.isnan(data["air"] + data["humidity"]),
        data["dew"],
        psychrometrics.dew_point(data["air"], data["humidity"]),
    )
    excess = data["surface"] - data["air"] - (data["surface_beside"] - data["air_beside"])
    excess -= offset_k - data["offset"]
    return Learned(
        air_temp=_lesson(_AIR, air, day, up),
        dew_point=_lesson(_DEW, dew - data["dew_beside"], day, up),
        surface_temp=_lesson(_SURFACE, np.where(dry, excess, np.nan), day, up),
    )


def _columns(told: list[tuple[Reading, Beside]]) -> dict[str, FloatArray]:
    """Return the numbers of readings and what is beside them, NaN where not read."""
    names = (
        "air", "surface", "humidity", "dew", "air_beside", "dew_beside", "surface_beside", "offset"
    )  # fmt: skip
    # None becomes NaN: unknown.
    rows = [
        (
            reading.air_temp_c, reading.surface_temp_c, reading.rel_humidity, reading.dew_point_c,
            beside.air_temp_c, beside.dew_point_c, beside.surface_temp_c, beside.offset_k,
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


class _Sums(NamedTuple):
    """Readings of each day: how many, their mean and squares around it, shape (days,) each."""

    readings: FloatArray
    mean: FloatArray
    squares: FloatArray

    def without(self, day: int) -> _Sums:
        return _Sums(*(np.delete(each, day) for each in self))

    def there(self) -> _Sums:
        """Return the days that have readings."""
        return _Sums(*(each[self.readings > 0] for each in self))

    def fault(self, added: FloatArray) -> Fault:
        """Return the error of the source, with so much added on each day."""
        off = np.where(self.readings > 0, self.mean - added, 0.0)
        total = float(self.readings.sum())
        if not total:
            return Fault(nan, nan)
        mean = float((self.readings * off).sum()) / total
        square = float((self.squares + self.readings * off**2).sum()) / total
        return Fault(-mean + 0.0, sqrt(square))


def _sums(values: FloatArray, day: NDArray[np.int64], days: int) -> _Sums:
    count = np.bincount(day, minlength=days).astype(np.float64)
    mean = np.bincount(day, values, minlength=days) / np.maximum(count, 1.0)
    squares = np.bincount(day, (values - mean[day]) ** 2, minlength=days)
    return _Sums(count, floats(mean), floats(squares))


def spread(
    count: FloatArray, mean: FloatArray, squares: FloatArray, *, day_k: float, reading_k: float
) -> Spread:
    """Return the errors of days and readings: those known beforehand, moved by the data.

    Parameters
    ----------
    count, mean, squares
        Readings of each day: number, mean, and sum of squares around it; shape (days,).
    day_k, reading_k
        Standard deviations known beforehand; they count as much as 4 degrees of freedom. [K]

    Notes
    -----
    Within days by pooled squares; between days by the variance of their means, all days alike, less
    what single readings leave in it (the unweighted-means form of the analysis of variance). So a
    day of a logger does not outvote the others.
    """
    within = float((count - 1.0).sum())
    known = _DEFAULT_COUNTS
    of_reading = (known * reading_k**2 + float(squares.sum())) / (known + within)
    of_reading = max(of_reading, _LEAST_SPREAD_K**2)
    of_day = day_k**2
    if count.size > 1:
        between = float(mean.var(ddof=1)) - of_reading * float(np.mean(1.0 / count))
        free = count.size - 1.0
        of_day = (known * of_day + free * max(between, 0.0)) / (known + free)
    return Spread(max(sqrt(of_day), _LEAST_SPREAD_K), sqrt(of_reading))


def posterior(
    count: FloatArray, mean: FloatArray, errors: Spread, *, prior_k: float
) -> tuple[float, float]:
    """Return the bias and its standard error, given the readings of each day. [K]

    Examples
    --------
    A thousand readings of one day, 3 K off, against a site known to 1.5 K and a day to 2 K:

    >>> bias, error = posterior(floats([1000]), floats([3.0]), Spread(2.0, 1.0), prior_k=1.5)
    >>> round(bias, 2), round(error, 2)
    (1.08, 1.2)
    """
    weight = 1.0 / (errors.day_k**2 + errors.reading_k**2 / count)
    whole = float(weight.sum()) + 1.0 / prior_k**2
    return float((weight * mean).sum()) / whole, 1.0 / sqrt(whole)


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
        return _NOTHING
    # Day and night may differ: a night is not wild for not being like the days.
    sound = np.empty(up.shape, dtype=np.bool_)
    for part in (up, ~up):
        sound[part] = _sound(kind, values[part])
    left_out = int((~sound).sum())
    dates, number = np.unique(day[known][sound], return_inverse=True)
    values, up = values[sound], up[sound]
    by_day, by_night = (
        _sums(values[part], number[part], dates.size) for part in (up, ~up)
    )
    before = _sums(values, number, dates.size).fault(np.zeros(dates.size))
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
            f"there are readings of the {kind.told} on {_counted(days, 'day')} and "
            f"{_counted(nights, 'night')}, and {LEAST_DAYS} days are needed; take more"
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


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'s' * (count != 1)}"


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
    kind: _Kind, by_day: _Sums, by_night: _Sums, taught: tuple[bool, bool]
) -> _Found:
    """Return the biases of day and night, each from its own readings."""
    (day, day_error), (night, night_error) = (
        _bias(kind, sums) if known else (nan, nan)
        for sums, known in zip((by_day, by_night), taught, strict=True)
    )
    return _Found(day, night, day_error, night_error)


def _bias(kind: _Kind, sums: _Sums) -> tuple[float, float]:
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
    by_day: _Sums,
    by_night: _Sums,
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
        not known or sums.fault(added).rms <= sums.fault(np.zeros(added.size)).rms
        for sums, added, known in zip(
            (by_day, by_night), _foretold(kind, others), taught, strict=True
        )
    ]
    if kind is _SURFACE:
        helps = [all(helps)] * 2
    foretold = _foretold(kind, [other.only(*helps) for other in others])
    added = _added(kind, each.only(*helps))
    after = _together((by_day, by_night), foretold)
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


def _together(parts: Sequence[_Sums], added: Sequence[FloatArray]) -> Fault:
    """Return the error over days and nights together."""
    whole = _Sums(*(np.concatenate(each) for each in zip(*parts, strict=True)))
    return whole.fault(np.concatenate(added))


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


def lesson_told(name: str, lesson: Lesson) -> str:
    """Return what is corrected, by how much, from what, and what it was worth."""
    by_day, by_night = (
        f"{'+' if value > 0 else ''}{both(value, 'difference')}"
        for value in (lesson.bias_day_k, lesson.bias_night_k)
    )
    before, after = (both(fault.rms, "difference") for fault in (lesson.before, lesson.after))
    amount = f"{by_day} with the sun up and {by_night} with it down"
    if lesson.bias_day_k == lesson.bias_night_k:
        amount = by_day
    return (
        f"{name} {amount} ({lesson.readings} readings on {_counted(lesson.days, 'day')} and "
        f"{_counted(lesson.nights, 'night')}; error {before} before, {after} after)"
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
    offset = min(max(site.roof.surface_offset + lesson.bias_day_k, -15.0), 15.0)
    roof = site.roof.model_copy(update={"surface_offset": offset})
    return site.model_copy(update={"roof": roof})
