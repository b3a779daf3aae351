"""Readings of real files, against other readers. Origin: tests/data/README.md."""

import gzip
import io
import socket
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from outside import library
from pvlib.iotools import read_epw
from pytest_socket import SocketConnectBlockedError

from windows.flags import Flag
from windows.sources import read_weather

DATA = Path(__file__).parents[2] / "data"
READINGS = {
    "air_temp_c": ("temp_air", 1),
    "dew_point_c": ("temp_dew", 1),
    "wind_m_s": ("wind_speed", 1),
    "rel_humidity": ("relative_humidity", 0.01),
    "pressure_hpa": ("atmospheric_pressure", 0.01),
    "cloud": ("total_sky_cover", 0.1),
}
HOUR_BEFORE = {
    "ghi_w_m2": "ghi",
    "longwave_w_m2": "ghi_infrared",
    "rain_mm": "liquid_precipitation_depth",
}


def test_a_real_epw_equals_the_reader_of_pvlib(outside):
    what, source = "a real EPW year, 9 columns", library("pvlib", "read_epw")
    path = DATA / "northway_ak_tmy3.epw.gz"
    found = read_weather(path).frame
    theirs, _ = read_epw(io.StringIO(gzip.decompress(path.read_bytes()).decode()), coerce_year=2025)
    # pvlib labels every value with the START of its hour: sums as here, readings one earlier.
    starts = theirs.index.tz_convert("UTC")
    for ours, (name, scale) in READINGS.items():
        at_label = found[ours].reindex(starts + pd.Timedelta(hours=1))
        outside.equal(what, at_label, theirs[name] * scale, source=source)
    for ours, name in HOUR_BEFORE.items():
        before = found[ours].reindex(starts[1:])
        outside.equal(what, before, theirs[name][1:], source=source)


def rows_of(name):
    """Return a file's rows read from the description of the format: label, then the fields."""
    lines = gzip.decompress((DATA / name).read_bytes()).decode().splitlines()
    for line in lines:
        year, month, day, hour, air, dew, _, _, wind, _, one, six = (int(p) for p in line.split())
        yield pd.Timestamp(year, month, day, hour, tz="UTC"), air, dew, wind, one, six


@pytest.mark.parametrize("name", ["isd_lite_shasta_2016.gz", "isd_lite_ohare_2016.gz"])
def test_a_real_isd_lite_equals_a_plain_reading(name):
    found = read_weather(DATA / name)
    single = found.frame.get("rain_block_h", pd.Series(1.0, found.index)) == 1
    for label, air, dew, wind, one, _ in rows_of(name):
        row = found.frame.loc[label]
        for ours, tenths in (("air_temp_c", air), ("dew_point_c", dew), ("wind_m_s", wind)):
            assert np.isnan(row[ours]) if tenths == -9999 else row[ours] == tenths / 10
        before = label - pd.Timedelta(hours=1)
        if before in found.index and single[before] and one != -9999:
            rain = found.frame.loc[before]
            assert (rain["rain_mm"], rain["rain_trace"]) == (max(one, 0) / 10, float(one == -1))


def test_rain_belongs_to_the_hours_before_its_label(outside):
    """Moved by an hour to either side, the hours no longer add up to the sums of six hours."""
    rows = list(rows_of("isd_lite_shasta_2016.gz"))
    index = pd.DatetimeIndex([row[0] for row in rows])
    one, six = (
        pd.Series([max(row[at], 0) / 10 if row[at] != -9999 else np.nan for row in rows], index)
        for at in (4, 5)
    )
    one = one.asfreq("h")

    def agree(shift):
        added = one.rolling(6, min_periods=6).sum().shift(shift).reindex(six.index)
        both = six.notna() & added.notna() & ((six > 0) | (added > 0))
        return 100 * ((added - six).abs()[both] < 0.65)

    source = "the station's own sums of six hours, Mount Shasta 2016, to 0.65 mm"
    for name, shift, low, high in (
        ("rain of the hours before the label", 0, 99, 100),
        ("the same, moved an hour back or on", -1, 0, 60),
        ("the same, moved an hour back or on", 1, 0, 60),
    ):
        added = agree(shift)
        assert low <= added.mean() <= high
        outside.found(
            f"ISD-Lite: {name}", points=added.size, allowed=f"{low} to {high} % agree",
            worst=f"{added.mean():.1f} %", source=source,
        )  # fmt: skip


def test_rain_that_the_hours_missed_is_held_against_them():
    """At this station hours of no rain stand in six hours with up to 28.7 mm."""
    found = read_weather(DATA / "isd_lite_ohare_2016.gz")
    doubted = (found.flags["rain_mm"] & Flag.CONSISTENCY) > 0
    assert 400 < doubted.sum() < 800
    assert (found.frame["rain_mm"][doubted] * found.frame["rain_block_h"][doubted] > 0.19).all()


@pytest.mark.filterwarnings("ignore:A test tried to use")
def test_no_test_reaches_beyond_this_machine():
    with pytest.raises(SocketConnectBlockedError):
        socket.create_connection(("192.0.2.1", 80), timeout=1)
