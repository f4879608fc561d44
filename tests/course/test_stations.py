"""A line with stations along it: length, heading, curvature, projection."""

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapkit.course.stations import StationLine
from lapkit.errors import TrackError


def circle(radius=100.0, vertices=60, turns=1):
    angle = np.linspace(0.0, turns * 2.0 * np.pi, vertices, endpoint=False)
    return StationLine.through(radius * np.cos(angle), radius * np.sin(angle), True)


def test_a_circle_has_its_length_heading_and_curvature():
    line = circle()
    assert line.length_m == pytest.approx(200.0 * np.pi, abs=1e-3)
    at = np.linspace(0.0, line.length_m, 37)
    assert line.curvature_at(at) == pytest.approx(0.01, rel=1e-3)
    assert line.heading_at(at) == pytest.approx(np.pi / 2 + at / 100.0, abs=1e-4)
    x, y = line.at(at)
    assert np.hypot(x, y) == pytest.approx(100.0, abs=1e-3)


def test_heading_goes_on_lap_after_lap():
    line = circle()
    at = np.linspace(-line.length_m, 3.0 * line.length_m, 400)
    assert np.diff(line.heading_at(at)) == pytest.approx((at[1] - at[0]) / 100.0, rel=1e-3)


@pytest.mark.parametrize("shape", [(), (5,), (2, 3, 4)])
def test_any_shape_goes_in_and_comes_out(shape):
    line = circle()
    station = np.full(shape, 20.0)
    x, y = line.at(station)
    assert x.shape == shape and line.heading_at(station).shape == shape
    assert line.curvature_at(station).shape == shape
    assert line.left_at(station).shape == (*shape, 2)
    back, offset = line.project(x, y)
    assert back.shape == offset.shape == shape
    assert back == pytest.approx(20.0, abs=1e-4)


def test_offsets_are_positive_to_the_left():
    line = StationLine.through([0.0, 10.0, 20.0], [0.0, 0.0, 0.0], False)
    for side in (2.0, -2.0):
        station, offset = line.project(5.0, side)
        assert (float(station), float(offset)) == pytest.approx((5.0, side))
    x, y = line.offset_points([5.0, 6.0], 2.0)
    assert (x.tolist(), y.tolist()) == ([5.0, 6.0], [2.0, 2.0])


def test_an_open_line_goes_straight_on_beyond_its_ends():
    line = StationLine.through([0.0, 50.0, 100.0], [0.0, 0.0, 0.0], False)
    station, offset = line.project([-30.0, 130.0], [1.0, 1.0])
    assert station == pytest.approx([-30.0, 130.0]) and offset == pytest.approx(1.0)
    assert line.at(np.array([-30.0, 130.0]))[0] == pytest.approx([-30.0, 130.0])
    assert line.curvature_at(130.0) == 0.0
    assert line.wrap(130.0) == 130.0


def test_drawn_with_few_vertices_it_still_bends_evenly():
    line = circle(radius=40.0, vertices=26)  # a vertex every ten metres
    at = np.linspace(0.0, line.length_m, 500)
    assert line.curvature_at(at) == pytest.approx(1.0 / 40.0, rel=0.02)
    assert np.hypot(*line.at(at)) == pytest.approx(40.0, abs=0.02)


def test_a_straight_drawn_by_its_ends_stays_straight():
    bend = np.linspace(-np.pi / 2, np.pi / 2, 13)
    x = np.concatenate([200.0 + 40.0 * np.cos(bend), -200.0 - 40.0 * np.cos(bend)])
    y = np.concatenate([40.0 * np.sin(bend), -40.0 * np.sin(bend)])
    line = StationLine.through(x, y, True)
    on_straight = np.abs(line.x_m) < 180.0
    assert np.abs(line.y_m[on_straight]) == pytest.approx(40.0, abs=0.03)
    assert line.length_m == pytest.approx(800.0 + 80.0 * np.pi, rel=2e-4)


def test_repeated_vertices_count_once():
    once = circle()
    angle = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False).repeat(3)
    again = StationLine.through(100.0 * np.cos(angle), 100.0 * np.sin(angle), True)
    assert again.length_m == pytest.approx(once.length_m)


@pytest.mark.parametrize(
    ("x", "y", "closed", "message"),
    [
        ([0.0, 0.0], [0.0, 0.0], False, "1 different point"),
        ([0.0, 9.0, 0.0], [0.0, 9.0, 0.0], True, "2 different points where at least 3"),
        ([0.0, np.nan], [0.0, 1.0], False, "not a number"),
        ([0.0, 3e6], [0.0, 1.0], False, "3000 km long"),
        ([0.0, 7.6e4], [0.0, 1.0], False, "76 km long"),
    ],
)
def test_lines_that_are_none_are_refused(x, y, closed, message):
    with pytest.raises(TrackError, match=message):
        StationLine.through(x, y, closed)


def test_arrays_cannot_be_written_to():
    line = circle()
    for values in (line.x_m, line.y_m, line.station_m, line.heading_rad, line.curvature_1pm):
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 1.0


def test_a_line_can_be_sent_to_another_process():
    line = circle()
    line.project(0.0, 0.0)
    again = pickle.loads(pickle.dumps(line))
    assert again.project(90.0, 5.0)[1] == line.project(90.0, 5.0)[1]


@settings(max_examples=40)
@given(st.floats(0.0, 600.0), st.floats(-30.0, 30.0))
def test_projection_undoes_offset_points(station, offset):
    line = circle()
    found, away = line.project(*line.offset_points(station, offset))
    assert line.way(found - station) == pytest.approx(0.0, abs=1e-3)
    assert away == pytest.approx(offset, abs=1e-4)
