"""Rain of many years: persistence, dry spans around a date, and what is not known."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import plain_odds as plain
import pytest

from windows.hours import check_hours
from windows.odds.climate import LEAST_YEARS, MEASURABLE_MM, climate_of
from windows.provenance import Provenance

YEARS = 11
FIRST = 2001
RAIN_PROB, PERSISTENCE = 0.06, 0.6


def table(rain, first=f"{FIRST}-01-01T00:00Z", kind="observed", **columns):
    rain = np.asarray(rain, dtype=float)
    mild = {"air_temp_c": 20.0, "dew_point_c": 8.0, "wind_m_s": 2.0}
    given = {name: np.full(rain.size, value) for name, value in mild.items()}
    return check_hours(
        given | {"rain_mm": rain} | columns,
        pd.date_range(first, periods=rain.size, freq="h"),
        Provenance("invented", "years.csv", kind=kind),
    )


def hours_in(years):
    return len(pd.date_range(f"{FIRST}-01-01", f"{FIRST + years}-01-01", freq="h")) - 1


def rain_of_a_chain(hours, seed=7):
    """Rain of a two-state chain of which both chances are known. [mm]"""
    dice = np.random.default_rng(seed).random(hours)
    after_dry = RAIN_PROB * (1 - PERSISTENCE) / (1 - RAIN_PROB)
    wet = np.zeros(hours, dtype=bool)
    for k in range(1, hours):
        wet[k] = dice[k] < (PERSISTENCE if wet[k - 1] else after_dry)
    return np.where(wet, 1.0, 0.0)


@pytest.fixture(scope="module")
def rain():
    """Eleven years, with hours missing here and there and one summer missing whole."""
    rain = rain_of_a_chain(hours_in(YEARS))
    rain[np.random.default_rng(8).integers(0, rain.size, 400)] = np.nan
    at = pd.date_range(f"{FIRST}-01-01", periods=rain.size, freq="h")
    rain[(at >= "2004-07-10") & (at < "2004-08-01")] = np.nan
    return rain


@pytest.fixture(scope="module")
def climate(rain):
    found, why = climate_of(table(rain))
    assert why == ""
    return found


@pytest.fixture(scope="module")
def wet(rain):
    return [None if np.isnan(mm) else mm >= 0.254 for mm in rain.tolist()]


# --- persistence ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("before_h", "length_h"), [(1, 1), (6, 6), (1, 6), (3, 2)])
def test_persistence_is_counted_pair_by_pair(climate, wet, before_h, length_h, outside):
    months = pd.date_range(f"{FIRST}-01-01", periods=len(wet), freq="h").month.tolist()
    found = climate.period_persistence(before_h, length_h)
    for month in (1, 7):
        share, pairs = plain.persistence_of(wet, months, month, before_h, length_h)
        outside.equal(
            "persistence of a month", found[month - 1], share,
            source="a count pair by pair, tests/plain_odds.py",
        )  # fmt: skip
        if (before_h, length_h) == (1, 1):
            assert (climate.persistence[month - 1], climate.pairs[month - 1]) == (share, pairs)


def test_the_persistence_and_share_of_a_known_chain_are_found(climate):
    """Within four standard errors of a share, and of a share of hours that persist."""
    error = np.sqrt(PERSISTENCE * (1 - PERSISTENCE) / climate.pairs)
    assert (np.abs(climate.persistence - PERSISTENCE) < 4 * error).all()
    hours = 30 * 24 * YEARS
    longer = (1 + PERSISTENCE) / (1 - PERSISTENCE)  # hours that persist count for fewer
    error = np.sqrt(RAIN_PROB * (1 - RAIN_PROB) / hours * longer)
    assert (np.abs(climate.wet_share - RAIN_PROB) < 4 * error).all()
    assert climate.years == YEARS


def test_a_month_with_hardly_any_rain_has_no_persistence():
    rain = np.zeros(hours_in(10))
    rain[24 * 15 : 24 * 15 + 20] = 1.0  # one January
    found = climate_of(table(rain))[0]
    assert found.pairs.tolist() == [20] + [0] * 11
    assert np.isnan(found.persistence).all()


# --- dry spans ------------------------------------------------------------------------------------


@pytest.mark.parametrize("when", ["2026-07-15T13:00", "2024-02-29T22:00", "2026-01-05T00:00"])
@pytest.mark.parametrize("length_h", [1, 9, 30])
def test_dry_spans_are_counted_day_by_day(climate, wet, when, length_h, outside):
    begin = datetime(FIRST, 1, 1, tzinfo=UTC)
    asked = datetime.fromisoformat(when).replace(tzinfo=UTC)
    days = []
    for year in range(FIRST - 1, FIRST + YEARS + 1):
        leap = (asked.month, asked.day) == (2, 29) and year % 4 != 0
        day = datetime(year, 3, 1, tzinfo=UTC) if leap else asked.replace(year=year, hour=0)
        days += [day + timedelta(days=k) for k in range(-15, 16)]

    def wet_of(day, hour):
        row = (day - begin) // timedelta(hours=1) + hour
        return wet[row] if 0 <= row < len(wet) else None

    dry, known = plain.dry_days(wet_of, days, asked.hour, length_h)
    chance, count = climate.dry_chance(pd.DatetimeIndex([asked]), np.array([length_h]))
    assert count.tolist() == [known]
    outside.equal(
        "dry spans around a date", chance.tolist(), [dry / known],
        source="a count day by day, tests/plain_odds.py",
    )  # fmt: skip


def test_dry_spans_are_those_of_the_chain(climate):
    """Within four standard errors of as many days as there are, which hardly hang together."""
    chance, days = climate.dry_chance(pd.DatetimeIndex(["2026-04-15T13:00Z"]), np.array([6]))
    expected = plain.chain([RAIN_PROB] * 6, PERSISTENCE)
    error = np.sqrt(expected * (1 - expected) / days[0])
    assert abs(chance[0] - expected) < 4 * error
    assert days[0] > 0.9 * 31 * YEARS


def test_many_spans_at_once_are_each_by_itself(climate):
    starts = pd.date_range("2026-05-01T00:00Z", periods=40, freq="7h").repeat(30)
    hours = np.tile(np.arange(1, 31), 40)
    chance, days = climate.dry_chance(starts, hours)
    for k in (0, 17, 1199):
        alone = climate.dry_chance(starts[[k]], hours[[k]])
        assert (chance[k], days[k]) == (alone[0][0], alone[1][0])
    assert climate.dry_chance(starts[:0], hours[:0])[0].tolist() == []


def test_longer_spans_are_never_likelier_dry_where_all_is_known():
    found = climate_of(table(rain_of_a_chain(hours_in(10))))[0]
    hours = np.arange(1, 60)
    chance, _ = found.dry_chance(pd.DatetimeIndex(["2026-06-15T13:00Z"]).repeat(59), hours)
    assert (np.diff(chance) <= 0).all()


def test_too_few_years_with_the_same_hours_tell_nothing():
    rain = rain_of_a_chain(hours_in(10))
    at = pd.date_range(f"{FIRST}-01-01", periods=rain.size, freq="h")
    rain[(at >= "2003-06-01") & (at < "2003-07-01")] = np.nan
    found = climate_of(table(rain))[0]
    starts = pd.DatetimeIndex(["2026-06-15T12:00Z", "2026-09-15T12:00Z"])
    chance, days = found.dry_chance(starts, np.array([5, 5]))
    assert np.isnan(chance).tolist() == [True, False]
    assert days.tolist() == [31 * 9 + 1, 31 * 10]  # 31 May stays


def test_years_that_begin_between_two_hours():
    rain = rain_of_a_chain(hours_in(10))
    whole, half = (climate_of(table(rain, f"{FIRST}-01-01T00:{m}Z"))[0] for m in ("00", "30"))
    one = np.array([7])
    assert whole.dry_chance(pd.DatetimeIndex(["2026-06-15T12:00Z"]), one) == half.dry_chance(
        pd.DatetimeIndex(["2026-06-15T12:30Z"]), one
    )


# --- what is not known ----------------------------------------------------------------------------


def test_an_unknown_hour_is_not_dry_but_out_of_the_count():
    rain = rain_of_a_chain(hours_in(11))
    asked = pd.DatetimeIndex(["2026-06-15T12:00Z"]), np.array([6])
    chance, days = climate_of(table(rain))[0].dry_chance(*asked)
    at = pd.date_range(f"{FIRST}-01-01", periods=rain.size, freq="h")
    dry_day = next(
        day for day in range(1, 30)
        if rain[(at >= f"2005-06-{day:02d}T12:00") & (at < f"2005-06-{day:02d}T18:00")].sum() == 0
    )  # fmt: skip
    rain[at == f"2005-06-{dry_day:02d}T15:00"] = np.nan
    fewer, less = climate_of(table(rain))[0].dry_chance(*asked)
    assert less[0] == days[0] - 1
    assert fewer[0] == (chance[0] * days[0] - 1) / (days[0] - 1)
    assert fewer[0] < chance[0]


def test_hours_that_a_gauge_lost_in_a_storm_leave_its_day_wet():
    rain = np.zeros(hours_in(11))
    at = pd.date_range(f"{FIRST}-01-01", periods=rain.size, freq="h")
    rain[(at.day % 2 == 0) & (at.hour == 13)] = 5.0
    asked = pd.DatetimeIndex(["2026-06-15T12:00Z"]), np.array([6])
    whole = [each.tolist() for each in climate_of(table(rain))[0].dry_chance(*asked)]
    rain[(at.day % 6 == 0) & (at.hour == 14)] = np.nan
    assert [each.tolist() for each in climate_of(table(rain))[0].dry_chance(*asked)] == whole


def test_hours_of_longer_sums_are_not_known_whether_wet_or_dry():
    rain = rain_of_a_chain(hours_in(11))
    block = np.ones(rain.size)
    at = pd.date_range(f"{FIRST}-01-01", periods=rain.size, freq="h")
    summed = (at >= "2005-06-10") & (at < "2005-06-11")
    block[summed] = 6.0
    holed = np.where(summed, np.nan, rain)
    by_block, by_hole = climate_of(table(rain, rain_block_h=block))[0], climate_of(table(holed))[0]
    assert (by_block.unknown_before == by_hole.unknown_before).all()
    assert (by_block.wet_before == by_hole.wet_before).all()


def test_a_hundredth_of_an_inch_is_wet_and_a_trace_is_not():
    rain = np.zeros(hours_in(10))
    rain[100], rain[200], rain[300], rain[400] = 0.01 * 25.4, 0.25, 0.248, 0.2
    rain[500] = np.nextafter(MEASURABLE_MM, 0)
    found = climate_of(table(rain))[0]
    assert np.flatnonzero(np.diff(found.wet_before)).tolist() == [100, 200, 500]  # as rounded


def test_why_there_is_no_climate():
    short = table(rain_of_a_chain(hours_in(LEAST_YEARS - 1)))
    found, why = climate_of(short)
    assert found is None
    assert why == (
        "years.csv: holds 9 years of which rain is known in 90 % of the hours; odds from the "
        "climate need at least 10: give more years"
    )
    rain = rain_of_a_chain(hours_in(10))
    rain[: 24 * 60] = np.nan  # two months of the first
    assert climate_of(table(rain))[0] is None
    whole = table(rain_of_a_chain(hours_in(10)))
    for kind, told in (("forecast", "a forecast"), ("typical", "a typical year")):
        odd = replace(whole, provenance=replace(whole.provenance, kind=kind))
        assert climate_of(odd) == (
            None, f"years.csv: is {told}, no record of rain: odds need years that were"
        )  # fmt: skip
