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
    # Share of the lateral limit that a square of speed uses up, upright road load.
    per_v2 = bend_1pm / np.tan(np.radians(limits.lean_deg))
    step = np.diff(length_m)
    driven = _reach(speed, step, per_v2, vertical_curvature_1pm, limits.drive_mps2, limits.top_mps)
    back = slice(None, None, -1)
    braked = _reach(
        driven[back],
        step[back],
        per_v2[back],
        vertical_curvature_1pm[back],
        limits.brake_mps2[back],
    )
    return braked[back]


def _reach(
    limit: FloatArray,
    step: FloatArray,
    per_v2: FloatArray,
    vertical: FloatArray,
    accel: FloatArray,
    top: float = np.inf,
) -> FloatArray:
    """Speeds within reach from the point before, under an ellipse of lean and acceleration.

    Each speed depends on the one before, so this is a plain loop over plain numbers.
    """
    reached = limit.tolist()
    rows = zip(step.tolist(), per_v2.tolist(), vertical.tolist(), accel.tolist(), strict=False)
    for i, (ds, lateral, curved, most) in enumerate(rows):
        v2 = reached[i] * reached[i]
        used = v2 * lateral / max(GRAVITY_MPS2 + v2 * curved, 1.0)
        share = max(sqrt(max(1.0 - used * used, 0.0)), _LEAST_SHARE)
        fade = max(1.0 - v2 / (top * top), 0.0)
        could = sqrt(v2 + 2.0 * most * share * fade * ds)
        if could < reached[i + 1]:
            reached[i + 1] = could
    return np.array(reached)
