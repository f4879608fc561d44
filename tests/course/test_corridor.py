"""Where a line may run: between edges known or assumed, and past a cone on its proper side."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.course.corridor import edges_or_assumed, window
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.edges import Edges
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn
from lapkit.errors import TrackError

STRAIGHT = StationLine.through([0.0, 100.0, 200.0], [0.0, 0.0, 0.0], False)
EDGES = Edges(np.array([0.0, 200.0]), np.full(2, 6.0), np.full(2, -5.0))


def cone(offset_m, side=Turn.LEFT, kind=MarkerKind.APEX, within_m=1.0):
    return CourseMarker("apex", kind, side, 100.0, offset_m, 100.0, offset_m, 0.0, within_m)


def course(*cones, edges=EDGES):
    corner = Corner("3", Turn.LEFT, 50.0, (100.0,), 150.0, cones)
    return Course(Plane(0.0, 0.0), STRAIGHT, np.zeros((2, 2)), (corner,), edges)


def bounds(marker, edges=EDGES):
    placed = course(marker, edges=edges)
    found = window(placed, placed.corners[0], marker)
    return found.low_m, found.high_m


def test_a_cone_on_the_left_is_passed_to_the_right_of_it():
    assert bounds(cone(3.0)) == pytest.approx((2.0, 2.8))


def test_a_cone_on_the_right_is_passed_to_the_left_of_it():
    assert bounds(cone(-2.0, Turn.RIGHT)) == pytest.approx((-1.8, -1.0))


def test_close_to_the_edge_the_line_keeps_half_a_metre_from_it():
    assert bounds(cone(5.8)) == pytest.approx((4.8, 5.5))


def test_a_cone_on_the_verge_is_passed_along_the_edge():
    assert bounds(cone(9.0)) == pytest.approx((5.0, 5.5))


def test_a_cone_beyond_the_verge_is_refused_and_named():
    with pytest.raises(TrackError, match=r"corner '3', marker 'apex': .* 5\.5 m outside"):
        bounds(cone(11.5))


def test_a_cone_that_leaves_no_room_to_the_edge_is_refused():
    with pytest.raises(TrackError, match=r"no line can leave 0\.5 m to the edges"):
        bounds(cone(-4.8))


def test_a_sight_cone_is_only_kept_on_its_side():
    low, high = bounds(cone(4.0, kind=MarkerKind.SIGHT))
    assert (low, high) == pytest.approx((-4.5, 3.8))


def test_a_cone_to_be_passed_very_closely_leaves_less_room():
    assert bounds(cone(3.0, within_m=0.4)) == pytest.approx((2.6, 2.9))


def test_edges_that_are_known_are_taken_as_they_are():
    left, right = edges_or_assumed(course(cone(9.0)), np.array([100.0]))
    assert (left[0], right[0]) == (6.0, -5.0)


def test_without_edges_the_track_is_twelve_metres_wide_and_wider_about_cones_further_out():
    at = np.array([100.0, 120.0, 130.0, 140.0, 160.0])
    left, right = edges_or_assumed(course(cone(8.0), edges=None), at)
    assert left == pytest.approx([8.0, 8.0, 6.0, 6.0, 6.0])
    assert right == pytest.approx(-6.0)
    left, _ = edges_or_assumed(course(cone(12.0), edges=None), at)
    assert left == pytest.approx([12.0, 12.0, 6.0, 6.0, 6.0])
    _, right = edges_or_assumed(course(cone(-16.0, Turn.RIGHT), edges=None), at)
    assert right == pytest.approx([-16.0, -16.0, -8.0, -6.0, -6.0])


def test_a_window_names_its_cone():
    placed = course(cone(3.0))
    found = window(placed, SimpleNamespace(name="Hairpin"), placed.corners[0].markers[0])
    assert found.where == "corner 'Hairpin', marker 'apex'"
