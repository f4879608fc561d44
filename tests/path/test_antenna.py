"""The antenna above a circle ridden steadily, where everything about it is known in closed form."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.antenna import AntennaPath
from lapkit.path.observed import observe_log
from lapkit.path.spline import DEGREE, Knots
from lapkit.units import GRAVITY_MPS2

RADIUS_M, SPEED_MPS, ABOVE_M = 50.0, 20.0, 0.3
KNOTS = Knots(0.0, 0.05, 600)
TIMES_S = np.arange(2.0, 28.0, 0.37)


def round_a_circle(turn, gravity_mps2=GRAVITY_MPS2):
    """The antenna on a circle to the left (``turn`` 1) or right (-1), on a road where gravity is felt so strongly."""
    at_s = KNOTS.spacing_s * (np.arange(KNOTS.coefficients) - 0.5 * (DEGREE - 1))
    angle = turn * SPEED_MPS / RADIUS_M * at_s
    path = RADIUS_M * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return AntennaPath.of(KNOTS, path, ABOVE_M, lambda speed: np.full_like(speed, gravity_mps2))


def outward(turn):
    angle = turn * SPEED_MPS / RADIUS_M * TIMES_S
    return np.stack([np.cos(angle), np.sin(angle)])


@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize("gravity_mps2", [GRAVITY_MPS2, 5.0])
def test_lean_carries_it_to_the_inside_of_the_bend(turn, gravity_mps2):
    antenna = round_a_circle(turn, gravity_mps2)
    sin_lean = np.sin(np.arctan(SPEED_MPS**2 / RADIUS_M / gravity_mps2))
    aside = antenna.attitude(TIMES_S).aside_m(ABOVE_M)
    np.testing.assert_allclose(aside, -ABOVE_M * sin_lean * outward(turn), atol=2e-4)


@pytest.mark.parametrize("turn", [1, -1])
def test_leaning_inside_it_moves_slower_than_the_mass(turn):
    antenna = round_a_circle(turn)
    sin_lean = np.sin(np.arctan(SPEED_MPS**2 / RADIUS_M / GRAVITY_MPS2))
    slower = SPEED_MPS * (1.0 - ABOVE_M * sin_lean / RADIUS_M)
    x, y = outward(turn)
    expected = slower * turn * np.stack([-y, x])
    np.testing.assert_allclose(antenna.velocity(TIMES_S), expected, atol=5e-3)


def test_gravity_felt_is_asked_for_at_the_speeds_of_the_path():
    asked = []
    path = round_a_circle(1).path
    AntennaPath.of(KNOTS, path, ABOVE_M, lambda speed: asked.append(speed) or speed)
    np.testing.assert_allclose(asked[0], SPEED_MPS, rtol=1e-3)
    assert len(asked[0]) == KNOTS.intervals


def test_velocities_dated_back_have_an_attitude_of_their_own(circle, plane):
    seen = observe_log(circle.log(lasts_s=20.0), plane)
    seen = replace(seen, time_s=TIMES_S, velocity_time_s=TIMES_S)
    position, velocity = round_a_circle(1).attitudes(seen)
    assert not seen.lags and velocity is position
    late = replace(seen, velocity_time_s=TIMES_S - 0.3)
    position, velocity = round_a_circle(1).attitudes(late)
    np.testing.assert_array_equal(velocity.left, round_a_circle(1).attitude(TIMES_S - 0.3).left)
    assert np.max(np.abs(velocity.left - position.left)) > 0.1
