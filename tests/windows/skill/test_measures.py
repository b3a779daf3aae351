"""Measures of forecasts against a library, against what was put in, and at their edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside import library
from scipy.stats import binomtest, chi2

from windows.skill.measures import BINS, brier, error_of, reliability, rising, wilson

RNG = np.random.default_rng(11)
TOLD = {
    "any": RNG.random(3000),
    "percent": RNG.integers(0, 101, 3000) / 100,
    "tens": RNG.integers(0, 11, 3000) / 10,
    "low": RNG.beta(0.5, 4, 3000),
}


@pytest.mark.parametrize("name", TOLD)
def test_score_and_bins_are_those_of_a_library(name, outside):
    from sklearn.calibration import calibration_curve  # only who runs this waits for it
    from sklearn.metrics import brier_score_loss

    told = TOLD[name]
    wet = RNG.random(told.size) < told**1.4
    found = brier(told, wet)
    outside.agree(
        "Brier score, four kinds of chances", found.score, brier_score_loss(wet, told),
        within=1e-10, unit="%", source=library("scikit-learn"), why="rounding",
    )  # fmt: skip
    bins = [each for each in reliability(told, wet) if each.count]
    share, mean = calibration_curve(wet, told, n_bins=BINS, strategy="uniform")
    for ours, theirs in (("found", share), ("told", mean)):
        outside.agree(
            "calibration curve, the same", [getattr(each, ours) for each in bins], theirs,
            within=1e-4, unit="%", source=library("scikit-learn"), why="rounding",
        )  # fmt: skip
    assert sum(each.count for each in bins) == told.size


@pytest.mark.parametrize("name", TOLD)
def test_the_parts_make_the_score(name):
    told = TOLD[name]
    wet = RNG.random(told.size) < told
    found = brier(told, wet)
    whole = found.reliability - found.resolution + found.uncertainty + found.within
    assert whole == pytest.approx(found.score, abs=1e-15)
    assert found.share == wet.mean()
    assert found.skill == pytest.approx(1 - found.score / (wet.mean() * (1 - wet.mean())))
    if name == "tens":  # one value a bin: nothing is left inside the bins
        # 0 and 10 % share the first bin, so a little is.
        assert abs(found.within) < 0.001


def test_one_value_a_bin_leaves_nothing_within():
    told = RNG.integers(1, 11, 4000) / 10
    assert brier(told, RNG.random(4000) < told).within == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize("seed", range(5))
def test_true_chances_are_reliable_within_their_sampling_error(seed, outside):
    rng = np.random.default_rng(seed)
    told = rng.integers(1, 10, 5000) / 10
    wet = rng.random(5000) < told
    bins = [each for each in reliability(told, wet) if each.count]
    # The sum of squares over the variance of each bin is chi2 of as many degrees as bins.
    squares = sum(
        each.count * (each.told - each.found) ** 2 / (each.told * (1 - each.told)) for each in bins
    )
    outside.between(
        "squares of a true forecast's bins, to the most by chance", squares / chi2.ppf(0.9999, 9),
        0, 1, unit="", source=library("scipy", "chi2, 0.9999"),
    )  # fmt: skip
    assert len(bins) == 9
    assert brier(told, wet).reliability < 0.25 * chi2.ppf(0.9999, len(bins)) / 5000


def test_perfect_useless_and_misleading_chances():
    wet = RNG.random(500) < 0.3
    assert brier(wet.astype(float), wet).skill == 1
    assert brier(np.full(500, wet.mean()), wet).skill == pytest.approx(0)
    assert brier(1.0 - wet, wet).skill < 0


def test_weather_that_never_changes_has_no_skill_to_show():
    found = brier(np.full(9, 0.2), np.zeros(9, dtype=bool))
    assert found.score == pytest.approx(0.04)
    assert np.isnan(found.skill)
    assert found.uncertainty == 0


def test_nothing_told_is_not_known():
    none = brier(np.empty(0), np.empty(0, dtype=bool))
    assert none.count == 0
    assert np.isnan([none.score, none.skill, none.share]).all()
    assert error_of(np.empty(0)).count == 0
    assert np.isnan(error_of(np.empty(0)).bias)
    assert np.isnan(error_of(np.array([2.0])).sd)
    assert all(each.count == 0 for each in reliability(np.empty(0), np.empty(0, dtype=bool)))


@pytest.mark.parametrize(("hits", "count"), [(0, 1), (1, 1), (3, 10), (50, 60), (0, 40), (7, 7)])
def test_the_interval_is_that_of_a_library(hits, count, outside):
    ends = binomtest(hits, count).proportion_ci(0.95, method="wilson")
    outside.agree(
        "Wilson's interval", wilson(hits, count), (ends.low, ends.high), within=1e-6, unit="",
        source=library("scipy", "binomtest"), why="rounding",
    )  # fmt: skip


def test_errors_by_hand():
    found = error_of(np.array([1.0, -1.0, 3.0]))
    assert (found.count, found.bias, found.mae, found.sd) == (3, 1.0, pytest.approx(5 / 3), 2.0)


@given(
    st.lists(st.tuples(st.floats(0, 1), st.floats(0.01, 100)), min_size=1, max_size=40)
)
def test_the_rising_fit_is_that_of_a_library(outside, points):
    from sklearn.isotonic import IsotonicRegression

    values, weights = np.array(points).T
    order = np.arange(len(values))
    theirs = IsotonicRegression().fit(order, values, sample_weight=weights).predict(order)
    found = rising(values, weights)
    outside.agree(
        "isotonic regression, random points and weights", found, theirs, within=1e-9, unit="",
        source=library("scikit-learn", "IsotonicRegression"), why="rounding",
    )  # fmt: skip
    assert (np.diff(found) >= 0).all()
    assert weights @ found == pytest.approx(weights @ values, rel=1e-9, abs=1e-9)
