"""Velocities of a log as observations: what headings in whole degrees still tell."""

import warnings

import numpy as np
import pytest

from lapkit.course.plane import Plane
from lapkit.importer.log import Log
from lapkit.path.observed import observe_log

PLANE = Plane(47.0, 8.0)
RATE_HZ, SPEED_MPS = 10.0, 50.0


def weights(heading_deg):
    """Weights of velocities logged ten times a second at 50 m/s."""
    time = np.arange(len(heading_deg)) / RATE_HZ
    heading = np.radians(heading_deg)
    x, y = (np.cumsum(SPEED_MPS * f(heading)) / RATE_HZ for f in (np.sin, np.cos))
    lat, lon = PLANE.to_lat_lon(x, y)
    speed = np.full(len(time), SPEED_MPS)
    log = Log("a.csv", "0", time, lat, lon, speed_mps=speed, heading_deg=np.asarray(heading_deg))
    return observe_log(log, PLANE).velocity_weight


def test_a_heading_in_whole_degrees_tells_a_straight_as_often_as_it_was_written_anew():
    straight, bend = np.full(60, 41.0), 41.0 + 3.0 * np.arange(1, 31)
    weight = weights(np.concatenate([straight, bend]))
    # One velocity errs by 0.1 m/s, and rounding by up to half a degree takes off as much as a uniform deviate.
    rounding = SPEED_MPS * np.radians(1.0) / np.sqrt(12.0)
    mean_of_all = np.sqrt((0.1**2 + rounding**2) / weight[:60].sum())
    assert mean_of_all == pytest.approx(np.hypot(rounding, 0.1 / np.sqrt(60.0)), rel=0.01)
    np.testing.assert_allclose(weight[60:], 1.0)


def test_a_heading_that_is_turned_through_evens_out():
    turning = np.repeat(np.arange(41.0, 71.0), 4)
    np.testing.assert_allclose(weights(turning), 1.0)


def test_finer_headings_tell_a_straight_all_along():
    rng = np.random.default_rng(1)
    np.testing.assert_allclose(weights(41.4 + rng.normal(0.0, 0.1, 60)), 1.0)


def test_finer_headings_that_stay_alike_tell_a_straight_all_along_too():
    np.testing.assert_array_equal(weights(np.full(60, 41.4)), 1.0)


@pytest.mark.parametrize(("fixes", "whole"), [(60, False), (150, True)])
def test_one_finer_heading_in_a_hundred_may_be_chance(fixes, whole):
    heading = np.full(fixes, 41.0)
    heading[10] = 41.3
    assert np.all(weights(heading)[20:] < 0.5) == whole


@pytest.mark.parametrize(("alike", "turned_through"), [(5, True), (7, False)])
def test_a_heading_lasts_from_six_tenths_of_a_second_on(alike, turned_through):
    weight = weights(np.repeat(np.arange(41.0, 61.0), alike))[:-alike]
    assert np.all(weight == 1.0) == turned_through
    assert np.all(weight < 0.5) != turned_through


def log_of(speed_mps, heading_deg):
    """A log of two channels, ten times a second; None where it lacks one."""
    n = 5
    lat, lon = PLANE.to_lat_lon(np.arange(n) * 3.0, np.arange(n) * -4.0)
    logged = {
        name: None if v is None else np.asarray(v, dtype=float)
        for name, v in (("speed_mps", speed_mps), ("heading_deg", heading_deg))
    }
    return Log("a.csv", "0", np.arange(n) / RATE_HZ, lat, lon, **logged)


def test_speed_and_heading_clockwise_from_north_make_the_velocity():
    seen = observe_log(log_of([10.0] * 5, [0.1, 90.1, 180.1, 270.1, 36.87]), PLANE)
    np.testing.assert_allclose(seen.vx_mps, [0.0, 10.0, 0.0, -10.0, 6.0], atol=0.02)
    np.testing.assert_allclose(seen.vy_mps, [10.0, 0.0, -10.0, 0.0, 8.0], atol=0.02)
    np.testing.assert_array_equal(seen.velocity_weight, 1.0)
    np.testing.assert_allclose(seen.x_m, 3.0 * np.arange(5), atol=1e-4)
    np.testing.assert_allclose(seen.y_m, -4.0 * np.arange(5), atol=1e-4)
    np.testing.assert_array_equal(seen.position_weight, 1.0)


def test_standing_he_is_taken_to_stand_the_surer_the_slower_it_was_logged():
    # A receiver at a standstill spins the heading, or leaves it out.
    seen = observe_log(log_of([0.0, 0.3, 0.9, 0.0, 1.0], [77.7, 200.2, 3.3, np.nan, 90.9]), PLANE)
    np.testing.assert_array_equal(seen.vx_mps[:4], 0.0)
    np.testing.assert_array_equal(seen.vy_mps[:4], 0.0)
    np.testing.assert_allclose(seen.velocity_weight, [1.0, 0.5, 0.1, 1.0, 1.0])
    assert np.hypot(seen.vx_mps[4], seen.vy_mps[4]) == pytest.approx(1.0)


def test_a_log_of_nothing_but_standing_is_read_without_a_warning():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        seen = observe_log(log_of([0.0] * 5, [np.nan] * 5), PLANE)
    np.testing.assert_array_equal(seen.velocity_weight, 1.0)


def test_a_velocity_of_which_half_was_not_logged_counts_for_nothing():
    seen = observe_log(
        log_of([10.0, np.nan, 12.0, np.nan, 9.0], [45.5, 45.5, np.nan, np.nan, 8.8]), PLANE
    )
    np.testing.assert_array_equal(seen.velocity_weight, [1.0, 0.0, 0.0, 0.0, 1.0])
    assert np.all(np.isfinite(seen.vx_mps) & np.isfinite(seen.vy_mps))


@pytest.mark.parametrize(
    ("speed_mps", "heading_deg"), [(None, [3.3] * 5), ([9.0] * 5, None), (None, None)]
)
def test_without_speed_or_heading_there_is_no_velocity(speed_mps, heading_deg):
    seen = observe_log(log_of(speed_mps, heading_deg), PLANE)
    assert not seen.has_velocity
    np.testing.assert_array_equal(seen.position_weight, 1.0)


def slow(heading_deg, speed_mps=2.0):
    """Weights of velocities at the pace of a pit lane."""
    time = np.arange(len(heading_deg)) / RATE_HZ
    lat, lon = PLANE.to_lat_lon(speed_mps * time, np.zeros(len(time)))
    speed = np.full(len(time), speed_mps)
    log = Log("a.csv", "0", time, lat, lon, speed_mps=speed, heading_deg=np.asarray(heading_deg))
    return observe_log(log, PLANE).velocity_weight


def test_a_heading_that_froze_at_the_pace_of_a_pit_lane_is_left_out():
    measured = 88.0 + np.random.default_rng(1).normal(0.0, 1.0, 40).round(2)
    weight = slow(np.concatenate([measured, np.full(20, 271.43), measured]))
    np.testing.assert_array_equal(weight, np.repeat([1.0, 0.0, 1.0], [40, 20, 40]))


def test_the_same_heading_twice_is_chance_and_faster_it_is_a_straight():
    measured = 88.0 + np.random.default_rng(1).normal(0.0, 1.0, 40).round(2)
    measured[11] = measured[10]
    np.testing.assert_array_equal(slow(measured), 1.0)
    still_straight = np.concatenate([measured, np.full(20, 88.13), measured])
    np.testing.assert_array_equal(slow(still_straight, 6.0), 1.0)


def test_headings_in_whole_degrees_stay_alike_without_having_frozen():
    assert np.all(slow(np.repeat([88.0, 89.0, 88.0], 10)) > 0.0)
