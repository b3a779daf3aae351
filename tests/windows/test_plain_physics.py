"""The fast physics against a plain loop of the same equations, on a real year with gaps."""

import numpy as np
import nyc_weather
import pandas as pd
import pytest
from plain_physics import from_site

import windows.conditions
from cure_models import load_profile
from cure_models.coating import resolve
from windows.conditions import coated, roof_in_table
from windows.hours import check_hours
from windows.provenance import Provenance
from windows.site import Site


def site(deck):
    return Site.model_validate(
        {
            "name": "test roof at an airport",
            "latitude": 40.6398,
            "longitude": -73.7789,
            "elevation": "300 m",
            "timezone": "America/New_York",
            "roof": {
                "area": "1,000 m2", "deck": deck, "sky_view": 0.9, "ponded_share": 0.1,
                "pond_depth": "4 mm",
            },
            "surface": {"name": "gray membrane", "absorptance": 0.6, "emittance": 0.9},
            "crew": {"start": "07:00", "end": "17:30"},
        }
    )  # fmt: skip


def year(hours=8730):
    """JFK 2013 with an invented cloud, a day without cloud, and holes in wind and rain."""
    table = nyc_weather.table("JFK").iloc[:hours]
    rng = np.random.default_rng(3)
    columns = {
        name: table[name].to_numpy(np.float64).copy()
        for name in ("air_temp_c", "dew_point_c", "wind_m_s", "rain_mm")
    }
    columns["cloud"] = np.clip(rng.normal(0.5, 0.4, len(table)), 0, 1)
    columns["cloud"][3000:3024] = np.nan
    columns["wind_m_s"][rng.random(len(table)) < 0.002] = np.nan
    columns["rain_mm"][rng.random(len(table)) < 0.002] = np.nan
    return columns, table.index


@pytest.mark.parametrize(
    ("name", "deck"),
    [("acrylic", "metal_insulated"), ("spray_rubber", "concrete"), ("butyl", "wood"),
     ("silicone_high_solids", "standing_seam")],
)  # fmt: skip
def test_every_quantity_of_every_hour_is_the_same(name, deck, monkeypatch, outside):
    monkeypatch.setattr(windows.conditions, "_decimal", lambda values, name="": values)
    columns, index = year()
    place, coating = site(deck), resolve(load_profile(name), dry_film_um=400.0)
    table = check_hours(columns, pd.DatetimeIndex(index), Provenance("test", "JFK"))
    fast = coated(roof_in_table(table, place), coating)
    slow = from_site(columns, index, place, coating)
    assert len(slow) == 8730
    for quantity in slow[0]:
        outside.agree(
            f"{quantity}, four decks and laws", fast.quantity(quantity),
            [row[quantity] for row in slow], within=1e-9, unit="",
            source="a plain loop, tests/plain_physics.py", why="rounding", unknown_alike=True,
        )  # fmt: skip
