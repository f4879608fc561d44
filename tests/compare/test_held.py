"""Values held over 10 m: means and extremes, against curves known in closed form."""

import numpy as np
import pytest

from lapkit.compare.grid import STEP_M, WINDOW, Grid
from lapkit.compare.held import Held, HeldMean


def ramp(n=60, slope=0.001):
    """Curvature growing straight with length: a window holds what its middle has."""
    s = STEP_M * np.arange(float(n))
    return Held((0.5 * slope * s**2)[None], s[None])


def test_axes_before_the_path_are_kept():
    rows = np.random.default_rng(0).normal(size=(3, 2, 40)).cumsum(axis=-1)
    held = HeldMean(rows)
    first, last = np.full((3, 2, 2), [4.3, 15.0]), np.full((3, 2, 1), 31.8)
    value, place = held.largest(first, last)
    assert value.shape == place.shape == (3, 2, 2)
    alone, _ = HeldMean(rows[2, 1]).largest(np.array([15.0]), np.array([31.8]))
    assert value[2, 1, 1] == pytest.approx(float(alone[0]))


@pytest.mark.parametrize("kind", ["sum", "mean"])
def test_paths_that_follow_each_other_are_measured_as_if_alone(kind):
    rng = np.random.default_rng(1)
    values = [rng.normal(size=(3, n)).cumsum(axis=-1) for n in (40, 25, 61)]
    lengths = [np.broadcast_to(np.arange(float(v.shape[-1])), v.shape) for v in values]
    grid = Grid.of([v.shape[-1] for v in values])

    def held(total, length, where=None):
        return Held(total, length, where) if kind == "sum" else HeldMean(total, where)

    # To the very ends of each path, within it, over less than 10 m, and not ridden at all.
    first = np.array([[0.0, 3.4, 12.0, np.nan]] * 3)
    last = np.array([[39.0, 20.7, 16.0, 20.0], [24.0, 20.7, 16.0, 20.0], [60.0, 20.7, 16.0, 20.0]])
    begin = grid.first[:, None]
    length = np.concatenate([one + 100.0 * i for i, one in enumerate(lengths)], axis=-1)
    together = held(np.concatenate(values, axis=-1), length, grid)
    ends = [np.broadcast_to(begin + place, (3, 3, 4)) for place in (first, last)]
    for name in ("largest", "smallest"):
        value, place = getattr(together, name)(*ends)
        for i, (own, along) in enumerate(zip(values, lengths, strict=True)):
            each = [np.broadcast_to(at[i], (3, 4)) for at in (first, last)]
            alone = getattr(held(own, along), name)(*each)
            np.testing.assert_allclose(value[:, i], alone[0])
            np.testing.assert_allclose(place[:, i] - begin[i], alone[1])
            at = held(own, along).at(each[1])
            np.testing.assert_allclose(together.at(ends[1])[:, i], at)


def test_mean_of_a_straight_ramp_is_the_middle():
    held = HeldMean(np.arange(30.0)[None])
    np.testing.assert_allclose(held.at(np.array([[7.0, 12.25]])), [[7.0, 12.25]])


@pytest.mark.parametrize(("first", "last"), [(3.0, 40.0), (3.4, 40.7), (12.9, 23.0)])
def test_windows_reach_to_the_very_ends_of_a_phase(first, last):
    held, half = ramp(), 0.5 * WINDOW
    largest, at = held.largest(np.array([[first]]), np.array([[last]]))
    smallest, low = held.smallest(np.array([[first]]), np.array([[last]]))
    assert (largest[0, 0], at[0, 0]) == pytest.approx((0.001 * STEP_M * (last - half), last - half))
    assert (smallest[0, 0], low[0, 0]) == pytest.approx(
        (0.001 * STEP_M * (first + half), first + half)
    )


def test_a_phase_shorter_than_a_window_is_taken_whole():
    value, place = ramp().largest(np.array([[20.0]]), np.array([[24.0]]))
    assert (value[0, 0], place[0, 0]) == pytest.approx((0.022 * STEP_M, 22.0))
    mean = HeldMean(np.arange(30.0)).largest(np.array([20.0]), np.array([24.0]))
    assert mean[0][0] == pytest.approx(22.0)


def test_a_path_without_limits_has_no_value():
    twice = Held(np.repeat(ramp().total, 2, axis=0), np.repeat(ramp().length_m, 2, axis=0))
    value, _ = twice.largest(np.array([[3.0], [np.nan]]), np.array([[40.0], [40.0]]))
    assert value[0, 0] == pytest.approx(0.001 * STEP_M * (40.0 - 0.5 * WINDOW))
    assert np.isnan(value[1, 0])


@pytest.mark.parametrize("peak", [30.0, 30.2, 30.5, 30.8])
def test_a_peak_between_grid_points_is_found_there(peak):
    # A bend of 60 m from straight to straight; the mean of a cosine over 10 m is known.
    wave = 2.0 * np.pi * STEP_M / 60.0
    at = np.arange(61.0)
    held = HeldMean(np.cos(wave * (at - peak)))
    value, place = held.largest(np.array([15.0]), np.array([45.0]))
    reach = 0.5 * WINDOW * wave
    assert value[0] == pytest.approx(np.sin(reach) / reach, rel=1e-3)
    assert place[0] == pytest.approx(peak, abs=0.02)
    beside = np.array([peak + 4.3])
    assert held.at(beside)[0] == pytest.approx(np.cos(4.3 * wave) * value[0], abs=1e-3)


def test_length_is_each_paths_own():
    # The second path is 2 % longer than its grid and turns the same: 2 % less curvature.
    s = np.arange(40.0)
    held = Held(np.stack([s, s]) * 0.02, np.stack([s, 1.02 * s]))
    np.testing.assert_allclose(held.at(np.array([[20.0], [20.0]]))[:, 0], [0.02, 0.02 / 1.02])
