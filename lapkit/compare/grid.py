"""Paths on a grid of even steps, for many paths at once: places on it, and values there.

The last axis of every array runs along the paths; leading axes are rows of an ensemble. Several paths may lie on that axis
one after the other, as a :class:`Grid` says. A *place* is a fractional index into it, because markers stand between grid
points and no two paths pass them at the same one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.curvature import HELD_OVER_M

WINDOW = 6
"""Grid steps in a stretch of 10 m."""

STEP_M = HELD_OVER_M / WINDOW
"""Distance between grid points, metres of the estimate's path."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Where paths lie that follow each other on one axis of grid points.

    ``first`` and ``last`` are the indices of each path's first and last grid point, ``(paths,)``.
    """

    first: np.ndarray
    last: np.ndarray

    @classmethod
    def of(cls, counts: Sequence[int] | np.ndarray) -> Grid:
        """The grid of paths with so many points each."""
        stop = np.cumsum(counts)
        return cls(stop - counts, stop - 1)

    @property
    def counts(self) -> np.ndarray:
        """Number of grid points of each path, ``(paths,)``."""
        return self.last - self.first + 1

    def spread(self, of_each: FloatArray) -> FloatArray:
        """A value for each path, ``(paths,)``, repeated at each of its grid points, ``(n,)``."""
        return np.repeat(of_each, self.counts)


def crossings(paths: FloatArray, level: FloatArray, grid: Grid) -> FloatArray:
    """Places at which rising values reach levels.

    Args:
        paths: values that rise along each path, ``(..., n)``.
        level: levels of each path, in the unit of the values, ``(paths, k)``.
        grid: where the paths lie.

    Returns:
        Places ``(..., paths, k)``; NaN where a path does not reach a level.
    """
    below = np.empty((*paths.shape[:-1], *level.shape), dtype=np.int64)
    for k, one in enumerate(level.T):
        is_below = paths < grid.spread(one)
        below[..., k] = np.add.reduceat(is_below, grid.first, axis=-1, dtype=np.int32)
    begin, end = grid.first[:, None], grid.last[:, None]
    before = begin + np.clip(below - 1, 0, end - begin - 1)
    low, high = take(paths, before), take(paths, before + 1)
    share = (level - low) / np.where(high > low, high - low, 1.0)
    place = before + np.clip(share, 0.0, 1.0)
    return np.where((below > 0) & (below <= end - begin), place, np.nan)


def with_room(place: FloatArray, grid: Grid) -> FloatArray:
    """Places ``(..., paths, k)`` that have the 10 m around them within their path; NaN for others."""
    first, last = grid.first[:, None] + 0.5 * WINDOW, grid.last[:, None] - 0.5 * WINDOW
    return np.where((place >= first) & (place <= last), place, np.nan)


def sample(paths: FloatArray, place: FloatArray) -> FloatArray:
    """Values at places, interpolated linearly: ``(..., n)`` at ``(..., k)`` or ``(..., paths, k)`` → the shape of places.

    Places beyond the axis count as its ends; NaN stays NaN.
    """
    known = np.where(np.isfinite(place), place, 0.0)
    first = np.clip(known.astype(np.int64), 0, paths.shape[-1] - 2)
    share = np.clip(place - first, 0.0, 1.0)
    before = take(paths, first)
    return before + share * (take(paths, first + 1) - before)


def parabola(
    before: FloatArray, at: FloatArray, after: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The parabola through three points one step apart: value, slope and half the second derivative at the middle one.

    Arguments of any equal shape; ``at + x * (slope + x * bend)`` is the parabola x steps from the middle.
    """
    return at, 0.5 * (after - before), 0.5 * (after + before) - at


def take(paths: FloatArray, index: np.ndarray) -> FloatArray:
    """Values at whole indices: ``(..., n)`` at ``(..., k)``, possibly with more axes → the shape of ``index``."""
    return paths.reshape(-1)[_flat(paths, index)]


def with_neighbours(
    paths: FloatArray, index: np.ndarray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Values before, at and after whole indices, none of which is an end of the axis."""
    values, at = paths.reshape(-1), _flat(paths, index)
    return values[at - 1], values[at], values[at + 1]


def _flat(paths: FloatArray, index: np.ndarray) -> np.ndarray:
    """Indices along the last axis as indices into the flattened array."""
    *leading, n = paths.shape
    row = np.arange(paths.size // n).reshape(*leading, *[1] * (index.ndim - len(leading)))
    return index + n * row


def between(first: FloatArray, final: FloatArray, leading: int, n: int) -> np.ndarray:
    """Grid points that cover stretches in every row of an ensemble: places ``(..., k)`` → indices ``(k, w)``.

    Args:
        first: places where stretches begin.
        final: places where they end, in the same shape.
        leading: how many of the leading axes are rows; any further axes are kept.
        n: number of points of the axis.

    Returns:
        Consecutive indices for each stretch, the same number ``w`` (at least two) for all.
    """
    rows = tuple(range(leading))
    low = np.floor(np.nan_to_num(np.fmin.reduce(first, axis=rows))).astype(np.int64)
    high = np.ceil(np.nan_to_num(np.fmax.reduce(final, axis=rows))).astype(np.int64)
    width = 1 + np.max(high - low, initial=1)
    return np.clip(low, 0, n - width)[..., None] + np.arange(width)
