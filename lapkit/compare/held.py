"""Quantities held over 10 m of path, on many paths at once.

The last axis of every array runs along the path on a grid of one metre, leading axes are paths
(rows of an ensemble, laps). A place is an index into the grid with its fraction: markers stand
between grid points, and no two paths pass them at the same one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.curvature import HELD_OVER_M
from lapkit.units import FloatArray

STEP_M = 1.0
"""Distance between grid points, metres of the estimate's path."""

WINDOW = round(HELD_OVER_M / STEP_M)
"""Grid steps in a stretch of 10 m."""


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


def _take(paths: FloatArray, index: np.ndarray) -> FloatArray:
    """Values at whole indices, ``(..., n)`` and ``(..., k)`` → ``(..., k)``."""
    n = paths.shape[-1]
    start = n * np.arange(paths.size // n).reshape(*paths.shape[:-1], 1)
    return paths.reshape(-1)[start + index]


@dataclass(frozen=True, eq=False)
class Held:
    """A quantity by its sum over the path, ``total`` of shape ``(..., n)``.

    Held over a stretch, it is what the total gains per metre of ``length_m``, of the same shape.
    Heading is the total of curvature.

    Without ``length_m`` grid steps count as metres, which suits means: one metre of the estimate's
    path is one of another's to a per cent, and a mean does not notice.
    """

    total: FloatArray
    length_m: FloatArray | None = None

    @classmethod
    def mean_of(cls, values: FloatArray) -> Held:
        """The mean of a quantity known at the grid points, shape ``(..., n)``."""
        total = np.empty_like(values)
        total[..., 0] = 0.0
        np.add(values[..., 1:], values[..., :-1], out=total[..., 1:])
        total *= 0.5 * STEP_M
        return cls(np.cumsum(total, axis=-1, out=total))

    @cached_property
    def windows(self) -> FloatArray:
        """Held value over the 10 m that begin at each grid point, shape ``(..., n - 10)``."""
        gain = self.total[..., WINDOW:] - self.total[..., :-WINDOW]
        if self.length_m is None:
            gain *= 1.0 / (WINDOW * STEP_M)
        else:
            gain /= self.length_m[..., WINDOW:] - self.length_m[..., :-WINDOW]
        return gain

    def at(self, place: FloatArray) -> FloatArray:
        """Mean over the 10 m centred on places, ``(..., k)`` → ``(..., k)``."""
        return sample(self.windows, place - 0.5 * WINDOW)

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Held value over the whole stretch between two places of each path, shape ``(...)``."""
        ends = np.stack([first, last], axis=-1)
        gain = np.diff(sample(self.total, ends))[..., 0]
        length = STEP_M * (last - first)
        if self.length_m is not None:
            length = np.diff(sample(self.length_m, ends))[..., 0]
        return gain / np.where(length > 0, length, np.nan)

    def largest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Largest value held over 10 m wholly between two places, and the place of its middle.

        A stretch shorter than 10 m is taken whole. All arguments and results have shape ``(...)``;
        NaN where a place is.
        """
        final = last - WINDOW
        low, high = _reach(first, final, self.windows.shape[-1])
        windows = self.windows[..., low:high]
        start = np.arange(low, high)
        inside = (start >= first[..., None]) & (start <= final[..., None])
        held = np.where(inside, windows, -np.inf)
        best = np.argmax(held, axis=-1)
        # Between grid points a window's value runs straight, so that only the two ends of the
        # stretch can hold more than the best grid point.
        ends = sample(self.windows, np.stack([first, final], axis=-1))
        value = np.concatenate([_take(held, best[..., None]), ends], axis=-1)
        place = np.stack([low + best.astype(np.float64), first, final], axis=-1)
        pick = np.argmax(value, axis=-1)[..., None]
        value, middle = _take(value, pick)[..., 0], _take(place, pick)[..., 0] + 0.5 * WINDOW
        short = ~(final > first)
        if not short.any():
            return value, middle
        return (
            np.where(short, self.over(first, last), value),
            np.where(short, 0.5 * (first + last), middle),
        )

    def smallest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """As :meth:`largest`, the smallest."""
        value, place = Held(-self.total, self.length_m).largest(first, last)
        return -value, place


def _reach(first: FloatArray, final: FloatArray, n: int) -> tuple[int, int]:
    """Grid points that any path's stretch could begin at, as a slice that is never empty."""
    known = np.isfinite(first) & np.isfinite(final)
    if not known.any():
        return 0, n
    low = int(np.clip(np.floor(first[known].min()), 0, n - 1))
    return low, int(np.clip(np.ceil(final[known].max()) + 1, low + 1, n))
