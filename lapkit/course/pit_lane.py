"""How far from the pit lane a spot lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lapkit.arrays import FloatArray


def from_pit_lane_m(lanes: Sequence[FloatArray], x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Metres to the nearest pit lane, ``(n,)``: 0 within one drawn as an outline, infinite on a course without one.

    Args:
        lanes: lines, or outlines whose last point is their first, each ``(points, 2)``, metres.
        x_m, y_m: spots on the same plane, ``(n,)``.
    """
    spots = np.stack([x_m, y_m], axis=-1)
    away = [_from_lane_m(lane, spots) for lane in lanes if len(lane)]
    return np.min(away, axis=0) if away else np.full(len(spots), np.inf)


def _from_lane_m(lane: FloatArray, spots: FloatArray) -> FloatArray:
    """Metres from spots ``(n, 2)`` to one lane, ``(n,)``."""
    start, step = lane[:-1], np.diff(lane, axis=0)
    if not len(step):
        return np.hypot(*(spots - lane[0]).T)
    apart = spots[:, None] - start
    along = np.sum(apart * step, axis=-1) / np.maximum(np.sum(step**2, axis=-1), 1e-12)
    nearest = np.clip(along, 0.0, 1.0)[..., None] * step
    away = np.hypot(*np.moveaxis(apart - nearest, -1, 0)).min(axis=1)
    is_outline = np.array_equal(lane[0], lane[-1])
    return np.where(_within(lane, spots), 0.0, away) if is_outline else away


def _within(outline: FloatArray, spots: FloatArray) -> np.ndarray:
    """Whether spots ``(n, 2)`` lie within an outline: a ray to the east crosses it an odd number of times."""
    x, y = spots[:, :1], spots[:, 1:]
    x0, y0 = outline[:-1].T
    x1, y1 = outline[1:].T
    spans = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        meets = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
    return np.count_nonzero(spans & (x < meets), axis=1) % 2 == 1
