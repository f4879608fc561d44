"""The tightest bend whose radius a log shows."""

from __future__ import annotations

import numpy as np

FIXES_PER_BEND = 5.0
"""Fewest fixes in a quarter turn from which its radius can be told (common practice, no source)."""

RADIUS_ERROR = 0.05
"""Largest relative error of a radius that rounding the positions may cause.

Our choice: a radius from positions alone is known to 3 % anyway.
"""

QUARTER_TURN_RAD = np.pi / 2
"""A bend is taken to turn by this much, radians."""

_RADII_M = np.arange(1.0, 1001.0)  # whole metres; nobody asks beyond a kilometre


def smallest_radius_m(rate_hz: float, speed_mps: float, step_m: float = float("nan")) -> float:
    """The smallest radius whose quarter turn has enough fixes, written finely enough.

    Args:
        rate_hz: fixes per second.
        speed_mps: speed through the bend.
        step_m: step in which positions were written; NaN when too fine to matter.

    Returns:
        Metres; infinite when no radius up to a kilometre will do. The standard deviation of a curvature fitted to
        equally spaced points is that of Gluckstern (1963, from memory), with one of ``step_m``/√12 for each point.
    """
    if not (rate_hz > 0 and speed_mps > 0):
        return float("inf")
    length = QUARTER_TURN_RAD * _RADII_M
    fixes = length * rate_hz / speed_mps
    steps = np.maximum(fixes, 2.0)  # fewer show no curvature at all
    rounding = 0.0 if np.isnan(step_m) else step_m / np.sqrt(12.0)
    shape = 720 * steps**3 / ((steps - 1) * (steps + 1) * (steps + 2) * (steps + 3))
    curvature_sd = rounding / length**2 * np.sqrt(shape)
    shown = (fixes >= FIXES_PER_BEND) & (curvature_sd * _RADII_M <= RADIUS_ERROR)
    return float(_RADII_M[np.argmax(shown)]) if shown.any() else float("inf")
