"""Quality control: each flag at its limit and on both sides of it, and that nothing is mended."""

import numpy as np
import pandas as pd
import pytest

from cure_models import psychrometrics
from windows.errors import HoursError
from windows.flags import Flag
from windows.hours import check_hours
from windows.provenance import KINDS, Provenance
from windows.quality import columns_of, findings_of, screen

NAN = np.nan
INSTRUMENTS = ("observed", "not told")


def wave(n, mean, by):
    """Return values that move more than any test of persistence asks for."""
    return mean + by * np.sin(np.arange(n) * 0.7)


def table(n=48, kind="observed", **columns):
    plain = {
        "air_temp_c": wave(n, 15, 2),
        "dew_point_c": wave(n, 8, 2),
        "wind_m_s": wave(n, 4, 1),
        "rain_mm": np.zeros(n),
    } | columns
    return check_hours(
        {name: np.asarray(values, float) for name, values in plain.items() if values is not None},
        pd.date_range("2025-06-10", periods=n, freq="h", tz="UTC"),
        Provenance("somebody", "here", kind=kind),
        recorded=True,
    )


def flagged_rows(found, name, flag):
    return np.flatnonzero(found.flags.get(name, np.zeros(len(found.index), dtype=int)) & flag)


def test_plain_hours_have_no_flag():
    assert screen(table()).flags == {}


# --- step ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["air_temp_c", "dew_point_c"])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("step", "told"), [(4.75, False), (5.0, False), (5.25, True)])
def test_step(name, sign, step, told):
    level = {"air_temp_c": 20.0, "dew_point_c": 0.0}
    values = np.full(48, level[name])
    values[10:] += sign * step
    others = {other: np.full(48, each) for other, each in level.items() if other != name}
    found = screen(table(**others | {name: values}))
    assert flagged_rows(found, name, Flag.STEP).tolist() == ([10] if told else [])


def test_no_step_is_told_over_a_gap_or_in_the_first_hour():
    air = np.full(48, 20.0)
    air[10], air[11:] = NAN, 30.0
    assert flagged_rows(screen(table(air_temp_c=air)), "air_temp_c", Flag.STEP).size == 0


# --- persistence -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "hours", "least"),
    [("air_temp_c", 12, 0.5), ("wind_m_s", 3, 0.125), ("wind_m_s", 12, 0.5)],
)
@pytest.mark.parametrize(("more_hours", "by", "told"), [
    (0, -0.03125, True), (0, 0.0, False), (0, 0.03125, False), (-1, -0.03125, False),
    (4, -0.03125, True),
])  # fmt: skip
def test_persistence(name, hours, least, more_hours, by, told):
    if least == 0.125:
        least, by = (0.1, by) if by else (0.1, 0.001)  # 0.1 has no exact float
    n = hours + more_hours
    values = np.where(np.arange(48) % 2, 12.0, 4.0)
    spread = least + by
    values[20 : 20 + n] = 8.0 + np.where(np.arange(n) % 2, spread, 0.0)
    found = screen(table(**{name: values}, dew_point_c=np.full(48, 2.0)))
    expected = list(range(20, 20 + n)) if told else []
    assert flagged_rows(found, name, Flag.PERSISTENCE).tolist() == expected


def test_persistence_needs_all_hours_of_its_span():
    air = np.full(48, 15.0)
    air[::11] = NAN
    assert flagged_rows(screen(table(air_temp_c=air)), "air_temp_c", Flag.PERSISTENCE).size == 0


@pytest.mark.parametrize(
    ("days", "hours", "told"), [(60, 0, True), (60, -1, False), (60, 1, True), (61, 0, True)]
)
def test_dry_for_sixty_days(days, hours, told):
    n = 24 * days + hours
    rain = np.r_[1.0, np.zeros(n), 1.0]
    found = screen(table(n + 2, rain_mm=rain))
    rows = flagged_rows(found, "rain_mm", Flag.PERSISTENCE)
    assert rows.tolist() == (list(range(1, n + 1)) if told else [])
    rain[n // 2] = NAN  # what is not known may have been rain
    assert flagged_rows(screen(table(n + 2, rain_mm=rain)), "rain_mm", Flag.PERSISTENCE).size == 0


@pytest.mark.parametrize("kind", KINDS)
def test_step_and_persistence_are_tests_of_instruments(kind):
    n = 61 * 24
    air = np.full(n, 20.0)
    air[30] = 28
    found = screen(table(n, kind, air_temp_c=air, wind_m_s=np.full(n, 3.0)))
    put = kind in INSTRUMENTS
    assert flagged_rows(found, "air_temp_c", Flag.STEP).tolist() == ([30, 31] if put else [])
    for name in ("air_temp_c", "wind_m_s", "rain_mm"):
        assert (flagged_rows(found, name, Flag.PERSISTENCE).size > 0) == put, name


# --- consistency -----------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("rain", "humidity", "told"),
    [(0.2, 0.29, True), (0.2, 0.30, False), (0.2, 0.31, False), (0, 0.1, False), (NAN, 0.1, False),
     (0.2, NAN, False)],
)  # fmt: skip
def test_rain_in_dry_air(kind, rain, humidity, told):
    rains, humid = np.zeros(48), np.full(48, 0.6)
    rains[5], humid[5] = rain, humidity
    found = screen(table(kind=kind, rain_mm=rains, rel_humidity=humid, dew_point_c=None))
    assert flagged_rows(found, "rain_mm", Flag.CONSISTENCY).tolist() == ([5] if told else [])


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("apart", "told"), [(0.99, False), (1.01, True), (NAN, False)])
def test_dew_point_apart_from_humidity(sign, apart, told):
    air, humid = wave(48, 15, 2), np.full(48, 0.6)
    dew = psychrometrics.dew_point(air, humid)
    dew[7] += sign * apart
    found = screen(table(air_temp_c=air, rel_humidity=humid, dew_point_c=dew))
    for name in ("rel_humidity", "dew_point_c"):
        assert flagged_rows(found, name, Flag.CONSISTENCY).tolist() == ([7] if told else []), name


def test_no_humidity_at_all_is_no_error():
    humid = np.full(48, 0.6)
    humid[3] = 0.01
    found = screen(table(rel_humidity=humid, dew_point_c=None))
    assert found.flags == {}
    dew = np.full(48, 8.0)
    assert 3 in flagged_rows(
        screen(table(rel_humidity=humid, dew_point_c=dew)), "dew_point_c", Flag.CONSISTENCY
    )


@pytest.mark.parametrize(("below", "told"), [(0, False), (0.04, False), (0.06, True)])
def test_gust_below_the_mean_wind(below, told):
    wind = wave(48, 4, 1)
    gust = wind + 2
    gust[9] = wind[9] - below
    found = screen(table(wind_m_s=wind, gust_m_s=gust))
    assert flagged_rows(found, "gust_m_s", Flag.CONSISTENCY).tolist() == ([9] if told else [])


# --- what screening leaves alone -------------------------------------------------------------


def spoilt():
    rng = np.random.default_rng(3)
    n = 24 * 61
    air = wave(n, 15, 2)
    air[100:130], air[200] = 15, 30
    air[rng.uniform(size=n) < 0.01] = NAN
    rain = np.where(rng.uniform(size=n) < 0.02, 1.0, 0.0)
    humid = rng.uniform(0.1, 0.9, n)
    return table(n, air_temp_c=air, rain_mm=rain, rel_humidity=humid, gust_m_s=wave(n, 4, 1) - 0.1)


def test_screening_changes_no_value_and_keeps_what_was_flagged():
    before = spoilt()
    frame, flags = before.frame.copy(), {n: f.copy() for n, f in before.flags.items()}
    found = screen(before)
    pd.testing.assert_frame_equal(found.frame, frame)
    pd.testing.assert_frame_equal(before.frame, frame)
    assert {n: f.tolist() for n, f in before.flags.items()} == {
        n: f.tolist() for n, f in flags.items()
    }
    assert (found.warnings, found.provenance) == (before.warnings, before.provenance)
    for name, each in flags.items():
        assert (found.flags[name] & each == each).all()
    assert {n: f.tolist() for n, f in screen(found).flags.items()} == {
        n: f.tolist() for n, f in found.flags.items()
    }


def test_findings_tell_column_flag_hours_and_the_first():
    air = wave(48, 15, 2)
    air[[4, 20]] = 70, 30
    found = screen(table(air_temp_c=air))
    told = [(f.column, f.flag, f.hours, f.first.hour, f.doubtful) for f in findings_of(found)]
    assert told == [
        ("air_temp_c", Flag.RANGE, 1, 4, False),
        ("air_temp_c", Flag.STEP, 2, 20, True),
    ]
    assert findings_of(table()) == []


@pytest.mark.parametrize("flag", Flag)
def test_each_flag_has_a_meaning_and_doubtful_ones_come_last(flag):
    hours = table()
    mark = np.zeros(48, dtype=np.int64)
    mark[3] = flag | Flag.STEP
    found = findings_of(check_hours(
        {str(n): hours.column(n) for n in hours.frame}, hours.index, hours.provenance,
        flags={"wind_m_s": mark, "rain_mm": mark},
    ))  # fmt: skip
    assert all(each.meaning for each in found)
    doubtful = [each.doubtful for each in found]
    assert doubtful == sorted(doubtful)
    assert {each.flag for each in found} == {flag, Flag.STEP}
    stands = flag in {Flag.STEP, Flag.PERSISTENCE, Flag.CONSISTENCY}
    assert [each.doubtful for each in found if each.flag == flag] == [stands] * 2


@pytest.mark.parametrize(
    ("missing", "longest"),
    [([], 0), ([0], 1), ([46, 47], 2), ([1, 2, 3, 9, 10], 3), (range(48), 48)],
)
def test_columns_tell_what_is_known_and_the_longest_gap(missing, longest):
    wind = np.arange(48) / 10
    wind[list(missing)] = NAN
    told = {each.name: each for each in columns_of(table(wind_m_s=wind))}["wind_m_s"]
    assert told.longest_gap_h == longest
    assert told.known == pytest.approx(1 - len(missing) / 48)
    known = wind[~np.isnan(wind)]
    expected = (known.min(), known.max()) if known.size else (NAN, NAN)
    np.testing.assert_equal((told.least, told.most), expected)


# --- recorded tables: single faults become unknown -------------------------------------------


@pytest.mark.parametrize(
    ("name", "value", "sound"),
    [
        ("air_temp_c", 57, True), ("air_temp_c", 57.1, False), ("air_temp_c", -90.1, False),
        ("wind_m_s", 0, True), ("wind_m_s", -0.1, False), ("wind_m_s", 64.1, False),
        ("rain_mm", 305, True), ("rain_mm", 305.1, False), ("rain_mm", -0.1, False),
        ("rain_mm", np.inf, False), ("dew_point_c", -100.1, False),
    ],
)  # fmt: skip
def test_single_impossible_value_is_unknown_and_flagged(name, value, sound):
    plain = table().frame
    values = plain[name].to_numpy(copy=True)
    values[6] = value
    found = table(**{name: values})
    assert np.isnan(found.column(name)[6]) != sound
    assert flagged_rows(found, name, Flag.RANGE).tolist() == ([] if sound else [6])
    assert any("is not possible: unknown there" in told for told in found.warnings) != sound
    others = found.frame.drop(index=found.index[6]).drop(columns=name)
    pd.testing.assert_frame_equal(
        others, plain.drop(index=plain.index[6]).drop(columns=name), check_freq=False
    )


@pytest.mark.parametrize(("n", "wrong", "sound"), [
    (48, 3, True), (48, 4, False), (200, 10, True), (200, 11, False)
])  # fmt: skip
def test_many_impossible_values_show_a_wrong_unit(n, wrong, sound):
    air = wave(n, 15, 2)
    air[:wrong] = 68
    if sound:
        assert np.isnan(table(n, air_temp_c=air).column("air_temp_c")).sum() == wrong
    else:
        with pytest.raises(HoursError, match=rf"{wrong} such rows.*looks like degF.*20.0 degC"):
            table(n, air_temp_c=air)


def test_few_is_counted_among_known_values():
    """Four impossible values among five known ones are no single readings."""
    air = np.full(200, NAN)
    air[:5] = 68, 68, 68, 68, 20
    with pytest.raises(HoursError, match="looks like degF"):
        table(200, air_temp_c=air)


@pytest.mark.parametrize(
    ("name", "value", "guess"),
    [
        ("rel_humidity", 55, "looks like percent"),
        ("cloud", 7, "tenths or eighths"),
        ("pressure_hpa", 29.9, "looks like inHg"),
        ("dew_point_c", 59, "looks like degF"),
        ("wind_m_s", -9999, "leave the cell empty"),
    ],
)
def test_guess_of_a_unit(name, value, guess):
    with pytest.raises(HoursError, match=guess):
        table(**{name: np.full(48, value)})


def twice(first, second):
    """Return a recorded table whose second hour has two rows."""
    plain = {"air_temp_c": 15.0, "dew_point_c": 8.0, "wind_m_s": 4.0, "rain_mm": 0.0,
             "rain_trace": 0.0, "rain_prob": 0.2}  # fmt: skip
    rows = pd.DataFrame([plain, plain | first, plain | second, plain])
    times = pd.DatetimeIndex([f"2025-06-10T0{h}:00Z" for h in (0, 1, 1, 2)])
    return check_hours(
        {str(name): rows[name].to_numpy(float) for name in rows}, times,
        Provenance("somebody", "here", kind="observed"), recorded=True,
    )  # fmt: skip


@pytest.mark.parametrize("turn", [False, True])
@pytest.mark.parametrize(
    ("name", "values", "stands"),
    [
        ("rain_mm", (0, 2), 2), ("rain_mm", (0, NAN), NAN), ("rain_mm", (2, NAN), NAN),
        ("rain_trace", (0, 1), 1), ("rain_prob", (0.1, 0.6), 0.6), ("rain_prob", (0.1, NAN), NAN),
        ("air_temp_c", (14, 16), NAN), ("air_temp_c", (14, NAN), NAN), ("wind_m_s", (3, 4), NAN),
        ("dew_point_c", (7, NAN), NAN),
    ],
)  # fmt: skip
def test_rows_of_one_hour_that_differ(name, values, stands, turn):
    first, second = values[::-1] if turn else values
    found = twice({name: first}, {name: second})
    np.testing.assert_equal(found.column(name)[1], stands)
    assert flagged_rows(found, name, Flag.DUPLICATE).tolist() == [1]
    assert set(found.flags) == {name}
    assert any(
        "rows of one hour differ, the first at 2025-06-10 01:00" in t for t in found.warnings
    )
    others = found.frame.drop(columns=name)
    assert (others.iloc[1] == others.iloc[0]).all()


def test_copies_of_a_row_are_dropped_and_unknown_ones_stay_so():
    found = twice({}, {})
    assert found.flags == {}
    assert found.warnings == ("1 row is a copy of another; it is dropped",)
    found = twice({"rain_mm": NAN}, {"rain_mm": NAN})
    assert np.isnan(found.column("rain_mm")[1])
    assert found.flags == {}


@pytest.mark.parametrize(
    ("excess", "left", "told"),
    [(0, 0, False), (0.25, 0, False), (0.5, 0, False), (0.75, NAN, True)],
)
def test_dew_point_above_the_air(excess, left, told):
    air, dew = np.full(48, 16.0), np.full(48, 8.0)
    dew[11] = 16 + excess
    found = table(air_temp_c=air, dew_point_c=dew)
    np.testing.assert_equal(found.column("dew_point_c")[11], 16 + left)
    rows = flagged_rows(found, "dew_point_c", Flag.CONTRADICTION)
    assert rows.tolist() == ([11] if told else [])
    assert any("the dew point is unknown there" in text for text in found.warnings) == told


def test_columns_that_were_exchanged_are_an_error():
    dew = wave(48, 18, 2)
    with pytest.raises(HoursError, match="not exchanged"):
        table(dew_point_c=dew)


def test_flags_stay_with_their_hours_when_rows_are_sorted_and_hours_are_missing():
    hours = [5, 1, 2]
    air = np.array([15.0, 70.0, 16.0])
    found = check_hours(
        {"air_temp_c": air, "dew_point_c": air * 0 + 8, "wind_m_s": air * 0 + 3,
         "rain_mm": air * 0},
        pd.DatetimeIndex([f"2025-06-10T0{h}:00Z" for h in hours]),
        Provenance("somebody", "here", kind="observed"),
        recorded=True, flags={"rain_mm": np.array([Flag.BLOCK, 0, 0], dtype=np.int64)},
    )  # fmt: skip
    assert found.flags["air_temp_c"].tolist() == [Flag.RANGE, 0, 0, 0, 0]
    assert found.flags["rain_mm"].tolist() == [0, 0, 0, 0, Flag.BLOCK]
    assert np.isnan(found.column("rain_mm")).tolist() == [False, False, True, True, False]
