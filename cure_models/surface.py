"""Temperature of a roof surface: sun and sky in, wind and deck out, with and without a water film.

The steady balance per square metre, temperatures of the surface Ts, the air Ta and the room Tin::

    absorptance GHI + emittance (L_down - sigma Ts**4) + hc (Ta - Ts) + U (Tin - Ts) - latent = 0

The wind at roof height decides the calm nights more than anything else here, and is known worst.
No published error of hourly roof temperatures was found to quote; the sky model alone is worth
about 1.3 K.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import BoolArray, FloatArray, floats, fraction, not_negative
from cure_models.psychrometrics import CONDENSATION_SHARE as _DEW_SHARE
from cure_models.psychrometrics import (
    latent_heat,
    surface_vapour_slope,
    vapour_flux,
    vapour_transfer,
)
from cure_models.psychrometrics import surface_vapour_pressure as _saturation
from cure_models.recurrence import relax

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "SIGMA_W_M2_K4",
    "conductance",
    "convection",
    "is_stable",
    "lagged_temperature",
    "net_gain",
    "sky_emissivity",
    "sky_longwave",
    "steady_temperature",
    "wet_temperature",
]

SIGMA_W_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant (CODATA 2018) [W/(m2 K4)]."""

_KELVIN = 273.15
_LOW_CLOUD_BASE_KM = 2.0
_CLOUD_SCALE_KM = 8.2

_CALM_W_M2_K, _CALM_STABLE_W_M2_K = 5.7, 3.0
_PER_WIND = 3.8
_BREAK_M_S = 4.88

_FORGOTTEN = 1e-3
"""Share of an old temperature below which a deck has forgotten it."""


def sky_emissivity(dew_point_c: ArrayLike, cloud: ArrayLike) -> FloatArray:
    """Effective emissivity of the sky seen from a level roof, at most 1 [fraction].

    Raises
    ------
    ValueError
        Where a cover is a percentage.

    Notes
    -----
    Clear: Berdahl, P. and Martin, M. (1984), Solar Energy 32, 663-664, ``0.711 + 0.56 (Td/100) +
    0.73 (Td/100)**2`` (all-hours mean; the small hour and pressure terms are left out). Cloud:
    Martin, M. and Berdahl, P. (1984), Solar Energy 33, 321-336, opaque low cloud with its base at
    2 km, ``eps + (1 - eps) cover exp(-2/8.2)``. The two were fitted together and are not to be
    mixed with other ones. The papers themselves were not seen: the coefficients, and 0.784 for
    exp(-2/8.2), are as used in building-energy programs.

    The parabola turns at -38 degC; drier air is held there, so that drier never means warmer.
    """
    # 0.56 / (2 * 0.73): the lowest point of the parabola.
    td = np.maximum(floats(dew_point_c) / 100.0, -0.56 / 1.46)
    clear = np.minimum(0.711 + td * (0.56 + 0.73 * td), 1.0)
    covered = fraction(cloud, "cloud cover") * np.exp(-_LOW_CLOUD_BASE_KM / _CLOUD_SCALE_KM)
    emissivity: FloatArray = clear + (1.0 - clear) * covered
    return emissivity


def sky_longwave(air_temp_c: ArrayLike, dew_point_c: ArrayLike, cloud: ArrayLike) -> FloatArray:
    """Longwave radiation from the sky on a level surface [W/m2].

    Parameters
    ----------
    air_temp_c, dew_point_c : near the ground. [degC]
    cloud : total cloud cover, taken as low cloud. [fraction]

    Raises
    ------
    ValueError
        Where a cover is a percentage.

    Notes
    -----
    `sky_emissivity` times black radiation at air temperature. High thin cloud is colder than this
    says, so a night under cirrus comes out too warm.
    """
    black = SIGMA_W_M2_K4 * (floats(air_temp_c) + _KELVIN) ** 4
    return sky_emissivity(dew_point_c, cloud) * black


def convection(roof_wind_m_s: ArrayLike, stable: ArrayLike) -> FloatArray:
    """Heat transfer coefficient between the surface and the air [W/(m2 K)].

    Parameters
    ----------
    roof_wind_m_s : wind over the roof surface, not at a 10 m mast; NaN where negative. [m/s]
    stable : whether the surface is colder than the air: booleans, or 0, 1 and NaN for unknown as
        `is_stable` gives them.

    Notes
    -----
    McAdams, W. H. (1954), "Heat Transmission", after Juerges (1924), smooth plate: 5.7 + 3.8 V up
    to 4.88 m/s and a power 0.78 of V above (from memory). The power law is joined on at 4.88 m/s
    (7.04 V**0.78); the often repeated 6.47 would let the coefficient fall 8 % there as the wind
    rises. Under stable air the calm part is 3.0 in place of 5.7: common practice, no source.
    """
    wind = not_negative(roof_wind_m_s)
    at_break = _CALM_W_M2_K + _PER_WIND * _BREAK_M_S
    forced = np.where(
        wind <= _BREAK_M_S,
        _PER_WIND * wind,
        at_break * (wind / _BREAK_M_S) ** 0.78 - _CALM_W_M2_K,
    )
    calm = _CALM_W_M2_K - (_CALM_W_M2_K - _CALM_STABLE_W_M2_K) * floats(stable)
    coefficient: FloatArray = calm + forced
    return coefficient


def net_gain(
    surface_temp_c: ArrayLike,
    absorbed_w_m2: ArrayLike,
    longwave_w_m2: ArrayLike,
    air_temp_c: ArrayLike,
    convection_w_m2_k: ArrayLike,
    *,
    emittance: ArrayLike,
    u_value: ArrayLike = 0.0,
    indoor_temp_c: ArrayLike = 21.0,
) -> FloatArray:
    """Heat that a dry surface at this temperature gains; 0 at the steady temperature [W/m2].

    Parameters as `steady_temperature`.
    """
    surface = floats(surface_temp_c)
    squared = (surface + _KELVIN) ** 2  # squaring twice is ten times faster than a power of 4
    radiation = floats(longwave_w_m2) - SIGMA_W_M2_K4 * squared * squared
    gain: FloatArray = (
        floats(absorbed_w_m2)
        + floats(emittance) * radiation
        + floats(convection_w_m2_k) * (floats(air_temp_c) - surface)
        + floats(u_value) * (floats(indoor_temp_c) - surface)
    )
    return gain


def is_stable(
    absorbed_w_m2: ArrayLike,
    longwave_w_m2: ArrayLike,
    air_temp_c: ArrayLike,
    *,
    emittance: ArrayLike,
    u_value: ArrayLike = 0.0,
    indoor_temp_c: ArrayLike = 21.0,
) -> FloatArray:
    """Whether the surface will settle below air temperature: 1 yes, 0 no, NaN unknown.

    The sign of the net gain at air temperature, where convection drops out: it needs neither the
    wind nor an iteration. Parameters as `steady_temperature`.
    """
    room = {"u_value": u_value, "indoor_temp_c": indoor_temp_c}
    gain = net_gain(
        air_temp_c, absorbed_w_m2, longwave_w_m2, air_temp_c, 0.0, emittance=emittance, **room
    )
    return np.where(np.isnan(gain), np.nan, np.where(gain < 0.0, 1.0, 0.0))


def conductance(
    surface_temp_c: ArrayLike,
    convection_w_m2_k: ArrayLike,
    *,
    emittance: ArrayLike,
    u_value: ArrayLike = 0.0,
) -> FloatArray:
    """Heat lost per kelvin around this temperature: ``hc + 4 eps sigma Ts**3 + U`` [W/(m2 K)]."""
    kelvin = floats(surface_temp_c) + _KELVIN
    radiative = 4.0 * SIGMA_W_M2_K4 * kelvin * kelvin * kelvin
    return floats(convection_w_m2_k) + floats(emittance) * radiative + floats(u_value)


def _settle(
    gain_and_slope: Callable[[FloatArray], tuple[FloatArray, FloatArray]], start: ArrayLike
) -> FloatArray:
    """Root of a falling concave balance by Newton's method; NaN where it does not settle."""
    temp = floats(start)
    for _ in range(60):
        gain, slope = gain_and_slope(temp)
        change = gain / slope
        temp = temp + change
        if not np.any(np.abs(change) > 1e-9):
            break
    return np.where(np.abs(change) <= 1e-9, temp, np.nan)


def steady_temperature(
    absorbed_w_m2: ArrayLike,
    longwave_w_m2: ArrayLike,
    air_temp_c: ArrayLike,
    convection_w_m2_k: ArrayLike,
    *,
    emittance: ArrayLike,
    u_value: ArrayLike = 0.0,
    indoor_temp_c: ArrayLike = 21.0,
) -> FloatArray:
    """Temperature of a dry surface in balance [degC].

    Parameters
    ----------
    absorbed_w_m2 : absorptance times global irradiance. [W/m2]
    longwave_w_m2 : radiation from the sky, see `sky_longwave`. [W/m2]
    air_temp_c : air temperature. [degC]
    convection_w_m2_k : see `convection`. [W/(m2 K)]
    emittance : of the surface. [fraction]
    u_value : of the roof below the surface; 0 is perfectly insulated. [W/(m2 K)]
    indoor_temp_c : room temperature under the roof. [degC]

    Notes
    -----
    Newton's method on the balance, which is concave and falls with Ts, so it converges from any
    start; the balance closes to better than 1e-6 W/m2.
    """
    fixed = {"emittance": emittance, "u_value": u_value}

    def dry(temp: FloatArray) -> tuple[FloatArray, FloatArray]:
        arguments = (temp, absorbed_w_m2, longwave_w_m2, air_temp_c, convection_w_m2_k)
        gain = net_gain(*arguments, indoor_temp_c=indoor_temp_c, **fixed)
        return gain, conductance(temp, convection_w_m2_k, **fixed)

    return _settle(dry, air_temp_c)


def wet_temperature(
    absorbed_w_m2: ArrayLike,
    longwave_w_m2: ArrayLike,
    air_temp_c: ArrayLike,
    convection_w_m2_k: ArrayLike,
    vapour_pressure_hpa: ArrayLike,
    *,
    emittance: ArrayLike,
    u_value: ArrayLike = 0.0,
    indoor_temp_c: ArrayLike = 21.0,
) -> FloatArray:
    """Temperature of a surface under a freely evaporating water film [degC].

    The balance of `steady_temperature` with the latent heat of `psychrometrics.vapour_flux`, by
    the same coefficient. A wet roof in the sun is 2-14 K (white) to 29 K (black) colder than a
    dry one; a roof that collects dew is warmer.

    Parameters
    ----------
    vapour_pressure_hpa : of the air. [hPa]
        The others as `steady_temperature`.
    """
    fixed = {"emittance": emittance, "u_value": u_value}
    heat, vapour = latent_heat(air_temp_c), floats(vapour_pressure_hpa)
    heat_per_hpa = heat * vapour_transfer(convection_w_m2_k)

    def wet(temp: FloatArray) -> tuple[FloatArray, FloatArray]:
        arguments = (temp, absorbed_w_m2, longwave_w_m2, air_temp_c, convection_w_m2_k)
        gain = net_gain(*arguments, indoor_temp_c=indoor_temp_c, **fixed)
        latent = heat * vapour_flux(temp, vapour, convection_w_m2_k)
        share = np.where(_saturation(temp) < vapour, _DEW_SHARE, 1.0)
        slope = heat_per_hpa * share * surface_vapour_slope(temp)
        return gain - latent, slope + conductance(temp, convection_w_m2_k, **fixed)

    return _settle(wet, air_temp_c)


def lagged_temperature(
    steady_c: ArrayLike,
    conductance_w_m2_k: ArrayLike,
    heat_capacity_j_m2_k: ArrayLike,
    start_c: ArrayLike | None = None,
) -> FloatArray:
    """Hour-mean temperature of a surface with heat capacity [degC].

    Inside each hour it relaxes exponentially to that hour's steady temperature: exact for the
    balance linearised around it.

    Parameters
    ----------
    steady_c, conductance_w_m2_k : per hour, shape (..., n). [degC], [W/(m2 K)]
    heat_capacity_j_m2_k : of the deck that follows the surface, shape (...) or one number;
        0 gives `steady_c` back. [J/(m2 K)]
    start_c : temperature before the first hour, shape (...). None assumes that hour's steady
        temperature, which is wrong for a few time constants; those of roof decks are 0.1 to
        3.4 h. NaN is an unknown start. [degC]

    Notes
    -----
    The memory is cut off: an hour is computed from the steady temperature of the last earlier
    hour whose weight in its mean is below 1e-3, and from nothing before that. So it differs from
    the endless memory by less than 1e-3 of the range of temperatures, and an unknown hour (or an
    unknown start) makes exactly those hours unknown that remember it. No other hour changes,
    which a restart after the gap could not promise.
    """
    steady, flow = np.broadcast_arrays(floats(steady_c), floats(conductance_w_m2_k))
    capacity = floats(heat_capacity_j_m2_k)[..., np.newaxis]
    begin = steady[..., :1] if start_c is None else floats(start_c)[..., np.newaxis]
    with np.errstate(divide="ignore"):
        folds = 3600.0 * not_negative(flow) / capacity  # time constants in the hour
    steady, folds, begin = _widen(steady, folds, begin)
    if folds.shape[-1] == 0:
        return np.empty(folds.shape)
    unknown: BoolArray = np.isnan(steady) | np.isnan(folds)
    aim = np.where(unknown, 0.0, steady)
    # Share of an hour's starting temperature in its mean: the integral of exp(-folds t).
    weight = np.where(folds > 0.0, -np.expm1(-folds) / np.maximum(folds, 1e-300), 1.0)
    folds = np.where(unknown, 0.0, np.minimum(folds, 60.0))  # more changes nothing
    start = begin[..., 0]
    at_start, _ = relax(np.exp(-folds), aim, np.where(np.isnan(start), 0.0, start))

    folded = np.zeros(folds.shape)
    np.cumsum(folds[..., :-1], axis=-1, out=folded[..., 1:])
    with np.errstate(divide="ignore"):
        since = _last_not_above(folded, folded + np.log(_FORGOTTEN / weight))
    first = np.maximum(since, 0)
    # Swap the state at that hour for its steady temperature: what came before cancels.
    swap = np.take_along_axis(aim - at_start, first, axis=-1)
    swap = swap * np.exp(np.take_along_axis(folded, first, axis=-1) - folded)
    at_start = at_start + np.where(since >= 0, swap, 0.0)

    hour = np.arange(folds.shape[-1])
    last_unknown = np.maximum.accumulate(np.where(unknown, hour, -1), axis=-1)
    from_start = (since < 0) & (last_unknown < 0) & ~np.isnan(begin)
    known = from_start | ((since >= 0) & (since > last_unknown))
    return np.where(known, steady + (at_start - steady) * weight, np.nan)


def _widen(
    steady: FloatArray, folds: FloatArray, begin: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Broadcast two (..., n) and one (..., 1) array to the same leading axes."""
    hours = steady.shape[-1]
    lead = np.broadcast_shapes(steady.shape[:-1], folds.shape[:-1], begin.shape[:-1])
    return (
        np.broadcast_to(steady, (*lead, hours)),
        np.broadcast_to(folds, (*lead, hours)),
        np.broadcast_to(begin, (*lead, 1)) if hours else np.empty((*lead, 1)),
    )


def _last_not_above(rising: FloatArray, levels: FloatArray) -> NDArray[np.intp]:
    """Index up to its own of the last value not above each level, -1 where there is none."""
    own = np.arange(rising.shape[-1])
    found = np.empty(rising.shape, dtype=np.intp)
    for row in np.ndindex(rising.shape[:-1]):
        found[row] = np.searchsorted(rising[row], levels[row], side="right") - 1
    return np.minimum(found, own)
