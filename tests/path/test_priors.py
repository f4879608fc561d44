"""The path's prior against the integrals that it stands for, of scipy's splines."""

import numpy as np
import pytest
from scipy.interpolate import BSpline

from lapkit.path.priors import (
    CHORD_MPS,
    about_snap,
    both_axes,
    chord_band,
    rough_band,
    smooth_band,
)
from lapkit.path.roughness import Roughness, snap_at_knots
from lapkit.path.spline import DEGREE, Knots

KNOTS = Knots(start_s=3.0, spacing_s=0.5, intervals=30)


def curve(coefficients, knots=KNOTS):
    """Coefficients ``(k, ...)`` as scipy's spline."""
    full = knots.start_s + knots.spacing_s * np.arange(-DEGREE, knots.intervals + DEGREE + 1)
    return BSpline(full, coefficients, DEGREE)


def integrals(function, knots=KNOTS):
    """Integrals of a polynomial of degree nine at most over every interval, ``(intervals,)``."""
    at, weight = np.polynomial.legendre.leggauss(5)
    times = knots.middle_s[:, None] + 0.5 * knots.spacing_s * at
    return 0.5 * knots.spacing_s * function(times) @ weight


def cost(band, one, other):
    """A symmetric upper band, diagonal last, between two vectors."""
    rows = len(band)
    total = band[-1] @ (one * other)
    for off in range(1, rows):
        part = band[rows - 1 - off, off:]
        total += part @ (one[:-off] * other[off:] + one[off:] * other[:-off])
    return total


def cost_of(bands, path):
    """East with east, east with north both ways round, north with north."""
    east, north = path.T
    ways = cost(bands[0], east, east) + cost(bands[2], north, north)
    return ways + 2.0 * cost(bands[1], east, north)


def fitted(function, knots=KNOTS):
    """Coefficients of the spline through a function of time."""
    time = np.linspace(knots.start_s, knots.stop_s, 20 * knots.coefficients)
    rows = curve(np.eye(knots.coefficients), knots)(time)
    return np.linalg.lstsq(rows, function(time), rcond=None)[0]


def levels(seed):
    return np.exp(np.random.default_rng(seed).normal(1.0, 0.7, KNOTS.intervals))


def headed(angle_rad, along, across):
    angle_rad = angle_rad * np.ones(KNOTS.intervals)
    ahead = np.stack([np.cos(angle_rad), np.sin(angle_rad)])
    return Roughness(along, across, np.full((2, KNOTS.intervals), np.inf), ahead)


def test_roughness_weighs_the_snap_of_each_interval():
    coefficients = np.random.default_rng(1).normal(size=KNOTS.coefficients)
    snap = curve(coefficients).derivative(4)
    expected = np.sum(integrals(lambda t: snap(t) ** 2) / levels(2) ** 2)
    found = cost(smooth_band(KNOTS, levels(2)), coefficients, coefficients)
    assert found == pytest.approx(expected, rel=1e-10)


def test_a_cubic_in_time_costs_nothing_and_a_quartic_its_snap():
    band = smooth_band(KNOTS, np.full(KNOTS.intervals, 2.0))
    cubic = fitted(lambda t: 4.0 - t + 0.3 * t**2 - 0.02 * (t - 9.0) ** 3)
    quartic = fitted(lambda t: 0.01 * (t - 9.0) ** 4)
    snap = 0.24
    expected = snap**2 * (KNOTS.stop_s - KNOTS.start_s) / 4.0
    assert cost(band, quartic, quartic) == pytest.approx(expected, rel=1e-6)
    assert abs(cost(band, cubic, cubic)) < 1e-6 * expected


def test_roughness_along_and_across_weighs_the_snap_each_way():
    angle = np.random.default_rng(3).uniform(0.0, 2.0 * np.pi, KNOTS.intervals)
    rough = headed(angle, levels(4), levels(5))
    path = np.random.default_rng(6).normal(size=(KNOTS.coefficients, 2))
    snap = curve(path).derivative(4)
    along = integrals(
        lambda t: (snap(t) @ np.stack([np.cos(angle), np.sin(angle)]).T[..., None])[..., 0] ** 2
    )
    across = integrals(
        lambda t: (snap(t) @ np.stack([-np.sin(angle), np.cos(angle)]).T[..., None])[..., 0] ** 2
    )
    expected = np.sum(along / levels(4) ** 2 + across / levels(5) ** 2)
    assert cost_of(rough_band(KNOTS, rough), path) == pytest.approx(expected, rel=1e-10)


def test_alike_both_ways_the_heading_does_not_matter():
    angle = np.random.default_rng(3).uniform(0.0, 2.0 * np.pi, KNOTS.intervals)
    found = rough_band(KNOTS, headed(angle, levels(4), levels(4)))
    expected = both_axes(smooth_band(KNOTS, levels(4)))
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-12 * np.abs(expected).max())
    assert expected.shape == (3, 6, KNOTS.coefficients)


def test_braking_hard_on_the_straight_costs_less_where_he_is_rough_along_it():
    """Headed north-east, snap to the north-east is along, to the north-west across."""
    smooth, rough = np.full((2, KNOTS.intervals), [[1.0], [10.0]])
    bands = rough_band(KNOTS, headed(np.radians(45.0), rough, smooth))
    bump = np.zeros(KNOTS.coefficients)
    bump[17] = 1.0
    ahead, aside = np.stack([bump, bump], axis=1), np.stack([-bump, bump], axis=1)
    assert cost_of(bands, aside) == pytest.approx(100.0 * cost_of(bands, ahead), rel=1e-9)


def test_a_path_of_the_snap_that_the_prior_is_about_costs_nothing():
    """Of the cost of p about q, p'Bp - 2 p'r + q'Bq, the right side r is what it has beside the band B."""
    rng = np.random.default_rng(9)
    angle = rng.uniform(0.0, 2.0 * np.pi, KNOTS.intervals)
    rough = headed(angle, levels(4), levels(5))
    usual, path = rng.normal(size=(2, KNOTS.coefficients, 2))
    bands = rough_band(KNOTS, rough)
    right = about_snap(KNOTS, rough, snap_at_knots(KNOTS, usual).T).T
    assert np.sum(right * usual) == pytest.approx(cost_of(bands, usual), rel=1e-10)
    found = cost_of(bands, path) - 2.0 * np.sum(right * path) + cost_of(bands, usual)
    assert found == pytest.approx(cost_of(bands, path - usual), rel=1e-9)


def test_over_a_hole_a_metre_a_second_costs_as_a_normal_speed_would():
    # The fixes beside the hole lie in intervals 3 and 25; the 21 between are empty.
    time = np.array([3.1, 4.0, 4.8, 15.6, 16.0, 17.9])
    coefficients = np.random.default_rng(7).normal(size=KNOTS.coefficients)
    speed = curve(coefficients).derivative(1)
    over = integrals(lambda t: speed(t) ** 2)[4:25]
    found = cost(chord_band(KNOTS, time), coefficients, coefficients)
    assert found == pytest.approx(np.sum(over) / CHORD_MPS**2, rel=1e-10)


def test_two_holes_are_both_held_and_the_riding_between_is_not():
    knots = Knots(start_s=0.0, spacing_s=0.5, intervals=80)
    time = np.concatenate([[0.1], 12.15 + 0.1 * np.arange(59), [34.2, 39.9]])
    steady = fitted(lambda t: 50.0 * t, knots)
    # At 50 m/s each second in a hole costs one: 23 whole intervals in the first, 32 in the second.
    found = cost(chord_band(knots, time), steady, steady)
    assert found == pytest.approx(0.5 * (23 + 32), rel=1e-6)


@pytest.mark.parametrize(("gap_s", "held"), [(9.9, False), (10.0, True)])
def test_only_from_ten_seconds_on_a_gap_is_a_hole(gap_s, held):
    time = np.array([3.0, 4.0, 4.0 + gap_s, 17.0])
    assert np.any(chord_band(KNOTS, time)) == held
