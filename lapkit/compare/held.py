"""Quantities held over 10 m of path, for many paths at once.

The last axis of every array runs along the paths on an even grid; leading axes are rows of an ensemble. Several paths
may lie on that axis one after the other, as a :class:`Grid` says. A *place* is a fractional index into it, because
markers stand between grid points and no two paths pass them at the same one.

A quantity held over 10 m varies so smoothly that parabolas between grid points are right to a thousandth. A finer
grid would tell no more.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.curvature import HELD_OVER_M

WINDOW = 6
"""Grid steps in a stretch of 10 m."""

STEP_M = HELD_OVER_M / WINDOW
"""Distance between grid points, metres of the estimate's path."""

MEAN_WEIGHTS = np.ones(WINDOW + 1)
"""Weights of a mean over 10 m of the values at its grid points, ``(7,)``.

The trapezoidal rule overestimates a convex function; Gregory's rule corrects that by the slopes at either end.
"""
MEAN_WEIGHTS[[0, -1]], MEAN_WEIGHTS[[1, -2]] = 5.0 / 12.0, 13.0 / 12.0
MEAN_WEIGHTS /= WINDOW


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
    low, high = _take(paths, before), _take(paths, before + 1)
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
    before = _take(paths, first)
    return before + share * (_take(paths, first + 1) - before)


def parabola(
    before: FloatArray, at: FloatArray, after: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The parabola through three points one step apart: value, slope and half the second derivative at the middle one.

    Arguments of any equal shape; ``at + x * (slope + x * bend)`` is the parabola x steps from the middle.
    """
    return at, 0.5 * (after - before), 0.5 * (after + before) - at


def _take(paths: FloatArray, index: np.ndarray) -> FloatArray:
    """Values at whole indices: ``(..., n)`` at ``(..., k)``, possibly with more axes → the shape of ``index``."""
    return paths.reshape(-1)[_flat(paths, index)]


def _about(paths: FloatArray, index: np.ndarray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Values before, at and after whole indices, none of which is an end of the axis."""
    values, at = paths.reshape(-1), _flat(paths, index)
    return values[at - 1], values[at], values[at + 1]


def _flat(paths: FloatArray, index: np.ndarray) -> np.ndarray:
    """Indices along the last axis as indices into the flattened array."""
    *leading, n = paths.shape
    row = np.arange(paths.size // n).reshape(*leading, *[1] * (index.ndim - len(leading)))
    return index + n * row


class _Stretches(ABC):
    """A quantity held over stretches of paths.

    ``grid`` says where paths lie on the last axis; places then have shape ``(..., paths, k)``. Without a grid the
    axis is one path, and places have shape ``(..., k)``.
    """

    grid: Grid | None

    @cached_property
    @abstractmethod
    def windows(self) -> FloatArray:
        """Value held over the 10 m that begin at each grid point, ``(..., n - 6)``.

        Where those 10 m lead from one path into the next, the value is meaningless.
        """

    @abstractmethod
    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Value held over the whole stretch from one place to another, in the shape of places."""

    def at(self, place: FloatArray) -> FloatArray:
        """Value held over the 10 m centred on places, in their shape."""
        return self._beginning(place - 0.5 * WINDOW)

    def largest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Largest value held over any 10 m between two places, and the place of the middle of those 10 m.

        A stretch shorter than 10 m is taken whole. Arguments and results have the shape of places, with ``k``
        stretches of each path; results are NaN where a place is.
        """
        return self._extreme(1.0, first, last)

    def smallest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """As :meth:`largest`, for the smallest value."""
        value, place = self._extreme(-1.0, first, last)
        return -value, place

    def _extreme(
        self, sign: float, first: FloatArray, last: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """As :meth:`largest`, for this quantity times ``sign``."""
        final = last - WINDOW
        place, value = _best(self.windows if sign > 0.0 else -self.windows, first, final)
        # Besides, only the windows at the very ends of the stretch can hold more.
        for end in (first, final):
            at_end = sign * self._beginning(end)
            end_holds_more = ~(value >= at_end)
            value = np.where(end_holds_more, at_end, value)
            place = np.where(end_holds_more, end, place)
        place += 0.5 * WINDOW
        short = ~(final > first)
        if short.any():
            value = np.where(short, sign * self.over(first, last), value)
            place = np.where(short, 0.5 * (first + last), place)
        return value, place

    def _beginning(self, place: FloatArray) -> FloatArray:
        """Value held over the 10 m that begin at places, by the parabola through the nearest three windows."""
        low, high = self._reach
        middle = np.rint(np.where(np.isfinite(place), place, low)).astype(np.int64)
        middle = np.clip(middle, low + 1, high - 1)
        away = np.clip(place, low, high) - middle
        at, slope, bend = parabola(*_about(self.windows, middle))
        return at + away * (slope + away * bend)

    @property
    def _reach(self) -> tuple[np.ndarray, np.ndarray]:
        """Indices at which the first and the last window of each path begin; broadcast with places."""
        if self.grid is None:
            return np.zeros(1, dtype=np.int64), np.array([self.windows.shape[-1] - 1])
        return self.grid.first[:, None], self.grid.last[:, None] - WINDOW


@dataclass(frozen=True, eq=False)
class Held(_Stretches):
    """A quantity known by its integral along the path, as curvature is by heading.

    ``total`` is the integral, ``length_m`` the length of the path; both have shape ``(..., n)``. The value held over a
    stretch is the gain of ``total`` over the gain of ``length_m``.
    """

    total: FloatArray
    length_m: FloatArray
    grid: Grid | None = None

    @cached_property
    def windows(self) -> FloatArray:
        """Gain per metre over the 10 m that begin at each grid point, ``(..., n - 6)``."""
        gain = self.total[..., WINDOW:] - self.total[..., :-WINDOW]
        gain /= self.length_m[..., WINDOW:] - self.length_m[..., :-WINDOW]
        return gain

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Gain per metre over the whole stretch from one place to another."""
        gain = sample(self.total, last) - sample(self.total, first)
        length = sample(self.length_m, last) - sample(self.length_m, first)
        return gain / np.where(length > 0, length, np.nan)


@dataclass(frozen=True, eq=False)
class HeldMean(_Stretches):
    """A quantity known at the grid points, ``values`` of shape ``(..., n)``; held over a stretch it is their mean.

    Grid steps stand for length: those of the estimate's path are right to one per cent for any draw, and a mean hardly
    depends on them.
    """

    values: FloatArray
    grid: Grid | None = None

    @cached_property
    def windows(self) -> FloatArray:
        """Mean over the 10 m that begin at each grid point, ``(..., n - 6)``."""
        *leading, n = self.values.shape
        means = [np.correlate(row, MEAN_WEIGHTS, "valid") for row in self.values.reshape(-1, n)]
        return np.stack(means).reshape(*leading, n - WINDOW)

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Mean over the whole stretch from one place to another."""
        values = self.values
        total = np.zeros_like(values)
        np.cumsum(0.5 * (values[..., 1:] + values[..., :-1]), axis=-1, out=total[..., 1:])
        gain = sample(total, last) - sample(total, first)
        return gain / np.where(last > first, last - first, np.nan)


def _best(
    windows: FloatArray, first: FloatArray, final: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where windows are largest between two places, and how large, in the shape of places.

    That is the vertex of the parabola through the best grid point and its two neighbours, where all three lie between
    the places; else the best grid point. The value is minus infinity where there is no grid point between them.
    """
    near = between(first, final, windows.ndim - 1, windows.shape[-1])
    # `take` keeps each row contiguous. Plain indexing would lay a row's values a row apart, which slows what follows.
    part, begin = windows.take(near, axis=-1), near[..., 0]
    step = np.arange(part.shape[-1], dtype=np.float64)
    low, high = (first - begin)[..., None], (final - begin)[..., None]
    np.copyto(part, -np.inf, where=(step < low) | (step > high))
    best = np.argmax(part, axis=-1)
    held = np.take_along_axis(part, best[..., None], axis=-1)[..., 0]
    best += begin
    middle = np.clip(best, 1, windows.shape[-1] - 2)
    at, slope, bend = parabola(*_about(windows, middle))
    vertex = (best - 1 >= first) & (best + 1 <= final) & (held == at)
    shift = np.where(vertex & (bend < 0.0), slope, 0.0) / np.where(bend < 0.0, -2.0 * bend, 1.0)
    return best + shift, held + 0.5 * slope * shift


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
