"""Mean velocities between positions, on rides whose velocity is known at every moment."""

import numpy as np
import pytest

from lapkit.path.displacements import Displacements, logged_velocities, usual_step_s
from lapkit.path.model import Observed

EVEN = 1.2


def seen_of(time_s, x_m, y_m=None, *, velocity_time_s=None, v=None, weight=None):
    """Positions at times; velocities, if any, as complex numbers."""
    n = len(time_s)
    v = np.zeros(n, dtype=complex) if v is None else v
    return Observed(
        time_s=time_s,
        x_m=x_m,
        y_m=np.zeros(n) if y_m is None else y_m,
        position_weight=np.ones(n),
        velocity_time_s=time_s if velocity_time_s is None else velocity_time_s,
        vx_mps=v.real,
        vy_mps=v.imag,
        velocity_weight=np.zeros(n) if weight is None else weight,
    )


@pytest.mark.parametrize(("rate_hz", "reach"), [(20.0, 6), (10.0, 3), (6.0, 2), (1.0, 1)])
def test_they_reach_as_far_as_asked_but_by_one_fix_at_least(rate_hz, reach):
    time = 100.0 + np.arange(60) / rate_hz
    moved = Displacements.of(seen_of(time, 20.0 * time), 0.3, EVEN)
    assert len(moved.middle_s) == 60 - 2 * reach
    np.testing.assert_allclose(moved.middle_s, time[reach:-reach])
    np.testing.assert_allclose(moved.lasted_s, 2 * reach / rate_hz)


def test_on_a_straight_ridden_steadily_they_are_the_velocity_at_uneven_times_too():
    time = np.cumsum(np.random.default_rng(1).uniform(0.09, 0.11, 300))
    seen = seen_of(time, 12.0 * time, -5.0 * time)
    moved = Displacements.of(seen, 0.3, EVEN)
    np.testing.assert_allclose(moved.mean_mps, 12.0 - 5.0j)
    assert np.ptp(moved.lasted_s) > 0.01


def test_under_steady_braking_they_are_the_velocity_in_their_middle():
    time = 0.1 * np.arange(100)
    moved = Displacements.of(seen_of(time, 50.0 * time - 2.0 * time**2), 0.3, EVEN)
    np.testing.assert_allclose(moved.mean_mps, 50.0 - 4.0 * moved.middle_s)


def test_round_a_circle_they_are_chords_shorter_than_the_way_ridden():
    time, turning = 0.1 * np.arange(200), 0.5
    seen = seen_of(time, 40.0 * np.cos(turning * time), 40.0 * np.sin(turning * time))
    moved = Displacements.of(seen, 0.3, EVEN)
    chord = 2.0 * 40.0 * np.sin(0.5 * turning * 0.6) / 0.6
    np.testing.assert_allclose(
        moved.mean_mps, chord * 1j * np.exp(1j * turning * moved.middle_s), rtol=1e-9
    )


def test_what_crosses_a_gap_is_left_out_and_all_else_is_kept():
    time = 0.1 * np.arange(100)
    time = np.concatenate([time, time[-1] + 0.1 + 4.0 + time])
    moved = Displacements.of(seen_of(time, 20.0 * time), 0.3, EVEN)
    # Six steps long: of the 194 there are, six contain the gap.
    assert len(moved.middle_s) == 188
    np.testing.assert_allclose(moved.lasted_s, 0.6)
    assert not np.any((moved.middle_s > 9.6 + 1e-6) & (moved.middle_s < 14.3 - 1e-6))


@pytest.mark.parametrize(("even", "kept"), [(1.15, 0), (1.2, 6)])
def test_how_much_longer_than_usual_one_may_take(even, kept):
    # One step of 0.21 s makes six 0.7 s long at 0.6 usual: 1.18 times as long.
    time = 0.1 * np.arange(40)
    time[20:] += 0.11
    moved = Displacements.of(seen_of(time, time), 0.3, even)
    assert np.count_nonzero(moved.lasted_s > 0.65) == kept


@pytest.mark.parametrize(
    ("fixes", "kept"), [(4005, 3999), (4006, 2000), (12_005, 4000), (40_006, 3637)]
)
def test_long_logs_are_thinned_to_some_thousands_all_along(fixes, kept):
    time = 0.1 * np.arange(fixes)
    moved = Displacements.of(seen_of(time, time), 0.3, EVEN)
    assert len(moved.middle_s) == kept
    assert moved.middle_s[0] == pytest.approx(0.3)
    assert moved.middle_s[-1] > time[-1] - 2.0
    assert np.ptp(np.diff(moved.middle_s)) < 1e-6


def test_the_usual_step_is_not_moved_by_gaps():
    time = np.concatenate([0.2 * np.arange(30), 500.0 + 0.2 * np.arange(20)])
    assert usual_step_s(seen_of(time, time)) == pytest.approx(0.2)


def test_velocities_that_count_come_with_their_own_times():
    time = np.arange(5.0)
    v = np.array([1.0 + 2.0j, 3.0, -4.0j, 5.0, np.nan])
    weight = np.array([1.0, 0.0, 0.01, 2.0, 0.0])
    seen = seen_of(time, time, velocity_time_s=time - 0.3, v=v, weight=weight)
    times, velocities = logged_velocities(seen)
    np.testing.assert_allclose(times, [-0.3, 1.7, 2.7])
    np.testing.assert_array_equal(velocities, v[[0, 2, 3]])
