"""Whether fixes can belong to this course at all, or lie elsewhere."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.course.plane import SEMI_MAJOR_M
from lapkit.errors import LogError

NEAR_M = 200.0
"""A log that never comes nearer to the middle of the road than this is of another place, metres: it is more than
road, paddock and the error of a poor receiver together (our choice)."""

BESIDE_M = 40.0
"""Within this of the middle of the road counts as along it, metres: road, run-off and receiver error."""

LEAST_SHARE = 0.5
"""A log without a lap of which less than this share lies along the course is of another one (our choice)."""

_FEW = 100  # fixes that are tried first: nearly always one of them lies near the course
_SWAPPED_M = 50e3  # fixes that come as near with latitude and longitude exchanged were exchanged


def require_near(course: Course, lat_deg: ArrayLike, lon_deg: ArrayLike, source: str) -> None:
    """Refuse fixes that never come near the course.

    Args:
        course: where they should be.
        lat_deg, lon_deg: fixes, degrees, shape ``(n,)``.
        source: name of their log.

    Raises:
        LogError: they lie elsewhere; the message says how far away.
    """
    lat, lon = np.asarray(lat_deg, dtype=np.float64), np.asarray(lon_deg, dtype=np.float64)
    # Nearly every log belongs to the course, and a few fixes show it; trying all took a fortieth of a log's time.
    for step in (max(len(lat) // _FEW, 1), 1):
        nearest = float(_away_m(course, lat[::step], lon[::step]).min())
        if nearest <= NEAR_M:
            return
    why = "it, or the track file, may be of another course"
    if float(_from_origin_m(course, lon, lat).min()) < _SWAPPED_M:
        why = "latitude and longitude look swapped, in the log or in the track file"
    raise _of_another(
        f"it never comes nearer than {away_text(nearest)} to the course: {why}", source
    )


def away_text(metres: float) -> str:
    """How far away something is, in whole metres or kilometres."""
    return f"{metres:.0f} m" if metres < 1e3 else f"{metres / 1e3:,.0f} km".replace(",", " ")


def require_along(course: Course, lat_deg: ArrayLike, lon_deg: ArrayLike, source: str) -> None:
    """Refuse a log without a lap that was mostly ridden away from the course: another course may lie near it.

    Args:
        course: where it should be.
        lat_deg, lon_deg: fixes in time order, degrees, shape ``(n,)``.
        source: name of the log.

    Raises:
        LogError: less than :data:`LEAST_SHARE` of the way lies along the course.
    """
    x, y = course.plane.to_xy(lat_deg, lon_deg)
    away, _ = course.reference.tree.query(np.stack([x, y], axis=-1))
    way = np.hypot(np.diff(x), np.diff(y))
    along = np.maximum(away[1:], away[:-1]) <= BESIDE_M
    share = float(way[along].sum() / way.sum()) if way.sum() > 0.0 else 0.0
    if share < LEAST_SHARE:
        raise _of_another(
            f"no lap could be timed, and only {100 * share:.0f} % of its way lies along the course: it, or the track "
            "file, may be of another course",
            source,
        )


def _of_another(what: str, source: str) -> LogError:
    return LogError(
        what, where=source, remedy="Give the log, or the track file, that belongs to it."
    )


def _away_m(course: Course, lat: FloatArray, lon: FloatArray) -> FloatArray:
    """Metres from each fix to the course; for fixes too far away for the plane, metres from its origin."""
    x, y = course.plane.to_xy(lat, lon)
    away, _ = course.reference.tree.query(np.stack([x, y], axis=-1))
    far = _from_origin_m(course, lat, lon)
    return np.where(far < _SWAPPED_M, away, far)


def _from_origin_m(course: Course, lat: FloatArray, lon: FloatArray) -> FloatArray:
    """Great-circle distance from the plane's origin, metres, by the haversine formula on a sphere."""
    lat0, lon0 = np.radians(course.plane.lat_deg), np.radians(course.plane.lon_deg)
    lat, lon = np.radians(lat), np.radians(lon)
    part = np.square(np.sin(0.5 * (lat - lat0)))
    part += np.cos(lat) * np.cos(lat0) * np.square(np.sin(0.5 * (lon - lon0)))
    return 2.0 * SEMI_MAJOR_M * np.arcsin(np.sqrt(np.clip(part, 0.0, 1.0)))
