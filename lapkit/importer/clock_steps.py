"""Clocks that are set right while the rider rides on.

A receiver learns on its way how far GPS time and UTC are apart, or sets a clock of its own by the satellites. The
times of its fixes then step by a second or more from one fix to the next, as if the machine had stood still for that
time, or leapt. Where the positions go on at the speed that they have before and after, only the clock has moved.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, one_turn_deg

_LEAST_S = 0.5  # a smaller step is only a fix that came late (our choice)
_LEAST_STEPS = 1.5  # of usual length: times cut to whole seconds skip one now and then
# GPS time and UTC have been 18 s apart since 2017; no clock is set right by more in mid-ride.
_MOST_S = 20.0
# Steps in one log; times that seem to step more often are badly written, and stay as they are.
_MOST_STEPS = 3
_ABOUT_S = (
    0.3  # on either side of a step, over which the speed is taken: longer than positions are noisy
)
# This many fixes on either side of a step are evenly apart: a clock that is set ran evenly before, and does so again.
_EVEN_STEPS = 5
_UNEVEN = 0.5  # of a usual step
_FASTER_MPS = 8.0  # a slower machine can stop and be off again within the time of a step
# How far a fix may lie from where the speed leads: the noise of positions, and a share of the step for cornering.
_NOISE_M, _BENT = 1.0, 0.25
# As dated, the fix behind the step must lie this many times farther from where the speed leads.
_WORSE = 5.0


def clock_steps(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
    """By how much the clock stepped ahead from each fix to the next, seconds, ``(n - 1,)``; 0 where it ran on.

    Args:
        time_s: as logged, in the file's order, ``(n,)``; need not increase.
        lat_deg, lon_deg: positions, ``(n,)`` each.
    """
    step = np.diff(time_s)
    stepped = np.zeros(len(step))
    usual = float(np.median(step)) if len(step) else 0.0
    if usual <= 0.0:
        return stepped
    ahead = step - usual
    reach = max(round(_ABOUT_S / usual), 1)
    even = max(reach, _EVEN_STEPS)
    least = max(_LEAST_S, _LEAST_STEPS * usual)
    for i in np.flatnonzero((np.abs(ahead) >= least) & (np.abs(ahead) <= _MOST_S)):
        if i < even or i + even >= len(step):
            continue  # too near an end to see how the clock ran on either side
        beside = np.delete(ahead[i - even : i + even + 1], even)
        about = slice(i - reach, i + reach + 2)
        if np.all(np.abs(beside) < _UNEVEN * usual) and _only_the_clock(
            lat_deg[about], lon_deg[about], usual, step[i]
        ):
            stepped[i] = ahead[i]
    return stepped if np.count_nonzero(stepped) <= _MOST_STEPS else np.zeros(len(step))


def _only_the_clock(
    lat_deg: FloatArray, lon_deg: FloatArray, usual_s: float, step_s: float
) -> bool:
    """Whether positions ride on over a step as if it had taken the usual time.

    Args:
        lat_deg, lon_deg: positions of as many fixes before the step as behind it, ``(2 m,)`` each.
        usual_s: the usual time from fix to fix.
        step_s: what the step took by the clock.
    """
    behind = len(lat_deg) // 2  # the first fix behind the step
    east = one_turn_deg(lon_deg - lon_deg[behind]) * np.cos(np.radians(lat_deg[behind]))
    place = np.stack([east, lat_deg - lat_deg[behind]], axis=1) * METRES_PER_DEGREE
    took_s = usual_s * (behind - 1)
    before_mps = (place[behind - 1] - place[0]) / took_s
    after_mps = (place[-1] - place[behind]) / took_s
    if min(np.hypot(*before_mps), np.hypot(*after_mps)) < _FASTER_MPS:
        return False
    moved, led_mps = place[behind] - place[behind - 1], 0.5 * (before_mps + after_mps)
    off_as_usual_m = float(np.hypot(*(moved - led_mps * usual_s)))
    off_as_dated_m = float(np.hypot(*(moved - led_mps * step_s)))
    near_m = _NOISE_M + _BENT * usual_s * float(np.hypot(*led_mps))
    return off_as_usual_m < near_m and _WORSE * off_as_usual_m < off_as_dated_m
