"""The meant line: the marker line's offset, smooth habits over it, and its changes of curvature spread out."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.simulate.lines import marker_offset, rounded, smooth_step, through

RADIUS_M = 60.0


def ring(radius_m=RADIUS_M, closed=True):
    angle = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    return StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), closed)


@pytest.fixture(scope="module")
def course():
    """A ring ridden to the left, its marker line two metres inside."""
    return Course(Plane(47.0, 8.0), ring(), np.zeros((2, 2)), (), marker_line=ring(58.0))


@pytest.fixture(scope="module")
def straight():
    """Four hundred metres to the east."""
    line = StationLine.through(np.arange(0.0, 401.0, 10.0), np.zeros(41), False)
    return Course(Plane(47.0, 8.0), line, np.zeros((2, 2)), ())


def test_a_smooth_step_is_level_at_both_ends_and_alike_about_its_middle():
    assert smooth_step(np.array([-3.0, 0.0, 0.5, 1.0, 9.0])).tolist() == [0.0, 0.0, 0.5, 1.0, 1.0]
    share = np.linspace(0.0, 1.0, 100_001)
    step = smooth_step(share)
    np.testing.assert_allclose(step + step[::-1], 1.0, atol=1e-12)
    slope = np.gradient(step, share)
    bend = np.gradient(slope, share)
    assert np.max(np.abs(slope[[0, -1]])) < 1e-6
    assert np.max(np.abs(bend[[1, -2]])) < 1e-2
    assert slope.max() == pytest.approx(15.0 / 8.0, rel=1e-6)
    assert np.all(np.diff(step) >= 0.0)


def test_the_marker_line_s_offset_is_known_on_every_lap(course):
    station = np.linspace(-1.3, 2.6, 200) * course.reference.length_m
    np.testing.assert_allclose(marker_offset(course, station), 2.0, atol=2e-3)


def test_where_a_course_crosses_itself_the_marker_line_stays_on_its_leg():
    angle = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    size = 250.0 / (1.0 + np.sin(angle) ** 2)
    eight = StationLine.through(size * np.cos(angle), size * np.sin(angle) * np.cos(angle), True)
    line = StationLine.through(*eight.offset_points(eight.station_m[:-1], 4.0), True)
    course = Course(Plane(47.0, 8.0), eight, np.zeros((2, 2)), (), marker_line=line)
    station = np.linspace(0.0, 2.0, 400) * eight.length_m
    np.testing.assert_allclose(marker_offset(course, station), 4.0, atol=0.05)


def test_without_a_marker_line_there_is_no_offset_to_it(course):
    station = np.array([0.0, 100.0, 900.0])
    np.testing.assert_array_equal(marker_offset(replace(course, marker_line=None), station), 0.0)


def test_a_marker_line_that_starts_elsewhere_is_counted_along_the_reference(course):
    """It lies aside to the east, from 1 m inside to 1 m outside, and its own first point is to the west."""
    angle = np.pi + np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    line = StationLine.through(60.0 * np.cos(angle) + 1.0, 60.0 * np.sin(angle), True)
    shifted = replace(course, marker_line=line)
    length = course.reference.length_m
    station = np.linspace(0.0, length, 50)
    expected = -np.cos(2.0 * np.pi * station / length)
    np.testing.assert_allclose(marker_offset(shifted, station), expected, atol=0.02)


def test_a_habit_runs_through_its_knots_and_is_gone_beyond_them():
    knots = [(100.0, 1.0), (140.0, -2.0), (150.0, 0.5)]
    station = np.arange(0.0, 300.0)
    values = through(knots, station)
    np.testing.assert_allclose(values[[100, 140, 150]], [1.0, -2.0, 0.5])
    np.testing.assert_allclose(values[[70, 180]], 0.0, atol=1e-12)
    assert np.all(values[(station < 40.0) | (station > 210.0)] == 0.0)
    assert np.max(np.abs(values[:70])) < 0.1 * 1.0
    assert np.max(np.abs(values[181:])) < 0.1 * 0.5
    assert np.all(values[(station > 71.0) & (station <= 100.0)] > 0.0)
    assert np.all(values[(station >= 150.0) & (station < 179.0)] > 0.0)


def test_two_knots_at_one_place_are_one_at_their_mean():
    station = np.arange(0.0, 300.0)
    twice = through([(100.0, 1.0), (140.0, -2.0), (140.0, -1.0), (150.0, 0.5)], station)
    np.testing.assert_array_equal(
        twice, through([(100.0, 1.0), (140.0, -1.5), (150.0, 0.5)], station)
    )


def test_between_knots_alike_a_habit_stays_as_it_is():
    values = through([(100.0, 1.5), (130.0, 1.5), (160.0, 1.5)], np.arange(105.0, 155.0))
    np.testing.assert_allclose(values, 1.5, atol=0.05)


@pytest.mark.parametrize("offset_m", [0.0, 3.0, -4.0])
def test_a_circle_stays_the_circle_it_was(course, offset_m):
    station = np.arange(0.0, 1.9 * course.reference.length_m)
    line = rounded(course, station, np.full(len(station), offset_m), np.full(len(station), 4.0))
    inner = slice(60, -60)  # ends are drawn out straight
    radius = RADIUS_M - offset_m
    np.testing.assert_allclose(np.hypot(line.x_m, line.y_m)[inner], radius, atol=0.02)
    np.testing.assert_allclose(line.curvature_1pm[inner], 1.0 / radius, rtol=2e-3)
    way = line.length_m[inner] - line.length_m[60]
    np.testing.assert_allclose(way, radius / RADIUS_M * (station[inner] - station[60]), rtol=1e-3)


@pytest.mark.parametrize("over_m", [2.0, 8.0])
def test_a_straight_stays_one_to_its_very_ends(straight, over_m):
    station = np.arange(0.0, 400.5)
    line = rounded(straight, station, np.full(401, 1.5), np.full(401, over_m))
    np.testing.assert_allclose(line.y_m, 1.5, atol=1e-9)
    # Of a weight eight metres wide some is left at the end of the 150 that ends are drawn out by.
    np.testing.assert_allclose(line.x_m, station, atol=1e-5)
    np.testing.assert_allclose(line.curvature_1pm, 0.0, atol=1e-9)
    np.testing.assert_allclose(line.length_m, station, atol=1e-5)
    np.testing.assert_array_equal(line.station_m, station)


def gain(straight, wave_m, over_m):
    """How much of a sway of a centimetre is kept."""
    station = np.arange(0.0, 400.5)
    sway = np.sin(2.0 * np.pi * station / wave_m)
    line = rounded(straight, station, 0.01 * sway, np.full(401, over_m))
    inner = slice(100, 300)
    return float(line.y_m[inner] @ sway[inner] / (0.01 * sway[inner] @ sway[inner]))


@pytest.mark.parametrize("over_m", [2.0, 5.0])
@pytest.mark.parametrize("wave_m", [20.0, 40.0, 100.0])
def test_sways_are_kept_by_what_two_passes_of_the_weight_leave(straight, wave_m, over_m):
    """2F − F² with F = (1 + over² k²)⁻³, k that of differences a metre apart."""
    k = 2.0 * np.sin(np.pi / wave_m)
    once = (1.0 + (over_m * k) ** 2) ** -3
    assert gain(straight, wave_m, over_m) == pytest.approx(2.0 * once - once**2, abs=1e-3)


def test_how_far_it_is_rounded_may_change_on_the_way(straight):
    """Where it is not rounded at all the offset is kept as it is."""
    station = np.arange(0.0, 400.5)
    over = np.where(station < 200.0, 0.0, 6.0)
    kink = np.clip(10.0 - np.abs(station - 100.0), 0.0, None)
    kinks = kink + np.clip(10.0 - np.abs(station - 300.0), 0.0, None)
    line = rounded(straight, station, kinks, over)
    np.testing.assert_allclose(line.y_m[:190], kinks[:190], atol=1e-6)
    assert line.y_m[300] < 8.0
    curvature = np.abs(line.curvature_1pm)
    assert curvature[290:310].max() < 0.3 * curvature[90:110].max()


def test_ridden_from_its_other_end_a_line_is_rounded_alike(straight):
    station = np.arange(0.0, 400.5)
    over = 2.0 + 6.0 * smooth_step((station - 100.0) / 200.0)
    sway = np.sin(station / 9.0) * smooth_step(station / 100.0) * smooth_step(4.0 - station / 100.0)
    line = rounded(straight, station, sway, over)
    turned = rounded(straight, station, sway[::-1], over[::-1])
    np.testing.assert_allclose(turned.y_m[::-1], line.y_m, atol=1e-9)
