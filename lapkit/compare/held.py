"""Quantities held over 10 m of path, on many paths at once.

The last axis of every array runs along the paths on an even grid, leading axes are rows of an ensemble.
Many paths may lie on it one after the other, as a :class:`Grid` says. A place is an index into that axis with
its fraction: markers stand between grid points, and no two paths pass them at the same one.

What is held over 10 m runs so smoothly that parabolas between grid points leave less than a thousandth of it:
a finer grid would say no more.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.curvature import HELD_OVER_M
from lapkit.units import FloatArray

WINDOW = 6
"""Grid steps in a stretch of 10 m."""

STEP_M = HELD_OVER_M / WINDOW
"""Distance between grid points, metres of the estimate's path."""

# Trapezia overrate what sags; the slopes at either end say by how much (Gregory's rule).
_MEAN = np.ones(WINDOW + 1)
_MEAN[[0, -1]], _MEAN[[1, -2]] = 5.0 / 12.0, 13.0 / 12.0
_MEAN /= WINDOW


@dataclass(frozen=True, eq=False)
class Grid:
    """Where paths lie that follow each other on one axis.

    ``first`` and ``last`` are the indices of each path's ends, shape ``(paths,)``.
    """

    first: np.ndarray
    last: np.ndarray

    @classmethod
    def of(cls, counts: Sequence[int] | np.ndarray) -> Grid:
        """Of paths with so many grid points each."""
        stop = np.cumsum(counts)
        return cls(stop - counts, stop - 1)

    def spread(self, of_each: FloatArray) -> FloatArray:
        """What is the same all along each path, ``(paths,)``, at every grid point, ``(n,)``."""
        return np.repeat(of_each, self.last - self.first + 1)


def crossings(paths: FloatArray, level: FloatArray, grid: Grid) -> FloatArray:
    """Places at which rising values pass each path's levels: ``(..., n)`` and ``(paths, k)`` → ``(..., paths, k)``.

    NaN where a level lies outside its path.
    """
    below = np.empty((*paths.shape[:-1], *level.shape), dtype=np.int64)
    for k, one in enumerate(level.T):
        is_below = paths < grid.spread(one)
        below[..., k] = np.add.reduceat(is_below, grid.first, axis=-1, dtype=np.int64)
    begin, end = grid.first[:, None], grid.last[:, None]
    before = begin + np.clip(below - 1, 0, end - begin - 1)
    low, high = _take(paths, before), _take(paths, before + 1)
    share = (level - low) / np.where(high > low, high - low, 1.0)
    place = before + np.clip(share, 0.0, 1.0)
    return np.where((below > 0) & (below <= end - begin), place, np.nan)


def sample(paths: FloatArray, place: FloatArray) -> FloatArray:
    """Values at places by straight line: ``(..., n)`` and ``(..., k)`` → ``(..., k)``, or ``(..., paths, k)``.

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
    """Value, slope and half the bend, at the middle one, of the parabola through three points a step apart; any shape."""
    return at, 0.5 * (after - before), 0.5 * (after + before) - at


def _take(paths: FloatArray, index: np.ndarray) -> FloatArray:
    """Values at whole indices: ``(..., n)`` and ``(..., k)``, with any axes more, → the shape of ``index``."""
    return paths.reshape(-1)[_flat(paths, index)]


def _about(paths: FloatArray, index: np.ndarray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Values before, at and after whole indices that are no ends of the axis."""
    one, at = paths.reshape(-1), _flat(paths, index)
    return one[at - 1], one[at], one[at + 1]


def _flat(paths: FloatArray, index: np.ndarray) -> np.ndarray:
    """Where whole indices along each row lie in all rows one after the other."""
    *leading, n = paths.shape
    row = np.arange(paths.size // n).reshape(*leading, *[1] * (index.ndim - len(leading)))
    return index + n * row


class _Stretches(ABC):
    """A quantity held over stretches of each path.

    ``grid`` says where paths lie on the last axis, and places have shape ``(..., paths, k)``; without one
    every axis is one path, and they have shape ``(..., k)``.
    """

    grid: Grid | None

    @cached_property
    @abstractmethod
    def windows(self) -> FloatArray:
        """Held value over the 10 m that begin at each grid point, shape ``(..., n - 6)``.

        Where these lead from one path into the next it means nothing.
        """

    @abstractmethod
    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Held value over whole stretches of each path from place to place, in the shape of places."""

    def at(self, place: FloatArray) -> FloatArray:
        """Held value over the 10 m centred on places, in their shape."""
        return self._beginning(place - 0.5 * WINDOW)

    def largest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Largest value held over 10 m wholly between two places, and the place of its middle.

        A stretch shorter than 10 m is taken whole. All arguments and results have the shape of places, for
        ``k`` stretches of each path; NaN where a place is.
        """
        return self._extreme(1.0, first, last)

    def smallest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """As :meth:`largest`, the smallest."""
        value, place = self._extreme(-1.0, first, last)
        return -value, place

    def _extreme(
        self, sign: float, first: FloatArray, last: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Largest of this quantity times ``sign``."""
        final = last - WINDOW
        place, value = _best(self.windows if sign > 0.0 else -self.windows, first, final)
        # Beside the best grid point only the two ends of the stretch can hold more.
        for end in (first, final):
            at_end = sign * self._beginning(end)
            less = ~(value >= at_end)
            value, place = np.where(less, at_end, value), np.where(less, end, place)
        place += 0.5 * WINDOW
        short = ~(final > first)
        if short.any():
            value = np.where(short, sign * self.over(first, last), value)
            place = np.where(short, 0.5 * (first + last), place)
        return value, place

    def _beginning(self, place: FloatArray) -> FloatArray:
        """Held value over the 10 m that begin at places, by the parabola through the three windows about each."""
        low, high = self._reach
        middle = np.rint(np.where(np.isfinite(place), place, low)).astype(np.int64)
        middle = np.clip(middle, low + 1, high - 1)
        away = np.clip(place, low, high) - middle
        at, slope, bend = parabola(*_about(self.windows, middle))
        return at + away * (slope + away * bend)

    @property
    def _reach(self) -> tuple[np.ndarray, np.ndarray]:
        """Where the first and the last window of each place's path begin, to broadcast with places."""
        if self.grid is None:
            return np.zeros(1, dtype=np.int64), np.array([self.windows.shape[-1] - 1])
        return self.grid.first[:, None], self.grid.last[:, None] - WINDOW


@dataclass(frozen=True, eq=False)
class Held(_Stretches):
    """A quantity by its sum over the path, ``total`` of shape ``(..., n)``.

    Held over a stretch, it is what the total gains per metre of ``length_m``, of the same shape.
    Heading is the total of curvature.
    """

    total: FloatArray
    length_m: FloatArray
    grid: Grid | None = None

    @cached_property
    def windows(self) -> FloatArray:
        """Gain over the 10 m that begin at each grid point, a metre, shape ``(..., n - 6)``."""
        gain = self.total[..., WINDOW:] - self.total[..., :-WINDOW]
        gain /= self.length_m[..., WINDOW:] - self.length_m[..., :-WINDOW]
        return gain

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Gain a metre over whole stretches of each path from place to place."""
        gain, length = (sample(v, last) - sample(v, first) for v in (self.total, self.length_m))
        return gain / np.where(length > 0, length, np.nan)


@dataclass(frozen=True, eq=False)
class HeldMean(_Stretches):
    """The mean of a quantity known at the grid points, ``values`` of shape ``(..., n)``.

    Grid steps count as length: a metre of the estimate's path is one of another's to a per
    cent, and a mean does not notice.
    """

    values: FloatArray
    grid: Grid | None = None

    @cached_property
    def windows(self) -> FloatArray:
        """Mean over the 10 m that begin at each grid point, shape ``(..., n - 6)``."""
        *leading, n = self.values.shape
        means = [np.correlate(row, _MEAN, "valid") for row in self.values.reshape(-1, n)]
        return np.stack(means).reshape(*leading, n - WINDOW)

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Mean over whole stretches of each path from place to place."""
        values = self.values
        total = np.zeros_like(values)
        np.cumsum(0.5 * (values[..., 1:] + values[..., :-1]), axis=-1, out=total[..., 1:])
        gain = sample(total, last) - sample(total, first)
        return gain / np.where(last > first, last - first, np.nan)


def _best(
    windows: FloatArray, first: FloatArray, final: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Places between two others at which windows are largest, and those windows, in the shape of places.

    The vertex of the parabola through the best grid point and its neighbours, where all three lie between.
    Minus infinity where a path has no grid point there.
    """
    near = between(first, final, windows.ndim - 1, windows.shape[-1])
    # Taken, each row stays in one piece; indexed, its values would lie a row apart, and all that follows be slow.
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
    """Grid points among which are all from one place to another in any row: ``(..., k)`` → ``(k, w)``.

    So many leading axes are rows, and any others are kept. As many of the ``n`` points for each stretch, and two
    at least.
    """
    rows = tuple(range(leading))
    low = np.floor(np.nan_to_num(np.fmin.reduce(first, axis=rows))).astype(np.int64)
    high = np.ceil(np.nan_to_num(np.fmax.reduce(final, axis=rows))).astype(np.int64)
    width = 1 + np.max(high - low, initial=1)
    return np.clip(low, 0, n - width)[..., None] + np.arange(width)
