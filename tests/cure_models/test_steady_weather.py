"""Cure in steady weather: the data sheet's times at its condition, bent by other weather."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from cure_models import coating_names, load_profile
from cure_models.clock import milestone_time, start_clock
from cure_models.coating import Limits, resolve
from cure_models.drying import reference_drying
from cure_models.kinetics import CureRates
from cure_models.psychrometrics import dew_point, vapour_pressure
from cure_models.sky import black_radiation
from cure_models.steady_weather import hours_of_cure, rates_at
from cure_models.surface import HeatBalance
from cure_models.wetness import evaporation

AIR = np.linspace(0, 60, 25)
HUMIDITY = np.linspace(0.05, 1, 20)
WIND = np.array([0.0, 0.5, 1.5, 4.0, 12.0])


@pytest.mark.parametrize("limits", ["generic", "careful", "lenient"])
@pytest.mark.parametrize("name", coating_names())
def test_the_data_sheet_s_times_at_its_own_condition(name, limits, outside):
    coating = resolve(load_profile(name), limits=limits)
    ref = coating.reference
    rates = rates_at(coating, ref.temp_c, ref.rel_humidity, ref.roof_wind_m_s)
    assert rates.first == pytest.approx(1, rel=1e-3)
    assert rates.late == pytest.approx(1, rel=1e-3)
    for milestone, hours in coating.milestones.items():
        outside.agree(
            "times at the reference condition, three ends of the ranges",
            hours_of_cure(coating, rates, milestone), hours,
            within=1.0, unit="%", source="each profile's own",
        )  # fmt: skip


@pytest.mark.parametrize("name", coating_names())
def test_the_clock_says_the_same(name):
    """Two codes, one answer: a running sum over hours, and a division."""
    coating = resolve(load_profile(name))
    rates = rates_at(coating, 15.0, 0.6, 2.0)
    hours = 24 * 60
    clock = start_clock(
        CureRates(np.full(hours, rates.first), np.full(hours, rates.late)), coating.first_stage_h
    )
    for milestone, equivalent in coating.milestones.items():
        by_clock = milestone_time(clock, equivalent)[0] - 1
        wanted = float(hours_of_cure(coating, rates, milestone))
        if wanted < hours - 1:
            assert by_clock == pytest.approx(wanted, abs=2 / 3600)
        else:
            assert np.isnan(by_clock)


@pytest.mark.parametrize("name", coating_names())
def test_finite_or_never_on_the_whole_grid(name):
    coating = resolve(load_profile(name))
    rates = rates_at(
        coating, AIR[:, None, None], HUMIDITY[None, :, None], WIND[None, None, :]
    )
    for rate in rates:
        assert rate.shape == (25, 20, 5)
        assert np.isfinite(rate).all()
        assert rate.min() >= 0
        assert rate.max() <= coating.rate.cap
    hours = hours_of_cure(coating, rates, "rain_safe")
    assert not np.isnan(hours).any()
    assert (hours > 0).all()


def test_a_film_in_the_sun_dries_faster_and_one_below_the_dew_point_not_at_all():
    coating = resolve(load_profile("acrylic"))
    in_shade = rates_at(coating, 20.0, 0.5, 1.5)
    in_sun = rates_at(coating, 20.0, 0.5, 1.5, surface_temp_c=35.0)
    dewy = rates_at(coating, 20.0, 0.5, 1.5, surface_temp_c=8.0)
    assert in_sun.first > 1.3 * in_shade.first
    assert dewy.first == dewy.late == 0
    assert np.isinf(hours_of_cure(coating, dewy, "rain_safe"))


def test_a_clock_minimum_is_kept_and_the_unknown_stays_unknown():
    coating = resolve(load_profile("polyurea"))
    fast = rates_at(coating, 35.0, 0.5, 1.5)
    assert hours_of_cure(coating, fast, "rain_safe") < coating.milestones["rain_safe"]
    least = {**coating.milestone_clock_min_h, "rain_safe": 12.0}
    held = replace(coating, milestone_clock_min_h=least)
    assert hours_of_cure(held, fast, "rain_safe") == 12.0
    blind = rates_at(coating, np.nan, 0.5, 1.5)
    assert np.isnan(hours_of_cure(coating, blind, "touch"))
    with pytest.raises(ValueError, match="fraction"):
        rates_at(coating, 20.0, 50.0, 1.5)
    with pytest.raises(KeyError):
        hours_of_cure(coating, fast, "no_such_milestone")


def test_buoyancy_does_not_dry_a_fresh_film():
    """Heat from below in a calm: the film loses what the wind carries, no more."""
    coating = resolve(load_profile("asphalt_emulsion"))
    found = rates_at(coating, 20.0, 0.5, 0.4, surface_temp_c=45.0)
    vapour = vapour_pressure(dew_point(20.0, 0.5))
    walls = black_radiation(20.0)
    heat = -HeatBalance(0.0, walls, 20.0, 0.4, coating.emittance).gain(45.0)
    film = HeatBalance(heat, walls, 20.0, 0.4, coating.emittance, fixed_convection_w_m2_k=3.8 * 0.4)
    ref = coating.reference
    wanted = evaporation(film.wet(vapour).temp_c, vapour, 3.8 * 0.4) / reference_drying(
        ref.temp_c, ref.rel_humidity, ref.roof_wind_m_s, coating.emittance
    )
    assert found.first == pytest.approx(min(float(wanted), coating.rate.cap), rel=1e-6)


@pytest.mark.parametrize("name", ["butyl", "spray_rubber"])
def test_the_first_stage_is_the_same_at_every_end_of_the_ranges(name):
    stages = {resolve(load_profile(name), limits=x).first_stage_h for x in get_args(Limits)}
    assert stages == {load_profile(name).milestones["touch"].si}
