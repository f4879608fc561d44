"""Places and lines of the plane in degrees."""

import numpy as np
import pytest

from lapkit.course.in_degrees import line_in_degrees, place_in_degrees, places_in_degrees
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine

PLANE = Plane(50.0, 8.0)


def test_longitude_comes_first_and_comes_back_to_the_same_tenth_of_a_millimetre():
    lon, lat = place_in_degrees(PLANE, 123.4567, -76.5432)
    assert (lon > 8.0, lat < 50.0) == (True, True)
    assert PLANE.to_xy(lat, lon) == pytest.approx((123.4567, -76.5432), abs=1e-4)
    assert round(lon, 9) == lon


def test_many_places_are_the_same_as_one_by_one():
    x, y = np.array([1.0, 200.0]), np.array([-3.0, 4.0])
    one_by_one = [place_in_degrees(PLANE, *place) for place in zip(x, y, strict=True)]
    assert places_in_degrees(PLANE, x, y) == pytest.approx(np.array(one_by_one), abs=1e-12)


@pytest.mark.parametrize(("every_m", "vertices"), [(5.0, 21), (30.0, 9), (7.0, 16)])
def test_a_line_has_a_vertex_at_least_so_often_and_both_its_ends(every_m, vertices):
    line = StationLine.through([0.0, 50.0, 99.0], [0.0, 0.0, 0.0], False)
    drawn = line_in_degrees(PLANE, line, every_m)
    x, y = PLANE.to_xy(drawn.lon_lat[:, 1], drawn.lon_lat[:, 0])
    assert len(x) == vertices
    assert x == pytest.approx(np.linspace(0.0, 99.0, vertices), abs=1e-3)
    assert y == pytest.approx(0.0, abs=1e-3)
