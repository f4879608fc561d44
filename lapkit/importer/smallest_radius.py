"""The tightest bend whose radius a log shows."""

from __future__ import annotations

import numpy as np

FIXES_PER_BEND = 5.0
"""Fewest fixes in a quarter turn that show its radius (common practice, no source)."""

RADIUS_ERROR = 0.05
"""Largest error of a radius, as a share of it, that the writing step of positions may cause.

Our choice: a radius from positions alone is known to 3 % anyway.
"""

QUARTER_TURN_RAD = np.pi / 2
"""The turn in which a bend must show its radius, radians."""

_RADII_M = np.arange(1.0, 1001.0)  # to the metre; beyond a kilometre nobody asks


def smallest_radius_m(rate_hz: float, speed_mps: float, step_m: float = float("nan")) -> float:
    """Smallest radius that a log shows: with enough fixes in a quarter turn, written finely enough.

    Args:
        rate_hz: fixes per second.
        speed_mps: speed through the bend.
        step_m: step in which positions were written; NaN for none.

    Returns:
        Metres, infinite above a kilometre. The error of curvature from equally spaced points is
        that of Gluckstern (1963, from memory), with a rounding error of ``step_m``/√12.
    """
    if not (rate_hz > 0 and speed_mps > 0):
        return float("inf")
    length = QUARTER_TURN_RAD * _RADII_M
    steps = np.maximum(length * rate_hz / speed_mps, 2.0)
    rounding = 0.0 if np.isnan(step_m) else step_m / np.sqrt(12.0)
    shape = 720 * steps**3 / ((steps - 1) * (steps + 1) * (steps + 2) * (steps + 3))
    error = rounding / length**2 * np.sqrt(shape) * _RADII_M
    told = (length * rate_hz / speed_mps >= FIXES_PER_BEND) & (error <= RADIUS_ERROR)
    return float(_RADII_M[np.argmax(told)]) if told.any() else float("inf")
