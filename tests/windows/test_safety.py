"""The crew's safety: stops on top of a coating's go, and what a crew is told."""

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
from mild_hour import MILD

from cure_models import coating_names, load_profile
from cure_models.coating import resolve
from cure_models.sourced import BASES
from windows import safety
from windows.conditions import Conditions
from windows.gates import State, check_coating
from windows.safety import cautions, safety_notes, safety_stops, stop_label
from windows.search import search
from windows.site import SafetyStops, Site

NAN = float("nan")
MPH = 0.44704


def mild(hours=8, absent=(), **given):
    """Conditions of hours in which everything is fine, but for what is given."""
    arrays = {
        f.name: np.broadcast_to(np.asarray(given.get(f.name, MILD[f.name]), np.float64), hours)
        for f in fields(Conditions) if f.name != "absent"
    }  # fmt: skip
    arrays |= {name: np.full(hours, NAN) for name in absent}
    return Conditions(**arrays, absent=frozenset(absent))


def site(slick=False, **safety):
    return Site.model_validate(
        {
            "name": "a roof",
            "latitude": 40.0,
            "longitude": -75.0,
            "elevation": "10 m",
            "timezone": "America/New_York",
            "roof": {"area": "1,000 m2", "deck": "wood"},
            "surface": {
                "name": "x", "absorptance": 0.6, "emittance": 0.9, "slick_when_wet": slick,
            },
            "crew": {"start": "07:00", "end": "17:00"},
            "safety": safety,
        }
    )  # fmt: skip


def found(conditions, roof=None):
    """Search with a coating that minds nothing in these hours."""
    whole = resolve(load_profile("polyurea"))
    easy = replace(
        whole, gates=tuple(replace(g, limit=-90.0) for g in whole.gates if g.name == "air_temp_min")
    )
    checked = check_coating(easy, conditions)
    assert (checked.state == State.OK).all()
    hours = len(conditions.wind_m_s)
    return search(
        checked,
        checked,
        conditions,
        pd.date_range("2026-05-04T12:00Z", periods=hours, freq="h"),
        np.zeros(hours, dtype=np.int64),
        safety_stops(conditions, roof or site()),
        (roof or site()).safety,
    )


def one(value, other):
    """Eight hours with an odd one at 4."""
    return [other] * 4 + [value] + [other] * 3


STOPS = {
    "heat": {"heat_index_c": one(46.2, 20)},
    "wind": {"wind_m_s": one(25.1 * MPH, 2)},
    "gust": {"gust_m_s": one(35.1 * MPH, 3)},
    "lightning": {"thunder_prob": one(0.31, 0)},
}


@pytest.mark.parametrize("name", STOPS)
def test_a_stop_overrides_the_go_of_a_coating(name):
    result = found(mild(**STOPS[name]))
    assert result.hour.tolist() == one(State.BLOCKED, State.OK)
    assert result.safety.tolist() == one(State.BLOCKED, State.OK)
    assert [w.hours for w in result.windows] == [4, 3]
    lost = {entry.name: entry.alone for entry in result.lost}
    assert lost[f"safety_{name}"] == 1
    assert sum(lost.values()) == 1


@pytest.mark.parametrize(
    ("quantity", "limit"),
    [("wind_m_s", 25 * MPH), ("gust_m_s", 35 * MPH), ("thunder_prob", 0.3), ("heat_index_c", 46.1)],
)
def test_at_the_limit_work_goes_on(quantity, limit):
    assert (found(mild(**{quantity: limit})).hour == State.OK).all()


@pytest.mark.parametrize("quantity", ["heat_index_c", "wind_m_s", "gust_m_s", "thunder_prob"])
def test_unknown_weather_is_no_go(quantity):
    result = found(mild(**{quantity: one(NAN, MILD[quantity])}))
    assert result.hour.tolist() == one(State.UNKNOWN, State.OK)


@pytest.mark.parametrize("quantity", ["gust_m_s", "thunder_prob"])
def test_a_column_that_the_source_lacks_is_left_out(quantity):
    lacking = found(mild(absent=(quantity,)))
    assert (lacking.hour == State.OK).all()
    # The same column, there and empty, is unknown weather.
    empty = found(mild(**{quantity: NAN}))
    assert (empty.hour == State.UNKNOWN).all()


def test_frost_stops_everybody():
    frost = mild(surface_temp_c=one(-1, 5), spread_c=one(-0.2, 4))
    ice = mild(surface_temp_c=one(0, 5), wet_mm=one(0.1, 0))
    for conditions in (frost, ice):
        assert found(conditions).hour.tolist() == one(State.BLOCKED, State.OK)


def test_dew_stops_on_a_slick_surface_only():
    dew = mild(wet_mm=one(0.05, 0))
    assert found(dew, site(slick=True)).hour.tolist() == one(State.BLOCKED, State.OK)
    assert (found(dew, site(slick=False)).hour == State.OK).all()
    forming = mild(spread_c=one(0.0, 5))
    assert found(forming, site(slick=True)).hour.tolist() == one(State.BLOCKED, State.OK)


def test_an_unknown_film_is_no_go_where_it_matters():
    unknown = mild(wet_mm=one(NAN, 0))
    assert found(unknown, site(slick=True)).hour[4] == State.UNKNOWN
    assert found(unknown, site(slick=False)).hour[4] == State.OK  # warm and not slick
    freezing = mild(wet_mm=one(NAN, 0), surface_temp_c=one(-2, 5))
    assert found(freezing).hour[4] == State.UNKNOWN
    no_surface = mild(surface_temp_c=one(NAN, 5), wet_mm=one(0.1, 0))
    assert found(no_surface).hour[4] == State.UNKNOWN  # wet, and maybe ice
    nothing = mild(surface_temp_c=one(NAN, 5), wet_mm=one(NAN, 0), spread_c=one(NAN, 4))
    assert found(nothing).hour[4] == State.UNKNOWN


def test_the_stricter_limit_of_the_site_applies_and_a_laxer_one_does_not():
    breezy = mild(wind_m_s=one(16 * MPH, 2))
    assert (found(breezy).hour == State.OK).all()
    assert found(breezy, site(wind="15 mph")).hour[4] == State.BLOCKED
    storm = mild(wind_m_s=one(30 * MPH, 2), gust_m_s=one(50 * MPH, 3), heat_index_c=one(50, 20))
    lax = site(wind="60 mph", gust="60 mph", heat_index="140 degF")
    stops = safety_stops(storm, lax)
    for name in ("wind", "gust", "heat"):
        assert stops[name].tolist() == one(State.BLOCKED, State.OK), name
    hot = mild(heat_index_c=one(36, 20), gust_m_s=one(26 * MPH, 3))
    strict = safety_stops(hot, site(heat_index="95 degF", gust="25 mph"))
    assert strict["heat"][4] == strict["gust"][4] == State.BLOCKED


@pytest.mark.parametrize(
    ("name", "own", "told"),
    [
        ("gust", {}, "gust at 10 m, most 35 mph"),
        ("gust", {"gust": "20 mph"}, "gust at 10 m, most 20 mph (the site's own limit)"),
        ("gust", {"gust": "10 m/s"}, "gust at 10 m, most 22.4 mph (the site's own limit)"),
        ("gust", {"gust": "60 mph", "wind": "5 mph"}, "gust at 10 m, most 35 mph"),
        ("wind", {"wind": "25 mph"}, "mean wind at 10 m, most 25 mph"),
        ("heat", {"heat_index": "35 degC"}, "heat index, most 95 degF (the site's own limit)"),
        ("slip", {"wind": "5 mph"}, "frost, or dew on a slick surface"),
    ],
)
def test_a_stop_is_told_with_the_limit_that_stops(name, own, told):
    assert stop_label(name, SafetyStops.model_validate(own)) == told


def made_up(monkeypatch, **changed):
    """Ship one more stop, against working in hours of little wind."""
    entry = {
        "label": "wind that carries vapor off, least", "quantity": "wind_m_s", "sense": "min",
        "dimension": "speed", "own": "wind",
        "limit": {"value": 2, "unit": "m/s", "source": "own choice: for this test"},
    } | changed  # fmt: skip
    shipped = safety._safety()
    stops = shipped.stop | {"calm": safety.Stop.model_validate(entry)}
    monkeypatch.setattr(safety, "_safety", lambda: shipped.model_copy(update={"stop": stops}))


@pytest.mark.parametrize(("own", "limit"), [(None, 2.0), (1.0, 2.0), (2.0, 2.0), (3.0, 3.0)])
def test_a_stop_with_a_least_is_only_ever_tightened(monkeypatch, own, limit):
    made_up(monkeypatch)
    roof = site() if own is None else site(wind=f"{own:g} m/s")
    for wind, state in ((limit - 0.01, State.BLOCKED), (limit, State.OK), (NAN, State.UNKNOWN)):
        assert (safety_stops(mild(wind_m_s=wind), roof)["calm"] == state).all(), (own, wind)
    looser = [note for note in safety_notes(roof) if "own calm limit is looser" in note]
    assert len(looser) == (own == 1.0)
    assert ("the site's own limit" in stop_label("calm", roof.safety)) == (own == 3.0)


def test_each_limit_of_a_site_tightens_a_stop():
    own = [each.own for each in safety._safety().stop.values() if each.own is not None]
    assert sorted(own) == sorted(SafetyStops.model_fields)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"own": "winds"}, "own 'winds' is no limit of a site; did you mean 'wind'?"),
        ({"dimension": "temperature"}, "unit 'm/s' is not one of temperature"),
    ],
)
def test_a_stop_that_nothing_can_read_is_a_fault(monkeypatch, changed, told):
    with pytest.raises(ValueError, match=told):
        made_up(monkeypatch, **changed)


def test_lost_hours_are_told_with_the_limit_that_stops():
    windy = found(mild(gust_m_s=one(21 * MPH, 3)), site(gust="20 mph"))
    assert [each.label for each in windy.lost if each.alone] == [
        "gust at 10 m, most 20 mph (the site's own limit)"
    ]


@pytest.mark.parametrize("mph", range(1, 25))
def test_a_wind_equal_to_the_limit_of_the_site_is_no_stop(mph):
    windy = mild(wind_m_s=round(mph * MPH, 4))
    assert (safety_stops(windy, site(wind=f"{mph} mph"))["wind"] == State.OK).all()
    windier = mild(wind_m_s=round((mph + 0.1) * MPH, 4))
    assert (safety_stops(windier, site(wind=f"{mph} mph"))["wind"] == State.BLOCKED).all()


def texts(conditions, coating=None, first=0, end=3):
    told = cautions(conditions, coating or resolve(load_profile("acrylic")), first, end)
    assert all(entry.source.startswith(BASES) for entry in told)
    return [entry.text for entry in told]


VAPOURS = {
    "isocyanate": "Isocyanate",
    "solvent": "Solvent",
    "monomer": "Monomer",
    "ammonia": "Ammonia",
    "coagulant_runoff": "Coagulant",
    "washoff_runoff": "Rain before set",
}


@pytest.mark.parametrize("name", coating_names())
def test_every_go_carries_the_fall_edge_and_the_vapours_of_its_chemistry(name):
    coating = resolve(load_profile(name))
    told = texts(mild(), coating)
    assert told[0].startswith("Fall edge")
    expected = {VAPOURS[hazard] for hazard in coating.profile.hazards}
    assert expected
    assert {v for v in VAPOURS.values() if any(t.startswith(v) for t in told)} == expected


def test_every_window_carries_cautions():
    result = found(mild(**STOPS["wind"]))
    for window in result.windows:
        assert window.cautions[0].text.startswith("Fall edge")
        assert any(entry.text.startswith("Isocyanate") for entry in window.cautions)


def says(told, word):
    return any(text.startswith(word) for text in told)


def test_slick_film_is_told_after_a_wet_or_unknown_night():
    for night in ({"wet_mm": 0.1}, {"wet_mm": NAN}, {"spread_c": -0.1}, {"spread_c": NAN}):
        ((name, value),) = night.items()
        hours = [MILD[name]] * 20
        hours[5] = value
        assert says(texts(mild(20, **{name: hours}), first=16, end=19), "Slick film"), night
        assert not says(texts(mild(20, **{name: hours}), first=18, end=20), "Slick film"), night


def test_before_the_first_row_nothing_is_known_to_be_dry():
    assert says(texts(mild(), first=0), "Slick film")
    assert not says(texts(mild(), first=2, end=5), "Slick film")


def test_bands_of_heat_wind_and_thunder():
    def told(**given):
        return texts(mild(**given))

    assert not says(told(heat_index_c=32.7), "Heat")
    assert says(told(heat_index_c=one(32.8, 20)[::-1]), "Heat: moderate") is False  # hour 3
    assert says(told(heat_index_c=[20, 32.8, 20, 20, 20, 20, 20, 20]), "Heat: moderate")
    assert says(told(heat_index_c=39.5), "Heat: high")
    assert not says(told(wind_m_s=19 * MPH), "Wind: above")
    assert says(told(wind_m_s=20 * MPH), "Wind: above")
    assert says(told(gust_m_s=21 * MPH), "Wind: above")
    assert says(told(absent=("gust_m_s",), wind_m_s=21 * MPH), "Wind: above")
    assert says(told(absent=("thunder_prob",)), "Lightning: not in this weather source")
    assert says(told(thunder_prob=0.1), "Lightning: thunder is possible")
    assert not says(told(thunder_prob=0.09), "Lightning")


def test_cautions_of_the_coating_itself():
    assert says(texts(mild(wind_m_s=5.0)), "Wind, screens above 10 mph")
    assert not says(texts(mild(wind_m_s=4.0)), "Wind, screens")
    silicone = resolve(load_profile("silicone_high_solids"))
    assert says(texts(mild(rel_humidity=0.25), silicone), "Relative humidity, slow cure below")
