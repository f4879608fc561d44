"""The fixes behind a ridden path: how many there are in a while, and for how long they are missing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.importer.gaps import GAP_STEPS
from lapkit.path.ridden import RiddenPath


def missing_s(path: RiddenPath, start_s: float, end_s: float) -> float:
    """Seconds between two times in which fixes are missing: of every gap what is longer than the usual step."""
    return Fixes.of(path).missing_s(start_s, end_s)


@dataclass(frozen=True, eq=False)
class Fixes:
    """Times of the fixes that took part, increasing, ``(n,)``, and the usual step from one to the next, seconds."""

    time_s: FloatArray
    step_s: float

    @classmethod
    def of(cls, path: RiddenPath) -> Fixes:
        """The fixes that took part in a path."""
        time = path.fix_time_s
        return cls(time, float(np.median(np.diff(time))) if len(time) > 1 else np.inf)

    def count(self, start_s: float, end_s: float) -> int:
        """How many there are from one time on, before another."""
        first, stop = np.searchsorted(self.time_s, [start_s, end_s])
        return int(stop - first)

    def missing_s(self, start_s: float, end_s: float) -> float:
        """As :func:`missing_s`."""
        if len(self.time_s) < 2:
            return end_s - start_s
        first = int(np.searchsorted(self.time_s, start_s, side="right"))
        stop = int(np.searchsorted(self.time_s, end_s))
        # With the fix before and the one behind, so that a gap across either time is seen whole.
        around = self.time_s[max(first - 1, 0) : stop + 1]
        head, tail = [start_s] * (first == 0), [end_s] * (stop == len(self.time_s))
        time = np.concatenate([head, around, tail])
        gap = np.diff(time) > GAP_STEPS * self.step_s
        begin, end = time[:-1][gap] + self.step_s, time[1:][gap]
        return float(np.sum(np.maximum(np.minimum(end, end_s) - np.maximum(begin, start_s), 0.0)))
