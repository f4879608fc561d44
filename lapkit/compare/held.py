"""Quantities held over 10 m of path, on all rows of an ensemble at once.

Rows have shape ``(rows, n)`` on a grid of one metre of path; a place is an index into the grid with its
fraction, because markers stand between grid points and no two rows pass them at the same one.
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


def crossings(rows: FloatArray, level: FloatArray) -> FloatArray:
    """Places at which rising rows pass levels: ``(rows, n)`` and ``(k,)`` → ``(rows, k)``.

    NaN where a level lies outside a row.
    """
    below = np.count_nonzero(rows[:, None, :] < level[:, None], axis=2)
    n = rows.shape[1]
    first = np.clip(below - 1, 0, n - 2)
    row = np.arange(len(rows))[:, None]
    before, after = rows[row, first], rows[row, first + 1]
    share = (level - before) / np.where(after > before, after - before, 1.0)
    return np.where((below > 0) & (below < n), first + np.clip(share, 0.0, 1.0), np.nan)


def sample(rows: FloatArray, place: FloatArray) -> FloatArray:
    """Rows at places by straight line: ``(rows, n)`` and ``(rows, ...)`` → ``(rows, ...)``.

    Places beyond the grid count as its ends; NaN stays NaN.
    """
    n = rows.shape[1]
    known = np.where(np.isfinite(place), place, 0.0)
    first = np.clip(known.astype(np.int64), 0, n - 2)
    share = np.clip(place - first, 0.0, 1.0)
    row = np.arange(len(rows)).reshape(-1, *([1] * (place.ndim - 1)))
    before = rows[row, first]
    return before + share * (rows[row, first + 1] - before)


@dataclass(frozen=True, eq=False)
class Held:
    """A quantity whose sum over the path is ``total``: held over a stretch, it is what total gains per metre.

    Heading is the total of curvature. Both arrays have shape ``(rows, n)``; ``length_m`` is each row's own
    path length.
    """

    total: FloatArray
    length_m: FloatArray

    @classmethod
    def mean_of(cls, rows: FloatArray, length_m: FloatArray) -> Held:
        """Of a quantity known at the grid points; held values are its mean over path length."""
        step = np.diff(length_m, axis=-1)
        gain = 0.5 * (rows[:, 1:] + rows[:, :-1]) * step
        total = np.zeros_like(rows)
        np.cumsum(gain, axis=-1, out=total[:, 1:])
        return cls(total, length_m)

    @cached_property
    def windows(self) -> FloatArray:
        """Held value over the 10 m that begin at each grid point, shape ``(rows, n - 10)``."""
        gain = self.total[:, WINDOW:] - self.total[:, :-WINDOW]
        return gain / (self.length_m[:, WINDOW:] - self.length_m[:, :-WINDOW])

    def at(self, place: FloatArray) -> FloatArray:
        """Mean over the 10 m centred on places, shape as ``place``: ``(rows, ...)``."""
        return sample(self.windows, place - 0.5 * WINDOW)

    def over(self, first: FloatArray, last: FloatArray) -> FloatArray:
        """Held value over the whole stretch between two places of each row, shape ``(rows,)``."""
        gain = sample(self.total, last) - sample(self.total, first)
        length = sample(self.length_m, last) - sample(self.length_m, first)
        return gain / np.where(length > 0, length, np.nan)

    def largest(self, first: FloatArray, last: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Largest value held over 10 m lying wholly between two places, and the place of its middle.

        A stretch shorter than 10 m is taken whole. All arguments and results have shape ``(rows,)``.
        """
        final = last - WINDOW
        windows = self.windows
        start = np.arange(windows.shape[1])
        inside = (start >= first[:, None]) & (start <= final[:, None])
        held = np.where(inside, windows, -np.inf)
        best = np.argmax(held, axis=1)
        # Between grid points a window's value runs straight, so that only the two ends of the stretch
        # can hold more than the best grid point.
        value = np.stack(
            [held[np.arange(len(held)), best], sample(windows, first), sample(windows, final)]
        )
        place = np.stack([best.astype(np.float64), first, final])
        pick = np.argmax(value, axis=0)[None]
        value = np.take_along_axis(value, pick, 0)[0]
        middle = np.take_along_axis(place, pick, 0)[0] + 0.5 * WINDOW
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
