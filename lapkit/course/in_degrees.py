"""Places and lines of the plane in degrees, with the digits that a track file is written with."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine

DEGREE_DIGITS = 9
"""Decimals of a degree that are written: a tenth of a millimetre, since a millimetre makes a gentle line a per cent
tighter."""

VERTEX_M = 5.0
"""Distance between the vertices of a walked line as it is written, metres."""

RIDDEN_VERTEX_M = 1.5
"""The same for a line that was ridden or solved: read back, nearly all its radii are the same to 0.2 %."""


def place_in_degrees(plane: Plane, x_m: float, y_m: float) -> tuple[float, float]:
    """Longitude and latitude of one place on the plane."""
    lat, lon = plane.to_lat_lon(x_m, y_m)
    return round(float(lon), DEGREE_DIGITS), round(float(lat), DEGREE_DIGITS)


def places_in_degrees(plane: Plane, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Longitudes and latitudes of ``n`` places on the plane, ``(n, 2)``."""
    lat, lon = plane.to_lat_lon(x_m, y_m)
    return np.stack([lon, lat], axis=-1).round(DEGREE_DIGITS)


def line_in_degrees(plane: Plane, line: StationLine, every_m: float = VERTEX_M) -> GeoLine:
    """A line of the plane in degrees, with a vertex every ``every_m`` metres or less."""
    count = max(int(np.ceil(line.length_m / every_m)), 8)
    x, y = line.at(np.linspace(0.0, line.length_m, count + 1))
    return GeoLine(read_only(places_in_degrees(plane, x, y)))
