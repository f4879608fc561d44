"""The knots of the position offset: where they stand, and what runs straight between them."""

import numpy as np
import pytest

from lapkit.path.offset_knots import OffsetKnots

KNOTS = OffsetKnots(np.array([100.0, 110.0, 120.0, 130.0]))


@pytest.mark.parametrize("lasts_s", [0.0, 3.0, 10.0, 95.0, 3990.0])
def test_they_cover_a_log_every_ten_seconds(lasts_s):
    knots = OffsetKnots.covering(7.0, 7.0 + lasts_s)
    assert knots.time_s[0] == 7.0
    assert knots.time_s[-1] >= 7.0 + lasts_s
    assert knots.time_s[-1] < 7.0 + lasts_s + 10.0 or len(knots.time_s) == 2
    assert knots.step_s == pytest.approx(10.0)
    assert len(knots.time_s) >= 2


def test_a_longer_log_has_no_more_of_them_but_further_apart():
    knots = OffsetKnots.covering(0.0, 36_000.0)
    assert len(knots.time_s) == 400
    assert knots.time_s[-1] == pytest.approx(36_000.0)


@pytest.mark.parametrize("count", [4, 5])
def test_every_other_one_covers_the_same_time(count):
    knots = OffsetKnots(100.0 + 10.0 * np.arange(count))
    thin = knots.thinned()
    assert thin.time_s.tolist() == [100.0, 120.0, 140.0]
    assert thin.time_s[-1] >= knots.time_s[-1]


def test_between_them_values_run_straight_and_beyond_them_level():
    at_knots = np.random.default_rng(1).normal(size=(2, 3, 4))
    time_s = np.array([90.0, 100.0, 104.0, 110.0, 129.9, 130.0, 500.0])
    between = KNOTS.between(at_knots, time_s)
    assert between.shape == (2, 3, 7)
    for found, each in zip(between.reshape(6, 7), at_knots.reshape(6, 4), strict=True):
        np.testing.assert_allclose(found, np.interp(time_s, KNOTS.time_s, each))


def test_weights_give_the_component_along_a_direction():
    rng = np.random.default_rng(2)
    time_s, direction = rng.uniform(95.0, 135.0, 20), rng.normal(size=(20, 2))
    offset = rng.normal(size=(2, 4))
    at, weight = KNOTS.weights(time_s, direction)
    expected = np.sum(KNOTS.between(offset, time_s).T * direction, axis=1)
    np.testing.assert_allclose(np.sum(offset.ravel()[at] * weight, axis=1), expected)
