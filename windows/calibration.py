"""Fit the model of the surface to readings on the roof: an offset, the sun taken in, the sky seen.

A few readings must not move a model that is right, so each parameter is held near its present
value by what is known of it beforehand: ridge least squares, which is Bayes' rule for normal errors
(Hoerl and Kennard 1970, Technometrics 12, 55-67; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from windows.conditions import roof_in_weather
from windows.errors import DewgapError
from windows.site import MOST_OFFSET_K
from windows.time_rows import unix_seconds

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import BoolArray, FloatArray
    from windows.hours import HourlyTable
    from windows.site import Site
    from windows.sources.readings import Readings

__all__ = ["Calibration", "Fitted", "ModelError", "calibrate"]

_READING_ERROR_C = 1.0
"""One reading against an hour's mean: of the thermometer, and of the moment (own choice). [K]"""

_MOST_BIAS_C = 2.0
_LEAST_READINGS = 3
_LEAST_FOR_A_PARAMETER = 5
_SUN_W_M2 = 100.0
_ROUNDS = 12
_CONVERGED = 1e-6


@dataclass(frozen=True)
class _Parameter:
    """A number of the site that readings may correct, with what is known of it beforehand."""

    name: str
    prior_error: float
    step: float
    low: float
    high: float


# Prior errors: own choice. The offset is that of the model as a whole.
_OFFSET = _Parameter("surface_offset", 2.0, 0.1, -MOST_OFFSET_K, MOST_OFFSET_K)
_ABSORPTANCE = _Parameter("absorptance", 0.10, 0.01, 0.03, 0.98)
_SKY_VIEW = _Parameter("sky_view", 0.10, 0.01, 0.30, 1.00)


@dataclass(frozen=True)
class Fitted:
    """A parameter before and after, with the standard error of the new value."""

    name: str
    before: float
    after: float
    error: float


@dataclass(frozen=True)
class ModelError:
    """Mean error of the model (model less reading) and its root mean square. [K]"""

    bias: float
    rms: float


@dataclass(frozen=True)
class Calibration:
    """What readings tell of a site.

    Attributes
    ----------
    site
        The site with the new values.
    fitted
        The parameters that were fitted.
    used, by_day, by_night
        Readings used; of these in the sun and with the sun down.
    left_out
        Reason and number of readings that were not used.
    before, after
        Error of the model at the readings used.
    foretold
        Root mean square error when each reading is foretold from the others. [K]
    explained
        Whether the new values bring the mean error below 2 K. If not, something else is wrong with
        the site or its weather, and they must not be used.
    """

    site: Site
    fitted: tuple[Fitted, ...]
    used: int
    by_day: int
    by_night: int
    left_out: dict[str, int]
    before: ModelError
    after: ModelError
    foretold: float
    explained: bool

    @property
    def helps(self) -> bool:
        """Tell whether a reading is nearer when it is foretold from the others."""
        return self.foretold < self.before.rms


def calibrate(site: Site, hours: HourlyTable, readings: Readings) -> Calibration:
    """Fit the surface model of a site to readings.

    Use a reading once: fitted again on a site that it has already moved, it would count twice. The
    offset is always fitted; the absorptance with five readings or more in the sun, the sky view
    with five or more by night. Without three readings by night the offset may not rise. A reading
    is compared with the mean of the hour in which it was taken. Readings on a roof that is wet, or
    not known to be dry, are left out: that is another balance.

    Raises
    ------
    DewgapError
        If fewer than three readings can be used.
    """
    model = _Model(hours)
    since = np.asarray((readings.times - hours.index[0]).total_seconds(), dtype=np.float64)
    row = np.floor(since / 3600.0).astype(np.int64)
    inside = (row >= 0) & (row < len(hours.index))
    now, dry, sun = model.at(site, np.where(inside, row, 0))
    known = inside & ~np.isnan(now)
    use = known & dry
    left_out = {
        "outside the weather table": int((~inside).sum()),
        "in hours of unknown weather": int((inside & ~known).sum()),
        "on a roof that is wet, or not known to be dry": int((known & ~dry).sum()),
    }
    if use.sum() < _LEAST_READINGS:
        told = "; ".join(f"{count} {reason}" for reason, count in left_out.items() if count)
        raise DewgapError(
            f"{int(use.sum())} of {len(row)} readings can be used, and {_LEAST_READINGS} are "
            f"needed{f' ({told})' if told else ''}; take more on a dry roof, within the weather "
            "table"
        )
    rows, measured, sun = row[use], readings.temp_c[use], sun[use]
    by_day, by_night = int((sun > _SUN_W_M2).sum()), int((sun == 0.0).sum())
    parameters = [_OFFSET]
    if by_day >= _LEAST_FOR_A_PARAMETER:
        parameters.append(_ABSORPTANCE)
    if by_night >= _LEAST_FOR_A_PARAMETER:
        parameters.append(_SKY_VIEW)

    prior = np.array([_value(site, p) for p in parameters])
    values = prior.copy()
    weight = 1.0 / np.array([p.prior_error for p in parameters]) ** 2
    low, high = np.array([p.low for p in parameters]), np.array([p.high for p in parameters])
    if by_night < _LEAST_READINGS:
        # Days cannot say that the nights are warm: too little sun taken in looks the same.
        high[0] = values[0]
    for _ in range(_ROUNDS):
        found, slopes = _linearised(model, site, parameters, values, rows)
        normal = slopes.T @ slopes / _READING_ERROR_C**2 + np.diag(weight)
        pull = slopes.T @ (measured - found) / _READING_ERROR_C**2 + weight * (prior - values)
        moved = _within(normal, pull, values, low, high)
        settled = bool(np.all(np.abs(moved - values) < _CONVERGED))
        values = moved
        if settled:
            break
    found, slopes = _linearised(model, site, parameters, values, rows)
    covariance = np.linalg.inv(slopes.T @ slopes / _READING_ERROR_C**2 + np.diag(weight))
    free = (values > low) & (values < high)  # what stands at a bound follows no reading
    inner = slopes[:, free]
    normal = inner.T @ inner / _READING_ERROR_C**2 + np.diag(weight[free])
    leverage = np.einsum("ij,ji->i", inner, np.linalg.solve(normal, inner.T)) / _READING_ERROR_C**2
    residual = found - measured
    return Calibration(
        site=_with(site, parameters, values),
        fitted=tuple(
            Fitted(p.name, _value(site, p), float(v), float(np.sqrt(c)))
            for p, v, c in zip(parameters, values, np.diag(covariance), strict=True)
        ),
        used=int(use.sum()),
        by_day=by_day,
        by_night=by_night,
        left_out={reason: count for reason, count in left_out.items() if count},
        before=_model_error(now[use] - measured),
        after=_model_error(residual),
        foretold=float(np.sqrt(np.mean((residual / (1.0 - leverage)) ** 2))),
        explained=bool(abs(residual.mean()) <= _MOST_BIAS_C),
    )


def _within(
    normal: FloatArray, pull: FloatArray, values: FloatArray, low: FloatArray, high: FloatArray
) -> FloatArray:
    """Return the best values within the bounds.

    What would pass a bound stands at it, and the others are solved again.
    """
    change = np.zeros(values.size)
    free = np.ones(values.size, dtype=bool)
    while free.any():
        held = normal[np.ix_(free, ~free)] @ change[~free]
        change[free] = np.linalg.solve(normal[np.ix_(free, free)], pull[free] - held)
        passed = free & ((values + change < low) | (values + change > high))
        if not passed.any():
            break
        change[passed] = np.clip(values + change, low, high)[passed] - values[passed]
        free &= ~passed
    return values + change


def _model_error(error: FloatArray) -> ModelError:
    return ModelError(float(error.mean()), float(np.sqrt(np.mean(error**2))))


class _Model:
    """The dry surface of a site in the weather of a table, without its measured column."""

    def __init__(self, hours: HourlyTable) -> None:
        self.weather = {
            str(name): hours.frame[name].to_numpy(np.float64)
            for name in hours.frame if name != "surface_temp_c"
        }  # fmt: skip
        self.seconds = unix_seconds(hours.index)

    def at(
        self, site: Site, rows: NDArray[np.int64]
    ) -> tuple[FloatArray, BoolArray, FloatArray]:
        """Return temperature, whether the roof is dry, and irradiance in these rows."""
        roof = roof_in_weather(self.weather, self.seconds, site)
        return (
            roof.on_top.dry_c[rows],
            np.asarray(roof.water.wet_mm[rows] == 0.0),
            roof.exposure.irradiance_w_m2[rows],
        )


def _linearised(
    model: _Model,
    site: Site,
    parameters: list[_Parameter],
    values: FloatArray,
    rows: NDArray[np.int64],
) -> tuple[FloatArray, FloatArray]:
    """Return the model at the readings and its slopes by each parameter, (readings, parameters)."""
    found = model.at(_with(site, parameters, values), rows)[0]
    slopes = np.empty((rows.size, len(parameters)))
    for column, parameter in enumerate(parameters):
        # Away from the bound that is nearer, so that both ends are possible sites.
        room = values[column] + parameter.step <= parameter.high
        step = parameter.step if room else -parameter.step
        moved = values.copy()
        moved[column] += step
        slopes[:, column] = (model.at(_with(site, parameters, moved), rows)[0] - found) / step
    return found, slopes


def _value(site: Site, parameter: _Parameter) -> float:
    owner = site.surface if parameter is _ABSORPTANCE else site.roof
    value: float = getattr(owner, parameter.name)
    return value


def _with(site: Site, parameters: list[_Parameter], values: FloatArray) -> Site:
    """Return the site with other values of these parameters."""
    for parameter, value in zip(parameters, values.tolist(), strict=True):
        key = "surface" if parameter is _ABSORPTANCE else "roof"
        owner = getattr(site, key).model_copy(update={parameter.name: value})
        site = site.model_copy(update={key: owner})
    return site
