"""The marker line through a corner, on a circle of 62 m around a reference of 60 m ridden to the left."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.line_part import LineOnCourse, lean_along
from lapkit.course.stations import StationLine
from lapkit.lean import balance_lean_deg


@pytest.fixture
def part(round_course):
    return LineOnCourse.of(round_course).part(round_course.corners[0])


def arc(radius_m, from_deg, to_deg):
    angle = np.radians(np.linspace(from_deg, to_deg, 1000))
    return StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), False)


def test_it_runs_two_metres_outside_of_the_reference_and_turns_into_the_corner(part):
    np.testing.assert_allclose(part.offset_m, -2.0, atol=1e-3)
    np.testing.assert_allclose(part.curvature_1pm, 1 / 62, rtol=1e-3)
    np.testing.assert_allclose(part.curvature_by_station_1pm, 1 / 60, rtol=1e-3)
    np.testing.assert_allclose(part.slope, 0.0, atol=1e-4)
    assert part.exit_curvature_1pm == pytest.approx(1 / 62, rel=1e-4)


def test_its_limits_are_the_places_of_turn_in_last_apex_and_exit(part, round_course):
    corner = round_course.corners[0]
    station = np.interp(part.limits, np.arange(len(part.station_m)), part.station_m)
    assert station == pytest.approx([corner.turn_in_m, corner.last_apex_m, corner.exit_m])
    # Points of the line lie 62/60 as far apart as their stations.
    along = np.interp(part.limits, np.arange(len(part.length_m)), part.length_m)
    assert np.diff(along) == pytest.approx(np.diff(station) * 62 / 60, rel=1e-4)


def test_its_offset_at_a_place_is_held_over_ten_metres_of_its_own_length(part):
    """Where it bends away by (x / 5 m)² along itself, the mean over 5 m to either side is a third of a metre."""
    middle = len(part.length_m) // 2
    bends = np.square((part.length_m - part.length_m[middle]) / 5.0)
    bent = replace(part, offset_m=bends)
    held = bent.offset_held_m(part.station_m[[middle]])
    assert held == pytest.approx([1.0 / 3.0], rel=0.02)


def test_within_five_metres_of_its_ends_no_offset_is_held(part):
    near_ends = part.station_m[[2, 3, -4, -3]]
    assert np.isnan(part.offset_held_m(near_ends)).tolist() == [True, False, False, True]


def test_what_lies_left_of_it_is_positive(part):
    x, y = np.array([0.0, 0.0]), np.array([60.0, 65.0])
    assert part.left_of_it_m(x, y) == pytest.approx([2.0, -3.0], abs=1e-3)
    assert part.left_of_it_m(x[:0], y[:0]).shape == (0,)


def test_it_asks_for_the_balance_lean_of_its_own_radius_at_the_lap_s_speeds(part):
    station = part.station_m[[0, -1]]
    lean = part.lean_deg(station, np.array([10.0, 20.0]))
    assert lean[0] == pytest.approx(balance_lean_deg(10.0, 1 / 62), rel=1e-3)
    assert lean[-1] == pytest.approx(balance_lean_deg(20.0, 1 / 62), rel=1e-3)


def test_on_a_slope_it_counts_the_speed_along_the_road(part):
    climbing = replace(part, grade=np.full_like(part.grade, 0.15))
    lean = climbing.lean_deg(part.station_m[[0, -1]], np.array([20.0, 20.0]))
    along_road = balance_lean_deg(20.0 * np.hypot(1.0, 0.15), climbing.curvature_1pm, 0.0, 0.15)
    np.testing.assert_allclose(lean, along_road)
    assert np.all(lean > part.lean_deg(part.station_m[[0, -1]], np.array([20.0, 20.0])))


def test_the_leans_of_several_laps_follow_each_other(part):
    station = part.station_m[[0, -1]]
    laps = [(station, np.array([10.0, 20.0])), (station, np.array([15.0, 15.0]))]
    lean, grid = lean_along([part, part], laps)
    for number, lap in enumerate(laps):
        own = slice(grid.first[number], grid.last[number] + 1)
        np.testing.assert_array_equal(lean[own], part.lean_deg(*lap))


def test_a_line_that_does_not_run_through_the_whole_corner_is_none_there(round_course):
    corner = round_course.corners[0]
    whole = replace(round_course, marker_line=arc(62.0, 30.0, 220.0))
    assert LineOnCourse.of(whole).part(corner) is not None
    cut = replace(round_course, marker_line=arc(62.0, 30.0, 170.0))
    assert LineOnCourse.of(cut).part(corner) is None


def test_a_line_drawn_across_the_start_of_stations_runs_through_corners_of_the_next_lap(
    round_course,
):
    """It is drawn from 300° over the start to 220°, and the corner lies from 60° to 180°."""
    corner = round_course.corners[0]
    whole = LineOnCourse.of(round_course).part(corner)
    across = replace(round_course, marker_line=arc(62.0, -60.0, 220.0))
    part = LineOnCourse.of(across).part(corner)
    assert part.station_m[0] == pytest.approx(whole.station_m[0], abs=0.01)
    np.testing.assert_allclose(part.offset_m, whole.offset_m, atol=1e-3)
    assert part.exit_curvature_1pm == pytest.approx(whole.exit_curvature_1pm, rel=1e-3)


def test_where_the_course_crosses_itself_a_cone_is_beside_its_own_leg(round_course):
    """Legs cross at the origin, at right angles: 3 m to the left of one leg there lies on the other."""
    t = np.linspace(0.0, 2.0 * np.pi, 2000)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    eight = StationLine.through(x, x * np.sin(t), True)
    crossing_m = 0.25 * eight.length_m
    corner = replace(
        round_course.corners[0],
        turn_in_m=crossing_m - 200.0,
        apexes_m=(crossing_m - 100.0,),
        exit_m=crossing_m,
        markers=(),
    )
    course = replace(round_course, reference=eight, marker_line=eight, corners=(corner,))
    part = LineOnCourse.of(course).part(corner)
    cone = np.concatenate(eight.offset_points([crossing_m], [3.0])).reshape(2, 1)
    assert part.left_of_it_m(*cone) == pytest.approx([3.0], abs=0.01)


def test_a_course_without_a_marker_line_has_none(round_course):
    assert LineOnCourse.of(replace(round_course, marker_line=None)) is None
