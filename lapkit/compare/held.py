"""Quantities held over 10 m of path, for many paths at once on a :class:`~lapkit.compare.grid.Grid`.

A quantity held over 10 m varies so smoothly that parabolas between grid points are right to a thousandth. A finer
grid would tell no more.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import WINDOW, Grid, between, parabola, sample, with_neighbours

MEAN_WEIGHTS = np.ones(WINDOW + 1)
"""Weights of a mean over 10 m of the values at its grid points, ``(7,)``.

The trapezoidal rule overestimates a convex function; Gregory's rule corrects that by the slopes at either end.
"""
MEAN_WEIGHTS[[0, -1]], MEAN_WEIGHTS[[1, -2]] = 5.0 / 12.0, 13.0 / 12.0
MEAN_WEIGHTS /= WINDOW


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
        at, slope, bend = parabola(*with_neighbours(self.windows, middle))
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
    at, slope, bend = parabola(*with_neighbours(windows, middle))
    vertex = (best - 1 >= first) & (best + 1 <= final) & (held == at)
    shift = np.where(vertex & (bend < 0.0), slope, 0.0) / np.where(bend < 0.0, -2.0 * bend, 1.0)
    return best + shift, held + 0.5 * slope * shift
