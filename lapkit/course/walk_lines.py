"""One recording of a walk as a line: standing still removed, a loop closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.in_degrees import places_in_degrees
from lapkit.course.plane import Plane
from lapkit.course.smoothing import smooth_even
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine
from lapkit.curvature import path_length_m
from lapkit.errors import TrackError

STRIDE_M = 3.0
"""Fixes are averaged over this many metres of way, so that standing still counts as one place."""

FARTHEST_M = 30_000.0
"""Nobody walks further than this, metres: a longer recording, or a place further away, has a wild fix in it."""

SHORTEST_WAVE_M, LONGEST_WAVE_M = 30.0, 80.0
"""A walked line is smoothed as its noise demands, within these limits of wavelength, metres: a walker's wobble is
shorter, a bend of 10 m radius is a quarter of 63 m, and longer waves belong to the course."""

_ANCHORS = 60  # places that are searched for a return: on a lap of a kilometre, one every 17 m
_SAME_PLACE_M = 12.0  # a track's width: the next lap comes by this near
_SHORTEST_LAP_M = 120.0  # no lap is shorter (our choice)
_OPEN_M = 60.0  # a walker who stops this near to where he began has walked a loop


@dataclass(frozen=True, eq=False)
class Pass:
    """One recording on the plane: metres east, north and height, each ``(n,)``.

    ``drawn`` says that its places are single waypoints with nothing recorded in between.
    """

    x_m: FloatArray
    y_m: FloatArray
    height_m: FloatArray
    drawn: bool = False


def strides(x: FloatArray, y: FloatArray, height: FloatArray) -> Pass:
    """A recording, metres, ``(n,)`` each, with its fixes averaged over every :data:`STRIDE_M` of way."""
    group = np.zeros(len(x), dtype=int)
    count, at_x, at_y = 0, x[0], y[0]
    for i in range(1, len(x)):
        if (x[i] - at_x) ** 2 + (y[i] - at_y) ** 2 >= STRIDE_M**2:
            count, at_x, at_y = count + 1, x[i], y[i]
        group[i] = count
    number = np.bincount(group)
    known = np.isfinite(height)
    total = np.bincount(group[known], height[known], minlength=count + 1)
    with np.errstate(invalid="ignore"):
        mean = total / np.bincount(group[known], minlength=count + 1)
    return Pass(np.bincount(group, x) / number, np.bincount(group, y) / number, mean)


def first_line(walked: Pass) -> StationLine:
    """The line of one recording, closed when it comes back to where it began.

    Raises:
        TrackError: the recording has too few different places.
    """
    x, y, closed = _lap(walked.x_m, walked.y_m)
    length = path_length_m(x, y)
    if closed:
        gap = np.hypot(x[0] - x[-1], y[0] - y[-1])
        x, y, length = np.append(x, x[0]), np.append(y, y[0]), np.append(length, length[-1] + gap)
    if length[-1] < 4.0 * STRIDE_M:
        raise TrackError(
            f"a recording is only {length[-1]:.0f} m long", remedy="Record the line again."
        )
    if length[-1] > FARTHEST_M:
        raise TrackError(
            f"a recording is {length[-1] / 1000:.0f} km long", remedy="Take its wild places out."
        )
    at = np.linspace(0.0, length[-1], max(int(length[-1] / STRIDE_M), 8) + 1)
    at = at[:-1] if closed else at
    points = np.stack([np.interp(at, length, x), np.interp(at, length, y)], axis=-1)
    smooth = smooth_even(points, at[1], closed, SHORTEST_WAVE_M, LONGEST_WAVE_M).values
    return StationLine.through(smooth[:, 0], smooth[:, 1], closed)


def _lap(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, bool]:
    """One lap of a recording, and whether it is closed."""
    length = path_length_m(x, y)
    back = _returns(x, y, length)
    if len(back):
        span = length[back[:, 1]] - length[back[:, 0]]
        first, last = back[np.argsort(span)[len(span) // 2]]
        return x[first:last], y[first:last], True
    apart = np.hypot(x[-1] - x[0], y[-1] - y[0])
    return x, y, bool(apart <= min(_OPEN_M, 0.1 * length[-1]))


def _returns(x: FloatArray, y: FloatArray, length: FloatArray) -> np.ndarray:
    """Pairs of indices at which a recording passes the same place in the same direction, ``(k, 2)``."""
    ahead_x, ahead_y = np.gradient(x), np.gradient(y)
    norm = np.maximum(np.hypot(ahead_x, ahead_y), 1e-9)
    ahead_x, ahead_y = ahead_x / norm, ahead_y / norm
    found = []
    for i in np.unique(np.linspace(0, len(x) - 1, _ANCHORS).astype(int)):
        apart = np.hypot(x - x[i], y - y[i])
        same = (ahead_x * ahead_x[i] + ahead_y * ahead_y[i] > 0.7) & (apart < _SAME_PLACE_M)
        same &= length - length[i] > _SHORTEST_LAP_M
        if np.any(same):
            first = int(np.argmax(same))
            stay = int(np.argmin(np.append(same[first:], False)))
            found.append((i, first + int(np.argmin(apart[first : first + stay]))))
    return np.array(found, dtype=int).reshape(-1, 2)


def plain_line(plane: Plane, walked: Pass, *, name: str = "", corner: str = "") -> GeoLine:
    """A recording in degrees as it stands, without heights."""
    lon_lat = places_in_degrees(plane, walked.x_m, walked.y_m)
    return GeoLine(read_only(lon_lat), name=name, corner=corner)
