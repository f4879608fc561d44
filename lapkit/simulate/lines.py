"""The line that a rider's tyres are meant to take, over a whole ride.

On a grid of stations along the reference, unwrapped over every lap, the line is an offset to the
left: the marker line's, plus what the rider's habit and the scatter of that lap add. A last step rounds
the line: changes of curvature are spread over the distance in which the rider can roll the machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import Akima1DInterpolator
from scipy.linalg import solveh_banded

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.curvature import circle_curvature, path_length_m

GRID_M = 1.0
"""Distance between the stations of a line, metres."""

_ONE_KNOT_M = 1.0  # nearer to each other, two knots with values of their own would make a step

_BEYOND = 150  # points added at each end, far more than the widest weight reaches


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


def smooth_step(share: FloatArray) -> FloatArray:
    """From 0 at 0 to 1 at 1 with two continuous derivatives, level outside; any shape."""
    share = np.clip(share, 0.0, 1.0)
    return share**3 * (10.0 - 15.0 * share + 6.0 * share**2)


def marker_offset(course: Course, station_m: FloatArray) -> FloatArray:
    """Offset of the marker line at unwrapped stations, metres, ``(n,)``; zero where a course has none."""
    line = course.marker_line
    if line is None:
        return np.zeros_like(station_m)
    # Followed, because at a bridge the nearest leg may be the other one.
    station, offset = course.reference.follow(line.x_m[:-1], line.y_m[:-1])
    return np.interp(station_m, station, offset, period=course.reference.length_m)


def through(knots: list[tuple[float, float]], station_m: FloatArray) -> FloatArray:
    """A smooth curve through (station, value) knots in order, at stations ``(n,)``.

    It is zero 30 m beyond the knots' ends, from there on within a tenth of the end's value, and zero from 60 m on.
    Knots less than a metre after the one before, as two cones of a gate give, are one knot at their mean.
    """
    at, value = np.array(knots).T
    group = np.cumsum(np.diff(at, prepend=at[0]) > _ONE_KNOT_M)
    count = np.bincount(group)
    at, value = np.bincount(group, at) / count, np.bincount(group, value) / count
    at = np.concatenate([[at[0] - 60.0, at[0] - 30.0], at, [at[-1] + 30.0, at[-1] + 60.0]])
    value = np.concatenate([[0.0, 0.0], value, [0.0, 0.0]])
    return np.nan_to_num(Akima1DInterpolator(at, value, method="makima")(station_m))


def rounded(
    course: Course, station_m: FloatArray, offset_m: FloatArray, over_m: FloatArray
) -> Line:
    """The line along an offset with its changes of curvature spread out; no new ones arise.

    A weight that falls off over about 2.4 times ``over_m`` each way averages the points; what that
    pulls a bend inward is given back by averaging once more (2F − F², which leaves circles alone to
    first order).

    Args:
        course: the course whose reference counts the stations.
        station_m: even stations about ``GRID_M`` apart, shape ``(n,)`` like the others.
        offset_m: from the reference, left positive.
        over_m: how far to spread, metres.
    """
    x, y = course.reference.offset_points(station_m, offset_m)
    points = np.stack([x, y], axis=1)
    once = _averaged(points, over_m)
    points = 2.0 * once - _averaged(once, over_m)
    x, y = points.T
    curvature = circle_curvature(x, y)
    curvature = np.concatenate([curvature[:1], curvature, curvature[-1:]])
    return Line(station_m, x, y, path_length_m(x, y), curvature)


def _averaged(points: FloatArray, over_m: FloatArray) -> FloatArray:
    """Points averaged with a smooth weight, shape ``(n, 2)``.

    It solves (1 − ∂ over² ∂)³ averaged = points, three passes of an exponential weight. Both ends are first
    extended straight, so that they stay where they are.
    """
    more = np.arange(1.0, _BEYOND + 1.0)[:, None]
    before = points[0] - more[::-1] * (points[1] - points[0])
    after = points[-1] + more * (points[-1] - points[-2])
    values = np.concatenate([before, points, after])
    stiff = np.square(np.pad(over_m, _BEYOND, mode="edge") / GRID_M)
    between = 0.5 * (stiff[1:] + stiff[:-1])
    band = np.zeros((2, len(values)))
    band[1] = 1.0
    band[1, :-1] += between
    band[1, 1:] += between
    band[0, 1:] = -between
    for _ in range(3):
        values = solveh_banded(band, values)
    return values[_BEYOND:-_BEYOND]
