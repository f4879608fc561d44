"""Passes through corners as arrays on an even grid, on circles and beside them."""

import numpy as np
import pytest

from lapkit.compare.grid import STEP_M
from lapkit.compare.passes import measure_passes
from lapkit.compare.sweep import BEFORE_M, Sweep, rides_through


def passes_of(path, course, corner=0):
    sweep = Sweep.of(path, course)
    corner = course.corners[corner]
    found = rides_through(sweep, path.split(), corner, course)
    return measure_passes(path, course, [found], sweep)


@pytest.fixture
def shifted(circle_path):
    """Draws a metre or two beside the estimate, in every direction."""
    angle = np.linspace(0.0, 2 * np.pi, 13)[:-1]
    away = 1.5 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return circle_path(shifts_m=np.concatenate([np.zeros((1, 2)), away]))


def test_the_grid_is_even_along_the_estimates_path(circle_path, round_course):
    p = passes_of(circle_path(), round_course)
    for first, last in zip(p.grid.first, p.grid.last, strict=True):
        step = np.diff(p.distance_m[0, first : last + 1])
        np.testing.assert_allclose(step, STEP_M, atol=4e-3)
    # It begins 30 m before turn-in, to the half metre that a coarse sweep leaves.
    before = STEP_M * (p.limits[0, :, 0] - p.grid.first)
    assert before == pytest.approx(BEFORE_M, abs=4.5)


def test_stations_and_offsets_of_a_concentric_circle(circle_path, round_course):
    path = circle_path(radius_m=61.0)
    p = passes_of(path, round_course)
    np.testing.assert_allclose(p.offset_m, 60.0 - path.tyre_radius_m, atol=2e-3)
    within = np.diff(p.grid.spread(p.grid.first)) == 0
    station, distance = np.diff(p.station_m[0])[within], np.diff(p.distance_m[0])[within]
    np.testing.assert_allclose(station, 60.0 / 61.0 * distance, atol=2e-3)
    assert np.all(np.diff(p.limits, axis=-1) > 0.0)


def test_draws_are_laid_along_the_line_to_second_order(shifted, round_course):
    p = passes_of(shifted, round_course)
    station, offset = round_course.reference.project(p.tyre_x_m, p.tyre_y_m)
    along = (p.station_m - station + 100.0) % round_course.reference.length_m
    np.testing.assert_allclose(p.offset_m, offset, atol=1e-3)
    np.testing.assert_allclose(along, 100.0, atol=2e-3)


def test_curvature_heading_and_lean_face_the_corner(circle_path, round_course):
    path = circle_path(radius_m=58.0, speed_mps=18.0)
    p = passes_of(path, round_course)
    np.testing.assert_allclose(p.curvature_1pm, 1 / 58.0)
    np.testing.assert_allclose(p.held_curvature.at(p.limits), 1 / 58.0, rtol=1e-6)
    np.testing.assert_allclose(p.lean_deg, path.lean_deg)


def test_a_corner_cut_off_by_the_end_of_the_log_is_left_out(circle_path, round_course):
    # The log ends at 10 m of path after the fourth exit: too little to look at that pass whole.
    laps = 3.0 + (200.0 + np.degrees(10.0 / 60.0)) / 360.0
    p = passes_of(circle_path(laps=laps), round_course)
    assert [lap.number for lap in p.laps] == [1, 2, 3]


def test_a_corner_across_the_line_belongs_to_the_lap_of_its_turn_in(circle_path, round_course):
    from dataclasses import replace

    length = round_course.reference.length_m
    corner = replace(
        round_course.corners[0],
        turn_in_m=length - 40.0,
        apexes_m=(length - 5.0,),
        exit_m=length + 30.0,
        markers=(),
        seams=(),
    )
    course = replace(round_course, corners=(corner,))
    p = passes_of(circle_path(laps=3.5), course)
    assert [lap.number for lap in p.laps] == [1, 2, 3]
    assert np.all(np.diff(p.limits, axis=-1) > 0.0)
