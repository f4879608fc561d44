"""How fast a rider goes along a line: lean, brakes and drive set limits, forward and backward.

The speed at each point is the least of what his lean allows there, what he can have reached under
drive since the point before, and what he can still brake away before the point after.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.lean import speed_at_lean_mps
from lapkit.units import GRAVITY_MPS2

_LEAST_SHARE = 0.2  # some drive and some brake are left at full lean


class Limits(NamedTuple):
    """What a rider does at most at each point of a line, ``(n,)`` each.

    ``lean_deg`` is the lean he settles at, ``brake_mps2`` and ``drive_mps2`` his hardest braking and drive when
    upright, ``allowed_mps`` the speed not to be passed; ``top_mps`` is the speed at which drive is used up.
    """

    lean_deg: FloatArray
    brake_mps2: FloatArray
    drive_mps2: FloatArray
    allowed_mps: FloatArray
    top_mps: float


class _Way(NamedTuple):
    """A line as speeds depend on it.

    Attributes:
        step_m: metres from each point to the next, ``(n - 1,)``.
        per_v2: curvature over the tangent of the lean at the limit, 1/m, ``(n,)``. Times the square of the speed, over the
            load in m/s², it is the share of the lateral limit that is used up.
        vertical_1pm: curvature of the road in profile, 1/m, positive in a dip, ``(n,)``.
    """

    step_m: FloatArray
    per_v2: FloatArray
    vertical_1pm: FloatArray

    def backward(self) -> _Way:
        """The same points from last to first."""
        return _Way(*(values[::-1] for values in self))


def profile(
    length_m: FloatArray, bend_1pm: FloatArray, vertical_curvature_1pm: FloatArray, limits: Limits
) -> FloatArray:
    """Speed along a line from standing to standing, m/s, ``(n,)``.

    Args:
        length_m: distance along the line, increasing, shape ``(n,)`` like all arrays.
        bend_1pm: unsigned curvature in plan that he sets his speed by.
        vertical_curvature_1pm: curvature of the road in profile, positive in a dip.
        limits: what he does at most.
    """
    with np.errstate(divide="ignore"):
        cornering = speed_at_lean_mps(1.0 / bend_1pm, limits.lean_deg, vertical_curvature_1pm)
    speed = np.minimum(np.minimum(cornering, limits.allowed_mps), limits.top_mps)
    speed[0] = speed[-1] = 0.0
    per_v2 = bend_1pm / np.tan(np.radians(limits.lean_deg))
    way = _Way(np.diff(length_m), per_v2, vertical_curvature_1pm)
    driven = _reach(speed, way, limits.drive_mps2, limits.top_mps)
    return _reach(driven[::-1], way.backward(), limits.brake_mps2[::-1])[::-1]


def _reach(
    most_mps: FloatArray,
    way: _Way,
    pull_mps2: FloatArray,
    top_mps: float = np.inf,
) -> FloatArray:
    """Speeds within reach from the point before, under an ellipse of lean and acceleration, m/s, ``(n,)``.

    Each speed depends on the one before, so this is a plain loop over plain numbers.

    Args:
        most_mps: speeds not to be passed, ``(n,)``; the first of them is reached.
        way: the points in the order in which they are passed.
        pull_mps2: hardest drive, or braking for points from last to first, when upright, ``(n,)``.
        top_mps: speed at which the pull is used up.
    """
    reached = most_mps.tolist()
    rows = zip(*(values.tolist() for values in (*way, pull_mps2)), strict=False)
    for i, (step, per_v2, vertical, pull) in enumerate(rows):
        v2 = reached[i] * reached[i]
        used = v2 * per_v2 / max(GRAVITY_MPS2 + v2 * vertical, 1.0)
        share = max(sqrt(max(1.0 - used * used, 0.0)), _LEAST_SHARE)
        fade = max(1.0 - v2 / (top_mps * top_mps), 0.0)
        could = sqrt(v2 + 2.0 * pull * share * fade * step)
        if could < reached[i + 1]:
            reached[i + 1] = could
    return np.array(reached)
