"""The posed problem: curvature is the line's, the Jacobian its derivative, rows the offset."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from lapkit.course.corridor import window
from lapkit.course.line_problem import pose
from lapkit.course.place import place
from lapkit.course.track_file import read_track
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.layout_track import track_of


@pytest.fixture
def stadium(features, write):
    return place(read_track(write(features)))


@pytest.fixture
def problem(stadium):
    return pose(stadium, [window(stadium, c, m) for c in stadium.corners for m in c.markers])


def test_curvature_of_an_offset_line_is_that_of_its_circle(problem, stadium):
    """A stadium moved 2 m outward has bends of 42 m."""
    curvature, length, _ = problem.curvature(np.full(len(problem.station_m), -2.0))
    bend = np.abs(problem.points(np.zeros(len(curvature)))[:, 0]) > 150.0 + 15.0
    assert curvature[bend] == pytest.approx(1 / 42.0, rel=5e-3)
    assert np.sum(length) == pytest.approx(2 * 300.0 + 2 * np.pi * 42.0, rel=1e-3)
    assert np.sum(curvature * length) == pytest.approx(2 * np.pi)


def test_the_jacobian_is_the_derivative(problem):
    rng = np.random.default_rng(2)
    move = rng.normal(0, 1.0, len(problem.station_m))
    step = 1e-6 * rng.normal(size=len(move))
    curvature, _, jacobian = problem.curvature(move)
    moved = problem.curvature(move + step)[0]
    assert moved - curvature == pytest.approx(jacobian @ step, abs=1e-9)


def test_rows_give_a_smooth_offset_at_the_cones(problem):
    wave = 2 * np.pi * 6 / (problem.station_m[-1] + problem.station_m[1])
    at = np.array([w.marker.station_m for w in problem.windows])
    offset = problem.rows @ np.sin(wave * problem.station_m)
    assert offset == pytest.approx(np.sin(wave * at), abs=1e-4)


def test_a_piece_keeps_what_lies_on_it(problem):
    first = problem.windows[0]
    middle = int(first.marker.station_m / problem.station_m[1])
    chosen = np.arange(middle - 10, middle + 11) % len(problem.station_m)
    piece = problem.piece(chosen, [False] * len(problem.windows))
    assert [w.where for w in piece.windows] == [first.where]
    assert not piece.closed
    whole = np.arange(float(len(problem.station_m)))
    assert piece.rows @ whole[chosen] == pytest.approx(problem.rows[[0]] @ whole)
    assert piece.curvature(np.zeros(21))[0] == pytest.approx(
        problem.curvature(np.zeros(len(whole)))[0][chosen[1:-1]]
    )


def test_corners_own_the_points_between_their_cones(problem, stadium):
    for number, corner in enumerate(stadium.corners):
        inside = (problem.station_m > corner.turn_in_m) & (problem.station_m < corner.exit_m)
        assert np.all(problem.zone[inside] == number) and np.all(problem.in_corner[inside])
    assert 0 < np.count_nonzero(~problem.in_corner) < len(problem.station_m)


def test_a_change_of_direction_runs_from_last_apex_to_first_also_across_the_start():
    course = place(track_of(LAYOUTS["twisty"]))
    course = replace(course, corners=course.corners[1:])
    posed = pose(course, [])
    step = posed.station_m[1]
    pairs = [
        (here, after)
        for here, after in pairwise([*course.corners, course.corners[0]])
        if here.turn is not after.turn
    ]
    assert [flick.sign for flick in posed.flicks] == [here.turn.sign for here, _ in pairs]
    lap = course.reference.length_m
    for flick, (here, after) in zip(posed.flicks, pairs, strict=True):
        first_apex = after.apexes_m[0] + (lap if after is course.corners[0] else 0.0)
        assert step * flick.first == pytest.approx(here.last_apex_m, abs=step)
        assert step * flick.last == pytest.approx(first_apex, abs=step)
    assert posed.flicks[-1].last > len(posed.station_m)
