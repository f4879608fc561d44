"""Roughness along and across the heading: what it weighs, what it learns, and in how much doubt it is."""

import numpy as np
import pytest
from scipy.interpolate import BSpline
from scipy.special import digamma
from scipy.stats import invgamma

from lapkit.path.pooling import over_time
from lapkit.path.priors import both_axes, rough_band, smooth_band
from lapkit.path.roughness import Roughness, snap_at_knots
from lapkit.path.spline import DEGREE, Knots, penalty_block

KNOTS = Knots(0.0, 0.2, 300)


def straight(speed_mps, towards_rad=0.0):
    """Coefficients of a straight ride; a uniform spline gives back a line through its own coefficients."""
    at = KNOTS.start_s + KNOTS.spacing_s * (np.arange(KNOTS.coefficients) - 0.5 * (DEGREE - 1))
    way = np.array([np.cos(towards_rad), np.sin(towards_rad)])
    return speed_mps * at[:, None] * way


def rough_ride(along, across, rng):
    """A ride to the east whose fourth derivative is white, drawn from the prior's own precision."""
    size = KNOTS.coefficients
    precision = 1e-9 * np.eye(size)
    for first in range(KNOTS.intervals):
        part = slice(first, first + DEGREE + 1)
        precision[part, part] += penalty_block(4, KNOTS.spacing_s)
    factor = np.linalg.cholesky(precision)
    bumps = np.linalg.solve(factor.T, rng.standard_normal((size, 2)))
    return straight(30.0) + bumps * [along, across]


def dense(couplings):
    """A symmetric band ``(6, coefficients)``, diagonal last, as a whole matrix."""
    whole = np.zeros((couplings.shape[1], couplings.shape[1]))
    for back in range(DEGREE + 1):
        below = np.diag(couplings[DEGREE - back][back:], -back)
        whole += below if back == 0 else below + below.T
    return whole


@pytest.mark.parametrize("towards_rad", [0.0, 0.7, 0.5 * np.pi, -2.0])
def test_the_prior_weighs_what_happens_along_and_across(towards_rad):
    rng = np.random.default_rng(3)
    levels = rng.uniform(1.0, 9.0, (2, KNOTS.intervals))
    even = Roughness.even(KNOTS, straight(20.0, towards_rad), 1.0)
    band = rough_band(KNOTS, Roughness(*levels, even.freedom, even.ahead))
    path = rng.standard_normal((KNOTS.coefficients, 2))
    x, y = path.T
    east, mixed, north = (dense(pair) for pair in band)
    weighed = x @ east @ x + 2.0 * x @ mixed @ y + y @ north @ y
    # scipy's own spline, its fourth derivative squared and summed by Gauss's rule of three points, which is
    # exact for it: the derivative is linear in each interval.
    at = KNOTS.spacing_s * np.arange(-DEGREE, KNOTS.intervals + DEGREE + 1)
    snap = BSpline(at, path, DEGREE).derivative(4)
    places, weights = np.polynomial.legendre.leggauss(3)
    expected = 0.0
    turn = np.array([even.ahead[:, 0], even.left[:, 0]])
    for place, weight in zip(places, weights, strict=True):
        times = KNOTS.middle_s + 0.5 * KNOTS.spacing_s * place
        both = turn @ snap(times).T
        expected += 0.5 * KNOTS.spacing_s * weight * np.sum(np.square(both / levels))
    assert weighed == pytest.approx(expected, rel=1e-9)


def test_the_same_roughness_both_ways_is_the_plain_prior():
    level = np.random.default_rng(1).uniform(1.0, 9.0, KNOTS.intervals)
    even = Roughness.even(KNOTS, straight(20.0, 0.4), 1.0)
    rough = Roughness(level, level, even.freedom, even.ahead)
    np.testing.assert_allclose(
        rough_band(KNOTS, rough), both_axes(smooth_band(KNOTS, level)), rtol=1e-9, atol=1e-6
    )


def posterior(level, share, rng):
    """Mean of a ride and deviations, where a log shows it so well that a share of the prior's variance is gone."""
    known, unknown = level * np.sqrt(share), level * np.sqrt(1.0 - share)
    straight_on = straight(30.0)
    away = [rough_ride(*unknown, rng) - straight_on for _ in range(16)]
    return rough_ride(*known, rng), np.stack(away, axis=2)


@pytest.mark.parametrize("share", [1.0, 0.4])
def test_learning_stays_where_the_levels_are_right_however_little_is_known(share):
    rng = np.random.default_rng(5)
    pooling, even = over_time(KNOTS, 4.0), Roughness.even(KNOTS, straight(30.0), 1.0)
    right = Roughness(np.full(300, 8.0), np.full(300, 2.0), even.freedom, even.ahead)
    squares = []
    for _ in range(8):
        learned = right.learned(KNOTS, *posterior(np.array([8.0, 2.0]), share, rng), pooling)
        squares.append(np.median(np.square([learned.along, learned.across]), axis=1))
    # A tenth of each is the other's.
    expected = [0.9 * 64.0 + 0.1 * 4.0, 0.9 * 4.0 + 0.1 * 64.0]
    assert np.mean(squares, axis=0) == pytest.approx(expected, rel=0.1)


def test_learning_goes_to_what_a_log_shows_from_wherever_it_began():
    rng = np.random.default_rng(6)
    ridden = rough_ride(8.0, 8.0, rng)
    far = Roughness.even(KNOTS, straight(30.0), 0.5)
    learned = far.learned(KNOTS, ridden, 0.0 * ridden[:, :, None], over_time(KNOTS, 4.0))
    assert np.median(learned.along) == pytest.approx(8.0, rel=0.1)
    assert np.median(learned.across) == pytest.approx(8.0, rel=0.1)


def test_of_a_ride_about_another_it_is_learnt_how_roughly_they_differ():
    rng = np.random.default_rng(8)
    common, apart = rough_ride(9.0, 9.0, rng), rough_ride(2.0, 2.0, rng) - straight(30.0)
    even, pooling = Roughness.even(KNOTS, straight(30.0), 4.0), over_time(KNOTS, 4.0)
    ridden, certain = common + apart, np.zeros((*common.shape, 1))
    about = snap_at_knots(KNOTS, common).T
    learned = even.learned(KNOTS, ridden, certain, pooling, about)
    assert np.median(learned.along) == pytest.approx(2.0, rel=0.1)
    assert np.median(learned.across) == pytest.approx(2.0, rel=0.1)
    assert np.median(even.learned(KNOTS, ridden, certain, pooling).across) > 8.0


def test_the_less_a_log_shows_the_fewer_degrees_of_freedom_a_level_has():
    rng = np.random.default_rng(7)
    pooling, rough = over_time(KNOTS, 1.0), Roughness.even(KNOTS, straight(30.0), 5.0)
    whole, half = (
        rough.learned(KNOTS, *posterior(np.array([5.0, 5.0]), share, rng), pooling).freedom - 6.0
        for share in (1.0, 0.5)
    )
    # A Gaussian of one second over knots of a fifth is worth some eighteen of them.
    assert np.median(whole) == pytest.approx(17.7, rel=0.05)
    assert np.median(half) == pytest.approx(0.5 * 17.7, rel=0.1)


@pytest.mark.parametrize("squares", [4.0, 8.0, 30.0])
def test_a_doubted_level_has_the_mean_and_the_middle_of_what_it_may_be(squares):
    even = Roughness.even(KNOTS, straight(30.0), 3.0)
    rough = Roughness(even.along, even.across, np.full((2, 300), squares), even.ahead)
    may_be = invgamma(0.5 * squares, scale=0.5 * squares * 9.0)
    np.testing.assert_allclose(np.square(rough.mean().across), may_be.mean())
    middle = 0.5 * squares * 9.0 / np.exp(digamma(0.5 * squares))
    np.testing.assert_allclose(np.square(rough.middle().along), middle, rtol=0.03)


def test_a_level_known_for_certain_stays_and_one_of_which_nothing_is_known_stays_finite():
    even = Roughness.even(KNOTS, straight(30.0), 3.0)
    np.testing.assert_array_equal(even.mean().along, even.along)
    blank = Roughness(even.along, even.across, np.full((2, 300), 0.2), even.ahead)
    np.testing.assert_allclose(blank.mean().across, 3.0 * np.sqrt(3.0))


def test_halfway_between_two_is_as_many_times_the_one_as_the_other_is_that():
    low = Roughness.even(KNOTS, straight(30.0), 4.0)
    high = low.times(np.linspace(1.0, 9.0, KNOTS.intervals))
    between = low.halfway(high)
    for way in ("along", "across"):
        middle = getattr(between, way)
        np.testing.assert_allclose(middle / getattr(low, way), getattr(high, way) / middle)
