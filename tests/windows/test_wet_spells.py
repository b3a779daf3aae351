"""Wet spells: why the roof is wet, and when it is dry, by the hour and inside it."""

import numpy as np
import pandas as pd
import pytest
from plain_site import site

from windows.conditions import roof_in_table
from windows.hours import check_hours
from windows.provenance import Provenance
from windows.roof import drying
from windows.wet_spells import wet_spells

NAN = float("nan")
START = pd.Timestamp("2026-06-15T00:00Z")
NIGHT, NOON = 5, 17  # rows: 00:00 and 12:00 by the sun


def found(place=None, start_wet_mm=0.0, hours=72, **given):
    weather = {
        "air_temp_c": 22.0, "dew_point_c": 8.0, "wind_m_s": 3.0, "rain_mm": 0.0, "cloud": 0.2,
    } | given  # fmt: skip
    columns = {
        name: np.broadcast_to(np.asarray(value, np.float64), hours).copy()
        for name, value in weather.items()
    }
    index = pd.date_range(START, periods=hours, freq="h")
    table = check_hours(columns, index, Provenance("test", "a test"))
    roof = roof_in_table(table, place or site(), start_wet_mm=start_wet_mm)
    return wet_spells(roof, table.index), roof


def rain(hours=72, **at):
    values = np.zeros(hours)
    for row, amount in at.items():
        values[int(row[1:])] = amount
    return values


def test_a_dry_roof_has_no_spell():
    assert found()[0] == ()


def test_rain_dries_by_the_same_transfer_as_dew_forms():
    (spell,), _ = found(rain_mm=rain(h17=0.3))
    assert spell.start == START + pd.Timedelta(hours=NOON)
    assert spell.causes == ("rain",)
    assert spell.most_mm == pytest.approx(0.3)
    # The hour of the rain ends wet unless all could go in it; then the film goes within the next.
    assert START + pd.Timedelta(hours=NOON + 1) <= spell.dry <= START + pd.Timedelta(hours=NOON + 2)
    later = found(rain_mm=rain(h17=0.3), cloud=1.0, wind_m_s=0.5, dew_point_c=20.0)[0][0]
    assert later.dry > spell.dry


def test_the_moment_inside_the_hour_is_what_is_left_over_what_can_go():
    (spell,), roof = found(rain_mm=rain(h5=0.5), wind_m_s=2.0)
    loss = drying(roof.exposure, roof.on_top)
    left, hour = 0.5, NIGHT
    while left > loss[hour]:
        left -= loss[hour]
        hour += 1
    wanted = START + pd.Timedelta(hours=hour + left / loss[hour])
    assert abs(spell.dry - wanted) < pd.Timedelta(seconds=2)


def test_ponds_dry_later_and_only_where_the_site_names_them():
    wet = {"rain_mm": rain(h5=9.0)}
    plain = found(**wet)[0][0]
    ponded = found(site(ponded_share=0.05, pond_depth="3 mm"), **wet)[0][0]
    assert plain.ponds_dry is None
    assert ponded.dry == plain.dry
    assert ponded.ponds_dry > ponded.dry + pd.Timedelta(hours=2)
    deep = found(site(ponded_share=0.05, pond_depth="50 mm"), rain_mm=rain(h5=60.0))[0][0]
    assert deep.ponds_dry is None  # not within these three days


def test_dew_and_frost():
    dew = found(air_temp_c=15.0, dew_point_c=13.5, wind_m_s=0.5, cloud=0.0)[0]
    assert all(spell.causes == ("dew",) for spell in dew)
    assert len(dew) >= 2  # a night each
    assert dew[1].dry.hour in range(10, 16)  # 6 to 11 o'clock by the sun
    frost = found(air_temp_c=1.0, dew_point_c=-1.0, wind_m_s=0.5, cloud=0.0)[0]
    assert "frost" in {cause for spell in frost for cause in spell.causes}


def test_snow_lies_until_it_has_melted_and_dried():
    air = np.full(72, -3.0)
    air[30:] = 6.0
    (spell, *_), _ = found(
        air_temp_c=air, dew_point_c=air - 6.0, rain_mm=rain(h5=4.0), cloud=1.0
    )
    assert spell.causes[0] == "snow"
    assert spell.most_mm == pytest.approx(4.0, abs=0.6)
    # 4 mm melt at 0.2 x 6 = 1.2 mm an hour: not before the fourth hour of thaw.
    assert spell.dry > START + pd.Timedelta(hours=33)


def test_what_is_not_known_is_no_dry_roof():
    hole = rain()
    hole[NIGHT] = NAN
    (spell,), _ = found(rain_mm=hole)
    assert spell.causes == ("not known",)
    assert np.isnan(spell.most_mm)
    assert spell.dry is not None
    end = rain()
    end[-1] = NAN
    (last,), _ = found(rain_mm=end)
    assert last.dry is None
    nobody_looked = found(start_wet_mm=None)[0][0]
    assert nobody_looked.start == START
    assert nobody_looked.causes == ("not known",)
