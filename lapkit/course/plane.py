"""The local plane: WGS 84 latitude and longitude to metres east and north of an origin, and back.

Geodetic → Earth-centred → east/north/up is exact at any distance; the tests hold it against PROJ.
A scale per degree would err 0.1 m at one kilometre and is not used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.coordinates import one_turn_deg

SEMI_MAJOR_M = 6378137.0
"""WGS 84 equatorial radius, metres."""

FLATTENING = 1.0 / 298.257223563
"""WGS 84 flattening."""

_ECC2 = FLATTENING * (2.0 - FLATTENING)


def middle_deg(lon_lat: FloatArray) -> tuple[float, float]:
    """Median longitude and latitude of places ``(n, 2)``, degrees, also across the antimeridian.

    Unlike the mean, the median is not moved by one place far off.
    """
    lon, lat = np.asarray(lon_lat, dtype=np.float64).T
    middle = np.median(lon)
    if np.ptp(lon) > 180.0:
        mean = np.degrees(np.angle(np.exp(1j * np.radians(lon)).mean()))
        middle = one_turn_deg(mean + np.median(one_turn_deg(lon - mean)))
    return float(middle), float(np.median(lat))


def _to_ecef(lat_deg: ArrayLike, lon_deg: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Earth-centred coordinates, metres, shape ``(3, ...)``."""
    lat, lon, height = (np.asarray(v, dtype=np.float64) for v in (lat_deg, lon_deg, height_m))
    lat, lon = np.radians(lat), np.radians(lon)
    sin, cos = np.sin(lat), np.cos(lat)
    normal = SEMI_MAJOR_M / np.sqrt(1.0 - _ECC2 * sin * sin)
    from_axis, polar = (normal + height) * cos, (normal * (1.0 - _ECC2) + height) * sin
    return np.stack([from_axis * np.cos(lon), from_axis * np.sin(lon), polar])


@dataclass(frozen=True)
class Plane:
    """A plane tangent to the ellipsoid at an origin; x east, y north, metres.

    Args:
        lat_deg, lon_deg: origin, degrees.
    """

    lat_deg: float
    lon_deg: float

    def _axes(self) -> FloatArray:
        """Rows east, north and up in Earth-centred coordinates, shape ``(3, 3)``."""
        lat, lon = np.radians(self.lat_deg), np.radians(self.lon_deg)
        sin_lat, cos_lat, sin_lon, cos_lon = np.sin(lat), np.cos(lat), np.sin(lon), np.cos(lon)
        return np.array(
            [
                [-sin_lon, cos_lon, 0.0],
                [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
                [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
            ]
        )

    def to_xy(self, lat_deg: ArrayLike, lon_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Metres east and north of the origin, for latitudes and longitudes in degrees of one shape."""
        lat = np.asarray(lat_deg, dtype=np.float64)
        from_origin = _to_ecef(lat, lon_deg, 0.0)
        origin = _to_ecef(self.lat_deg, self.lon_deg, 0.0)
        from_origin = from_origin - origin.reshape((3,) + (1,) * lat.ndim)
        east, north, _ = np.tensordot(self._axes(), from_origin, axes=1)
        return east, north

    def to_lat_lon(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Latitude and longitude, degrees, for metres east and north of one shape.

        The place is the point of the ellipsoid straight below the point of the plane.

        Source: a quadratic equation says where the plane's normal through the point meets the ellipsoid
        (algebra).
        """
        x, y = np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)
        axes = self._axes().reshape((3, 3) + (1,) * x.ndim)
        origin = _to_ecef(self.lat_deg, self.lon_deg, 0.0).reshape((3,) + (1,) * x.ndim)
        point = origin + x * axes[0] + y * axes[1]
        # In units of its semi-axes the ellipsoid is the unit sphere: |point + height · up| = 1.
        semi_axes = np.array([1.0, 1.0, 1.0 - FLATTENING]).reshape(origin.shape) * SEMI_MAJOR_M
        scaled, up = point / semi_axes, axes[2] / semi_axes
        outside = np.sum(scaled * scaled, axis=0) - 1.0
        along, square = np.sum(scaled * up, axis=0), np.sum(up * up)
        # A point beyond the horizon has nothing below it; it gets a finite result all the same.
        root = np.sqrt(np.maximum(along * along - square * outside, 0.0))
        to_prime, to_east, to_pole = point - outside / (along + root) * axes[2]
        lat = np.degrees(np.arctan2(to_pole, (1.0 - _ECC2) * np.hypot(to_prime, to_east)))
        return lat, one_turn_deg(np.degrees(np.arctan2(to_east, to_prime)))
