"""Curvature and radius held over 10 m of path.

The measure of tightness: over any 10 m of ridden path, heading change over path length is the curvature held there, and
its inverse is a radius. No log could show the radius at an instant. Where shapes are written ``(..., n)``, arrays may
have leading axes (draws); the last axis runs along the path.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray

HELD_OVER_M = 10.0
"""Length of path over which extremes and values at markers are held, metres."""

_ROUNDING_M = 1e-9  # a stretch that ends where the path ends is still part of it


def path_length_m(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Cumulative length along the points, metres, shape ``(..., n)``, starting at zero.

    Each step counts as the chord between its ends.
    """
    steps = np.hypot(np.diff(x_m, axis=-1), np.diff(y_m, axis=-1))
    start = np.zeros_like(x_m[..., :1], dtype=np.float64)
    return np.concatenate([start, np.cumsum(steps, axis=-1)], axis=-1)


def held_curvature(
    heading_rad: ArrayLike,
    distance_m: ArrayLike,
    start: ArrayLike,
    length_m: float = HELD_OVER_M,
) -> FloatArray:
    """Curvature held over the stretch from each start, 1/m, left positive, ``(m,)``; NaN where it leaves the path.

    Args:
        heading_rad: unwrapped heading of the path, counter-clockwise, shape ``(n,)``.
        distance_m: increasing distance along the path, metres, shape ``(n,)``.
        start: distances at which a stretch begins, metres, shape ``(m,)``.
        length_m: how long a stretch is, metres.
    """
    heading, distance, first = (
        np.asarray(given, dtype=np.float64) for given in (heading_rad, distance_m, start)
    )
    stop = first + length_m
    turned = np.interp(stop, distance, heading) - np.interp(first, distance, heading)
    inside = (first >= distance[0] - _ROUNDING_M) & (stop <= distance[-1] + _ROUNDING_M)
    return np.where(inside, turned / length_m, np.nan)


def radius_m(curvature_1pm: ArrayLike) -> FloatArray:
    """Radius of a curvature, metres, unsigned, any shape; infinite where the path is straight."""
    with np.errstate(divide="ignore"):
        return 1.0 / np.abs(curvature_1pm)


def circle_curvature(x_m: ArrayLike, y_m: ArrayLike) -> FloatArray:
    """Signed curvature of the circle through each three points in a row, 1/m, shape ``(..., n-2)``.

    κ = 4 · area / (a b c), left positive (elementary geometry).
    """
    ax, ay = np.diff(x_m, axis=-1)[..., :-1], np.diff(y_m, axis=-1)[..., :-1]
    bx, by = np.diff(x_m, axis=-1)[..., 1:], np.diff(y_m, axis=-1)[..., 1:]
    cross = ax * by - ay * bx
    sides = np.hypot(ax, ay) * np.hypot(bx, by) * np.hypot(ax + bx, ay + by)
    return 2.0 * cross / np.where(sides > 0, sides, np.nan)
