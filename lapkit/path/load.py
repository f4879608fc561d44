"""Load: the gravity that the wheels feel on the road under a path, which grade and crests change."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.course.profile import road_under
from lapkit.lean import LEAST_LOAD_MPS2
from lapkit.units import GRAVITY_MPS2

# The profile of the reference is taken to hold this far to either side of it (our choice).
_NEAR_M = 30.0


class PathPoints(NamedTuple):
    """What the road under a path depends on; arrays of shape ``(n,)``.

    Attributes:
        x_m, y_m: metres east and north on the course's plane.
        heading_rad: counter-clockwise from east.
        curvature_1pm: in plan, left positive.
        near_m: station of the course, metres, if it is known to within some metres, which spares a search.
    """

    x_m: FloatArray
    y_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    near_m: FloatArray | None = None


Load = Callable[[FloatArray], FloatArray]
"""Gravity felt by the wheels at the points of a path, m/s², as a function of the speeds there in plan, m/s: ``(n,)`` →
``(n,)`` or ``(rows, n)``."""

LoadUnder = Callable[[PathPoints], Load]
"""Finds the load under a path."""


def load_under(course: Course | None, points: PathPoints, rows: int = 1) -> Load:
    """Gravity that the wheels feel on the road under a path: g cos γ + (v / cos γ)² κ_v.

    γ is the slope along the path and κ_v its vertical curvature; v is the speed in plan, as a receiver gives it, and
    v / cos γ the speed along the road. With this load, tan φ = v²κ / load is the balance lean of
    :func:`lapkit.lean.balance_tangent` at the speed along the road (algebra). Without heights, and more than 30 m from
    the course, the load is plain gravity.

    Args:
        course: with the road's profile; None where there is none.
        points: of the path.
        rows: how many paths the ensemble has. With more than one, every row but the first has a road of its own, drawn
            from what the heights leave uncertain, and the load is ``(rows, n)``.
    """
    if course is None or course.profile is None:
        return lambda speed_mps: np.full(np.shape(speed_mps), GRAVITY_MPS2)
    profile, line = course.profile, course.reference
    if points.near_m is None:
        station, offset = line.project(points.x_m, points.y_m)
        away = np.abs(offset) > _NEAR_M
    else:
        station, offset = line.project_near(points.x_m, points.y_m, points.near_m)
        away = np.zeros(np.shape(points.near_m), dtype=bool)
    road = road_under(course, station, offset, points.heading_rad, points.curvature_1pm)
    cos = 1.0 / np.hypot(1.0, road.grade)

    def load(speed_mps: FloatArray) -> FloatArray:
        squared_along_road = np.square(speed_mps / cos)
        felt = GRAVITY_MPS2 * cos + squared_along_road * road.vertical_curvature_1pm
        if rows > 1:
            felt = felt + profile.doubt_at(station, rows) * (squared_along_road * road.sharper)
        felt = np.maximum(felt, LEAST_LOAD_MPS2)
        felt[..., away] = GRAVITY_MPS2
        return felt

    return load
