"""Quantities held over 10 m of path, on many paths at once.

The last axis of every array runs along the path on an even grid, leading axes are paths
(rows of an ensemble, laps). A place is an index into the grid with its fraction: markers stand
between grid points, and no two paths pass them at the same one.

What is held over 10 m runs so smoothly that parabolas between grid points leave less than a thousandth of it:
a finer grid would say no more.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.curvature import HELD_OVER_M
from lapkit.units import FloatArray

WINDOW = 6
"""Grid steps in a stretch of 10 m."""

STEP_M = HELD_OVER_M / WINDOW
"""Distance between grid points, metres of the estimate's path."""


def crossings(paths: FloatArray, level: FloatArray) -> FloatArray:
    """Places at which rising values pass levels: ``(..., n)`` and ``(k,)`` → ``(..., k)``.

    NaN where a level lies outside a path.
    """
    n = paths.shape[-1]
    below = np.empty((*paths.shape[:-1], len(level)), dtype=np.int64)
    for k, one in enumerate(level):
        below[..., k] = np.count_nonzero(paths < one, axis=-1)
    first = np.clip(below - 1, 0, n - 2)
    before, after = _take(paths, first), _take(paths, first + 1)
    share = (level - before) / np.where(after > before, after - before, 1.0)
    place = first + np.minimum(np.maximum(share, 0.0), 1.0)
    return np.where((below > 0) & (below < n), place, np.nan)


def sample(paths: FloatArray, place: FloatArray) -> FloatArray:
    """Values at places by straight line: ``(..., n)`` and ``(..., k)`` → ``(..., k)``.

    Places beyond the grid count as its ends; NaN stays NaN.
    """
    last = paths.shape[-1] - 2
    known = np.where(np.isfinite(place), place, 0.0)
    first = np.clip(known.astype(np.int64), 0, last)
    share = np.minimum(np.maximum(place - first, 0.0), 1.0)
    before = _take(paths, first)
    return before + share * (_take(paths, first + 1) - before)


def _smooth(windows: FloatArray, place: FloatArray) -> FloatArray:
    """As :func:`sample`, by the parabola through the three grid points about each place."""
    last = windows.shape[-1] - 1
    known = np.where(np.isfinite(place), place, 0.0)
    middle = np.clip(np.rint(known).astype(np.int64), 1, last - 1)
    away = np.minimum(np.maximum(place, 0.0), last) - middle
    at, slope, bend = parabola(*_about(windows, middle))
    return at + away * (slope + away * bend)


def parabola(
    before: FloatArray, at: FloatArray, after: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Value, slope and half the bend, at the middle one, of the parabola through three points a step apart."""
    return at, 0.5 * (after - before), 0.5 * (after + before) - at


def _take(paths: FloatArray, index: np.ndarray) -> FloatArray:
    """Values at whole indices, ``(..., n)`` and ``(..., k)`` → ``(..., k)``."""
    return paths.reshape(-1)[_flat(paths, index)]


def _about(paths: FloatArray, index: np.ndarray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Values before, at and after whole indices that are no ends of the path, ``(..., k)`` each."""
    one, at = paths.reshape(-1), _flat(paths, index)
    return one[at - 1], one[at], one[at + 1]


def _flat(paths: FloatArray, index: np.ndarray) -> np.ndarray:
    """Where whole indices along each path lie in all paths one after the other, ``(..., k)``."""
    n = paths.shape[-1]
    return index + n * np.arange(paths.size // n).reshape(*paths.shape[:-1], 1)


class _Stretches(ABC):
    """A quantity held over stretches of each path; arrays have the leading axes of its paths."""

    @cached_property
    @abstractmethod
    def windows(self) -> FloatArray:
        """Held value over the 10 m that begin at each grid point, shape ``(..., n - 10)``."""

    @abstractmethod
    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Held value over whole stretches of each path from place to place, shape ``(..., k)``."""

    def at(self, place: FloatArray) -> FloatArray:
        """Held value over the 10 m centred on places, ``(..., k)`` → ``(..., k)``."""
        return _smooth(self.windows, place - 0.5 * WINDOW)

    def largest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Largest value held over 10 m wholly between two places, and the place of its middle.

        A stretch shorter than 10 m is taken whole. All arguments and results have shape ``(..., k)`` for
        ``k`` stretches of each path; NaN where a place is.
        """
        return self._extreme(self.windows, first, last)

    def smallest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """As :meth:`largest`, the smallest."""
        value, place = self._extreme(-self.windows, first, last, -1.0)
        return -value, place

    def _extreme(
        self, windows: FloatArray, first: FloatArray, last: FloatArray, sign: float = 1.0
    ) -> tuple[FloatArray, FloatArray]:
        """Largest of windows that are ``sign`` times this quantity's own."""
        final = last - WINDOW
        place, value = _best(windows, first, final)
        # Beside the best grid point only the two ends of the stretch can hold more.
        ends = np.concatenate(np.broadcast_arrays(first, final), axis=-1)
        at_ends, each = _smooth(windows, ends), first.shape[-1]
        for part in (slice(None, each), slice(each, None)):
            less = ~(value >= at_ends[..., part])
            value = np.where(less, at_ends[..., part], value)
            place = np.where(less, ends[..., part], place)
        place += 0.5 * WINDOW
        short = ~(final > first)
        if short.any():
            value = np.where(short, sign * self.over(first, last), value)
            place = np.where(short, 0.5 * (first + last), place)
        return value, place


@dataclass(frozen=True, eq=False)
class Held(_Stretches):
    """A quantity by its sum over the path, ``total`` of shape ``(..., n)``.

    Held over a stretch, it is what the total gains per metre of ``length_m``, of the same shape.
    Heading is the total of curvature.
    """

    total: FloatArray
    length_m: FloatArray

    @cached_property
    def windows(self) -> FloatArray:
        """Gain over the 10 m that begin at each grid point, a metre, shape ``(..., n - 10)``."""
        gain = self.total[..., WINDOW:] - self.total[..., :-WINDOW]
        gain /= self.length_m[..., WINDOW:] - self.length_m[..., :-WINDOW]
        return gain

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Gain a metre over whole stretches of each path from place to place, shape ``(..., k)``."""
        gain, length = (sample(v, last) - sample(v, first) for v in (self.total, self.length_m))
        return gain / np.where(length > 0, length, np.nan)


@dataclass(frozen=True, eq=False)
class HeldMean(_Stretches):
    """The mean of a quantity known at the grid points, ``values`` of shape ``(..., n)``.

    Grid steps count as length: a metre of the estimate's path is one of another's to a per
    cent, and a mean does not notice.
    """

    values: FloatArray

    @cached_property
    def windows(self) -> FloatArray:
        """Mean over the 10 m that begin at each grid point, shape ``(..., n - 10)``."""
        values = self.values
        sums = _moving_sum(values[..., 1:] + values[..., :-1], WINDOW)
        # Trapezia overrate what sags; the slopes at either end say by how much (Gregory's rule).
        slope = values[..., 1:] - values[..., :-1]
        sums -= (slope[..., WINDOW - 1 :] - slope[..., : 1 - WINDOW]) / 6.0
        sums *= 0.5 / WINDOW
        return sums

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Mean over whole stretches of each path from place to place, shape ``(..., k)``."""
        values = self.values
        total = np.zeros_like(values)
        np.cumsum(0.5 * (values[..., 1:] + values[..., :-1]), axis=-1, out=total[..., 1:])
        gain = sample(total, last) - sample(total, first)
        return gain / np.where(last > first, last - first, np.nan)


def _moving_sum(values: FloatArray, count: int) -> FloatArray:
    """Sums of so many values in a row, ``(..., n)`` → ``(..., n - count + 1)``.

    By sums of two, four, eight: a third of the time of a running total.
    """
    n = values.shape[-1] - count + 1
    total = np.zeros((*values.shape[:-1], n))
    done, size = 0, 1
    while size <= count:
        if count & size:
            total += values[..., done : done + n]
            done += size
        values = values[..., :-size] + values[..., size:]
        size *= 2
    return total


def _best(
    windows: FloatArray, first: FloatArray, final: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Places between two others at which windows are largest, and those windows; ``(..., k)`` each.

    The vertex of the parabola through the best grid point and its neighbours, where all three lie between.
    Minus infinity where a path has no grid point there.
    """
    low, high = _reach(first, final, windows.shape[-1])
    grid = np.arange(low, high)
    inside = (grid >= first[..., None]) & (grid <= final[..., None])
    part = np.where(inside, windows[..., None, low:high], -np.inf)
    best = np.argmax(part, axis=-1)
    held = _take(part, best[..., None])[..., 0]
    at, slope, bend = parabola(*_about(windows, np.clip(low + best, 1, windows.shape[-1] - 2)))
    vertex = (low + best - 1 >= first) & (low + best + 1 <= final) & (held == at)
    shift = np.where(vertex & (bend < 0.0), slope, 0.0) / np.where(bend < 0.0, -2.0 * bend, 1.0)
    return low + best + shift, held + 0.5 * slope * shift


def _reach(first: FloatArray, final: FloatArray, n: int) -> tuple[int, int]:
    """Grid points at which any path's stretch could begin, as the ends of a slice that is never empty."""
    first, final = first[np.isfinite(first)], final[np.isfinite(final)]
    if first.size == 0 or final.size == 0:
        return 0, n
    low = int(np.clip(np.floor(first.min()), 0, n - 1))
    return low, int(np.clip(np.ceil(final.max()) + 1, low + 1, n))
