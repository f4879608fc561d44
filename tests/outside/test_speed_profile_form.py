"""The speed profile against its closed form on constant radius."""

import numpy as np
import pytest

from lapkit.compare.speed_profile import Limits, speed_profile
from lapkit.units import GRAVITY_MPS2


def circle(step_m, length_m, start_mps, radius_m=40.0, friction=1.0):
    count = round(length_m / step_m) + 1
    pull = np.array(friction * GRAVITY_MPS2)
    limits = Limits(np.array(friction), pull, pull)
    return speed_profile(step_m, np.full(count, 1.0 / radius_m), limits, np.array(start_mps))


def test_constant_radius_under_a_friction_circle_in_full_use():
    # v² = μ g R sin(2s/R + asin(v0²/(μ g R))): μ 1, R 40, v0 10, s 8 → 15.485948 (derived).
    assert circle(0.1, 8.0, 10.0)[-1] == pytest.approx(15.485948, abs=2e-6)
    assert circle(1.0, 8.0, 10.0)[-1] == pytest.approx(15.485948, abs=1e-4)


@pytest.mark.parametrize("along_m", [2.0, 5.0, 12.0])
def test_closed_form_all_along(along_m):
    # The same form at other places (derived).
    top = GRAVITY_MPS2 * 40.0
    expected = np.sqrt(top * np.sin(2.0 * along_m / 40.0 + np.arcsin(100.0 / top)))
    assert circle(0.1, along_m, 10.0)[-1] == pytest.approx(expected, abs=1e-5)


def test_the_circle_closes_at_the_lean_limit():
    # From rest in cornering to μ g R after a quarter of 2s/R = π/2 (derived): no faster after that.
    speed = circle(0.25, 60.0, 10.0)
    assert speed.max() <= np.sqrt(GRAVITY_MPS2 * 40.0) + 1e-9
    assert speed[-1] == pytest.approx(np.sqrt(GRAVITY_MPS2 * 40.0), rel=1e-3)
