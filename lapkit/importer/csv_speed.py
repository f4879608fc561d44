"""The unit of a CSV log's speed, where the header gives none: the one that agrees with the positions."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import offsets_m
from lapkit.importer.csv_columns import SPEED_UNITS

_SAME_WITHIN = 0.06  # knots and miles an hour, the nearest units, differ by 0.14 as logarithms
_MOVING_MPS = 3.0  # when slower, the noise of positions is as large as the way
_FASTEST_MPS = 200.0  # faster is a wild fix
_FEWEST_ROWS = 20  # fewer are chance
_STEP_S = 1.0  # speeds are taken over a second, so that the rounding of positions does not matter


def speed_unit(
    time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray, speed: FloatArray
) -> str:
    """The unit in which a speed column agrees with the positions, "" when none does.

    Args:
        time_s, lat_deg, lon_deg, speed: shape ``(n,)``, as read, NaN allowed.
    """
    known = np.isfinite(time_s) & np.isfinite(speed)
    known &= (np.abs(lat_deg) <= 90) & (np.abs(lon_deg) <= 360)
    # Of rows with one time only the first will be used: times may have been written in whole seconds.
    known[1:] &= np.diff(time_s) != 0.0
    if np.count_nonzero(known) < _FEWEST_ROWS:
        return ""
    ratio = _logged_over_ridden(time_s[known], lat_deg[known], lon_deg[known], speed[known])
    if len(ratio) < _FEWEST_ROWS or not np.median(ratio) > 0:
        return ""
    errors = {unit: abs(np.log(np.median(ratio) * mps)) for unit, mps in SPEED_UNITS.items()}
    best = min(errors, key=lambda unit: errors[unit])
    return best if errors[best] < _SAME_WITHIN else ""


def _logged_over_ridden(
    time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray, speed: FloatArray
) -> FloatArray:
    """The logged speed, in its unit, divided by the speed between the positions, m/s, where the rider moved; ``(rows,)``."""
    step_s = max(np.median(np.diff(time_s)), 1e-3)
    stride = int(max(1.0, min(len(time_s) // 2, _STEP_S / step_s)))
    length = np.hypot(*offsets_m(lat_deg, lon_deg, stride))
    taken = time_s[stride:] - time_s[:-stride]
    logged = (speed[stride:] + speed[:-stride]) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        ridden = length / taken
        moving = (taken > 0) & (ridden > _MOVING_MPS) & (ridden < _FASTEST_MPS)
        return logged[moving] / ridden[moving]
