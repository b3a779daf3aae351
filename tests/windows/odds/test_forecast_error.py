"""Errors of a forecast: the shipped numbers, a file of one's own, and the chance of margins."""

from importlib.resources import files
from math import inf, nan, pi, sqrt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside import library
from scipy.stats import multivariate_normal, norm

from windows.errors import SettingsError
from windows.odds.forecast_error import (
    TEMPERATURES,
    chance_within,
    lead_days,
    load_forecast_error,
    normal,
)

OWN = """
schema = 1
source = "own: 90 days of forecasts beside the station's readings"
lead_day = [1, 3]
air_temp_bias_k = [0.5, -1.0]
air_temp_sd_k = [1.5, 2.0]
dew_point_bias_k = [-0.25, 0.0]
dew_point_sd_k = [2.0, 2.0]
rain_prob_told = [0.1, 0.5, 0.9]
rain_prob_found = [0.05, 0.3, 0.8]
"""


def own(tmp_path, text=OWN):
    path = tmp_path / "error.toml"
    path.write_text(text)
    return load_forecast_error(path)


# --- normal errors --------------------------------------------------------------------------------


def test_the_normal_chance_is_that_of_an_outside_reference(outside):
    """Relative, in both tails: the library's erfc is good to some units of the last place, and
    the outside reference takes another way."""
    z = np.concatenate([np.linspace(-37, 8, 20001), [-inf, 0.0, inf]])
    outside.agree(
        "chance of a normal error, -37 to 8 standard errors", normal(z), norm.cdf(z),
        within=1e-10, unit="%", source=library("scipy", "norm"), why="rounding",
    )  # fmt: skip
    assert np.isnan(normal(np.array([nan]))).all()
    assert normal(np.zeros((2, 3))).shape == (2, 3)


@given(st.floats(-9, 9), st.floats(-9, 9))
def test_one_error_between_two_limits(least, most):
    expected = max(norm.cdf(least) - norm.cdf(-most), 0.0)
    found = float(chance_within(np.array(least), np.array(most)))
    assert found == pytest.approx(expected, abs=1e-15, rel=1e-9)
    assert found <= min(norm.cdf(least), norm.cdf(most)) + 1e-15


def test_margins_with_one_error_are_the_limit_of_errors_that_hang_together(outside):
    """Three margins whose errors are correlated by 0.9999: about the chance of the least margin."""
    margins = np.array([0.8, 1.5, 0.9])
    together = np.full((3, 3), 0.9999) + np.diag(np.full(3, 1e-4))
    nearly = multivariate_normal(np.zeros(3), together).cdf(margins)
    found = float(chance_within(margins.min(), np.array(inf)))
    outside.agree(
        "three margins with one error", found, float(nearly), within=0.003, unit="",
        source=library("scipy", "multivariate normal, correlation 0.9999"),
    )  # fmt: skip
    assert found > nearly


def test_risk_by_margin_and_mean_error():
    """Margins of 4.5, 5.6 and 7.1 degF at mean errors of 2.8, 3.5 and 4.4 leave 10 %; 3 degF at
    2.8 leaves 20 %; none leaves one half. To the digits given."""
    for margin, mean, risk in ((4.5, 2.8, 0.1), (5.6, 3.5, 0.1), (7.1, 4.4, 0.1), (3, 2.8, 0.2)):
        sd = sqrt(pi / 2) * mean
        assert 1 - normal(np.array(margin / sd)) == pytest.approx(risk, abs=0.005)
    assert normal(np.array(0.0)) == 0.5


# --- the shipped file -----------------------------------------------------------------------------


def test_the_shipped_errors_follow_from_the_mean_errors_beside_them():
    text = (files("windows.odds") / "forecast_error.toml").read_text(encoding="utf-8")
    (line,) = (line for line in text.splitlines() if "MAE in degF by lead day" in line)
    mean = np.array([float(each) for each in line.split(":")[1].split()])
    error = load_forecast_error()
    sd = sqrt(pi / 2) * mean / 1.8
    assert error.lead_day.tolist() == list(range(1, 11))
    assert error.air_temp_sd_k.tolist() == np.round(sd, 2).tolist()
    assert error.dew_point_sd_k == pytest.approx(sd * 2.56 / 2.29, abs=0.01)  # two decimals
    assert not error.air_temp_bias_k.any()
    assert not error.dew_point_bias_k.any()
    assert (np.diff(error.air_temp_sd_k) >= 0).all()
    assert error.rain_prob(np.array([0.1, nan])).tolist() == pytest.approx([0.1, nan], nan_ok=True)


# --- lead days ------------------------------------------------------------------------------------


def test_lead_days_count_whole_days_from_the_forecast():
    made = pd.Timestamp("2026-05-04T06:00Z")
    hours = [-30, -1, 0, 23, 24, 47, 48, 240]
    index = pd.DatetimeIndex([made + pd.Timedelta(hours=h) for h in hours])
    assert lead_days(index, made).tolist() == [1, 1, 1, 1, 2, 2, 3, 11]


def test_a_day_between_has_the_later_error_and_one_beyond_the_last(tmp_path):
    error = own(tmp_path)
    found = error.standard_margin(np.full(5, 3.0), "air_temp_c", "min", np.array([1, 2, 3, 4, 99]))
    assert found == pytest.approx([(3 - 0.5) / 1.5] + [(3 + 1) / 2] * 4)
    assert error.last_day == 3


# --- margins --------------------------------------------------------------------------------------


@pytest.mark.parametrize("quantity", TEMPERATURES)
@pytest.mark.parametrize("sense", ["min", "max"])
def test_bias_moves_and_error_scales_the_margin(tmp_path, quantity, sense):
    """By drawing what comes: foretold less the bias less an error."""
    error = own(tmp_path)
    dice = np.random.default_rng(3)
    runs = 200_000
    air = 20.0 - 0.5 - 1.5 * dice.standard_normal(runs)
    dew = 12.0 + 0.25 - 2.0 * dice.standard_normal(runs)
    spread = "spread" in quantity
    foretold, came = (8.0, air - dew) if spread else (20.0, air)
    limit = foretold - 2.0 if sense == "min" else foretold + 2.0
    holds = came >= limit if sense == "min" else came <= limit
    margin = error.standard_margin(np.array([2.0]), quantity, sense, np.array([1]))
    chance = float(normal(margin)[0])
    # Four standard errors of a share.
    assert abs(holds.mean() - chance) < 4 * sqrt(chance * (1 - chance) / runs)


def test_an_unknown_margin_stays_unknown():
    error = load_forecast_error()
    found = error.standard_margin(np.array([nan, 1.0]), "spread_c", "min", np.array([1, 1]))
    assert np.isnan(found).tolist() == [True, False]
    assert np.isnan(chance_within(found, np.array([inf, inf]))).tolist() == [True, False]


# --- probabilities of rain ------------------------------------------------------------------------


def test_probabilities_come_true_along_lines(tmp_path):
    error = own(tmp_path)
    told = np.array([0.0, 0.05, 0.1, 0.3, 0.9, 0.95, 1.0, nan])
    found = [0.0, 0.025, 0.05, 0.175, 0.8, 0.9, 1.0, nan]
    assert error.rain_prob(told).tolist() == pytest.approx(found, nan_ok=True)


def test_a_file_may_say_how_often_it_rains_when_none_is_told(tmp_path):
    text = OWN.replace("[0.1, 0.5, 0.9]", "[0.0, 0.5, 1.0]").replace("[0.05,", "[0.02,")
    error = own(tmp_path, text)
    assert error.rain_prob(np.array([0.0, 0.25, 1.0])).tolist() == pytest.approx([0.02, 0.16, 0.8])


@given(st.floats(0, 1), st.floats(0, 1))
def test_a_greater_probability_never_comes_true_less_often(tmp_path_factory, one, other):
    error = own(tmp_path_factory.mktemp("own"))
    less, more = error.rain_prob(np.array(sorted((one, other))))
    assert 0 <= less <= more <= 1


# --- faults ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("lead_day = [1, 3]", "lead_day = [3, 1]", "lead_day must rise from each"),
        ("lead_day = [1, 3]", "lead_day = [1, 3, 4]",
         "air_temp_bias_k has 2 numbers for 3 of lead_day; give one for each"),
        ("[1.5, 2.0]", "[1.5, 0.0]", "key 'air_temp_sd_k 2' must be above 0, but is 0.0"),
        ("[1.5, 2.0]", "[1.5, nan]", "key 'air_temp_sd_k 2' must be a finite number, but is nan"),
        ("[0.5, -1.0]", "[50.0, -1.0]", "key 'air_temp_bias_k 1' must be at most 20"),
        ("air_temp_sd_k", "air_temp_ds_k", "did you mean 'air_temp_sd_k'?"),
        ("rain_prob_found = [0.05, 0.3, 0.8]", "",
         "give both rain_prob_told and rain_prob_found, or neither"),
        ("[0.05, 0.3, 0.8]", "[0.05, 0.3]", "rain_prob_told has 3 numbers and rain_prob_found 2"),
        ("[0.05, 0.3, 0.8]", "[0.05, 0.03, 0.8]", "rain_prob_found must not fall"),
        ("[0.1, 0.5, 0.9]", "[0.1, 0.1, 0.9]", "rain_prob_told must rise"),
        ("[0.1, 0.5, 0.9]", "[0.1, 0.5, 90]", "key 'rain_prob_told 3' must be at most 1"),
        ("schema = 1", "schema = 2", "key 'schema' must be 1, but is 2"),
        ("lead_day = [1, 3]", "lead_day = []", "key 'lead_day'"),
        ("[1, 3]", "[1, 3", "not valid TOML"),
    ],
)  # fmt: skip
def test_a_fault_is_one_sentence_that_names_the_file(tmp_path, old, new, told):
    with pytest.raises(SettingsError) as fault:
        own(tmp_path, OWN.replace(old, new, 1))
    message = str(fault.value)
    assert message.startswith(f"{tmp_path / 'error.toml'}: ")
    assert told in message
    assert "\n" not in message


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(SettingsError, match="no such file"):
        load_forecast_error(tmp_path / "none.toml")
