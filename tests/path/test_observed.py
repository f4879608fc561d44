"""Velocities of a log as observations: what headings in whole degrees still tell."""

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
