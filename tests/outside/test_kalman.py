"""The banded smoother against filterpy's Rauch–Tung–Striebel smoother on the same model.

Source: filterpy (general-purpose reference library). The state is position to jerk driven by white snap;
the spline solves the same problem in a finite space, so the two agree to a fraction of their spread.
"""

from math import factorial

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter

from lapkit.path.attitude import Attitude
from lapkit.path.banded import gram
from lapkit.path.model import (
    Noise,
    NormalEquations,
    Observed,
    deviations,
    draw,
    positions,
    solve,
    velocities,
)
from lapkit.path.places import Places
from lapkit.path.priors import both_axes, smooth_band
from lapkit.path.spline import Knots, values
from lapkit.path.unknowns import Groups, columns, path_coefficients

DT, SNAP, SIGMA, SIGMA_V = 0.1, 6.0, 0.1, 0.08
N = 300


def white_snap(dt, density):
    """Discrete noise of a chain of four integrators driven by white noise (derived)."""
    q = np.zeros((4, 4))
    for i in range(4):
        for j in range(4):
            a, b = 3 - i, 3 - j
            q[i, j] = density * dt ** (a + b + 1) / (factorial(a) * factorial(b) * (a + b + 1))
    return q


def kalman(data, velocity):
    dims = 2 if velocity is not None else 1
    kf = KalmanFilter(dim_x=4, dim_z=dims)
    kf.F = np.array(
        [[1, DT, DT**2 / 2, DT**3 / 6], [0, 1, DT, DT**2 / 2], [0, 0, 1, DT], [0, 0, 0, 1]]
    )
    kf.Q = white_snap(DT, SNAP**2)
    kf.H = np.eye(4)[:dims]
    kf.R = np.diag([SIGMA**2, SIGMA_V**2][:dims])
    kf.P = np.eye(4) * 1e6
    z = data[:, None] if velocity is None else np.stack([data, velocity], axis=1)
    kf.x = np.zeros(4)
    mean, cov, _, _ = kf.batch_filter(list(z))
    smooth, cov, _, _ = kf.rts_smoother(mean, cov)
    return smooth, cov


def solved(with_velocity, every, spacing_s=DT):
    """Times, positions and velocities of a ride seen every ``DT``, and its posterior."""
    rng = np.random.default_rng(5)
    t = DT * np.arange(N)
    true = 30 * np.sin(0.8 * t)
    x = true + rng.normal(0, SIGMA, N)
    v = 24 * np.cos(0.8 * t) + rng.normal(0, SIGMA_V, N)
    nothing = np.zeros(N)
    weight = np.full(N, 1.0 if with_velocity else 0.0)
    seen = Observed(t, x, nothing, np.ones(N), t, v, nothing, weight)
    knots = Knots(-spacing_s, spacing_s, round(N * DT / spacing_s) + 3, every)
    noise = Noise(SIGMA, 1e-4, 1.0, SIGMA_V, SNAP)
    places, upright = Places.of(knots, seen.time_s), Attitude.of(v, *np.zeros((3, N)), np.ones(N))
    velocity = gram(knots, velocities(seen, 0.0, upright, places)) if with_velocity else None
    band = columns(Groups.of(knots), both_axes(smooth_band(knots, np.full(knots.intervals, SNAP))))
    position = gram(knots, positions(seen, 0.0, upright, places))
    return t, x, v, solve(knots, NormalEquations.of(position, velocity, noise), band)


def squares_of(solution, t, order, count, seed):
    """Mean squares of the first axis's derivative over so many deviations, ``(n,)``."""
    away = path_coefficients(solution.knots, deviations(solution, count, seed))
    return np.square(values(solution.knots, away[:, :1], t, order)[0][:, 0]).mean(axis=1)


@pytest.mark.parametrize("every", [1, 2])
@pytest.mark.parametrize("with_velocity", [True, False])
def test_mean_and_spread_agree(with_velocity, every):
    t, x, v, solution = solved(with_velocity, every)
    knots = solution.knots
    reference, cov = kalman(x, v if with_velocity else None)
    inner = slice(40, -40)
    drawn = path_coefficients(knots, draw(solution, 400, 1))
    for order in (0, 1, 2):
        mean = values(knots, solution.path, t, order)[0][:, 0]
        sd = np.sqrt(cov[:, order, order])
        assert np.max(np.abs(mean - reference[:, order])[inner] / sd[inner]) < 0.1
        spread = values(knots, drawn[:, :1], t, order)[0][:, 0].std(axis=1)
        assert np.mean(spread[inner] / sd[inner]) == pytest.approx(1.0, abs=0.05)
        squares = squares_of(solution, t, order, 512, 1)
        assert np.mean(squares[inner] / cov[inner, order, order]) == pytest.approx(1.0, abs=0.05)


def test_eight_deviations_tell_more_of_the_spread_than_draws_would():
    t, _, _, solution = solved(True, 2, 0.25)
    # As many deviations as there are unknowns, and more, tell it exactly.
    exact = squares_of(solution, t, 2, 1024, 0)
    away = [squares_of(solution, t, 2, 8, seed) / exact - 1.0 for seed in range(20)]
    assert np.mean(away) == pytest.approx(0.0, abs=0.03)
    # Mean squares of eight draws are off by the root of 2 / 8, a half of themselves.
    assert np.sqrt(np.mean(np.square(away))) < 0.2
