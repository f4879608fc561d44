"""Heading and lean along a path, in balance on a circle and while creeping."""

import numpy as np
import pytest

from lapkit.path.attitude import Attitude
from lapkit.units import GRAVITY_MPS2


def attitude(speed_mps, radius_m, drive_mps2=0.0, load=GRAVITY_MPS2):
    """Headed north, turning to the left for a positive radius."""
    speed, load = np.array([speed_mps]), np.array([load])
    across = speed**2 / radius_m
    return Attitude.of(0.0 * speed, speed, -across, np.full(1, drive_mps2), load)


@pytest.mark.parametrize("radius_m", [50.0, -50.0])
@pytest.mark.parametrize("load", [GRAVITY_MPS2, 12.0])
def test_in_balance_on_a_circle_lean_turning_and_both_accelerations_are_known(radius_m, load):
    found = attitude(20.0, radius_m, 1.5, load)
    across = 400.0 / radius_m
    np.testing.assert_allclose(found.left[:, 0], [-1.0, 0.0], atol=1e-12)
    assert found.across == pytest.approx(across) and found.along == pytest.approx(1.5)
    assert found.turning == pytest.approx(20.0 / radius_m)
    assert found.sin_lean == pytest.approx(np.sin(np.arctan(across / load)))
    # The slope is how sin(lean) changes with acceleration to the left.
    ahead, behind = (np.sin(np.arctan((across + step) / load)) for step in (1e-5, -1e-5))
    assert found.slope == pytest.approx((ahead - behind) / 2e-5, rel=1e-6)


@pytest.mark.parametrize(("speed_mps", "share"), [(3.0, 0.0), (4.5, 0.5), (6.0, 1.0)])
def test_creeping_no_lean_is_assumed_and_from_six_metres_a_second_all_of_it(speed_mps, share):
    found = attitude(speed_mps, 10.0, 0.8)
    across = speed_mps**2 / 10.0
    assert found.across == pytest.approx(across) and found.along == pytest.approx(0.8)
    assert found.turning == pytest.approx(speed_mps / 10.0)

    def sin_lean(across_mps2):
        return share * np.sin(np.arctan(across_mps2 / GRAVITY_MPS2))

    assert found.sin_lean == pytest.approx(sin_lean(across))
    change = (sin_lean(across + 1e-5) - sin_lean(across - 1e-5)) / 2e-5
    assert found.slope == pytest.approx(change, rel=1e-6)


def test_at_rest_there_is_no_lean_and_nothing_is_infinite():
    found = attitude(0.0, 10.0, 0.8)
    assert found.sin_lean == found.slope == 0.0
    assert all(np.isfinite(value).all() for value in vars(found).values())


def test_the_antenna_moves_aside_as_fast_as_its_place_aside_changes():
    """On a line that bends and is braked on, against differences of its place."""
    place = [np.polynomial.Polynomial(c) for c in ([0.0, 18.0, 1.5, -0.9], [0.0, 3.0, 2.5, 0.4])]

    def at(time_s):
        v, a, jerk = (np.stack([p.deriv(order)(time_s) for p in place]) for order in (1, 2, 3))
        return Attitude.of(*v, *a, np.full(1, GRAVITY_MPS2)), jerk

    time_s, step = np.array([0.7]), 1e-5
    found, jerk = at(time_s)
    before, after = (at(time_s + away)[0].aside_m(0.3) for away in (-step, step))
    expected = (after - before) / (2.0 * step)
    assert np.hypot(*expected) > 0.05
    np.testing.assert_allclose(found.aside_mps(0.3, jerk), expected, rtol=1e-5)
