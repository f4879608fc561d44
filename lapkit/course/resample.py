"""From the vertices of a drawn or walked line to evenly spaced points with heading and curvature.

A cubic spline runs through the vertices, so that a line drawn with a vertex every ten metres still
has a heading and a curvature everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.errors import TrackError

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

STEP_M = 1.5
"""Longest step between the points of a resampled line, metres."""

SAME_POINT_M = 0.02
"""Vertices closer than this count once, metres: six decimals of a degree cannot tell them apart."""

LONGEST_LINE_M = 75_000.0
"""No course is longer, metres (our choice): a line that is longer has wrong coordinates."""

_LONG_SEGMENT = 3.0  # times its shorter neighbour: it was drawn as a straight and is kept straight
_GAUSS_AT, _GAUSS_WEIGHT = np.polynomial.legendre.leggauss(4)  # exact up to degree seven


@dataclass(frozen=True, eq=False)
class Resampled:
    """Evenly spaced points of a line; every array has shape ``(n,)``.

    ``heading_rad`` is counter-clockwise from east and unwrapped, ``curvature_1pm`` left positive.
    For a closed line the last point is the first again.
    """

    x_m: FloatArray
    y_m: FloatArray
    station_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray


def resample(x_m: FloatArray, y_m: FloatArray, closed: bool) -> Resampled:
    """Points every :data:`STEP_M` or less along a cubic spline through the vertices.

    Args:
        x_m: vertices, metres east, shape ``(n,)``; a closed line may repeat the first at the end.
        y_m: metres north, shape ``(n,)``.
        closed: whether the line returns to its first vertex.

    Raises:
        TrackError: too few different vertices, coordinates that are not numbers, or an absurd
            length.
    """
    # Workers are given their course, and load in a sixth less time without it.
    from scipy.interpolate import CubicSpline

    points = straightened(
        distinct(np.stack([x_m, y_m], axis=-1).astype(np.float64), closed), closed
    )
    if closed:
        points = np.concatenate([points, points[:1]])
    chords = np.hypot(*np.diff(points, axis=0).T)
    if chords.sum() > LONGEST_LINE_M:
        raise TrackError(
            f"a line is {chords.sum() / 1000:.0f} km long",
            remedy="Check its coordinates: longitude comes first, then latitude, in degrees.",
        )
    knots = np.concatenate([[0.0], np.cumsum(chords)])
    spline = CubicSpline(knots, points, bc_type="periodic" if closed else "natural")
    parameter, station = _even(spline, knots)
    first, second = spline(parameter, 1), spline(parameter, 2)
    heading = np.unwrap(np.arctan2(first[:, 1], first[:, 0]))
    speed = np.maximum(np.hypot(*first.T), 1e-9)
    curvature = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / speed**3
    x, y = spline(parameter).T
    return Resampled(x, y, station, heading, curvature)


def distinct(points: FloatArray, closed: bool) -> FloatArray:
    """Vertices without those that repeat the one before; shape ``(n, 2)`` to ``(k, 2)``.

    Raises:
        TrackError: fewer than two of them remain (three when closed), or one is not a number.
    """
    if not np.all(np.isfinite(points)):
        raise TrackError("a line has a coordinate that is not a number", remedy="Correct it.")
    kept = np.ones(len(points), dtype=bool)
    kept[1:] = np.hypot(*np.diff(points, axis=0).T) > SAME_POINT_M
    points = points[kept]
    if closed and len(points) > 1 and np.hypot(*(points[-1] - points[0])) <= SAME_POINT_M:
        points = points[:-1]
    needed = 3 if closed else 2
    if len(points) < needed:
        raise TrackError(
            f"a line has {len(points)} different points where at least {needed} are needed",
            remedy="Record or draw it again.",
        )
    return points


def straightened(points: FloatArray, closed: bool) -> FloatArray:
    """Vertices ``(n, 2)``, metres, with more of them inserted along segments much longer than their neighbours.

    Otherwise the spline of the corners beside it would bend a straight that was drawn by its two ends.
    """
    ends = np.concatenate([points, points[:1]]) if closed else points
    chords = np.hypot(*np.diff(ends, axis=0).T)
    if len(chords) < 3:
        return points
    before, after = np.roll(chords, 1), np.roll(chords, -1)
    if not closed:
        before[0], after[-1] = after[0], before[-1]
    beside = np.maximum(np.minimum(before, after), STEP_M)
    pieces = np.where(chords > _LONG_SEGMENT * beside, np.ceil(chords / beside), 1.0).astype(int)
    if np.all(pieces == 1):
        return points
    segment = np.repeat(np.arange(len(chords)), pieces)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = (within / np.repeat(pieces, pieces))[:, None]
    filled = ends[segment] * (1.0 - share) + ends[segment + 1] * share
    return filled if closed else np.concatenate([filled, points[-1:]])


def _even(spline: CubicSpline, knots: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Spline parameters at equal steps of arc length, and the stations there."""
    pieces = np.maximum(np.ceil(np.diff(knots) / 0.75), 1.0).astype(int)
    step = np.repeat(np.diff(knots) / pieces, pieces)
    start = np.concatenate([[knots[0]], knots[0] + np.cumsum(step)[:-1]])
    # With Gauss-Legendre on every piece the length of a 400 m oval is right to a tenth of a millimetre.
    at = start[:, None] + 0.5 * step[:, None] * (1.0 + _GAUSS_AT)
    speed = np.linalg.norm(spline(at, 1), axis=-1)
    length = np.concatenate([[0.0], np.cumsum(0.5 * step * (speed @ _GAUSS_WEIGHT))])
    count = max(int(np.ceil(length[-1] / STEP_M)), 16)
    station = np.linspace(0.0, length[-1], count + 1)
    return np.interp(station, length, np.append(start, knots[-1])), station
