"""Checks on entry, in steady weather worked by hand; every sentence stands here as it is told."""

import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import plan_cases
import pytest
from how_many import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cure_models.coating import resolve
from cure_models.psychrometrics import dew_point, frost_point
from cure_models.system import load_system
from cure_models.units import to_si
from windows import safety
from windows.field.instrument_check import instruments_at
from windows.field.measured_check import check_measured
from windows.field.moist_air import computed
from windows.field.placement_check import check_placement
from windows.field.reading_check import check_reading
from windows.field.told import both, moment, pair
from windows.field.weather_check import label_of
from windows.job_file import Material
from windows.layers import system_hours
from windows.log.entries import (
    Adhesion,
    DryFilm,
    Entry,
    Instrument,
    Moisture,
    Note,
    Placement,
    Preparation,
    Rain,
    Reading,
    WetFilm,
)

NEW_YORK = ZoneInfo("America/New_York")
ACRYLIC = load_system("acrylic_two_coat")
SITE = plan_cases.site()
NOON = datetime(2026, 6, 2, 16, tzinfo=UTC)
METER = Instrument(
    at=NOON, serial="H1", what="hygrometer", calibrated=date(2026, 1, 2), due=date(2027, 1, 2)
)
KNOWN = {"H1": METER}
TODAY = date(2026, 6, 2)
UNKNOWN_WEATHER = "The weather of these hours is not known, so its gates could not be checked."


def fahrenheit(value):
    return to_si(value, "degF")


def june(text):
    """Return "2 10:30" of June 2026 by the clock of New York, as UTC."""
    day, clock = text.split()
    hour, minute = map(int, clock.split(":"))
    return datetime(2026, 6, int(day), hour, minute, tzinfo=NEW_YORK).astimezone(UTC)


def read(when="2 12:00", **values):
    """Return a reading in order; air 70 degF, surface 75 degF, 50 %, with what is given instead."""
    given = {
        "air_temp_c": fahrenheit(70), "surface_temp_c": fahrenheit(75), "rel_humidity": 0.5,
        "instruments": ("H1",),
    }  # fmt: skip
    return Reading(at=june(when), **{**given, **values})


def told(reading, gates=None, instruments=KNOWN, on=TODAY):
    return check_reading(reading, gates=gates, instruments=instruments, on=on)


def entries(*bodies):
    return [
        Entry(n, body.at, "A", None, body, "0" * 64, "0" * 64)
        for n, body in enumerate(bodies, start=1)
    ]


# Numbers and times.


def test_numbers_and_times_in_a_stored_text():
    assert both(fahrenheit(32.0), "temperature") == "32.0 degF (0.0 degC)"
    assert both(to_si(5, "delta_degF"), "difference") == "5.0 degF (2.8 K)"
    assert both(0.855, "fraction", finer=1) == "85.5 %"
    assert pair(0.8501, 0.85, "fraction") == ("85.01 %", "85.00 %")
    november = datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
    assert moment(november, NEW_YORK) == "2026-11-01 01:30 UTC-0400"
    assert moment(november.replace(hour=6), NEW_YORK) == "2026-11-01 01:30 UTC-0500"
    assert moment(november.replace(hour=7), NEW_YORK) == "2026-11-01 02:30"


# What a reading comes to.


def test_the_dew_point_is_worked_out_of_air_and_humidity():
    # 70 degF and 50 %: 50.5 degF by any psychrometric table
    found = computed(read())
    assert found.dew_point_c == pytest.approx(fahrenheit(50.5), abs=0.1)
    assert found.spread_k == pytest.approx(fahrenheit(75) - found.dew_point_c)
    assert not found.from_instrument


def test_the_instrument_s_own_dew_point_stands_where_none_can_be_worked_out():
    found = computed(read(rel_humidity=None, dew_point_c=10.0))
    assert (found.dew_point_c, found.from_instrument) == (10.0, True)
    assert computed(read(dew_point_c=10.0)).from_instrument is False
    nothing = computed(read(rel_humidity=None))
    assert (nothing.dew_point_c, nothing.spread_k) == (None, None)
    assert computed(read(surface_temp_c=None)).spread_k is None
    assert computed(read(rel_humidity=0.0)).dew_point_c is None


def test_below_freezing_the_spread_is_that_above_the_frost_point():
    found = computed(read(air_temp_c=-5.0, surface_temp_c=-4.0, rel_humidity=0.8))
    dew = float(dew_point(-5.0, 0.8))
    assert found.spread_k == pytest.approx(-4.0 - float(frost_point(dew)))
    assert found.spread_k < -4.0 - dew


# What is said of a reading.


def test_a_reading_in_order_has_nothing_to_be_said_of_it():
    assert told(read()) == ()
    assert told(read(), gates=resolve(ACRYLIC.profiles[0])) == ()


@pytest.mark.parametrize(("spread_f", "flagged"), [(4.9, True), (5.0, False), (5.1, False)])
def test_five_degrees_of_spread_are_asked_for(spread_f, flagged):
    surface = 10.0 + to_si(spread_f, "delta_degF")
    reading = read(rel_humidity=None, dew_point_c=10.0, surface_temp_c=surface)
    assert bool(told(reading)) is flagged
    assert bool(told(reading, gates=resolve(ACRYLIC.profiles[0]))) is flagged


def test_the_coating_s_own_spread_comes_first():
    careful = resolve(ACRYLIC.profiles[0], limits="careful")  # 10 degF
    reading = read(rel_humidity=None, dew_point_c=fahrenheit(50), surface_temp_c=fahrenheit(57))
    assert told(reading) == ()
    [said] = [each for each in told(reading, gates=careful) if "dew point" in each]
    assert said == (
        "Surface above dew point: 7.0 degF (3.9 K); at least 10.0 degF (5.6 K) is asked for."
    )


def test_a_value_equal_to_its_limit_passes_in_both_units():
    coating = resolve(ACRYLIC.profiles[0])  # 50 degF to 110 degF, at most 85 %, 15 mph
    reading = read(
        air_temp_c=fahrenheit(50), surface_temp_c=fahrenheit(60), rel_humidity=0.85,
        wind_m_s=to_si(15, "mph"),
    )  # fmt: skip
    assert told(reading, gates=coating) == ()
    assert told(read(air_temp_c=10.0, surface_temp_c=20.0), gates=coating) == ()


def test_every_sentence_of_the_gates():
    coating = resolve(ACRYLIC.profiles[0])
    cold = read(
        air_temp_c=9.9, surface_temp_c=9.99, rel_humidity=0.86, wind_m_s=to_si(18, "mph")
    )
    assert told(cold, gates=coating) == (
        "Air temperature: 49.8 degF (9.9 degC); at least 50.0 degF (10.0 degC) is asked for.",
        "Surface temperature: 49.98 degF (9.99 degC); at least 50.00 degF (10.00 degC) is asked "
        "for.",
        "Relative humidity: 86 %; at most 85 % is asked for.",
        "Surface above dew point: 4.2 degF (2.3 K); at least 5.0 degF (2.8 K) is asked for.",
        "Wind while spraying: 18.0 mph (8.0 m/s); at most 15.0 mph (6.7 m/s) is asked for.",
    )
    hot = read(air_temp_c=fahrenheit(112), surface_temp_c=fahrenheit(150), rel_humidity=0.3)
    assert [each.split(":")[0] for each in told(hot, gates=coating)] == [
        "Air temperature", "Surface temperature",
    ]  # fmt: skip


def test_humidity_is_worked_out_where_only_a_dew_point_was_read():
    coating = resolve(ACRYLIC.profiles[0])
    damp = read(rel_humidity=None, air_temp_c=20.0, dew_point_c=19.0, surface_temp_c=30.0)
    assert told(damp, gates=coating) == ("Relative humidity: 94 %; at most 85 % is asked for.",)


@pytest.mark.parametrize(
    ("lacks", "missing"),
    [
        ({"surface_temp_c": None}, "surface temperature"),
        ({"rel_humidity": None}, "humidity or dew point"),
        ({"air_temp_c": None}, "air temperature"),
        (
            {"surface_temp_c": None, "rel_humidity": None},
            "surface temperature and no humidity or dew point",
        ),
    ],
)
def test_what_is_missing_for_a_spread(lacks, missing):
    assert told(read(**lacks)) == (f"The spread is not known: there is no {missing}.",)


def test_a_dead_sensor_gives_no_dew_point():
    assert told(read(rel_humidity=0.0)) == (
        "Relative humidity 0 % is drier than any roof: no dew point is worked out from it; check "
        "the sensor.",
        "The spread is not known: there is no humidity or dew point to be trusted.",
    )


def test_dew_points_that_cannot_both_be_right():
    assert told(read(dew_point_c=fahrenheit(52.4))) == ()
    assert len(told(read(dew_point_c=fahrenheit(48)))) == 1
    near = read(rel_humidity=None, dew_point_c=fahrenheit(70.5), surface_temp_c=fahrenheit(90))
    assert told(near) == ()
    assert told(read(dew_point_c=fahrenheit(53))) == (
        "Dew point 53.0 degF (11.7 degC) of the instrument is 2.5 degF (1.4 K) from the 50.5 degF "
        "(10.3 degC) of air temperature and humidity (Magnus form, Alduchov and Eskridge 1996): "
        "one of them is wrong.",
    )
    above = read(rel_humidity=None, dew_point_c=fahrenheit(72), surface_temp_c=fahrenheit(90))
    assert told(above) == (
        "Dew point 72.0 degF (22.2 degC) is above the air at 70.0 degF (21.1 degC), which is not "
        "possible: one of them is wrong.",
    )


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ({}, "has no day of calibration in the log"),
        ({"calibrated": date(2026, 1, 2)},
         "has no day in the log on which its calibration is due"),
        ({"calibrated": date(2025, 6, 1), "due": date(2026, 6, 1)},
         "was due for calibration on 2026-06-01"),
        ({"calibrated": date(2025, 6, 2), "due": TODAY}, ""),
        ({"calibrated": TODAY, "due": date(2027, 6, 2)}, ""),
        ({"calibrated": date(2026, 6, 3), "due": date(2027, 6, 3)},
         "was calibrated on 2026-06-03, after this was read"),
    ],
)  # fmt: skip
def test_calibration(days, said):
    meter = Instrument(at=NOON, serial="H1", what="hygrometer", **days)
    assert told(read(), instruments={"H1": meter}) == ((f"Instrument 'H1' {said}.",) * bool(said))


def test_an_instrument_that_is_not_named_or_not_in_the_log():
    assert told(read(instruments=())) == (
        "No instrument is named, so its calibration is not known.",
    )
    assert told(read(instruments=("H1", "X9", "X9"))) == (
        "Instrument 'X9' is not in the log, so its calibration is not known.",
    )


def test_of_an_instrument_the_entry_of_its_time_counts():
    again = METER.model_copy(update={"at": june("20 08:00"), "calibrated": date(2026, 6, 20)})
    log = entries(again, METER, Note(at=NOON, note="x"))
    assert instruments_at(log, NOON) == {"H1": METER}
    assert instruments_at(log, june("21 08:00")) == {"H1": again}
    assert instruments_at(log, june("1 08:00")) == {"H1": METER}  # entered late
    assert instruments_at([], NOON) == {}


VALUES = st.fixed_dictionaries(
    {
        "air_temp_c": st.one_of(st.none(), st.floats(-30, 50)),
        "surface_temp_c": st.one_of(st.none(), st.floats(-30, 80)),
        "rel_humidity": st.one_of(st.none(), st.floats(0, 1)),
        "dew_point_c": st.one_of(st.none(), st.floats(-40, 40)),
        "wind_m_s": st.floats(0, 20),
        "instruments": st.sampled_from([(), ("H1",), ("X9",)]),
    }
)


@given(VALUES, st.sampled_from(["air_temp_c", "surface_temp_c", "rel_humidity", "dew_point_c"]))
def test_what_is_not_known_stays_told_when_more_is_taken_away(values, taken):
    coating = resolve(ACRYLIC.profiles[0])
    full, less = read(**values), read(**{**values, taken: None})
    unknown = "The spread is not known"
    was, stays = (any(unknown in each for each in told(reading)) for reading in (full, less))
    assert was <= stays
    # known and good, or told
    for reading in (full, less):
        spread, said = computed(reading).spread_k, told(reading, gates=coating)
        good = spread is not None and spread >= to_si(5, "delta_degF") - 1e-3
        assert good or any("spread is not known" in s or "above dew point" in s for s in said)
        assert all(s.endswith(".") and s[0].isupper() for s in said)


# A placement: base on Monday, top on Tuesday 10:00-14:00, in 20 degC and 50 %.


def placed(start="2 10:00", end="2 14:00", layer="top", **more):
    given = {
        "section": "north", "area_m2": to_si(400, "ft2"), "batches": ("B1",),
        "wet_film": tuple(WetFilm(film_um=25.4 * 24) for _ in range(4)),
        "volume_l": to_si(400 * (13 / 0.55) / (231_000 / 144) / 0.9, "gal"),
    }  # fmt: skip
    return Placement(at=june(start), end=june(end), layer=layer, **{**given, **more})


BASE = placed("1 10:00", "1 14:00", "base", direction="north-south")
BESIDE = read("2 09:30")


def in_weather(days=10, system=ACRYLIC, **weather):
    table = plan_cases.weather(days, **weather)
    return system_hours(SITE, system, table, start_wet_mm=0.0)


STEADY = in_weather()


LONG_AFTER = june("30 12:00")


def said(
    placement, *before, weather=STEADY, section="400 ft2", system=ACRYLIC, layer=1,
    now=LONG_AFTER,
):  # fmt: skip
    number, unit = section.split() if section else (None, None)
    return check_placement(
        placement, site=SITE, system=system, layer=layer, material=Material(),
        section_m2=None if number is None else to_si(float(number), unit),
        before=entries(*before), in_weather=weather, instruments=KNOWN, now=now,
    )  # fmt: skip


def test_a_placement_in_order_has_nothing_to_be_said_of_it():
    assert said(placed(), BASE, BESIDE) == ()
    assert said(BASE, read("1 10:00"), layer=0) == ()


def test_wet_film_and_volume_are_told():
    found = said(placed(wet_film=(), volume_l=None), BASE, BESIDE)
    assert [each.split(":")[0] for each in found] == ["Wet film", "Volume"]


def test_the_area_is_that_of_the_section_with_all_of_the_layer():
    assert said(placed(), BASE, BESIDE, section="398.1 ft2") == ()  # rounded on the roof
    assert said(placed(), BASE, BESIDE, section="300 ft2") == (
        "Its area is 400 ft2 (37.2 m2); section 'north' has 300 ft2 (27.9 m2).",
    )
    half = placed("2 07:00", "2 09:00", area_m2=to_si(200, "ft2"))
    assert "Its area, with the other placements of this layer, is 600 ft2 (55.7 m2); section " \
        "'north' has 400 ft2 (37.2 m2)." in said(placed(), BASE, half, BESIDE)  # fmt: skip
    assert said(placed(), BASE, BESIDE, section=None) == (
        "Section 'north' is not in the job file, so its area could not be checked.",
    )


def test_batches_are_told_and_the_crew_is_not():
    assert said(placed(batches=()), BASE, BESIDE) == ("No batch number is given.",)
    assert placed().crew == ""


@pytest.mark.parametrize(
    ("reading", "stands"),
    [
        (read("2 09:00"), True),
        (read("2 08:59"), False),
        (read("2 14:00", section="north"), True),
        (read("2 14:01"), False),
        (read("2 11:00", section="south"), False),
    ],
)
def test_readings_of_the_hours_and_an_hour_before_stand_beside_it(reading, stands):
    none = "No reading stands beside it."
    assert said(placed(), BASE, reading) == (() if stands else (none,))


def test_readings_beside_it_are_told_by_the_worst():
    damp = [read(f"2 1{n}:00", rel_humidity=0.80 + n / 100) for n in (1, 2, 3)]
    cold = read("2 11:30", air_temp_c=fahrenheit(49), surface_temp_c=fahrenheit(60))
    found = said(placed(), BASE, BESIDE, cold, *damp, read("2 13:30", rel_humidity=0.95))
    assert found == (
        "1 of 6 readings beside it, air temperature: 49.0 degF (9.4 degC) at 2026-06-02 11:30; at "
        "least 50.0 degF (10.0 degC) is asked for.",
        "1 of 6 readings beside it, relative humidity: 95 % at 2026-06-02 13:30; at most 85 % is "
        "asked for.",
    )
    colder = read("2 13:00", air_temp_c=fahrenheit(45), surface_temp_c=fahrenheit(60))
    two = said(placed(), BASE, cold, colder)
    assert two[0].startswith("2 of 2 readings beside it, air temperature: 45.0 degF")
    alone = said(placed(), BASE, read("2 10:00", surface_temp_c=fahrenheit(54)))
    assert alone == (
        "The reading beside it, surface above dew point: 3.5 degF (1.9 K) at 2026-06-02 10:00; at "
        "least 5.0 degF (2.8 K) is asked for.",
    )


def test_readings_beside_it_that_tell_no_spread():
    half = [read(f"2 1{n}:00", surface_temp_c=None) for n in (1, 2)]
    found = said(placed(), BASE, *half)
    assert found == (
        "The spread is not known: no reading beside it has surface temperature, air temperature "
        "and humidity, or a dew point.",
    )


def test_one_spread_beside_it_is_enough_and_its_day_is_that_of_the_site():
    assert said(placed(), BASE, BESIDE, read("2 11:00", surface_temp_c=None)) == ()
    today = METER.model_copy(update={"due": TODAY})
    evening = check_placement(
        placed("2 20:30", "2 22:00"), site=SITE, system=ACRYLIC, layer=1, material=Material(),
        section_m2=100.0, before=entries(BASE, read("2 21:00")), in_weather=STEADY,
        instruments={"H1": today}, now=LONG_AFTER,
    )  # fmt: skip
    assert not any("calibration" in each for each in evening)


def test_instruments_beside_it_are_told_once_and_not_without_end():
    readings = [read("2 11:00", instruments=("X9",)) for _ in range(30)]
    assert said(placed(), BASE, *readings) == (
        "Readings beside it: instrument 'X9' is not in the log, so its calibration is not known.",
    )
    many = [read("2 11:00", instruments=(f"X{n}",)) for n in range(30)]
    found = said(placed(), BASE, *many)
    assert len(found) == 11
    assert found[-1] == "Readings beside it: 20 more faults of instruments."


# The weather of its hours: row 24 is Monday 20:00 in New York, row 38 Tuesday 10:00.

ROW = {f"{hour:02d}": 24 + 4 + hour for hour in range(20)}


def test_the_gates_of_the_weather():
    windy = in_weather(wind_m_s={ROW["12"]: 8.0, ROW["13"]: 9.0}, rain_mm={ROW["15"]: 3.0})
    assert said(placed(), BASE, BESIDE, weather=windy) == (
        "By the weather, wind while spraying: 20.1 mph (9.0 m/s) in the hour from 2026-06-02 "
        "13:00; at most 15.0 mph (6.7 m/s) is asked for.",
        "By the weather, rain in the hour until rain-safe: 0.12 in (3.0 mm) in the hour from "
        "2026-06-02 15:00; below 0.01 in (0.2 mm) is asked for.",
    )
    wet = said(placed("2 15:00", "2 16:00"), BASE, read("2 15:00"), weather=windy)
    assert any(
        each.startswith("By the weather, water film on the surface: 0.0")
        and each.endswith("in the hour from 2026-06-02 15:00; none is allowed.")
        for each in wet
    )


def test_a_gate_is_told_only_in_its_hours():
    # rain in an hour before it, long dry, and wind in the hour after it
    wind = in_weather(wind_m_s={ROW["14"]: 12.0, ROW["09"]: 12.0}, gust_m_s=12.0)
    assert said(placed(), BASE, BESIDE, weather=wind) == ()
    inside = in_weather(wind_m_s={ROW["13"]: 12.0}, gust_m_s=12.0)
    assert len(said(placed(), BASE, BESIDE, weather=inside)) == 2  # the gate and the stop
    begun = placed("2 10:00", "2 14:01")
    assert len(said(begun, BASE, BESIDE, weather=wind)) == 2


def test_a_part_of_an_hour_counts_as_the_hour_and_the_worst_value_is_told():
    windy = in_weather(wind_m_s={ROW["10"]: 8.0})
    assert len(said(placed("2 10:30", "2 14:00"), BASE, BESIDE, weather=windy)) == 1
    cold = in_weather(air_temp_c={ROW["11"]: 5.0, ROW["12"]: 3.0})
    first = said(placed(), BASE, BESIDE, weather=cold)[0]
    assert first.startswith("By the weather, air temperature: 37.4 degF (3.0 degC) in the hour ")


def test_what_is_rolled_is_held_against_the_wind_for_rolling():
    wind = in_weather(wind_m_s=8.0)  # 18 mph: above 15 mph for spray, below 25 for rollers
    for method, flagged in (("spray", True), ("", True), ("roller", False), ("trowel", False)):
        found = said(placed(method=method), BASE, BESIDE, weather=wind)
        assert any("wind while spraying" in each for each in found) is flagged
    storm = in_weather(wind_m_s=20.0, gust_m_s=25.0)
    assert any(
        "wind while rolling" in each
        for each in said(placed(method="roller"), BASE, BESIDE, weather=storm)
    )


def test_safety_stops_are_told():
    gusts = in_weather(gust_m_s={ROW["11"]: 20.0})
    assert said(placed(), BASE, BESIDE, weather=gusts) == (
        "Safety stop by the weather, gust at 10 m, most 35 mph: 44.7 mph (20.0 m/s) in the hour "
        "from 2026-06-02 11:00.",
    )
    own = SITE.model_copy(
        update={"safety": SITE.safety.model_copy(update={"gust": to_si(20, "mph")})}
    )
    windy = system_hours(own, ACRYLIC, plan_cases.weather(gust_m_s=10.0), start_wet_mm=0.0)
    assert said(placed(), BASE, BESIDE, weather=windy) == (
        "Safety stop by the weather, gust at 10 m, most 20 mph (the site's own limit): 22.4 mph "
        "(10.0 m/s) in the hour from 2026-06-02 10:00.",
    )


def test_of_a_stop_with_a_least_the_smallest_value_is_told(monkeypatch):
    calm = safety.Stop.model_validate({
        "label": "wind that carries vapor off, least", "quantity": "wind_m_s", "sense": "min",
        "dimension": "speed", "own": "wind",
        "limit": {"value": 2, "unit": "m/s", "source": "own choice: for this test"},
    })  # fmt: skip
    shipped = safety._safety()
    stops = shipped.model_copy(update={"stop": shipped.stop | {"calm": calm}})
    monkeypatch.setattr(safety, "_safety", lambda: stops)
    still = in_weather(wind_m_s={ROW["11"]: 1.5, ROW["12"]: 1.0})
    assert said(placed(), BASE, BESIDE, weather=still) == (
        "Safety stop by the weather, wind that carries vapor off, least 2 m/s: 2.2 mph (1.0 m/s) "
        "in the hour from 2026-06-02 12:00.",
    )


def test_weather_that_is_not_known():
    lost = in_weather(rel_humidity={ROW["11"]: np.nan}, gust_m_s={ROW["11"]: np.nan})
    found = said(placed(), BASE, BESIDE, weather=lost)
    assert "By the weather, relative humidity: not known, so it could not be checked." in found
    assert (
        "Safety stop by the weather, gust at 10 m, most 35 mph: not known, so it could not be "
        "checked." in found
    )
    assert len(found) == len(set(found))


def test_weather_still_to_come_is_told_as_a_forecast():
    """Rain at 15:00 breaks the hold of what was laid until 14:00; its hour is gone at 15:01."""
    rain = in_weather(rain_mm={ROW["15"]: 3.0})
    [gone] = said(placed(), BASE, BESIDE, weather=rain, now=june("2 15:01"))
    assert gone == (
        "By the weather, rain in the hour until rain-safe: 0.12 in (3.0 mm) in the hour from "
        "2026-06-02 15:00; below 0.01 in (0.2 mm) is asked for."
    )
    for clock in ("14:00", "15:00"):
        [to_come] = said(placed(), BASE, BESIDE, weather=rain, now=june(f"2 {clock}"))
        assert to_come == gone.replace("By the weather,", "By the forecast, still to come:")


def test_what_has_broken_a_gate_is_told_before_what_is_to_come():
    twice = in_weather(rain_mm={ROW["13"]: 1.0, ROW["15"]: 3.0})
    [told_now] = [
        each for each in said(placed(), BASE, BESIDE, weather=twice, now=june("2 14:30"))
        if "rain-safe" in each
    ]  # fmt: skip
    assert told_now.startswith("By the weather, rain in the hour until rain-safe: 0.04 in (1.0 mm)")


def test_what_is_not_known_yet_is_told_apart_from_what_is_not_known():
    label = "By the weather, rain in the hour until rain-safe"
    lost = in_weather(rain_mm={ROW["15"]: np.nan})
    before, after = (
        [e for e in said(placed(), BASE, BESIDE, weather=lost, now=june(now)) if "rain-safe" in e]
        for now in ("2 14:30", "2 15:30")
    )
    assert before == [f"{label}: not known yet, so it could not be checked."]
    assert after == [f"{label}: not known, so it could not be checked."]
    # what is gone and not known stays told beside what is to come
    both_ = in_weather(rain_mm={ROW["13"]: np.nan, ROW["15"]: 3.0})
    found = [
        each for each in said(placed(), BASE, BESIDE, weather=both_, now=june("2 14:30"))
        if "rain-safe" in each
    ]  # fmt: skip
    assert found[0] == after[0]
    assert found[1].startswith("By the forecast, still to come: rain in the hour until rain-safe")
    assert len(found) == 2


def test_a_cure_that_outlasts_the_weather_is_not_known_yet():
    """The table ends on Wednesday 10 June 20:00, before the film is rain-safe."""
    evening = placed("10 18:00", "10 20:00")
    for now, word in (("10 20:00", "not known yet"), ("9 12:00", "not known yet")):
        found = said(evening, read("10 18:00"), layer=0, now=june(now))
        assert f"By the weather, rain in the hour until rain-safe: {word}, so it could not be " \
            "checked." in found  # fmt: skip
    blind = in_weather(air_temp_c={ROW["14"]: np.nan})
    gone = said(placed(), BASE, BESIDE, weather=blind, now=june("2 15:00"))
    assert any("until rain-safe: not known, so" in each for each in gone)


def test_a_safety_stop_to_come_is_told_as_a_forecast():
    gusts = in_weather(gust_m_s={ROW["13"]: 20.0})
    assert said(placed(), BASE, BESIDE, weather=gusts, now=june("2 12:00")) == (
        "Safety stop by the forecast, still to come: gust at 10 m, most 35 mph: 44.7 mph (20.0 "
        "m/s) in the hour from 2026-06-02 13:00.",
    )
    lost = in_weather(gust_m_s={ROW["13"]: np.nan})
    assert any(
        each == "Safety stop by the weather, gust at 10 m, most 35 mph: not known yet, so it could "
        "not be checked."
        for each in said(placed(), BASE, BESIDE, weather=lost, now=june("2 12:00"))
    )


def test_no_weather_is_told():
    late = placed("20 10:00", "20 14:00")
    ground = placed("1 10:00", "1 14:00", "base")
    assert UNKNOWN_WEATHER in said(placed(), BASE, BESIDE, weather=None)
    assert UNKNOWN_WEATHER in said(late, ground, read("20 10:00"))
    # the table ends on Wednesday 10 June 20:00
    edge = said(placed("10 18:00", "10 22:00"), read("10 18:00"), layer=0)
    assert edge[0] == (
        "The weather of a part of these hours is not known, so its gates could not be checked."
    )
    assert any("until rain-safe: not known" in each for each in edge)
    later = in_weather(5, start="2026-06-02T00:00Z")
    assert UNKNOWN_WEATHER in said(placed("1 00:00", "1 01:00", "base"), layer=0, weather=later)


# The order of layers.


def order(*before, **more):
    """Return what is said of order alone."""
    return [each for each in said(*before, **more) if "Layer '" in each]


def test_a_layer_that_is_not_there():
    assert order(placed(), BESIDE) == [
        "Layer 'base' below this one is not recorded on section 'north'."
    ]
    elsewhere = BASE.model_copy(update={"section": "south"})
    assert order(placed(), elsewhere) == order(placed(), BESIDE)
    assert order(placed(layer="base"), layer=0) == []
    by_number = BASE.model_copy(update={"layer": "1"})
    assert order(placed(), by_number) == []
    unknown = BASE.model_copy(update={"layer": "varnish"})
    assert order(placed(), unknown) == order(placed())


def test_a_layer_that_was_not_finished():
    assert order(placed(), placed("2 09:00", "2 10:01", "base")) == [
        "Layer 'base' below this one was not finished, or is covered already, on section 'north' "
        "when this one was begun."
    ]


def test_a_layer_that_is_laid_in_part():
    half = BASE.model_copy(update={"area_m2": to_si(200, "ft2")})
    assert order(placed(), half) == [
        "Layer 'base' below this one is recorded, and not covered yet, on 200 ft2 (18.6 m2); this "
        "placement has 400 ft2 (37.2 m2)."
    ]
    assert order(placed(area_m2=half.area_m2), half) == []
    other = half.model_copy(update={"at": june("1 14:00"), "end": june("1 16:00")})
    assert order(placed(), half, other) == []


def test_a_layer_that_had_not_opened():
    early = placed("2 08:00", "2 09:00", "base")
    [found] = order(placed(), early)
    assert re.fullmatch(
        r"Layer 'base', laid until 2026-06-02 09:00, was open for the next from 2026-06-0\d "
        r"\d\d:\d\d on, by its weather; this one was begun at 2026-06-02 10:00\.",
        found,
    )


def test_a_layer_whose_deadline_is_over():
    """The base of acrylic closes 14 days after Monday 1 June 10:00, by a generic figure."""
    weeks = in_weather(25)
    late = placed("15 09:00", "15 10:01")
    [found] = order(late, BASE, weather=weeks)
    assert found == (
        "Layer 'base', laid until 2026-06-01 14:00, was to be covered by 2026-06-15 10:00 (recoat "
        "closes; a generic figure, the data sheet decides); this one ended at 2026-06-15 10:01."
    )
    assert order(placed("15 09:00", "15 10:00"), BASE, weather=weeks) == []
    again = Preparation(at=june("14 10:00"), section="north", layer="base")
    assert order(late, BASE, again, weather=weeks) == []
    assert order(late, BASE, again.model_copy(update={"section": "south"}), weather=weeks) == [
        found
    ]
    too_late = again.model_copy(update={"at": june("15 09:30")})
    assert order(late, BASE, too_late, weather=weeks) == [found]
    alone = order(late, BASE, weather=None)
    assert alone[1] == found.replace("; a generic figure, the data sheet decides", "")
    assert len(order(late, BASE, again, weather=None)) == 1


def test_without_weather_the_clock_is_looked_at_and_the_rest_is_not_known():
    found = order(placed(), BASE, weather=None)
    assert found == [
        "Layer 'base', laid until 2026-06-01 14:00, is not known to have been open for the next "
        "when this one was begun: its cure needs the weather since then."
    ]


def test_the_clock_alone_shuts_a_layer(tmp_path):
    system = plan_cases.system(
        tmp_path,
        (
            ("base", "acrylic", "13 mil",
             'opens_clock_min = { value = 24, unit = "h", source = "own choice" }'),
            ("top", "acrylic", "13 mil", ""),
        ),
    )  # fmt: skip
    early = order(placed(), BASE, weather=None, system=system)
    assert early == [
        "Layer 'base', laid until 2026-06-01 14:00, opens for the next 24 h later at the earliest, "
        "at 2026-06-02 14:00; this one was begun at 2026-06-02 10:00."
    ]


def test_the_same_shift(tmp_path):
    system = plan_cases.system(tmp_path, plan_cases.FOAM)
    foam = placed("2 07:00", "2 09:00", "foam")
    next_day = placed("3 07:00", "3 09:00", "base")
    told_off = [
        each for each in order(next_day, foam, weather=None, system=system) if "shift" in each
    ]
    assert told_off == [
        "Layer 'foam', laid until 2026-06-02 09:00, was to be covered in the same shift."
    ]
    same = placed("2 13:00", "2 17:00", "base")
    assert not any("shift" in e for e in order(same, foam, weather=None, system=system))
    dusk = (placed("2 18:00", "2 19:00", "foam"), placed("3 18:00", "3 19:00", "base"))
    assert any("shift" in e for e in order(dusk[1], dusk[0], weather=None, system=system))
    by_weather = in_weather(system=system)
    found = order(next_day, foam, weather=by_weather, system=system)
    assert any("was to be covered by 2026-06-02" in each for each in found)


def test_parts_that_are_covered_already_are_looked_at_no_more():
    """Halves laid on two days, each covered in time: the first says nothing against the second."""
    half = to_si(200, "ft2")
    first, second = (
        placed("1 08:00", "1 10:00", "base", area_m2=half),
        placed("5 08:00", "5 10:00", "base", area_m2=half),
    )
    on_first = placed("2 12:00", "2 13:00", area_m2=half)
    on_second = placed("6 12:00", "6 13:00", area_m2=half)
    assert order(on_second, first, second, on_first) == []
    assert order(on_second, second, on_first, first) == []
    again = placed("8 12:00", "8 13:00", area_m2=half)
    assert "covered already" in order(again, first, second, on_first, on_second)[0]


def test_what_was_laid_before_lies_on_what_has_its_size():
    large = placed("1 08:00", "1 12:00", "base", area_m2=30.0)
    small = placed("2 08:00", "2 09:00", "base", area_m2=10.0)
    at_once = placed("2 09:00", "2 09:30", area_m2=10.0)
    assert order(placed(area_m2=30.0), large, small, at_once) == []
    # and where there is room on what is in order, the rest is not looked at
    assert order(placed(area_m2=30.0), large, small) == []
    assert len(order(placed(area_m2=35.0), large, small)) == 1


def test_a_part_lies_on_what_planning_and_the_record_put_it_on():
    """Two halves of the base, the first past its deadline: a half of the top lies on the first."""
    weeks, half = in_weather(25), to_si(200, "ft2")
    first, second = (
        placed(f"{day} 08:00", f"{day} 10:00", "base", area_m2=half) for day in (1, 8)
    )
    top = placed("16 09:00", "16 10:00", area_m2=half)
    [found] = order(top, first, second, weather=weeks)
    assert "'base', laid until 2026-06-01 10:00, was to be covered by 2026-06-15 08:00" in found
    assert order(top, second, weather=weeks) == []
    # a section that cannot be divided: what was laid twice leaves room on what is in order
    again = placed("8 11:00", "8 13:00", "base", area_m2=half)
    assert order(top, first, second, again, weather=weeks) == []
    # and without the area of the section
    [found] = [
        each for each in said(top, first, second, weather=weeks, section=None) if "Layer '" in each
    ]
    assert "laid until 2026-06-01 10:00" in found


def test_rain_written_down_before_a_placement_is_set_against_it():
    assert said(placed(), BASE, BESIDE, Rain(at=june("2 13:30"), end=june("2 13:40"))) == (
        "The rain of 2026-06-02 13:30 fell while 'top' on section 'north' was being laid.",
    )
    assert said(placed(), BASE, BESIDE, Rain(at=june("2 13:30"), section="south")) == ()


def test_only_what_came_before_covers_and_only_what_was_there():
    later = placed("3 10:00", "3 12:00")
    assert order(placed(), BASE, later) == []
    too_early = placed("1 08:00", "1 09:00")
    assert order(placed(), BASE, too_early) == []


def test_a_layer_that_opens_while_the_next_is_laid_had_not_opened():
    evening = placed("1 17:00", "1 20:00", "base")
    [found] = order(placed("2 06:00", "2 20:00"), evening)
    assert "was open for the next from 2026-06-02" in found


def test_a_preparation_while_it_was_laid_is_none():
    weeks = in_weather(25)
    late = placed("15 09:00", "15 10:01")
    during = Preparation(at=june("1 12:00"), section="north", layer="base")
    assert order(late, BASE, during, weather=weeks) == order(late, BASE, weather=weeks)
    assert len(order(late, BASE, during, weather=weeks)) == 1


def test_ultraviolet_is_not_known_without_weather(tmp_path):
    dose = 'cover_by_uv_dose = { value = 50, unit = "SED", source = "own choice" }'
    layers = (("base", "acrylic", "13 mil", dose), ("top", "acrylic", "13 mil", ""))
    system = plan_cases.system(tmp_path, layers)
    assert order(placed(), BASE, weather=None, system=system)[1] == (
        "Layer 'base', laid until 2026-06-01 14:00, is not known to have been covered in time: the "
        "ultraviolet on it needs the weather since then."
    )


@pytest.mark.parametrize(
    ("direction", "same"),
    [
        ("north-south", True), ("N-S", True), ("ns", True), ("South to North", True),
        ("east-west", False), ("E/W", False), ("NE-SW", False), ("", False), ("across", False),
    ],
)  # fmt: skip
def test_coats_are_laid_across_each_other(direction, same):
    found = said(placed(direction=direction), BASE, BESIDE)
    assert found == (
        (f"It was laid in the direction of layer 'base' below it ({direction}); each coat is laid "
         "across the last.",) if same else ()
    )  # fmt: skip


def test_the_direction_is_that_of_the_last_below():
    across = placed("1 15:00", "1 16:00", "base", direction="E-W")
    assert said(placed(direction="N-S"), BASE, across, BESIDE, section="400 ft2") == ()


# Laws of placements.


def _labels(found):
    """Return what the weather is told to break or not to tell of."""
    return {re.split(r", |: ", each)[1] for each in found if each.startswith("By the weather, ")}


COLUMNS = ["air_temp_c", "rel_humidity", "wind_m_s", "cloud", "rain_mm"]


@settings(max_examples=examples(25), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.dictionaries(st.integers(24, 90), st.sampled_from([3.0, 46.0]), max_size=3),
    st.dictionaries(st.integers(24, 90), st.sampled_from([0.2, 5.0]), max_size=3),
    st.dictionaries(st.integers(24, 90), st.sampled_from(COLUMNS), min_size=1, max_size=4),
)
def test_weather_taken_away_takes_no_flag_away(air, rain, taken):
    """A gate that breaks or is not known does one or the other with less weather."""
    given_ = {"air_temp_c": air, "rain_mm": rain}
    less = {name: dict(values) for name, values in given_.items()}
    for row, name in taken.items():
        less.setdefault(name, {})[row] = np.nan
    full = said(placed(), BASE, BESIDE, weather=in_weather(5, **given_))
    fewer = said(placed(), BASE, BESIDE, weather=in_weather(5, **less))
    none = said(placed(), BASE, BESIDE, weather=None)
    assert _labels(full) <= _labels(fewer)
    assert UNKNOWN_WEATHER in none
    assert bool([e for e in full if "Layer '" in e]) <= bool([e for e in fewer if "Layer '" in e])
    for each in (*full, *fewer, *none):
        assert each.endswith(".")
        assert "nan" not in each


def test_every_gate_has_a_name_that_can_be_told():
    for profile in ACRYLIC.profiles:
        for gate in resolve(profile).gates:
            assert not label_of(gate).endswith(("least", "most"))


def test_flags_fit_an_entry():
    """However bad it is, the flags are no more than an entry can hold."""
    bad = in_weather(air_temp_c=np.nan, rel_humidity=np.nan, gust_m_s=np.nan, rain_mm=np.nan)
    many = [read("2 11:00", air_temp_c=0.0, instruments=tuple(f"X{n}" for n in range(20)))] * 50
    parts = [placed("2 08:00", "2 09:00", "base", area_m2=1.0)] * 60
    found = said(placed(wet_film=(), volume_l=None, batches=()), *many, *parts, weather=bad)
    assert len(placed().model_copy(update={"flags": found}).flags) <= 100
    assert placed(flags=found).flags == found
    worst = read(air_temp_c=-20.0, instruments=tuple(f"X{n}" for n in range(20)))
    assert read(flags=told(worst)).flags == told(worst)


# Other kinds.


def other(body, system=ACRYLIC):
    return check_measured(body, system=system, instruments=KNOWN, on=TODAY)


def test_moisture_against_its_limit():
    def moisture(value, limit=0.19, **more):
        return Moisture(at=NOON, moisture=value, limit=limit, method="pin meter",
                        **{"instruments": ("H1",), **more})  # fmt: skip

    assert other(moisture(0.19)) == ()
    assert other(moisture(0.22)) == ("Moisture 22 % is above its limit of 19 % (pin meter).",)
    assert other(moisture(0.191)) == ("Moisture 19.1 % is above its limit of 19.0 % (pin meter).",)
    assert other(moisture(0.1, instruments=())) == (
        "No instrument is named, so its calibration is not known.",
    )


def test_adhesion_that_fails():
    given_ = {"at": NOON, "method": "pull", "instruments": ("H1",)}
    assert other(Adhesion(**given_, passes=True, pull_off_kpa=140.0)) == ()
    assert other(Adhesion(**given_, passes=False)) == ("Adhesion does not pass.",)
    assert other(
        Adhesion(**given_, passes=False, pull_off_kpa=140.0, peel_n_m=350.0, failure="primer")
    ) == (
        "Adhesion does not pass: pulled off at 20 psi (140 kPa), peeled at 2.0 lbf/in (350 N/m), "
        "failure: primer.",
    )


def test_dry_film_against_its_layer():
    def dry(mil, layer="top", **more):
        return DryFilm(at=NOON, section="north", film_um=25.4 * mil, method="slit", layer=layer,
                       **{"instruments": ("H1",), **more})  # fmt: skip

    unknown = "so its dry film could not be checked."
    assert other(dry(13)) == ()
    assert other(dry(12)) == ("Dry film 12.0 mil (305 um) is below the 13.0 mil (330 um) of layer "
                              "'top'.",)  # fmt: skip
    assert other(dry(12, "")) == (f"No layer is named, {unknown}",)
    assert other(dry(12), system=None) == (f"The system is not known, {unknown}",)
    assert other(dry(12, "varnish")) == (
        f"Layer 'varnish' is not one of system 'acrylic_two_coat', {unknown}",
    )
    assert other(Note(at=NOON, note="rain")) == ()
