"""The local plane against PROJ and against published metres per degree and geodesics."""

import numpy as np
import pytest
from pyproj import Geod, Transformer

from lapkit.course.plane import FLATTENING, SEMI_MAJOR_M, Plane

GEOD = Geod(ellps="WGS84")

# Metres per degree of latitude and of longitude on WGS 84 at the equator, 30, 45 and 60 degrees.
# Source: published tables of the length of a degree (read, to the metre); digits beyond the metre
# recomputed with PROJ.
METRES_PER_DEGREE = [
    (0.0, 110574.276, 111319.491),
    (30.0, 110852.442, 96486.280),
    (45.0, 111131.777, 78846.835),
    (60.0, 111412.287, 55800.002),
]


def test_the_ellipsoid_is_wgs_84():
    # Source: NIMA TR8350.2, defining parameters of WGS 84 (read).
    assert SEMI_MAJOR_M == 6378137.0
    assert pytest.approx(298.257223563) == 1.0 / FLATTENING


@pytest.mark.parametrize(("lat", "north_m", "east_m"), METRES_PER_DEGREE)
def test_metres_per_degree(lat, north_m, east_m):
    """The plane is tangent at its origin: a small step either way gives the scale there."""
    plane, step = Plane(lat, 7.0), 1e-3
    _, north = plane.to_xy(np.array([lat - step, lat + step]), np.array([7.0, 7.0]))
    east, _ = plane.to_xy(np.array([lat, lat]), np.array([7.0 - step, 7.0 + step]))
    # The table's degree of latitude is the one centred on the latitude; 0.2 m is its own curvature.
    assert np.diff(north)[0] / (2.0 * step) == pytest.approx(north_m, abs=0.2)
    assert np.diff(east)[0] / (2.0 * step) == pytest.approx(east_m, abs=0.01)


def test_the_geodesics_of_the_reference_are_right():
    # Source: GeodTest, Karney 2010 (read); and the GeographicLib manual (memory).
    azimuth, _, length = GEOD.inv(0.0, 36.530042355041, 5.762344694676510, -48.164270779097769)
    assert length == pytest.approx(9398502.0434687, abs=1e-6)
    assert azimuth == pytest.approx(176.125875162171, abs=1e-9)
    assert GEOD.inv(-73.8, 40.6, -0.5, 51.6)[2] == pytest.approx(5551759.400, abs=1e-3)


@pytest.mark.parametrize("lat", [-41.0, 0.0, 30.0, 47.0, 60.0, 78.0])
@pytest.mark.parametrize("reach_m", [100.0, 1000.0, 3000.0])
def test_distances_from_the_origin_are_geodesics(lat, reach_m):
    """A tangent plane shortens a distance d from its origin by d³/(6R²) (derived)."""
    plane = Plane(lat, 11.0)
    azimuth = np.arange(0.0, 360.0, 30.0)
    ones = np.ones_like(azimuth)
    lon, there, _ = GEOD.fwd(11.0 * ones, lat * ones, azimuth, reach_m * ones)
    east, north = plane.to_xy(there, lon)
    allowed = reach_m**3 / (6.0 * 6.335e6**2) + 1e-6
    assert np.max(np.abs(np.hypot(east, north) - reach_m)) <= allowed
    turned = np.mod(np.degrees(np.arctan2(east, north)) - azimuth + 180.0, 360.0) - 180.0
    assert np.max(np.abs(turned)) < 1e-4


@pytest.mark.parametrize("lat", [-55.0, 0.0, 47.0, 80.0])
def test_the_plane_is_that_of_proj(lat):
    """Geodetic to topocentric by PROJ's own pipeline: the same east and north."""
    transformer = Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        "+step +proj=cart +ellps=WGS84 "
        f"+step +proj=topocentric +ellps=WGS84 +lon_0=-77.5 +lat_0={lat}"
    )
    rng = np.random.default_rng(6)
    lats = lat + rng.uniform(-0.04, 0.04, 500)
    lons = -77.5 + rng.uniform(-0.04, 0.04, 500)
    east, north, _ = transformer.transform(lons, lats, np.zeros(500))
    x, y = Plane(lat, -77.5).to_xy(lats, lons)
    assert np.max(np.abs(x - east)) < 1e-6 and np.max(np.abs(y - north)) < 1e-6


def test_one_scale_per_degree_would_not_do():
    """The reason for a tangent plane: fixed scales err about 0.1 m at 1 km and 0.4 m at 2 km.

    Source: recomputed here (derived); at 47 degrees north, to the north-east.
    """
    plane = Plane(47.0, 8.0)
    near = 1e-4
    _, north = plane.to_xy(47.0 + near, 8.0)
    east, _ = plane.to_xy(47.0, 8.0 + near)
    for reach_m, error_m in ((1000.0, 0.1), (2000.0, 0.4)):
        lon, lat, _ = GEOD.fwd(8.0, 47.0, 45.0, reach_m)
        x, y = plane.to_xy(lat, lon)
        flat = np.hypot((lon - 8.0) * east / near - x, (lat - 47.0) * north / near - y)
        assert flat == pytest.approx(error_m, rel=0.5)
