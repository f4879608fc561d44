"""Curvature and radius held over 10 m of path.

The contract's measure: over any 10 m of ridden path, heading change over path length is the
curvature held there; its inverse is a radius. An instant has no radius that a log could know.
Where shapes are written ``(..., n)`` arrays may carry leading axes (draws); the last runs along the path.
"""

from __future__ import annotations

import numpy as np

from lapkit.units import FloatArray

HELD_OVER_M = 10.0
"""Length of path over which extremes and values at markers are held, metres."""


def path_length_m(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Cumulative length along the points, metres, shape ``(..., n)``, starting at zero.

    Each step counts as the chord between its ends.
    """
    steps = np.hypot(np.diff(x_m, axis=-1), np.diff(y_m, axis=-1))
    start = np.zeros_like(x_m[..., :1], dtype=np.float64)
    return np.concatenate([start, np.cumsum(steps, axis=-1)], axis=-1)


def held_curvature(
    heading_rad: FloatArray,
    distance_m: FloatArray,
    start: FloatArray,
    length_m: float = HELD_OVER_M,
) -> FloatArray:
    """Curvature held over the stretch from each start, 1/m, left positive; NaN beyond the end.

    Args:
        heading_rad: unwrapped heading of the path, counter-clockwise, shape ``(n,)``.
        distance_m: increasing distance along the path, metres, shape ``(n,)``.
        start: distances at which a stretch begins, metres, shape ``(m,)``.
        length_m: how long a stretch is, metres.
    """
    stop = start + length_m
    turned = np.interp(stop, distance_m, heading_rad) - np.interp(start, distance_m, heading_rad)
    inside = (start >= distance_m[0] - 1e-9) & (stop <= distance_m[-1] + 1e-9)
    return np.where(inside, turned / length_m, np.nan)


def radius_m(curvature_1pm: FloatArray) -> FloatArray:
    """Radius of a curvature, metres, unsigned, any shape; infinite where the path is straight."""
    with np.errstate(divide="ignore"):
        return 1.0 / np.abs(curvature_1pm)


def circle_curvature(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Signed curvature of the circle through each three points in a row, 1/m, shape ``(..., n-2)``.

    κ = 4 · area / (a b c), left positive (elementary geometry).
    """
    ax, ay = np.diff(x_m, axis=-1)[..., :-1], np.diff(y_m, axis=-1)[..., :-1]
    bx, by = np.diff(x_m, axis=-1)[..., 1:], np.diff(y_m, axis=-1)[..., 1:]
    cross = ax * by - ay * bx
    sides = np.hypot(ax, ay) * np.hypot(bx, by) * np.hypot(ax + bx, ay + by)
    return 2.0 * cross / np.where(sides > 0, sides, np.nan)
