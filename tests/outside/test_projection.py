"""Projection to a line against shapely, which knows nothing of legs or laps."""

import numpy as np
import pytest
import shapely

from lapkit.course.stations import StationLine


def wavy_loop():
    t = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    r = 500.0 + 90.0 * np.cos(3 * t) + 40.0 * np.sin(7 * t)
    return StationLine.through(r * np.cos(t), r * np.sin(t), True)


def hill():
    t = np.linspace(0.0, 1500.0, 200)
    return StationLine.through(t, 80.0 * np.sin(t / 120.0), False)


def as_shapely(line):
    """The line drawn so finely that its chords lie within a millimetre of it."""
    at = np.linspace(0.0, line.length_m, 6 * len(line.x_m))
    return shapely.LineString(np.stack(line.at(at), axis=-1))


def scattered(line, spread_m, count=800):
    rng = np.random.default_rng(9)
    station = rng.uniform(0.0, line.length_m, count)
    return station, *line.offset_points(station, rng.uniform(-spread_m, spread_m, count))


@pytest.mark.parametrize("line", [wavy_loop(), hill()], ids=["loop", "hill"])
@pytest.mark.parametrize("spread_m", [10.0, 200.0])
def test_nearest_points_are_shapelys(line, spread_m):
    drawn = as_shapely(line)
    _, x, y = scattered(line, spread_m)
    points = shapely.points(x, y)
    station, offset = line.project(x, y)
    # An open line goes straight on beyond its ends, where shapely's has stopped.
    within = (station > 0.0) & (station < line.length_m)
    distance = shapely.distance(points, drawn)
    assert np.abs(offset[within]) == pytest.approx(distance[within], abs=5e-3)
    if spread_m < 20.0:  # nearer than the centre of any bend, so that the foot is unique
        there = shapely.line_locate_point(drawn, points) * line.length_m / drawn.length
        assert line.way(station - there)[within] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("line", [wavy_loop(), hill()], ids=["loop", "hill"])
def test_a_path_that_stays_near_is_followed_to_the_same_points(line):
    drawn = as_shapely(line)
    at = np.linspace(0.01, line.length_m - 0.01, 800)
    x, y = line.offset_points(at, 5.0 * np.sin(at / 80.0))
    station, offset = line.follow(x, y)
    assert np.abs(offset) == pytest.approx(shapely.distance(shapely.points(x, y), drawn), abs=5e-3)
    there = shapely.line_locate_point(drawn, shapely.points(x, y)) * line.length_m / drawn.length
    assert station == pytest.approx(there, abs=0.02)


def test_the_sign_of_an_offset_is_the_side():
    loop = wavy_loop()
    inside = shapely.Polygon(np.stack([loop.x_m, loop.y_m], axis=-1))
    _, x, y = scattered(loop, 60.0)
    _, offset = loop.project(x, y)
    clear = np.abs(offset) > 0.01
    # Counter-clockwise, the left of the line is the inside of the loop.
    assert np.array_equal(shapely.contains_xy(inside, x, y)[clear], (offset > 0.0)[clear])
