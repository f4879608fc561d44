"""Where a start line lies that the coach gave, and one that had to be found."""

import numpy as np
import pytest

from lapkit.course.edges import Edges
from lapkit.course.start import (
    found_start_line,
    given_start_line,
    longest_straight,
    middle_of_longest_run,
)
from lapkit.course.stations import StationLine

HALF_M = 150.0


def half_disc(begins=0, way=1):
    """A straight to the east along y = 0 and half a circle back to its beginning, vertices from ``begins`` on."""
    arc = np.linspace(0.0, np.pi, 151)[1:-1]
    x = np.concatenate([np.linspace(-HALF_M, HALF_M, 101), HALF_M * np.cos(arc)])
    y = np.concatenate([np.zeros(101), HALF_M * np.sin(arc)])
    x, y = (np.roll(v, -begins)[::way] for v in (x, y))
    return StationLine.through(x, y, True)


def circle(radius_m):
    angle = np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    return StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), True)


@pytest.mark.parametrize(
    ("true", "middle"),
    [
        ("0111010", 2.0),
        ("0110000", 1.5),
        ("1100111", 6.0),
        ("1000011", 6.0),
        ("0000001", 6.0),
        ("1000000", 0.0),
        ("1110000", 1.0),
        ("0000", 0.0),
        ("1111", 0.0),
    ],
)
def test_the_middle_of_the_longest_run_round_a_loop(true, middle):
    values = np.array([c == "1" for c in true])
    found = middle_of_longest_run(values)
    assert np.mod(found, len(values)) == middle
    # Where a loop begins does not matter.
    if not values.all() and values.any():
        turned = middle_of_longest_run(np.roll(values, 3))
        assert np.mod(turned - 3.0, len(values)) == middle


@pytest.mark.parametrize("begins", [0, 30, 50, 100, 180])
@pytest.mark.parametrize("way", [1, -1])
def test_the_longest_straight_is_found_wherever_stations_begin(begins, way):
    line = half_disc(begins, way)
    station = longest_straight(line)
    assert 0.0 <= station < line.length_m
    x, y = line.at(station)
    assert abs(x) < 2.0 and abs(y) < 0.1


@pytest.mark.parametrize("radius_m", [290.0, 310.0])
def test_what_bends_alike_all_round_has_no_longest_straight(radius_m):
    assert longest_straight(circle(radius_m)) == 0.0


@pytest.mark.parametrize(("radius_m", "counts"), [(290.0, False), (310.0, True)])
def test_from_three_hundred_metres_of_radius_on_a_bend_counts_as_straight(radius_m, counts):
    """Of two sides the longer one bends; only where it counts is it the longest."""
    across = np.linspace(-100.0, 100.0, 41)
    top = np.linspace(150.0, -150.0, 61)
    bulge = 90.0 + np.sqrt(radius_m**2 - top**2) - np.sqrt(radius_m**2 - 150.0**2)
    ends = np.array([[130.0, 8.0], [155.0, 30.0], [163.0, 60.0]])
    x = np.concatenate([across, ends[:, 0], top, -ends[::-1, 0]])
    y = np.concatenate([np.zeros(41), ends[:, 1], bulge, ends[::-1, 1]])
    line = StationLine.through(x, y, True)
    east, north = line.at(longest_straight(line))
    assert abs(east) < 5.0
    assert (north > 60.0) == counts


def test_a_found_start_line_stands_square_across_the_straight_left_end_first():
    line = found_start_line(half_disc())
    # Ridden to the east, left is north.
    np.testing.assert_allclose(line[:, 1], [12.0, -12.0], atol=0.01)
    assert line[0, 0] == pytest.approx(line[1, 0], abs=0.01)
    assert abs(line[0, 0]) < 2.0
    with pytest.raises(ValueError, match="read-only"):
        line[0, 0] = 0.0


def test_where_edges_are_known_it_reaches_three_metres_beyond_them():
    reference = half_disc()
    at = np.array([0.0, HALF_M, 2.0 * HALF_M])
    edges = Edges(at, np.array([9.0, 5.0, 9.0]), np.array([-9.0, -7.0, -9.0]))
    line = found_start_line(reference, edges)
    np.testing.assert_allclose(line[:, 1], [8.0, -10.0], atol=0.06)


def test_on_an_open_course_it_lies_across_the_start_of_stations():
    line = StationLine.through([5.0, 5.0, 5.0], [0.0, 200.0, 400.0], False)
    np.testing.assert_allclose(found_start_line(line), [[-7.0, 0.0], [17.0, 0.0]], atol=1e-9)


@pytest.mark.parametrize("turned", [False, True])
def test_a_given_start_line_has_the_end_on_the_rider_s_left_first(turned):
    left, right = np.array([3.0, 9.0]), np.array([1.0, -8.0])
    # Coordinates of both ends, east and north.
    ends = (right, left) if turned else (left, right)
    east, north = np.stack(ends, axis=1)
    found = given_start_line(half_disc(), (east, north))
    np.testing.assert_array_equal(found, [left, right])
    again = given_start_line(half_disc(way=-1), (east, north))
    np.testing.assert_array_equal(again, [right, left])


def test_an_oblique_start_line_is_looked_at_where_it_lies():
    """At the top of the arc he rides to the west, so that south is left."""
    east, north = np.array([-8.0, 8.0]), np.array([156.0, 144.0])
    found = given_start_line(half_disc(), (east, north))
    np.testing.assert_array_equal(found, [[8.0, 144.0], [-8.0, 156.0]])


def test_edges_go_on_round_a_closed_line_and_stay_level_beyond_the_ends_of_an_open_one():
    edges = Edges(np.array([10.0, 90.0]), np.array([4.0, 6.0]), np.array([-5.0, -7.0]))
    around = circle(100.0 / (2.0 * np.pi))
    left, right = edges.along(around, np.array([50.0, 0.0, 95.0, 110.0]))
    # From 90 m on it is 20 m back to the first value.
    np.testing.assert_allclose(left, [5.0, 5.0, 5.5, 4.0], atol=2e-3)
    np.testing.assert_allclose(right, [-6.0, -6.0, -6.5, -5.0], atol=2e-3)
    straight = StationLine.through([0.0, 50.0, 100.0], [0.0, 0.0, 0.0], False)
    left, right = edges.along(straight, [[0.0, 50.0], [95.0, 110.0]])
    np.testing.assert_allclose(left, [[4.0, 5.0], [6.0, 6.0]])
    np.testing.assert_allclose(right, [[-5.0, -6.0], [-7.0, -7.0]])
