"""The speed that a rider's own lean and drive carry along a given path: forward, then backward.

Cornering and pulling share one circle: what leaning uses of it, drive and brakes cannot. The
fastest such profile is found by passing along the path with drive and back along it with brakes
(quasi-steady; common practice). It says what would have been, never what to do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.units import GRAVITY_MPS2, FloatArray

_FASTEST_MPS = 120.0  # beyond what any machine rides: a straight sets no limit of its own


@dataclass(frozen=True, eq=False)
class Limits:
    """What a rider himself showed; scalars or arrays ``(...)``.

    ``lean_tangent`` is the tangent of his largest lean, ``drive_mps2`` and ``brake_mps2`` his
    hardest drive and braking when upright.
    """

    lean_tangent: FloatArray
    drive_mps2: FloatArray
    brake_mps2: FloatArray


def speed_profile(
    step_m: float,
    curvature_1pm: FloatArray,
    limits: Limits,
    start_mps: FloatArray,
    vertical_curvature_1pm: FloatArray | float = 0.0,
) -> FloatArray:
    """Speed along a path, m/s, shape ``(..., n)``.

    Args:
        step_m: distance between its points, metres.
        curvature_1pm: its curvature, 1/m, either sign, ``(..., n)``.
        limits: what the rider can do; broadcasts against the leading axes.
        start_mps: speed that he cannot begin above, ``(...)``.
        vertical_curvature_1pm: of the road, positive in a dip; as ``curvature_1pm``.
    """
    # tan φ = u κ / (g + u κ_v) with u = v²: the share of his lean that each u takes, per unit of u.
    per_u = np.abs(curvature_1pm) / limits.lean_tangent[..., None] - vertical_curvature_1pm
    share = np.maximum(per_u, 0.0) / GRAVITY_MPS2
    most = np.minimum(1.0 / np.maximum(share, 1e-9), _FASTEST_MPS**2)
    start = np.minimum(np.square(start_mps), most[..., 0])
    driven = _along(most, share, limits.drive_mps2, start, step_m)
    back = slice(None, None, -1)
    braked = _along(driven[..., back], share[..., back], limits.brake_mps2, driven[..., -1], step_m)
    return np.sqrt(braked[..., back])


def _along(
    bound: FloatArray, share: FloatArray, pull_mps2: FloatArray, start: FloatArray, step_m: float
) -> FloatArray:
    """Squared speed gained along the path, never above ``bound``.

    A midpoint step: the part of the circle that is left changes fast near the limit.
    """
    square = np.empty_like(bound)
    square[..., 0] = start
    for i in range(bound.shape[-1] - 1):
        now = square[..., i]
        half = now + step_m * pull_mps2 * _left(now * share[..., i])
        between = 0.5 * (share[..., i] + share[..., i + 1])
        gain = 2.0 * step_m * pull_mps2 * _left(half * between)
        square[..., i + 1] = np.minimum(now + gain, bound[..., i + 1])
    return square


def _left(used: FloatArray) -> FloatArray:
    """Share of drive that is left when cornering uses that share of the circle."""
    return np.sqrt(np.maximum(1.0 - np.square(used), 0.0))


def time_along_s(step_m: float, speed_mps: FloatArray) -> FloatArray:
    """Seconds along a path from the speeds at its points: ``(..., n)`` → ``(...)``.

    Over a step at steady acceleration the mean speed is the mean of its ends.
    """
    return np.sum(2.0 * step_m / (speed_mps[..., 1:] + speed_mps[..., :-1]), axis=-1)
