"""How far the numbers of a pass can be trusted."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from lapkit.compare.corners import CornerRows
from lapkit.compare.held import sample
from lapkit.compare.passes import Passes
from lapkit.path.summary import summarise
from lapkit.units import FloatArray

FEWEST_FIXES = 6
"""Fewer fixes than this between turn-in and exit carry no radius."""

LONGEST_GAP_M = (10.0, 25.0)
"""Metres from fix to fix beyond which a pass is no longer good, and beyond which it is poor."""

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


def qualities(p: Passes, rows: CornerRows, fix_time_s: FloatArray) -> np.ndarray:
    """Judge every pass of a corner by its fixes and intervals: :class:`Quality`, ``(laps,)``.

    Args:
        p: the passes.
        rows: what was measured in them.
        fix_time_s: times of all fixes of the run, increasing, shape ``(m,)``.
    """
    count, silence_s = _fixes(p, fix_time_s)
    speed = p.speed_mps[0]
    curvature = summarise(rows.curvature_1pm)
    half_width = 0.5 * (curvature.hi - curvature.lo) / np.maximum(curvature.value, 1e-9)
    gap_m = silence_s * speed.max(axis=1)
    turned = silence_s * (speed * np.abs(p.curvature_1pm[0])).max(axis=1)
    measured = ((gap_m, LONGEST_GAP_M), (turned, LARGEST_TURN_RAD), (half_width, WIDEST))
    with np.errstate(invalid="ignore"):
        good = np.all([value <= limit for value, (limit, _) in measured], axis=0)
        fair = np.all([value <= limit for value, (_, limit) in measured], axis=0)
    fair &= p.whole & (count >= FEWEST_FIXES) & (speed.min(axis=1) > SLOWEST_MPS)
    return np.where(fair, np.where(good, Quality.GOOD, Quality.FAIR), Quality.POOR)


def _fixes(p: Passes, fix_time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Fixes from turn-in to exit, and the longest time between two, s: ``(laps,)`` each."""
    ends = np.nan_to_num(sample(p.time_s, p.limits[0][:, [0, 2]]), nan=p.time_s[0, 0])
    low = np.searchsorted(fix_time_s, ends[:, 0])
    high = np.searchsorted(fix_time_s, ends[:, 1])
    step = np.diff(fix_time_s)
    # The silence that a stretch begins or ends in counts too.
    longest = [
        step[max(first - 1, 0) : last].max(initial=0.0)
        for first, last in zip(low, high, strict=True)
    ]
    return high - low, np.array(longest)
