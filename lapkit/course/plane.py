"""The local plane: WGS 84 latitude and longitude to metres east and north of an origin, and back.

Geodetic → Earth-centred → east/north/up is exact at any distance; the tests hold it against PROJ.
A scale per degree would err 0.1 m at one kilometre and is not used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lapkit.coordinates import one_turn_deg
from lapkit.units import FloatArray

SEMI_MAJOR_M = 6378137.0
"""WGS 84 equatorial radius, metres."""

FLATTENING = 1.0 / 298.257223563
"""WGS 84 flattening."""

_ECC2 = FLATTENING * (2.0 - FLATTENING)


def middle_deg(lon_lat: FloatArray) -> tuple[float, float]:
    """Longitude and latitude in the middle of places (n, 2), degrees, wherever longitude jumps.

    It is the median, which one place far off does not move.
    """
    lon, lat = np.asarray(lon_lat, dtype=np.float64).T
    middle = np.median(lon)
    if np.ptp(lon) > 180.0:
        usual = np.degrees(np.angle(np.exp(1j * np.radians(lon)).mean()))
        middle = one_turn_deg(usual + np.median(one_turn_deg(lon - usual)))
    return float(middle), float(np.median(lat))


def _to_ecef(lat_deg: ArrayLike, lon_deg: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Earth-centred coordinates, metres, shape ``(3, ...)``."""
    lat, lon, height = (np.asarray(v, dtype=np.float64) for v in (lat_deg, lon_deg, height_m))
    lat, lon = np.radians(lat), np.radians(lon)
    sin, cos = np.sin(lat), np.cos(lat)
    normal = SEMI_MAJOR_M / np.sqrt(1.0 - _ECC2 * sin * sin)
    out = (normal + height) * cos
    return np.stack([out * np.cos(lon), out * np.sin(lon), (normal * (1.0 - _ECC2) + height) * sin])


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
        """Metres east and north of the origin for degrees of any equal shape."""
        lat = np.asarray(lat_deg, dtype=np.float64)
        from_origin = _to_ecef(lat, lon_deg, 0.0)
        origin = _to_ecef(self.lat_deg, self.lon_deg, 0.0)
        from_origin = from_origin - origin.reshape((3,) + (1,) * lat.ndim)
        east, north, _ = np.tensordot(self._axes(), from_origin, axes=1)
        return east, north

    def to_lat_lon(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Degrees of latitude and longitude for metres east and north of any equal shape.

        The point is the one of the ellipsoid that lies straight below the plane's point.

        Source: the line through the plane's point along its normal meets the ellipsoid where a
        quadratic says (algebra).
        """
        x, y = np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)
        axes = self._axes().reshape((3, 3) + (1,) * x.ndim)
        origin = _to_ecef(self.lat_deg, self.lon_deg, 0.0).reshape((3,) + (1,) * x.ndim)
        point = origin + x * axes[0] + y * axes[1]
        # Measured in half axes the ellipsoid is the unit sphere: |point + height · up| = 1.
        half_axes = np.array([1.0, 1.0, 1.0 - FLATTENING]).reshape(origin.shape) * SEMI_MAJOR_M
        scaled, up = point / half_axes, axes[2] / half_axes
        outside = np.sum(scaled * scaled, axis=0) - 1.0
        along, square = np.sum(scaled * up, axis=0), np.sum(up * up)
        # Beyond the horizon nothing lies below; a number comes of it all the same.
        root = np.sqrt(np.maximum(along * along - square * outside, 0.0))
        to_prime, to_east, to_pole = point - outside / (along + root) * axes[2]
        lat = np.degrees(np.arctan2(to_pole, (1.0 - _ECC2) * np.hypot(to_prime, to_east)))
        return lat, one_turn_deg(np.degrees(np.arctan2(to_east, to_prime)))
