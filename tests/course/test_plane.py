"""The local plane: metres east and north, and degrees again."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lapkit.course.plane import Plane, middle_deg


def test_the_origin_is_at_zero():
    plane = Plane(47.0, 8.0)
    assert plane.to_xy(47.0, 8.0) == (pytest.approx(0.0, abs=1e-9), pytest.approx(0.0, abs=1e-9))


def test_x_is_east_and_y_is_north():
    plane = Plane(47.0, 8.0)
    east, north = plane.to_xy([47.001, 47.0], [8.0, 8.001])
    assert east == pytest.approx([0.0, 76.06], abs=0.01)
    assert north == pytest.approx([111.18, 0.0], abs=0.01)


@pytest.mark.parametrize("shape", [(), (7,), (2, 3)])
def test_arrays_of_any_shape_come_back_in_their_shape(shape):
    plane = Plane(-33.0, 151.0)
    east, north = plane.to_xy(np.full(shape, -33.01), np.full(shape, 151.02))
    lat, lon = plane.to_lat_lon(east, north)
    assert east.shape == lat.shape == shape
    assert lat == pytest.approx(-33.01, abs=1e-10) and lon == pytest.approx(151.02, abs=1e-10)


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 179.9), st.floats(-8e3, 8e3), st.floats(-8e3, 8e3))
@example(90.0, 0.0, 300.0, -400.0)
@example(-89.99, 0.0, 0.0, -3000.0)
def test_to_degrees_and_back_gives_the_same_metres(lat, lon, x, y):
    plane = Plane(lat, lon)
    back_x, back_y = plane.to_xy(*plane.to_lat_lon(x, y))
    assert back_x == pytest.approx(x, abs=1e-7) and back_y == pytest.approx(y, abs=1e-7)


def test_beyond_the_horizon_there_is_no_place_but_a_number():
    """What a wild fix may ask for: further from the origin than the Earth is thick."""
    lat, lon = Plane(47.0, 8.0).to_lat_lon([9e6, 0.0], [0.0, -9e9])
    assert np.all(np.isfinite(lat)) and np.all(np.isfinite(lon))


def test_longitudes_come_back_within_their_range():
    _, lon = Plane(0.0, 179.999).to_lat_lon([200.0, -200.0], [0.0, 0.0])
    assert lon[0] == pytest.approx(-179.9992, abs=1e-4) and lon[1] == pytest.approx(
        179.9972, abs=1e-4
    )


@pytest.mark.parametrize("lon", [-0.001, 8.0, 179.999, -179.9995])
def test_the_middle_of_places_is_among_them_wherever_longitude_jumps(lon):
    """As many east as west of the antimeridian, and one place on the other side of the Earth."""
    around = np.mod(lon + np.array([0.0, 0.0004, 0.0008, 0.0012, 179.9999]) + 180.0, 360.0) - 180.0
    places = np.stack([around, np.full(5, -17.0)], axis=-1)
    away = np.mod(np.array([middle_deg(places[:4])[0], middle_deg(places)[0]]) - lon + 180.0, 360.0)
    assert away - 180.0 == pytest.approx([0.0006, 0.0008], abs=1e-9)
    assert middle_deg(places)[1] == -17.0
