"""The speed that a rider's own lean and drive carry along a given path.

Cornering and pulling share one friction circle: what leaning uses of it, drive and brakes cannot. The fastest profile within
it is found by a forward pass along the path with drive and a backward pass with brakes (quasi-steady; common practice). It
says what would have been, never what to do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.units import GRAVITY_MPS2

# The limit on a straight, which sets none of its own: faster than any machine rides.
_FASTEST_MPS = 120.0


@dataclass(frozen=True, eq=False)
class Limits:
    """The limits that a rider himself showed, ``(...)`` each.

    Attributes:
        lean_tangent: tangent of his largest lean.
        drive_mps2, brake_mps2: his hardest drive and braking when upright, m/s².
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
    """Fastest speed along a path within a rider's limits, m/s, ``(..., n)``.

    Args:
        step_m: distance between the points of the path, metres.
        curvature_1pm: curvature of the path, 1/m, either sign, ``(..., n)``.
        limits: the rider's limits; they broadcast against the leading axes.
        start_mps: speed that he cannot begin above, m/s, ``(...)``.
        vertical_curvature_1pm: vertical curvature of the road, 1/m, positive in a dip; shaped as ``curvature_1pm``.
    """
    # With u = v², tan φ = u κ / (g + u κ_v). At the rider's largest tan φ this gives the share of the friction circle that
    # cornering uses, per unit of u.
    per_u = np.abs(curvature_1pm) / limits.lean_tangent[..., None] - vertical_curvature_1pm
    use_per_u = np.maximum(per_u, 0.0) / GRAVITY_MPS2
    largest_u = np.minimum(1.0 / np.maximum(use_per_u, 1e-9), _FASTEST_MPS**2)
    start_u = np.minimum(np.square(start_mps), largest_u[..., 0])
    driven = _pulled(largest_u, use_per_u, limits.drive_mps2, start_u, step_m)
    back = slice(None, None, -1)
    braked = _pulled(
        driven[..., back], use_per_u[..., back], limits.brake_mps2, driven[..., -1], step_m
    )
    return np.sqrt(braked[..., back])


def _pulled(
    largest_u: FloatArray,
    use_per_u: FloatArray,
    pull_mps2: FloatArray,
    start_u: FloatArray,
    step_m: float,
) -> FloatArray:
    """Squared speed along a path under drive (or, backward, brakes), never above ``largest_u``; ``(..., n)``.

    Each step uses the pull at its midpoint, because what is left of the circle changes fast near the limit.
    """
    u = np.empty_like(largest_u)
    u[..., 0] = start_u
    for i in range(largest_u.shape[-1] - 1):
        now = u[..., i]
        midway = now + step_m * pull_mps2 * _share_left(now * use_per_u[..., i])
        use_midway = 0.5 * (use_per_u[..., i] + use_per_u[..., i + 1])
        gain = 2.0 * step_m * pull_mps2 * _share_left(midway * use_midway)
        u[..., i + 1] = np.minimum(now + gain, largest_u[..., i + 1])
    return u


def _share_left(used: FloatArray) -> FloatArray:
    """Share of the pull that is left when cornering uses this share of the friction circle."""
    return np.sqrt(np.maximum(1.0 - np.square(used), 0.0))


def time_along_s(step_m: float, speed_mps: FloatArray) -> FloatArray:
    """Seconds along a path from the speeds at its points: ``(..., n)`` → ``(...)``.

    Acceleration is taken as constant over a step, so that the mean speed is the mean of those at its ends.
    """
    return np.sum(2.0 * step_m / (speed_mps[..., 1:] + speed_mps[..., :-1]), axis=-1)
