"""Temperature of a roof surface: sun and sky in, wind and deck out, with and without water on it.

The steady balance per square metre, temperatures of the surface Ts, the air Ta and the room Tin::

    absorbed + emittance (L_down - sigma Ts**4) + hc (Ta - Ts) + U (Tin - Ts) - latent = 0

The wind at roof height decides the calm nights more than anything else here, and is known worst.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cure_models.arrays import FloatArray, floats
from cure_models.convection import forced_convection, natural_convection
from cure_models.psychrometrics import (
    CONDENSATION_SHARE,
    damped,
    latent_heat,
    surface_vapour,
    vapour_transfer,
)
from cure_models.sky import SIGMA_W_M2_K4, black_radiation

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["HeatBalance", "Settled"]

_KELVIN = 273.15
_CLOSE_K = 1e-9


@dataclass(frozen=True)
class Settled:
    """A surface in balance.

    Attributes
    ----------
    temp_c
        Its temperature. [degC]
    convection_w_m2_k
        Heat transfer coefficient to the air, also that of the vapour. [W/(m2 K)]
    conductance_w_m2_k
        Heat that it loses for each kelvin more, by all ways together. [W/(m2 K)]
    """

    temp_c: FloatArray
    convection_w_m2_k: FloatArray
    conductance_w_m2_k: FloatArray


@dataclass(frozen=True)
class HeatBalance:
    """What acts on one surface; numbers or arrays that broadcast, hours on the last axis.

    The balance is that of the module, the first law of thermodynamics for a surface without mass:
    radiation by Stefan and Boltzmann, convection by `cure_models.convection`, the deck as a
    resistance, latent heat by Dalton's law.

    Attributes
    ----------
    absorbed_w_m2
        Absorptance times global irradiance. [W/m2]
    longwave_w_m2
        Radiation that falls on it, see `sky.seen_longwave`. [W/m2]
    air_temp_c
        Air temperature. [degC]
    roof_wind_m_s
        Wind over the surface. [m/s]
    emittance
        Of the surface. [fraction]
    u_value
        Of the roof below the surface; 0 is perfectly insulated. [W/(m2 K)]
    indoor_temp_c
        Room temperature under the roof. [degC]
    fixed_convection_w_m2_k
        Coefficient to use in place of wind and buoyancy, as standard conditions give it.
        [W/(m2 K)]
    """

    absorbed_w_m2: ArrayLike
    longwave_w_m2: ArrayLike
    air_temp_c: ArrayLike
    roof_wind_m_s: ArrayLike
    emittance: ArrayLike
    u_value: ArrayLike = 0.0
    indoor_temp_c: ArrayLike = 21.0
    fixed_convection_w_m2_k: ArrayLike | None = None

    def convection(self, surface_temp_c: ArrayLike) -> FloatArray:
        """Heat transfer coefficient at a surface temperature [W/(m2 K)].

        Forced and natural convection are added, as in the law of McAdams that the forced part is
        taken from.
        """
        return self._forced() + self._natural(floats(surface_temp_c))

    def gain(self, surface_temp_c: ArrayLike) -> FloatArray:
        """Heat that a dry surface of this temperature gains; 0 at the steady one [W/m2]."""
        surface = floats(surface_temp_c)
        return self._by_radiation_and_deck(surface) + self.convection(surface) * (
            floats(self.air_temp_c) - surface
        )

    def dry(self) -> Settled:
        """Return the steady state of the dry surface.

        Newton's method on a balance that falls with the temperature; it closes to better than
        1e-6 W/m2.
        """
        air, forced = floats(self.air_temp_c), self._forced()

        def balance(temp: FloatArray) -> tuple[FloatArray, FloatArray]:
            natural = self._natural(temp)
            gain = self._by_radiation_and_deck(temp) + (forced + natural) * (air - temp)
            # The natural part grows with the power 4/3 of the difference.
            return gain, self._radiation_and_deck_slope(temp) + forced + 4.0 / 3.0 * natural

        temp, slope = _settle(balance, air)
        return Settled(temp, forced + self._natural(temp), slope)

    def wet(
        self, vapour_pressure_hpa: ArrayLike, convection_w_m2_k: ArrayLike | None = None
    ) -> Settled:
        """Return the steady state under a freely evaporating water film.

        The latent heat of `psychrometrics.vapour_flux` comes in, by the same coefficient. A wet
        roof in the sun is 2-14 K (white) to 29 K (black) colder than a dry one; one that collects
        dew is warmer.

        Parameters
        ----------
        vapour_pressure_hpa : of the air. [hPa]
        convection_w_m2_k : coefficient to use, default that of the dry surface: the film changes
            the buoyancy little, and the root stays the only one. [W/(m2 K)]
        """
        given = self.dry().convection_w_m2_k if convection_w_m2_k is None else convection_w_m2_k
        convection = floats(given)
        air, vapour = floats(self.air_temp_c), floats(vapour_pressure_hpa)
        heat_per_hpa = latent_heat(air) * vapour_transfer(convection)

        def balance(temp: FloatArray) -> tuple[FloatArray, FloatArray]:
            saturation, steepness = surface_vapour(temp)
            excess = saturation - vapour
            latent = heat_per_hpa * damped(excess)
            gain = self._by_radiation_and_deck(temp) + convection * (air - temp) - latent
            share = np.where(excess < 0.0, CONDENSATION_SHARE, 1.0)
            slope = heat_per_hpa * share * steepness
            return gain, slope + self._radiation_and_deck_slope(temp) + convection

        temp, slope = _settle(balance, air)
        return Settled(temp, np.broadcast_to(convection, temp.shape), slope)

    def _forced(self) -> FloatArray:
        """Return the part of the convection that does not depend on the surface."""
        fixed = self.fixed_convection_w_m2_k
        return forced_convection(self.roof_wind_m_s) if fixed is None else floats(fixed)

    def _natural(self, temp: FloatArray) -> FloatArray:
        if self.fixed_convection_w_m2_k is not None:
            return np.zeros(())
        return natural_convection(temp, self.air_temp_c)

    def _by_radiation_and_deck(self, temp: FloatArray) -> FloatArray:
        radiation = floats(self.longwave_w_m2) - black_radiation(temp)
        by_deck = floats(self.u_value) * (floats(self.indoor_temp_c) - temp)
        gain: FloatArray = floats(self.absorbed_w_m2) + floats(self.emittance) * radiation + by_deck
        return gain

    def _radiation_and_deck_slope(self, temp: FloatArray) -> FloatArray:
        kelvin = temp + _KELVIN
        radiative = 4.0 * SIGMA_W_M2_K4 * kelvin * kelvin * kelvin
        return floats(self.emittance) * radiative + floats(self.u_value)


def _settle(
    gain_and_slope: Callable[[FloatArray], tuple[FloatArray, FloatArray]], start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Root of a falling balance by Newton's method, and the slope there; NaN if not settled."""
    temp = start
    for _ in range(60):
        gain, slope = gain_and_slope(temp)
        change = gain / slope
        temp = temp + change
        if not np.any(np.abs(change) > _CLOSE_K):
            break
    return np.where(np.abs(change) <= _CLOSE_K, temp, np.nan), slope
