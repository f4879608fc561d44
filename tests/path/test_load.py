"""What the wheels feel on the road under a path."""

import numpy as np
import pytest

from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.profile import profile_of
from lapkit.course.stations import StationLine
from lapkit.path.load import load_at
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
    """Places on the ring, their headings and curvatures, and their stations."""
    at = np.linspace(100.0, 900.0, 7)
    x, y = course.reference.at(at)
    return x, y, course.reference.heading_at(at), np.full(7, 1.0 / RADIUS_M), at


def test_every_row_but_the_estimates_has_a_road_of_its_own(course, path):
    speed = np.full(7, 30.0)
    alone = load_at(course, *path)(speed)
    rows = load_at(course, *path, rows=33)(speed)
    assert rows.shape == (33, 7) and np.array_equal(rows[0], alone)
    off = course.profile.doubt_at(path[-1], 33)[1:]
    assert rows[1:] - alone == pytest.approx(30.0**2 * off, rel=0.02)


def test_places_are_found_where_no_station_is_known(course, path):
    speed = np.full(7, 30.0)
    assert load_at(course, *path[:4])(speed) == pytest.approx(load_at(course, *path)(speed))


def test_far_from_the_course_and_without_one_gravity_is_plain(course, path):
    x, y, *rest = path[:4]
    speed = np.full(7, 30.0)
    away = load_at(course, 1.5 * x, 1.5 * y, *rest, rows=3)(speed)
    assert np.array_equal(away, np.full((3, 7), GRAVITY_MPS2))
    assert np.array_equal(load_at(None, x, y, *rest)(speed), np.full(7, GRAVITY_MPS2))
