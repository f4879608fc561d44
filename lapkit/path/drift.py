"""Positions that drift away for some seconds and come back, under a bridge or beside trees."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_propagation, median_filter

from lapkit.arrays import FloatArray
from lapkit.path.model import Observed
from lapkit.path.stretches import stretches
from lapkit.path.summary import MEDIAN_LENGTH

_USUAL_S = 40.0
"""Window of the running median, seconds. What comes and goes within half of it is a drift; what stays longer belongs to
the receiver's slow offset."""

_CLEARLY, _BARELY = 11.9, 4.45
"""Size of an error, in standard deviations, that is called a drift, and at which a drift begins and ends (our choice)."""

_SLOWEST_STEP_S = 0.3  # velocities further apart do not show the way between fixes (our choice)
_MOVING_MPS = 2.0  # below this speed many receivers freeze or spin the heading
_LEAST_M = 1.0  # a smaller drift does no harm
_SHORTEST_S = 1.0  # what is shorter is not a drift but some wild fixes
_GAP_STEPS = 5.0  # times the usual step: velocities do not show the way across a longer one


def adrift(seen: Observed) -> np.ndarray:
    """Which positions stray for some seconds from where the velocities led, ``(n,)``.

    A receiver takes velocities from the frequency of the signals, which the detour of a reflected signal does not change
    as it changes the position. Positions less the integral of the velocities are therefore the receiver's error, up to a
    constant. That error moves slowly; where it is far from its own running median, the position has drifted.

    None are found without velocities, or where fixes are too far apart in time for velocities to show the way between them.
    """
    out = np.zeros(len(seen.time_s), dtype=bool)
    if len(out) < 2 or np.median(np.diff(seen.time_s)) > _SLOWEST_STEP_S:
        return out
    for part in _rides(seen):
        away = _away(seen, part)
        sd = float(np.median(away)) / MEDIAN_LENGTH
        clear = away > max(_CLEARLY * sd, _LEAST_M)
        if np.any(clear):
            out[part] = binary_propagation(clear, mask=away > _BARELY * sd)
    return _lasting(out, seen.time_s)


def _lasting(found: np.ndarray, time_s: FloatArray) -> np.ndarray:
    """Only the stretches that last: those that are over at once are wild fixes, whose velocities are wrong too."""
    out = np.zeros_like(found)
    for part in stretches(found):
        if np.ptp(time_s[part]) >= _SHORTEST_S:
            out[part] = True
    return out


def _rides(seen: Observed) -> list[slice]:
    """Stretches on the move, with a velocity at every fix and no long gap, long enough for a running median."""
    t = seen.time_s
    going = (seen.velocity_weight > 0) & (np.hypot(seen.vx_mps, seen.vy_mps) > _MOVING_MPS)
    going[1:] &= np.diff(t) < _GAP_STEPS * np.median(np.diff(t))
    return [part for part in stretches(going) if np.ptp(t[part]) > _USUAL_S]


def _away(seen: Observed, part: slice) -> FloatArray:
    """How far the receiver's error is from its own running median at each fix of a stretch, metres."""
    time = seen.time_s[part]
    window = int(_USUAL_S / np.median(np.diff(time))) | 1
    error = []
    for place, speed in ((seen.x_m, seen.vx_mps), (seen.y_m, seen.vy_mps)):
        v = np.interp(time, seen.velocity_time_s[part], speed[part])
        led = np.concatenate([[0.0], np.cumsum(0.5 * (v[1:] + v[:-1]) * np.diff(time))])
        left = place[part] - led
        error.append(left - median_filter(left, window, mode="nearest"))
    return np.hypot(*error)
