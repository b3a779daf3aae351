"""The sun against NREL SPA, and the irradiance and UV formulas against their papers' numbers."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside import Outside, library

from cure_models import sun

DOWN = -5.0
SPA = library("pvlib", "NREL SPA")
REDA = "Reda and Andreas (2004), table A5.1, from memory"


def test_reda_and_andreas_example(outside: Outside) -> None:
    # Reda and Andreas (2004), NREL/TP-560-34302, table A5.1 (from memory, equal to pvlib's SPA):
    # 2003-10-17 12:30:30 at UTC-7, topocentric zenith 50.11162 with refraction, azimuth
    # 194.34024. Geometric zenith 50.12795 by pvlib. 0.01 is the accuracy of the series.
    moment = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC).timestamp()
    elevation, azimuth = sun.sun_position(moment, 39.742476, -105.1786)
    zenith = 90.0 - elevation
    outside.agree(
        "zenith, worked example", zenith, 50.11162, within=0.02, unit="deg", source=REDA,
        why="with refraction",
    )  # fmt: skip
    outside.agree(
        "zenith, worked example", zenith, 50.12795, within=0.01, unit="deg",
        source=f"geometric, {SPA}", why="accuracy of the series",
    )  # fmt: skip
    outside.agree(
        "azimuth, worked example", azimuth, 194.34024, within=0.01, unit="deg", source=REDA
    )


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(70.0, 25.0), (41.9, -87.6), (0.5, 103.0), (-35.0, 149.0)]
)
def test_a_year_against_nrel_spa(latitude: float, longitude: float, outside: Outside) -> None:
    import pvlib

    times = pd.date_range("2024-01-01 00:30", "2024-12-31 23:30", freq="h", tz="UTC")
    spa = pvlib.solarposition.get_solarposition(times, latitude, longitude, method="nrel_numpy")
    seconds = times.tz_localize(None).to_numpy("datetime64[s]").astype(np.float64)
    elevation, azimuth = sun.sun_position(seconds, latitude, longitude)
    outside.agree(
        "height of the sun, a year at 70, 41.9, 0.5 and -35 degrees", elevation, spa["elevation"],
        within=0.02, unit="deg", source=SPA, why="0.016 was the worst over 30 years",
    )  # fmt: skip
    # Near the zenith an azimuth means little.
    low = np.abs(elevation) < 80.0
    turn = (azimuth - spa["azimuth"].to_numpy() + 180.0) % 360.0 - 180.0
    outside.agree(
        "azimuth, the same, sun below 80 degrees", turn[low], np.zeros(low.sum()),
        within=0.1, unit="deg", source=SPA,
    )  # fmt: skip


def test_broadcasts_over_sites() -> None:
    elevation = sun.sun_elevation(np.arange(24) * 3600.0, [[10.0], [50.0]], [[0.0], [20.0]])
    assert elevation.shape == (2, 24)


@given(st.floats(-2e9, 4e9), st.sampled_from([-90.0, 90.0, 89.999]), st.floats(-180, 180))
def test_poles_are_just_numbers(seconds: float, latitude: float, longitude: float) -> None:
    elevation, azimuth = sun.sun_position(seconds, latitude, longitude)
    assert abs(elevation) < 24.0
    assert 0.0 <= azimuth <= 360.0


def test_midnight_sun_and_polar_night() -> None:
    hours = np.arange(24) * 3600.0
    june = datetime(2024, 6, 21, tzinfo=UTC).timestamp() + hours
    december = datetime(2024, 12, 21, tzinfo=UTC).timestamp() + hours
    assert np.all(sun.sun_elevation(june, 70.0, 25.0) > 0.0)
    assert np.all(sun.sun_elevation(december, 70.0, 25.0) < 0.0)


def test_haurwitz_values(outside: Outside) -> None:
    import pvlib

    zenith = np.array([0.0, 30.0, 60.0, 75.0, 80.0])
    expected = [1035.09, 888.27, 487.89, 226.25, 135.74]
    found = sun.clear_sky_ghi(90.0 - zenith)
    outside.agree(
        "clear-sky irradiance", found, expected, within=0.01, unit="W/m2",
        source="Haurwitz, printed by pvlib", why="its printing",
    )  # fmt: skip
    outside.agree(
        "clear-sky irradiance", found, pvlib.clearsky.haurwitz(pd.Series(zenith))["ghi"],
        within=1e-7, unit="%", source=library("pvlib", "Haurwitz"),
    )  # fmt: skip


def test_clear_sky_rises_with_height(outside: Outside) -> None:
    # FAO-56 eq. 37: 0.75 + 2e-5 z, so 0.79 / 0.75 at 2000 m.
    rise = sun.clear_sky_ghi(60.0, 2000.0) / sun.clear_sky_ghi(60.0)
    outside.agree(
        "clear sky at 2000 m against sea level", rise, 0.79 / 0.75,
        within=1e-4, unit="%", source="FAO-56, eq. 37",
    )  # fmt: skip


def test_kasten_czeplak_values(outside: Outside) -> None:
    # Eighths to fractions.
    eighths = np.array([0, 2, 4, 6, 7, 8])
    expected = [1.0, 0.9933, 0.9290, 0.7180, 0.5237, 0.25]
    outside.agree(
        "cloud transmittance", sun.cloud_transmittance(eighths / 8), expected,
        within=1e-4, unit="", source="Kasten and Czeplak, by hand", why="rounding",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("zenith", "ozone", "expected"),
    [(0, 300, 12.50), (30, 300, 8.83), (60, 300, 2.34), (45, 350, 4.47), (0, 250, 15.64)],
)
def test_uv_index_of_a_clear_sky(
    zenith: float, ozone: float, expected: float, outside: Outside
) -> None:
    outside.agree(
        "UV index, clear", sun.uv_index(90.0 - zenith, 0.0, 0.0, ozone), expected,
        within=0.01, unit="", source="Madronich (2007), by hand", why="rounding",
    )  # fmt: skip


def test_uv_index_through_cloud_and_height(outside: Outside) -> None:
    # "UV Index: how is it computed" (NWS/EPA): 89, 73 and 31 %; 6 % per km.
    clear = sun.uv_index(70.0, 0.0, 0.0)
    cloud = sun.uv_index(70.0, [3.5 / 8, 6 / 8, 1.0], 0.0)
    high = sun.uv_index(70.0, 0.0, 1000.0)
    outside.agree(
        "UV index through cloud and at 1000 m, to the clear one", [*cloud / clear, high / clear],
        [0.89, 0.73, 0.31, 1.06], within=1e-5, unit="%",
        source="the index as NWS and EPA compute it",
    )  # fmt: skip


def test_nothing_by_night_even_with_cloud_unknown() -> None:
    nan = np.nan
    assert sun.clear_sky_ghi(DOWN) == 0.0
    assert sun.uv_index(DOWN, nan, 0.0) == 0.0
    assert sun.cloudy_ghi(sun.clear_sky_ghi(DOWN), nan) == 0.0
    assert np.isnan(sun.uv_index(30.0, nan, 0.0))
    assert np.isnan(sun.cloudy_ghi(sun.clear_sky_ghi(30.0), nan))
    assert np.isnan(sun.uv_index(nan, 0.5, 0.0))
    assert np.isnan(sun.clear_sky_ghi(nan))
    assert np.isnan(sun.cloud_transmittance(-1.0))


@given(st.floats(0.5, 90), st.floats(0, 1), st.floats(0, 1))
def test_more_cloud_never_means_more_sun(elevation: float, one: float, other: float) -> None:
    less, more = sorted((one, other))
    clear = sun.clear_sky_ghi(elevation)
    assert sun.cloudy_ghi(clear, more) <= sun.cloudy_ghi(clear, less) <= clear
    assert sun.uv_index(elevation, more, 0.0) <= sun.uv_index(elevation, less, 0.0)


def test_percent_is_refused() -> None:
    with pytest.raises(ValueError, match="cloud cover is a fraction"):
        sun.cloud_transmittance([0.5, 50.0])


# Sunset and dose.


def test_hours_to_sunset_against_spa(outside: Outside) -> None:
    import pvlib

    # From noon and from the morning, four latitudes, the year round.
    for latitude, longitude in ((60.0, 25.0), (41.9, -87.6), (0.5, 10.0), (-35.0, 149.0)):
        noon = pd.date_range("2026-01-05", periods=24, freq="15D", tz="UTC")
        noon = noon + pd.Timedelta(hours=12 - longitude / 15)
        for before in (0.0, 3.0):
            moments = noon - pd.Timedelta(hours=before)
            spa = pvlib.solarposition.sun_rise_set_transit_spa(moments, latitude, longitude)
            wanted = (spa["sunset"] - moments).dt.total_seconds().to_numpy() / 3600 % 24
            seconds = moments.tz_localize(None).to_numpy("datetime64[s]").astype(float)
            position = sun.sun_position(seconds, latitude, longitude)
            found = sun.hours_to_sunset(position, latitude)
            outside.agree(
                "time to sunset, to 60 degrees, the year round, from noon and from the morning",
                60 * found, 60 * wanted, within=2.0, unit="min", source=SPA,
                why="the sun's own motion and the refraction",
            )  # fmt: skip


def test_sunset_in_polar_day_and_night() -> None:
    june, december = 1_781_900_000.0, 1_797_700_000.0
    hours = 3600.0 * np.arange(24)
    for start, hours_left in ((june, 24.0), (december, 0.0)):
        position = sun.sun_position(start + hours, 80.0, 15.0)
        assert (sun.hours_to_sunset(position, 80.0) == hours_left).all()
    for pole in (90.0, -90.0):
        position = sun.sun_position(june + hours, pole, 0.0)
        assert np.isfinite(sun.hours_to_sunset(position, pole)).all()


def test_dose_of_a_clear_summer_day() -> None:
    # An index hour is 0.9 SED. Half a sine over 9 h would give 9 x 2/pi = 5.7 times the peak; the
    # longest day at 40 degrees gives 6.7 times, 60 SED.
    assert sun.uv_dose(1.0) == pytest.approx(0.9)
    day = 1_781_913_600.0 + 3600.0 * (np.arange(24) + 0.5)  # 20 June 2026
    index = sun.uv_index(sun.sun_elevation(day, 40.0, 0.0), 0.0, 0.0)
    assert 9.5 < index.max() < 11.5
    assert 5.7 < index.sum() / index.max() < 7.0
    assert sun.uv_dose(index).sum() == pytest.approx(0.9 * index.sum())


def test_sunset_up_to_65_degrees_by_day(outside: Outside) -> None:
    import pvlib

    for latitude in (63.0, 65.0, -65.0):
        moments = pd.date_range("2026-01-05 11:00", periods=122, freq="3D", tz="UTC")
        spa = pvlib.solarposition.sun_rise_set_transit_spa(moments, latitude, 15.0)
        wanted = (spa["sunset"] - moments).dt.total_seconds().to_numpy() / 3600
        seconds = moments.tz_localize(None).to_numpy("datetime64[s]").astype(float)
        found = sun.hours_to_sunset(sun.sun_position(seconds, latitude, 15.0), latitude)
        outside.agree(
            "time to sunset, 63 to 65 degrees", 60 * found, 60 * wanted,
            within=3.0, unit="min", source=SPA,
            why="the sun's own motion costs more the flatter it sets",
        )  # fmt: skip


@pytest.mark.parametrize(
    ("start", "low", "high"), [(1_774_051_200.0, 48, 52), (1_781_913_600.0, 58, 63)]
)
def test_dose_of_a_day_with_peak_nine(start: float, low: float, high: float) -> None:
    # mu**2.42 over half a sine of 12 h is 5.6 times the peak: 50 index hours at the equinox, 60
    # on the longest day at 40 degrees.
    index = sun.uv_index(sun.sun_elevation(start + 3600.0 * (np.arange(24) + 0.5), 40.0, 0.0), 0, 0)
    assert low < 9 * index.sum() / index.max() < high
