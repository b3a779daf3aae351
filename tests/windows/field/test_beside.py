"""What source and model say of the hour of a reading: as they say it, and nothing where unknown."""

import time
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_site import site as plain_site

from cure_models import psychrometrics
from cure_models.system import load_system
from windows.conditions import roof_in_table
from windows.errors import LogError
from windows.field.beside import CORRECTED, beside, model_key, source_line, sun_up, top_of
from windows.field.checked import with_beside
from windows.hours import check_hours
from windows.layers import on_top_of
from windows.log.chain import FIRST, canonical_body, linked
from windows.log.entries import Beside, Draft, Placement, Reading
from windows.provenance import Provenance
from windows.site import Roof

START = pd.Timestamp("2026-06-15T04:00Z")
SITE = plain_site(surface_offset="1.5 K")


def table(days=4, source="a source", notes=(), **given):
    hours = 24 * days
    day = np.arange(hours) / 24 * 2 * np.pi
    columns = {
        "air_temp_c": 20 - 6 * np.cos(day - 0.8), "dew_point_c": np.full(hours, 4.0),
        "wind_m_s": 3 + np.sin(day * 1.7), "rain_mm": np.zeros(hours),
        "cloud": np.clip(0.3 + 0.3 * np.sin(day / 3), 0, 1),
    } | given  # fmt: skip
    index = pd.date_range(START, periods=hours, freq="h")
    told = Provenance(source, "a test", START - pd.Timedelta("90.5s"), tuple(notes))
    return check_hours({k: v for k, v in columns.items() if v is not None}, index, told)


def at(hours):
    return START.to_pydatetime() + timedelta(hours=hours)


def test_it_is_the_hour_in_which_the_reading_was_taken():
    hours = table()
    roof = roof_in_table(hours, SITE)
    found = beside([at(50.0), at(50.99), at(60.5)], hours, SITE)
    assert found[0] == found[1]
    for each, row in ((found[0], 50), (found[2], 60)):
        assert each.air_temp_c == round(float(hours.column("air_temp_c")[row]), 2)
        assert each.dew_point_c == 4.0
        assert each.rel_humidity == round(float(roof.exposure.rel_humidity[row]), 2)
        assert each.wind_m_s == round(float(hours.column("wind_m_s")[row]), 2)
        assert each.surface_temp_c == round(float(roof.on_top.dry_c[row]), 2)
        assert each.offset_k == 1.5
        assert each.dry == bool(roof.water.wet_mm[row] == 0)
        assert each.source == "a source"
        assert each.issued == datetime(2026, 6, 15, 3, 58, 29, tzinfo=UTC)
    assert type(found[0].issued) is datetime
    # 04:00 UTC is midnight there: row 50 is 2 in the night, row 60 noon.
    assert (found[0].sun_up, found[2].sun_up) == (False, True)


def test_the_roof_may_be_given():
    hours = table()
    roof = roof_in_table(hours, SITE, start_wet_mm=0.0)
    assert beside([at(1)], hours, SITE, roof=roof)[0].dry
    assert not beside([at(1)], hours, SITE)[0].dry  # nobody has looked


def test_outside_the_table_and_without_air_there_is_nothing():
    air = table().column("air_temp_c").copy()
    air[30] = np.nan
    found = beside([at(-0.01), at(0), at(30.5), at(95.99), at(96)], table(air_temp_c=air), SITE)
    assert [each is None for each in found] == [True, False, True, False, True]
    assert beside([], table(), SITE) == []


def test_unknown_stays_unknown_and_nothing_else_changes():
    whole = beside([at(h) for h in range(96)], table(), SITE)
    for name in ("dew_point_c", "wind_m_s", "rain_mm", "cloud", "air_temp_c"):
        column = table().column(name).copy()
        column[60:63] = np.nan
        for before, after in zip(
            whole, beside([at(h) for h in range(96)], table(**{name: column}), SITE), strict=True
        ):
            if after is None:
                continue
            for key, value in after.model_dump().items():
                assert value in (None, getattr(before, key)) or (key, value) == ("dry", False), key
    rain = np.zeros(96)
    rain[60] = 2.0
    wet = beside([at(60.5)], table(rain_mm=rain), SITE)[0]
    assert (wet.dry, whole[60].dry) == (False, True)


def test_a_sensor_stands_in_the_place_of_the_model():
    found = beside([at(50)], table(surface_temp_c=np.full(96, 30.0)), SITE)[0]
    assert found.surface_temp_c is None
    assert found.air_temp_c is not None


def test_moisture_from_the_humidity_where_that_is_all_there_is():
    given = beside([at(50)], table(dew_point_c=None, rel_humidity=np.full(96, 0.5)), SITE)[0]
    assert given.rel_humidity == 0.5
    air = table().column("air_temp_c")[50]
    assert given.dew_point_c == pytest.approx(psychrometrics.dew_point(air, 0.5), abs=0.005)


def test_what_an_entry_cannot_hold_is_left_out():
    cold = table(air_temp_c=np.full(96, -58.0), dew_point_c=np.full(96, -65.0))
    found = beside([at(50)], cold, SITE)[0]
    assert (found.air_temp_c, found.dew_point_c) == (-58.0, None)
    colder = table(air_temp_c=np.full(96, -70.0), dew_point_c=np.full(96, -75.0))
    assert beside([at(50)], colder, SITE) == [None]


def test_an_entry_takes_it_and_gives_it_back():
    found = beside([at(60)], table(), SITE)[0]
    reading = Reading(at=at(60), air_temp_c=20.0, beside=found)
    again = Reading.model_validate_json(reading.model_dump_json(exclude_none=True))
    assert again == reading
    assert Beside.model_validate(found.model_dump()) == found


def test_a_source_is_told_on_one_line():
    told = source_line(table(source=" a\tlong\nname \x07 " + 300 * "x"))
    assert told == "a long name " + 188 * "x"
    odd = "Wetter in Mu\u0308nchen"  # as two signs; entries have it as one
    assert beside([at(1)], table(source=odd), SITE)[0].source == source_line(table(source=odd))
    assert beside([at(1)], table(source="a\nb"), SITE)[0].source == "a b"


def test_the_model_it_was_worked_out_with_is_kept_and_left_out_where_nobody_tells_it():
    key = model_key(SITE)
    (found,) = beside([at(60)], table(), SITE, model=key)
    assert found.model == key
    assert found.model_copy(update={"model": ""}) == beside([at(60)], table(), SITE)[0]
    without = Reading(at=at(60), air_temp_c=20.0, beside=beside([at(60)], table(), SITE)[0])
    assert b"model" not in canonical_body(without)
    assert key.encode() in canonical_body(without.model_copy(update={"beside": found}))


OTHER_ROOFS = (
    plain_site(deck="concrete"), plain_site(absorptance=0.81), plain_site(emittance=0.91),
    plain_site(heat_capacity="50 kJ/m2K"), plain_site(u_value="1 W/m2K"),
    plain_site(indoor="25 degC"), plain_site(wind_share=0.5), plain_site(sky_view=0.9),
    plain_site(water_film="0.4 mm"), plain_site(ponded_share=0.1), plain_site(pond_depth="5 mm"),
)  # fmt: skip


def test_every_number_of_the_model_has_a_part_in_its_key():
    keys = {model_key(site) for site in (SITE, *OTHER_ROOFS)}
    assert len(keys) == 1 + len(OTHER_ROOFS)
    assert all(len(key) == 12 and int(key, 16) >= 0 for key in keys)
    # A new number of a roof is to be among them, unless it moves no temperature.
    tried = set().union(*(site.roof.model_fields_set for site in OTHER_ROOFS))
    assert set(Roof.model_fields) == tried | {"surface_offset"}


@given(
    area=st.floats(1.0, 1e5),
    offset=st.floats(-15.0, 15.0),
    name=st.sampled_from(["a roof", "another"]),
)
def test_names_area_and_offset_have_none(area, offset, name):
    roof = SITE.roof.model_copy(update={"area": area, "surface_offset": offset})
    surface = SITE.surface.model_copy(update={"name": name, "slick_when_wet": True})
    other = SITE.model_copy(update={"name": name, "roof": roof, "surface": surface})
    assert model_key(other) == model_key(SITE) == model_key(plain_site())


def test_a_deck_counts_by_its_numbers():
    deck = SITE.roof.assembly
    own = {
        "heat_capacity": f"{deck.heat_capacity_kj_m2_k!r} kJ/m2K",
        "u_value": f"{deck.u_value_w_m2_k!r} W/m2K",
    }
    assert model_key(plain_site(**own)) == model_key(SITE)
    assert model_key(plain_site(deck="concrete", **own)) == model_key(SITE)


def test_the_desk_keeps_the_key_of_the_site_file_whatever_is_laid():
    system = load_system("silicone_two_coat")
    desk = SimpleNamespace(site=SITE, system=system, weather=table())
    base = Placement(
        at=at(10), end=at(12), section="A", layer=system.layers[0].name, area_m2=10.0
    )
    before = [linked(Draft("Ann", base), 1, at(12), FIRST)]
    readings = [Reading(at=at(60), section=name, air_temp_c=20.0) for name in ("A", "B")]
    coated, bare = (each.beside for each in with_beside(desk, readings, before))
    assert coated.surface_temp_c != bare.surface_temp_c
    assert coated.model == bare.model == model_key(SITE)


def test_a_corrected_table_is_refused():
    with pytest.raises(AssertionError, match="what the source itself says"):
        beside([at(1)], table(notes=(CORRECTED + "air",)), SITE)


def test_all_at_once_is_one_by_one():
    hours, rng = table(), np.random.default_rng(1)
    times = [at(float(h)) for h in rng.uniform(-5, 101, 40)]
    assert beside(times, hours, SITE) == [beside([t], hours, SITE)[0] for t in times]
    assert beside(pd.DatetimeIndex(times), hours, SITE) == beside(times, hours, SITE)


def test_the_sun_is_up_by_day():
    up = sun_up(table().index, SITE)
    assert up[:24].tolist() == [False] * 6 + [True] * 14 + [False] * 4  # from midnight, in June


def test_a_hundred_thousand_readings_take_a_second():
    hours = table(days=400)
    times = [at(0) + timedelta(minutes=5 * n) for n in range(100_000)]
    began = time.process_time()
    found = beside(times, hours, SITE)
    took = time.process_time() - began
    assert sum(each is not None for each in found) == 100_000
    assert took < 1.5  # 0.5 s on a machine that does nothing else


def test_what_lies_on_top_once_layers_are_laid():
    system = load_system("silicone_two_coat")
    assert top_of(SITE, system, 0) is SITE
    for n, profile in enumerate(system.profiles, 1):
        assert top_of(SITE, system, n) == on_top_of(SITE, profile)
    with pytest.raises(LogError, match="layers are told as laid, and the system has"):
        top_of(SITE, system, len(system.profiles) + 1)
    with pytest.raises(LogError):
        top_of(SITE, system, -1)
