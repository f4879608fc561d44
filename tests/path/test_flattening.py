"""What smoothing takes off a ride, and what draws have of it."""

import numpy as np
import pytest
from scipy.linalg.blas import dsbmv

from lapkit.path import model
from lapkit.path.attitude import Attitude
from lapkit.path.banded import gram
from lapkit.path.flattening import flattened, shares
from lapkit.path.model import Noise, NormalEquations, Observed, solve
from lapkit.path.places import Places
from lapkit.path.priors import both_axes, smooth_band
from lapkit.path.spline import Knots, values
from lapkit.path.unknowns import Groups, columns

KNOTS = Knots(0.0, 0.25, 120)
TIME_S = np.arange(0.5, 29.5, 0.1)
NOISE = Noise(white_m=0.06, wander_m=0.15, wander_s=4.0, velocity_mps=1.0, roughness=4.0)


def positions(x_m, y_m):
    n = len(TIME_S)
    nothing = np.full(n, np.nan)
    return Observed(TIME_S, x_m, y_m, np.ones(n), TIME_S, nothing, nothing, np.zeros(n))


def prior():
    smooth = smooth_band(KNOTS, np.full(KNOTS.intervals, NOISE.roughness))
    return columns(Groups.of(KNOTS), both_axes(smooth))


def smoothed(seen):
    n = len(seen.time_s)
    upright = Attitude.of(np.ones(n), *np.zeros((3, n)), np.ones(n))
    summed = gram(KNOTS, model.positions(seen, 0.0, upright, Places.of(KNOTS, seen.time_s)))
    return solve(KNOTS, NormalEquations.of(summed, None, NOISE), prior())


def swerve(over_s):
    """To the left and back within some seconds, metres."""
    return np.exp(-0.5 * np.square((TIME_S - 15.0) / over_s))


def test_it_is_what_smoothing_the_estimates_own_positions_takes_off():
    once = smoothed(positions(20.0 * TIME_S, 3.0 * swerve(0.5)))
    (at,) = values(KNOTS, once.path, TIME_S, 0)
    off = once.path - smoothed(positions(*at.T)).path
    (taken, expected) = (values(KNOTS, c, TIME_S, 2)[0] for c in (flattened(once, prior()), off))
    assert np.abs(expected).max() > 0.5
    assert taken == pytest.approx(expected, abs=1e-5)


def test_nothing_is_taken_off_a_ride_that_the_prior_has_nothing_against():
    seen = positions(20.0 * TIME_S, 0.001 * (TIME_S - 15.0) ** 3)
    (taken,) = values(KNOTS, flattened(smoothed(seen), prior()), TIME_S, 0)
    assert np.abs(taken).max() < 1e-6


def test_nothing_is_taken_off_what_it_was_smoothed_about():
    seen = positions(20.0 * TIME_S, 3.0 * swerve(0.5))
    once = smoothed(seen)
    about_itself = dsbmv(len(prior()) - 1, 1.0, prior(), once.mean)
    (taken,) = values(KNOTS, flattened(once, prior(), about_itself), TIME_S, 2)
    (all_of_it,) = values(KNOTS, flattened(once, prior()), TIME_S, 2)
    assert np.abs(all_of_it).max() > 0.5
    assert np.abs(taken).max() < 1e-6
    (half,) = values(KNOTS, flattened(once, prior(), 0.5 * about_itself), TIME_S, 2)
    assert half == pytest.approx(0.5 * all_of_it, abs=1e-6)


def test_the_quicker_a_swerve_the_more_is_taken_off():
    shares = []
    for over_s in (1.6, 0.8, 0.4):
        solution = smoothed(positions(20.0 * TIME_S, 3.0 * swerve(over_s)))
        (own,) = values(KNOTS, solution.path, 15.0 + np.zeros(1), 2)
        (taken,) = values(KNOTS, flattened(solution, prior()), 15.0 + np.zeros(1), 2)
        shares.append(taken[0, 1] / own[0, 1])
    assert 0.0 < shares[0] < shares[1] < shares[2]


def test_draws_have_each_doubt_with_either_sign_and_none_of_it_on_average():
    share = shares(2, 32, seed=1)
    assert share.shape == (2, 32)
    assert share.mean(axis=1) == pytest.approx(np.zeros(2), abs=1e-12)
    for each in share:
        assert 0.7 < each.std() < 1.3 and each.min() < 0.0 < each.max()
    assert abs(np.corrcoef(share)[0, 1]) < 0.5
    assert shares(2, 0, seed=1).shape == (2, 0)
