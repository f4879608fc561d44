"""How far the numbers of one pass can be trusted."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from lapkit.compare.corners import CornerRows
from lapkit.compare.held import sample
from lapkit.compare.passes import Pass
from lapkit.path.summary import reflected
from lapkit.units import FloatArray

FEWEST_FIXES = 6
"""Fewer fixes than this between turn-in and exit carry no radius."""

LONGEST_GAP_M = (10.0, 25.0)
"""Metres ridden from fix to fix beyond which a pass is no longer good, and beyond which it is poor."""

LARGEST_TURN_RAD = (0.25, 0.45)
"""Turned from fix to fix, as above: a chord that long hides the shape of the path."""

WIDEST = (0.10, 0.35)
"""Half width of the tightest radius's interval over its value, as above."""

SLOWEST_MPS = 1.5
"""Below this a heading says nothing."""


class Quality(StrEnum):
    """Verdict on one pass; the numbers of a poor one are left empty."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


def quality_of(p: Pass, rows: CornerRows, fix_time_s: FloatArray) -> Quality:
    """Judge a whole pass by its fixes (times of all of the run, increasing) and its intervals."""
    time = p.draws.time_s
    turn_in, end = sample(time[None], p.limits[:1, [0, 2]])[0]
    low, high = np.searchsorted(fix_time_s, [turn_in, end])
    if high - low < FEWEST_FIXES or p.speed_mps[0].min() < SLOWEST_MPS:
        return Quality.POOR
    near = fix_time_s[max(low - 1, 0) : high + 1]
    within = np.clip(near, time[0], time[-1])
    gap = np.diff(np.interp(within, time, p.distance_m[0])).max()
    turned = np.abs(np.diff(np.interp(within, time, p.draws.heading_rad[0]))).max()
    curvature = reflected(rows.curvature_1pm)
    width = 0.5 * (curvature.hi - curvature.lo) / max(float(curvature.value), 1e-9)
    measured = ((gap, LONGEST_GAP_M), (turned, LARGEST_TURN_RAD), (width, WIDEST))
    if any(value > poor for value, (_, poor) in measured):
        return Quality.POOR
    if any(value > good for value, (good, _) in measured):
        return Quality.FAIR
    return Quality.GOOD
