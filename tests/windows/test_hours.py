"""The checks of the hourly table, on arrays: what is refused, what is mended and told."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from windows.errors import HoursError
from windows.hours import COLUMNS, check_hours
from windows.provenance import Provenance

ISSUED = pd.Timestamp("2026-05-01T06:00Z")


def table(times, warnings=(), **columns):
    n = len(times)
    whole = {
        "air_temp_c": np.full(n, 20.0),
        "dew_point_c": np.full(n, 10.0),
        "wind_m_s": np.full(n, 3.0),
        "rain_mm": np.zeros(n),
    } | {name: np.asarray(values, dtype=float) for name, values in columns.items()}
    return check_hours(
        {name: values for name, values in whole.items() if values.ndim},
        pd.DatetimeIndex(times),
        Provenance("somebody", "here.csv", ISSUED),
        warnings=warnings,
    )


def hours(n, start="2026-05-01T00:00Z"):
    return pd.date_range(start, periods=n, freq="h")


def fault(times, **columns):
    with pytest.raises(HoursError) as caught:
        table(times, **columns)
    text = str(caught.value)
    assert text.startswith("here.csv: ")
    assert "\n" not in text
    return text


def test_index_is_utc_and_hourly_whatever_the_zone_of_the_rows():
    local = pd.date_range("2026-03-08T00:00", periods=23, freq="h", tz="America/New_York")
    found = table(local)
    assert str(found.index.tz) == "UTC"
    assert found.index[0] == pd.Timestamp("2026-03-08T05:00Z")
    assert len(found.index) == 23
    assert found.warnings == ()


def test_hours_of_both_clock_changes_are_neither_lost_nor_doubled():
    for day, count in (("2026-03-08", 23), ("2026-11-01", 25)):
        start = pd.Timestamp(day, tz="America/New_York")
        local = pd.date_range(start, start + pd.Timedelta(hours=count - 1), freq="h")
        found = table(local, rain_mm=np.arange(count) / 10)
        assert found.column("rain_mm").tolist() == (np.arange(count) / 10).tolist()
        assert found.warnings == ()


@pytest.mark.parametrize(
    ("column", "value", "parts"),
    [
        ("air_temp_c", 72, ["looks like degF", "72 degF is 22.2 degC"]),
        ("dew_point_c", 55, ["looks like degF"]),
        ("rel_humidity", 55, ["looks like percent", "55 % is 0.55"]),
        ("rel_humidity", 1.1, ["from 0.01 to 1.04", "mend it"]),
        ("rain_prob", 100, ["looks like percent"]),
        ("cloud", 8, ["tenths or eighths"]),
        ("cloud", 80, ["looks like percent"]),
        ("pressure_hpa", 29.92, ["looks like inHg"]),
        ("wind_m_s", -1, ["from 0 to 64 m/s", "leave the cell empty"]),
        ("rain_mm", -999, ["from 0 to 305 mm", "leave the cell empty"]),
        ("air_temp_c", float("inf"), ["leave the cell empty"]),
        ("wind_m_s", float("inf"), ["leave the cell empty"]),
        ("rain_trace", 2, ["from 0 to 1"]),
    ],
)
def test_impossible_value_names_column_hour_and_mend(column, value, parts):
    text = fault(hours(3), **{column: [np.nan, value, np.nan]})
    assert f"{column} of {value:g}" in text
    assert "2026-05-01 01:00 UTC" in text
    assert "such rows" not in text
    for part in parts:
        assert part in text


def test_count_of_impossible_values_is_told_where_there_are_more():
    assert "(2 such rows)" in fault(hours(3), wind_m_s=[3, 99, 99])


def test_limits_of_the_ranges_are_possible():
    for name, column in COLUMNS.items():
        if name == "dew_point_c":
            continue  # it also has to fit the air
        found = table(
            hours(2), **{"dew_point_c": [np.nan, np.nan], name: [column.low, column.high]}
        )
        assert np.isfinite(found.column(name)).all(), name


def test_dew_point_above_the_air_is_refused_and_rounding_is_not():
    assert "dew_point_c is above air_temp_c" in fault(hours(2), dew_point_c=[10, 20.6])
    assert table(hours(2), dew_point_c=[10, 20.5]).column("dew_point_c").tolist() == [10, 20]


def test_humidity_a_little_above_one_is_taken_as_one_and_told():
    found = table(hours(2), rel_humidity=[1.03, 0.5])
    assert found.column("rel_humidity").tolist() == [1.0, 0.5]
    assert found.warnings == ("rel_humidity is a little above 1 in 1 of 2 hours; it is taken as 1",)


@pytest.mark.parametrize("name", ["air_temp_c", "wind_m_s", "rain_mm"])
def test_required_column(name):
    text = fault(hours(2), **{name: np.float64(0)})
    assert f"column '{name}'" in text
    assert text.endswith("is missing; add it")


def test_moisture_is_required_in_one_form_or_the_other():
    text = fault(hours(2), dew_point_c=np.float64(0))
    assert "neither 'dew_point_c' nor 'rel_humidity' is there; add one of them" in text
    found = table(hours(2), dew_point_c=np.float64(0), rel_humidity=[0.5, 0.6])
    assert found.column("dew_point_c") is None


def test_rows_out_of_order_are_sorted_and_told():
    found = table(hours(3)[[2, 0, 1]], rain_mm=[2, 0, 1])
    assert found.column("rain_mm").tolist() == [0, 1, 2]
    assert found.warnings == ("rows were not in order of time; they are sorted",)


def test_copies_are_dropped_and_told():
    assert table(hours(3)[[0, 1, 1, 2]]).warnings == ("1 row is a copy of another; it is dropped",)
    found = table(hours(3)[[0, 1, 1, 1, 2]], wind_m_s=[3, np.nan, np.nan, np.nan, 3])
    assert len(found.frame) == 3
    assert "2 rows are copies of others; they are dropped" in found.warnings


def test_rows_of_one_hour_that_differ_are_refused():
    text = fault(hours(3)[[0, 1, 1, 2]], rain_mm=[0, 0, 1, 0])
    assert "two rows for 2026-05-01 01:00 UTC differ; keep the right one" in text
    text = fault(hours(3)[[0, 1, 1, 2]], rain_mm=[0, 0, np.nan, 0])
    assert "differ" in text, "unknown is not the same as dry"
    text = fault(hours(3)[[0, 0, 1, 1, 1]], rain_mm=[0, 1, 0, 1, 2])
    assert "(2 such hours)" in text


def test_hours_that_are_not_there_are_unknown_and_told():
    found = table(hours(5)[[0, 1, 4]])
    assert np.isnan(found.column("rain_mm")).tolist() == [False, False, True, True, False]
    assert found.warnings[0] == (
        "2 of 5 hours are not in the table, the first 2026-05-01 02:00 UTC; what is not there is "
        "unknown"
    )
    assert "1 of 3 hours is not in the table" in table(hours(3)[[0, 2]]).warnings[0]


def test_unknown_cells_are_counted():
    found = table(hours(4), rain_mm=[0, np.nan, np.nan, 0], wind_m_s=[3, np.nan, 3, np.nan])
    assert found.warnings == ("wind_m_s, rain_mm unknown in 2 of 4 hours",)


def test_half_hour_starts_are_taken_where_all_have_them():
    found = table(hours(3, "2026-05-01T00:30+05:30"))
    assert found.index[0] == pd.Timestamp("2026-04-30T19:00Z")
    found = table(hours(3, "2026-05-01T00:00+05:30"))
    assert found.index[0] == pd.Timestamp("2026-04-30T18:30Z")
    mixed = pd.DatetimeIndex(["2026-05-01T00:30Z", "2026-05-01T01:30Z", "2026-05-01T02:00Z"])
    text = fault(mixed)
    assert "2026-05-01 02:00:00 UTC is not a whole number of hours after the first row" in text


def test_rows_between_two_minutes_are_refused():
    assert "begin on a whole minute" in fault(hours(2, "2026-05-01T00:00:30Z"))


def test_a_year_that_no_weather_has_is_refused():
    for start, year, such in (
        ("9999-12-30", "9999", " (3 such rows)"),
        ("0001-01-01", "0001", " (3 such rows)"),
        ("1899-12-31T22:00", "1899", " (2 such rows)"),
        ("2200-12-31T22:00", "2201", ""),
    ):
        told = fault(pd.date_range(start, periods=3, freq="h", unit="s", tz="UTC"))
        assert told == (
            f"here.csv: a row is of the year {year}{such}, but weather is of 1900 to 2200; mend "
            "the year of the rows"
        )
    for start in ("1900-01-01T00:00Z", "2200-12-31T21:00Z"):
        assert len(table(hours(3, start)).index) == 3


def test_mistyped_year_does_not_make_a_table_of_centuries():
    times = pd.DatetimeIndex(["2026-05-01T00:00Z", "2026-05-01T01:00Z", "2126-05-01T02:00Z"])
    assert "no rows between 2026-05-01 and 2126-05-01" in fault(times)
    nine_years = pd.DatetimeIndex(["2017-05-01T00:00Z", "2026-05-01T00:00Z"])
    assert len(table(nine_years).frame) == 78_889


def test_no_rows():
    text = fault(pd.DatetimeIndex([], tz="UTC"))
    assert text == "here.csv: the table has a header and no rows; add hourly rows"


def test_assumed_column_is_told_and_never_replaces_what_is_there():
    found = table(hours(2), cloud=np.float64(0)).assume("cloud", 0.25)
    assert found.column("cloud").tolist() == [0.25, 0.25]
    assert found.warnings == ("cloud is assumed to be 0.25 in every hour",)
    with pytest.raises(HoursError, match="drop the assumption"):
        found.assume("cloud", 0.5)
    for value in (1.1, -0.1, float("nan")):
        with pytest.raises(HoursError, match="give 0 to 1"):
            table(hours(2)).assume("cloud", value)


def test_span_takes_the_start_and_leaves_the_end():
    found = table(hours(24))
    at = found.index
    assert found.span(at[3], at[5]) == slice(3, 5)
    assert found.span(None, None) == slice(0, 24)
    assert found.span(at[0] - pd.Timedelta(days=9), None) == slice(0, 24)
    with pytest.raises(HoursError, match=r"from 2026-05-01 00:00 to 2026-05-01 23:00 UTC"):
        found.span(at[-1] + pd.Timedelta(hours=1), None)


@pytest.mark.parametrize(
    ("later", "told"),
    [(5, "5 h ago"), (80, "3 days ago"), (-1, "still to come: check that time")],
)
def test_age_of_the_forecast_is_told(later, told):
    source = Provenance("somebody", "here.csv", ISSUED)
    assert told in source.describe(ISSUED + pd.Timedelta(hours=later))
    assert "2026-05-01 06:00 UTC" in source.describe()


def test_unknown_age_is_told():
    assert "its age is unknown" in Provenance("somebody", "here.csv").describe(ISSUED)


@settings(deadline=None)
@given(
    rain=st.lists(st.one_of(st.none(), st.floats(0, 300)), min_size=1, max_size=30),
    shuffle=st.randoms(use_true_random=False),
)
def test_every_row_keeps_its_hour_in_any_order(rain, shuffle):
    values = np.array([np.nan if depth is None else depth for depth in rain])
    times = hours(len(values))
    order = list(range(len(values)))
    shuffle.shuffle(order)
    found = table(times[order], rain_mm=values[order])
    assert found.index.equals(times)
    np.testing.assert_array_equal(found.column("rain_mm"), values)
