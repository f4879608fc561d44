"""The tyre path along a course, of rides round a circle."""

import numpy as np
import pytest

from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.path.draws import PathDraws
from lapkit.path.tyre_track import TyreTrack
from lapkit.units import GRAVITY_MPS2

RADIUS_M = 60.0


@pytest.fixture(scope="module")
def course():
    """A ring ridden to the left; stations count from the east."""
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    ring = StationLine.through(RADIUS_M * np.cos(angle), RADIUS_M * np.sin(angle), True)
    return Course(Plane(47.0, 8.0), ring, np.zeros((2, 2)), ())


def ridden(time_s, angle_rad, speed_mps, radius_m=RADIUS_M, com_height_m=0.6):
    """The mass path round the ring in balance, and one draw of it a metre further out and twice as fast."""
    speed = speed_mps * np.ones(len(time_s))
    out = np.stack([np.cos(angle_rad), np.sin(angle_rad)])
    ahead = np.stack([-out[1], out[0]])
    rows = [(radius_m, speed), (radius_m + 1.0, 2.0 * speed)]
    x, y = (np.stack([r * out[i] for r, _ in rows]) for i in (0, 1))
    vx, vy = (np.stack([v * ahead[i] for _, v in rows]) for i in (0, 1))
    ax, ay = (np.stack([-(v**2) / r * out[i] for r, v in rows]) for i in (0, 1))
    lean = np.stack([v**2 / r / GRAVITY_MPS2 for r, v in rows])
    return PathDraws(time_s, x, y, vx, vy, ax, ay, lean, np.full((2, 1), com_height_m))


def laps(speed_mps, lasts_s, radius_m=RADIUS_M):
    time = np.arange(0.0, lasts_s, 0.1)
    return ridden(time, speed_mps / radius_m * time, speed_mps, radius_m)


def test_tyres_run_outside_the_leaning_mass_path_lap_after_lap(course):
    speed = 20.0
    track = TyreTrack.of(laps(speed, 60.0), course)
    lean = np.arctan(speed**2 / RADIUS_M / GRAVITY_MPS2)
    # Of a left-hander outside is to the right.
    np.testing.assert_allclose(track.offset_m, -0.6 * np.sin(lean), atol=1e-3)
    np.testing.assert_allclose(track.station_m, speed * track.time_s, atol=0.01)
    assert track.station_m[-1] > 3.0 * course.reference.length_m
    assert len(track.time_s) == 600


def test_it_is_the_estimate_s_and_no_draw_s(course):
    near = TyreTrack.of(laps(20.0, 10.0, RADIUS_M + 2.0), course)
    lean = np.arctan(20.0**2 / (RADIUS_M + 2.0) / GRAVITY_MPS2)
    np.testing.assert_allclose(near.offset_m, -2.0 - 0.6 * np.sin(lean), atol=1e-3)


def test_where_he_waits_or_pushes_he_is_left_out(course):
    time = np.arange(0.0, 40.0, 0.1)
    speed = np.where((time > 10.0) & (time < 25.0), 4.9, 5.1)
    angle = np.concatenate([[0.0], np.cumsum(0.1 * speed[:-1])]) / RADIUS_M
    track = TyreTrack.of(ridden(time, angle, speed), course)
    np.testing.assert_array_equal(track.time_s, time[speed > 5.0])
    np.testing.assert_allclose(track.station_m, (RADIUS_M * angle)[speed > 5.0], atol=0.01)


def test_where_he_rides_the_other_way_he_is_left_out(course):
    """As down again on the road of a hill climb, where his left is another edge than on the way up."""
    time = np.arange(0.0, 20.0, 0.1)
    up, down = (ridden(time, way * 10.0 / RADIUS_M * time, way * 10.0) for way in (1.0, -1.0))
    assert len(TyreTrack.of(up, course).time_s) == 200
    assert len(TyreTrack.of(down, course).time_s) == 0


def straight(time_s, x_m, y_m, speed_mps=20.0):
    """The mass path of a ride to the east, with no draw of it."""
    rows = (x_m, y_m, speed_mps, 0.0, 0.0, 0.0, 0.0)
    return PathDraws(time_s, *(np.zeros((1, len(time_s))) + row for row in rows), np.zeros((1, 1)))


def hill_climb():
    """A course of a kilometre to the east whose ends do not meet."""
    road = StationLine.through(np.linspace(0.0, 1000.0, 201), np.zeros(201), False)
    return Course(Plane(47.0, 8.0), road, np.zeros((2, 2)), ())


def test_rides_up_a_hill_climb_are_told_apart_and_begin_and_end_with_the_course():
    # From 100 m before the start to 100 m beyond the end, three times, five minutes from one start to the next; on the
    # second he breaks off after 300 m and starts again.
    x = np.arange(-100.0, 1100.0, 2.0)
    broken_off = np.arange(0.0, 300.0, 2.0)
    ridden = [x, broken_off, x, x]
    times = [300.0 * i + np.arange(len(each)) / 10.0 for i, each in enumerate(ridden)]
    track = TyreTrack.of(straight(np.concatenate(times), np.concatenate(ridden), 0.0), hill_climb())
    assert track.station_m.min() >= 0.0 and track.station_m.max() < 1000.0
    ride = np.floor_divide(track.time_s, 300.0)
    np.testing.assert_allclose(track.counted_m, track.station_m + 1000.0 * ride)
    assert np.all(np.diff(track.counted_m) > 0.0)


def test_lap_after_lap_of_a_loop_stations_grow_by_themselves(course):
    track = TyreTrack.of(laps(20.0, 60.0), course)
    np.testing.assert_array_equal(track.counted_m, track.station_m)


def test_what_no_fix_saw_is_left_out(course):
    """Two fixes missing in a row are a gap, a single one is none."""
    whole = TyreTrack.of(laps(20.0, 20.0), course)
    fixes = np.arange(0.0, 20.0, 0.2)
    fixes = np.delete(fixes, [10, 50, 51])  # at 2.0 s, and from 10.0 to 10.2 s
    track = whole.where_seen(fixes)
    gone = (whole.time_s > 9.8 + 1e-9) & (whole.time_s < 10.4 + 1e-9)
    np.testing.assert_allclose(track.time_s, whole.time_s[~gone])
    np.testing.assert_allclose(track.station_m, whole.station_m[~gone])
    np.testing.assert_allclose(track.offset_m, whole.offset_m[~gone])


def test_left_is_towards_the_middle_of_a_left_hand_ring(course):
    track = TyreTrack.of(laps(20.0, 30.0), course)
    angle = 20.0 / RADIUS_M * track.time_s
    np.testing.assert_allclose(
        track.left, -np.stack([np.cos(angle), np.sin(angle)], axis=1), atol=2e-3
    )
    assert np.hypot(*track.left.T) == pytest.approx(1.0)
