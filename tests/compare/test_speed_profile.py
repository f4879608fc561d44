"""The fastest speeds along a path within a rider's own lean, drive and brakes."""

import numpy as np
import pytest

from lapkit.compare.speed_profile import Limits, speed_profile, time_along_s
from lapkit.units import GRAVITY_MPS2

LIMITS = Limits(np.array(0.8), np.array(3.0), np.array(6.0))


def test_a_straight_is_ridden_at_steady_drive():
    speed = speed_profile(1.0, np.zeros(51), LIMITS, np.array(20.0))
    assert speed[-1] == pytest.approx(np.sqrt(400.0 + 2 * 3.0 * 50.0))
    # v = v0 + at (derived).
    assert time_along_s(1.0, speed) == pytest.approx((speed[-1] - 20.0) / 3.0)


def test_brakes_come_on_before_a_corner():
    bend = np.where(np.arange(120) < 80, 0.0, 1 / 40)
    speed = speed_profile(1.0, bend, LIMITS, np.array(30.0))
    corner = np.sqrt(0.8 * GRAVITY_MPS2 * 40.0)
    np.testing.assert_allclose(speed[80:], corner)
    brake = -np.diff(0.5 * speed[:81] ** 2)
    assert brake.max() == pytest.approx(6.0, rel=1e-6)
    assert speed.argmax() < 75


def test_steps_of_a_metre_are_as_good_as_steps_of_a_centimetre():
    def leaving(step_m):
        along = np.linspace(0.0, 40.0, int(40.0 / step_m) + 1)
        opening = np.interp(along, [0.0, 40.0], [1 / 25, 1 / 400])
        return speed_profile(step_m, opening, LIMITS, np.array(12.0))[-1]

    assert leaving(1.0) == pytest.approx(leaving(0.01), abs=1e-3)


def test_a_tighter_path_is_slower_and_a_dip_faster():
    bend = np.full(60, 1 / 40)
    speeds = [
        speed_profile(1.0, bend, LIMITS, np.array(99.0)),
        speed_profile(1.0, 1.2 * bend, LIMITS, np.array(99.0)),
        speed_profile(1.0, bend, LIMITS, np.array(99.0), np.full(60, 1 / 500)),
    ]
    assert speeds[1].max() < speeds[0].max() < speeds[2].max()


def test_turning_the_other_way_is_the_same():
    bend = np.sin(np.linspace(0.0, 3.0, 80)) / 30
    np.testing.assert_array_equal(
        speed_profile(1.0, bend, LIMITS, np.array(15.0)),
        speed_profile(1.0, -bend, LIMITS, np.array(15.0)),
    )


def test_many_paths_at_once_give_what_each_gives_alone():
    bend = np.stack([np.full(40, 1 / 30), np.full(40, 1 / 60)])
    many = Limits(np.array([0.8, 0.6]), np.array([3.0, 2.0]), np.array([6.0, 5.0]))
    both = speed_profile(1.0, bend, many, np.array([12.0, 12.0]))
    for i in range(2):
        one = Limits(many.lean_tangent[i], many.drive_mps2[i], many.brake_mps2[i])
        np.testing.assert_allclose(both[i], speed_profile(1.0, bend[i], one, np.array(12.0)))
