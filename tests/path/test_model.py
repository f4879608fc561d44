"""The posterior of a whole log against the same solved dense."""

import numpy as np
import pytest
from scipy.linalg import cho_solve_banded

from lapkit.errors import PathError
from lapkit.path.attitude import Attitude
from lapkit.path.banded import gram
from lapkit.path.model import (
    NormalEquations,
    Observed,
    Solution,
    deviations,
    draw,
    positions,
    solve,
    velocities,
    wander_prior,
)
from lapkit.path.places import Places
from lapkit.path.priors import both_axes, smooth_band
from lapkit.path.spline import Knots
from lapkit.path.unknowns import Groups, add_wander, columns
from lapkit.units import GRAVITY_MPS2


@pytest.fixture(params=[1, 2])
def knots(request):
    return Knots(start_s=0.0, spacing_s=0.25, intervals=25, wander_every=request.param)


@pytest.fixture
def normal(knots, steady):
    """Normal equations of a short log with velocities, and the path's prior, as bands."""
    rng = np.random.default_rng(1)
    time = np.sort(rng.uniform(knots.start_s, knots.stop_s, 70))
    values = rng.normal(size=(4, 70))
    seen = Observed(time, *values[:2], np.ones(70), time, *values[2:], np.ones(70))
    places, upright = (
        Places.of(knots, time),
        Attitude.of(np.ones(70), *np.zeros((3, 70)), np.ones(70)),
    )
    position = gram(knots, positions(seen, 0.0, upright, places))
    velocity = gram(knots, velocities(seen, 0.0, upright, places))
    smooth = both_axes(smooth_band(knots, np.full(knots.intervals, 5.0)))
    return NormalEquations.of(position, velocity, steady), columns(Groups.of(knots), smooth)


def dense(band):
    whole = np.zeros((band.shape[1], band.shape[1]))
    for off in range(len(band)):
        part = np.diag(band[len(band) - 1 - off, off:], off)
        whole += part + part.T if off else part
    return whole


@pytest.fixture
def precision(knots, normal, steady):
    """That of the posterior, whole."""
    seen, smooth = normal
    band = seen.band + smooth
    add_wander(Groups.of(knots), band, *wander_prior(knots, steady)[:2])
    return dense(band)


def test_the_posterior_is_that_of_the_whole_matrix(knots, normal, precision):
    solution = solve(knots, *normal)
    seen = normal[0]
    mean = np.linalg.solve(precision, seen.right)
    np.testing.assert_allclose(solution.mean, mean, rtol=0, atol=1e-6 * np.abs(mean).max())
    back = cho_solve_banded((solution.factor, False), seen.right)
    np.testing.assert_allclose(back, solution.mean)
    assert solution.path.shape == (knots.coefficients, 2)


def test_the_likelihood_is_what_the_data_s_own_covariance_says(knots, normal, precision, steady):
    """But for what does not depend on the noise: −½ (log |posterior| − log |wander| + log |noise| + misfit)."""
    seen = normal[0]
    misfit = seen.square - seen.right @ np.linalg.solve(precision, seen.right)
    noise = 140.0 * np.log(steady.white_m**2) + 140.0 * np.log(steady.velocity_mps**2)
    assert seen.log_det == pytest.approx(noise)
    wander = wander_prior(knots, steady)[2]
    expected = -0.5 * (np.linalg.slogdet(precision)[1] - wander + noise + misfit)
    assert solve(knots, *normal).log_likelihood == pytest.approx(expected, rel=1e-6)


def test_draws_have_the_posterior_s_mean_and_covariance(knots, normal, precision):
    solution = solve(knots, *normal)
    drawn = draw(solution, 20_000, seed=3) - solution.mean[:, None]
    # Made as white as they should be, they are: no direction stands out.
    factor = np.linalg.cholesky(precision)
    white = factor.T @ drawn
    np.testing.assert_allclose(white.mean(axis=1), 0.0, atol=0.04)
    np.testing.assert_allclose(np.cov(white), np.eye(len(white)), atol=0.05)
    np.testing.assert_array_equal(draw(solution, 2, seed=3), draw(solution, 2, seed=3))
    assert draw(solution, 0, seed=3).shape == (len(solution.mean), 0)


def test_deviations_mean_squares_are_the_posterior_s_variances(knots, normal, precision):
    solution = solve(knots, *normal)
    variances = np.diag(np.linalg.inv(precision))
    errors = []
    for seed in range(300):
        squares = np.mean(deviations(solution, 8, seed) ** 2, axis=1)
        errors.append(squares / variances - 1.0)
    assert np.abs(np.mean(errors)) < 0.03


def test_over_the_deviations_signs_of_successive_unknowns_are_orthogonal(knots, normal, precision):
    """So products of neighbours cancel, and only squares remain."""
    solution = solve(knots, *normal)
    signs = np.linalg.cholesky(precision).T @ deviations(solution, 8, seed=4)
    np.testing.assert_allclose(np.abs(signs), 1.0, rtol=1e-4)
    for first in range(len(signs) - 8):
        near = signs[first : first + 8]
        np.testing.assert_allclose(near @ near.T, 8.0 * np.eye(8), atol=1e-3)
    other = np.linalg.cholesky(precision).T @ deviations(solution, 8, seed=5)
    assert 0.3 < np.mean(signs[:, 0] * other[:, 0] > 0.0) < 0.7


def test_a_factor_that_determines_nothing_is_told(knots, normal):
    solution = solve(knots, *normal)
    nothing = solution.factor.copy()
    nothing[-1, 5] = 0.0
    with pytest.raises(PathError, match="too far apart in time, or are too wild"):
        draw(Solution(knots, solution.mean, nothing, 0.0), 1, seed=1)


@pytest.mark.parametrize("speed_mps", [4.5, 20.0])
def test_the_linear_model_goes_through_the_path_that_it_was_made_about(speed_mps):
    """An antenna leaning above a path is what the model makes of that path, also where little lean is assumed."""
    place = [
        np.polynomial.Polynomial(c) for c in ([0.0, speed_mps, 0.4, -0.2], [0.0, 1.0, 2.0, 0.3])
    ]
    time, above_m = np.array([0.2, 0.5]), 0.3
    at, v, a, jerk = (np.stack([p.deriv(order)(time) for p in place]) for order in range(4))
    attitude = Attitude.of(*v, *a, np.full(2, GRAVITY_MPS2))
    antenna, moves = at + attitude.aside_m(above_m), v + attitude.aside_mps(above_m, jerk)
    seen = Observed(time, *antenna, np.ones(2), time, *moves, np.ones(2))
    places = Places.of(Knots(0.0, 0.25, 4), time)
    for build, path, pulled in ((positions, at, a), (velocities, v, jerk)):
        linear = build(seen, above_m, attitude, places)
        made = path + linear.pull * np.sum(linear.left * pulled, axis=0) * linear.left
        np.testing.assert_allclose(made, linear.data, atol=1e-12)
        assert np.max(np.abs(linear.pull)) > 0.005
