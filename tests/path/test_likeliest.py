"""Laps of a ring, smoothed alone and about what they have in common."""

from typing import NamedTuple

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d

from lapkit.course.stations import StationLine
from lapkit.path.estimate import estimate
from lapkit.path.model import Observed, deviations
from lapkit.path.problem import Problem
from lapkit.path.spline import values
from lapkit.path.unknowns import path_coefficients
from lapkit.units import GRAVITY_MPS2

RING_M, PACE_MPS, SWERVE_M, SWERVE_S = 60.0, 18.0, 0.8, 0.45
AROUND_S = 2.0 * np.pi * RING_M / PACE_MPS
LAPS = 6
TURN = np.linspace(0.0, 2.0 * np.pi, 361)[:-1]
RING = StationLine.through(RING_M * np.cos(TURN), RING_M * np.sin(TURN), closed=True)


def level(points):
    """The road does not curve up or down."""
    return lambda speed_mps: np.full_like(speed_mps, GRAVITY_MPS2)


def ridden(time_s, radius_m):
    """The path east and north at an even pace round the ring, ``(2, n)``."""
    turned = PACE_MPS / RING_M * time_s
    return radius_m * np.stack([np.cos(turned), np.sin(turned)])


def positions(time_s, path_m):
    """Noisy positions of a path ``(2, n)``, no velocities."""
    x, y = path_m + np.random.default_rng(3).normal(0.0, 0.08, path_m.shape)
    unknown, ones = np.full(len(time_s), np.nan), np.ones(len(time_s))
    return Observed(time_s, x, y, ones, time_s, unknown, unknown, 0.0 * ones)


def found(seen, line):
    return estimate(Problem.of(seen, 0.0, level), line, 1)


def swerving(line):
    """Acceleration inwards at the top of a swerve that every lap has, where the ring begins, for each lap."""
    time = np.arange(0.0, (LAPS + 0.5) * AROUND_S, 0.1)
    since_s = (np.mod(time + 0.5 * AROUND_S, AROUND_S)) - 0.5 * AROUND_S
    radius = RING_M + SWERVE_M * np.exp(-0.5 * np.square(since_s / SWERVE_S))
    solution = found(positions(time, ridden(time, radius)), line).solution
    (a,) = values(solution.knots, solution.path, AROUND_S * np.arange(1, LAPS + 1), 2)
    return -a[:, 0]


@pytest.fixture(scope="module")
def alone_and_together():
    """:func:`swerving` of laps smoothed alone, and of laps smoothed about their mean."""
    return swerving(None), swerving(RING)


def test_what_laps_repeat_is_flattened_less_than_by_each_lap_alone(alone_and_together):
    asked = (RING_M + SWERVE_M) * (PACE_MPS / RING_M) ** 2 + SWERVE_M / SWERVE_S**2
    alone, together = (asked - np.mean(each) for each in alone_and_together)
    assert 0.0 < together < 0.6 * alone


def test_laps_all_alike_hardly_differ_but_by_the_noise_of_their_mean(alone_and_together):
    alone, together = (np.std(each) for each in alone_and_together)
    assert together < 0.4 * alone


class Told(NamedTuple):
    """Of a ride's acceleration east: how far the estimate is off, what is told of that, and how much of it is doubts."""

    off: np.ndarray
    sd: np.ndarray
    doubt: np.ndarray


def told(laps, line):
    """Of a ride whose laps differ by a decimetre from a path of their own kind that differs by 0.8 m from the ring."""
    fixes = round(AROUND_S / 0.1)
    time = AROUND_S / fixes * np.arange((2 * laps + 1) * fixes // 2)
    rng = np.random.default_rng(0)  # however many laps, the same usual path
    usual, own = (
        gaussian_filter1d(rng.normal(size=n), 6.0, mode="wrap") for n in (fixes, len(time))
    )
    usual, own = 0.8 * usual / np.std(usual), 0.1 * own / np.std(own)
    path = ridden(time, RING_M + np.resize(usual, len(time)) + own)
    each = found(positions(time, path), line)
    solution = each.solution
    at_s = np.arange(0.5, laps, 1.0 / 80.0) * AROUND_S
    drawn = path_coefficients(solution.knots, deviations(solution, 64, 5))
    (mean,), (away,), (doubts,) = (
        values(solution.knots, coefficients, at_s, 2)
        for coefficients in (solution.path, drawn, each.doubts)
    )
    doubt = np.sum(np.square(doubts[:, 0]), axis=-1)
    sd = np.sqrt(np.mean(np.square(away[:, 0]), axis=-1) + doubt)
    return Told(mean[:, 0] - CubicSpline(time, path[0])(at_s, 2), sd, np.sqrt(doubt))


def rms(of):
    return np.sqrt(np.mean(np.square(of)))


@pytest.mark.parametrize("laps", [4, 12])
def test_laps_are_known_better_together_and_no_better_than_is_told(laps):
    alone, together = told(laps, None), told(laps, RING)
    assert rms(together.off) < 0.8 * rms(alone.off)
    assert rms(together.sd) < 0.9 * rms(alone.sd)
    assert np.mean(np.abs(together.off) < 1.96 * together.sd) > 0.95
    assert rms(together.sd) < 2.2 * rms(together.off)


def test_the_mean_of_many_laps_is_in_less_doubt_than_that_of_few():
    assert rms(told(12, RING).doubt) < 0.9 * rms(told(4, RING).doubt)
