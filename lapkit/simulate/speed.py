"""How fast a rider goes along a line: lean, brakes and drive set limits, forward and backward.

The speed at each point is the least of what his lean allows there, what he can have reached under
drive since the point before, and what he can still brake away before the point after.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from lapkit.lean import speed_at_lean_mps
from lapkit.simulate.style import RiderStyle
from lapkit.units import FloatArray

_LEAST_SHARE = 0.2  # some drive and brake is left even at full lean


def profile(
    length_m: FloatArray,
    curvature_1pm: FloatArray,
    vertical_curvature_1pm: FloatArray,
    lean_deg: FloatArray,
    effort: FloatArray,
    most_mps: FloatArray,
    style: RiderStyle,
) -> FloatArray:
    """Speed along a line from standing to standing, m/s, shape ``(n,)``.

    Args:
        length_m: distance along the line, increasing.
        curvature_1pm, vertical_curvature_1pm: of the line in plan and in profile.
        lean_deg: lean the rider settles at, at each point.
        most_mps: speed not to be passed at each point (the pit lane).
        effort: share of his brakes and drive that he uses at each point (0 to 1).
        style: his limits.
    """
    bent = np.abs(curvature_1pm)
    with np.errstate(divide="ignore"):
        limit = speed_at_lean_mps(1.0 / bent, lean_deg, vertical_curvature_1pm)
    step = np.diff(length_m)
    speed = np.minimum(np.minimum(limit, style.top_speed_mps), most_mps)
    speed[0] = speed[-1] = 0.0
    full = np.tan(np.radians(lean_deg))
    forward = _reach(speed, step, bent, vertical_curvature_1pm, full, effort * style.drive_mps2, style.top_speed_mps)
    back = _reach(
        forward[::-1], step[::-1], bent[::-1], vertical_curvature_1pm[::-1], full[::-1],
        (effort * style.brake_mps2)[::-1], np.inf,
    )
    return back[::-1]


def _reach(
    limit: FloatArray, step: FloatArray, bent: FloatArray, vertical: FloatArray, full: FloatArray,
    accel: FloatArray, top: float,
) -> FloatArray:
    """Speeds that can be reached from the point before, under an ellipse of lean and acceleration."""
    load = 9.80665
    reached = limit.tolist()
    k, kv, tan, a, ds = bent.tolist(), vertical.tolist(), full.tolist(), accel.tolist(), step.tolist()
    for i in range(len(ds)):
        v2 = reached[i] ** 2
        used = v2 * k[i] / max(load + v2 * kv[i], 1.0) / tan[i]
        share = max(sqrt(max(1.0 - used * used, 0.0)), _LEAST_SHARE)
        fade = 1.0 - v2 / (top * top)
        could = sqrt(max(v2 + 2.0 * a[i] * share * fade * ds[i], 0.0))
        if could < reached[i + 1]:
            reached[i + 1] = could
    return np.array(reached)
