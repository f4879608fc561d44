"""The usual lap: a loop known by its repetition, and the middle of the rides round it."""

import numpy as np
import pytest

from lapkit.course.rides import Ride, sample
from lapkit.course.usual_lap import usual_lap
from lapkit.curvature import path_length_m
from lapkit.errors import TrackError

RADIUS_M = 80.0
LAP_M = 2.0 * np.pi * RADIUS_M


def ridden(laps, offset_m=0.0, speed_mps=20.0, wobble_m=0.0):
    """Anticlockwise round a ring, a place a metre, so far inside it."""
    at = np.arange(0.0, laps * LAP_M)
    radius = RADIUS_M - offset_m + wobble_m * np.sin(at / 4.1)
    angle = at / RADIUS_M
    speed = np.full(len(at), speed_mps)
    return Ride(at / speed_mps, radius * np.cos(angle), radius * np.sin(angle), speed)


def radii(lap):
    return np.hypot(*lap.xy_m.T)


def test_a_loop_ridden_again_and_again_is_closed():
    lap = usual_lap(sample([ridden(5.3)]))
    assert lap.closed
    ends = np.concatenate([lap.xy_m, lap.xy_m[:1]])
    assert path_length_m(*ends.T)[-1] == pytest.approx(LAP_M, rel=0.005)
    assert radii(lap) == pytest.approx(RADIUS_M, abs=0.2)


def test_it_is_the_middle_of_the_rides_and_not_their_mean():
    lap = usual_lap(sample([ridden(4, 0.0), ridden(4, 1.0), ridden(4, 8.0)]))
    assert np.median(radii(lap)) == pytest.approx(RADIUS_M - 1.0, abs=0.3)


def test_its_direction_is_the_one_ridden_most():
    there = ridden(5.0)
    back = Ride(*(channel if i == 0 else channel[::-1] for i, channel in enumerate(ridden(3.0))))
    x, y = usual_lap(sample([back, there])).xy_m.T
    turned = np.diff(np.unwrap(np.arctan2(y, x)))
    assert np.all(turned > 0.0)


def test_its_speed_is_the_usual_one():
    lap = usual_lap(sample([ridden(4, speed_mps=v) for v in (20.0, 22.0, 35.0)]))
    assert lap.speed_mps == pytest.approx(22.0, abs=0.5)


def test_wobble_that_two_halves_of_the_rides_do_not_share_is_smoothed():
    lap = usual_lap(sample([ridden(6.3, wobble_m=0.3)]))
    assert np.std(radii(lap)) < 0.06


def test_what_is_ridden_once_is_open():
    lap = usual_lap(sample([ridden(0.7)]))
    assert not lap.closed
    assert path_length_m(*lap.xy_m.T)[-1] == pytest.approx(0.7 * LAP_M, rel=0.02)


def test_a_road_up_and_down_again_is_open_and_goes_the_faster_way():
    x = np.concatenate([np.arange(0.0, 400.0), np.arange(400.0, 0.0, -1.0)])
    fast = np.where(np.arange(len(x)) < 400, 12.0, 25.0)
    time = np.cumsum(1.0 / fast)
    turns = [Ride(time + 900.0 * i, x, np.where(fast > 20, 3.0, 0.0), fast) for i in range(4)]
    lap = usual_lap(sample([Ride(*(np.concatenate(c) for c in zip(*turns, strict=True)))]))
    assert not lap.closed
    assert lap.xy_m[0, 0] > 300.0 and lap.xy_m[-1, 0] < 100.0
    assert np.median(lap.speed_mps) == pytest.approx(25.0, abs=1.0)


def test_hardly_any_riding_is_no_course():
    with pytest.raises(TrackError, match="no ride long enough"):
        usual_lap(sample([ridden(0.15)]))
