"""Passes on which the road was left, on a circle whose edges are known."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.off_road import LEFT_ROAD_M, left_road, off_road_m
from lapkit.compare.passes import measure_passes
from lapkit.compare.sweep import Sweep, rides_through
from lapkit.course.edges import Edges

CORNER_OF = np.zeros(6, dtype=int)
TIMED = np.ones(6, dtype=bool)


def off(*metres, sd_m=0.3, rows=33):
    """Draws of passes so far off the road, the estimate first."""
    spread = np.random.default_rng(1).standard_normal((rows, len(metres))) * sd_m
    spread[0] = 0.0
    return np.array(metres) + spread


def test_a_pass_far_beyond_the_edge_left_the_road_and_one_on_the_kerb_did_not():
    found = left_road(off(-2.0, -1.0, 0.0, 0.8, 1.8, 2.2, sd_m=0.1), CORNER_OF, TIMED)
    assert found.tolist() == [0, 0, 0, 0, 0, 1]


def test_where_the_offset_is_hardly_known_nobody_is_said_to_have_left_it():
    passes = (-1.0, -1.0, -1.0, -1.0, -1.0, LEFT_ROAD_M + 1.0)
    assert left_road(off(*passes, sd_m=0.3), CORNER_OF, TIMED)[5] == 1.0
    assert left_road(off(*passes, sd_m=2.0), CORNER_OF, TIMED)[5] == 0.0


@pytest.mark.parametrize(("draws_off", "left"), [(8, 0.0), (9, 1.0)])
def test_nine_draws_in_ten_call_it_and_the_estimate_is_none_of_them(draws_off, left):
    rows = np.full((11, 6), -1.0)
    rows[0, 5], rows[1 : 1 + draws_off, 5] = 5.0, 5.0
    assert left_road(rows, CORNER_OF, TIMED)[5] == left


def test_edges_beyond_which_he_rides_every_lap_are_marked_wrong():
    corner_of = np.array([0, 0, 0, 1, 1, 1])
    found = left_road(off(5.0, 5.0, 5.0, -1.0, 5.0, -1.0), corner_of, TIMED)
    assert found.tolist() == [0, 0, 0, 0, 1, 0]


def test_edges_beyond_which_he_rides_half_of_his_laps_are_marked_wrong():
    corner_of = np.array([0, 0, 1, 1, 1, 1, 1])
    found = left_road(off(5.0, -1.0, 5.0, 5.0, -1.0, -1.0, -1.0), corner_of, np.ones(7, bool))
    assert found.tolist() == [0, 0, 1, 1, 0, 0, 0]


def test_laps_that_are_not_timed_do_not_say_how_often():
    timed = np.array([True, True, True, False, False, False])
    found = left_road(off(-1.0, -1.0, 6.0, 6.0, 6.0, 6.0), CORNER_OF, timed)
    assert found.tolist() == [0, 0, 1, 1, 1, 1]


def test_without_edges_nothing_is_known():
    assert np.isnan(left_road(np.full((5, 6), np.nan), CORNER_OF, TIMED)).all()


@pytest.fixture
def off_a_ring(round_course):
    """A function that measures laps of a ring beside a right edge and a left one, ``(station_m, right_m)`` metres each."""

    def measured(path, station_m, right_m, left_m=20.0):
        edges = Edges(np.array(station_m), np.full(len(station_m), left_m), np.array(right_m))
        course = replace(round_course, edges=edges)
        sweep = Sweep.of(path, course)
        rides = rides_through(sweep, path.split(), course.corners[0], course)
        return off_road_m(measure_passes(path, course, [rides], sweep), course)

    return measured


@pytest.mark.parametrize("beyond_m", [-1.5, 0.5, 4.0])
def test_it_is_measured_from_the_edge_to_the_tyres(circle_path, off_a_ring, beyond_m):
    path = circle_path(radius_m=62.0)
    edge_m = 60.0 - (path.tyre_radius_m - beyond_m)
    assert off_a_ring(path, [0.0], [edge_m])[0] == pytest.approx(beyond_m, abs=0.02)


def test_it_is_measured_beyond_the_inner_edge_too(circle_path, off_a_ring):
    path = circle_path(radius_m=57.0)
    left_m = 60.0 - path.tyre_radius_m - 3.0
    assert off_a_ring(path, [0.0], [-20.0], left_m)[0] == pytest.approx(3.0, abs=0.02)


def test_before_turn_in_nobody_is_off_the_road(circle_path, off_a_ring, round_course):
    path = circle_path(radius_m=62.0)
    turn_in_m = round_course.corners[0].turn_in_m
    edge_m = 60.0 - path.tyre_radius_m
    # Four metres beyond the edge up to a metre before turn-in, and one within it from there on.
    off = off_a_ring(
        path,
        [turn_in_m - 40.0, turn_in_m - 1.0, turn_in_m - 0.9, turn_in_m + 200.0],
        [edge_m + 4.0, edge_m + 4.0, edge_m - 1.0, edge_m - 1.0],
    )
    assert off[0] == pytest.approx(-1.0, abs=0.05)


def test_near_an_edge_every_row_is_as_far_off_as_it_is_itself(circle_path, off_a_ring):
    path = circle_path(radius_m=62.0)
    path.wider_m = np.array([0.0, -1.0, 1.5])
    edge_m = 60.0 - (path.tyre_radius_m - 0.3)
    assert off_a_ring(path, [0.0], [edge_m])[:, 0] == pytest.approx([0.3, -0.7, 1.8], abs=0.03)


def test_where_no_edges_were_drawn_it_is_not_known(circle_path, round_course):
    path = circle_path(radius_m=62.0)
    sweep = Sweep.of(path, round_course)
    rides = rides_through(sweep, path.split(), round_course.corners[0], round_course)
    passes = measure_passes(path, round_course, [rides], sweep)
    assert np.isnan(off_road_m(passes, round_course)).all()
