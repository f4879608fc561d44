"""The shift east and north that changes of line at many cones have in common."""

import numpy as np
import pytest

from lapkit.compare.common_shift import common_shift


def outward(n=24):
    angle = np.linspace(0.0, 2 * np.pi, n, endpoint=False)
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def test_a_shift_by_compass_is_found():
    rng = np.random.default_rng(0)
    ways = outward()
    seen = ways @ [0.9, -0.4] + rng.normal(0, 0.1, len(ways))
    shift = common_shift(seen, np.full(len(ways), 0.01), ways, 1.0)
    np.testing.assert_allclose(shift.metres, [0.9, -0.4], atol=0.1)
    assert np.sqrt(shift.covariance[0, 0]) < 0.05


def test_wide_everywhere_is_no_shift():
    ways = outward()
    shift = common_shift(np.full(len(ways), 1.5), np.full(len(ways), 0.02), ways, 1.0)
    np.testing.assert_allclose(shift.metres, 0.0, atol=1e-9)


def test_cones_that_changed_of_themselves_do_not_pull_the_rest_along():
    ways = outward()
    seen = ways @ [0.5, 0.0]
    seen[:3] += 1.5
    shift = common_shift(seen, np.full(len(ways), 0.02), ways, 1.0)
    # Three cones of 24 ten standard deviations away: they pull by a tenth of a metre, not by three.
    np.testing.assert_allclose(shift.metres, [0.5, 0.0], atol=0.1)


def test_what_no_cone_can_see_stays_as_unknown_as_it_was():
    ways = np.array([[1.0, 0.0], [1.0, 0.0], [-1.0, 0.0]])
    shift = common_shift(np.array([0.4, 0.4, -0.4]), np.full(3, 1e-4), ways, 0.7)
    assert shift.metres == pytest.approx([0.4, 0.0], abs=1e-3)
    assert np.sqrt(shift.covariance[1, 1]) == pytest.approx(0.7)


def test_a_receiver_without_an_offset_has_no_shift():
    shift = common_shift(np.full(4, 0.3), np.full(4, 0.01), outward(4), 0.0)
    np.testing.assert_allclose(shift.metres, 0.0, atol=1e-6)


def test_cones_that_do_not_agree_show_less_of_a_shift_and_three_that_changed_do_not_matter():
    rng = np.random.default_rng(5)
    ways, variance = outward(), np.full(24, 0.01)

    def known(change):
        return np.sqrt(common_shift(change, variance, ways, 1.0).covariance[0, 0])

    agreed = rng.normal(0.0, 0.1, 24)
    assert known(3.0 * agreed) > 2.0 * known(agreed)
    changed = agreed + np.where(np.arange(24) % 8 == 0, 2.0, 0.0)
    assert known(changed) < 1.5 * known(agreed)
