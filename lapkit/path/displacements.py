"""Mean velocities between positions: what the logged velocities are held against."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.model import Observed

_ENOUGH = 4000  # displacements; more say the same


class Displacements(NamedTuple):
    """Displacements from one fix to a later one; arrays over ``m`` of them.

    A velocity is one complex number, east + i north, so that interpolating it searches the times only once.

    Attributes:
        middle_s: the time halfway, seconds.
        lasted_s: how long it took, seconds.
        mean_mps: the mean velocity meanwhile, m/s.
    """

    middle_s: FloatArray
    lasted_s: FloatArray
    mean_mps: np.ndarray

    @classmethod
    def of(cls, seen: Observed, reach_s: float, even: float) -> Displacements:
        """Displacements from ``reach_s`` before a fix to as long after it, thinned to some thousands.

        Those that took more than ``even`` times as long as usual have a gap in them and are left out.
        """
        t, step = seen.time_s, usual_step_s(seen)
        reach = max(1, round(reach_s / step))
        lasted = t[2 * reach :] - t[: -2 * reach]
        first = np.flatnonzero(lasted < 2 * reach * step * even)
        first = first[:: 1 + len(first) // _ENOUGH]
        last, x = first + 2 * reach, seen.x_m + 1j * seen.y_m
        return cls(0.5 * (t[last] + t[first]), lasted[first], (x[last] - x[first]) / lasted[first])


def usual_step_s(seen: Observed) -> float:
    """The usual time from fix to fix, seconds."""
    return float(np.median(np.diff(seen.time_s)))


def logged_velocities(seen: Observed) -> tuple[FloatArray, np.ndarray]:
    """Times of the velocities that take part, and these velocities as in :class:`Displacements`, ``(k,)`` each."""
    used = seen.velocity_weight > 0
    return seen.velocity_time_s[used], (seen.vx_mps + 1j * seen.vy_mps)[used]
