"""Sky radiation: published coefficients by hand, another model, bounds, what parapets do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside import Outside

from cure_models import psychrometrics as moist
from cure_models import sky


def test_sky_emissivity_values(outside: Outside) -> None:
    # At 20 degC and 50 %: 0.7691 clear, 0.950 overcast.
    dew = moist.dew_point(20.0, 0.5)
    outside.agree(
        "sky emissivity, clear and overcast", sky.sky_emissivity(dew, [0, 1]), [0.7691, 0.950],
        within=1e-3, unit="", source="Berdahl and Martin, Martin and Berdahl, by hand",
        why="rounding",
    )  # fmt: skip
    sky_temp = (sky.sky_longwave(20.0, dew, 0.0) / sky.SIGMA_W_M2_K4) ** 0.25 - 273.15
    assert sky_temp == pytest.approx(1.4, abs=0.1)
    # The schemes differ by 0.04, or 17 W/m2.
    dews = np.array([-5.0, 5.0, 15.0, 22.0])
    other = 0.787 + 0.764 * np.log((dews + 273.15) / 273.0)
    outside.agree(
        "sky emissivity, clear, dew points of -5 to 22 °C", sky.sky_emissivity(dews, 0.0), other,
        within=0.1, unit="",
        source="another model, Clark and Allen (1978), as in building-energy programs",
    )  # fmt: skip


@given(
    st.floats(-60, 35), st.floats(0, 1), st.floats(0, 3), st.floats(0, 1), st.floats(0, 4000)
)
def test_sky_emissivity_rises_and_stays_below_one(
    dew: float, cloud: float, damper: float, more: float, height: float
) -> None:
    here = sky.sky_emissivity(dew, cloud, height)
    assert 0.4 < here <= sky.sky_emissivity(dew + damper, cloud, height) <= 1.0
    assert here <= sky.sky_emissivity(dew, cloud + more * (1.0 - cloud), height) + 1e-12
    assert sky.sky_emissivity(dew, cloud, height + 100.0) <= here  # thin air radiates less


def test_standard_pressure(outside: Outside) -> None:
    outside.agree(
        "pressure of the standard atmosphere, 0 to 3000 m",
        sky.standard_pressure([0, 1000, 2000, 3000]), [1013.25, 898.75, 794.95, 701.09],
        within=0.05, unit="hPa", source="ISO 2533, table, from memory",
    )  # fmt: skip
    # 0.00012 (812 - 1000) = -0.0225.
    drop = sky.sky_emissivity(5.0, 0.0, 1830.0) - sky.sky_emissivity(5.0, 0.0)
    outside.agree(
        "pressure term of the sky's emissivity at 1830 m", drop, -0.0225,
        within=5e-4, unit="", source="by hand",
    )  # fmt: skip


def test_parapets_warm_the_night() -> None:
    walls = sky.black_radiation(10.0)
    assert sky.seen_longwave(280.0, 10.0, 1.0) == 280.0
    assert sky.seen_longwave(280.0, 10.0, 0.75) == pytest.approx(0.75 * 280 + 0.25 * walls)
    # A free slope of 2 in 12 sees (1 + cos) / 2 = 0.993 of the sky: less than 1 W/m2 here.
    slope = (1 + np.cos(np.arctan(2 / 12))) / 2
    assert sky.seen_longwave(280.0, 10.0, slope) - 280.0 == pytest.approx(0.5, abs=0.1)


def test_black_radiation(outside: Outside) -> None:
    outside.agree(
        "radiation of a black body at 300 K", sky.black_radiation(26.85), 459.30,
        within=0.01, unit="W/m2", source="Stefan and Boltzmann, by hand", why="rounding",
    )  # fmt: skip


def test_unknown_stays_unknown_and_percentages_are_refused() -> None:
    nan = np.nan
    assert np.isnan(sky.sky_longwave([nan, 5, 5], [3, nan, 3], [0, 0, nan])).all()
    assert np.isnan(sky.seen_longwave([nan, 280.0], [10.0, nan], 0.9)).all()
    with pytest.raises(ValueError, match="fraction"):
        sky.sky_longwave(10.0, 5.0, 40.0)
