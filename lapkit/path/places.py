"""Where fixes lie in the intervals between knots, and sums over the fixes of each interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.spline import SUPPORT, Knots, powers_of


class _Turn(NamedTuple):
    """One fix of each of ``m`` intervals: which intervals, which fixes, and powers of their places, ``(p, m)``."""

    intervals: slice | np.ndarray
    fixes: np.ndarray
    powers: FloatArray


@dataclass(frozen=True, eq=False)
class Places:
    """Places of ``n`` fixes in a number of intervals.

    Fixes are taken in turns, the first of every interval, then the second and so on, because within a turn no two fixes
    are added to the same interval, and whole arrays can be added.
    """

    intervals: int
    turns: tuple[_Turn, ...]

    @classmethod
    def of(cls, knots: Knots, time_s: FloatArray) -> Places:
        """Places of increasing times, shape ``(n,)``."""
        index, within = knots.locate(time_s)
        powers = powers_of(within, 2 * SUPPORT - 1)
        _, first, count = np.unique(index, return_index=True, return_counts=True)
        number = np.arange(len(index)) - np.repeat(first, count)
        turns = []
        for turn in range(int(count.max())):
            fixes = np.flatnonzero(number == turn)
            turns.append(_turn(index[fixes], fixes, powers))
        return cls(knots.intervals, tuple(turns))

    def sums(self, weight: FloatArray, powers: int) -> FloatArray:
        """Weights ``(n,)`` times powers 0 to ``powers`` − 1 of the places, summed by interval, ``(powers, intervals)``."""
        sums = np.zeros((powers, self.intervals))
        for turn in self.turns:
            sums[:, turn.intervals] += weight[turn.fixes] * turn.powers[:powers]
        return sums


def _turn(intervals: np.ndarray, fixes: np.ndarray, powers: FloatArray) -> _Turn:
    """A turn of fixes, over a slice of intervals if most of these have one.

    Intervals without a fix of this turn then get some fix with powers of zero: adding slices is faster than adding at
    indices.
    """
    start, stop = int(intervals[0]), int(intervals[-1]) + 1
    if stop - start > 2 * len(intervals):
        return _Turn(intervals, fixes, np.ascontiguousarray(powers[:, fixes]))
    whole = np.zeros(stop - start, dtype=np.int64)
    whole[intervals - start] = fixes
    of_all = np.zeros((len(powers), stop - start))
    of_all[:, intervals - start] = powers[:, fixes]
    return _Turn(slice(start, stop), whole, of_all)
