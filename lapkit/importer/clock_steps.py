"""Clocks that are set right while the rider rides on.

A receiver learns on its way how far GPS time and UTC are apart, or sets a clock of its own by the satellites; the
times of its fixes then step by a second or more between one fix and the next. As dated, the machine would stand still
for that time, or leap. Where the positions go on as the speed before and after asks for, only the clock has moved.
"""

from __future__ import annotations

import numpy as np

from lapkit.coordinates import METRES_PER_DEGREE, one_turn_deg
from lapkit.units import FloatArray

_LEAST_S = 0.5  # a smaller step is a late fix's (our choice)
_LEAST_STEPS = 1.5  # of usual length: times cut to whole seconds now and then skip one
_MOST_OFTEN = (
    3  # in one log; times that seem to step more often are badly written, and stay as they are
)
# GPS time and UTC have been 18 s apart since 2017; no clock is set right by more in mid-ride.
_MOST_S = 20.0
_ABOUT_S = 0.3  # each way of a step, over which the speed is taken: longer than positions are noisy
_EVEN_STEPS = (
    5  # each way of a step, at least: a clock that is set ran evenly before, and does so again
)
_FASTER_MPS = 8.0  # a slower machine can stop and be off again within a step
# How far a fix may lie from where the speed leads: positions' noise, and a share of the step for cornering.
_NOISE_M, _BENT = 1.0, 0.25
# The times as written must explain the positions so many times worse.
_WORSE = 5.0


def clock_steps(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
    """By how much the clock stepped ahead from each fix to the next, seconds, ``(n - 1,)``; 0 where it ran on.

    Args:
        time_s: as logged, in the file's order; need not increase.
        lat_deg, lon_deg: where, ``(n,)``.
    """
    step = np.diff(time_s)
    stepped = np.zeros(len(step))
    if len(step) < 3:
        return stepped
    usual = float(np.median(step))
    ahead = step - usual
    if usual <= 0.0:
        return stepped
    reach = max(round(_ABOUT_S / usual), 1)
    even = max(reach, _EVEN_STEPS)
    least = max(_LEAST_S, _LEAST_STEPS * usual)
    for i in np.flatnonzero((np.abs(ahead) >= least) & (np.abs(ahead) <= _MOST_S)):
        if i < even or i + even >= len(step):
            continue
        beside = np.abs(np.delete(ahead[i - even : i + even + 1], even))
        about = slice(i - reach, i + reach + 2)
        if np.all(beside < 0.5 * usual) and _only_the_clock(
            lat_deg[about], lon_deg[about], usual, step[i]
        ):
            stepped[i] = ahead[i]
    often = np.count_nonzero(stepped) > _MOST_OFTEN
    return np.zeros(len(step)) if often else stepped


def _only_the_clock(
    lat_deg: FloatArray, lon_deg: FloatArray, usual_s: float, step_s: float
) -> bool:
    """Whether positions carry on over the step in their middle as if it had taken the usual time."""
    middle = len(lat_deg) // 2
    east = one_turn_deg(lon_deg - lon_deg[middle]) * np.cos(np.radians(lat_deg[middle]))
    x, y = east * METRES_PER_DEGREE, (lat_deg - lat_deg[middle]) * METRES_PER_DEGREE
    took_s = usual_s * (middle - 1)
    before = np.array([x[middle - 1] - x[0], y[middle - 1] - y[0]]) / took_s
    after = np.array([x[-1] - x[middle], y[-1] - y[middle]]) / took_s
    if min(np.hypot(*before), np.hypot(*after)) < _FASTER_MPS:
        return False
    moved, led = -np.array([x[middle - 1], y[middle - 1]]), 0.5 * (before + after)
    rode_on, as_dated = (float(np.hypot(*(moved - led * s))) for s in (usual_s, step_s))
    near_m = _NOISE_M + _BENT * usual_s * float(np.hypot(*led))
    return rode_on < near_m and _WORSE * rode_on < as_dated
