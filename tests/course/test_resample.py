"""From drawn vertices to even points: circles, straights, and what cannot be a line."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import CubicSpline

from lapkit.course.resample import STEP_M, distinct, resample, straightened
from lapkit.errors import TrackError


def circle(radius_m, vertices, repeated=False, way=1.0):
    angle = way * 2.0 * np.pi * np.arange(vertices + repeated) / vertices
    return radius_m * np.cos(angle), radius_m * np.sin(angle)


@pytest.mark.parametrize("repeated", [False, True])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_circle_comes_out_as_one_whether_or_not_its_first_vertex_is_repeated(repeated, way):
    line = resample(*circle(80.0, 120, repeated, way), closed=True)
    length = 160.0 * np.pi
    assert line.station_m[-1] == pytest.approx(length, abs=1e-4)
    np.testing.assert_allclose(np.hypot(line.x_m, line.y_m), 80.0, atol=1e-4)
    np.testing.assert_allclose(line.curvature_1pm, way / 80.0, rtol=1e-3)
    np.testing.assert_allclose(
        line.heading_rad - line.heading_rad[0], way * line.station_m / 80.0, atol=1e-4
    )
    assert line.x_m[-1] == pytest.approx(line.x_m[0]) and line.y_m[-1] == pytest.approx(line.y_m[0])


@pytest.mark.parametrize("vertices", [12, 16, 40])
def test_round_a_loop_of_few_vertices_curvature_adds_up_to_a_whole_turn(vertices):
    """There the spline is longer than the chords that it is drawn over."""
    line = resample(*circle(80.0, vertices), closed=True)
    turned = np.mean(line.curvature_1pm[:-1]) * line.station_m[-1]
    assert turned == pytest.approx(2.0 * np.pi, rel=1e-3)


def test_points_lie_evenly_a_step_or_less_apart_along_the_curve():
    line = resample(*circle(80.0, 40), closed=True)
    steps = np.diff(line.station_m)
    np.testing.assert_allclose(steps, steps[0])
    assert STEP_M * 0.99 < steps[0] <= STEP_M
    arc = 160.0 * np.arcsin(np.hypot(np.diff(line.x_m), np.diff(line.y_m)) / 160.0)
    np.testing.assert_allclose(arc, steps[0], rtol=1e-3)


def test_a_short_line_has_sixteen_steps_all_the_same():
    line = resample(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 0.0]), closed=False)
    assert len(line.station_m) == 17
    assert np.hypot(line.x_m[-1] - 2.0, line.y_m[-1]) < 1e-9


def test_an_open_line_runs_from_its_first_vertex_to_its_last():
    x = np.array([0.0, 30.0, 75.0, 100.0])
    line = resample(x, 0.5 * x, closed=False)
    along = np.hypot(100.0, 50.0)
    np.testing.assert_allclose([line.x_m[0], line.y_m[0]], 0.0, atol=1e-9)
    np.testing.assert_allclose([line.x_m[-1], line.y_m[-1]], [100.0, 50.0])
    assert line.station_m[-1] == pytest.approx(along)
    np.testing.assert_allclose(line.heading_rad, np.arctan2(1.0, 2.0))
    np.testing.assert_allclose(line.curvature_1pm, 0.0, atol=1e-12)


def test_vertices_nearer_than_two_centimetres_count_once():
    points = np.array([[0.0, 0.0], [0.019, 0.0], [5.0, 0.0], [5.0, 0.021], [5.0, 5.0], [0.0, 0.01]])
    kept = distinct(points, closed=False)
    np.testing.assert_array_equal(kept, points[[0, 2, 3, 4, 5]])
    # Of a closed line the last is followed by the first.
    np.testing.assert_array_equal(distinct(points, closed=True), points[[0, 2, 3, 4]])


@pytest.mark.parametrize(
    ("x", "closed", "told"),
    [
        ([3.0], False, "1 different points where at least 2"),
        ([3.0, 3.01, 3.0], False, "1 different points where at least 2"),
        ([0.0, 50.0], True, "2 different points where at least 3"),
        ([0.0, 50.0, 0.01], True, "2 different points where at least 3"),
        ([0.0, np.nan, 50.0], False, "not a number"),
        ([0.0, np.inf, 50.0], False, "not a number"),
        ([0.0, 76_000.0], False, "76 km long"),
        ([0.0, 20_000.0, 40_000.0], True, "80 km long"),
    ],
)
def test_what_cannot_be_a_line_is_refused(x, closed, told):
    with pytest.raises(TrackError, match=told):
        resample(np.array(x), np.zeros(len(x)), closed)


@pytest.mark.parametrize(("x", "closed"), [([0.0, 50.0], False), ([0.0, 74_000.0], False)])
def test_what_can_just_be_one_is_not(x, closed):
    assert resample(np.array(x), np.zeros(2), closed).station_m[-1] == pytest.approx(x[-1])


def test_a_straight_drawn_by_its_ends_stays_straight_between_bends():
    """Two half circles with a vertex every five metres; their straights have none."""
    arc = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 26)
    x = np.concatenate([100.0 + 40.0 * np.cos(arc), -100.0 - 40.0 * np.cos(arc)])
    y = np.concatenate([40.0 * np.sin(arc), -40.0 * np.sin(arc)])
    line = resample(x, y, closed=True)
    on_straight = np.abs(line.x_m) < 90.0
    np.testing.assert_allclose(np.abs(line.y_m[on_straight]), 40.0, atol=5e-3)
    assert line.station_m[-1] == pytest.approx(400.0 + 80.0 * np.pi, rel=1e-3)


def test_a_long_segment_is_cut_as_finely_as_the_shorter_of_its_neighbours():
    x = np.cumsum([0.0, 8.0, 8.0, 61.0, 10.0, 10.0])
    points = np.stack([x, np.zeros(6)], axis=1)
    found = straightened(points, closed=False)
    # Eight pieces of no more than eight metres.
    expected = np.concatenate([x[:3], 16.0 + 61.0 / 8.0 * np.arange(1, 8), x[3:]])
    np.testing.assert_allclose(found[:, 0], expected)


@pytest.mark.parametrize(("end_m", "cut"), [(23.9, False), (24.1, True)])
@pytest.mark.parametrize("first", [True, False])
def test_the_segments_at_an_open_line_s_ends_have_one_neighbour(end_m, cut, first):
    steps = [end_m, 8.0, 30.0, 7.6] if first else [7.6, 30.0, 8.0, end_m]
    points = np.stack([np.cumsum([0.0, *steps]), np.zeros(5)], axis=1)
    found = straightened(points, closed=False)
    # The one of 30 m is cut in neither case or both: its shorter neighbour is of 7.6 m.
    assert len(found) == 5 + 3 + (3 if cut else 0)
    np.testing.assert_array_equal(found[[0, -1]], points[[0, -1]])


def test_a_closed_line_s_last_segment_is_followed_by_its_first():
    square = np.array(
        [[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [20.0, 50.0], [10.0, 50.0], [0.0, 50.0]]
    )
    found = straightened(square, closed=True)
    # Both of the fifty metres have neighbours of ten, so that each is five pieces.
    assert len(found) == 6 + 2 * 4
    np.testing.assert_allclose(found[-4:], [[0.0, 40.0], [0.0, 30.0], [0.0, 20.0], [0.0, 10.0]])


def test_evenly_drawn_vertices_are_left_as_they_are():
    points = np.stack(circle(50.0, 20), axis=1)
    assert straightened(points, closed=True) is points
    two = np.array([[0.0, 0.0], [1.0, 0.0], [99.0, 0.0]])
    assert straightened(two, closed=False) is two


def test_the_length_is_the_integral_along_the_spline():
    points = np.array([[0.0, 0.0], [20.0, 12.0], [35.0, -9.0], [60.0, 10.0], [80.0, 0.0]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    spline = CubicSpline(at, points, bc_type="natural")
    pieces = (quad(lambda t: np.hypot(*spline(t, 1)), *ends)[0] for ends in pairwise(at))
    line = resample(*points.T, closed=False)
    assert line.station_m[-1] == pytest.approx(sum(pieces), rel=1e-7)
