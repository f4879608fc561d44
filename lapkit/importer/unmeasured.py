"""Velocities that no receiver measured: a speed of zero, or an old velocity, written while the rider rode on.

Where a receiver has lost its velocity for a while, some loggers write zero, and others write the last one on and on.
Held against such a velocity, all the positions meanwhile would be wild.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import BoolArray, FloatArray
from lapkit.coordinates import offsets_m

_ABOUT_S = 0.5  # on either side of a fix, over which its positions tell how fast he rode
# Nobody rides so fast half a second before and after he stood, m/s: it would take ten metres a second squared.
_RIDING_MPS = 5.0
_FASTEST_MPS = 150.0  # a position that is farther off is wild
_FEWEST_FIXES = 50  # in so short a log nobody sees who rides and who stands
_STANDING_MPS = 1.0  # a lower logged speed says that he stands
# A velocity that changes with every fix does not stay the same to the last digit for so many fixes in a row.
_SAME_FIXES = 4
_WHOLE = 0.99  # of the values are whole numbers where they were rounded; a few others may have been mended by hand
# Where most of a ride has no speed, the whole channel is something else.
_MOST = 0.5


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
    if len(time_s) < _FEWEST_FIXES or not suspect.any():
        return np.zeros(len(time_s), dtype=bool)
    riding = _riding(time_s, lat_deg, lon_deg)
    if np.count_nonzero(standing & riding) > _MOST * np.count_nonzero(riding):
        return np.zeros(len(time_s), dtype=bool)
    return suspect & riding


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
        rides = (away_m > _RIDING_MPS * took_s) & (away_m < _FASTEST_MPS * took_s)
        riding[stride:-stride] = rides[:-stride] & rides[stride:]
    return riding
