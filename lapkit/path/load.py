"""What the wheels feel of gravity on the road under a path."""

from __future__ import annotations

import numpy as np

from lapkit.course.course import Course
from lapkit.course.profile import road_under
from lapkit.lean import LEAST_LOAD_MPS2
from lapkit.path.estimate import Load
from lapkit.units import GRAVITY_MPS2, FloatArray

_NEAR_M = 30.0  # beside the course its profile still counts


def load_at(
    course: Course | None,
    x_m: FloatArray,
    y_m: FloatArray,
    heading_rad: FloatArray,
    curvature_1pm: FloatArray,
    near_m: FloatArray | None = None,
    rows: int = 1,
) -> Load:
    """Gravity that the wheels feel on the road under a path, m/s², by speed: (g cos γ + v²κ_v) / cos²γ.

    With it, tan φ = v²κ / load is the balance lean of :func:`lapkit.lean.balance_tangent`. Plain gravity
    without heights, and far from the course. Arrays and speeds have shape ``(n,)``; ``near_m`` are the places'
    stations where they are known to a few metres. With several rows, as many as an ensemble has paths, every one
    but the first has a road of its own, as far off as the heights leave in doubt: ``(rows, n)``.
    """
    if course is None or course.profile is None:
        return lambda speed_mps: np.full(np.shape(speed_mps), GRAVITY_MPS2)
    profile, line = course.profile, course.reference
    if near_m is None:
        station, offset = line.project(x_m, y_m)
        away = np.abs(offset) > _NEAR_M
    else:
        station, offset = line.project_near(x_m, y_m, near_m)
        away = np.zeros(np.shape(near_m), dtype=bool)
    road = road_under(course, station, offset, heading_rad, curvature_1pm)
    cos = 1.0 / np.hypot(1.0, road.grade)

    def load(speed_mps: FloatArray) -> FloatArray:
        per_bend = np.square(speed_mps / cos)
        felt = GRAVITY_MPS2 / cos + per_bend * road.vertical_curvature_1pm
        if rows > 1:
            felt = felt + profile.doubt_at(station, rows) * (per_bend * road.sharper)
        felt = np.maximum(felt, LEAST_LOAD_MPS2)
        felt[..., away] = GRAVITY_MPS2
        return felt

    return load
