"""What the wheels feel on the road under a path."""

import numpy as np
import pytest

from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.profile import profile_of
from lapkit.course.stations import StationLine
from lapkit.lean import balance_tangent
from lapkit.path.load import PathPoints, load_under
from lapkit.units import GRAVITY_MPS2

RADIUS_M = 300.0


@pytest.fixture(scope="module")
def course():
    """A ring whose heights are noise of 0.3 m about a level road."""
    angle = np.linspace(0.0, 2.0 * np.pi, 600, endpoint=False)
    ring = StationLine.through(RADIUS_M * np.cos(angle), RADIUS_M * np.sin(angle), True)
    at = np.arange(0.0, ring.length_m - 1.0, 5.0)
    heights = np.random.default_rng(2).normal(40.0, 0.3, len(at))
    return Course(
        Plane(47.0, 8.0), ring, np.zeros((2, 2)), (), profile=profile_of(ring, at, heights)
    )


@pytest.fixture(scope="module")
def path(course):
    """Points on the ring whose stations are known."""
    at = np.linspace(100.0, 900.0, 7)
    x, y = course.reference.at(at)
    return PathPoints(x, y, course.reference.heading_at(at), np.full(7, 1.0 / RADIUS_M), at)


def test_every_row_but_the_estimates_has_a_road_of_its_own(course, path):
    speed = np.full(7, 30.0)
    alone = load_under(course, path)(speed)
    rows = load_under(course, path, rows=33)(speed)
    assert rows.shape == (33, 7) and np.array_equal(rows[0], alone)
    off = course.profile.doubt_at(path.near_m, 33)[1:]
    assert rows[1:] - alone == pytest.approx(30.0**2 * off, rel=0.02)


def test_places_are_found_where_no_station_is_known(course, path):
    speed = np.full(7, 30.0)
    known = load_under(course, path)(speed)
    assert load_under(course, path._replace(near_m=None))(speed) == pytest.approx(known)


def test_on_a_slope_the_lean_is_that_of_the_speed_along_the_road():
    """A road that climbs by 15 in 100: what a receiver sees in plan is ridden that much faster along it."""
    grade, speed_mps, curvature_1pm = 0.15, 25.0, 1.0 / 80.0
    at = np.arange(0.0, 1001.0, 5.0)
    line = StationLine.through(at, 0.0 * at, False)
    profile = profile_of(line, at, grade * at)
    climb = Course(Plane(47.0, 8.0), line, np.zeros((2, 2)), (), profile=profile)
    middle, none = np.array([500.0]), np.zeros(1)
    path = PathPoints(middle, none, none, none + curvature_1pm, middle)
    load = load_under(climb, path)(none + speed_mps)
    along_road_mps = speed_mps * np.hypot(1.0, grade)
    expected = balance_tangent(along_road_mps, curvature_1pm, 0.0, grade)
    assert speed_mps**2 * curvature_1pm / load == pytest.approx(expected, rel=1e-3)
    assert load < 0.995 * GRAVITY_MPS2


def test_far_from_the_course_and_without_one_gravity_is_plain(course, path):
    speed = np.full(7, 30.0)
    far = path._replace(x_m=1.5 * path.x_m, y_m=1.5 * path.y_m, near_m=None)
    away = load_under(course, far, rows=3)(speed)
    assert np.array_equal(away, np.full((3, 7), GRAVITY_MPS2))
    assert np.array_equal(load_under(None, path)(speed), np.full(7, GRAVITY_MPS2))
