"""Readings on the roof: a known truth is found again, and few readings move little."""

import numpy as np
import pandas as pd
import pytest
from plain_site import site as plain_site

from windows.calibration import calibrate
from windows.conditions import roof_in_table
from windows.errors import DewgapError, HoursError
from windows.hours import check_hours
from windows.provenance import Provenance
from windows.sources.readings import Readings, read_readings

START = pd.Timestamp("2026-06-15T04:00Z")


def site(absorptance=0.7, **roof):
    return plain_site(absorptance=absorptance, **roof)


def table(days=8, **given):
    hours = 24 * days
    day = np.arange(hours) / 24 * 2 * np.pi
    air = 20 - 6 * np.cos(day - 0.8)
    columns = {
        "air_temp_c": air, "dew_point_c": np.full(hours, 4.0),
        "wind_m_s": 3 + np.sin(day * 1.7), "rain_mm": np.zeros(hours),
        "cloud": np.clip(0.3 + 0.3 * np.sin(day / 3), 0, 1),
    } | given  # fmt: skip
    index = pd.date_range(START, periods=hours, freq="h")
    return check_hours(columns, index, Provenance("test", "a test"))


def taken(truth, hours, rows, noise=0.0, seed=0):
    """Readings of a roof that is as the truth says, half past the hour."""
    dry = roof_in_table(hours, truth).on_top.dry_c[rows]
    error = np.random.default_rng(seed).normal(0, noise, len(rows)) if noise else 0.0
    return Readings(hours.index[rows] + pd.Timedelta(minutes=30), dry + error)


NIGHTS = np.array([24 * d + h for d in range(2, 7) for h in (1, 3, 5)])
DAYS = np.array([24 * d + h for d in range(2, 7) for h in (11, 13, 15, 16)])
BOTH = np.sort(np.r_[NIGHTS, DAYS])


def fitted(found):
    return {f.name: f for f in found.fitted}


@pytest.mark.parametrize("seed", range(6))
def test_a_known_roof_is_found_again(seed):
    truth = site(absorptance=0.60, sky_view=0.85, surface_offset="0.5 K")
    hours = table()
    found = calibrate(site(), hours, taken(truth, hours, BOTH, 0.7, seed))
    values = fitted(found)
    assert set(values) == {"surface_offset", "absorptance", "sky_view"}
    for name, true in (("surface_offset", 0.5), ("absorptance", 0.60), ("sky_view", 0.85)):
        assert abs(values[name].after - true) < 3 * values[name].error, name
    assert (found.by_day, found.by_night, found.used) == (20, 15, 35)
    assert found.before.rms > 2
    assert found.after.rms < 1.0
    assert found.after.rms <= found.foretold < 1.2
    # The new site does what was promised, in the main model.
    dry = roof_in_table(hours, found.site).on_top.dry_c[BOTH]
    error = dry - taken(truth, hours, BOTH, 0.7, seed).temp_c
    assert np.sqrt(np.mean(error**2)) == pytest.approx(found.after.rms, abs=1e-6)


def test_a_model_that_is_right_stays():
    hours = table()
    found = calibrate(site(), hours, taken(site(), hours, BOTH))
    for f in found.fitted:
        assert f.after == pytest.approx(f.before, abs=1e-6)
    assert found.before.rms == pytest.approx(0, abs=1e-9)


def test_few_readings_move_little_and_only_the_offset():
    hours = table()
    warmer = site(surface_offset="4 K")
    few = calibrate(site(), hours, taken(warmer, hours, NIGHTS[:3]))
    many = calibrate(site(), hours, taken(warmer, hours, NIGHTS[:4].repeat(10)))
    assert set(fitted(few)) == {"surface_offset"}
    # Ridge by hand: n / (n + 1/4) of the 4 K, where a prior of 2 K stands against errors of 1 K.
    assert fitted(few)["surface_offset"].after == pytest.approx(4 * 3 / 3.25, abs=1e-6)
    assert fitted(few)["surface_offset"].error == pytest.approx((3 + 0.25) ** -0.5, abs=1e-6)
    assert fitted(many)["surface_offset"].after > fitted(few)["surface_offset"].after
    # Foretold from the others is worse than fitted, the more so the fewer there are.
    noisy = calibrate(site(), hours, taken(warmer, hours, NIGHTS[:4], 1.0, 3))
    assert noisy.foretold > 1.2 * noisy.after.rms


@pytest.mark.parametrize("seed", [6, 8, 14])
def test_at_a_bound_the_other_values_are_the_best_ones(seed):
    # Noise alone would have these readings see more than the whole sky.
    hours = table()
    found = calibrate(site(), hours, taken(site(), hours, BOTH, 1.0, seed))
    assert fitted(found)["sky_view"].after == 1.0
    assert found.after.rms <= found.before.rms


def test_a_site_that_is_right_with_its_offset_keeps_it():
    hours = table()
    right = site(surface_offset="4 K")
    found = calibrate(right, hours, taken(right, hours, NIGHTS[:3]))
    assert fitted(found)["surface_offset"].after == pytest.approx(4.0, abs=1e-9)


def test_bounds_hold():
    hours = table()
    black = calibrate(site(absorptance=0.9), hours, taken(site(absorptance=1.0), hours, DAYS))
    assert fitted(black)["absorptance"].after <= 0.98
    assert fitted(calibrate(site(), hours, taken(site(), hours, NIGHTS)))["sky_view"].after <= 1.0


def test_wet_hours_unknown_hours_and_others_are_left_out():
    rain = np.zeros(24 * 8)
    rain[NIGHTS[0]] = 3.0
    wind = np.full(24 * 8, 3.0)
    wind[NIGHTS[4]] = np.nan
    hours = table(rain_mm=rain, wind_m_s=wind)
    readings = taken(site(), table(), BOTH)
    readings = Readings(
        readings.times.append(pd.DatetimeIndex([START - pd.Timedelta(hours=5)])),
        np.append(readings.temp_c, 20.0),
    )
    found = calibrate(site(), hours, readings)
    assert found.left_out["outside the weather table"] == 1
    assert found.left_out["in hours of unknown weather"] >= 1
    assert found.left_out["on a roof that is wet, or not known to be dry"] >= 1
    assert found.used + sum(found.left_out.values()) == len(BOTH) + 1


def test_a_measured_column_is_not_taken_for_the_model():
    hours = table(surface_temp_c=np.full(24 * 8, 30.0))
    found = calibrate(site(), hours, taken(site(), table(), BOTH))
    assert found.before.rms == pytest.approx(0, abs=1e-9)


def test_too_few_say_why():
    hours = table()
    with pytest.raises(DewgapError, match="2 of 2 readings can be used, and 3 are needed"):
        calibrate(site(), hours, taken(site(), hours, NIGHTS[:2]))
    away = taken(site(), hours, NIGHTS[:5])
    away = Readings(away.times + pd.Timedelta(days=300), away.temp_c)
    with pytest.raises(DewgapError, match="5 outside the weather table"):
        calibrate(site(), hours, away)


def written(tmp_path, text):
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_readings_of_a_file(tmp_path):
    text = "# by hand\ntime,surface_temp_f\n2026-06-16T05:30-04:00,68\n2026-06-16T10:00Z,\n"
    found = read_readings(written(tmp_path, text + "2026-06-16T17:10Z,140.0\n"))
    assert found.temp_c == pytest.approx([20.0, 60.0])
    assert found.times[0] == pd.Timestamp("2026-06-16T09:30Z")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("time,surface\n", "column 'surface' is not known"),
        ("time,surface_temp_c\n", "there are no readings below the header"),
        ("# only a remark\n", "there is no header below"),
        ("time,time,surface_temp_c\n", "column 'time' is there twice"),
        ("time\n", "readings need the columns time and surface_temp_c"),
        ("time,surface_temp_c,surface_temp_f\n", "readings need the columns"),
        ("time;surface_temp_c\n", "separated by semicolons"),
        ("time,surface_temp_c\n2026-06-16T05:30,20\n", "line 2: time '2026-06-16T05:30' has no"),
        ("time,surface_temp_c\nyesterday,20\n", "is not a time"),
        ("time,surface_temp_c\n2026-06-16T05:30Z,warm\n", "line 2: surface_temp_c is 'warm'"),
        ("time,surface_temp_c\n2026-06-16T05:30Z,140\n", "no temperature of a roof"),
        ("time,surface_temp_f\n\n2026-06-16T05:30Z,700\n", "line 3: surface_temp_f is 700"),
        ("time,surface_temp_c\n2026-06-16T05:30Z\n", "line 2 has 1 cell"),
    ],
)
def test_a_file_that_cannot_be_used(tmp_path, text, said):
    with pytest.raises(HoursError, match=said.replace("(", r"\(")):
        read_readings(written(tmp_path, text))


def test_no_such_file(tmp_path):
    with pytest.raises(HoursError, match="no such file of readings"):
        read_readings(tmp_path / "none.csv")
    with pytest.raises(HoursError, match="cannot be read"):
        read_readings(tmp_path)


@pytest.mark.parametrize("rows", [DAYS[:4], DAYS])
def test_days_alone_never_promise_warmer_nights(rows):
    """A roof darker than the site says looks like an offset; the night would not be warmer."""
    hours, believed, truth = table(), site(absorptance=0.5), site(absorptance=0.95)
    found = calibrate(believed, hours, taken(truth, hours, rows))
    assert fitted(found)["surface_offset"].after <= 0
    assert found.explained == ("absorptance" in fitted(found))
    before, after = (roof_in_table(hours, s).on_top.dry_c[NIGHTS] for s in (believed, found.site))
    assert (after <= before + 0.5).all()
