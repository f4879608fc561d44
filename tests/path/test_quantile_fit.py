"""Quantiles of values under many weightings, with a slope, a prior and values far off."""

import numpy as np
import pytest

from lapkit.path.quantile_fit import Prior, QuantileRegression

NOTHING_KNOWN = Prior(np.zeros(1), np.full(1, 100.0))


def level(values, counts, prior=NOTHING_KNOWN):
    """The quarter quantile of values that all have the same unknown, one for each weighting."""
    return QuantileRegression(0.25, values, np.ones((len(values), 1)), prior).fit(counts).at_m[:, 0]


def test_a_quarter_of_the_values_falls_short():
    values = np.random.default_rng(1).normal(0.3, 3.0, 9000)
    (found,) = level(values, np.ones((1, 9000)))
    assert np.mean(values < found) == pytest.approx(0.25, abs=0.01)


def test_each_weighting_is_fitted_by_itself():
    rng = np.random.default_rng(2)
    values = np.concatenate([rng.normal(0.0, 0.5, 500), rng.normal(2.0, 0.5, 500)])
    first = np.repeat([1.0, 0.0], 500)
    found = level(values, np.stack([first, 1.0 - first]))
    alone = [np.quantile(part, 0.25) for part in np.split(values, 2)]
    np.testing.assert_allclose(found, alone, atol=0.04)


def test_a_slope_is_found_beside_values_far_off():
    rng = np.random.default_rng(3)
    x = rng.uniform(-1.0, 1.0, 600)
    values = 0.5 + 1.5 * x + rng.normal(0.0, 0.2, 600)
    values[::20] += 30.0
    design = np.stack([np.ones(600), x], axis=1)
    prior = Prior(np.zeros(2), np.full(2, 10.0))
    ((level_m, slope),) = (
        QuantileRegression(0.25, values, design, prior).fit(np.ones((1, 600))).at_m
    )
    assert slope == pytest.approx(1.5, abs=0.06)
    assert level_m == pytest.approx(0.5 - 0.6745 * 0.2, abs=0.04)


def test_few_values_stay_near_what_was_believed():
    prior = Prior(np.array([0.6]), np.array([0.1]))
    (few,) = level(np.array([2.0]), np.ones((1, 1)), prior)
    (many,) = level(np.full(2000, 2.0), np.ones((1, 2000)), prior)
    assert 0.6 < few < 0.8
    assert many == pytest.approx(2.0, abs=0.05)


def test_near_what_is_to_be_found_half_of_the_rounds_find_it():
    values = np.random.default_rng(4).normal(0.3, 1.0, 400)
    regression = QuantileRegression(0.25, values, np.ones((400, 1)), NOTHING_KNOWN)
    counts = np.ones((1, 400))
    whole = regression.fit(counts).at_m
    again = regression.fit(counts, whole[0] + 0.1).at_m
    np.testing.assert_allclose(again, whole, atol=0.01)


def test_values_that_are_all_the_same_are_no_division_by_nothing():
    regression = QuantileRegression(0.25, np.full(50, 0.5), np.ones((50, 1)), NOTHING_KNOWN)
    fit = regression.fit(np.ones((1, 50)))
    assert fit.at_m[0, 0] == pytest.approx(0.5, abs=1e-3)
    assert fit.spread_m[0] > 0.0
