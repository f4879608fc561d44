"""Roughness along and across the heading: what it weighs and learns, and what laps tell each other."""

import numpy as np
import pytest
from scipy.interpolate import BSpline

from lapkit.course.stations import StationLine
from lapkit.path.priors import both_axes, rough_band, smooth_band
from lapkit.path.roughness import Roughness, over_laps, over_time
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
    band = rough_band(KNOTS, Roughness(*levels, even.ahead))
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
    rough = Roughness(level, level, Roughness.even(KNOTS, straight(20.0, 0.4), 1.0).ahead)
    np.testing.assert_allclose(
        rough_band(KNOTS, rough), both_axes(smooth_band(KNOTS, level)), rtol=1e-9, atol=1e-6
    )


def test_learning_stays_where_the_levels_are_right_and_goes_there_from_elsewhere():
    rng = np.random.default_rng(5)
    drawn = np.stack([rough_ride(8.0, 2.0, rng) for _ in range(8)], axis=2)
    average = over_time(KNOTS, 4.0)
    both = 0.5 * (8.0**2 + 2.0**2)
    along, across = (np.sqrt(q**1.6 * both**0.2) for q in (8.0, 2.0))  # a fifth is of their mean
    ahead = Roughness.even(KNOTS, straight(30.0), 1.0).ahead
    right = Roughness(np.full(300, along), np.full(300, across), ahead)
    stayed = right.learned(KNOTS, drawn, average)
    assert np.median(stayed.along) == pytest.approx(along, rel=0.08)
    assert np.median(stayed.across) == pytest.approx(across, rel=0.08)
    rough = Roughness.even(KNOTS, straight(30.0), 4.0)
    for _ in range(12):
        rough = rough.learned(KNOTS, drawn, average)
    assert np.median(rough.along) == pytest.approx(along, rel=0.08)
    assert np.median(rough.across) == pytest.approx(across, rel=0.08)


def ring_and_laps(laps, speed_mps=15.0):
    """A ring of 60 m radius as a course, and a ride round it, as spline coefficients."""
    turn = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    line = StationLine.through(60.0 * np.cos(turn), 60.0 * np.sin(turn), closed=True)
    knots = Knots(0.0, 0.2, int(laps * line.length_m / speed_mps / 0.2))
    at = knots.spacing_s * (np.arange(knots.coefficients) - 0.5 * (DEGREE - 1))
    angle = speed_mps * at / 60.0
    return line, knots, 60.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def test_laps_tell_each_other_of_a_place_and_a_lapse_keeps_its_own():
    line, knots, path = ring_and_laps(laps=4)
    own = over_time(knots, 0.5)
    average = over_laps(knots, path, line, own)
    power = np.ones(knots.intervals)
    ridden = knots.middle_s * 15.0
    burst = (ridden > line.length_m + 90.0) & (ridden < line.length_m + 150.0)
    power[burst] = 41.0
    mean = average(power)
    station, lap = np.mod(ridden, line.length_m), ridden // line.length_m
    there = (station > 115.0) & (station < 125.0)
    assert mean[there & (lap == 1)] == pytest.approx(41.0, rel=0.02)
    assert mean[there & (lap != 1)] == pytest.approx(11.0, rel=0.02)
    assert mean[(station < 60.0) | (station > 180.0)] == pytest.approx(1.0, rel=0.02)


@pytest.mark.parametrize("beside_m", [0.0, 160.0])
def test_beside_the_course_and_hardly_moving_he_is_alone(beside_m):
    line, knots, path = ring_and_laps(laps=3, speed_mps=15.0 if beside_m else 2.0)
    path[:, 0] += beside_m
    alone = over_time(knots, 1.0)
    power = np.random.default_rng(2).uniform(1.0, 5.0, knots.intervals)
    average = over_laps(knots, path, line, alone)
    np.testing.assert_array_equal(average(power), alone(power))
