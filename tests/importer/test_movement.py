"""How positions moved, and whether the logged velocity agrees."""

import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.importer.log import Log
from lapkit.importer.movement import movement_of, spread_m


def northward(mps, rate_hz=10.0, **channels):
    """A log that goes north at a speed for each fix, m/s."""
    mps = np.asarray(mps, dtype=float)
    north_m = np.cumsum(mps) / rate_hz
    time_s = np.arange(len(mps)) / rate_hz
    lat = 50.0 + north_m / METRES_PER_DEGREE
    return Log("n", "", time_s, lat, np.full(len(mps), 8.0), **channels)


def test_only_what_is_faster_than_a_walk_counts_as_moving():
    speeds = np.repeat([1.5, 10.0], [300, 300])
    movement = movement_of(northward(speeds))
    assert movement.moving_s == pytest.approx(30.0, abs=1.0)
    assert movement.pace_mps == pytest.approx(10.0, abs=0.01)


def test_the_pace_is_that_of_the_slowest_quarter():
    movement = movement_of(northward(np.repeat([10.0, 30.0], [200, 600])))
    assert 10.0 <= movement.pace_mps <= 30.0
    assert movement_of(northward(np.repeat([10.0, 30.0], [220, 580]))).pace_mps == pytest.approx(
        10.0
    )
    assert movement_of(northward(np.repeat([10.0, 30.0], [150, 650]))).pace_mps == pytest.approx(
        30.0
    )


def test_a_gap_is_no_movement():
    log = northward(np.full(400, 20.0))
    time_s = np.where(np.arange(400) < 200, log.time_s, log.time_s + 100.0)
    gapped = Log("n", "", time_s, log.lat_deg, log.lon_deg)
    assert movement_of(gapped).moving_s == pytest.approx(
        38.0, abs=0.3
    )  # a second lost on either side


def test_who_never_moves_has_no_pace():
    movement = movement_of(northward(np.zeros(100)))
    assert movement.moving_s == 0.0
    assert np.isnan(movement.pace_mps)


def test_speed_and_heading_are_held_against_the_positions():
    velocity = {"speed_mps": np.full(100, 30.0), "heading_deg": np.full(100, 350.0)}
    movement = movement_of(northward(np.full(100, 20.0), **velocity))
    assert movement.speed_ratio == pytest.approx(1.5)
    assert movement.heading_off_deg == pytest.approx(10.0)


@pytest.mark.parametrize(("heading_deg", "off_deg"), [(45.0, 0.0), (80.0, 35.0), (10.0, 35.0)])
def test_a_heading_is_clockwise_from_north(heading_deg, off_deg):
    north = northward(np.full(100, 20.0))
    east_deg = (north.lat_deg - 50.0) / np.cos(np.radians(north.lat_deg))
    velocity = {"speed_mps": np.full(100, 28.3), "heading_deg": np.full(100, heading_deg)}
    log = Log("ne", "", north.time_s, north.lat_deg, 8.0 + east_deg, **velocity)
    assert movement_of(log).heading_off_deg == pytest.approx(off_deg, abs=0.1)
    assert movement_of(log).speed_ratio == pytest.approx(1.0, abs=0.01)


def test_fixes_farther_apart_than_a_second_are_compared_one_by_one():
    movement = movement_of(northward(np.full(60, 20.0), rate_hz=0.5))
    assert movement.pace_mps == pytest.approx(20.0)
    assert movement.moving_s == pytest.approx(118.0)


def test_without_a_velocity_there_is_nothing_to_hold_against_them():
    movement = movement_of(northward(np.full(100, 20.0), speed_mps=np.full(100, 30.0)))
    assert np.isnan(movement.speed_ratio)
    assert np.isnan(movement.heading_off_deg)


def test_the_spread_leaves_out_the_farthest_fixes_and_crosses_the_antimeridian():
    rng = np.random.default_rng(5)
    lat = 60.0 + rng.normal(0.0, 10.0, 4000) / METRES_PER_DEGREE
    lon = 180.0 + rng.normal(0.0, 10.0, 4000) / METRES_PER_DEGREE / np.cos(np.radians(60.0))
    lat[:20] += 1.0
    log = Log("s", "", np.arange(4000.0), lat, (lon + 180.0) % 360.0 - 180.0)
    # Derived: of a round normal scatter 95 % lie within sqrt(-2 ln 0.05) = 2.45 standard deviations.
    assert spread_m(log) == pytest.approx(24.5, rel=0.05)
