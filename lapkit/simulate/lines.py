"""The line that a rider's tyres are meant to take, over a whole ride.

On a grid of stations along the reference, unwrapped over every lap, the line is an offset to the left:
the marker line's, plus what habit and the scatter of that lap make of it. A last step rounds it: its
changes of curvature are spread over the distance in which the rider rolls the machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import Akima1DInterpolator
from scipy.linalg import solveh_banded

from lapkit.course.course import Course
from lapkit.curvature import circle_curvature, path_length_m
from lapkit.units import FloatArray

GRID_M = 1.0
"""Distance between the stations of a line, metres."""

_ROUNDS = 3


@dataclass(frozen=True, eq=False)
class Line:
    """Where the tyres are meant to run. Arrays have shape ``(n,)``.

    ``station_m`` is unwrapped along the reference, ``length_m`` the distance along the line itself,
    ``curvature_1pm`` its curvature, left positive.
    """

    station_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    length_m: FloatArray
    curvature_1pm: FloatArray


def marker_offset(course: Course, station_m: FloatArray) -> FloatArray:
    """Offset of the marker line at unwrapped stations, metres; zero where a course has none."""
    line = course.marker_line
    if line is None:
        return np.zeros_like(station_m)
    station, offset = course.reference.project(line.x_m[:-1], line.y_m[:-1])
    order = np.argsort(station)
    at = course.reference.wrap(station_m)
    return np.interp(at, station[order], offset[order], period=course.reference.length_m)


def through(knots: list[tuple[float, float]], station_m: FloatArray) -> FloatArray:
    """A smooth curve through (station, value) knots in order of station; zero 30 m beyond their ends."""
    at, value = np.array(knots).T
    at = np.concatenate([[at[0] - 60.0, at[0] - 30.0], at, [at[-1] + 30.0, at[-1] + 60.0]])
    value = np.concatenate([[0.0, 0.0], value, [0.0, 0.0]])
    return np.nan_to_num(Akima1DInterpolator(at, value, method="makima")(station_m))


def rounded(
    course: Course, station_m: FloatArray, offset_m: FloatArray, over_m: FloatArray
) -> Line:
    """The line nearest to an offset whose curvature changes no faster than ``over_m`` allows.

    It minimises Σ (o − offset)² + Σ over⁶ κ'²: waves shorter than about 2π · over are rounded off, longer
    ones are kept. Arrays have shape ``(n,)``; stations are ``GRID_M`` apart.
    """
    x0, y0 = course.reference.at(station_m)
    heading = course.reference.heading_at(station_m)
    nx, ny = -np.sin(heading), np.cos(heading)
    weight = (over_m[:-3] / GRID_M) ** 6
    offset = offset_m
    third = np.array([-1.0, 3.0, -3.0, 1.0])
    for _ in range(_ROUNDS):
        # Only the part of the third difference across the line is curvature's change; the part along it
        # belongs to a steady bend and must not be rounded off.
        x, y = x0 + offset * nx, y0 + offset * ny
        along = np.arctan2(y[2:-1] - y[1:-2], x[2:-1] - x[1:-2])
        ax, ay = -np.sin(along), np.cos(along)
        n = len(along)
        rows = np.stack([third[k] * (ax * nx[k : k + n] + ay * ny[k : k + n]) for k in range(4)])
        fixed = sum(third[k] * (ax * x0[k : k + n] + ay * y0[k : k + n]) for k in range(4))
        band = np.zeros((4, len(station_m)))
        right = offset_m.copy()
        band[3] = 1.0
        for k in range(4):
            right[k : k + n] -= weight * rows[k] * fixed
            for m in range(k, 4):
                band[3 - (m - k), m : m + n] += weight * rows[k] * rows[m]
        offset = solveh_banded(band, right)
    x, y = x0 + offset * nx, y0 + offset * ny
    curvature = circle_curvature(x, y)
    curvature = np.concatenate([curvature[:1], curvature, curvature[-1:]])
    return Line(station_m, x, y, path_length_m(x, y), curvature)
