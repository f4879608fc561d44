"""Velocities that no receiver measured: a speed of zero or an old velocity while the rider rode on, and leaps.

Where a receiver has lost its velocity for a while, some loggers write zero, and others write the last one on and on.
Held against such a velocity, all the positions meanwhile would be wild. Under a bridge a velocity may leap for a fix or
two; the path would follow it, and lean by twenty degrees more than the rider did.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import BoolArray, FloatArray
from lapkit.coordinates import offsets_m

_ABOUT_S = 0.5  # on either side of a fix, over which its positions tell how fast he rode
# Nobody rides so fast within half a second of standing, m/s: it would take ten metres a second squared.
_RIDING_MPS = 5.0
_FASTEST_MPS = 150.0  # a position that is farther off is wild
_STANDING_MPS = 1.0  # a lower logged speed says that he stands
# A velocity that changes with every fix does not stay the same to the last digit for so many fixes in a row.
_SAME_FIXES = 4
_WHOLE = 0.99  # of the values are whole numbers where they were rounded; a few others may have been mended by hand
# No machine's velocity changes so much within a fix or two and changes back, m/s: at ten fixes a second not by 1.
_LEAP_MPS = 3.0
_BESIDE = 2  # fixes on either side that a velocity is held against
_NEAR_S = 1.0  # which lie within so much time
_SELDOM = 0.02  # of the velocities; where more of them leap, all of them are noisy
# Where most of a ride has no speed, the whole channel is something else.
_MOST = 0.5

FEWEST_FIXES = 50
"""In a shorter log nobody sees who rides and who stands."""


def only_ridden(away_m: FloatArray, took_s: FloatArray) -> BoolArray:
    """Whether only riding brings a rider so far, metres, in so many seconds, and the position is not wild; any one shape."""
    return (away_m > _RIDING_MPS * took_s) & (away_m < _FASTEST_MPS * took_s)


def unmeasured(
    time_s: FloatArray,
    lat_deg: FloatArray,
    lon_deg: FloatArray,
    speed_mps: FloatArray,
    heading_deg: FloatArray,
) -> BoolArray:
    """Which fixes carry a velocity that was not measured, ``(n,)``.

    Args:
        time_s, lat_deg, lon_deg: shape ``(n,)``; times increase.
        speed_mps, heading_deg: as logged, NaN where there is none, ``(n,)`` each.
    """
    # A speed below zero says itself that it is none.
    standing = (speed_mps >= 0.0) & (speed_mps < _STANDING_MPS)
    suspect = standing | ((speed_mps >= 0.0) & _written_on(speed_mps, heading_deg))
    if len(time_s) < FEWEST_FIXES or not suspect.any():
        return np.zeros(len(time_s), dtype=bool)
    riding = _riding(time_s, lat_deg, lon_deg)
    if np.count_nonzero(standing & riding) > _MOST * np.count_nonzero(riding):
        return np.zeros(len(time_s), dtype=bool)
    return suspect & riding


def leapt(time_s: FloatArray, speed_mps: FloatArray, heading_deg: FloatArray) -> BoolArray:
    """Which velocities leapt away from those of the fixes before and after, for one fix or two, ``(n,)``.

    Args:
        time_s: shape ``(n,)``, increasing.
        speed_mps, heading_deg: as logged, NaN where there is none, ``(n,)`` each.
    """
    flagged = np.zeros(len(time_s), dtype=bool)
    velocity = speed_mps * np.exp(1j * np.radians(heading_deg))
    known = np.flatnonzero(np.isfinite(velocity))
    velocity, width = velocity[known], 2 * _BESIDE + 1
    far = np.abs(np.diff(velocity)) > _LEAP_MPS
    if len(known) < width or not far.any():
        return flagged
    at = np.flatnonzero((np.append(far, False) | np.append(False, far))[_BESIDE:-_BESIDE])
    beside = np.lib.stride_tricks.sliding_window_view(velocity, width)[at]
    middle = np.median(beside.real, axis=1) + 1j * np.median(beside.imag, axis=1)
    took_s = time_s[known[at + width - 1]] - time_s[known[at]]
    away = (np.abs(velocity[at + _BESIDE] - middle) > _LEAP_MPS) & (took_s < _NEAR_S)
    if np.count_nonzero(away) <= _SELDOM * len(known):
        flagged[known[at[away] + _BESIDE]] = True
    return flagged


def _written_on(speed_mps: FloatArray, heading_deg: FloatArray) -> BoolArray:
    """Which velocities repeat an earlier one, as one of several in a row, ``(n,)``.

    Headings in whole degrees stay the same along a straight, and are not judged.
    """
    known = heading_deg[np.isfinite(heading_deg)]
    if not len(known) or np.mean(known == np.round(known)) >= _WHOLE:
        return np.zeros(len(speed_mps), dtype=bool)
    same = (np.diff(speed_mps) == 0.0) & (np.diff(heading_deg) == 0.0)
    run = np.concatenate([[0], np.cumsum(~same)])
    return np.concatenate([[False], same]) & (np.bincount(run)[run] >= _SAME_FIXES)


def _riding(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> BoolArray:
    """Whether the rider rode on both shortly before and shortly after each fix, by its positions, ``(n,)``."""
    riding = np.zeros(len(time_s), dtype=bool)
    stride = max(1, round(_ABOUT_S / float(np.median(np.diff(time_s)))))
    if len(time_s) > 2 * stride:
        took_s = time_s[stride:] - time_s[:-stride]
        away_m = np.hypot(*offsets_m(lat_deg, lon_deg, stride))
        rides = only_ridden(away_m, took_s)
        riding[stride:-stride] = rides[:-stride] & rides[stride:]
    return riding
