"""The heat balance against a measured skin temperature: of the ground, for no roof is published.

Two radiation stations give air, radiation both ways, and with it the temperature of the skin of
the ground (tests/data/README.md). The ground takes the place of the roof: its own albedo, its
emissivity, and what is under it as the functions take a deck and a room.

Nothing is fitted. Payerne, June, short grass: the skin hands 10 W/(m2 K) to the soil (ECMWF's
land model, from memory), the soil the rest by force and restore, 8.9 (Bhumralkar 1975, Deardorff
1978; moist loam of 1.0 W/(m K) and 2.2 MJ/(m3 K)), together 4.7 to the mean of the day. Wind was
not measured: 2 m/s, the world mean that FAO-56 gives for that case (Allen et al. 1998). Grass
gives off water as 104/(104 + 70) = 0.6 of a wet surface by day, FAO-56's reference grass in that
wind; by night it shuts, and dew falls freely. Alamosa, January, bare dry soil of 0.5 W/(m K) and
1.5 MJ/(m3 K): 5.2 W/(m2 K) and 72 kJ/(m2 K), no water, wind as measured at the mast times 0.6.

What this proves: with measured longwave, the balance of a summer month of grass comes within 2 K,
and its nights within a kelvin. What it does not: a roof has no soil and no grass, but a membrane, a
deck and parapets; the calm nights hang on a convection that no wind at Payerne tests; one summer
month and one winter day, whose soil is not known, are few.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from outside import Outside

from cure_models import psychrometrics as moist
from cure_models import sky, sun
from cure_models.arrays import FloatArray
from cure_models.deck import lagged_temperature
from cure_models.surface import HeatBalance

DATA = Path(__file__).parents[1] / "data" / "skin_temperature.csv.gz"
SPREAD_K = 5 / 1.8
EMISSIVITY = 0.97
PAYERNE = "skin of grass measured at Payerne, June 2016"
ALAMOSA = "skin of a dry valley measured at Alamosa, one winter day"


def measured(site: str) -> dict[str, FloatArray]:
    table = pd.read_csv(DATA)
    table = table[table["site"] == site]
    columns = {
        str(n): table[n].to_numpy(np.float64) for n in table if n not in ("site", "time_utc")
    }
    times = pd.to_datetime(table["time_utc"]).dt.tz_localize(None)
    columns["unix_s"] = times.to_numpy("datetime64[s]").astype(np.float64)
    columns["dew_point_c"] = moist.dew_point(columns["air_temp_c"], columns["rel_humidity"])
    return columns


def ground(
    d: dict[str, FloatArray], wind: FloatArray | float, to_soil: float, soil_c: FloatArray,
    stored: float, wetness: float,
) -> FloatArray:  # fmt: skip
    albedo = np.nansum(d["sw_up_w_m2"]) / np.nansum(d["ghi_w_m2"])
    balance = HeatBalance(
        (1 - albedo) * d["ghi_w_m2"], d["lw_down_w_m2"], d["air_temp_c"], wind, EMISSIVITY,
        to_soil, soil_c,
    )  # fmt: skip
    dry = balance.dry()
    wet = balance.wet(moist.vapour_pressure(d["dew_point_c"]), dry.convection_w_m2_k)
    # Grass that gives off a part of the flux is cooled by more than that part of the difference: it
    # stays warmer than a wet one and so evaporates more; to first order, with the latent slope.
    latent = wet.conductance_w_m2_k - dry.conductance_w_m2_k
    cooled = wetness * wet.conductance_w_m2_k / (dry.conductance_w_m2_k + wetness * latent)
    share = np.where(wet.temp_c > dry.temp_c, 1.0, np.where(d["ghi_w_m2"] > 5, cooled, 0.0))
    steady = dry.temp_c + share * (wet.temp_c - dry.temp_c)
    start = float(np.nanmean(steady[:24]))
    return lagged_temperature(steady, dry.conductance_w_m2_k, stored, start)


def payerne(d: dict[str, FloatArray], wind: float = 2.0, grass: float = 0.6) -> FloatArray:
    day_mean = pd.Series(d["air_temp_c"]).rolling(24, center=True, min_periods=12).mean()
    return ground(d, wind, 4.7, day_mean.to_numpy(), 5e3, grass)


def errors(found: FloatArray, d: dict[str, FloatArray]) -> dict[str, float]:
    error = found - d["skin_temp_c"]
    night = d["ghi_w_m2"] < 5
    return {
        "rmse": float(np.sqrt(np.nanmean(error**2))),
        "night_bias": float(np.nanmean(error[night])),
        "night_rmse": float(np.sqrt(np.nanmean(error[night] ** 2))),
        "day_bias": float(np.nanmean(error[~night])),
        "hours": int((~np.isnan(error)).sum()),
        "night_hours": int((~np.isnan(error[night])).sum()),
        "day_hours": int((~np.isnan(error[~night])).sum()),
    }


def test_grass_in_summer(outside: Outside) -> None:
    d = measured("Payerne")
    told = errors(payerne(d), d)
    # Wanted were 3 K and a night bias of 1 K.
    for name, key, hours, most in (
        ("root mean square error", "rmse", "hours", 2.2),
        ("nights: bias", "night_bias", "night_hours", 0.5),
        ("nights: root mean square error", "night_rmse", "night_hours", 0.8),
        ("days: bias", "day_bias", "day_hours", 1.8),
    ):
        assert abs(told[key]) < most
        outside.found(
            f"grass, {name}", points=told[hours], allowed=f"{most} K",
            worst=f"{told[key]:+.2f} K" if "bias" in key else f"{told[key]:.2f} K",
            source=PAYERNE, why="3 K wanted" if key == "rmse" else "",
        )  # fmt: skip
    # How much the two guesses matter.
    for name, guess, most in (
        ("gives off 0.4 of a wet surface", {"grass": 0.4}, 3.2),
        ("gives off 0.8 of a wet surface", {"grass": 0.8}, 1.4),
        ("wind 1 m/s", {"wind": 1.0}, 3.5),
        ("wind 3 m/s", {"wind": 3.0}, 1.3),
    ):
        other = errors(payerne(d, **guess), d)
        assert other["rmse"] < most
        outside.found(
            f"grass, another guess: {name}", points=other["hours"], allowed=f"{most} K",
            worst=f"{other['rmse']:.2f} K", source=PAYERNE,
        )  # fmt: skip


@pytest.mark.parametrize("wind", [1.0, 1.5, 2.5, 3.0])
def test_the_nights_hang_little_on_the_wind_that_was_not_measured(
    wind: float, outside: Outside
) -> None:
    d = measured("Payerne")
    told = errors(payerne(d, wind), d)
    outside.between(
        "nights: bias, wind assumed 1, 1.5, 2.5 and 3 m/s", told["night_bias"], -0.75, 0.75,
        unit="K", source=PAYERNE,
    )  # fmt: skip
    outside.between(
        "the same, root mean square error", told["night_rmse"], 0.0, 0.9, unit="K", source=PAYERNE
    )


def test_the_spread_rule_on_the_surface_and_on_the_air(outside: Outside) -> None:
    """5 degF above the dew point: hours that pass on air temperature but fail on the surface."""
    d = measured("Payerne")
    air, surface, model = (
        temp - d["dew_point_c"] >= SPREAD_K
        for temp in (d["air_temp_c"], d["skin_temp_c"], payerne(d))
    )
    really, foretold = air & ~surface, air & ~model
    assert (air.sum(), really.sum()) == (266, 17)
    assert (really & foretold).sum() == 17
    more = (foretold & ~really).sum()
    assert more <= 15
    outside.found(
        "5 °F spread: passes on air in 266 h, fails on the surface in 17", points=air.size,
        allowed="all 17 found, 15 more called", worst=f"17 found, {more} more called",
        source=PAYERNE,
    )  # fmt: skip


def test_below_the_dew_point(outside: Outside) -> None:
    """Hours of dew: the model finds 104 of 110, and calls 97 more that were within a kelvin of it.

    So humid a month (63 % of the hours within 5 degF of the dew point) asks for half a kelvin; the
    model's nights are 0.35 K too cold, on the careful side.
    """
    d = measured("Payerne")
    spread = d["skin_temp_c"] - d["dew_point_c"]
    foretold = payerne(d) < d["dew_point_c"]
    false_alarms = spread[foretold & (spread >= 0)]
    dewy = foretold & (spread < 0)
    assert (spread < 0).sum() == 110
    assert dewy.sum() >= 100
    assert (false_alarms < 1.0).mean() > 0.9
    outside.found(
        "surface below the dew point in 110 h", points=spread.size,
        allowed="100 found, 90 % of the others called within 1 K of it",
        worst=f"{dewy.sum()} found, {(false_alarms < 1).sum()} of {false_alarms.size} others",
        source=PAYERNE,
    )  # fmt: skip


def test_bare_ground_on_a_winter_day(outside: Outside) -> None:
    d = measured("Alamosa")
    soil = np.full(24, np.nanmean(d["air_temp_c"]))
    found = ground(d, 0.6 * d["wind_m_s"], 5.2, soil, 72e3, 0.0)
    told = errors(found, d)
    # One day of -23 to -3 degC with 11 K between skin and air at noon, begun from a guess: 3.9 K,
    # the night 2.7 K too cold and the day as much too warm: the goal of 3 K and 1 K is missed. What
    # the ground stores decides: a moist soil (8 W/(m2 K), 110 kJ/(m2 K)), tried afterwards, gives
    # less. Neither the soil's water nor the day before is known.
    assert told["rmse"] < 4.2
    assert abs(told["night_bias"]) < 3.0
    moist_soil = errors(ground(d, 0.6 * d["wind_m_s"], 8.0, soil, 110e3, 0.0), d)
    assert moist_soil["rmse"] < 3.0
    for name, which, most in (
        ("dry soil", told, "4.2 K, nights 3 K"),
        ("moist soil, tried afterward", moist_soil, "3 K"),
    ):
        outside.found(
            f"{name}: root mean square error; bias by night, by day", points=which["hours"],
            allowed=most, source=ALAMOSA,
            worst="{rmse:.1f} K; {night_bias:+.1f} K, {day_bias:+.1f} K".format(**which),
        )  # fmt: skip


def test_the_sky_of_clear_hours(outside: Outside) -> None:
    """Modelled against measured longwave; clear is 95 % of a clear sky with the sun 20 deg up."""
    biases = {}
    for site, latitude, longitude, height in (
        ("Payerne", 46.815, 6.944, 491.0), ("Alamosa", 37.70, -105.92, 2317.0),
    ):  # fmt: skip
        d = measured(site)
        elevation = sun.sun_elevation(d["unix_s"] + 1800, latitude, longitude)
        clear_sky = sun.clear_sky_ghi(elevation, height)
        clear = (elevation > 20) & (d["ghi_w_m2"] > 0.95 * clear_sky)
        model = sky.sky_longwave(d["air_temp_c"], d["dew_point_c"], 0.0, height)
        error = (model - d["lw_down_w_m2"])[clear]
        biases[site] = float(error.mean())
        assert clear.sum() >= 5
        assert abs(error.mean()) < 12
        assert np.sqrt((error**2).mean()) < 20
        outside.found(
            "longwave of clear hours: bias, root mean square error", points=clear.sum(),
            allowed="12, 20 W/m2",
            worst=f"{error.mean():+.1f}, {np.sqrt((error**2).mean()):.1f} W/m2",
            source=f"measured at {site}", why="published schemes come to 10 and 20",
        )  # fmt: skip
    assert biases["Payerne"] > 0 > biases["Alamosa"]
