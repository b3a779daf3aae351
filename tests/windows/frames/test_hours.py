"""Hours from a data frame: the same as from a file, and one clear sentence for what is wrong."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from windows import DewgapError, HourlyTable, hours_from, read_weather

DEMO = Path(__file__).parents[3] / "demo_sites"
SITES = ("cool_north", "gulf_coast", "high_desert")
INDEX = pd.date_range("2026-05-01T05:00Z", periods=4, freq="h")
FRAME = pd.DataFrame(
    {"air_temp_c": 20.0, "dew_point_c": 9.0, "wind_m_s": 3.0, "rain_mm": 0.0}, index=INDEX
)


@pytest.mark.parametrize("site", SITES)
def test_hours_go_out_and_in_again_unchanged(site):
    read = read_weather(DEMO / site / "weather.csv")
    again = hours_from(read.frame, name="again", kind="forecast", issued=read.provenance.issued)
    assert isinstance(again, HourlyTable)
    pd.testing.assert_frame_equal(again.frame, read.frame, check_exact=True)
    assert (again.provenance.kind, again.provenance.issued) == ("forecast", read.provenance.issued)
    twice = hours_from(again.frame)
    pd.testing.assert_frame_equal(twice.frame, again.frame, check_exact=True)


def test_a_frame_as_it_is_read_from_a_file_gives_the_hours_of_the_file():
    path = DEMO / "cool_north" / "weather.csv"
    own = pd.read_csv(path, comment="#", index_col="time_utc", parse_dates=True)
    hours = hours_from(own)
    pd.testing.assert_frame_equal(hours.frame, read_weather(path).frame, check_index_type=False)


def test_hours_of_any_zone_are_those_of_utc():
    local = hours_from(FRAME.tz_convert("America/Chicago"))
    pd.testing.assert_frame_equal(local.frame, hours_from(FRAME).frame)
    assert str(local.index.tz) == "UTC"


def test_the_frame_that_is_given_stays_as_it_is():
    given = FRAME.iloc[::-1].assign(dew_point_c=20.2)
    before = given.copy()
    hours_from(given)
    pd.testing.assert_frame_equal(given, before)


def test_what_is_missing_is_not_known():
    frame = FRAME.drop(INDEX[1])
    frame.loc[INDEX[2], "rain_mm"] = np.nan
    hours = hours_from(frame)
    assert list(hours.index) == list(INDEX)
    assert hours.frame["rain_mm"].isna().tolist() == [False, True, True, False]
    assert "1 of 4 hours is not in the table" in hours.warnings[0]


def test_a_column_of_which_nothing_is_known_may_have_any_type():
    hours = hours_from(FRAME.assign(gust_m_s=pd.NaT, cloud=None))
    assert hours.frame[["gust_m_s", "cloud"]].isna().all(axis=None)


def test_types_of_numbers_that_pandas_has_are_taken():
    frame = FRAME.assign(
        air_temp_c=pd.array([20, None, 21, 22], dtype="Int64"),
        rain_trace=[True, False, False, False],
        cloud=[None] * 4,
        wind_m_s=np.float32(3),
    )
    taken = hours_from(frame).frame
    assert taken.dtypes.eq("float64").all()
    assert taken["air_temp_c"].isna().tolist() == [False, True, False, False]
    assert taken["rain_trace"].tolist() == [1, 0, 0, 0]
    assert taken["cloud"].isna().all()


BAD = {
    "no zone": (FRAME.tz_localize(None), 'have no zone; say whose clock they are, as in frame.tz_'),
    "no times": (FRAME.reset_index(drop=True), "the index holds no times; make the start of each"),
    "a row without a time": (
        FRAME.set_axis(pd.DatetimeIndex([*INDEX[:2], pd.NaT, INDEX[3]])),
        "row 2 has no time in the index",
    ),
    "yes or no": (FRAME.assign(wind_m_s=True), "column 'wind_m_s' holds bool, not numbers"),
    "complex numbers": (FRAME.assign(rain_mm=1j), "column 'rain_mm' holds complex128, not numbers"),
    "no rows": (FRAME.iloc[:0], "has a header and no rows"),
    "half hours": (FRAME.set_axis(INDEX[:3].append(INDEX[2:3] + pd.Timedelta("30min"))), "one row"),
    "another unit in the name": (
        FRAME.rename(columns={"air_temp_c": "air_temp_f"}),
        "column 'air_temp_f' is not known: convert it to the unit in the name and rename it, or "
        "drop it; did you mean 'air_temp_c'?",
    ),
    "another unit in the values": (FRAME.assign(air_temp_c=68.0), "looks like degF"),
    "percent": (FRAME.assign(rel_humidity=50), "looks like percent: divide by 100"),
    "a column too few": (FRAME.drop(columns="rain_mm"), "column 'rain_mm' (rain and melted snow"),
    "no moisture": (FRAME.drop(columns="dew_point_c"), "neither 'dew_point_c' nor 'rel_humidity'"),
    "a column twice": (FRAME[["air_temp_c", *FRAME]], "column 'air_temp_c' is there twice"),
    "text": (
        FRAME.assign(wind_m_s=["3", "calm", "3", "4"]),
        'convert it, as in pd.to_numeric(frame["wind_m_s"])',
    ),
    "times as values": (FRAME.assign(wind_m_s=INDEX), "column 'wind_m_s' holds datetime64"),
    "columns without a name": (FRAME.set_axis(range(4), axis=1), "column '0' is not known"),
    "two rows of one hour": (
        FRAME.assign(rain_mm=[0, 0, 1, 2]).set_axis(INDEX[[0, 1, 2, 2]]),
        "two rows for 2026-05-01 07:00 UTC differ",
    ),
    "not finite": (FRAME.assign(wind_m_s=np.inf), "wind_m_s of inf m/s"),
}


@pytest.mark.parametrize(("frame", "part"), BAD.values(), ids=BAD)
def test_a_bad_frame_is_refused_with_one_sentence(frame, part):
    with pytest.raises(DewgapError) as caught:
        hours_from(frame, name="my readings")
    text = str(caught.value)
    assert text.startswith("my readings: ")
    assert part in text
    assert "\n" not in text


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ({"kind": "measured"}, "kind 'measured' is not known; give one of forecast, observed"),
        ({"issued": pd.Timestamp("2026-05-01")}, "issued 2026-05-01 00:00:00 has no time zone"),
        ({"issued": "2026-05-01T06:00Z"}, "issued '2026-05-01T06:00Z' is no time"),
    ],
)
def test_what_is_told_of_the_hours_is_checked_too(words, part):
    with pytest.raises(DewgapError, match=part):
        hours_from(FRAME, **words)


@pytest.mark.parametrize("given", ["weather.csv", FRAME["rain_mm"], None])
def test_what_is_no_data_frame_is_refused(given):
    with pytest.raises(DewgapError, match=r"is no DataFrame; give one, or .* read_weather"):
        hours_from(given)
