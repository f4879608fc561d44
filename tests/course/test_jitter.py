"""Lines of a track file written with few digits, or walked.

Six decimals of a degree are what RFC 7946 (section 11.2) calls a reasonable precision; the largest curvature
of an ellipse is a/b² (analytic geometry).
"""

import numpy as np
import pytest

from lapkit.course.jitter import rounding_m
from lapkit.course.plane import Plane
from lapkit.course.reference import station_line
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine
from lapkit.curvature import HELD_OVER_M, held_curvature

PLANE = Plane(47.0, 8.0)
LONG_M, SHORT_M = 120.0, 60.0
DENSE = np.linspace(0.0, 2.0 * np.pi, 200_001)


def ellipse(spacing_m, shift_m=0.0):
    """Vertices (n, 2) at equal steps of an ellipse, the first repeated at the end."""
    x, y = LONG_M * np.cos(DENSE), SHORT_M * np.sin(DENSE)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    count = round(length[-1] / spacing_m)
    at = np.interp(np.arange(count + 1) / count * length[-1], length, DENSE) + shift_m / LONG_M
    return np.stack([LONG_M * np.cos(at), SHORT_M * np.sin(at)], axis=-1)


def written(points_m, digits):
    """As a line of a track file whose coordinates have so many decimals."""
    lat, lon = PLANE.to_lat_lon(*points_m.T)
    return GeoLine(np.round(np.stack([lon, lat], axis=-1), digits))


def tightest_radius_m(line):
    start = np.arange(0.0, line.length_m - HELD_OVER_M, 0.5)
    return 1.0 / np.max(held_curvature(line.heading_rad, line.station_m, start))


EXACT_M = tightest_radius_m(StationLine.through(*ellipse(0.5).T, True))


def test_the_curve_measured_is_the_one_of_the_formula():
    # Held over 10 m the tip is a little more open than at its very point.
    assert SHORT_M**2 / LONG_M < EXACT_M < 1.03 * SHORT_M**2 / LONG_M


@pytest.mark.parametrize("spacing_m", [1.0, 2.5, 5.0, 8.0])
@pytest.mark.parametrize(("digits", "within"), [(6, 0.05), (7, 0.015), (9, 0.003)])
def test_a_rounded_line_keeps_its_tightest_radius(spacing_m, digits, within):
    for shift_m in (0.0, 0.3, 0.7):
        line = station_line(PLANE, written(ellipse(spacing_m, shift_m), digits), "t", "marker_line")
        assert tightest_radius_m(line) == pytest.approx(EXACT_M, rel=within)


def test_the_same_line_through_its_rounded_vertices_would_be_far_tighter():
    points = np.stack(PLANE.to_xy(*written(ellipse(1.0), 6).lon_lat.T[::-1]), axis=-1)
    assert tightest_radius_m(StationLine.through(*points.T, True)) < 0.85 * EXACT_M


def test_a_line_with_all_its_digits_is_left_as_it_was_drawn():
    points = ellipse(8.0)
    lat, lon = PLANE.to_lat_lon(*points.T)
    line = station_line(PLANE, GeoLine(np.stack([lon, lat], axis=-1)), "t", "centre")
    drawn = StationLine.through(*PLANE.to_xy(lat, lon), True)
    np.testing.assert_array_equal(line.x_m, drawn.x_m)
    np.testing.assert_array_equal(line.curvature_1pm, drawn.curvature_1pm)


def test_corners_drawn_by_hand_are_not_rounded_off_by_more_than_their_digits():
    corners = np.array([[0.0, 0.0], [200.0, 0.0], [230.0, 40.0], [200.0, 90.0], [0.0, 90.0]])
    line = station_line(PLANE, written(corners, 6), "t", "centre")
    away = np.hypot(
        *(corners[:, None] - np.stack([line.x_m, line.y_m], axis=-1)).transpose(2, 0, 1)
    )
    assert away.min(axis=1).max() < 1.0


@pytest.mark.parametrize("digits", [5, 6, 7])
def test_the_digits_are_read_off_the_coordinates(digits):
    # A degree is 76.1 km of longitude and 111.2 km of latitude here (WGS 84); evenly spread errors
    # have a standard deviation of a step over √12.
    step_m = np.array([76.1e3, 111.2e3]) * 10.0**-digits
    found = rounding_m(written(ellipse(5.0), digits).lon_lat)
    assert found == pytest.approx(step_m / np.sqrt(12.0), rel=0.005)


def test_coordinates_with_every_digit_were_not_rounded():
    lat, lon = PLANE.to_lat_lon(*ellipse(5.0).T)
    assert not rounding_m(np.stack([lon, lat], axis=-1)).any()
