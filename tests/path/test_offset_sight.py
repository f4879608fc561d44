"""Sights in information form, held against the same Gaussian written out with dense matrices."""

import numpy as np
import pytest

from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_sight import Common, Readings, Sight

KNOTS = OffsetKnots.covering(0.0, 60.0)
N = 30
FLAT_M = 1e4
"""Standard deviation of an unknown constant about which nothing is known, metres."""


@pytest.fixture
def rng():
    return np.random.default_rng(7)


def readings(rng, group=None):
    angle = rng.uniform(0.0, 2.0 * np.pi, N)
    direction = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return Readings(rng.uniform(0.0, 60.0, N), direction, rng.normal(0.0, 1.0, N), group)


def rows_of(seen):
    """How each reading hangs on the knots, east then north, by numpy's own interpolation, ``(n, 2 knots)``."""
    unit = np.eye(len(KNOTS.time_s))
    between = np.stack([np.interp(seen.time_s, KNOTS.time_s, knot) for knot in unit], axis=1)
    return np.hstack([between * seen.direction[:, :1], between * seen.direction[:, 1:]])


def dense_information(seen, covariance):
    """Precision, right side and sum of squares of readings with a covariance of their errors."""
    rows, inverse = rows_of(seen), np.linalg.inv(covariance)
    value = seen.value_m
    return rows.T @ inverse @ rows, rows.T @ inverse @ value, value @ inverse @ value


def test_readings_right_each_by_itself(rng):
    seen = readings(rng)
    precision, right, square, log_det = Sight.of(KNOTS, seen, 0.3).information
    expected = dense_information(seen, 0.09 * np.eye(N))
    assert precision == pytest.approx(expected[0]) and right == pytest.approx(expected[1])
    assert square == pytest.approx(expected[2])
    assert log_det == pytest.approx(N * np.log(0.09))


def test_a_shift_that_all_readings_share_is_integrated_out(rng):
    seen = readings(rng)
    sight = Sight.of(KNOTS, seen, 0.3, common=Common(0.5))
    covariance = 0.09 * np.eye(N) + 0.25 * seen.direction @ seen.direction.T
    precision, right, square, log_det = sight.information
    expected = dense_information(seen, covariance)
    assert precision == pytest.approx(expected[0]) and right == pytest.approx(expected[1])
    assert square == pytest.approx(expected[2])
    assert log_det == pytest.approx(np.linalg.slogdet(covariance)[1])


def test_named_unknowns_are_shared_as_they_are_given(rng):
    seen, share = readings(rng), rng.uniform(0.0, 1.0, (N, 3))
    sight = Sight.of(KNOTS, seen, 0.3, common=Common(0.5, share))
    covariance = 0.09 * np.eye(N) + 0.25 * share @ share.T
    expected = dense_information(seen, covariance)
    assert sight.information.precision == pytest.approx(expected[0])
    assert sight.information.right == pytest.approx(expected[1])


def test_the_constant_of_each_group_is_taken_out(rng):
    group = rng.integers(0, 5, N)
    seen = readings(rng, group)
    precision, right, square, log_det = Sight.of(KNOTS, seen, 0.3).information
    # Five values determine the constants and say nothing of the noise.
    assert log_det == pytest.approx((N - 5) * np.log(0.09))
    same = group[:, None] == group[None, :]
    expected = dense_information(seen, 0.09 * np.eye(N) + FLAT_M**2 * same)
    assert precision == pytest.approx(expected[0], abs=1e-4)
    assert right == pytest.approx(expected[1], abs=1e-4)
    assert square == pytest.approx(expected[2], abs=1e-3)


@pytest.mark.parametrize("grouped", [False, True])
def test_what_a_drawn_path_adds_is_what_readings_moved_by_it_add(rng, grouped):
    group = rng.integers(0, 5, N) if grouped else None
    seen, path_m = readings(rng, group), rng.normal(0.0, 0.2, (4, N))
    sight = Sight.of(KNOTS, seen, 0.3)
    more = sight.right_of_path(KNOTS, path_m)
    for row, beside in zip(more.T, path_m, strict=True):
        moved = Readings(seen.time_s, seen.direction, seen.value_m + beside, group)
        right = Sight.of(KNOTS, moved, 0.3).information.right
        assert row == pytest.approx(right - sight.information.right, abs=1e-9)
