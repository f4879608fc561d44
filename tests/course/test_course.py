"""The placed course: camber, seams and heights between what is known of them."""

import numpy as np
import pytest

from lapkit.course.course import Corner, Course, CourseMarker, CourseSeam, Profile
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn
from lapkit.errors import OptionError, TrackError


def cone(station_m, camber_deg):
    return CourseMarker("", MarkerKind.APEX, Turn.LEFT, 0, 0, station_m, 0.0, camber_deg, 1.0)


def test_camber_is_linear_from_cone_to_cone_in_whatever_order_they_are_listed():
    corner = Corner("1", Turn.LEFT, 0.0, (20.0,), 40.0, (cone(40.0, -3.0), cone(20.0, 1.0)))
    at = np.array([[0.0, 20.0], [30.0, 50.0]])
    assert corner.camber_at(at) == pytest.approx(np.array([[1.0, 1.0], [-1.0, -3.0]]))


def test_without_cones_camber_is_the_corners():
    corner = Corner("1", Turn.LEFT, 0.0, (20.0,), 40.0, camber_deg=2.0)
    assert corner.camber_at(np.zeros((2, 3))) == pytest.approx(np.full((2, 3), 2.0))


def test_the_exit_phase_begins_at_the_last_apex():
    assert Corner("1", Turn.LEFT, 0.0, (10.0, 25.0), 40.0).last_apex_m == 25.0


def test_beyond_its_ends_a_seam_keeps_the_offset_of_the_end():
    seam = CourseSeam("s", np.array([10.0, 20.0]), np.array([1.0, 3.0]))
    assert seam.offset_at(np.array([0.0, 15.0, 90.0])) == pytest.approx([1.0, 2.0, 3.0])


def profile(length_m):
    doubt = np.array([[1.0, 2.0, 3.0, 4.0, 1.0], [-1.0, -2.0, -3.0, -4.0, -1.0]])
    at = 10.0 * np.arange(4)
    return Profile(at, at / 100.0, at / 1000.0, length_m, doubt if length_m else doubt[:, :4])


def test_a_closed_profile_repeats_lap_after_lap():
    closed = profile(40.0)
    here, a_lap_on = closed.at(np.array([15.0, 35.0])), closed.at(np.array([55.0, 75.0]))
    assert here[0] == pytest.approx([0.15, 0.15]) and np.allclose(here, a_lap_on)


def test_an_open_profile_ends_with_its_last_value():
    grade, bend = profile(None).at(np.array([99.0]))
    assert (grade[0], bend[0]) == pytest.approx((0.3, 0.03))


def test_the_doubt_of_row_0_is_none_and_the_draws_follow_and_repeat():
    at = np.array([5.0, 45.0])
    rows = profile(40.0).doubt_at(at, 5)
    assert rows[0] == pytest.approx([0.0, 0.0])
    assert rows[1] == pytest.approx([1.55, 1.55])  # in the middle of the metre
    assert rows[2] == pytest.approx(-rows[1])
    assert np.array_equal(rows[3:], rows[1:3])


def test_heights_without_doubt_add_nothing():
    sure = Profile(np.arange(3.0), np.zeros(3), np.zeros(3), None)
    assert sure.doubt_at(np.array([1.0]), 33) == 0.0


@pytest.fixture
def course():
    line = StationLine.through([0.0, 50.0, 100.0], [0.0, 0.0, 0.0], False)
    corners = (Corner("1", Turn.LEFT, 0, (1,), 2), Corner("Hairpin", Turn.LEFT, 3, (4,), 5))
    return Course(Plane(0.0, 0.0), line, np.zeros((2, 2)), corners)


def test_a_corner_is_found_by_name_or_number(course):
    assert course.corner(1) is course.corners[0]
    assert course.corner("Hairpin") is course.corners[1]
    with pytest.raises(OptionError, match="Hairpin"):
        course.corner("Harpin")


def test_a_course_without_a_line_or_edges_says_so(course):
    assert course.edges_at(np.array([5.0])) is None
    with pytest.raises(TrackError, match="no marker line"):
        course.require_marker_line()


def test_what_a_notebook_shows_is_short(course):
    assert repr(course) == "<Course of 100 m: 1, Hairpin>"
    assert repr(course.corners[0]) == "<Corner 1, left: no cone, no seam>"
